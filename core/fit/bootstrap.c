/* Parametric bootstrap of one group's onset. Fits of single shape numbers are curve_work.c. */
#include "fit/bootstrap.h"

#include <float.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/clones.h"
#include "base/stream.h"
#include "base/threads.h"

#define BATCH 64 /* draws at once: a block of work, whatever the number of threads */
/* Shape numbers tabled: so many to a step of the curve's own grid, every COARSE-th looked at first.
 * A parabola through the best three leaves about 1e-6 of a step. */
#define FINE 16
#define COARSE 8
/* Onsets are good to this share of the range. */
#define ONSET_TOL 1e-9
#define SCAN 64
/* From so many degrees of freedom on the rest is drawn by its cube root (Wilson & Hilferty 1931,
 * Proc. Natl. Acad. Sci. 17:684), there exact to 1e-4. */
#define REST_NORMAL 200
#define WEIGHT_LEAST 1e-9

typedef struct table {
    pl_curve_model *m;
    size_t n;
    double *z; /* n: search coordinate */
    double *e; /* n x rows: the rise off the constant, of length 1 (or 0) */
} table;

typedef struct boot {
    const pl_plateau_group *g;
    const pl_curve_rows *rows;
    table *tables;
    size_t n;
    double *base; /* rows: what the averaged curve maps to */
    double sigma;
    size_t rest_df;
    uint64_t seed, first;
    size_t draws;
    double *onset; /* draws; NAN: none */
} boot;

/* One thread's own room. */
typedef struct desk {
    pl_curve_work *work; /* a curve each */
    pl_curve_best *best;
    pl_curve_rows *rows;
    double *z;  /* BATCH x rows */
    double *zt; /* rows x BATCH, less its constant, for one curve */
    double *weight;
    double top[BATCH], rest[BATCH];
    int at[BATCH];
    pl_curve_best *all; /* curves x BATCH */
    double *ss;         /* curves x BATCH */
} desk;

/* ---- tables ---- */

static pl_code make_table(const pl_plateau_group *g, pl_curve_model *m, table *t)
{
    pl_curve_work *w = &m->work;
    const size_t rows = m->rows->rows, steps = w->ngrid ? w->ngrid - 1 : 0;
    const double origin = pl_curve_origin(m->curve, w->span.low);

    t->m = m;
    t->n = m->curve->nshape ? steps * FINE + 1 : 1;
    t->z = PL_NEWN(g->a, t->n, double);
    t->e = PL_NEWN(g->a, t->n * rows, double);
    if (!t->z || !t->e)
        return pl_nomem(g->d);
    for (size_t j = 0; j < t->n; j++) {
        size_t k = j / FINE;
        double f = (double)(j % FINE) / FINE, *e = t->e + j * rows;
        pl_curve_point p;

        if (m->curve->nshape)
            t->z[j] = f > 0 ? w->grid[k] + f * (w->grid[k + 1] - w->grid[k]) : w->grid[k];
        pl_curve_try(w, m->curve->nshape ? origin + exp(t->z[j]) : NAN, &p);
        for (size_t i = 0; i < rows && p.r22 > 0; i++)
            e[i] = w->th[i] / p.r22;
    }
    return PL_OK;
}

static double averaged_mean(const boot *b, double x)
{
    double mean = 0;

    for (size_t k = 0; k < b->n; k++)
        mean += b->tables[k].m->weight * pl_curve_model_mean(b->tables[k].m, x, NULL);
    return mean;
}

static pl_code make_boot(boot *b)
{
    const pl_plateau_group *g = b->g;
    double *c = PL_NEWN(g->a, b->rows->m, double), variance = 0;
    pl_code rc = PL_OK;

    b->tables = PL_NEWN(g->a, g->naveraged, table);
    b->base = PL_NEWN(g->a, b->rows->rows, double);
    b->onset = PL_NEWN(g->a, b->draws + BATCH, double);
    if (!c || !b->tables || !b->base || !b->onset)
        return pl_nomem(g->d);
    for (size_t k = 0; k < g->naveraged && !rc; k++)
        if (g->averaged[k]->weight >= WEIGHT_LEAST)
            rc = make_table(g, g->averaged[k], &b->tables[b->n++]);
    if (rc)
        return rc;
    for (size_t k = 0; k < b->n; k++)
        variance += b->tables[k].m->weight * b->tables[k].m->s2;
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
    const size_t rows = b->rows->rows, m = b->rows->m;

    *k = (desk){ .work = PL_NEWN(a, b->n, pl_curve_work),
                 .rows = PL_NEWN(a, 1, pl_curve_rows),
                 .z = PL_NEWN(a, BATCH * rows, double),
                 .zt = PL_NEWN(a, BATCH * rows, double),
                 .best = PL_NEWN(a, b->n, pl_curve_best),
                 .weight = PL_NEWN(a, b->n, double),
                 .all = PL_NEWN(a, b->n * BATCH, pl_curve_best),
                 .ss = PL_NEWN(a, b->n * BATCH, double) };
    if (!k->work || !k->rows || !k->z || !k->zt || !k->best || !k->weight || !k->all || !k->ss)
        return false;
    *k->rows = *b->rows;
    k->rows->scratch = PL_NEWN(a, b->rows->n, double);
    if (!k->rows->scratch)
        return false;
    for (size_t i = 0; i < b->n; i++) {
        pl_curve_work *w = &k->work[i];

        *w = b->tables[i].m->work;
        w->rows = k->rows;
        w->zc = PL_NEWN(a, rows, double);
        w->h = PL_NEWN(a, m, double);
        w->th = PL_NEWN(a, rows, double);
        if (!w->zc || !w->h || !w->th)
            return false;
    }
    return true;
}

/* ---- a batch of draws ---- */

/* Both of a Box-Muller pair. */
static void normals(pl_stream *s, double *out, size_t n)
{
    for (size_t i = 0; i < n; i += 2) {
        double r = sqrt(-2 * log(pl_stream_unit(s))), a = 2 * M_PI * pl_stream_unit(s);

        out[i] = r * cos(a);
        if (i + 1 < n)
            out[i + 1] = r * sin(a);
    }
}

static double chi_square(pl_stream *s, size_t df)
{
    double z[REST_NORMAL], sum = 0;

    if (df >= REST_NORMAL) {
        double v = 2 / (9 * (double)df), c;

        normals(s, z, 1);
        c = 1 - v + z[0] * sqrt(v);
        return (double)df * c * c * c;
    }
    normals(s, z, df);
    for (size_t i = 0; i < df; i++)
        sum += z[i] * z[i];
    return sum;
}

static void draw_batch(const boot *b, desk *k, size_t from)
{
    const size_t rows = b->rows->rows;

    for (size_t d = 0; d < BATCH; d++) {
        double *z = k->z + d * rows;
        pl_stream s;

        pl_stream_init(&s, b->seed, PL_FOR_BOOTSTRAP, b->first + from + d);
        normals(&s, z, rows);
        for (size_t i = 0; i < rows; i++)
            z[i] = b->base[i] + b->sigma * z[i];
        k->rest[d] = b->n > 1 && b->rest_df ? b->sigma * b->sigma * chi_square(&s, b->rest_df) : 0;
    }
}

/* The batch less the constant, draws side by side. */
static void turn_batch(const boot *b, const pl_curve_work *w, desk *k)
{
    const size_t rows = b->rows->rows;

    for (size_t d = 0; d < BATCH; d++) {
        const double *z = k->z + d * rows;
        double along = 0;

        for (size_t i = 0; i < rows && !w->floor_fixed; i++)
            along += w->q1[i] * z[i];
        for (size_t i = 0; i < rows; i++)
            k->zt[i * BATCH + d] = z[i] -
                                   (w->floor_fixed ? w->floor * b->rows->one[i] : along * w->q1[i]);
    }
}

/* The most explained at every COARSE-th shape number: the hot loop. */
PL_CLONES static void look(const double *e, size_t n, size_t rows, const double *zt, double *top,
                           int *at)
{
    for (size_t d = 0; d < BATCH; d++) {
        top[d] = -1;
        at[d] = 0;
    }
    for (size_t j = 0; j < n; j += COARSE) {
        double q[BATCH] = { 0 };

        for (size_t i = 0; i < rows; i++) {
            const double c = e[j * rows + i], *z = zt + i * BATCH;

            for (size_t d = 0; d < BATCH; d++)
                q[d] += c * z[d];
        }
        for (size_t d = 0; d < BATCH; d++) {
            double more = q[d] * q[d];
            bool better = more > top[d];

            top[d] = better ? more : top[d];
            at[d] = better ? (int)j : at[d];
        }
    }
}

static double explained(const table *t, size_t rows, size_t j, const double *zc)
{
    const double *e = t->e + j * rows;
    double q = 0;

    for (size_t i = 0; i < rows; i++)
        q += e[i] * zc[i];
    return q * q;
}

/* The best shape number about the place that was looked at: the fine ones, then a parabola. */
static double settle_shape(const table *t, size_t rows, size_t at, const double *zc)
{
    const size_t low = at > COARSE ? at - COARSE : 0;
    const size_t high = at + COARSE < t->n ? at + COARSE : t->n - 1;
    double best = -1, before, after, d;
    size_t j = at;

    for (size_t i = low; i <= high; i++) {
        double q = explained(t, rows, i, zc);

        if (q > best) {
            best = q;
            j = i;
        }
    }
    if (j == 0 || j + 1 == t->n)
        return t->z[j];
    before = best - explained(t, rows, j - 1, zc);
    after = best - explained(t, rows, j + 1, zc);
    if (!(before + after > 0))
        return t->z[j];
    d = 0.5 * (before - after) / (before + after);
    return t->z[j] + d * (d > 0 ? t->z[j + 1] - t->z[j] : t->z[j] - t->z[j - 1]);
}

/* One curve to one draw. */
static void refit(const table *t, pl_curve_work *w, const double *z, double rest, size_t rows,
                  size_t at, pl_curve_best *out, double *ss)
{
    pl_curve_point p;
    double s = NAN;

    w->qz1 = 0;
    for (size_t i = 0; i < rows && !w->floor_fixed; i++)
        w->qz1 += w->q1[i] * z[i];
    for (size_t i = 0; i < rows; i++)
        w->zc[i] = z[i] - (w->floor_fixed ? w->floor * w->rows->one[i] : w->qz1 * w->q1[i]);
    if (t->m->curve->nshape)
        s = pl_curve_origin(t->m->curve, w->span.low) + exp(settle_shape(t, rows, at, w->zc));
    pl_curve_try(w, s, &p);
    out->s = s;
    out->D = p.r22 > 0 ? p.q2 / p.r22 : 0;
    out->A = w->floor_fixed ? w->floor : (w->qz1 - p.r12 * out->D) / w->r11;
    *ss = p.ss - w->rows->rest + rest;
}

static double mean_at(const boot *b, const desk *k, double x)
{
    double mean = 0;

    for (size_t i = 0; i < b->n; i++) {
        const pl_curve_work *w = &k->work[i];

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

/* Onset of the averaged mean; one curve goes one way, an average may not. */
static double onset_of(const boot *b, const desk *k)
{
    const double low = b->g->places[0], high = b->g->places[b->g->nplace - 1];
    const int steps = b->n > 1 ? SCAN : 1;
    double most = -INFINITY, wanted, before = low;

    for (int i = 0; i <= steps; i++)
        most = fmax(most, mean_at(b, k, low + (high - low) * i / steps));
    if (!(most > 0))
        return NAN;
    wanted = b->g->share * most;
    if (mean_at(b, k, low) >= wanted)
        return low;
    for (int i = 1; i <= steps; i++) {
        double x = low + (high - low) * i / steps;

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
        const pl_curve_model *m = b->tables[i].m;

        k->best[i] = k->all[i * BATCH + d];
        k->weight[i] = b->n == 1 ? 0
                                 : pl_curve_aicc(k->ss[i * BATCH + d], (double)b->rows->n,
                                                 (double)(m->nmean + b->rows->q + 1));
        best = fmin(best, k->weight[i]);
    }
    for (size_t i = 0; i < b->n; i++)
        sum += k->weight[i] = exp(-0.5 * (k->weight[i] - best));
    for (size_t i = 0; i < b->n; i++)
        k->weight[i] /= sum;
}

static void run_batch(const boot *b, desk *k, size_t from)
{
    const size_t rows = b->rows->rows;

    draw_batch(b, k, from);
    for (size_t i = 0; i < b->n; i++) {
        turn_batch(b, &k->work[i], k);
        look(b->tables[i].e, b->tables[i].n, rows, k->zt, k->top, k->at);
        for (size_t d = 0; d < BATCH; d++)
            refit(&b->tables[i], &k->work[i], k->z + d * rows, k->rest[d], rows, (size_t)k->at[d],
                  &k->all[i * BATCH + d], &k->ss[i * BATCH + d]);
    }
    for (size_t d = 0; d < BATCH; d++) {
        weigh(b, k, d);
        b->onset[from + d] = onset_of(b, k);
    }
}

/* ---- limits ---- */

static int rising(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;

    return (x > y) - (x < y);
}

/* The p point of `draws` values, n of them sorted in v, the rest without an onset: below all of
 * these (before) or above; NAN: among those. Hyndman & Fan 1996, Amer. Statist. 50:361,
 * definition 7. */
static double point(const double *v, size_t n, size_t draws, bool before, double p)
{
    double at = p * (double)(draws - 1) - (before ? (double)(draws - n) : 0);
    size_t k;

    if (at < 0 || !n || at > (double)(n - 1))
        return NAN;
    k = (size_t)at;
    return k + 1 < n ? v[k] + (at - (double)k) * (v[k + 1] - v[k]) : v[k];
}

static void read_off(const boot *b, pl_bootstrap *out)
{
    size_t n = 0;

    for (size_t i = 0; i < b->draws; i++)
        if (!isnan(b->onset[i]))
            b->onset[n++] = b->onset[i];
    qsort(b->onset, n, sizeof *b->onset, rising);
    out->draws = b->draws;
    out->without = b->draws - n;
    out->onset.low = point(b->onset, n, b->draws, true, 0.025);
    out->onset.high = point(b->onset, n, b->draws, false, 0.975);
    out->onset.at = point(b->onset, n, n, false, 0.5);
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
        return pl_arena_printf(g->d->arena, "more than %d different \"%s\"", PL_BOOTSTRAP_ROWS_MOST,
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
