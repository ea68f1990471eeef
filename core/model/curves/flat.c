/* flat: one mean for all. Shown beside the others, never averaged. */
#include "model/curve.h"

static void columns(const pl_curve *c, const long double *u, size_t n, long double s,
                    long double *out)
{
    (void)c;
    (void)u;
    (void)s;
    for (size_t i = 0; i < n; i++)
        out[i] = 1;
}

const pl_curve pl_curve_flat = {
    .name = "flat",
    .linear_names = { "mean" },
    .nlinear = 1,
    .columns = columns,
};
