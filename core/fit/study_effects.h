/* Which effects the analysis of a study takes: what its arrangement can show. */
#ifndef PL_FIT_STUDY_EFFECTS_H
#define PL_FIT_STUDY_EFFECTS_H

#include "fit/linear.h"
#include "fit/matching.h"
#include "study/study.h"

/* Is it a design for slopes, squares and products of measured factors? */
bool pl_study_curved(const pl_study *s);

/* Fills effects and covariates of spec; *table: t, or a copy with columns more (squares and
 * products of measured factors, each from -1 at its lowest to 1 at its highest level). Single
 * factors always; joint effects of two where the arrangement asks for them and every combination
 * of their levels was made. What is left out is said in a remark. Lives in a. PL_ENOMEM. */
pl_code pl_study_effects(pl_arena *a, const pl_study *s, const pl_table *t, pl_linear_spec *spec,
                         const pl_table **table, pl_diags *d);

/* Blocks that the study says are a sample of many become random: their number. randoms: room for
 * all blocks. */
size_t pl_study_randoms(const pl_study *s, const char **blocks, size_t *nblock,
                        const char **randoms);

/* The whole model for a response: blocks as the plan has them, from the rows of t; effects from
 * all, which may hold reference joints behind them. */
pl_code pl_study_linear_spec(pl_arena *a, const pl_study *s, const pl_plan *plan, const pl_table *t,
                             const pl_table *all, const char *response, pl_linear_spec *spec,
                             pl_matching *m, const pl_table **table, pl_diags *d);

#endif
