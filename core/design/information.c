/* Efficiency, its bound and degrees of freedom of a layout in blocks. Knows
 * nothing of boards or sessions beyond that they are blocks. */
#include "design/information.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "design/absorb.h"

/* Takes column k out of all later columns in `live`; false when nothing of it
 * is left. diag0 is its diagonal before anything was taken out. */
static bool take_out(double *m, size_t p, size_t k, double diag0, const bool *done)
{
    double pivot = m[k * p + k];

    if (!(pivot > PL_INFORMATION_ZERO * diag0))
        return false;
    for (size_t i = 0; i < p; i++) {
        double share;

        if (i == k || done[i] || m[i * p + k] == 0)
            continue;
        share = m[i * p + k] / pivot;
        for (size_t j = 0; j < p; j++)
            if (!done[j])
                m[i * p + j] -= share * m[k * p + j];
    }
    return true;
}

/* Takes out all columns but keep_from..keep_to-1. Returns the number that had something left. */
static size_t eliminate(double *m, size_t p, const double *diag, bool *done, size_t keep_from,
                        size_t keep_to)
{
    size_t rank = 0;

    for (size_t k = 0; k < p; k++) {
        if (k >= keep_from && k < keep_to)
            continue;
        rank += take_out(m, p, k, diag[k], done);
        done[k] = true;
    }
    return rank;
}

/* Counts of all pairs of columns: blocks of each kind, then treatments. */
static double *cross_products(pl_arena *a, const pl_layout *l, size_t *order)
{
    size_t p = l->ngroup * l->v, at[5];
    double *m;

    for (size_t k = 0; k < l->nkind; k++)
        p += l->nblock[k];
    *order = p;
    m = pl_arena_get(a, p, p * sizeof *m);
    if (!m)
        return NULL;
    for (size_t u = 0; u < l->nunit; u++) {
        size_t start = 0;

        for (size_t k = 0; k < l->nkind; k++) {
            at[k] = start + l->block[k][u];
            start += l->nblock[k];
        }
        at[l->nkind] = start + l->treatment[u];
        for (size_t i = 0; i <= l->nkind; i++)
            for (size_t j = 0; j <= l->nkind; j++)
                m[at[i] * p + at[j]] += 1;
    }
    return m;
}

/* Three kinds of block and more that cross: the whole table, small enough where stretches are
 * few. */
static pl_code take_table(pl_arena *a, const pl_layout *l, pl_information *in, pl_diags *diags)
{
    size_t all = l->ngroup * l->v, p, from;
    double *m = cross_products(a, l, &p), *diag = PL_NEWN(a, p, double);
    bool *done = PL_NEWN(a, p, bool);

    if (!m || !diag || !done)
        return pl_nomem(diags);
    for (size_t k = 0; k < p; k++)
        diag[k] = m[k * p + k];
    from = p - all;
    in->rank = eliminate(m, p, diag, done, from, p);
    for (size_t t = 0; t < all; t++)
        memcpy(in->c + t * all, m + (from + t) * p + from, all * sizeof *in->c);
    return PL_OK;
}

/* Does each block of one kind lie whole within one of the other? */
static bool within(const pl_blocks *b, const size_t *other)
{
    for (size_t k = 0; k < b->n; k++)
        for (size_t i = b->first[k] + 1; i < b->first[k + 1]; i++)
            if (other[b->list[i]] != other[b->list[i - 1]])
                return false;
    return true;
}

/* The kinds that tell something of their own: of those that lie within one another, the finest. */
static size_t finest(const pl_layout *l, const pl_blocks *b, size_t *kept)
{
    size_t n = 0;

    for (size_t k = 0; k < l->nkind; k++) {
        bool told = false;

        for (size_t j = 0; j < l->nkind && !told; j++)
            told = j != k && within(&b[j], l->block[k]) && !(j > k && within(&b[k], l->block[j]));
        if (!told)
            kept[n++] = k;
    }
    return n;
}

static pl_code take_blocks(pl_arena *a, const pl_layout *l, pl_information *in, pl_diags *diags)
{
    pl_blocks b[sizeof l->block / sizeof *l->block];
    size_t kept[sizeof l->block / sizeof *l->block], n, many, few, more = 0;
    pl_code rc;

    for (size_t k = 0; k < l->nkind; k++)
        if (!pl_blocks_open(a, l, k, &b[k]))
            return pl_nomem(diags);
    n = finest(l, b, kept);
    if (!n)
        return PL_OK;
    if (n > 2)
        return take_table(a, l, in, diags);
    many = kept[0];
    few = n > 1 ? kept[1] : many;
    if (b[few].nonempty > b[many].nonempty) {
        many = kept[1];
        few = kept[0];
    }
    rc = pl_absorb_one(a, l, &b[many], in->c, diags);
    in->rank = b[many].nonempty;
    if (rc || n < 2)
        return rc;
    rc = pl_absorb_second(a, l, many, few, &b[many], &b[few], in->c, &more, diags);
    in->rank += more;
    return rc;
}

pl_code pl_layout_information(pl_arena *a, const pl_layout *l, pl_information *out, pl_diags *diags)
{
    size_t all = l->ngroup * l->v;
    pl_mark mark;
    pl_code rc;

    *out = (pl_information){ .ngroup = l->ngroup, .v = l->v, .nunit = l->nunit };
    out->c = pl_arena_get(a, all, all * sizeof *out->c);
    out->count = PL_NEWN(a, all, double);
    if (!out->c || !out->count)
        return pl_nomem(diags);
    for (size_t u = 0; u < l->nunit; u++)
        out->count[l->treatment[u]] += 1;
    for (size_t t = 0; t < all; t++)
        out->c[t * all + t] = out->count[t];
    mark = pl_arena_mark(a);
    rc = take_blocks(a, l, out, diags);
    pl_arena_reset(a, mark);
    return rc;
}

typedef struct work {
    double *m;
    bool *done;
    size_t p;
} work;

static bool work_open(pl_arena *a, const pl_information *in, work *w)
{
    w->p = in->ngroup * in->v;
    w->m = pl_arena_get(a, w->p, w->p * sizeof *w->m);
    w->done = PL_NEWN(a, w->p, bool);
    if (!w->m || !w->done)
        return false;
    memcpy(w->m, in->c, w->p * w->p * sizeof *w->m);
    return true;
}

/* Trace of the inverse of the v x v matrix c (overwritten), row stride p; 0 when
 * it is singular. c = L D L'; the trace is the sum of (L^-1)_ij^2 / D_i. */
static double trace_of_inverse(double *c, size_t p, size_t v, double scale, double *row)
{
    double trace = 0;

    for (size_t k = 0; k < v; k++) {
        if (!(c[k * p + k] > PL_INFORMATION_ZERO * scale))
            return 0;
        for (size_t i = k + 1; i < v; i++) {
            double share = c[i * p + k] / c[k * p + k];

            for (size_t j = k + 1; j <= i; j++)
                c[i * p + j] -= share * c[j * p + k];
        }
        for (size_t i = k + 1; i < v; i++) /* below the diagonal: L */
            c[i * p + k] /= c[k * p + k];
    }
    for (size_t i = 0; i < v; i++) { /* row i of L^-1, from the right */
        row[i] = 1;
        trace += 1 / c[i * p + i];
        for (size_t j = i; j-- > 0;) {
            row[j] = 0;
            for (size_t k = j + 1; k <= i; k++)
                row[j] -= row[k] * c[k * p + j];
            trace += row[j] * row[j] / c[i * p + i];
        }
    }
    return trace;
}

pl_code pl_information_efficiency(pl_arena *a, const pl_information *in, size_t g, double n,
                                  double *out, pl_diags *diags)
{
    pl_mark mark = pl_arena_mark(a);
    size_t v = in->v, from = g * v;
    double *c, *row, trace;
    work w;

    if (v < 2) {
        *out = NAN;
        return PL_OK;
    }
    row = PL_NEWN(a, v, double);
    if (!row || !work_open(a, in, &w))
        return pl_nomem(diags);
    eliminate(w.m, w.p, in->count, w.done, from, from + v);
    c = w.m + from * w.p + from;
    /* The sum of all treatments is lost in the blocks: adding n/v everywhere
     * gives that direction the value n, and touches no difference. */
    for (size_t i = 0; i < v; i++)
        for (size_t j = 0; j < v; j++)
            c[i * w.p + j] += n / (double)v;
    trace = trace_of_inverse(c, w.p, v, n, row);
    *out = trace > 0 ? (double)(v - 1) / (n * (trace - 1 / n)) : 0;
    pl_arena_reset(a, mark);
    return PL_OK;
}

pl_code pl_information_df(pl_arena *a, const pl_information *in, size_t *out, pl_diags *diags)
{
    pl_mark mark = pl_arena_mark(a);
    work w;

    if (!work_open(a, in, &w))
        return pl_nomem(diags);
    *out = in->nunit - in->rank - eliminate(w.m, w.p, in->count, w.done, w.p, w.p);
    pl_arena_reset(a, mark);
    return PL_OK;
}

/* Largest sum of the canonical factors times n that blocks of one kind allow. A
 * block with `own` units of the group out of `all` takes away at least
 * (sum of squared counts) / all, least when the counts differ by at most 1. */
static double most_information(const size_t *own, const size_t *all, size_t nblock, size_t v)
{
    double total = 0;

    for (size_t b = 0; b < nblock; b++) {
        size_t q = own[b] / v, more = own[b] % v;
        double k = (double)own[b], size = (double)all[b];
        double squares = (double)(more * (q + 1) * (q + 1) + (v - more) * q * q);

        if (own[b])
            total += k - squares / size - (k - k * k / size) / (double)v;
    }
    return total;
}

pl_code pl_layout_bound(pl_arena *a, const pl_layout *l, size_t g, double n, double *out,
                        pl_diags *diags)
{
    pl_mark mark = pl_arena_mark(a);
    double bound = 1;

    if (l->v < 2) {
        *out = NAN;
        return PL_OK;
    }
    for (size_t k = 0; k < l->nkind; k++) {
        size_t *own = PL_NEWN(a, l->nblock[k], size_t), *all = PL_NEWN(a, l->nblock[k], size_t);
        double mean;

        if (!own || !all)
            return pl_nomem(diags);
        for (size_t u = 0; u < l->nunit; u++) {
            all[l->block[k][u]]++;
            own[l->block[k][u]] += l->treatment[u] / l->v == g;
        }
        mean = most_information(own, all, l->nblock[k], l->v) / ((double)(l->v - 1) * n);
        if (mean < bound)
            bound = mean;
    }
    pl_arena_reset(a, mark);
    *out = bound;
    return PL_OK;
}
