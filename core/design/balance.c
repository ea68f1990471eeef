/* The search by interchange. Which blocks there are, and what they are, is
 * decided elsewhere. */
#include "design/balance.h"

#include <stdbool.h>
#include <string.h>

#include "base/stream.h"
#include "design/information.h"

#define IMPROVEMENT 1e-9 /* counts are whole, or whole over small sizes: true gains are larger */

typedef struct search {
    const pl_share_out *s;
    uint32_t *t; /* nunit, of this start */
    double *n;   /* v x nblock: how often */
    double *c;   /* v x v: N W N' */
    size_t work, moves;
} search;

static void count(search *w)
{
    const pl_share_out *s = w->s;

    memset(w->n, 0, s->v * s->nblock * sizeof *w->n);
    for (size_t u = 0; u < s->nunit; u++)
        w->n[w->t[u] * s->nblock + s->block[u]] += 1;
    for (size_t i = 0; i < s->v; i++)
        for (size_t j = 0; j <= i; j++) {
            double sum = 0;

            for (size_t b = 0; b < s->nblock; b++)
                sum += s->weight[b] * w->n[i * s->nblock + b] * w->n[j * s->nblock + b];
            w->c[i * s->v + j] = w->c[j * s->v + i] = sum;
        }
}

static double squares(const search *w)
{
    double sum = 0;

    for (size_t i = 0; i < w->s->v * w->s->v; i++)
        sum += w->c[i] * w->c[i];
    return sum;
}

/* What treatment p of block a and q of block b change when they change places. */
typedef struct change {
    double pp, qq, pq; /* new values of those three cells of c */
} change;

static change changed(const search *w, size_t p, size_t q, size_t a, size_t b)
{
    const pl_share_out *s = w->s;
    const double *np = w->n + p * s->nblock, *nq = w->n + q * s->nblock;
    double wa = s->weight[a], wb = s->weight[b];

    return (change){
        .pp = w->c[p * s->v + p] + wa * (1 - 2 * np[a]) + wb * (1 + 2 * np[b]),
        .qq = w->c[q * s->v + q] + wa * (1 + 2 * nq[a]) + wb * (1 - 2 * nq[b]),
        .pq = w->c[p * s->v + q] + wa * (np[a] - nq[a] - 1) + wb * (nq[b] - np[b] - 1),
    };
}

/* By how much the sum of squares would grow. */
static double growth(const search *w, size_t p, size_t q, size_t a, size_t b)
{
    const pl_share_out *s = w->s;
    const double *cp = w->c + p * s->v, *cq = w->c + q * s->v;
    change to = changed(w, p, q, a, b);
    double sum = 0;

    for (size_t j = 0; j < s->v; j++) {
        double d = s->weight[b] * w->n[j * s->nblock + b] - s->weight[a] * w->n[j * s->nblock + a];

        if (j != p && j != q)
            sum += 2 * d * (cp[j] - cq[j]) + 2 * d * d;
    }
    return 2 * sum + to.pp * to.pp - cp[p] * cp[p] + to.qq * to.qq - cq[q] * cq[q] +
           2 * (to.pq * to.pq - cp[q] * cp[q]);
}

static void exchange(search *w, size_t u, size_t x)
{
    const pl_share_out *s = w->s;
    size_t p = w->t[u], q = w->t[x], a = s->block[u], b = s->block[x];
    change to = changed(w, p, q, a, b);

    for (size_t j = 0; j < s->v; j++) {
        double d = s->weight[b] * w->n[j * s->nblock + b] - s->weight[a] * w->n[j * s->nblock + a];

        if (j == p || j == q)
            continue;
        w->c[p * s->v + j] = w->c[j * s->v + p] = w->c[p * s->v + j] + d;
        w->c[q * s->v + j] = w->c[j * s->v + q] = w->c[q * s->v + j] - d;
    }
    w->c[p * s->v + p] = to.pp;
    w->c[q * s->v + q] = to.qq;
    w->c[p * s->v + q] = w->c[q * s->v + p] = to.pq;
    w->n[p * s->nblock + a] -= 1;
    w->n[q * s->nblock + a] += 1;
    w->n[q * s->nblock + b] -= 1;
    w->n[p * s->nblock + b] += 1;
    w->t[u] = (uint32_t)q;
    w->t[x] = (uint32_t)p;
    w->moves++;
}

static bool may(const search *w, size_t u, size_t x)
{
    const pl_share_out *s = w->s;

    return s->block[u] != s->block[x] && w->t[u] != w->t[x] &&
           (!s->pen || s->pen[u] == s->pen[x]) &&
           (!s->kind || s->kind[w->t[u]] == s->kind[w->t[x]]);
}

/* Passes over all pairs until one finds nothing, or the work is spent. */
static void descend(search *w, size_t most)
{
    size_t n = w->s->nunit;
    bool moved = true;

    while (moved && w->work < most) {
        moved = false;
        for (size_t u = 0; u + 1 < n && w->work < most; u++)
            for (size_t x = u + 1; x < n; x++) {
                w->work++;
                if (!may(w, u, x))
                    continue;
                w->work += w->s->v;
                if (growth(w, w->t[u], w->t[x], w->s->block[u], w->s->block[x]) < -IMPROVEMENT) {
                    exchange(w, u, x);
                    moved = true;
                }
            }
    }
}

/* Another start: every unit exchanged with a random one of its pen and kind. */
static void shuffle(search *w, uint64_t start)
{
    const pl_share_out *s = w->s;
    pl_stream stream;

    pl_stream_init(&stream, s->start_seed, PL_FOR_PLACES, start);
    for (size_t i = s->nunit; i > 1; i--) {
        size_t u = i - 1, x = pl_stream_below(&stream, (uint32_t)i);
        uint32_t t = w->t[u];

        if ((s->pen && s->pen[u] != s->pen[x]) || (s->kind && s->kind[t] != s->kind[w->t[x]]))
            continue;
        w->t[u] = w->t[x];
        w->t[x] = t;
    }
}

/* Efficiency of a finished arrangement; counts its cost as work. */
static pl_code judge(pl_arena *a, search *w, double *efficiency, pl_diags *diags)
{
    const pl_share_out *s = w->s;
    size_t *memory = PL_NEWN(a, 2 * s->nunit, size_t);
    pl_layout l = { .nunit = s->nunit, .ngroup = 1, .v = s->v, .nkind = 1 };
    pl_information in;
    pl_code rc;

    if (!memory)
        return pl_nomem(diags);
    for (size_t u = 0; u < s->nunit; u++) {
        memory[u] = w->t[u];
        memory[s->nunit + u] = s->block[u];
    }
    l.treatment = memory;
    l.block[0] = memory + s->nunit;
    l.nblock[0] = s->nblock;
    w->work += s->v * s->v * (s->v + s->nblock);
    rc = pl_layout_information(a, &l, &in, diags);
    return rc ? rc
              : pl_information_efficiency(a, &in, 0, (double)s->nunit / (double)s->v, efficiency,
                                          diags);
}

/* One start: the given arrangement, or a shuffle of it, improved. Better means a
 * smaller sum of squares, then a greater efficiency. */
static pl_code run_start(pl_arena *a, search *w, const uint32_t *given, size_t most,
                         pl_share_out *s, double *best, pl_diags *diags)
{
    double reached, efficiency = 0;
    pl_code rc = PL_OK;

    memcpy(w->t, given, s->nunit * sizeof *given);
    if (s->starts_done)
        shuffle(w, s->starts_done);
    count(w);
    descend(w, most);
    reached = squares(w);
    if (s->starts_done && reached > s->criterion + IMPROVEMENT)
        return PL_OK;
    if (s->starts > 1)
        rc = judge(a, w, &efficiency, diags);
    if (rc)
        return rc;
    if (!s->starts_done || reached < s->criterion - IMPROVEMENT ||
        efficiency > *best + IMPROVEMENT) {
        s->criterion = reached;
        *best = efficiency;
        memcpy(s->treatment, w->t, s->nunit * sizeof *given);
    }
    return PL_OK;
}

pl_code pl_share_out_improve(pl_arena *a, pl_share_out *s, pl_diags *diags)
{
    pl_mark mark = pl_arena_mark(a);
    size_t most = s->work ? s->work : PL_BALANCE_WORK;
    search w = { .s = s,
                 .t = PL_NEWN(a, s->nunit, uint32_t),
                 .n = pl_arena_get(a, s->v, s->nblock * sizeof(double)),
                 .c = pl_arena_get(a, s->v, s->v * sizeof(double)) };
    uint32_t *given = PL_NEWN(a, s->nunit, uint32_t);
    double best = 0;
    pl_code rc = PL_OK;

    if (!w.t || !w.n || !w.c || !given)
        return pl_nomem(diags);
    memcpy(given, s->treatment, s->nunit * sizeof *given);
    s->starts_done = 0;
    while (!rc && s->starts_done < s->starts && w.work < most) {
        rc = run_start(a, &w, given, most, s, &best, diags);
        s->starts_done++;
        if (s->criterion <= s->least + IMPROVEMENT)
            break;
    }
    s->moves = w.moves;
    pl_arena_reset(a, mark);
    return rc;
}

/* Rows of N W N' sum to what a treatment's units weigh, so the cells of a row
 * can at best be equal off the diagonal, and the diagonal is least when counts
 * differ by at most 1. */
double pl_share_out_least(size_t v, size_t nblock, const size_t *own, const double *weight)
{
    double diagonal = 0, all = 0, apart;

    for (size_t b = 0; b < nblock; b++) {
        size_t q = own[b] / v, more = own[b] % v;

        diagonal += weight[b] * (double)(more * (q + 1) * (q + 1) + (v - more) * q * q);
        all += weight[b] * (double)own[b] * (double)own[b];
    }
    apart = all - diagonal; /* sum of the cells off the diagonal */
    return diagonal * diagonal / (double)v + (v > 1 ? apart * apart / (double)(v * (v - 1)) : 0);
}
