/* The list of built-in curves, and the grids they share. What a curve is stands in
 * core/model/curves, one file each. */
#include "model/curve.h"

#include <math.h>
#include <string.h>

#include "base/text.h"
#include "model/curve_grid.h"

enum { NSIMPLE = 8, NPOLYNOMIAL = PL_CURVE_LINEAR_MOST - 1 };

static const pl_curve *const simple[NSIMPLE] = {
    &pl_curve_flat,
    &pl_curve_line,
    &pl_curve_linear_plateau,
    &pl_curve_quadratic_plateau,
    &pl_curve_saturating_exponential,
    &pl_curve_saturating_hyperbola,
    &pl_curve_logistic_rise,
    &pl_curve_rise_and_fall,
};
/* Parts of the whole span between two points of a knee grid, at most. */
#define WIDE_PARTS 40

const pl_curve *pl_curve_find(const char *name)
{
    for (size_t i = 0; i < NSIMPLE; i++)
        if (!strcmp(simple[i]->name, name))
            return simple[i];
    for (size_t i = 0; i < NPOLYNOMIAL; i++)
        if (!strcmp(pl_curve_polynomials[i].name, name))
            return &pl_curve_polynomials[i];
    return NULL;
}

pl_code pl_curve_need(const char *name, const char *where, const pl_curve **out, pl_diags *d)
{
    const char *names[NSIMPLE + NPOLYNOMIAL];
    const char *nearest;

    *out = pl_curve_find(name);
    if (*out)
        return PL_OK;
    for (size_t i = 0; i < NSIMPLE; i++)
        names[i] = simple[i]->name;
    for (size_t i = 0; i < NPOLYNOMIAL; i++)
        names[NSIMPLE + i] = pl_curve_polynomials[i].name;
    nearest = pl_text_nearest(name, names, NSIMPLE + NPOLYNOMIAL);
    return pl_fail(d, PL_EKEY, where, .found = pl_arena_printf(d->arena, "no curve \"%s\"", name),
                   .expected = "flat, line, polynomial:N (N from 1 to 11), linear-plateau, "
                               "quadratic-plateau, saturating-exponential, saturating-hyperbola, "
                               "logistic-rise or rise-and-fall",
                   .mend = nearest ? pl_arena_printf(d->arena, "did you mean \"%s\"?", nearest)
                                   : "");
}

void pl_curve_grid_decades(double *z, size_t *n, double unit, int from, int to, int by)
{
    for (int k = from; k <= to; k += by)
        z[(*n)++] = log(unit) + k * M_LN10;
}

double pl_curve_first_gap(const pl_curve_span *span)
{
    for (size_t i = 0; i < span->n; i++)
        if (span->u[i] > span->low)
            return span->u[i] - span->low;
    return span->high - span->low;
}

void pl_curve_grid_run(double *z, size_t *n, double from, double to, double ratio, size_t most)
{
    double steps = ceil(log(to / from) / log(ratio));
    size_t k = steps < 1 ? 1 : steps > (double)most - 1 ? most - 1 : (size_t)steps;

    for (size_t i = 0; i <= k; i++)
        z[(*n)++] = log(from) + (log(to) - log(from)) * (double)i / (double)k;
}

/* Points from one u to the next and that next one: at least k parts, more in a wide gap. Just
 * beyond a cluster of u the fit changes on the scale of the cluster, so a gap much wider
 * than the one before it (`last`) starts with doubling steps. */
static void between(double *z, size_t *n, double from, double to, double last, size_t k,
                    double width)
{
    size_t wide = (size_t)ceil(WIDE_PARTS * (to - from) / width);
    double part;

    k = wide > k ? wide : k;
    part = (to - from) / (double)k;
    if (*n + k + 24 < PL_CURVE_GRID_MOST - 60)
        for (int i = 0; i < 24 && ldexp(last, i) < 0.75 * part; i++)
            if (ldexp(last, i) > 1e-7 * part)
                z[(*n)++] = log(from + ldexp(last, i));
    for (size_t i = 1; i < k; i++)
        z[(*n)++] = log(from + part * (double)i);
    z[(*n)++] = log(to);
}

size_t pl_curve_grid_knees(const pl_curve_span *span, bool beyond, double *z)
{
    static const double first[] = { 1e-8, 1e-6, 1e-4, 1e-3, 0.01, 0.03, 0.1, 0.25, 0.5, 0.75 };
    const double gap = pl_curve_first_gap(span), width = span->high - span->low;
    const size_t stride = span->n / 200 + 1;
    const size_t parts = span->n <= 20 ? 6 : span->n <= 60 ? 2 : 1;
    double at = gap, last = gap;
    size_t n = 0;

    for (size_t i = 0; i < sizeof first / sizeof *first; i++)
        z[n++] = log(gap * first[i]);
    z[n++] = log(gap);
    for (size_t i = 0; i < span->n; i += stride) {
        double d = span->u[i] - span->low;

        if (d <= at || d >= width)
            continue;
        between(z, &n, at, d, last, parts, width);
        last = d - at;
        at = d;
    }
    if (at < width)
        between(z, &n, at, width, last, parts, width);
    if (beyond) {
        pl_curve_grid_run(z, &n, width * 1.1, width * 1e3, 1.3, 40);
        pl_curve_grid_decades(z, &n, width, 4, 12, 2);
    }
    return n;
}
