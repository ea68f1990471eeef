/* Complete blocks drawn again, many at once. Any other layout is randomise.c's.
 *
 * A block's order is one row of a table of all k! orders. The figure of the test is then the sum
 * of the levels' squared totals, which does not change when all levels are renamed together: the
 * first block can stay as it is. Totals are whole numbers, so equal arrangements are equal. */
#include <math.h>
#include <string.h>

#include "base/clones.h"
#include "base/stream.h"
#include "fit/randomise_inner.h"

#define LANES 8
#define WORDS 256
#define TOTAL_MOST 0x1p24 /* of a level: eight squares stay exact in a double */
#define DECIMALS_MOST 9

typedef int32_t lanes __attribute__((vector_size(LANES * sizeof(int32_t))));
typedef double wide __attribute__((vector_size(LANES * sizeof(double))));
typedef int64_t places __attribute__((vector_size(LANES * sizeof(int64_t))));
typedef uint32_t order; /* place l in bits 4 l to 4 l + 3: all orders of 8 lie in 160 kB */

typedef struct complete {
    size_t k, nblock;
    lanes *y; /* nblock; 0 beyond k */
    order *orders;
    uint32_t norder, refused; /* words below it would favour some orders */
    double made;
    uint64_t seed;
} complete;

/* *t += y in the order `by`. A pointer: what holds a wide vector by value has no fixed way to be
 * passed. */
static inline void add_in_order(lanes *t, const lanes *y, order by)
{
    const lanes at = { 0, 4, 8, 12, 16, 20, 24, 28 };
    lanes from = (((lanes){ 0 } + (int32_t)by) >> at) & (LANES - 1);

#ifdef __clang__
    for (int i = 0; i < LANES; i++)
        (*t)[i] += (*y)[from[i]];
#else
    *t += __builtin_shuffle(*y, from);
#endif
}

/* Whole numbers throughout, so the order of the sum is of no account. */
static inline double squares(const lanes *t)
{
    wide v = __builtin_convertvector(*t, wide);

    v *= v;
#ifndef __clang__
    v += __builtin_shuffle(v, (places){ 4, 5, 6, 7, 0, 1, 2, 3 });
    v += __builtin_shuffle(v, (places){ 2, 3, 0, 1, 6, 7, 4, 5 });
    return v[0] + v[1];
#else
    return ((v[0] + v[1]) + (v[2] + v[3])) + ((v[4] + v[5]) + (v[6] + v[7]));
#endif
}

/* ndraw draws of one stream. A word w gives order w n / 2^32, drawn again where that is not even
 * (Lemire 2019, ACM Trans. Model. Comput. Simul. 29:3). */
PL_CLONES static uint64_t draw_batch(const complete *c, uint64_t batch, size_t ndraw)
{
    const lanes *const y = c->y;
    const order *const orders = c->orders;
    const size_t nblock = c->nblock;
    const uint32_t norder = c->norder, refused = c->refused;
    const double made = c->made;
    uint32_t words[WORDS], next = 0;
    size_t used = WORDS;
    uint64_t far = 0;

    for (size_t i = 0; i < ndraw; i++) {
        lanes t = y[0];

        for (size_t b = 1; b < nblock; b++) {
            uint64_t w;

            do {
                if (used == WORDS) {
                    pl_stream_words(c->seed, PL_FOR_RANDOMISE, batch, next, words, WORDS / 4);
                    next += WORDS / 4;
                    used = 0;
                }
                w = (uint64_t)words[used++] * norder;
            } while ((uint32_t)w < refused);
            add_in_order(&t, &y[b], orders[w >> 32]);
        }
        far += squares(&t) >= made;
    }
    return far;
}

/* All orders of k, each from the one before by lexicographic succession (Knuth, TAOCP 4A,
 * 7.2.1.2, algorithm L); places beyond k stay. */
static void list_orders(complete *c)
{
    uint8_t at[LANES] = { 0, 1, 2, 3, 4, 5, 6, 7 };

    for (uint32_t n = 0; n < c->norder; n++) {
        size_t last = c->k - 1, j = last, l = last;
        uint8_t kept;

        for (uint32_t i = 0; i < LANES; i++)
            c->orders[n] |= (order)at[i] << 4 * i;
        while (j > 0 && at[j - 1] > at[j])
            j--;
        if (!j)
            break;
        while (at[l] < at[j - 1])
            l--;
        kept = at[j - 1];
        at[j - 1] = at[l];
        at[l] = kept;
        for (size_t m = last; j < m; j++, m--) {
            kept = at[j];
            at[j] = at[m];
            at[m] = kept;
        }
    }
}

static bool is_complete(const pl_arranged *x, bool *seen)
{
    if (x->nlevel < 2 || x->nlevel > LANES || x->n != x->nlevel * x->nblock)
        return false;
    for (size_t i = 0; i < x->n; i++) {
        bool *here = &seen[x->block[i] * x->nlevel + x->level[i]];

        if (*here)
            return false;
        *here = true;
    }
    return true;
}

/* Steps of the grid: the readings' own decimals, or as fine as the room allows. */
static double grid(const pl_arranged *x, double ranges)
{
    double scale = 1;

    if (ranges <= 0)
        return 1;
    for (int d = 0; d <= DECIMALS_MOST && ranges * scale + (double)x->nblock <= TOTAL_MOST;
         d++, scale *= 10) {
        size_t i = 0;

        while (i < x->n &&
               fabs(x->y[i] * scale - nearbyint(x->y[i] * scale)) <= 1e-13 * fabs(x->y[i] * scale))
            i++;
        if (i == x->n)
            return scale;
    }
    return (TOTAL_MOST - (double)x->nblock) / ranges;
}

/* Readings less the lowest of their block, as whole steps. */
static void put_on_grid(complete *c, const pl_arranged *x, double *low, double *high)
{
    double ranges = 0, scale;
    lanes t = { 0 };

    for (size_t b = 0; b < x->nblock; b++) {
        low[b] = INFINITY;
        high[b] = -INFINITY;
    }
    for (size_t i = 0; i < x->n; i++) {
        low[x->block[i]] = fmin(low[x->block[i]], x->y[i]);
        high[x->block[i]] = fmax(high[x->block[i]], x->y[i]);
    }
    for (size_t b = 0; b < x->nblock; b++)
        ranges += high[b] - low[b];
    scale = grid(x, ranges);
    for (size_t i = 0; i < x->n; i++)
        c->y[x->block[i]][x->level[i]] = (int32_t)(nearbyint(x->y[i] * scale) -
                                                   nearbyint(low[x->block[i]] * scale));
    for (size_t b = 0; b < x->nblock; b++)
        t += c->y[b];
    c->made = squares(&t);
}

static void draw_all(const complete *c, uint64_t draws, uint64_t *far)
{
    const uint64_t batches = (draws + PL_RANDOMISE_BATCH - 1) / PL_RANDOMISE_BATCH;
    uint64_t sum = 0;

#pragma omp parallel for schedule(dynamic) reduction(+ : sum) if (batches > 8)
    for (uint64_t i = 0; i < batches; i++) {
        uint64_t left = draws - i * PL_RANDOMISE_BATCH;

        sum += draw_batch(c, i, left < PL_RANDOMISE_BATCH ? left : PL_RANDOMISE_BATCH);
    }
    *far = sum;
}

pl_code pl_randomise_complete(pl_arena *a, const pl_arranged *x, uint64_t draws, uint64_t seed,
                              bool *whole, uint64_t *far, pl_diags *d)
{
    complete c = { .k = x->nlevel, .nblock = x->nblock, .norder = 1, .seed = seed };
    bool *seen = pl_arena_get(a, x->nblock, x->nlevel * sizeof *seen);
    double *low = PL_NEWN(a, x->nblock, double), *high = PL_NEWN(a, x->nblock, double);
    char *y;

    *whole = false;
    *far = 0;
    if (!seen || !low || !high)
        return pl_nomem(d);
    if (!is_complete(x, seen))
        return PL_OK;
    for (uint32_t i = 2; i <= c.k; i++)
        c.norder *= i;
    c.refused = (uint32_t)(-c.norder % c.norder);
    y = pl_arena_get(a, x->nblock + 1, sizeof(lanes));
    c.orders = PL_NEWN(a, c.norder, order);
    if (!y || !c.orders)
        return pl_nomem(d);
    c.y = (lanes *)(void *)(y + (sizeof(lanes) - (uintptr_t)y % sizeof(lanes)) % sizeof(lanes));
    list_orders(&c);
    put_on_grid(&c, x, low, high);
    draw_all(&c, draws, far);
    *whole = true;
    return PL_OK;
}
