/* No fault: a decay over a straight line, no parameter of which is linear (NIST StRD, Chwirut2),
 * written against the header alone: all of it is the offset. */
#include <math.h>

#include "fault.h"

static const char *const shape_names[] = { "b1", "b2", "b3" };

static int offset(const double *u, size_t n, const double *b, double *out)
{
    for (size_t i = 0; i < n; i++) {
        double under = b[1] + b[2] * u[i];

        if (!(under > 0))
            return PLATEN_ERANGE;
        out[i] = exp(-b[0] * u[i]) / under;
    }
    return PLATEN_OK;
}

static int offset_gradient(const double *u, size_t n, const double *b, size_t k, double *out)
{
    for (size_t i = 0; i < n; i++) {
        double under = b[1] + b[2] * u[i], m = exp(-b[0] * u[i]) / under;

        out[i] = k == 0 ? -u[i] * m : k == 1 ? -m / under : -u[i] * m / under;
    }
    return PLATEN_OK;
}

/* No columns: nothing to write. */
static int columns(const double *u, size_t n, const double *b, double *out)
{
    (void)u, (void)n, (void)b, (void)out;
    return PLATEN_OK;
}

static int gradient(const double *u, size_t n, const double *b, size_t k, double *out)
{
    (void)k;
    return columns(u, n, b, out);
}

static int range(const double *u, size_t n, double *low, double *high)
{
    low[0] = 1e-3 / (u[n - 1] - u[0]);
    high[0] = 10 / (u[1] - u[0]);
    low[1] = low[2] = 1e-6;
    high[1] = high[2] = 1e2;
    return PLATEN_OK;
}

static const platen_plugin plugin = {
    PLATEN_HEAD(PLATEN_CURVE),
    .name = FAULT_NAME,
    .summary = "a decay over a straight line",
    .nshape = 3,
    .shape_names = shape_names,
    .curve_columns = columns,
    .curve_gradient = gradient,
    .curve_offset = offset,
    .curve_offset_gradient = offset_gradient,
    .curve_range = range,
};
FAULT_ENTRY
