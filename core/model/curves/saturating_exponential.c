/* saturating-exponential: g = 1 - exp(-rate u). Slow rates make a line, fast ones a step from the
 * lowest u to all others. */
#include <math.h>

#include "base/clones.h"
#include "base/lanes.h"
#include "model/curve.h"
#include "model/curve_grid.h"

/* exp(-36) is 2e-16: the second lowest u has arrived at the top to all digits held. */
#define STEP_AT 36.0

static void columns(const pl_curve *c, const long double *u, size_t n, long double s,
                    long double *out)
{
    (void)c;
    for (size_t i = 0; i < n; i++) {
        out[2 * i] = expl(-s * u[i]);
        out[2 * i + 1] = -expm1l(-s * u[i]);
    }
}

static void gradient(const long double *u, size_t n, long double s, long double *out)
{
    for (size_t i = 0; i < n; i++) {
        long double d = u[i] * expl(-s * u[i]);

        out[2 * i] = -d;
        out[2 * i + 1] = d;
    }
}

static void rise(const double *u, size_t n, double low, double high, double s, double *h)
{
    double scale = expm1(-s * (high - low));

    for (size_t i = 0; i < n; i++)
        h[i] = expm1(-s * (u[i] - low)) / scale;
}

PL_CLONES static void reach(double low, double high, const double *s, const double *part, size_t n,
                            double *u)
{
    for (size_t i = 0; i < n; i += PL_LANES) {
        const pl_lanes rate = *(const pl_lanes *)(const void *)(s + i), last = rate * 0.0 - 700.0;
        pl_lanes y = rate * (low - high);
        pl_lane_bits gone; /* nothing is left of it at the high end */

        pl_lanes_less(&y, &last, &gone);
        pl_lanes_choose(&gone, &last, &y, &y);
        pl_lanes_expm1(&y, &y);
        y *= *(const pl_lanes *)(const void *)(part + i);
        pl_lanes_log1p(&y, &y);
        *(pl_lanes *)(void *)(u + i) = low - y / rate;
    }
}

static size_t grid(const pl_curve_span *span, double *z)
{
    const double gap = pl_curve_first_gap(span), width = span->high - span->low;
    size_t n = 0;

    pl_curve_grid_decades(z, &n, 1 / width, -12, -4, 2);
    pl_curve_grid_run(z, &n, 1e-3 / width, 40 / gap, 1.3, 160);
    pl_curve_grid_decades(z, &n, 40 / gap, 1, 8, 1);
    return n;
}

static const char *limit(const pl_curve_span *span, double s)
{
    if (s * pl_curve_first_gap(span) >= STEP_AT)
        return "step";
    return s * (span->high - span->low) <= PL_CURVE_LIMIT_SHARE ? "line" : NULL;
}

const pl_curve pl_curve_saturating_exponential = {
    .name = "saturating-exponential",
    .linear_names = { "floor", "top" },
    .shape_name = "rate",
    .nlinear = 2,
    .nshape = 1,
    .rises = true,
    .columns = columns,
    .gradient = gradient,
    .rise = rise,
    .reach = reach,
    .grid = grid,
    .limit = limit,
};
