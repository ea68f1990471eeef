/* Bootstraps of one group's onset: normal scatter, the units' residuals, whole boards of them. Fits
 * of many draws at once are refit.c. */
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
    pl_bootstrap_kind kind;
    /* of residuals */
    const char *block;
    size_t nboard, of_board; /* boards, units of each */
    size_t *unit;            /* units board by board, in the order of x; NULL without boards */
    double *residual;        /* n: over the scatter's root, centred and scaled */
    double *turn;            /* (q + rows) x n: what blocks and searches see of a unit */
    double *onset;           /* draws, to the end of a batch; NAN: none */
} boot;

/* One thread's own room. */
typedef struct desk {
    double *z; /* rows x BATCH */
    double rest[BATCH];
    double *scatter, *seen; /* n; q + rows: of residuals */
    pl_refits *all;         /* a curve each */
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
                 .scatter = PL_NEWN(a, b->rows->n, double),
                 .seen = PL_NEWN(a, b->rows->q + b->rows->rows, double),
                 .all = PL_NEWN(a, b->n, pl_refits),
                 .best = PL_NEWN(a, b->n, pl_curve_best),
                 .weight = PL_NEWN(a, b->n, double) };
    return k->z && k->scatter && k->seen && k->all && k->best && k->weight;
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

/* A unit's scatter from the units, or a board's from a board, for each set. */
static void draw_scatter(const boot *b, double *scatter, pl_stream *s)
{
    for (size_t i = 0; i < b->rows->n && !b->unit; i++)
        scatter[i] = b->residual[pl_stream_below(s, (uint32_t)b->rows->n)];
    for (size_t k = 0; k < b->nboard && b->unit; k++) {
        size_t from = pl_stream_below(s, (uint32_t)b->nboard);

        for (size_t i = 0; i < b->of_board; i++)
            scatter[b->unit[k * b->of_board + i]] = b->residual[b->unit[from * b->of_board + i]];
    }
}

static void draw_residuals(const boot *b, desk *k, size_t from)
{
    const size_t n = b->rows->n, q = b->rows->q, rows = b->rows->rows;

    for (size_t d = 0; d < BATCH; d++) {
        pl_stream s;
        double rest = 0;

        pl_stream_init(&s, b->seed, PL_FOR_BOOTSTRAP, b->first + from + d);
        draw_scatter(b, k->scatter, &s);
        memset(k->seen, 0, (q + rows) * sizeof *k->seen);
        for (size_t i = 0; i < n; i++) {
            const double *turn = b->turn + i * (q + rows), e = k->scatter[i];

            rest += e * e;
            for (size_t j = 0; j < q + rows; j++)
                k->seen[j] += e * turn[j];
        }
        for (size_t j = 0; j < q + rows; j++)
            rest -= k->seen[j] * k->seen[j];
        for (size_t j = 0; j < rows; j++)
            k->z[j * BATCH + d] = b->base[j] + k->seen[q + j];
        k->rest[d] = fmax(rest, 0);
    }
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
    if (b->kind == PL_BOOTSTRAP_NORMAL)
        draw_batch(b, k, from);
    else
        draw_residuals(b, k, from);
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

/* ---- residuals ---- */

const char *pl_bootstrap_kind_name(pl_bootstrap_kind k)
{
    static const char *const names[] = { "normal", "residuals", "boards" };

    return names[k];
}

/* What the averaged curve and the blocks leave of each unit, and how it is seen. */
static pl_code take_residuals(boot *b)
{
    const pl_plateau_group *g = b->g;
    const pl_curve_rows *r = b->rows;
    long double *left = PL_NEWN(g->a, r->n, long double), *part = PL_NEWN(g->a, r->n, long double);
    double *z = PL_NEWN(g->a, r->rows, double), df = 0, mean = 0, scale;

    b->residual = PL_NEWN(g->a, r->n, double);
    b->turn = pl_arena_get(g->a, r->n, (r->q + r->rows) * sizeof *b->turn);
    if (!left || !part || !z || !b->residual || !b->turn)
        return pl_nomem(g->d);
    for (size_t i = 0; i < r->n; i++)
        left[i] = part[i] = (long double)r->y[i] - averaged_mean(b, r->x[i]);
    pl_curve_rows_block_part(r, part);
    for (size_t k = 0; k < b->n; k++)
        df += b->curves[k]->weight * b->curves[k]->df;
    for (size_t i = 0; i < r->n; i++) {
        b->residual[i] = (double)(left[i] - part[i]);
        if (r->scatter)
            b->residual[i] /= (double)r->scatter->sd[i];
        mean += b->residual[i] / (double)r->n;
    }
    scale = sqrt((double)r->n / df);
    for (size_t i = 0; i < r->n; i++)
        b->residual[i] = scale * (b->residual[i] - mean);
    for (size_t i = 0; i < r->n; i++) {
        double *turn = b->turn + i * (r->q + r->rows);

        memset(part, 0, r->n * sizeof *part);
        part[i] = 1;
        pl_curve_rows_turn(r, part, z);
        for (size_t j = 0; j < r->q; j++)
            turn[j] = (double)part[j];
        memcpy(turn + r->q, z, r->rows * sizeof *z);
    }
    return PL_OK;
}

typedef struct placed { /* a unit on its board */
    int board;
    double x;
    size_t unit;
} placed;

static int by_place(const void *left, const void *right)
{
    const placed *a = left, *b = right;

    if (a->board != b->board)
        return a->board < b->board ? -1 : 1;
    if (a->x != b->x)
        return a->x < b->x ? -1 : 1;
    return (a->unit > b->unit) - (a->unit < b->unit);
}

/* Boards of block f that hold the same x, units in that order; fewer than 2: none such. */
static size_t alike(const boot *b, size_t f, placed *all)
{
    const pl_plateau_data *data = &b->g->data;
    const size_t n = b->rows->n;
    size_t each = 0, boards = 0;

    for (size_t i = 0; i < n; i++)
        all[i] = (placed){ -1, b->rows->x[i], i };
    for (size_t row = 0; row < data->nrow; row++)
        for (size_t i = 0; i < n; i++)
            if (data->unit_of[row] == b->g->known[i]) {
                if (all[i].board >= 0 && all[i].board != data->block_code[f][row])
                    return 0; /* a glue-up of two boards */
                all[i].board = data->block_code[f][row];
            }
    qsort(all, n, sizeof *all, by_place);
    while (each < n && all[each].board == all[0].board)
        each++;
    for (size_t i = 0; i < n; i++) {
        if (n % each || all[i].x != all[i % each].x || all[i].board != all[i - i % each].board)
            return 0;
        boards += i % each == 0 && (!i || all[i].board != all[i - 1].board);
    }
    return boards * each == n ? boards : 0;
}

/* The first block with boards enough; false: none, or no memory (*rc). */
static bool find_boards(boot *b, pl_code *rc)
{
    const pl_plateau_group *g = b->g;
    const size_t n = b->rows->n;
    placed *all = PL_NEWN(g->a, n, placed);

    b->unit = PL_NEWN(g->a, n, size_t);
    *rc = all && b->unit ? PL_OK : pl_nomem(g->d);
    for (size_t f = 0; f < g->data.nblock && !*rc; f++) {
        b->nboard = alike(b, f, all);
        if (b->nboard < PL_BOOTSTRAP_BOARDS_LEAST)
            continue;
        b->of_board = n / b->nboard;
        b->block = g->spec->blocks[f];
        for (size_t i = 0; i < n; i++)
            b->unit[i] = all[i].unit;
        return true;
    }
    b->unit = NULL;
    return false;
}

/* ---- all kinds ---- */

static pl_code run(boot *b, desk *desks, pl_bootstrap_kind kind, pl_bootstrap *out)
{
    const size_t batches = (b->draws + BATCH - 1) / BATCH;

    b->kind = kind;
    b->first = (uint64_t)b->g->number << 40 | (uint64_t)kind << 36;
#pragma omp parallel for schedule(dynamic)
    for (size_t i = 0; i < batches; i++)
        run_batch(b, &desks[PL_THREAD], i * BATCH);
    *out = (pl_bootstrap){ .kind = kind,
                           .block = kind == PL_BOOTSTRAP_BOARDS ? b->block : NULL,
                           .seed = b->seed };
    read_off(b, out);
    return PL_OK;
}

pl_code pl_bootstrap_onset(const pl_plateau_group *g, pl_bootstrap **out, size_t *nout)
{
    boot b = { .g = g, .rows = &g->rows, .seed = g->spec->seed, .draws = g->spec->bootstrap };
    const char *why = why_not(g);
    const int threads = PL_THREADS;
    desk *desks;
    pl_mark mark;
    pl_code rc;

    *out = NULL;
    *nout = 0;
    if (why) {
        pl_remark(g->d, pl_plateau_where(g),
                  .found = pl_arena_printf(g->d->arena, "no bootstrap: %s", why));
        return PL_OK;
    }
    *out = PL_NEWN(g->a, PL_BOOTSTRAP_BOARDS + 1, pl_bootstrap);
    if (!*out)
        return pl_nomem(g->d);
    mark = pl_arena_mark(g->a);
    rc = make_boot(&b);
    desks = PL_NEWN(g->a, threads, desk);
    for (int i = 0; i < threads && !rc; i++)
        if (!desks || !make_desk(&b, &desks[i]))
            rc = pl_nomem(g->d);
    if (!rc)
        rc = run(&b, desks, PL_BOOTSTRAP_NORMAL, *out + (*nout)++);
    if (!rc && g->spec->residuals) {
        rc = take_residuals(&b);
        if (!rc)
            rc = run(&b, desks, PL_BOOTSTRAP_RESIDUALS, *out + (*nout)++);
        if (!rc && find_boards(&b, &rc))
            rc = run(&b, desks, PL_BOOTSTRAP_BOARDS, *out + (*nout)++);
    }
    pl_arena_reset(g->a, mark);
    return rc;
}
