/* saturating-hyperbola: g = u / (half + u). A large half makes a line; half at zero makes a step
 * when there is a unit at u = 0, else floor and top joined by 1/u. */
#include <math.h>

#include "model/curve.h"
#include "model/curve_grid.h"

static void columns(const pl_curve *c, const long double *u, size_t n, long double s,
                    long double *out)
{
    (void)c;
    for (size_t i = 0; i < n; i++) {
        out[2 * i] = s / (s + u[i]);
        out[2 * i + 1] = u[i] / (s + u[i]);
    }
}

static void gradient(const long double *u, size_t n, long double s, long double *out)
{
    for (size_t i = 0; i < n; i++) {
        long double d = -u[i] / ((s + u[i]) * (s + u[i]));

        out[2 * i] = -d;
        out[2 * i + 1] = d;
    }
}

static void rise(const double *u, size_t n, double low, double high, double s, double *h)
{
    for (size_t i = 0; i < n; i++)
        h[i] = (u[i] - low) / (high - low) * ((s + high) / (s + u[i]));
}

/* The scale on which a small half still matters. */
static double small(const pl_curve_span *span)
{
    return span->low > 0 ? span->low : pl_curve_first_gap(span);
}

static void reach(double low, double high, const double *s, const double *part, size_t n, double *u)
{
    for (size_t i = 0; i < n; i++) {
        const double w = part[i] * (high - low);

        u[i] = low + w * (s[i] + low) / (s[i] + high - w);
    }
}

static size_t grid(const pl_curve_span *span, double *z)
{
    const double unit = small(span), high = 1e3 * fmax(span->high - span->low, unit);
    size_t n = 0;

    pl_curve_grid_decades(z, &n, unit, -12, -4, 2);
    pl_curve_grid_run(z, &n, 1e-3 * unit, high, 1.3, 160);
    pl_curve_grid_decades(z, &n, high, 1, 9, 2);
    return n;
}

static const char *limit(const pl_curve_span *span, double s)
{
    if (s <= PL_CURVE_LIMIT_SHARE * small(span))
        return span->low > 0 ? "reciprocal" : "step";
    return s * PL_CURVE_LIMIT_SHARE >= span->high - span->low ? "line" : NULL;
}

const pl_curve pl_curve_saturating_hyperbola = {
    .name = "saturating-hyperbola",
    .linear_names = { "floor", "top" },
    .shape_name = "half",
    .nlinear = 2,
    .nshape = 1,
    .rises = true,
    .needs_positive = true,
    .shape_is_x = true,
    .columns = columns,
    .gradient = gradient,
    .rise = rise,
    .reach = reach,
    .grid = grid,
    .limit = limit,
};
