/* Parametric bootstrap of one group's onset. Fits of many draws at once are refit.c. */
#include "fit/bootstrap.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/stream.h"
#include "base/threads.h"
#include "fit/refit.h"

#define BATCH PL_REFIT_BATCH /* draws at once: a block of work, whatever the number of threads */
/* Onsets of an averaged mean are good to this share of the range. */
#define ONSET_TOL 1e-9
#define SCAN 64
#define WEIGHT_LEAST 1e-9

typedef struct boot {
    const pl_plateau_group *g;
    const pl_curve_rows *rows;
    pl_curve_model **curves; /* n: those with a weight */
    pl_refit **refits;
    size_t n;
    double *base; /* rows: what the averaged curve maps to */
    double sigma;
    size_t rest_df;
    uint64_t seed, first;
    size_t draws;
    double *onset; /* draws, to the end of a batch; NAN: none */
} boot;

/* One thread's own room. */
typedef struct desk {
    double *z; /* rows x BATCH */
    double rest[BATCH];
    pl_refits *all; /* a curve each */
    pl_curve_best *best;
    double *weight;
} desk;

/* ---- what is drawn from ---- */

static double averaged_mean(const boot *b, double x)
{
    double mean = 0;

    for (size_t k = 0; k < b->n; k++)
        mean += b->curves[k]->weight * pl_curve_model_mean(b->curves[k], x, NULL);
    return mean;
}

static pl_code make_boot(boot *b)
{
    const pl_plateau_group *g = b->g;
    double *c = PL_NEWN(g->a, b->rows->m, double), variance = 0;
    pl_code rc = PL_OK;

    b->curves = PL_NEWN(g->a, g->naveraged, pl_curve_model *);
    b->refits = PL_NEWN(g->a, g->naveraged, pl_refit *);
    b->base = PL_NEWN(g->a, b->rows->rows, double);
    b->onset = PL_NEWN(g->a, b->draws + BATCH, double);
    if (!c || !b->curves || !b->refits || !b->base || !b->onset)
        return pl_nomem(g->d);
    for (size_t k = 0; k < g->naveraged && !rc; k++) {
        if (g->averaged[k]->weight < WEIGHT_LEAST)
            continue;
        b->curves[b->n] = g->averaged[k];
        rc = pl_refit_make(g->a, g->averaged[k], &b->refits[b->n++], g->d);
    }
    if (rc)
        return rc;
    for (size_t k = 0; k < b->n; k++)
        variance += b->curves[k]->weight * b->curves[k]->s2;
    for (size_t i = 0; i < b->rows->m; i++)
        c[i] = averaged_mean(b, b->rows->distinct[i]);
    pl_curve_rows_map(b->rows, c, b->base);
    b->sigma = sqrt(variance);
    b->rest_df = b->rows->left - b->rows->rows;
    return PL_OK;
}

static bool make_desk(const boot *b, desk *k)
{
    pl_arena *a = b->g->a;

    *k = (desk){ .z = PL_NEWN(a, BATCH * b->rows->rows, double),
                 .all = PL_NEWN(a, b->n, pl_refits),
                 .best = PL_NEWN(a, b->n, pl_curve_best),
                 .weight = PL_NEWN(a, b->n, double) };
    return k->z && k->all && k->best && k->weight;
}

/* ---- a batch of draws ---- */

/* Batch `from` over BATCH is one draw of the stream: a normal a row and set, then what is left. */
static void draw_batch(const boot *b, desk *k, size_t from)
{
    const size_t n = b->rows->rows * BATCH;
    const uint64_t draw = b->first + from / BATCH;

    pl_stream_normals(b->seed, PL_FOR_BOOTSTRAP, draw, 0, k->z, n);
    for (size_t i = 0; i < b->rows->rows; i++)
        for (size_t d = 0; d < BATCH; d++)
            k->z[i * BATCH + d] = b->base[i] + b->sigma * k->z[i * BATCH + d];
    memset(k->rest, 0, sizeof k->rest);
    if (b->n == 1 || !b->rest_df) /* one curve is not weighed */
        return;
    pl_stream_chisqs(b->seed, PL_FOR_BOOTSTRAP, draw, (uint32_t)n, (double)b->rest_df, k->rest,
                     BATCH);
    for (size_t d = 0; d < BATCH; d++)
        k->rest[d] *= b->sigma * b->sigma;
}

static double mean_at(const boot *b, const desk *k, double x)
{
    double mean = 0;

    for (size_t i = 0; i < b->n; i++) {
        const pl_curve_work *w = &b->curves[i]->work;

        mean += k->weight[i] *
                (k->best[i].A + k->best[i].D * pl_curve_rise_at(w, k->best[i].s, pl_curve_u(w, x)));
    }
    return mean;
}

/* Lowest x with `wanted`, between a below it and z at or above it. */
static double first_reach(const boot *b, const desk *k, double a, double z, double wanted)
{
    double fa = mean_at(b, k, a) - wanted, fz = mean_at(b, k, z) - wanted;
    const double tol = ONSET_TOL * (z - a);

    for (int i = 0, side = 0; i < 100 && z - a > tol; i++) {
        double t = i % 4 == 3 || fa == fz ? 0.5 * (a + z) : a - (z - a) * fa / (fz - fa), f;

        if (!(t > a && t < z))
            t = 0.5 * (a + z);
        f = mean_at(b, k, t) - wanted;
        if (f >= 0) {
            z = t, fz = f;
            fa *= side == 1 ? 0.5 : 1;
            side = 1;
        } else {
            a = t, fa = f;
            fz *= side == -1 ? 0.5 : 1;
            side = -1;
        }
        if (f == 0)
            break;
    }
    return z;
}

/* Onset of the averaged mean, which need not go one way. */
static double onset_of(const boot *b, const desk *k)
{
    const double low = b->g->places[0], high = b->g->places[b->g->nplace - 1];
    double most = -INFINITY, wanted, before = low;

    for (int i = 0; i <= SCAN; i++)
        most = fmax(most, mean_at(b, k, low + (high - low) * i / SCAN));
    if (!(most > 0))
        return NAN;
    wanted = b->g->share * most;
    if (mean_at(b, k, low) >= wanted)
        return low;
    for (int i = 1; i <= SCAN; i++) {
        double x = low + (high - low) * i / SCAN;

        if (mean_at(b, k, x) >= wanted)
            return first_reach(b, k, before, x, wanted);
        before = x;
    }
    return high;
}

/* Weights of the draw's own fits. */
static void weigh(const boot *b, desk *k, size_t d)
{
    double best = INFINITY, sum = 0;

    for (size_t i = 0; i < b->n; i++) {
        const pl_refits *f = &k->all[i];

        k->best[i] = (pl_curve_best){ .s = f->s[d], .A = f->A[d], .D = f->D[d] };
        k->weight[i] = pl_curve_aicc(fmax(f->ss[d], 0) + k->rest[d], (double)b->rows->n,
                                     (double)(b->curves[i]->nmean + b->rows->q + 1));
        best = fmin(best, k->weight[i]);
    }
    for (size_t i = 0; i < b->n; i++)
        sum += k->weight[i] = exp(-0.5 * (k->weight[i] - best));
    for (size_t i = 0; i < b->n; i++)
        k->weight[i] /= sum;
}

static void run_batch(const boot *b, desk *k, size_t from)
{
    draw_batch(b, k, from);
    for (size_t i = 0; i < b->n; i++)
        pl_refit_batch(b->refits[i], k->z, &k->all[i]);
    if (b->n == 1) {
        pl_refit_onset(b->refits[0], k->all, b->onset + from);
        return;
    }
    for (size_t d = 0; d < BATCH; d++) {
        weigh(b, k, d);
        b->onset[from + d] = onset_of(b, k);
    }
}

/* ---- limits ---- */

/* The k-th smallest from `low` to `high`, which it puts in its place, smaller ones before it (Hoare
 * 1961, Commun. ACM 4:321). */
static double nth(double *v, size_t low, size_t high, size_t k)
{
    while (low < high) {
        const double pivot = v[low + (high - low) / 2];
        size_t i = low, j = high;

        for (;;) { /* v[..i-1] <= pivot <= v[j+1..] */
            while (v[i] < pivot)
                i++;
            while (v[j] > pivot)
                j--;
            if (i >= j)
                break;
            double kept = v[i];

            v[i++] = v[j];
            v[j--] = kept;
        }
        if (k < i)
            high = i - 1;
        else if (k > j)
            low = j + 1;
        else
            break;
    }
    return v[k];
}

/* The value at place `at` of v sorted, from low to high at most; NAN outside. */
static double value_at(double *v, size_t low, size_t high, double at)
{
    double here, next = INFINITY;
    size_t k;

    if (!(at >= (double)low && at <= (double)high))
        return NAN;
    k = (size_t)at;
    here = nth(v, low, high, k);
    for (size_t i = k + 1; i <= high; i++)
        next = v[i] < next ? v[i] : next;
    return k < high ? here + (at - (double)k) * (next - here) : here;
}

/* The 2.5, 50 and 97.5 % points (Hyndman & Fan 1996, Amer. Statist. 50:361, definition 7). Draws
 * without an onset lie below all others for the low point and above them for the high one; a point
 * among those is NAN. */
static void read_off(const boot *b, pl_bootstrap *out)
{
    double *v = b->onset;
    size_t n = 0, middle;

    for (size_t i = 0; i < b->draws; i++)
        if (!isnan(v[i]))
            v[n++] = v[i];
    out->draws = b->draws;
    out->without = b->draws - n;
    out->onset = (pl_bounded){ .low = NAN, .at = NAN, .high = NAN };
    if (n) {
        middle = (n - 1) / 2;
        out->onset.at = value_at(v, 0, n - 1, 0.5 * (double)(n - 1));
        out->onset.low = value_at(v, 0, n > 1 ? middle + 1 : 0,
                                  0.025 * (double)(b->draws - 1) - (double)out->without);
        out->onset.high = value_at(v, middle, n - 1, 0.975 * (double)(b->draws - 1));
    }
    if (out->onset.low <= b->g->places[0]) /* at the lowest level: it may lie below */
        out->onset.low = NAN;
    out->onset.low_open = isnan(out->onset.low);
    out->onset.high_open = isnan(out->onset.high);
}

static const char *why_not(const pl_plateau_group *g)
{
    if (!g->naveraged)
        return "there is no curve to draw from";
    if (g->rows.rows > PL_BOOTSTRAP_ROWS_MOST)
        return pl_arena_printf(g->d->arena, "more than %u different \"%s\"", PL_BOOTSTRAP_ROWS_MOST,
                               g->spec->over);
    for (size_t k = 0; k < g->naveraged; k++)
        if (!g->averaged[k]->monotone || g->averaged[k]->curve->wide ||
            isnan(g->averaged[k]->onset))
            return pl_arena_printf(g->d->arena, "\"%s\" may turn, or has no onset here",
                                   g->averaged[k]->curve->name);
    return NULL;
}

pl_code pl_bootstrap_onset(const pl_plateau_group *g, pl_bootstrap **out)
{
    boot b = { .g = g,
               .rows = &g->rows,
               .seed = g->spec->seed,
               .first = (uint64_t)g->number << 40,
               .draws = g->spec->bootstrap };
    const char *why = why_not(g);
    const int threads = PL_THREADS;
    desk *desks;
    pl_mark mark;
    pl_code rc;

    *out = NULL;
    if (why) {
        pl_remark(g->d, pl_plateau_where(g),
                  .found = pl_arena_printf(g->d->arena, "no bootstrap: %s", why));
        return PL_OK;
    }
    *out = PL_NEW(g->a, pl_bootstrap);
    if (!*out)
        return pl_nomem(g->d);
    (*out)->seed = g->spec->seed;
    mark = pl_arena_mark(g->a);
    rc = make_boot(&b);
    desks = PL_NEWN(g->a, threads, desk);
    for (int i = 0; i < threads && !rc; i++)
        if (!desks || !make_desk(&b, &desks[i]))
            rc = pl_nomem(g->d);
    if (!rc) {
        const size_t batches = (b.draws + BATCH - 1) / BATCH;

#pragma omp parallel for schedule(dynamic)
        for (size_t i = 0; i < batches; i++)
            run_batch(&b, &desks[PL_THREAD], i * BATCH);
        read_off(&b, *out);
    }
    pl_arena_reset(g->a, mark);
    return rc;
}
