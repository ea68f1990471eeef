/* Curves: linear once their shape number is fixed.
 *
 * A curve runs in u: x itself, or ln(x/x1) on the log scale, x1 the lowest x above
 * zero. Its mean is the sum of named columns (floor, top, ...) that depend on u and on
 * one shape number (knee, rate, half) or none. Every rise is
 *
 *     m(u) = floor + (top - floor) g(u),   g(0) = 0, g grows to 1
 *
 * so in x `floor` is the mean at x = 0 and in log x it is the mean at x1.
 *
 * The named columns degenerate where a curve becomes a line (top runs away) or a
 * step. Searches therefore use the same family in another basis that stays well
 * conditioned up to both limits: m(u) = A + D h(u) with h the rise scaled to 0 at a low
 * and 1 at a high anchor. docs/methods/curves-and-onset.md derives both.
 *
 * Everything here is pure, allocates nothing and may run in parallel. */
#ifndef PL_MODEL_CURVE_H
#define PL_MODEL_CURVE_H

#include <stdbool.h>
#include <stddef.h>

#include "base/diag.h"

#define PL_CURVE_LINEAR_MOST 12 /* polynomial:11 */
#define PL_CURVE_GRID_MOST 512  /* points a search grid may have */
#define PL_CURVE_SHAPES_MOST 3  /* shape numbers of a curve from outside */

/* Where a search looks: the distinct u in rising order, n >= 2, and the anchors: low is u[0],
 * or 0 when the floor is fixed (all u are then >= 0); high is u[n - 1] > low. */
typedef struct pl_curve_span {
    const double *u;
    size_t n;
    double low, high;
} pl_curve_span;

/* A curve from outside this room, and logistic-rise: up to three shape numbers, any columns, fixed
 * addends, all in double and row by row as in pl_curve below. A call that returns false: not
 * defined for these shape numbers. Searched by core/fit/curve_wide.c. */
typedef struct pl_curve_wide {
    const char *shape_names[PL_CURVE_SHAPES_MOST];
    bool goes_up;        /* two columns, 1 - g and g, and g never falls as u grows */
    bool log;            /* may run in log x */
    const double *start; /* a place more to look from, NAN: any; NULL: none. Every place of the
                            range is looked at anyway */
    const char *limit_low, *limit_high; /* what it is at an end of the first shape number; NULL */
    void *self;
    bool (*columns)(void *self, const double *u, size_t n, const double *shape, double *out);
    bool (*gradient)(void *self, const double *u, size_t n, const double *shape, size_t k,
                     double *out);
    bool (*offset)(void *self, const double *u, size_t n, const double *shape, double *out);
    bool (*offset_gradient)(void *self, const double *u, size_t n, const double *shape, size_t k,
                            double *out); /* both NULL where there is none */
    /* low[k] < high[k]; above zero: searched by ratios, else evenly. */
    bool (*range)(void *self, const double *u, size_t n, double *low, double *high);
} pl_curve_wide;

typedef struct pl_curve pl_curve;
struct pl_curve {
    const char *name;                               /* "saturating-exponential" */
    const char *linear_names[PL_CURVE_LINEAR_MOST]; /* "floor", "top" */
    const char *shape_name;                         /* "knee"; NULL without a shape number */
    size_t nlinear, nshape;                         /* nshape 0 or 1; up to 3 when wide */
    bool rises;                                     /* has a floor that can be fixed, and a top */
    bool needs_positive;                            /* not offered when some x is below zero */
    bool shape_is_x; /* the (first) shape number is a place on the u axis (knee, half, mid) */

    /* Named columns at n points for shape number s: out is n x nlinear, row-major. In long
     * double: the last digits of a fit come from here. */
    void (*columns)(const pl_curve *c, const long double *u, size_t n, long double s,
                    long double *out);
    /* d columns / ds, same layout; where it jumps (a knee on a point) the mean of both
     * sides. NULL when nshape = 0. */
    void (*gradient)(const long double *u, size_t n, long double s, long double *out);

    /* h at n points, 0 at low and 1 at high (beyond them where u is). NULL for curves that do
     * not go one way only (polynomial:2 and up) and for `flat`. */
    void (*rise)(const double *u, size_t n, double low, double high, double s, double *h);
    /* Where h is `part` of 1, 0 <= part <= 1: n at once, a multiple of 8. NULL where rise is. */
    void (*reach)(double low, double high, const double *s, const double *part, size_t n,
                  double *u);
    /* Search coordinate: s = origin + exp(z), origin = low when from_low, else 0. grid writes at
     * most PL_CURVE_GRID_MOST z in rising order, from one limit to the other, dense enough that
     * a local optimum of a fit has a point on either side; returns their number. */
    bool from_low;
    size_t (*grid)(const pl_curve_span *span, double *z);
    /* Name of the limit the curve has become at s ("line", "step", "reciprocal"); NULL inside. */
    const char *(*limit)(const pl_curve_span *span, double s);

    /* Of such a curve: in place of all functions above, and of shape_name. */
    const pl_curve_wide *wide;
};

/* Built-in curve by name: flat, line, polynomial:1 to polynomial:11, linear-plateau,
 * quadratic-plateau, saturating-exponential, saturating-hyperbola, logistic-rise,
 * rise-and-fall. NULL when there is none. */
const pl_curve *pl_curve_find(const char *name);
/* As find, with a refusal that lists the curves and the nearest name. PL_EKEY, PL_ENOMEM. */
pl_code pl_curve_need(const char *name, const char *where, const pl_curve **out, pl_diags *d);

static inline double pl_curve_origin(const pl_curve *c, double low)
{
    return c->from_low ? low : 0;
}

/* The files of core/model/curves. */
extern const pl_curve pl_curve_flat, pl_curve_line, pl_curve_linear_plateau,
    pl_curve_quadratic_plateau, pl_curve_saturating_exponential, pl_curve_saturating_hyperbola,
    pl_curve_logistic_rise, pl_curve_rise_and_fall;
extern const pl_curve pl_curve_polynomials[PL_CURVE_LINEAR_MOST - 1]; /* [N - 1] is polynomial:N */

#endif
