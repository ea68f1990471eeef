/* No fault: a power of x (NIST StRD, DanWood), written against the header alone. */
#include <math.h>

#include "fault.h"

static const char *const linear_names[] = { "b1" };
static const char *const shape_names[] = { "b2" };

static int columns(const double *u, size_t n, const double *shape, double *out)
{
    for (size_t i = 0; i < n; i++)
        out[i] = pow(u[i], shape[0]);
    return PLATEN_OK;
}

static int gradient(const double *u, size_t n, const double *shape, size_t k, double *out)
{
    (void)k;
    for (size_t i = 0; i < n; i++)
        out[i] = log(u[i]) * pow(u[i], shape[0]);
    return PLATEN_OK;
}

static int range(const double *u, size_t n, double *low, double *high)
{
    if (!(n && u[0] > 0))
        return PLATEN_ERANGE;
    low[0] = 0.01;
    high[0] = 50;
    return PLATEN_OK;
}

static const platen_plugin plugin = {
    PLATEN_HEAD(PLATEN_CURVE),
    .name = FAULT_NAME,
    .summary = "a power of x",
    .nlinear = 1,
    .nshape = 1,
    .linear_names = linear_names,
    .shape_names = shape_names,
    .curve_columns = columns,
    .curve_gradient = gradient,
    .curve_range = range,
};
FAULT_ENTRY
