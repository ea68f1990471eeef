/* Taking blocks out of the counts of treatments without a table of all blocks. What is made of
 * what is left is information.c's. */
#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <string.h>

#include "design/absorb.h"

#define RESIDUAL 1e-8 /* of conjugate gradients, relative: its square is what counts */
#define STEPS_MOST                                                                \
    400         /* layouts that hang together by a thread need more: then what is \
                   reached stands, a little too large */
#define WIDE 16 /* treatments at once */

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
    size_t *part;     /* of each `few` block: any block of the same part */
    size_t *order;    /* `few` blocks, part after part */
    double *y;        /* few x treatments: their counts, once `many` is out */
    uint32_t *number; /* of each `many` block, in the order in which its part meets it, from 1 */
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

/* Conjugate gradients for WIDE treatments at once: what belongs to one block lies together, and
 * `many` blocks lie in the order in which the part's blocks meet them, so that those of one block
 * lie near one another: a million units at random places of a long table cost ten times as much. */
typedef struct columns {
    const size_t *block; /* n of this part */
    size_t n, from;      /* treatments from.. */
    size_t nmany;
    uint32_t *many; /* of the part's units, block after block */
    double *p, *q, *size;
    double *share; /* nmany: 1 / size */
    double *mean;  /* nmany x WIDE */
} columns;

/* q = M p: units of each block, less the means of their `many` blocks, each of which lies whole
 * in one part. */
static void times_m(columns *w)
{
    const uint32_t *from = w->many, *many = from;

    memset(w->mean, 0, w->nmany * WIDE * sizeof *w->mean);
    for (size_t i = 0; i < w->n; i++)
        for (const uint32_t *end = many + (size_t)w->size[i]; many < end; many++) {
            const double *p = w->p + i * WIDE, share = w->share[*many];
            double *mean = w->mean + *many * (size_t)WIDE;

            for (size_t t = 0; t < WIDE; t++)
                mean[t] += share * p[t];
        }
    many = from;
    for (size_t i = 0; i < w->n; i++) {
        double q[WIDE];

        for (size_t t = 0; t < WIDE; t++)
            q[t] = w->size[i] * w->p[i * WIDE + t];
        for (const uint32_t *end = many + (size_t)w->size[i]; many < end; many++)
            for (size_t t = 0; t < WIDE; t++)
                q[t] -= w->mean[*many * (size_t)WIDE + t];
        memcpy(w->q + i * WIDE, q, sizeof q);
    }
}

/* Sizes, and the `many` blocks of the part numbered. False: no memory. */
static bool number_many(pl_arena *a, crossed *x, columns *w)
{
    const pl_blocks *few = x->few, *many = x->many;
    size_t units = 0;

    w->size = PL_NEWN(a, w->n, double);
    for (size_t i = 0; w->size && i < w->n; i++) {
        size_t own = few->first[w->block[i] + 1] - few->first[w->block[i]];

        w->size[i] = (double)own;
        units += own;
    }
    w->many = PL_NEWN(a, units, uint32_t);
    w->share = PL_NEWN(a, units < many->n ? units : many->n, double);
    if (!w->size || !w->many || !w->share)
        return false;
    for (size_t i = 0, u = 0; i < w->n; i++)
        for (size_t k = few->first[w->block[i]]; k < few->first[w->block[i] + 1]; k++) {
            size_t b = x->many_of[few->list[k]];

            if (!x->number[b]) {
                w->share[w->nmany] = 1 / (double)(many->first[b + 1] - many->first[b]);
                x->number[b] = (uint32_t)++w->nmany;
            }
            w->many[u++] = x->number[b] - 1;
        }
    return true;
}

/* Sums of r r / size, and with q: of p q. */
static void dots(const columns *w, const double *one, const double *other, bool by_size,
                 double out[WIDE])
{
    for (size_t t = 0; t < WIDE; t++)
        out[t] = 0;
    for (size_t i = 0; i < w->n; i++)
        for (size_t t = 0; t < WIDE; t++)
            out[t] += one[i * WIDE + t] * other[i * WIDE + t] / (by_size ? w->size[i] : 1);
}

/* z with M z = y, r what is left of y; both n x WIDE. Preconditioned by the blocks' sizes. */
static void solve(const crossed *x, columns *w, double *z, double *r)
{
    double rw[WIDE], first[WIDE], pq[WIDE], next[WIDE];
    bool going = true;

    for (size_t i = 0; i < w->n; i++)
        for (size_t t = 0; t < WIDE; t++) {
            size_t column = w->from + t;

            r[i * WIDE + t] = column < x->treatments ? x->y[w->block[i] * x->treatments + column]
                                                     : 0;
            z[i * WIDE + t] = 0;
            w->p[i * WIDE + t] = r[i * WIDE + t] / w->size[i];
        }
    dots(w, r, r, true, first);
    memcpy(rw, first, sizeof rw);
    for (unsigned step = 0; step < STEPS_MOST && going; step++) {
        times_m(w);
        dots(w, w->p, w->q, false, pq);
        for (size_t t = 0; t < WIDE; t++) /* one that is there already stays */
            pq[t] = pq[t] > 0 && rw[t] > RESIDUAL * RESIDUAL * first[t] ? rw[t] / pq[t] : 0;
        for (size_t i = 0; i < w->n; i++)
            for (size_t t = 0; t < WIDE; t++) {
                z[i * WIDE + t] += pq[t] * w->p[i * WIDE + t];
                r[i * WIDE + t] -= pq[t] * w->q[i * WIDE + t];
            }
        dots(w, r, r, true, next);
        for (size_t i = 0; i < w->n; i++)
            for (size_t t = 0; t < WIDE; t++)
                w->p[i * WIDE + t] = r[i * WIDE + t] / w->size[i] +
                                     (rw[t] > 0 ? next[t] / rw[t] : 0) * w->p[i * WIDE + t];
        going = false;
        for (size_t t = 0; t < WIDE; t++) {
            rw[t] = next[t];
            going = going || rw[t] > RESIDUAL * RESIDUAL * first[t];
        }
    }
}

/* c -= y' M^-1 y. With z and r = y - M z, y_s' z_t + z_s' r_t is off by the square of what is
 * left only. */
static pl_code iterate_part(pl_arena *a, crossed *x, const size_t *block, size_t n, double *c)
{
    size_t all = x->treatments, wide = (all + WIDE - 1) / WIDE, length = n * WIDE;
    double *z = pl_arena_get(a, wide, length * sizeof *z);
    double *r = pl_arena_get(a, wide, length * sizeof *r);
    columns w = {
        .block = block, .n = n, .p = PL_NEWN(a, length, double), .q = PL_NEWN(a, length, double)
    };

    if (!z || !r || !w.p || !w.q || !number_many(a, x, &w))
        return PL_ENOMEM;
    w.mean = pl_arena_get(a, w.nmany, WIDE * sizeof *w.mean);
    if (!w.mean)
        return PL_ENOMEM;
    for (size_t k = 0; k < wide; k++) {
        w.from = k * WIDE;
        solve(x, &w, z + k * length, r + k * length);
    }
    for (size_t s = 0; s < all; s++)
        for (size_t t = 0; t <= s; t++) {
            const double *zs = z + s / WIDE * length + s % WIDE,
                         *zt = z + t / WIDE * length + t % WIDE;
            const double *rt = r + t / WIDE * length + t % WIDE;
            double sum = 0;

            for (size_t i = 0; i < n; i++)
                sum += x->y[block[i] * all + s] * zt[i * WIDE] + zs[i * WIDE] * rt[i * WIDE];
            c[s * all + t] -= sum;
            if (s > t)
                c[t * all + s] -= sum;
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
                  .number = PL_NEWN(a, of_many->n, uint32_t) };
    size_t *first = NULL, *place = PL_NEWN(a, of_few->n, size_t), nparts = 0;
    pl_code rc = PL_OK;

    x.y = pl_arena_get(a, of_few->n, x.treatments * sizeof *x.y);
    if (!x.part || !x.order || !x.number || !x.y || !place)
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
