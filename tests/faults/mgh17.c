/* No fault: a curve of another trade, a constant and two exponentials (NIST StRD, MGH17),
 * written against the header alone. The faster one comes second, so that it has one name only. */
#include <math.h>

#include "fault.h"

static const char *const linear_names[] = { "b1", "b2", "b3" };
static const char *const shape_names[] = { "b4", "b5" };

static int columns(const double *u, size_t n, const double *shape, double *out)
{
    if (!(shape[0] < shape[1]))
        return PLATEN_ERANGE;
    for (size_t i = 0; i < n; i++) {
        out[3 * i] = 1;
        out[3 * i + 1] = exp(-shape[0] * u[i]);
        out[3 * i + 2] = exp(-shape[1] * u[i]);
    }
    return PLATEN_OK;
}

static int gradient(const double *u, size_t n, const double *shape, size_t k, double *out)
{
    for (size_t i = 0; i < n; i++) {
        out[3 * i] = out[3 * i + 1] = out[3 * i + 2] = 0;
        out[3 * i + 1 + k] = -u[i] * exp(-shape[k] * u[i]);
    }
    return PLATEN_OK;
}

static int range(const double *u, size_t n, double *low, double *high)
{
    for (size_t k = 0; k < 2; k++) {
        low[k] = 0.01 / (u[n - 1] - u[0]);
        high[k] = 10 / (u[1] - u[0]);
    }
    return PLATEN_OK;
}

static const platen_plugin plugin = {
    PLATEN_HEAD(PLATEN_CURVE),
    .name = FAULT_NAME,
    .summary = "a constant and two exponentials",
    .nlinear = 3,
    .nshape = 2,
    .linear_names = linear_names,
    .shape_names = shape_names,
    .curve_columns = columns,
    .curve_gradient = gradient,
    .curve_range = range,
};
FAULT_ENTRY
