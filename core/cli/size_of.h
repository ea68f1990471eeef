/* How many glue-ups per level a study gets: what it says, or what its aim needs,
 * cut to its budget. */
#ifndef PL_CLI_SIZE_OF_H
#define PL_CLI_SIZE_OF_H

#include "cli/verb.h"
#include "study/plan.h"
#include "study/study.h"

/* A remark says where the number comes from when the study does not say it. */
pl_code pl_size_of_study(pl_run *run, const pl_study *s, unsigned *glue_ups_per_level);
/* What size says of so many, to be kept with the plan; *out NULL where the study does not say what
 * is worth noticing. */
pl_code pl_size_chances_of(pl_run *run, const pl_study *s, unsigned glue_ups_per_level,
                           const pl_chances **out);

#endif
