/* How many glue-ups per level a study gets: what it says, or what its aim needs,
 * cut to its budget. */
#ifndef PL_CLI_SIZE_OF_H
#define PL_CLI_SIZE_OF_H

#include "cli/verb.h"
#include "size/size.h"
#include "study/plan.h"
#include "study/set_points.h"
#include "study/study.h"

/* Is that for simulation: an aim plateau with a guess of the curve? Says what is taken as near
 * enough where the study does not. */
bool pl_size_simulated(pl_run *run, const pl_study *s);

/* Where the breaking rig stops, a share of the highest strength; 0: not known. points: of the
 * study's rigs; NULL: none. */
double pl_size_limit(const pl_study *s, const pl_set_points *points);
/* The limit as a simulation takes it: one that no joint comes near is none. */
double pl_size_limit_near(const pl_size_question *q, double limit);

/* Of an aim plateau with a guess it says too whether the number is enough, simulated in about a
 * second. A remark says where the number comes from when the study does not say it. */
pl_code pl_size_of_study(pl_run *run, const pl_study *s, const pl_set_points *points,
                         unsigned *glue_ups_per_level);
/* What size says of so many, to be kept with the plan; *out NULL where the study does not say what
 * is worth noticing. */
pl_code pl_size_chances_of(pl_run *run, const pl_study *s, unsigned glue_ups_per_level,
                           const pl_chances **out);

#endif
