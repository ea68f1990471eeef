/* Effects, covariates and fixed blocks on a table some of whose strengths are only bounds.
 *
 * Effects are coded sum-to-zero (model/terms.h), blocks too, within the levels that hold them where
 * they lie inside some (boards in species); covariates about their mean. What a
 * level holds is its mean for normal strengths and its median for lognormal and Weibull, with
 * limits by profile (censored.h). An effect is judged with everything else in the model by its
 * likelihood ratio: F = (df/k)(exp(2 d/n) - 1) on k and df, d the gain of log-likelihood, n the
 * readings that are no bounds, df = n less the columns that do not run away: without censoring, for
 * normal strengths, that is the F test itself. docs/methods/bounds.md. */
#ifndef PL_FIT_CENSORED_LINEAR_H
#define PL_FIT_CENSORED_LINEAR_H

#include "fit/censored.h"
#include "fit/linear.h"
#include "study/table.h"

typedef struct pl_bounds_spec {
    const char *response; /* NULL when lower and upper are there */
    const char *censored; /* column of numbers: not 0, the response is the least it held; or NULL */
    const char *lower, *upper; /* columns; an empty cell is an open end; or NULL */
    pl_law law;
    const pl_linear_effect *effects;
    size_t neffect;
    const char *const *covariates, *const *blocks;
    size_t ncovariate, nblock;
    size_t shown; /* above 0: levels of the last so many effects only; no coefficients, no tests */
} pl_bounds_spec;

typedef struct pl_bounds_effect {
    const char *name;
    double df, f, error_df, p; /* df 0: nothing can be told of it */
    double gain;               /* of log-likelihood */
    bool between;              /* blocks lie inside its levels: it is not judged */
} pl_bounds_effect;

typedef struct pl_bounds_level {
    const char *factor, *level; /* both "" for all rows together */
    size_t n, known;            /* rows; those that are no mere bounds */
    pl_bounded holds;
} pl_bounds_level;

typedef struct pl_bounds_fit {
    const char *response, *unit;
    pl_law law;
    size_t nrow, exact, above, below, between, left_out;
    pl_coef *coefs; /* of strength, or of ln strength; blocks not listed; NAN when it runs away */
    size_t ncoef;
    double sigma, sigma_low, sigma_high; /* the scatter on the same scale */
    double log_likelihood, df;
    pl_bounds_effect *effects;
    size_t neffect;
    pl_bounds_level *levels;
    size_t nlevel;
} pl_bounds_fit;

/* PL_EKEY, PL_EVALUE, PL_EDATA, PL_ERANK, PL_ENOMEM as pl_fit_linear and pl_censored_fit. */
pl_code pl_fit_bounds(pl_arena *a, const pl_table *t, const pl_bounds_spec *spec,
                      pl_bounds_fit *out, pl_diags *d);

#endif
