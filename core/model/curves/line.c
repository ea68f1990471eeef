/* line: intercept + slope u. */
#include "model/curve_grid.h"

static void columns(const pl_curve *c, const long double *u, size_t n, long double s,
                    long double *out)
{
    (void)c;
    (void)s;
    for (size_t i = 0; i < n; i++) {
        out[2 * i] = 1;
        out[2 * i + 1] = u[i];
    }
}

void pl_curve_rise_line(const double *u, size_t n, double low, double high, double s, double *h)
{
    (void)s;
    for (size_t i = 0; i < n; i++)
        h[i] = (u[i] - low) / (high - low);
}

void pl_curve_reach_line(double low, double high, const double *s, const double *part, size_t n,
                         double *u)
{
    (void)s;
    for (size_t i = 0; i < n; i++)
        u[i] = low + part[i] * (high - low);
}

const pl_curve pl_curve_line = {
    .name = "line",
    .linear_names = { "intercept", "slope" },
    .nlinear = 2,
    .columns = columns,
    .rise = pl_curve_rise_line,
    .reach = pl_curve_reach_line,
};
