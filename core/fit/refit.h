/* One curve fitted to many drawn sets of the same rows at once, and the onset of each.
 *
 * What a shape number explains of a set is the square of one projection of its rows, on a unit
 * vector e(z) along the search coordinate. That is tabled for a layout: at the points of the
 * curve's grid and half way between them, where the best is looked for, and between two neighbours
 * as a polynomial of degree 7 through Chebyshev's points, on which Newton's method ends. A step of
 * the grid is a ratio of 1.3 at most where anything happens, so such a polynomial is good to 1e-12
 * of the projection; the best shape number to about 1e-8 of a step. linear-plateau has its closed
 * form, segment by segment (curve_segments.c): the global optimum in every set. Sets stand side by
 * side; the same bits for any width of register. docs/methods/curves-and-onset.md. */
#ifndef PL_FIT_REFIT_H
#define PL_FIT_REFIT_H

#include "fit/curve.h"

#define PL_REFIT_BATCH 64  /* sets at once */
#define PL_REFIT_ROWS 256u /* rows at most (pl_curve_rows.rows) */

typedef struct pl_refit pl_refit;

/* s: NAN without a shape number. A, D: the mean is A + D h(u). ss: of the rows, without what lies
 * outside them (pl_curve_rows.rest). */
typedef struct pl_refits {
    double s[PL_REFIT_BATCH], A[PL_REFIT_BATCH], D[PL_REFIT_BATCH], ss[PL_REFIT_BATCH];
} pl_refits;

/* m: fitted, monotone, not wide; kept by reference. *out lives in a, and is not written again.
 * PL_ENOMEM. */
pl_code pl_refit_make(pl_arena *a, const pl_curve_model *m, pl_refit **out, pl_diags *d);

/* z: rows x PL_REFIT_BATCH, a set a column. */
void pl_refit_batch(const pl_refit *r, const double *z, pl_refits *out);

/* Onset of each in x; NAN where the largest mean is not above zero. */
void pl_refit_onset(const pl_refit *r, const pl_refits *f, double *x);

#endif
