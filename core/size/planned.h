/* A study's plan as the table that its readings will make, fitted as the program will fit them:
 * for readings that are thought of before any are made. Pure. */
#ifndef PL_SIZE_PLANNED_H
#define PL_SIZE_PLANNED_H

#include "fit/linear.h"
#include "study/plan.h"
#include "study/study.h"
#include "study/table.h"

typedef struct pl_planned {
    const pl_study *s;
    const pl_plan *plan;
    const pl_table *table; /* a row a specimen, spare ones and reference joints apart; a column a
                            * factor, "board", "session", "glue_up", the stretches', "strength" */
    double *y;             /* the strengths: the caller's to fill in, nrow of them */
    const size_t *glue_up; /* nrow: place in the plan's glue-ups */
    /* The effects of pl_study_effects and the blocks of pl_match_plan, random ones taken as fixed:
     * what is compared within blocks, or between balanced ones, is judged exactly so. */
    pl_linear_spec spec;
} pl_planned;

/* n glue-ups of each treatment. Everything lives in a. The codes of pl_plan_make and
 * pl_fit_linear. */
pl_code pl_planned_open(pl_arena *a, const pl_study *s, unsigned n, uint64_t seed, pl_planned *out,
                        pl_diags *d);
/* Level of a factor in a row, its place in the study's list. */
int pl_planned_level(const pl_planned *p, size_t row, size_t factor);

#endif
