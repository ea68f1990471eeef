/* Restricted maximum likelihood of y = X b + sum Z_k u_k + e: several random factors, nested or
 * crossed, each with one variance; e with another.
 *
 * The factor with most levels is eliminated exactly, level by level (or, when it stands alone, all
 * levels of one size at once); the levels of the others together make one square table, so memory
 * and time grow with rows + levels, never with their product. X is made orthonormal and y freed of
 * it in twofold numbers first. Variance ratios to the residual are found by Newton's method with
 * exact first and second derivatives from the best point of a coarse grid; a ratio whose likelihood
 * falls from 0 on stays there.
 *
 * Sources: Patterson & Thompson 1971, Biometrika 58:545 (the criterion); Harville 1977, J. Amer.
 * Statist. Assoc. 72:320 (derivatives); Kenward & Roger 1997, Biometrics 53:983 (adjusted
 * covariance, F and degrees of freedom, with the expected information). V is linear in its
 * variances, so no second derivatives of V enter. Formulas: docs/methods/random-blocks.md. */
#ifndef PL_FIT_REML_H
#define PL_FIT_REML_H

#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"
#include "base/diag.h"

#define PL_REML_FACTORS_MOST 8
/* Levels of all random factors but the largest: their table is square. */
#define PL_REML_REST_MOST 4000

typedef struct pl_reml_data {
    size_t n, p;            /* rows; columns of x, an intercept among them when wanted */
    const double *x;        /* p columns of n, one after the other */
    const double *y;        /* n */
    size_t nfactor;         /* 1 to PL_REML_FACTORS_MOST */
    const int *const *code; /* nfactor x n: 0..nlevel-1, every level met */
    const size_t *nlevel;
} pl_reml_data;

typedef struct pl_reml {
    size_t n, p, nfactor;
    double variance[PL_REML_FACTORS_MOST + 1]; /* of each factor, then the residual */
    double information[(PL_REML_FACTORS_MOST + 1) *
                       (PL_REML_FACTORS_MOST +
                        1)]; /* expected, of
                              * the variances, (nfactor + 1) squared, row-major */
    bool at_zero[PL_REML_FACTORS_MOST];
    /* REML log-likelihood, with |X'X| so that no coding of X changes it: Harville 1977, (5.2). */
    double log_likelihood;
    unsigned steps;
    bool converged;
    const double *beta;     /* p, of the columns of x */
    const double *cov;      /* p x p, (X'V^-1 X)^-1 */
    const double *adjusted; /* p x p, Kenward & Roger's Phi_A */
    /* What tests need besides, in the orthonormal basis Q of x = Q T. */
    const double *t;  /* p x p upper */
    const double *c0; /* p x p, (Q'V^-1 Q)^-1 over the residual variance */
    const double
        *pk[PL_REML_FACTORS_MOST + 1]; /* each p x p: Q'V^-1 V_k V^-1 Q, in residual units */
    const double *w; /* (nfactor + 1)^2: inverse of tr(P V_i P V_j), in residual units */
} pl_reml;

/* *out lives in a, nothing of the data is kept.
 * PL_EDATA   not more rows than columns of x; more levels than PL_REML_REST_MOST besides the
 * largest factor PL_ERANK   columns of x depend on each other; factors whose variances cannot be
 * told apart, or a factor with one level a row PL_ENOMEM converged false: the best point found
 * after PL_REML_STEPS steps. */
#define PL_REML_STEPS 100
pl_code pl_reml_fit(pl_arena *a, const pl_reml_data *d, pl_reml *out, pl_diags *diags);

/* Kenward & Roger's F for h b = 0, h: q x p rows of the columns of x, independent. */
typedef struct pl_reml_test {
    double f, df1, df2, p;
    double scale; /* lambda: f is lambda times the Wald statistic over q */
} pl_reml_test;
pl_code pl_reml_f(pl_arena *a, const pl_reml *r, const double *h, size_t q, pl_reml_test *out,
                  pl_diags *diags);

/* h'b with its adjusted standard error and degrees of freedom (q = 1 above). */
typedef struct pl_reml_value {
    double value, se, df;
} pl_reml_value;
pl_code pl_reml_combine(pl_arena *a, const pl_reml *r, const double *h, pl_reml_value *out,
                        pl_diags *diags);

#endif
