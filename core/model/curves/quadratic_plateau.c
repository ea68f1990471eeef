/* quadratic-plateau: a parabola from floor at u = 0 that meets top level at the knee, flat from
 * there: g = 1 - (1 - u/knee)^2. The knee may lie beyond the data; far beyond, the curve is a
 * line. */
#include <math.h>

#include "model/curve.h"
#include "model/curve_grid.h"

static void columns(const pl_curve *c, const long double *u, size_t n, long double s,
                    long double *out)
{
    (void)c;
    for (size_t i = 0; i < n; i++) {
        long double q = u[i] < s ? 1 - u[i] / s : 0;

        out[2 * i] = q * q;
        out[2 * i + 1] = u[i] < s ? u[i] / s * (1 + q) : 1;
    }
}

static void gradient(const long double *u, size_t n, long double s, long double *out)
{
    for (size_t i = 0; i < n; i++) {
        long double d = u[i] < s ? -2 * (1 - u[i] / s) * u[i] / (s * s) : 0;

        out[2 * i] = -d;
        out[2 * i + 1] = d;
    }
}

static void rise(const double *u, size_t n, double low, double high, double s, double *h)
{
    double end = s < high ? s : high;
    /* 1 - ((s-u)/(s-low))^2, scaled to 1 at end; nothing cancels as s grows */
    double scale = (end - low) * ((s - low) + (s - end));

    for (size_t i = 0; i < n; i++)
        h[i] = u[i] < s   ? (u[i] - low) * ((s - low) + (s - u[i])) / scale
               : s < high ? 1
                          : (s - low) * (s - low) / scale;
}

/* v (2 S - v) = part scale, S the knee and v the place, from low. */
static void reach(double low, double high, const double *s, const double *part, size_t n, double *u)
{
    for (size_t i = 0; i < n; i++) {
        const double S = s[i] - low, width = high - low;
        const double w = part[i] * (S < width ? S * S : width * (2 * S - width));

        u[i] = low + w / (S + sqrt(fmax(S * S - w, 0)));
    }
}

static size_t grid(const pl_curve_span *span, double *z)
{
    return pl_curve_grid_knees(span, true, z);
}

static const char *limit(const pl_curve_span *span, double s)
{
    double gap = pl_curve_first_gap(span), width = span->high - span->low;

    if (s - span->low <= gap * (1 + PL_CURVE_LIMIT_SHARE))
        return "step";
    return (s - span->low) * PL_CURVE_LIMIT_SHARE >= width ? "line" : NULL;
}

const pl_curve pl_curve_quadratic_plateau = {
    .name = "quadratic-plateau",
    .linear_names = { "floor", "top" },
    .shape_name = "knee",
    .nlinear = 2,
    .nshape = 1,
    .rises = true,
    .shape_is_x = true,
    .columns = columns,
    .gradient = gradient,
    .rise = rise,
    .reach = reach,
    .from_low = true,
    .grid = grid,
    .limit = limit,
};
