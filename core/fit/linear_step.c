/* One step of a linear model: blocks out, least squares of what is left; and which
 * terms lie between blocks. What the steps mean together is linear_tables.c's. */
#include <math.h>
#include <string.h>

#include "base/text.h"
#include "fit/linear_inner.h"

static pl_dd squares(const pl_dd *v, size_t n)
{
    pl_dd s = pl_dd_of(0);

    for (size_t i = 0; i < n; i++)
        s = pl_dd_mac(s, v[i], v[i]);
    return s;
}

/* Blocks whose partition another one in the set refines add nothing. */
static pl_absorb *absorb(pl_arena *a, const pl_lin *m, const bool *in)
{
    const pl_absorb_factor **f = PL_NEWN(a, m->nblock, const pl_absorb_factor *);
    size_t n = 0;

    if (!f)
        return NULL;
    for (size_t b = 0; b < m->nblock; b++) {
        bool needed = in[b];

        for (size_t c = 0; needed && c < m->nblock; c++)
            needed = !(in[c] && (m->blocks[b].finer[c] || m->blocks[b].same[c]));
        if (needed)
            f[n++] = &m->blocks[b].factor;
    }
    return pl_absorb_new(a, f, n, m->n, !m->through_zero);
}

/* The columns of a term, blocks taken out, go to work column `at` and on. True if anything is
 * left of them. */
static bool load_term(const pl_lin *m, const pl_absorb *b, const pl_lin_term *t, size_t at,
                      pl_dd *centre, double *length)
{
    bool left = false;

    for (size_t j = 0; j < t->ncol; j++) {
        pl_dd *w = m->work_x + (at + j) * m->n;
        const double *x = m->x + (t->first + j) * m->n;

        for (size_t i = 0; i < m->n; i++)
            w[i] = pl_dd_of(x[i]);
        centre[at + j] = pl_absorb_take(b, w, m->room);
        length[at + j] = m->length[t->first + j];
        if (sqrt(squares(w, m->n).hi) > PL_LSQ_RANK_TOL * length[at + j])
            left = true;
    }
    return left;
}

pl_code pl_lin_step_fit(pl_arena *a, const pl_lin *m, const bool *in, const bool *terms,
                        pl_lin_step *out, pl_diags *diags)
{
    pl_lin_step s = { .absorbed = absorb(a, m, in) };
    double *length = PL_NEWN(a, m->ncol, double);
    size_t p = 0;
    pl_code rc;

    s.present = PL_NEWN(a, m->nterm, bool);
    s.at = PL_NEWN(a, m->nterm, size_t);
    s.centre = PL_NEWN(a, m->ncol, pl_dd);
    if (!s.absorbed || !length || !s.present || !s.at || !s.centre)
        return pl_nomem(diags);
    for (size_t t = 0; t < m->nterm; t++) {
        if (!terms[t])
            continue;
        s.at[t] = p;
        s.present[t] = load_term(m, s.absorbed, &m->terms[t], p, s.centre, length);
        if (s.present[t])
            p += m->terms[t].ncol;
    }
    for (size_t i = 0; i < m->n; i++)
        m->work_y[i] = pl_dd_of(m->y[i]);
    s.y_centre = pl_absorb_take(s.absorbed, m->work_y, m->room);
    s.tss = squares(m->work_y, m->n);
    rc = pl_lsq_factor(a, m->columns, m->work_y, m->n, p, length, &s.lsq, diags);
    s.rank = s.absorbed->rank + s.lsq.rank;
    *out = s;
    return rc;
}

/* In place: lower Cholesky factor of the k x k matrix c; false if it is not positive. */
static bool cholesky(pl_dd *c, size_t k)
{
    for (size_t j = 0; j < k; j++)
        for (size_t i = j; i < k; i++) {
            pl_dd s = c[i * k + j];

            for (size_t l = 0; l < j; l++)
                s = pl_dd_sub(s, pl_dd_mul(c[i * k + l], c[j * k + l]));
            if (i == j && !(s.hi > 0))
                return false;
            c[i * k + j] = i == j ? pl_dd_sqrt(s) : pl_dd_div(s, c[j * k + j]);
        }
    return true;
}

pl_code pl_lin_term_ss(pl_arena *a, const pl_lin *m, const pl_lin_step *s, size_t term, double *out,
                       pl_diags *diags)
{
    size_t k = m->terms[term].ncol, at = s->at[term], p = s->lsq.p;
    pl_mark mark = pl_arena_mark(a);
    pl_dd *c = pl_arena_get(a, k, k * sizeof *c), *z = PL_NEWN(a, k, pl_dd);
    pl_dd ss = pl_dd_of(0);

    if (!c || !z)
        return pl_nomem(diags);
    for (size_t i = 0; i < k; i++)
        memcpy(c + i * k, s->lsq.inverse_dd + (at + i) * p + at, k * sizeof *c);
    *out = NAN;
    if (cholesky(c, k)) {
        for (size_t i = 0; i < k; i++) {
            z[i] = s->lsq.beta_dd[at + i];
            for (size_t l = 0; l < i; l++)
                z[i] = pl_dd_sub(z[i], pl_dd_mul(c[i * k + l], z[l]));
            z[i] = pl_dd_div(z[i], c[i * k + i]);
            ss = pl_dd_mac(ss, z[i], z[i]);
        }
        *out = pl_dd_value(ss);
    }
    pl_arena_reset(a, mark);
    return PL_OK;
}

/* ------------------------------------------------------------- strata ---- */

/* Every level of fine lies in one level of coarse. */
static bool lies_inside(const pl_absorb_factor *fine, const pl_absorb_factor *coarse, size_t n,
                        int *home)
{
    for (size_t l = 0; l < fine->nlevel; l++)
        home[l] = -1;
    for (size_t i = 0; i < n; i++) {
        int *h = &home[fine->code[i]];

        if (*h >= 0 && *h != coarse->code[i])
            return false;
        *h = coarse->code[i];
    }
    return true;
}

static bool relate_blocks(pl_arena *a, pl_lin *m)
{
    pl_lin_block *b = m->blocks;
    int *home = PL_NEWN(a, m->n, int);
    size_t *count = PL_NEWN(a, m->n, size_t);

    if (!home || !count)
        return false;
    for (size_t i = 0; i < m->nblock; i++) {
        b[i].finer = PL_NEWN(a, m->nblock, bool);
        b[i].same = PL_NEWN(a, m->nblock, bool);
        if (!b[i].finer || !b[i].same)
            return false;
        for (size_t j = 0; j < m->nblock; j++) {
            bool in = i != j && lies_inside(&b[j].factor, &b[i].factor, m->n, home);
            bool out = i != j && lies_inside(&b[i].factor, &b[j].factor, m->n, home);

            b[i].finer[j] = in && !out;
            b[i].same[j] = in && out && j < i;
        }
        memset(count, 0, m->n * sizeof *count);
        for (size_t r = 0; r < m->n; r++)
            count[b[i].factor.code[r]] += !m->reference || !m->reference[r];
        b[i].even = true;
        for (size_t l = 0, most = 0; l < b[i].factor.nlevel; l++) {
            if (count[l] && most && count[l] != most)
                b[i].even = false;
            most = count[l] ? count[l] : most;
        }
    }
    return true;
}

/* The coarsest of some blocks: fewest levels, the first of equals. */
static size_t coarsest(const pl_lin *m, const bool *of)
{
    size_t best = PL_LIN_RESIDUAL;

    for (size_t b = 0; b < m->nblock; b++)
        if (of[b] && b != m->tie &&
            (best == PL_LIN_RESIDUAL || m->blocks[b].factor.nlevel < m->blocks[best].factor.nlevel))
            best = b;
    return best;
}

static bool place_terms(pl_arena *a, pl_lin *m)
{
    bool *constant = pl_arena_get(a, m->nterm, m->nblock * sizeof(bool));
    pl_dd *centre = PL_NEWN(a, m->ncol, pl_dd);
    double *length = PL_NEWN(a, m->ncol, double);

    if (!constant || !centre || !length)
        return false;
    for (size_t b = 0; b < m->nblock; b++) {
        /* reference joints may lift a term out of blocks only where they tie them */
        bool tied = m->tie != SIZE_MAX && b != m->tie;
        const pl_absorb_factor *f[2] = { &m->blocks[b].factor,
                                         tied ? &m->blocks[m->tie].factor : NULL };
        pl_absorb *alone = pl_absorb_new(a, f, tied ? 2 : 1, m->n, true);

        if (!alone)
            return false;
        for (size_t t = 0; t < m->nterm; t++)
            constant[t * m->nblock + b] = !load_term(m, alone, &m->terms[t], 0, centre, length);
    }
    for (size_t t = 0; t < m->nterm; t++)
        m->terms[t].stratum = coarsest(m, constant + t * m->nblock);
    return true;
}

/* Blocks that differ in a term judged between them stand in cells of that term; each cell
 * counts alike, and each block within its cell. */
static bool weigh_levels(pl_arena *a, const pl_lin *m, size_t b)
{
    pl_absorb_factor *f = &m->blocks[b].factor;
    double *weight = PL_NEWN(a, f->nlevel, double);
    size_t *row = PL_NEWN(a, f->nlevel, size_t), *cell = PL_NEWN(a, f->nlevel, size_t);
    size_t *first = PL_NEWN(a, f->nlevel, size_t), *size = PL_NEWN(a, f->nlevel, size_t);
    size_t ncell = 0;

    if (!weight || !row || !cell || !first || !size)
        return false;
    for (size_t l = 0; l < f->nlevel; l++)
        row[l] = SIZE_MAX;
    for (size_t i = 0; i < m->n; i++)
        if (!m->reference || !m->reference[i])
            row[f->code[i]] = i;
    for (size_t l = 0; l < f->nlevel; l++) {
        size_t c = 0;

        if (row[l] == SIZE_MAX)
            continue; /* reference joints alone: no level is averaged over it */
        for (; c < ncell; c++) {
            bool same = true;

            for (size_t t = 0; same && t < m->nterm; t++) {
                const pl_term *e = m->terms[t].effect;

                /* an effect constant here only as a contrast has no cell of its own */
                same = !e || m->terms[t].stratum != b || e->nfactor > 1 ||
                       pl_term_cell_of_row(e, row[l]) == pl_term_cell_of_row(e, row[first[c]]);
            }
            if (same)
                break;
        }
        if (c == ncell)
            first[ncell++] = l;
        cell[l] = c;
        size[c]++;
    }
    for (size_t l = 0; l < f->nlevel; l++)
        weight[l] = row[l] == SIZE_MAX ? 0 : 1 / ((double)ncell * (double)size[cell[l]]);
    f->weight = weight;
    return true;
}

/* What tells reference joints from the others comes first; a block before those inside it; else as
 * given. */
static void put_in_order(pl_lin *m, bool *done)
{
    size_t k = m->tie != SIZE_MAX;

    if (k) {
        m->order[0] = m->tie;
        done[m->tie] = true;
    }
    for (; k < m->nblock; k++)
        for (size_t b = 0; b < m->nblock; b++) {
            bool ready = !done[b];

            for (size_t c = 0; ready && c < m->nblock; c++)
                ready = done[c] || !m->blocks[c].finer[b];
            if (ready) {
                m->order[k] = b;
                done[b] = true;
                break;
            }
        }
}

pl_code pl_lin_strata(pl_arena *a, pl_lin *m, pl_diags *diags)
{
    bool *done = PL_NEWN(a, m->nblock, bool);
    double *flat = PL_NEWN(a, m->n, double); /* weights while the true ones are not known */

    m->order = PL_NEWN(a, m->nblock, size_t);
    if (!done || !flat || !m->order || !relate_blocks(a, m))
        return pl_nomem(diags);
    for (size_t b = 0; b < m->nblock; b++)
        m->blocks[b].factor.weight = flat;
    if (!place_terms(a, m))
        return pl_nomem(diags);
    for (size_t b = 0; b < m->nblock; b++) {
        m->blocks[b].judged = coarsest(m, m->blocks[b].finer);
        if (!weigh_levels(a, m, b))
            return pl_nomem(diags);
    }
    put_in_order(m, done);
    return PL_OK;
}
