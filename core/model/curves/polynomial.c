/* polynomial:N: c0 + c1 u + ... + cN u^N. Named columns are plain powers; a search uses powers
 * of u scaled to -1..1 (core/fit). */
#include "model/curve_grid.h"

static void columns(const pl_curve *c, const long double *u, size_t n, long double s,
                    long double *out)
{
    (void)s;
    for (size_t i = 0; i < n; i++) {
        long double power = 1;

        for (size_t j = 0; j < c->nlinear; j++) {
            out[i * c->nlinear + j] = power;
            power *= u[i];
        }
    }
}

#define POLYNOMIAL(N, RISE, REACH)                                                          \
    {                                                                                       \
        .name = "polynomial:" #N, .linear_names = { "c0", "c1", "c2", "c3", "c4",  "c5",    \
                                                    "c6", "c7", "c8", "c9", "c10", "c11" }, \
        .nlinear = (N) + 1, .columns = columns, .rise = (RISE), .reach = (REACH)            \
    }

const pl_curve pl_curve_polynomials[PL_CURVE_LINEAR_MOST - 1] = {
    POLYNOMIAL(1, pl_curve_rise_line, pl_curve_reach_line),
    POLYNOMIAL(2, NULL, NULL),
    POLYNOMIAL(3, NULL, NULL),
    POLYNOMIAL(4, NULL, NULL),
    POLYNOMIAL(5, NULL, NULL),
    POLYNOMIAL(6, NULL, NULL),
    POLYNOMIAL(7, NULL, NULL),
    POLYNOMIAL(8, NULL, NULL),
    POLYNOMIAL(9, NULL, NULL),
    POLYNOMIAL(10, NULL, NULL),
    POLYNOMIAL(11, NULL, NULL),
};
