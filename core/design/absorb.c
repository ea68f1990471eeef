/* Taking blocks out of the counts of treatments without a table of all blocks. What is made of
 * what is left is information.c's. */
#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "design/absorb.h"

#define RESIDUAL 1e-13 /* of conjugate gradients, relative */
#define STEPS_MOST                                                        \
    400 /* layouts that hang together by a thread need more: then what is \
           reached stands, a little too large */

bool pl_blocks_open(pl_arena *a, const pl_layout *l, size_t kind, pl_blocks *out)
{
    const size_t *block = l->block[kind];

    *out = (pl_blocks){ .n = l->nblock[kind],
                        .first = PL_NEWN(a, l->nblock[kind] + 2, size_t),
                        .list = PL_NEWN(a, l->nunit, size_t) };
    if (!out->first || !out->list)
        return false;
    for (size_t u = 0; u < l->nunit; u++)
        out->first[block[u] + 2]++;
    for (size_t b = 0; b < out->n; b++) {
        out->nonempty += out->first[b + 2] > 0;
        out->first[b + 2] += out->first[b + 1];
    }
    for (size_t u = 0; u < l->nunit; u++)
        out->list[out->first[block[u] + 1]++] = u;
    return true;
}

pl_code pl_absorb_one(pl_arena *a, const pl_layout *l, const pl_blocks *b, double *c,
                      pl_diags *diags)
{
    size_t all = l->ngroup * l->v, *in = PL_NEWN(a, all, size_t);
    double *n = PL_NEWN(a, all, double);

    if (!in || !n)
        return pl_nomem(diags);
    for (size_t k = 0; k < b->n; k++) {
        size_t nin = 0, size = b->first[k + 1] - b->first[k];

        for (size_t i = b->first[k]; i < b->first[k + 1]; i++) {
            size_t t = l->treatment[b->list[i]];

            if (n[t] == 0)
                in[nin++] = t;
            n[t] += 1;
        }
        for (size_t i = 0; i < nin; i++)
            for (size_t j = 0; j < nin; j++)
                c[in[i] * all + in[j]] -= n[in[i]] * n[in[j]] / (double)size;
        for (size_t i = 0; i < nin; i++)
            n[in[i]] = 0;
    }
    return PL_OK;
}

/* ---------------------------------------------------------- crossed blocks -- */

typedef struct crossed {
    const pl_layout *l;
    const size_t *many_of, *few_of; /* block of each unit */
    const pl_blocks *many, *few;
    size_t treatments;
    size_t *part;  /* of each `few` block: any block of the same part */
    size_t *order; /* `few` blocks, part after part */
    double *y;     /* few x treatments: their counts, once `many` is out */
    double *mean;  /* many: room */
} crossed;

static size_t root(size_t *of, size_t k)
{
    while (of[k] != k)
        k = of[k] = of[of[k]];
    return k;
}

/* Parts that hang together: blocks that share one of the other kind. */
static void find_parts(crossed *x)
{
    for (size_t k = 0; k < x->few->n; k++)
        x->part[k] = k;
    for (size_t b = 0; b < x->many->n; b++)
        for (size_t i = x->many->first[b] + 1; i < x->many->first[b + 1]; i++) {
            size_t one = root(x->part, x->few_of[x->many->list[i - 1]]);
            size_t other = root(x->part, x->few_of[x->many->list[i]]);

            x->part[one > other ? one : other] = one > other ? other : one;
        }
    for (size_t k = 0; k < x->few->n; k++)
        x->part[k] = root(x->part, k);
}

/* Part after part, by the lowest block of each; *nparts of them. */
static bool order_parts(pl_arena *a, crossed *x, size_t **first, size_t *nparts)
{
    size_t n = x->few->n, *count = PL_NEWN(a, n + 1, size_t), at = 0;

    *first = PL_NEWN(a, n + 1, size_t);
    if (!count || !*first)
        return false;
    *nparts = 0;
    for (size_t k = 0; k < n; k++)
        count[x->part[k]]++;
    for (size_t k = 0; k < n; k++) {
        size_t own = count[k];

        if (!own)
            continue;
        (*first)[(*nparts)++] = at;
        count[k] = at;
        at += own;
    }
    (*first)[*nparts] = at;
    for (size_t k = 0; k < n; k++)
        x->order[count[x->part[k]]++] = k;
    return true;
}

/* y = counts of each `few` block less what its `many` blocks expect. */
static bool fill_counts(pl_arena *a, crossed *x)
{
    size_t all = x->treatments, *in = PL_NEWN(a, all, size_t);
    double *n = PL_NEWN(a, all, double);

    if (!in || !n)
        return false;
    for (size_t u = 0; u < x->l->nunit; u++)
        x->y[x->few_of[u] * all + x->l->treatment[u]] += 1;
    for (size_t b = 0; b < x->many->n; b++) {
        size_t nin = 0, from = x->many->first[b], to = x->many->first[b + 1];

        for (size_t i = from; i < to; i++) {
            size_t t = x->l->treatment[x->many->list[i]];

            if (n[t] == 0)
                in[nin++] = t;
            n[t] += 1;
        }
        for (size_t i = from; i < to; i++)
            for (size_t j = 0; j < nin; j++)
                x->y[x->few_of[x->many->list[i]] * all + in[j]] -= n[in[j]] / (double)(to - from);
        for (size_t j = 0; j < nin; j++)
            n[in[j]] = 0;
    }
    return true;
}

/* One part by elimination. place: of each `few` block in its part. */
static pl_code eliminate_part(pl_arena *a, crossed *x, const size_t *block, size_t n,
                              const size_t *place, double *c)
{
    size_t all = x->treatments;
    double *m = pl_arena_get(a, n, n * sizeof *m);

    if (!m)
        return PL_ENOMEM;
    for (size_t i = 0; i < n; i++) {
        const pl_blocks *few = x->few;

        m[i * n + i] += (double)(few->first[block[i] + 1] - few->first[block[i]]);
        for (size_t k = few->first[block[i]]; k < few->first[block[i] + 1]; k++) {
            size_t b = x->many_of[few->list[k]];
            size_t from = x->many->first[b], to = x->many->first[b + 1];

            for (size_t j = from; j < to; j++)
                m[i * n + place[x->few_of[x->many->list[j]]]] -= 1 / (double)(to - from);
        }
    }
    for (size_t k = 0; k < n; k++) {
        const double *y = x->y + block[k] * all;
        double pivot = m[k * n + k];
        double size = (double)(x->few->first[block[k] + 1] - x->few->first[block[k]]);

        if (!(pivot > PL_INFORMATION_ZERO * size))
            continue; /* the last of its part: the others tell it */
        for (size_t i = k + 1; i < n; i++) {
            double share = m[i * n + k] / pivot, *z = x->y + block[i] * all;

            if (share == 0)
                continue;
            for (size_t j = k + 1; j < n; j++)
                m[i * n + j] -= share * m[k * n + j];
            for (size_t t = 0; t < all; t++)
                z[t] -= share * y[t];
        }
        for (size_t s = 0; s < all; s++)
            for (size_t t = 0; y[s] != 0 && t < all; t++)
                c[s * all + t] -= y[s] * y[t] / pivot;
    }
    return PL_OK;
}

/* out = M x of one part: units of its blocks, less the means of their `many` blocks. */
static void times_m(crossed *x, const size_t *block, size_t n, const double *in, double *out)
{
    const pl_blocks *few = x->few, *many = x->many;

    for (size_t i = 0; i < n; i++) /* each `many` block lies in one part */
        for (size_t k = few->first[block[i]]; k < few->first[block[i] + 1]; k++)
            x->mean[x->many_of[few->list[k]]] = 0;
    for (size_t i = 0; i < n; i++)
        for (size_t k = few->first[block[i]]; k < few->first[block[i] + 1]; k++)
            x->mean[x->many_of[few->list[k]]] += in[i];
    for (size_t i = 0; i < n; i++) {
        out[i] = 0;
        for (size_t k = few->first[block[i]]; k < few->first[block[i] + 1]; k++) {
            size_t b = x->many_of[few->list[k]];

            out[i] += in[i] - x->mean[b] / (double)(many->first[b + 1] - many->first[b]);
        }
    }
}

static double dot(const double *x, const double *y, size_t n)
{
    double sum = 0;

    for (size_t i = 0; i < n; i++)
        sum += x[i] * y[i];
    return sum;
}

/* z with M z = y for one treatment, by conjugate gradients, preconditioned by the blocks'
 * sizes. room: 5 n. */
static void solve(crossed *x, const size_t *block, size_t n, size_t t, double *z, double *room)
{
    double *r = room, *p = room + n, *q = room + 2 * n, *w = room + 3 * n, *size = room + 4 * n;
    double rw, first = 0;

    for (size_t i = 0; i < n; i++) {
        size[i] = (double)(x->few->first[block[i] + 1] - x->few->first[block[i]]);
        r[i] = x->y[block[i] * x->treatments + t];
        z[i] = 0;
        p[i] = w[i] = r[i] / size[i];
    }
    first = rw = dot(r, w, n);
    for (unsigned step = 0; step < STEPS_MOST && rw > RESIDUAL * RESIDUAL * first; step++) {
        double pq, alpha, beta = rw;

        times_m(x, block, n, p, q);
        pq = dot(p, q, n);
        if (!(pq > 0))
            break;
        alpha = rw / pq;
        for (size_t i = 0; i < n; i++) {
            z[i] += alpha * p[i];
            r[i] -= alpha * q[i];
            w[i] = r[i] / size[i];
        }
        rw = dot(r, w, n);
        beta = rw / beta;
        for (size_t i = 0; i < n; i++)
            p[i] = w[i] + beta * p[i];
    }
}

static pl_code iterate_part(pl_arena *a, crossed *x, const size_t *block, size_t n, double *c)
{
    size_t all = x->treatments;
    double *z = PL_NEWN(a, n, double), *room = PL_NEWN(a, 5 * n, double);

    if (!z || !room)
        return PL_ENOMEM;
    for (size_t t = 0; t < all; t++) {
        solve(x, block, n, t, z, room);
        for (size_t s = 0; s <= t; s++) {
            double sum = 0;

            for (size_t i = 0; i < n; i++)
                sum += x->y[block[i] * all + s] * z[i];
            c[s * all + t] -= sum;
            if (s < t)
                c[t * all + s] -= sum;
        }
    }
    return PL_OK;
}

pl_code pl_absorb_second(pl_arena *a, const pl_layout *l, size_t many, size_t few,
                         const pl_blocks *of_many, const pl_blocks *of_few, double *c, size_t *rank,
                         pl_diags *diags)
{
    crossed x = { .l = l,
                  .many_of = l->block[many],
                  .few_of = l->block[few],
                  .many = of_many,
                  .few = of_few,
                  .treatments = l->ngroup * l->v,
                  .part = PL_NEWN(a, of_few->n, size_t),
                  .order = PL_NEWN(a, of_few->n, size_t),
                  .mean = PL_NEWN(a, of_many->n, double) };
    size_t *first = NULL, *place = PL_NEWN(a, of_few->n, size_t), nparts = 0;
    pl_code rc = PL_OK;

    x.y = pl_arena_get(a, of_few->n, x.treatments * sizeof *x.y);
    if (!x.part || !x.order || !x.mean || !x.y || !place)
        return pl_nomem(diags);
    find_parts(&x);
    if (!order_parts(a, &x, &first, &nparts) || !fill_counts(a, &x))
        return pl_nomem(diags);
    *rank = 0;
    for (size_t k = 0; k < nparts && !rc; k++) {
        const size_t *block = x.order + first[k];
        size_t n = first[k + 1] - first[k];
        pl_mark mark = pl_arena_mark(a);

        *rank += n - 1; /* an empty block is a part by itself and adds nothing */
        for (size_t i = 0; i < n; i++)
            place[block[i]] = i;
        if (n > 1)
            rc = n <= PL_INFORMATION_DENSE ? eliminate_part(a, &x, block, n, place, c)
                                           : iterate_part(a, &x, block, n, c);
        pl_arena_reset(a, mark);
    }
    return rc ? pl_nomem(diags) : PL_OK;
}
