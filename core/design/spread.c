/* The search that keeps contrasts free of blocks. */
#include "design/spread.h"

#include <stdbool.h>
#include <string.h>

#include "base/stream.h"

#define IMPROVEMENT 1e-9 /* sums are whole, weights simple fractions: true gains are larger */

typedef struct search {
    const pl_spread *s;
    uint32_t *row;
    double *sum; /* nblock x nx */
    size_t work, most;
} search;

static const double *x_of(const search *w, size_t unit)
{
    return w->s->x + w->row[unit] * w->s->nx;
}

static double open_sums(search *w)
{
    const pl_spread *s = w->s;
    double total = 0;

    memset(w->sum, 0, s->nblock * s->nx * sizeof *w->sum);
    for (size_t u = 0; u < s->nunit; u++)
        for (size_t j = 0; j < s->nx; j++)
            w->sum[s->block[u] * s->nx + j] += x_of(w, u)[j];
    for (size_t b = 0; b < s->nblock; b++)
        for (size_t j = 0; j < s->nx; j++)
            total += s->weight[b] * s->x_weight[j] * w->sum[b * s->nx + j] * w->sum[b * s->nx + j];
    return total;
}

static double growth(const search *w, size_t u, size_t v)
{
    const pl_spread *s = w->s;
    const double *p = x_of(w, u), *q = x_of(w, v);
    const double *a = w->sum + s->block[u] * s->nx, *b = w->sum + s->block[v] * s->nx;
    double wa = s->weight[s->block[u]], wb = s->weight[s->block[v]], total = 0;

    for (size_t j = 0; j < s->nx; j++) {
        double d = q[j] - p[j];

        if (d != 0)
            total += s->x_weight[j] * (wa * d * (2 * a[j] + d) - wb * d * (2 * b[j] - d));
    }
    return total;
}

static void exchange(search *w, size_t u, size_t v)
{
    const pl_spread *s = w->s;
    uint32_t kept = w->row[u];

    for (size_t j = 0; j < s->nx; j++) {
        double d = x_of(w, v)[j] - x_of(w, u)[j];

        w->sum[s->block[u] * s->nx + j] += d;
        w->sum[s->block[v] * s->nx + j] -= d;
    }
    w->row[u] = w->row[v];
    w->row[v] = kept;
}

static bool may(const search *w, size_t u, size_t v)
{
    const pl_spread *s = w->s;

    return s->block[u] != s->block[v] && w->row[u] != w->row[v] &&
           (!s->pen || s->pen[u] == s->pen[v]) &&
           (!s->kind || s->kind[w->row[u]] == s->kind[w->row[v]]);
}

static void descend(search *w)
{
    bool moved = true;

    while (moved && w->work < w->most) {
        moved = false;
        for (size_t u = 0; u + 1 < w->s->nunit && w->work < w->most; u++)
            for (size_t v = u + 1; v < w->s->nunit; v++) {
                w->work++;
                if (!may(w, u, v))
                    continue;
                w->work += w->s->nx;
                if (growth(w, u, v) < -IMPROVEMENT) {
                    exchange(w, u, v);
                    moved = true;
                }
            }
    }
}

static void shuffle(search *w, uint64_t start)
{
    const pl_spread *s = w->s;
    pl_stream stream;

    pl_stream_init(&stream, s->start_seed, PL_FOR_PLACES, start);
    for (size_t i = s->nunit; i > 1; i--) {
        size_t u = i - 1, v = pl_stream_below(&stream, (uint32_t)i);
        uint32_t kept = w->row[u];

        if ((s->pen && s->pen[u] != s->pen[v]) || (s->kind && s->kind[kept] != s->kind[w->row[v]]))
            continue;
        w->row[u] = w->row[v];
        w->row[v] = kept;
    }
}

pl_code pl_spread_improve(pl_arena *a, pl_spread *s, pl_diags *diags)
{
    pl_mark mark = pl_arena_mark(a);
    search w = { .s = s,
                 .most = s->work ? s->work : PL_SPREAD_WORK,
                 .row = PL_NEWN(a, s->nunit, uint32_t),
                 .sum = pl_arena_get(a, s->nblock, s->nx * sizeof(double)) };
    uint32_t *given = PL_NEWN(a, s->nunit, uint32_t);

    if (!w.row || !w.sum || !given)
        return pl_nomem(diags);
    memcpy(given, s->row, s->nunit * sizeof *given);
    for (size_t start = 0; start < s->starts && w.work < w.most; start++) {
        double reached;

        memcpy(w.row, given, s->nunit * sizeof *given);
        if (start)
            shuffle(&w, start);
        open_sums(&w);
        descend(&w);
        reached = open_sums(&w);
        if (!start || reached < s->criterion - IMPROVEMENT) {
            s->criterion = reached;
            memcpy(s->row, w.row, s->nunit * sizeof *given);
        }
        if (s->criterion <= IMPROVEMENT)
            break;
    }
    pl_arena_reset(a, mark);
    return PL_OK;
}
