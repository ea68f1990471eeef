/* SPDX-License-Identifier: 0BSD
 * richards-rise: a rise from floor to top with its bend where it likes. Formulas and their
 * source: README.md beside this file. */
#include <math.h>

#include <platen/plugin.h>

enum { RATE, MID, SKEW };

static const char *const linear_names[] = { "floor", "top" };
static const char *const shape_names[] = { "rate", "mid", "skew" };

/* ln(1 + exp(x)) without overflow. */
static double soft(double x)
{
    return x > 0 ? x + log1p(exp(-x)) : log1p(exp(x));
}

/* ln(skew exp(-rate (u - mid))). */
static double inner(double u, const double *shape)
{
    return log(shape[SKEW]) - shape[RATE] * (u - shape[MID]);
}

static int columns(const double *u, size_t n, const double *shape, double *out)
{
    for (size_t i = 0; i < n; i++) {
        out[2 * i + 1] = exp(-soft(inner(u[i], shape)) / shape[SKEW]);
        out[2 * i] = 1 - out[2 * i + 1];
    }
    return PLATEN_OK;
}

static int gradient(const double *u, size_t n, const double *shape, size_t k, double *out)
{
    const double skew = shape[SKEW];

    for (size_t i = 0; i < n; i++) {
        double x = inner(u[i], shape), g = exp(-soft(x) / skew), q = 1 / (1 + exp(-x));
        double by = k == RATE  ? (u[i] - shape[MID]) * q / skew
                    : k == MID ? -shape[RATE] * q / skew
                               : (soft(x) - q) / (skew * skew);

        out[2 * i + 1] = g * by;
        out[2 * i] = -out[2 * i + 1];
    }
    return PLATEN_OK;
}

/* From as good as a line to as good as a step between the two nearest points. */
static int range(const double *u, size_t n, double *low, double *high)
{
    double span = u[n - 1] - u[0], gap = span;

    for (size_t i = 1; i < n; i++)
        gap = fmin(gap, u[i] - u[i - 1]);
    low[RATE] = 1e-3 / span;
    high[RATE] = 1e2 / gap;
    low[MID] = u[0] - span;
    high[MID] = u[n - 1] + span;
    low[SKEW] = 0.01;
    high[SKEW] = 100;
    return PLATEN_OK;
}

static const platen_plugin plugin = {
    PLATEN_HEAD(PLATEN_CURVE),
    .name = "richards-rise",
    .summary = "generalised logistic rise: floor, top, rate, place and skew of the bend",
    .curve_flags = PLATEN_RISES | PLATEN_LOG,
    .nlinear = 2,
    .nshape = 3,
    .linear_names = linear_names,
    .shape_names = shape_names,
    .curve_columns = columns,
    .curve_gradient = gradient,
    .curve_range = range,
    .limit_low = "line",
    .limit_high = "step",
};

PLATEN_EXPORT const platen_plugin *platen_plugin_entry(void)
{
    return &plugin;
}
