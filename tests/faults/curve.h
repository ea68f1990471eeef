/* A rise that follows its header but for what the file that includes this does: SCALE of its
 * rate when its columns are asked for, RISE itself, what the columns then ANSWER (out, u and n
 * are at hand), SLOPE of its derivative, DEFINED for a rate; WITHOUT_SLOPE: no derivative and
 * no range. */
#ifndef TESTS_FAULTS_CURVE_H
#define TESTS_FAULTS_CURVE_H

#include "fault.h"

#include <math.h>

#ifndef SCALE
#define SCALE 1
#endif
#ifndef SLOPE
#define SLOPE 1
#endif
#ifndef DEFINED
#define DEFINED(rate) ((rate) > 0)
#endif

#ifndef RISE
#define RISE(rate, u) (1 - exp(-(rate) * (u)))
#endif
#ifndef ANSWER
#define ANSWER PLATEN_OK
#endif

static const char *const linear_names[] = { "floor", "top" };
static const char *const shape_names[] = { "rate" };

static int columns(const double *u, size_t n, const double *shape, double *out)
{
    double rate = shape[0] * SCALE;

    if (!DEFINED(rate))
        return PLATEN_ERANGE;
    for (size_t i = 0; i < n; i++) {
        out[2 * i + 1] = RISE(rate, u[i]);
        out[2 * i] = 1 - out[2 * i + 1];
    }
    return ANSWER;
}

#ifndef WITHOUT_SLOPE
static int gradient(const double *u, size_t n, const double *shape, size_t k, double *out)
{
    for (size_t i = 0; i < n; i++) {
        out[2 * i + 1] = SLOPE * u[i] * exp(-shape[k] * u[i]);
        out[2 * i] = -out[2 * i + 1];
    }
    return PLATEN_OK;
}

static int range(const double *u, size_t n, double *low, double *high)
{
    *low = 1e-3 / (u[n - 1] - u[0]);
    *high = 1e3 / (u[n - 1] - u[0]);
    return PLATEN_OK;
}
#endif

static const platen_plugin plugin = {
    PLATEN_HEAD(PLATEN_CURVE),
    .name = FAULT_NAME,
    .summary = "does wrong, for the tests",
    .curve_flags = PLATEN_RISES,
    .nlinear = 2,
    .nshape = 1,
    .linear_names = linear_names,
    .shape_names = shape_names,
    .curve_columns = columns,
#ifndef WITHOUT_SLOPE
    .curve_gradient = gradient,
    .curve_range = range,
#endif
};
FAULT_ENTRY

#endif
