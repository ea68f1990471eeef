/* rise-and-fall: a starved joint. m = floor + (top - floor)(1 - exp(-rate u)) - loss u: contact is
 * gained at a rate that dies away, glue is lost in proportion to u. Our own choice of form: three
 * columns, one shape number, a saturating-exponential when loss = 0. It is held to its bent side
 * (top above floor), so it never has more than one hill. Slow rates make a parabola, fast ones a
 * step from the lowest u with a line behind it, no bend at all a line: core/fit/curve_turn.c. */
#include <math.h>

#include "model/curve.h"
#include "model/curve_grid.h"

/* exp(-36) is 2e-16: the second lowest u has arrived to all digits held. */
#define STEP_AT 36.0
/* rate x span below which the bend is a parabola's: cubic parts are then a third of it. */
#define PARABOLA_AT 1e-6

static void columns(const pl_curve *c, const long double *u, size_t n, long double s,
                    long double *out)
{
    (void)c;
    for (size_t i = 0; i < n; i++) {
        out[3 * i] = expl(-s * u[i]);
        out[3 * i + 1] = -expm1l(-s * u[i]);
        out[3 * i + 2] = -u[i];
    }
}

static void gradient(const long double *u, size_t n, long double s, long double *out)
{
    for (size_t i = 0; i < n; i++) {
        long double d = u[i] * expl(-s * u[i]);

        out[3 * i] = -d;
        out[3 * i + 1] = d;
        out[3 * i + 2] = 0;
    }
}

static size_t grid(const pl_curve_span *span, double *z)
{
    const double gap = pl_curve_first_gap(span), width = span->high - span->low;
    size_t n = 0;

    pl_curve_grid_decades(z, &n, PARABOLA_AT / width, 0, 3, 1);
    pl_curve_grid_run(z, &n, 1e-2 / width, 40 / gap, 1.25, 80);
    return n;
}

static const char *limit(const pl_curve_span *span, double s)
{
    if (s * pl_curve_first_gap(span) >= STEP_AT)
        return "step";
    return s * (span->high - span->low) <= PARABOLA_AT * (1 + 1e-9) ? "parabola" : NULL;
}

const pl_curve pl_curve_rise_and_fall = {
    .name = "rise-and-fall",
    .linear_names = { "floor", "top", "loss" },
    .shape_name = "rate",
    .nlinear = 3,
    .nshape = 1,
    .columns = columns,
    .gradient = gradient,
    .grid = grid,
    .limit = limit,
};
