/* One curve fitted to readings some of which are only bounds, by greatest likelihood.
 *
 * For a fixed shape number the mean is A + D h(u) (model/curve.h) with blocks beside it, and the
 * log-likelihood is concave (censored_row.h): Newton's steps, and a profile over the shape number.
 * With the onset held at t the mean is one ray: m(t) = share * m(highest) leaves one column less;
 * for lognormal and Weibull, where the curve is that of log strength, D follows from
 * D (h(highest) - h(t)) = -ln(share) and only A is left. Standard errors: the information of the
 * readings in their means, with the shape number, times n/df, so that without a bound and for
 * normal strengths everything is what least squares gives (curve.h).
 * docs/methods/joint-and-bond.md. */
#ifndef PL_FIT_CENSORED_CURVE_H
#define PL_FIT_CENSORED_CURVE_H

#include "fit/censored_system.h"
#include "fit/curve_work.h"
#include "fit/result.h"

typedef struct pl_censored_rows {
    const pl_curve_rows *rows; /* x of the units; its y is not used */
    const double *low, *high;  /* n, infinite: open; equal: exact; above zero for logs */
    const double *block;       /* n x q, as pl_curve_blocks gives them */
    size_t q;
    pl_law law;
} pl_censored_rows;

typedef struct pl_censored_curve {
    const pl_curve *curve;
    const pl_censored_rows *data;
    pl_curve_work work;
    pl_law law;
    size_t nmean;                        /* mean parameters with the shape number */
    size_t known;                        /* readings that are no mere bounds below or above */
    double df;                           /* known less all mean parameters and blocks */
    double shape;                        /* NAN without one */
    const char *limit;                   /* "line", "step"; NULL inside */
    double log_likelihood, aicc, weight; /* of the readings as they are; weight: the caller's */
    double A, D, sigma;                  /* of strength or its logarithm */
    double onset;                        /* in x; NAN where no mean is above zero */
    bool runs;                           /* its highest mean has no upper limit */
    /* Inner: the constant and the blocks, behind them the rise (its place) and its change with the
     * shape number; what of the first is the curve's A; readings scaled and shifted; warm starts.
     */
    pl_censored_frame frame;
    pl_censored_system system;
    size_t rise;
    double *constant, *low, *high, *shifted_low, *shifted_high, scale, jacobian;
    double *free, *held, *condition, *desk, *g;
    double *H, *factors; /* at the top, with the shape number; NULL: something runs away */
    pl_censored_system top;
} pl_censored_curve;

/* Arguments as pl_curve_work_make; flat and curves that go one way only. PL_EDATA: too few readings
 * that are no bounds, or their scatter runs to nothing; PL_ENOMEM. */
pl_code pl_censored_curve_fit(pl_arena *a, const pl_curve *curve, const pl_censored_rows *data,
                              bool log_x, double x1, double low_x, double high_x, double share,
                              pl_censored_curve *out, pl_diags *d);
/* Greatest log-likelihood with the onset at x. */
double pl_censored_curve_held(pl_censored_curve *m, double x);
/* Fitted mean at x, or median (lognormal, Weibull), and its standard error on the scale of the
 * curve (NULL: not wanted). */
double pl_censored_curve_mean(const pl_censored_curve *m, double x, double *se);
/* Named numbers, with 95 % limits; room for 3. Their count. */
size_t pl_censored_curve_params(const pl_censored_curve *m, pl_coef *out);

#endif
