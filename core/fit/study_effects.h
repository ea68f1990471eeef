/* Which effects the analysis of a study takes: what its arrangement can show. */
#ifndef PL_FIT_STUDY_EFFECTS_H
#define PL_FIT_STUDY_EFFECTS_H

#include "fit/linear.h"
#include "study/study.h"

/* Is it a design for slopes, squares and products of measured factors? */
bool pl_study_curved(const pl_study *s);

/* Fills effects and covariates of spec; *table: t, or a copy with columns more (squares and
 * products of measured factors, each from -1 at its lowest to 1 at its highest level). Single
 * factors always; joint effects of two where the arrangement asks for them and every combination
 * of their levels was made. What is left out is said in a remark. Lives in a. PL_ENOMEM. */
pl_code pl_study_effects(pl_arena *a, const pl_study *s, const pl_table *t, pl_linear_spec *spec,
                         const pl_table **table, pl_diags *d);

#endif
