/* Curves: linear once their shape numbers are fixed.
 *
 * A curve gives nlinear columns (and an optional fixed offset) as functions of
 * u and up to three shape numbers. u is x, or ln(x/x1) on the log scale, x1 the
 * lowest level above zero. Work is done in batches over the distinct x. */
#ifndef PL_MODEL_CURVE_H
#define PL_MODEL_CURVE_H

#include <stdbool.h>
#include <stddef.h>

#define PL_CURVE_LINEAR_MOST 12 /* polynomial:11 */
#define PL_CURVE_SHAPE_MOST 3

typedef struct pl_curve {
    const char *name;                               /* "saturating-exponential" */
    const char *linear_names[PL_CURVE_LINEAR_MOST]; /* "floor", "top", ... */
    const char *shape_names[PL_CURVE_SHAPE_MOST];   /* "knee" */
    size_t nlinear, nshape;
    bool rises;       /* has a floor that can be fixed, and a top */
    bool log_offered; /* may run in log x */
    /* Columns at n points u for shape numbers s: out is n x nlinear, row-major. */
    void (*columns)(const double *u, size_t n, const double *s, double *out);
    /* d columns / d shape number k: same layout. NULL when nshape = 0. Where a
     * derivative jumps (a knee on a point) the mean of both sides. */
    void (*gradient)(const double *u, size_t n, const double *s, size_t k, double *out);
    /* Range of each shape number given the distinct u in rising order: low[], high[] are
     * where the curve has become its limit, and `limit` names that limit. */
    void (*range)(const double *u, size_t n, double *low, double *high);
    const char *limit_low, *limit_high; /* "step", "line" */
} pl_curve;

#endif
