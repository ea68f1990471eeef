/* linear-plateau: a straight rise from floor at u = 0 to top at the knee, flat from there.
 * The knee has a closed form, segment by segment (core/fit/curve_segments.c). */
#include <math.h>

#include "model/curve.h"
#include "model/curve_grid.h"

static void columns(const pl_curve *c, const long double *u, size_t n, long double s,
                    long double *out)
{
    (void)c;
    for (size_t i = 0; i < n; i++) {
        long double g = u[i] < s ? u[i] / s : 1;

        out[2 * i] = 1 - g;
        out[2 * i + 1] = g;
    }
}

static void gradient(const long double *u, size_t n, long double s, long double *out)
{
    for (size_t i = 0; i < n; i++) {
        long double d = u[i] < s ? -u[i] / (s * s) : u[i] > s ? 0 : -0.5L / s;

        out[2 * i] = -d;
        out[2 * i + 1] = d;
    }
}

static void rise(const double *u, size_t n, double low, double high, double s, double *h)
{
    double end = fmin(s, high);

    for (size_t i = 0; i < n; i++)
        h[i] = u[i] < end ? (u[i] - low) / (end - low) : 1;
}

static void reach(double low, double high, const double *s, const double *part, size_t n, double *u)
{
    for (size_t i = 0; i < n; i++)
        u[i] = low + part[i] * ((s[i] < high ? s[i] : high) - low);
}

static size_t grid(const pl_curve_span *span, double *z)
{
    return pl_curve_grid_knees(span, false, z);
}

static const char *limit(const pl_curve_span *span, double s)
{
    double gap = pl_curve_first_gap(span), width = span->high - span->low;

    if (s - span->low <= gap * (1 + PL_CURVE_LIMIT_SHARE))
        return "step";
    return s - span->low >= width * (1 - PL_CURVE_LIMIT_SHARE) ? "line" : NULL;
}

const pl_curve pl_curve_linear_plateau = {
    .name = "linear-plateau",
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
