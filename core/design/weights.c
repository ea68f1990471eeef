/* Continuous optimal designs on a list of candidates, by multiplied weights. */
#include "design/weights.h"

#include <math.h>
#include <string.h>

typedef struct view {
    const pl_view *in;
    size_t q;
    double mark;      /* of the mean in x: 1, or 0 without one */
    double *m, *even; /* q x q: inverse of M; mean of x x' over all candidates */
    double *g;        /* I: inverse even inverse, q x q; c: inverse aim, q */
    double *spare;    /* q x q */
} view;

typedef struct work {
    const pl_weights *x;
    view *views;
    double *gain; /* ncand: d_j, or what the variance falls for more weight on j */
    pl_scaled det;
    double value, most;
    size_t used;
} work;

static bool may(const pl_region *of, size_t j)
{
    return !of->may || of->may[j];
}

/* m += by x x' */
static void add(const view *v, size_t j, double by, double *m)
{
    size_t q = v->q;
    const double *f = v->in->f + j * v->in->p;

    for (size_t r = 0; r < q; r++) {
        double xr = r ? f[r - 1] : v->mark;

        for (size_t c = 0; c < q; c++)
            m[r * q + c] += by * xr * (c ? f[c - 1] : v->mark);
    }
}

static double at(const view *v, size_t j, size_t i)
{
    return i ? v->in->f[j * v->in->p + i - 1] : v->mark;
}

static double form(const view *v, size_t j, const double *m)
{
    double sum = 0;

    for (size_t r = 0; r < v->q; r++) {
        double part = 0;

        for (size_t c = 0; c < v->q; c++)
            part += m[r * v->q + c] * at(v, j, c);
        sum += part * at(v, j, r);
    }
    return sum;
}

/* inverse, and the variance in question, which is added to *total. */
static bool invert(work *w, size_t k, double *total)
{
    const pl_region *of = &w->x->of;
    view *v = &w->views[k];
    size_t q = v->q;

    memset(v->m, 0, q * q * sizeof *v->m);
    for (size_t j = 0; j < of->ncand; j++)
        if (w->x->w[j] > 0)
            add(v, j, w->x->w[j], v->m);
    for (size_t i = 0; i < q * q; i++)
        v->m[i] += of->spread * v->even[i];
    v->m[0] += 1 - v->mark; /* stands alone */
    if (!pl_symmetric_invert(v->m, q, v->spare, k ? NULL : &w->det))
        return false;
    if (of->criterion == PL_CRITERION_C) {
        for (size_t i = 0; i < q; i++) {
            v->g[i] = 0;
            for (size_t c = 0; c < q; c++)
                v->g[i] += v->m[i * q + c] * v->in->aim[c];
            *total += v->in->weight * v->g[i] * v->in->aim[i];
        }
    } else if (of->criterion == PL_CRITERION_I) {
        for (size_t i = 0; i < q * q; i++) {
            v->spare[i] = 0;
            for (size_t c = 0; c < q; c++)
                v->spare[i] += v->m[i / q * q + c] * v->even[c * q + i % q];
        }
        for (size_t i = 0; i < q * q; i++) {
            v->g[i] = 0;
            for (size_t c = 0; c < q; c++)
                v->g[i] += v->spare[i / q * q + c] * v->m[c * q + i % q];
        }
        for (size_t i = 0; i < q; i++)
            *total += v->in->weight * v->spare[i * q + i];
    }
    return true;
}

static double gain_of(const work *w, size_t j)
{
    const pl_region *of = &w->x->of;
    double sum = 0;

    if (of->criterion == PL_CRITERION_D)
        return form(&w->views[0], j, w->views[0].m);
    for (size_t k = 0; k < of->nview; k++) {
        const view *v = &w->views[k];
        double along = 0;

        if (of->criterion == PL_CRITERION_I) {
            sum += v->in->weight * form(v, j, v->g);
            continue;
        }
        for (size_t i = 0; i < v->q; i++)
            along += v->g[i] * at(v, j, i);
        sum += v->in->weight * along * along;
    }
    return sum;
}

/* The mean gain at these weights is q (D), or the variance less what the even spread does. */
static bool look(work *w, double *mean)
{
    const pl_region *of = &w->x->of;

    w->value = w->most = *mean = 0;
    w->det = (pl_scaled){ 0.5, 1 };
    for (size_t k = 0; k < of->nview; k++)
        if (!invert(w, k, &w->value))
            return false;
    for (size_t j = 0; j < of->ncand; j++) {
        if (!may(of, j))
            continue;
        w->gain[j] = gain_of(w, j);
        w->most = w->gain[j] > w->most ? w->gain[j] : w->most;
        *mean += w->x->w[j] * w->gain[j];
        w->used += w->views[0].q * w->views[0].q;
    }
    return *mean > 0;
}

/* tr(M^-1 M*) / q bounds the determinants' ratio by the means; a convex function lies above its
 * tangent. */
static double bound_of(const work *w, double mean)
{
    size_t p = w->views[0].in->p, q = p + (w->x->of.no_mean ? 0 : 1);
    pl_scaled det = w->det;

    if (w->x->of.criterion != PL_CRITERION_D)
        return w->value - (w->most - mean);
    for (size_t i = 0; i < q; i++)
        pl_scaled_times(&det, w->most / mean);
    return pl_scaled_root(det, p);
}

static void multiply(work *w, double mean)
{
    const pl_region *of = &w->x->of;
    double sum = 0;

    for (size_t j = 0; j < of->ncand; j++) {
        double by = may(of, j) ? w->gain[j] / mean : 0;

        w->x->w[j] *= of->criterion == PL_CRITERION_D ? by : sqrt(by);
        sum += w->x->w[j];
    }
    for (size_t j = 0; j < of->ncand; j++)
        w->x->w[j] /= sum;
}

static bool open_views(pl_arena *a, work *w, size_t n)
{
    const pl_region *of = &w->x->of;

    w->views = PL_NEWN(a, of->nview, view);
    w->gain = PL_NEWN(a, of->ncand, double);
    for (size_t k = 0; w->views && w->gain && k < of->nview; k++) {
        view *v = &w->views[k];
        size_t q = of->view[k].p + 1;

        *v = (view){ .in = &of->view[k],
                     .q = q,
                     .mark = of->no_mean ? 0 : 1,
                     .m = PL_NEWN(a, q * q, double),
                     .even = PL_NEWN(a, q * q, double),
                     .g = PL_NEWN(a, q * q, double),
                     .spare = PL_NEWN(a, q * q, double) };
        if (!v->m || !v->even || !v->g || !v->spare)
            return false;
        for (size_t j = 0; j < of->ncand; j++)
            if (may(of, j))
                add(v, j, 1 / (double)n, v->even);
    }
    return w->views && w->gain;
}

static pl_code steps(work *w, pl_weights *x)
{
    size_t most = x->work ? x->work : PL_WEIGHTS_WORK;
    bool better = x->of.criterion == PL_CRITERION_D;

    for (x->steps = 0;; x->steps++) {
        double mean, bound, value;

        if (!look(w, &mean))
            return PL_ERANK;
        value = better ? pl_scaled_root(w->det, w->views[0].in->p) : w->value;
        bound = bound_of(w, mean);
        if (!x->steps || (better ? bound < x->bound : bound > x->bound))
            x->bound = bound;
        x->value = value;
        if (fabs(x->bound - value) <= x->aim * value || w->used >= most)
            return PL_OK;
        multiply(w, mean);
    }
}

pl_code pl_weights_find(pl_arena *a, pl_weights *x, pl_diags *diags)
{
    pl_mark mark = pl_arena_mark(a);
    work w = { .x = x };
    size_t n = 0;
    pl_code rc;

    for (size_t j = 0; j < x->of.ncand; j++)
        n += may(&x->of, j);
    if (!n)
        return PL_EUSAGE;
    for (size_t j = 0; j < x->of.ncand; j++)
        x->w[j] = may(&x->of, j) ? 1 / (double)n : 0;
    rc = open_views(a, &w, n) ? steps(&w, x) : pl_nomem(diags);
    pl_arena_reset(a, mark);
    return rc;
}
