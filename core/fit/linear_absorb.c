/* Elimination of block factors. Which blocks a step absorbs is linear_step.c's. */
#include "fit/linear_absorb.h"

#include <string.h>

/* A pivot below this share of its count is rounding: counts are whole numbers held exactly, so
 * what is not 0 is at least about 1 / (count * levels). */
#define PIVOT_TOL 1e-14

static size_t place(const pl_absorb *b, size_t k, size_t row)
{
    return b->offset[k] + (size_t)b->factors[k]->code[row];
}

/* ldl = counts among the other factors, less what the leading factor explains of them. */
static bool fill_rest(pl_arena *a, pl_absorb *b)
{
    size_t n = b->n, m = b->nrest, lead = b->factors[0]->nlevel;
    size_t *start = PL_NEWN(a, lead + 1, size_t), *rows = PL_NEWN(a, n, size_t);
    double *w = PL_NEWN(a, m, double);
    size_t *met = PL_NEWN(a, m, size_t);

    if (!start || !rows || !w || !met)
        return false;
    for (size_t i = 0; i < n; i++) {
        for (size_t k = 1; k < b->nfactor; k++)
            for (size_t l = 1; l < b->nfactor; l++) {
                pl_dd *s = &b->ldl[(place(b, k, i) - lead) * m + place(b, l, i) - lead];

                *s = pl_dd_add(*s, pl_dd_of(1));
            }
        start[b->factors[0]->code[i] + 1]++;
    }
    for (size_t l = 0; l < lead; l++)
        start[l + 1] += start[l];
    for (size_t i = n; i-- > 0;) /* start[l+1] is used up to become the start of l + 1 */
        rows[--start[b->factors[0]->code[i] + 1]] = i;
    for (size_t l = 0; l < lead; l++) {
        size_t from = start[l + 1], to = l + 1 < lead ? start[l + 2] : n, nmet = 0;

        for (size_t r = from; r < to; r++)
            for (size_t k = 1; k < b->nfactor; k++) {
                size_t c = place(b, k, rows[r]) - lead;

                if (w[c] == 0)
                    met[nmet++] = c;
                w[c] += 1;
            }
        for (size_t i = 0; i < nmet; i++)
            for (size_t j = 0; j < nmet; j++) {
                pl_dd *s = &b->ldl[met[i] * m + met[j]];

                *s = pl_dd_sub(*s, pl_dd_div(pl_dd_of(w[met[i]] * w[met[j]]), b->count[l]));
            }
        for (size_t i = 0; i < nmet; i++)
            w[met[i]] = 0;
    }
    return true;
}

static size_t decompose(pl_absorb *b, const double *count)
{
    size_t m = b->nrest, rank = 0;
    pl_dd *s = b->ldl;

    for (size_t j = 0; j < m; j++) {
        b->dropped[j] = !(s[j * m + j].hi > PIVOT_TOL * count[j]);
        if (b->dropped[j])
            continue;
        rank++;
        for (size_t i = j + 1; i < m; i++) {
            pl_dd f = pl_dd_div(s[i * m + j], s[j * m + j]);

            if (f.hi == 0)
                continue;
            for (size_t k = j + 1; k <= i; k++)
                s[i * m + k] = pl_dd_sub(s[i * m + k], pl_dd_mul(f, s[k * m + j]));
        }
        for (size_t i = j + 1; i < m; i++)
            s[i * m + j] = pl_dd_div(s[i * m + j], s[j * m + j]);
    }
    return rank;
}

/* g: totals per level in, constants out. */
static void solve(const pl_absorb *b, pl_dd *g)
{
    size_t lead = b->factors[0]->nlevel, m = b->nrest;
    pl_dd *t = g + lead;

    for (size_t i = 0; m && i < b->n; i++) {
        size_t l = (size_t)b->factors[0]->code[i];
        pl_dd mean = pl_dd_div(g[l], b->count[l]);

        for (size_t k = 1; k < b->nfactor; k++)
            g[place(b, k, i)] = pl_dd_sub(g[place(b, k, i)], mean);
    }
    for (size_t j = 0; j < m; j++)
        for (size_t i = j + 1; !b->dropped[j] && i < m; i++)
            t[i] = pl_dd_sub(t[i], pl_dd_mul(b->ldl[i * m + j], t[j]));
    for (size_t j = m; j-- > 0;) {
        t[j] = b->dropped[j] ? pl_dd_of(0) : pl_dd_div(t[j], b->ldl[j * m + j]);
        for (size_t i = j + 1; !b->dropped[j] && i < m; i++)
            if (!b->dropped[i])
                t[j] = pl_dd_sub(t[j], pl_dd_mul(b->ldl[i * m + j], t[i]));
    }
    for (size_t i = 0; m && i < b->n; i++)
        for (size_t k = 1; k < b->nfactor; k++)
            g[place(b, 0, i)] = pl_dd_sub(g[place(b, 0, i)], g[place(b, k, i)]);
    for (size_t l = 0; l < lead; l++)
        g[l] = pl_dd_div(g[l], b->count[l]);
}

static pl_dd average(const pl_absorb *b, const pl_dd *g)
{
    pl_dd s = pl_dd_of(0);

    for (size_t k = 0; k < b->nfactor; k++)
        for (size_t l = 0; l < b->factors[k]->nlevel; l++)
            s = pl_dd_mac(s, pl_dd_of(b->factors[k]->weight[l]), g[b->offset[k] + l]);
    return s;
}

/* The average over all blocks is a'g with a the weights. Its variance is a'(N^-)a; it can be
 * told if N (N^- a) = a again. */
static bool weigh(pl_arena *a, pl_absorb *b)
{
    pl_dd *g = PL_NEWN(a, b->nlevel, pl_dd), *back = PL_NEWN(a, b->nlevel, pl_dd);

    if (!g || !back)
        return false;
    for (size_t k = 0; k < b->nfactor; k++)
        for (size_t l = 0; l < b->factors[k]->nlevel; l++)
            g[b->offset[k] + l] = pl_dd_of(b->factors[k]->weight[l]);
    solve(b, g);
    b->average_variance = average(b, g);
    for (size_t i = 0; i < b->n; i++) {
        pl_dd s = pl_dd_of(0);

        for (size_t k = 0; k < b->nfactor; k++)
            s = pl_dd_add(s, g[place(b, k, i)]);
        for (size_t k = 0; k < b->nfactor; k++)
            back[place(b, k, i)] = pl_dd_add(back[place(b, k, i)], s);
    }
    b->connected = true;
    for (size_t k = 0; k < b->nfactor; k++)
        for (size_t l = 0; l < b->factors[k]->nlevel; l++)
            if (fabs(back[b->offset[k] + l].hi - b->factors[k]->weight[l]) > 1e-9)
                b->connected = false;
    return true;
}

static const pl_absorb_factor *one_block(pl_arena *a, size_t n)
{
    pl_absorb_factor *all = PL_NEW(a, pl_absorb_factor);
    int *code = PL_NEWN(a, n, int); /* zeroed: every row in block 0 */
    double *weight = PL_NEW(a, double);

    if (!all || !code || !weight)
        return NULL;
    *weight = 1;
    *all = (pl_absorb_factor){ code, 1, weight };
    return all;
}

static bool set_out(pl_arena *a, pl_absorb *b, const pl_absorb_factor *const *factors)
{
    size_t lead = 0;

    b->factors = PL_NEWN(a, b->nfactor, const pl_absorb_factor *);
    b->offset = PL_NEWN(a, b->nfactor, size_t);
    if (!b->factors || !b->offset)
        return false;
    for (size_t k = 0; k < b->nfactor; k++)
        if (factors[k]->nlevel > factors[lead]->nlevel)
            lead = k;
    for (size_t k = 0, at = 1; k < b->nfactor; k++)
        b->factors[k == lead ? 0 : at++] = factors[k];
    for (size_t k = 0; k < b->nfactor; k++) {
        b->offset[k] = b->nlevel;
        b->nlevel += b->factors[k]->nlevel;
    }
    b->nrest = b->nlevel - b->factors[0]->nlevel;
    b->count = PL_NEWN(a, b->factors[0]->nlevel, pl_dd);
    b->ldl = pl_arena_get(a, b->nrest, b->nrest * sizeof(pl_dd));
    b->dropped = PL_NEWN(a, b->nrest, bool);
    if (!b->count || !b->ldl || !b->dropped)
        return false;
    for (size_t i = 0; i < b->n; i++) {
        pl_dd *c = &b->count[b->factors[0]->code[i]];

        *c = pl_dd_add(*c, pl_dd_of(1));
    }
    return true;
}

pl_absorb *pl_absorb_new(pl_arena *a, const pl_absorb_factor *const *factors, size_t nfactor,
                         size_t n, bool intercept)
{
    pl_absorb *b = PL_NEW(a, pl_absorb);
    const pl_absorb_factor *all = NULL;
    double *count;

    if (!b)
        return NULL;
    b->n = n;
    b->connected = true;
    if (!nfactor && !intercept)
        return b;
    if (!nfactor) {
        all = one_block(a, n);
        if (!all)
            return NULL;
        factors = &all;
        nfactor = 1;
    }
    b->nfactor = nfactor;
    if (!set_out(a, b, factors))
        return NULL;
    b->rank = b->factors[0]->nlevel;
    count = PL_NEWN(a, b->nrest, double);
    if (!count || (b->nrest && !fill_rest(a, b)))
        return NULL;
    for (size_t i = 0; i < n; i++)
        for (size_t k = 1; k < nfactor; k++)
            count[place(b, k, i) - b->factors[0]->nlevel] += 1;
    b->rank += decompose(b, count);
    return weigh(a, b) ? b : NULL;
}

pl_dd pl_absorb_take(const pl_absorb *b, pl_dd *v, pl_dd *g)
{
    if (!b->nfactor)
        return pl_dd_of(0);
    memset(g, 0, b->nlevel * sizeof *g);
    for (size_t i = 0; i < b->n; i++)
        for (size_t k = 0; k < b->nfactor; k++)
            g[place(b, k, i)] = pl_dd_add(g[place(b, k, i)], v[i]);
    solve(b, g);
    for (size_t i = 0; i < b->n; i++)
        for (size_t k = 0; k < b->nfactor; k++)
            v[i] = pl_dd_sub(v[i], g[place(b, k, i)]);
    return average(b, g);
}
