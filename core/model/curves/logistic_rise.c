/* logistic-rise: g = 1 / (1 + exp(-(u - mid) / width)), floor and top what it comes from and goes
 * to. In log x that is 1 / (1 + (mid / x)^(1 / width)), 0 at x = 0, so that a level at zero is no
 * bar to it. Two shape numbers: searched as curves from outside are (core/fit/curve_wide.c). */
#include <math.h>

#include "model/curve.h"

/* A width below this share of the span is a step between two levels; above this many spans the
 * middle of a logistic is a line (its bend is then below 1e-3 of the rise). */
#define WIDTH_LOW 1e-3
#define WIDTH_HIGH 3.0

static bool columns(void *self, const double *u, size_t n, const double *shape, double *out)
{
    (void)self;
    for (size_t i = 0; i < n; i++) {
        double e = (u[i] - shape[0]) / shape[1];

        out[2 * i] = 1 / (1 + exp(e));
        out[2 * i + 1] = 1 / (1 + exp(-e));
    }
    return true;
}

static bool gradient(void *self, const double *u, size_t n, const double *shape, size_t k,
                     double *out)
{
    (void)self;
    for (size_t i = 0; i < n; i++) {
        double e = (u[i] - shape[0]) / shape[1], t = exp(-fabs(e));
        double bell = t / ((1 + t) * (1 + t)) / shape[1];
        double d = t > 0 ? (k ? -e * bell : -bell) : 0; /* e may be infinite: x = 0 in log x */

        out[2 * i] = -d;
        out[2 * i + 1] = d;
    }
    return true;
}

static bool range(void *self, const double *u, size_t n, double *low, double *high)
{
    size_t first = isinf(u[0]) ? 1 : 0;
    double span;

    (void)self;
    if (n < first + 2)
        return false;
    span = u[n - 1] - u[first];
    low[0] = u[first] - span;
    high[0] = u[n - 1] + span;
    low[1] = WIDTH_LOW * span;
    high[1] = WIDTH_HIGH * span;
    return true;
}

static const pl_curve_wide shapes = {
    .shape_names = { "mid", "width" },
    .goes_up = true,
    .log = true,
    .limit_low = "saturating-exponential",
    .limit_high = "exponential",
    .columns = columns,
    .gradient = gradient,
    .range = range,
};

const pl_curve pl_curve_logistic_rise = {
    .name = "logistic-rise",
    .linear_names = { "floor", "top" },
    .nlinear = 2,
    .nshape = 2,
    .shape_is_x = true, /* mid is */
    .wide = &shapes,
};
