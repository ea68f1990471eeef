/* Least squares of y on X: orthogonal factors, nothing squared on the way.
 *
 * Every step (Householder factors, solution, residuals, inverse of R) is carried
 * in twofold numbers (dd.h): about 31 digits inside, so that what comes out is
 * limited by the digits of the input alone; measured at about 7 ns * n * p^2.
 * Sources: Golub 1965, Numer. Math. 7:206 (factors); Bjorck 1967, BIT 7:1
 * (why solution and residual need extended precision; the twofold factors here
 * do in one pass what his refinement does in several, and give the inverse too).
 * Checked in tests/fit/test_lsq.c against NIST StRD. */
#ifndef PL_FIT_LSQ_H
#define PL_FIT_LSQ_H

#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"
#include "base/diag.h"
#include "fit/dd.h"

/* A column depends on those before it when what is left of it is below this
 * share of its length. A double holds 1.1e-16, so columns that depend exactly leave
 * a few times that; x^10 after all lower powers on -9 to -3, as badly chosen as
 * columns get, leaves 6e-8 (both measured). */
#define PL_LSQ_RANK_TOL 1e-13

typedef struct pl_lsq {
    size_t n, p;
    size_t rank;           /* independent columns; = p after PL_OK of pl_lsq_solve */
    const bool *dependent; /* p; dependent columns have beta 0 and rows of 0 in inverse */
    const double *beta;    /* p, in y's unit / column's unit */
    const double *inverse; /* p x p, (X'X)^-1: variances over sigma^2 */
    const double *fitted, *residuals; /* n each */
    const double *effect_ss; /* p: what each column takes from the sum of squares in order */
    double rss;              /* residual sum of squares */
    size_t df;               /* n - rank */
    /* The same without rounding, for sums of squares of groups of columns. */
    const pl_dd *beta_dd, *inverse_dd, *effect_ss_dd;
    pl_dd rss_dd;
} pl_lsq;

/* X: n x p row-major, p >= 1; names: p column names for findings, or NULL.
 * Nothing of the input is kept; *out lives in a. Standard error of beta[j]:
 * sqrt(rss/df * inverse[j * p + j]).
 *
 * PL_EDATA  n < p
 * PL_EDOM   an entry is not finite
 * PL_ERANK  columns depend on those before them: named; *out is filled in, with
 *           these columns left out
 * PL_ENOMEM */
pl_code pl_lsq_solve(pl_arena *a, const double *X, const double *y, size_t n, size_t p,
                     const char *const *names, pl_lsq *out, pl_diags *diags);

/* The engine below: columns[j] and y hold n twofold numbers each and are
 * overwritten. length[j]: the column's length before anything was taken out of
 * it, for the rank decision (NULL: as it stands). p may be 0. Dependent columns
 * are left out and flagged, not refused. */
pl_code pl_lsq_factor(pl_arena *a, pl_dd *const *columns, pl_dd *y, size_t n, size_t p,
                      const double *length, pl_lsq *out, pl_diags *diags);

#endif
