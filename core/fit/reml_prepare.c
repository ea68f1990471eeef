/* Restricted likelihood made ready: columns put at right angles, levels summed up, which levels
 * meet which, and the memory that every step works in. The likelihood is reml.c's. */
#include <math.h>
#include <stdint.h>
#include <string.h>

#include "base/text.h"
#include "fit/dd.h"
#include "fit/reml_inner.h"

/* Left of a column after those before it, as a share of its length (as in lsq.h). */
#define RANK_TOL 1e-13

static pl_dd dot(const pl_dd *u, const pl_dd *v, size_t n)
{
    pl_dd s = pl_dd_of(0);

    for (size_t i = 0; i < n; i++)
        s = pl_dd_mac(s, u[i], v[i]);
    return s;
}

static void subtract(pl_dd *v, const pl_dd *u, pl_dd times, size_t n)
{
    pl_dd s = pl_dd_neg(times);

    for (size_t i = 0; i < n; i++)
        v[i] = pl_dd_mac(v[i], s, u[i]);
}

/* Columns of x made orthonormal one after the other, y freed of them: columns 0..p-1 and p of w->q.
 * y = Q (Q'y) + what is left; only the latter takes part. */
static pl_code orthonormal(pl_arena *a, const pl_reml_data *d, pl_reml_work *w, pl_diags *diags)
{
    size_t n = d->n, p = d->p;
    pl_mark mark;
    pl_dd *v;

    w->t = pl_arena_get(a, p, p * sizeof *w->t);
    w->qy = PL_NEWN(a, p, double);
    w->q = pl_arena_get(a, n, (p + 1) * sizeof *w->q);
    mark = pl_arena_mark(a);
    v = pl_arena_get(a, p + 1, n * sizeof *v);
    if (!w->t || !w->qy || !w->q || !v)
        return pl_nomem(diags);
    for (size_t j = 0; j <= p; j++) {
        pl_dd *c = v + j * n, root;
        double length = 0;

        for (size_t i = 0; i < n; i++) {
            c[i] = pl_dd_of(j < p ? d->x[j * n + i] : d->y[i]);
            length += c[i].hi * c[i].hi;
        }
        for (size_t k = 0; k < j; k++) {
            pl_dd s = dot(v + k * n, c, n);

            subtract(c, v + k * n, s, n);
            *(j < p ? &w->t[k * p + j] : &w->qy[k]) = pl_dd_value(s);
        }
        if (j == p)
            break;
        root = pl_dd_sqrt(dot(c, c, n));
        if (!(root.hi > RANK_TOL * sqrt(length)))
            return pl_fail(
                diags, PL_ERANK, "random blocks",
                .found = pl_arena_printf(diags->arena, "column %zu made up of others", j + 1),
                .expected = "columns that each add something");
        w->t[j * p + j] = pl_dd_value(root);
        for (size_t i = 0; i < n; i++)
            c[i] = pl_dd_div(c[i], root);
    }
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j <= p; j++)
            w->q[i * (p + 1) + j] = pl_dd_value(v[j * n + i]);
    pl_arena_reset(a, mark);
    return PL_OK;
}

static pl_code choose_lead(pl_arena *a, const pl_reml_data *d, pl_reml_work *w, pl_diags *diags)
{
    w->lead = 0;
    for (size_t k = 1; k < d->nfactor; k++)
        if (d->nlevel[k] > d->nlevel[w->lead])
            w->lead = k;
    w->nlead = d->nlevel[w->lead];
    for (size_t k = 0; k < d->nfactor; k++) {
        w->offset[k] = w->nrest;
        w->nrest += k == w->lead ? 0 : d->nlevel[k];
    }
    if (w->nlead >= d->n)
        return pl_fail(diags, PL_ERANK, "random blocks",
                       .found = "a random block with one row in each level",
                       .expected = "several rows in some; else it is the residual itself");
    if (w->nrest > PL_REML_REST_MOST)
        return pl_fail(diags, PL_EDATA, "random blocks",
                       .found = pl_arena_printf(diags->arena,
                                                "%zu levels besides the largest block", w->nrest),
                       .expected = pl_arena_printf(diags->arena, "%d at most", PL_REML_REST_MOST));
    w->count = PL_NEWN(a, w->nlead, double);
    w->sum = pl_arena_get(a, w->nlead, w->m * sizeof *w->sum);
    w->within = pl_arena_get(a, w->m, w->m * sizeof *w->within);
    return w->count && w->sum && w->within ? PL_OK : pl_nomem(diags);
}

/* Totals of each column over each lead level; what varies within them, as a table of products. */
static void sum_levels(const pl_reml_data *d, pl_reml_work *w)
{
    const int *code = d->code[w->lead];
    size_t m = w->m;

    for (size_t i = 0; i < d->n; i++) {
        double *s = w->sum + (size_t)code[i] * m;

        w->count[code[i]] += 1;
        for (size_t j = 0; j < m; j++)
            s[j] += w->q[i * m + j];
    }
    for (size_t i = 0; i < d->n; i++) {
        const double *s = w->sum + (size_t)code[i] * m, count = w->count[code[i]];
        double *q = w->q + i * m;

        for (size_t j = 0; j < m; j++)
            q[j] -= s[j] / count;
        for (size_t j = 0; j < m; j++)
            for (size_t k = 0; k <= j; k++)
                w->within[j * m + k] += q[j] * q[k];
    }
    for (size_t j = 0; j < m; j++)
        for (size_t k = 0; k < j; k++)
            w->within[k * m + j] = w->within[j * m + k];
}

/* Lead levels alike in size, when no other factor tells them apart: products of totals a size. */
static bool group_sizes(pl_arena *a, pl_reml_work *w)
{
    size_t m = w->m, most = 0, *place;

    for (size_t l = 0; l < w->nlead; l++)
        most = w->count[l] > (double)most ? (size_t)w->count[l] : most;
    place = PL_NEWN(a, most + 1, size_t);
    if (!place)
        return false;
    for (size_t l = 0; l < w->nlead; l++)
        if (!place[(size_t)w->count[l]])
            place[(size_t)w->count[l]] = ++w->nsize;
    w->size = PL_NEWN(a, w->nsize, double);
    w->many = PL_NEWN(a, w->nsize, double);
    w->between = pl_arena_get(a, w->nsize, m * m * sizeof *w->between);
    if (!w->size || !w->many || !w->between)
        return false;
    for (size_t l = 0; l < w->nlead; l++) {
        size_t s = place[(size_t)w->count[l]] - 1;
        const double *t = w->sum + l * m;
        double *b = w->between + s * m * m;

        w->size[s] = w->count[l];
        w->many[s] += 1;
        for (size_t j = 0; j < m; j++)
            for (size_t k = 0; k < m; k++)
                b[j * m + k] += t[j] * t[k];
    }
    return true;
}

/* For each lead level, which levels of the other factors it meets and how often. */
static bool meet(pl_arena *a, const pl_reml_data *d, pl_reml_work *w)
{
    size_t n = d->n, r = w->nrest, *row = PL_NEWN(a, n, size_t), *seen = PL_NEWN(a, r, size_t),
           at = 0;
    const int *code = d->code[w->lead];

    w->start = PL_NEWN(a, w->nlead + 1, size_t);
    w->met = PL_NEWN(a, n * (d->nfactor - 1), size_t);
    w->times = PL_NEWN(a, n * (d->nfactor - 1), double);
    w->rest_count = pl_arena_get(a, r, r * sizeof *w->rest_count);
    w->rest_q = pl_arena_get(a, r, w->m * sizeof *w->rest_q);
    if (!row || !seen || !w->start || !w->met || !w->times || !w->rest_count || !w->rest_q)
        return false;
    for (size_t i = 0; i < n; i++)
        w->start[code[i] + 1]++;
    for (size_t l = 0; l < w->nlead; l++)
        w->start[l + 1] += w->start[l];
    for (size_t i = 0; i < n; i++)
        row[w->start[code[i]]++] = i;
    memmove(w->start + 1, w->start, w->nlead * sizeof *w->start);
    w->start[0] = 0;
    memset(seen, 0xff, r * sizeof *seen);
    for (size_t l = 0, from = 0; l < w->nlead; l++) {
        size_t first = at, to = w->start[l + 1];

        for (size_t i = from; i < to; i++)
            for (size_t k = 0; k < d->nfactor; k++) {
                size_t c;

                if (k == w->lead)
                    continue;
                c = w->offset[k] + (size_t)d->code[k][row[i]];
                if (seen[c] == SIZE_MAX || seen[c] < first) {
                    seen[c] = at;
                    w->met[at] = c;
                    w->times[at++] = 0;
                }
                w->times[seen[c]] += 1;
                for (size_t j = 0; j < w->m; j++) /* columns freed of the lead levels' means */
                    w->rest_q[c * w->m + j] += w->q[row[i] * w->m + j];
                for (size_t k2 = 0; k2 < d->nfactor; k2++)
                    if (k2 != w->lead)
                        w->rest_count[c * r + w->offset[k2] + (size_t)d->code[k2][row[i]]] += 1;
            }
        from = to;
        w->start[l] = first;
        for (size_t i = first; i < at; i++)
            for (size_t k = first; k < at; k++)
                w->rest_count[w->met[i] * r + w->met[k]] -= w->times[i] * w->times[k] / w->count[l];
    }
    w->start[w->nlead] = at;
    return true;
}

static bool make_room(pl_arena *a, pl_reml_work *w)
{
    size_t m = w->m, r = w->nrest, p = w->p, K = w->K, wide = r > m ? r : m;

    w->S = PL_NEWN(a, m * m, double);
    w->A = PL_NEWN(a, p * p + 1, double);
    w->C = PL_NEWN(a, p * p + 1, double);
    w->g = PL_NEWN(a, p + 1, double);
    w->room3 = PL_NEWN(a, p * p + 1, double);
    w->u = PL_NEWN(a, m, double);
    if (!w->S || !w->A || !w->C || !w->g || !w->room3 || !w->u)
        return false;
    for (size_t k = 0; k < K; k++) {
        w->P[k] = PL_NEWN(a, m * m, double);
        w->CP[k] = PL_NEWN(a, p * p + 1, double);
        w->Cg[k] = PL_NEWN(a, p + 1, double);
        if (!w->P[k] || !w->CP[k] || !w->Cg[k])
            return false;
        for (size_t l = 0; l < K; l++)
            if (!(w->H[k * K + l] = PL_NEWN(a, m * m, double)))
                return false;
    }
    if (!r)
        return true;
    w->root = PL_NEWN(a, r, double);
    w->N = pl_arena_get(a, r, r * sizeof(double));
    w->M = pl_arena_get(a, r, r * sizeof(double));
    w->G = pl_arena_get(a, r, r * sizeof(double));
    w->GD = pl_arena_get(a, r, r * sizeof(double));
    w->J = pl_arena_get(a, r, r * sizeof(double));
    w->NJ = pl_arena_get(a, r, r * sizeof(double));
    w->E = pl_arena_get(a, r, m * sizeof(double));
    w->LE = pl_arena_get(a, r, m * sizeof(double));
    w->KE = pl_arena_get(a, r, m * sizeof(double));
    w->FU = pl_arena_get(a, r, m * sizeof(double));
    w->U2 = pl_arena_get(a, r, m * sizeof(double));
    w->room = pl_arena_get(a, r, wide * sizeof(double));
    w->room2 = pl_arena_get(a, r, wide * sizeof(double));
    return w->root && w->N && w->M && w->G && w->GD && w->J && w->NJ && w->E && w->LE && w->KE &&
           w->FU && w->U2 && w->room && w->room2;
}

pl_code pl_reml_prepare(pl_arena *a, const pl_reml_data *d, pl_reml_work *w, pl_diags *diags)
{
    pl_code rc;

    *w = (pl_reml_work){ .n = d->n, .p = d->p, .m = d->p + 1, .K = d->nfactor };
    if (d->n <= d->p)
        return pl_fail(diags, PL_EDATA, "random blocks",
                       .found = pl_arena_printf(diags->arena, "%zu rows", d->n),
                       .expected = pl_arena_printf(diags->arena, "more than %zu", d->p));
    rc = choose_lead(a, d, w, diags);
    rc = rc ? rc : orthonormal(a, d, w, diags);
    if (rc)
        return rc;
    sum_levels(d, w);
    if ((d->nfactor > 1 ? meet(a, d, w) : group_sizes(a, w)) && make_room(a, w))
        return PL_OK;
    (void)pl_nomem(diags);
    return PL_ENOMEM;
}
