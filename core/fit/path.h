/* A covariate that lies on the path of a factor: pressure sets the line's thickness, and thickness
 * the strength. Comparing levels at equal thickness takes out what pressure does by way of it
 * (Cochran 1957, Biometrics 13:261, section 2.2: a covariate must not be affected by treatments).
 */
#ifndef PL_FIT_PATH_H
#define PL_FIT_PATH_H

#include "fit/linear.h"

/* Each covariate is fitted as a response with spec's effects and blocks, covariates left out; where
 * an effect moves it, by chance less than 1 time in 20, that is advised, with the effect's name.
 * One that cannot be fitted so says nothing. PL_ENOMEM. */
pl_code pl_covariate_paths(pl_arena *a, const pl_table *t, const pl_linear_spec *spec,
                           const char *const *covariates, size_t n, pl_diags *diags);

#endif
