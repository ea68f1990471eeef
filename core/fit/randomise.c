/* The randomisation test of one factor within blocks. Complete blocks have a fast way of their
 * own (randomise_complete.c); a table is read in randomise_table.c. */
#include "fit/randomise.h"

#include <math.h>
#include <string.h>

#include "base/stream.h"
#include "base/threads.h"
#include "fit/randomise_inner.h"

#define TIE 1e-10   /* sums of squares that differ by less than this share are equal */
#define UNTOLD 1e-9 /* a pivot below this share of its level's count: not to be told apart */

typedef struct desk { /* of one thread */
    uint32_t *level;
    double *total;
} desk;

typedef struct drawing {
    size_t n, k, nblock, rank;
    const size_t *start; /* nblock + 1: units of a block stand together */
    const double *y;     /* n */
    const uint32_t *level;
    double *roots; /* rank x k: Q' C^- Q is the sum of the squares of roots Q */
    double made, far_from;
    uint64_t draws, seed;
} drawing;

/* Units in the order of their blocks. */
static pl_code line_up(pl_arena *a, const pl_arranged *x, drawing *w, pl_diags *d)
{
    size_t *start = PL_NEWN(a, x->nblock + 2, size_t);
    double *y = PL_NEWN(a, x->n, double);
    uint32_t *level = PL_NEWN(a, x->n, uint32_t);

    if (!start || !y || !level)
        return pl_nomem(d);
    for (size_t i = 0; i < x->n; i++)
        start[x->block[i] + 2]++;
    for (size_t b = 2; b < x->nblock + 2; b++)
        start[b] += start[b - 1];
    for (size_t i = 0; i < x->n; i++) {
        size_t at = start[x->block[i] + 1]++;

        y[at] = x->y[i];
        level[at] = (uint32_t)x->level[i];
    }
    w->start = start;
    w->y = y;
    w->level = level;
    return PL_OK;
}

/* C = R - N K^-1 N' into c (k x k), readings less their block's mean: then what the blocks'
 * means give is 0 but for rounding, and Q are plain totals. */
static void count_levels(const drawing *w, double *y, double *c, double *here)
{
    for (size_t b = 0; b < w->nblock; b++) {
        size_t from = w->start[b], to = w->start[b + 1];
        double size = (double)(to - from), mean = 0;

        if (from == to)
            continue;
        memset(here, 0, w->k * sizeof *here);
        for (size_t i = from; i < to; i++) {
            here[w->level[i]]++;
            mean += y[i] / size;
        }
        for (size_t i = from; i < to; i++)
            y[i] -= mean;
        for (size_t i = 0; i < w->k; i++) {
            c[i * w->k + i] += here[i];
            for (size_t j = 0; j < w->k; j++)
                c[i * w->k + j] -= here[i] * here[j] / size;
        }
    }
}

/* A reflexive inverse by elimination that passes over levels which the others already give. */
static void invert(drawing *w, double *c, double *kept, const double *count)
{
    size_t k = w->k;

    for (size_t i = 0; i < k; i++)
        kept[i * k + i] = 1;
    for (size_t j = 0; j < k; j++) {
        double pivot = c[j * k + j];

        if (pivot <= UNTOLD * count[j])
            continue;
        for (size_t l = 0; l < k; l++)
            w->roots[w->rank * k + l] = kept[j * k + l] / sqrt(pivot);
        w->rank++;
        for (size_t i = j + 1; i < k; i++) {
            double f = c[i * k + j] / pivot;

            for (size_t l = 0; l < k; l++) {
                c[i * k + l] -= f * c[j * k + l];
                kept[i * k + l] -= f * kept[j * k + l];
            }
        }
    }
}

static double between(const drawing *w, const double *total)
{
    double ss = 0;

    for (size_t r = 0; r < w->rank; r++) {
        double z = 0;

        for (size_t l = 0; l < w->k; l++)
            z += w->roots[r * w->k + l] * total[l];
        ss += z * z;
    }
    return ss;
}

static pl_code prepare(pl_arena *a, const pl_arranged *x, drawing *w, pl_diags *d)
{
    size_t k = x->nlevel;
    double *c = pl_arena_get(a, k, k * sizeof *c), *kept = pl_arena_get(a, k, k * sizeof *kept);
    double *here = PL_NEWN(a, k, double), *count = PL_NEWN(a, k, double);
    double *total = PL_NEWN(a, k, double), *y = PL_NEWN(a, x->n, double);
    pl_code rc;

    *w = (drawing){ .n = x->n, .k = k, .nblock = x->nblock };
    w->roots = pl_arena_get(a, k, k * sizeof *w->roots);
    rc = line_up(a, x, w, d);
    if (rc || !w->y || !w->level || !c || !kept || !here || !count || !total || !y || !w->roots)
        return rc ? rc : pl_nomem(d);
    memcpy(y, w->y, x->n * sizeof *y);
    w->y = y;
    count_levels(w, y, c, here);
    for (size_t i = 0; i < x->n; i++) {
        count[w->level[i]]++;
        total[w->level[i]] += y[i];
    }
    invert(w, c, kept, count);
    w->made = between(w, total);
    w->far_from = w->made * (1 - TIE);
    return PL_OK;
}

/* -------------------------------------------------------------- all of them -- */

/* How many there are; INFINITY from `most` on. */
static double arrangements(const drawing *w, uint64_t most, double *here)
{
    double n = 1;

    for (size_t b = 0; b < w->nblock; b++) {
        memset(here, 0, w->k * sizeof *here);
        for (size_t i = w->start[b]; i < w->start[b + 1]; i++) {
            here[w->level[i]]++;
            n = n * (double)(i - w->start[b] + 1) / here[w->level[i]];
        }
        if (n > 2 * (double)most + 1)
            return INFINITY;
    }
    n = nearbyint(n);
    return n > (double)most ? INFINITY : n;
}

/* The next arrangement of the levels, or the first again and false (Knuth, TAOCP 4A, 7.2.1.2,
 * algorithm L). */
static bool succeed(uint32_t *at, size_t n)
{
    size_t j = n ? n - 1 : 0, l = j;
    bool more;

    while (j > 0 && at[j - 1] >= at[j])
        j--;
    more = j > 0;
    if (more) {
        uint32_t kept = at[j - 1];

        while (at[l] <= kept)
            l--;
        at[j - 1] = at[l];
        at[l] = kept;
    }
    for (size_t m = n ? n - 1 : 0; j < m; j++, m--) {
        uint32_t kept = at[j];

        at[j] = at[m];
        at[m] = kept;
    }
    return more;
}

static void add_block(const drawing *w, const uint32_t *level, size_t b, double *total)
{
    for (size_t i = w->start[b]; i < w->start[b + 1]; i++)
        total[level[i]] += w->y[i];
}

/* total: (nblock + 1) x k, of the blocks before each. Blocks turn like the wheels of a counter. */
static uint64_t count_all(const drawing *w, uint32_t *level, double *total)
{
    uint64_t far = 0;
    size_t b = 0;

    for (;;) {
        for (; b < w->nblock; b++) {
            memcpy(total + (b + 1) * w->k, total + b * w->k, w->k * sizeof *total);
            add_block(w, level, b, total + (b + 1) * w->k);
        }
        far += between(w, total + w->nblock * w->k) >= w->far_from;
        do {
            if (!b)
                return far;
            b--;
        } while (!succeed(level + w->start[b], w->start[b + 1] - w->start[b]));
    }
}

static pl_code list_all(pl_arena *a, const drawing *w, uint64_t *far, pl_diags *d)
{
    uint32_t *level = PL_NEWN(a, w->n, uint32_t);
    double *total = pl_arena_get(a, w->nblock + 1, w->k * sizeof *total);

    if (!level || !total)
        return pl_nomem(d);
    memcpy(level, w->level, w->n * sizeof *level);
    for (size_t b = 0; b < w->nblock; b++) /* the first of each: in rising order */
        for (size_t i = w->start[b] + 1; i < w->start[b + 1]; i++)
            for (size_t j = i; j > w->start[b] && level[j - 1] > level[j]; j--) {
                uint32_t kept = level[j];

                level[j] = level[j - 1];
                level[j - 1] = kept;
            }
    *far = count_all(w, level, total);
    return PL_OK;
}

/* -------------------------------------------------------------------- drawn -- */

static uint64_t draw_batch(const drawing *w, const desk *on, uint64_t batch, uint64_t ndraw)
{
    pl_stream s;
    uint64_t far = 0;

    pl_stream_init(&s, w->seed, PL_FOR_RANDOMISE, batch);
    memcpy(on->level, w->level, w->n * sizeof *on->level);
    for (uint64_t i = 0; i < ndraw; i++) {
        memset(on->total, 0, w->k * sizeof *on->total);
        for (size_t b = 0; b < w->nblock; b++) {
            pl_stream_shuffle(&s, on->level + w->start[b], w->start[b + 1] - w->start[b]);
            add_block(w, on->level, b, on->total);
        }
        far += between(w, on->total) >= w->far_from;
    }
    return far;
}

static pl_code draw_some(pl_arena *a, const drawing *w, uint64_t *far, pl_diags *d)
{
    const uint64_t batches = (w->draws + PL_RANDOMISE_BATCH - 1) / PL_RANDOMISE_BATCH;
    const int threads = PL_THREADS;
    desk *desks = PL_NEWN(a, (size_t)threads, desk);
    uint64_t sum = 0;

    for (int i = 0; desks && i < threads; i++) {
        desks[i] = (desk){ PL_NEWN(a, w->n, uint32_t), PL_NEWN(a, w->k, double) };
        if (!desks[i].level || !desks[i].total)
            return pl_nomem(d);
    }
    if (!desks)
        return pl_nomem(d);
#pragma omp parallel for schedule(dynamic) reduction(+ : sum) num_threads(threads)
    for (uint64_t i = 0; i < batches; i++) {
        uint64_t left = w->draws - i * PL_RANDOMISE_BATCH;

        sum += draw_batch(w, &desks[PL_THREAD], i,
                          left < PL_RANDOMISE_BATCH ? left : PL_RANDOMISE_BATCH);
    }
    *far = sum;
    return PL_OK;
}

pl_code pl_randomise(pl_arena *a, const pl_arranged *x, uint64_t draws, uint64_t seed,
                     pl_drawn_again *out, pl_diags *d)
{
    drawing w = { 0 };
    bool complete = false;
    double n, *here = PL_NEWN(a, x->nlevel, double);
    pl_code rc = here ? prepare(a, x, &w, d) : pl_nomem(d);

    *out = (pl_drawn_again){ .seed = seed };
    if (rc)
        return rc;
    if (!w.rank)
        return pl_fail(d, PL_EDATA, "", .found = "no block holds two levels",
                       .expected = "levels that could change places within a block");
    w.draws = draws;
    w.seed = seed;
    n = arrangements(&w, PL_RANDOMISE_LISTED_MOST, here);
    out->units = x->n;
    out->blocks = x->nblock;
    out->ss = w.made;
    out->all = isfinite(n);
    out->draws = out->all ? (uint64_t)n : draws;
    if (out->all)
        rc = list_all(a, &w, &out->as_far, d);
    else
        rc = pl_randomise_complete(a, x, draws, seed, &complete, &out->as_far, d);
    if (!rc && !out->all && !complete)
        rc = draw_some(a, &w, &out->as_far, d);
    out->p = out->all ? (double)out->as_far / n : (1 + (double)out->as_far) / (1 + (double)draws);
    out->mc_se = out->all ? 0 : sqrt(out->p * (1 - out->p) / (1 + (double)draws));
    out->p_least = out->all ? NAN : 1 / (1 + (double)draws);
    return rc;
}
