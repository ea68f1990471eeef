/* polynomial:N: c0 + c1 u + ... + cN u^N. Named columns are plain powers; a search uses powers
 * of u scaled to -1..1 (core/fit). */
#include "model/curve.h"

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

#define POLYNOMIAL(N)                                                                       \
    {                                                                                       \
        .name = "polynomial:" #N, .linear_names = { "c0", "c1", "c2", "c3", "c4",  "c5",    \
                                                    "c6", "c7", "c8", "c9", "c10", "c11" }, \
        .nlinear = (N) + 1, .columns = columns                                              \
    }

const pl_curve pl_curve_polynomials[PL_CURVE_LINEAR_MOST - 1] = {
    POLYNOMIAL(1), POLYNOMIAL(2), POLYNOMIAL(3), POLYNOMIAL(4),  POLYNOMIAL(5),  POLYNOMIAL(6),
    POLYNOMIAL(7), POLYNOMIAL(8), POLYNOMIAL(9), POLYNOMIAL(10), POLYNOMIAL(11),
};
