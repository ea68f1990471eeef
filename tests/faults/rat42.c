/* No fault: logistic growth from nothing (NIST StRD, Rat42), written against the header alone. */
#include <math.h>

#include "fault.h"

static const char *const linear_names[] = { "b1" };
static const char *const shape_names[] = { "b2", "b3" };

static int columns(const double *u, size_t n, const double *shape, double *out)
{
    for (size_t i = 0; i < n; i++)
        out[i] = 1 / (1 + exp(shape[0] - shape[1] * u[i]));
    return PLATEN_OK;
}

static int gradient(const double *u, size_t n, const double *shape, size_t k, double *out)
{
    for (size_t i = 0; i < n; i++) {
        double e = exp(-fabs(shape[0] - shape[1] * u[i])), bell = e / ((1 + e) * (1 + e));

        out[i] = k ? u[i] * bell : -bell;
    }
    return PLATEN_OK;
}

static int range(const double *u, size_t n, double *low, double *high)
{
    low[0] = -10;
    high[0] = 10;
    low[1] = 1e-3 / (u[n - 1] - u[0]);
    high[1] = 10 / (u[1] - u[0]);
    return PLATEN_OK;
}

static const platen_plugin plugin = {
    PLATEN_HEAD(PLATEN_CURVE),
    .name = FAULT_NAME,
    .summary = "logistic growth",
    .nlinear = 1,
    .nshape = 2,
    .linear_names = linear_names,
    .shape_names = shape_names,
    .curve_columns = columns,
    .curve_gradient = gradient,
    .curve_range = range,
};
FAULT_ENTRY
