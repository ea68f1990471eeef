/* Random blocks of a linear model: the same terms by restricted likelihood, set beside the answer
 * with fixed blocks. The likelihood is reml.c's. */
#include <math.h>
#include <string.h>

#include "base/prob.h"
#include "base/text.h"
#include "fit/linear_inner.h"
#include "fit/reml.h"

/* Recovered information leads from this many degrees of freedom between blocks on: with fewer,
 * how much blocks differ is itself too uncertain a guess (DESIGN's rule). */
#define LEADS_FROM 10

/* Fixed blocks beside random ones stand as columns here. */
#define FIXED_LEVELS_MOST 300

typedef struct mixed {
    pl_arena *a;
    const pl_lin *m;
    pl_diags *d;
    pl_reml *reml;
    pl_linear_side *side;
    size_t p, first; /* columns; 1 behind an intercept, else 0 */
    double *x;
    const char *error;
    double *h; /* p, scratch */
} mixed;

/* -------------------------------------------------------------- columns ---- */

/* The last level that counts in an average over blocks: it stands at -1. */
static size_t base_level(const pl_absorb_factor *f)
{
    size_t base = f->nlevel - 1;

    while (base && !(f->weight[base] > 0))
        base--;
    return base;
}

/* Levels of fixed blocks coded to sum to zero, those that reference joints alone stand in apart;
 * what is made up of columns before it is left out. */
static pl_code add_fixed_blocks(mixed *w, size_t most)
{
    const pl_lin *m = w->m;
    pl_mark mark = pl_arena_mark(w->a);
    pl_dd **columns, *all, *y;
    size_t n = m->n, from = w->p, kept = w->p;
    pl_lsq lsq;
    pl_code rc;

    for (size_t b = 0; b < m->nblock; b++) {
        const pl_absorb_factor *f = &m->blocks[b].factor;
        size_t base = base_level(f);

        for (size_t l = 0; !m->blocks[b].random && l < f->nlevel; l++) {
            for (size_t i = 0; l != base && i < n; i++)
                w->x[w->p * n + i] = ((size_t)f->code[i] == l) -
                                     (f->weight[l] > 0 && (size_t)f->code[i] == base);
            w->p += l != base;
        }
    }
    if (w->p == from)
        return PL_OK;
    columns = PL_NEWN(w->a, w->p, pl_dd *);
    all = pl_arena_get(w->a, most, n * sizeof *all);
    y = PL_NEWN(w->a, n, pl_dd);
    if (!columns || !all || !y)
        return pl_nomem(w->d);
    for (size_t j = 0; j < w->p; j++) {
        columns[j] = all + j * n;
        for (size_t i = 0; i < n; i++)
            columns[j][i] = pl_dd_of(w->x[j * n + i]);
    }
    rc = pl_lsq_factor(w->a, columns, y, n, w->p, NULL, &lsq, w->d);
    for (size_t j = from; j < w->p && !rc; j++)
        if (!lsq.dependent[j])
            memmove(w->x + kept++ * n, w->x + j * n, n * sizeof *w->x);
    w->p = kept;
    pl_arena_reset(w->a, mark);
    return rc;
}

static pl_code fill_columns(mixed *w)
{
    const pl_lin *m = w->m;
    size_t most = m->ncol + 1, levels = 0;

    for (size_t b = 0; b < m->nblock; b++)
        levels += m->blocks[b].random ? 0 : m->blocks[b].factor.nlevel - 1;
    if (levels > FIXED_LEVELS_MOST)
        return pl_fail(w->d, PL_EDATA, m->t->name,
                       .found = pl_arena_printf(w->d->arena, "%zu levels of fixed blocks", levels),
                       .expected = pl_arena_printf(w->d->arena, "%d at most beside random ones",
                                                   FIXED_LEVELS_MOST),
                       .mend = "make the large block random");
    most += levels;
    w->x = pl_arena_get(w->a, most, m->n * sizeof *w->x);
    if (!w->x)
        return pl_nomem(w->d);
    w->first = m->through_zero ? 0 : 1;
    for (size_t i = 0; i < m->n && w->first; i++)
        w->x[i] = 1;
    memcpy(w->x + w->first * m->n, m->x, m->ncol * m->n * sizeof *w->x);
    w->p = w->first + m->ncol;
    return add_fixed_blocks(w, most);
}

static pl_code fit(mixed *w)
{
    const pl_lin *m = w->m;
    const int *code[PL_REML_FACTORS_MOST];
    size_t nlevel[PL_REML_FACTORS_MOST];
    pl_reml_data data = {
        .n = m->n, .p = w->p, .x = w->x, .y = m->y, .code = code, .nlevel = nlevel
    };

    for (size_t b = 0; b < m->nblock; b++) {
        if (!m->blocks[b].random)
            continue;
        if (data.nfactor == PL_REML_FACTORS_MOST)
            return pl_fail(w->d, PL_EUSAGE, m->t->name,
                           .found = pl_arena_printf(w->d->arena, "more than %d random blocks",
                                                    PL_REML_FACTORS_MOST),
                           .expected = "fewer");
        code[data.nfactor] = m->blocks[b].factor.code;
        nlevel[data.nfactor++] = m->blocks[b].factor.nlevel;
    }
    return pl_reml_fit(w->a, &data, w->reml, w->d);
}

/* -------------------------------------------------------------- answers ---- */

static pl_code fill_variances(mixed *w, pl_linear_fit *out)
{
    const pl_lin *m = w->m;
    pl_text names;

    out->variance = PL_NEWN(w->a, w->reml->nfactor + 1, pl_variance);
    if (!out->variance)
        return pl_nomem(w->d);
    pl_text_init(&names, w->a);
    for (size_t b = 0; b < m->nblock; b++) {
        if (!m->blocks[b].random)
            continue;
        out->variance[out->nvariance] = (pl_variance){ .name = m->blocks[b].name,
                                                       .levels = m->blocks[b].factor.nlevel };
        pl_text_add(&names, "%s, ", m->blocks[b].name);
        out->nvariance++;
    }
    pl_text_put(&names, "residual");
    w->error = pl_text_done(&names);
    out->variance[out->nvariance++] = (pl_variance){ .name = "residual", .levels = m->n };
    for (size_t k = 0; k < out->nvariance; k++) {
        double v = w->reml->variance[k];

        out->variance[k].sd = sqrt(v);
        out->variance[k].at_zero = k < w->reml->nfactor && w->reml->at_zero[k];
    }
    out->log_likelihood = w->reml->log_likelihood;
    return w->error ? PL_OK : pl_nomem(w->d);
}

static void limits(const pl_reml_value *v, double *low, double *high)
{
    double t = v->df > 0 ? pl_t_quantile(0.975, v->df) : NAN;

    *low = v->value - t * v->se;
    *high = v->value + t * v->se;
}

static pl_code add_coef(mixed *w, const char *name)
{
    pl_coef *c = &w->side->coefs[w->side->ncoef++];
    pl_reml_value v;
    pl_code rc = pl_reml_combine(w->a, w->reml, w->h, &v, w->d);

    *c = (pl_coef){ .name = name, .estimate = v.value, .se = v.se, .df = v.df };
    limits(&v, &c->low, &c->high);
    return rc;
}

static pl_code fill_coefs(mixed *w)
{
    const pl_lin *m = w->m;
    size_t most = 1;
    pl_code rc = PL_OK;

    for (size_t t = 0; t < m->nterm; t++)
        most += m->terms[t].effect ? m->terms[t].effect->ncell : 1;
    w->side->coefs = PL_NEWN(w->a, most, pl_coef);
    if (!w->side->coefs)
        return pl_nomem(w->d);
    if (w->first) {
        memset(w->h, 0, w->p * sizeof *w->h);
        w->h[0] = 1;
        rc = add_coef(w, "intercept");
    }
    for (size_t t = 0; t < m->nterm; t++) {
        const pl_lin_term *term = &m->terms[t];
        size_t ncell = term->effect ? term->effect->ncell : 1;

        for (size_t c = 0; c < ncell && !rc; c++) {
            const char *name = term->name;

            memset(w->h, 0, w->p * sizeof *w->h);
            w->h[w->first + term->first] = 1;
            if (term->effect) {
                pl_term_code(term->effect, c, w->h + w->first + term->first);
                name = pl_term_cell_name(w->a, term->effect, c);
            }
            rc = name ? add_coef(w, name) : pl_nomem(w->d);
        }
    }
    return rc;
}

/* Each term after all others: exact in its stratum where the layout is balanced, else Kenward &
 * Roger's. */
static pl_code fill_effects(mixed *w, const pl_linear_fit *strata, bool balanced)
{
    const pl_lin *m = w->m;
    double *rows = pl_arena_get(w->a, m->ncol + 1, w->p * sizeof *rows);
    pl_code rc = PL_OK;

    w->side->effects = PL_NEWN(w->a, m->nterm, pl_effect);
    if (!rows || !w->side->effects)
        return pl_nomem(w->d);
    for (size_t t = 0; t < m->nterm && !rc; t++) {
        const pl_lin_term *term = &m->terms[t];
        pl_effect *e = &w->side->effects[w->side->neffect++];
        pl_reml_test test;

        for (size_t i = 0; i < strata->neffect; i++)
            if (strata->effects[i].kind == PL_SS_AFTER_ALL_OTHERS &&
                !strcmp(strata->effects[i].name, term->name))
                *e = strata->effects[i];
        if (balanced)
            continue;
        memset(rows, 0, term->ncol * w->p * sizeof *rows);
        for (size_t j = 0; j < term->ncol; j++)
            rows[j * w->p + w->first + term->first + j] = 1;
        rc = pl_reml_f(w->a, w->reml, rows, term->ncol, &test, w->d);
        *e = (pl_effect){ .name = term->name,
                          .kind = PL_SS_AFTER_ALL_OTHERS,
                          .df = test.df1,
                          .ss = NAN,
                          .ms = NAN,
                          .f = test.f,
                          .p = test.p,
                          .error = w->error,
                          .error_df = test.df2,
                          .error_ms = NAN };
    }
    return rc;
}

static pl_code add_means(mixed *w, size_t t, const pl_levels *like, pl_mean *like_means)
{
    const pl_lin *m = w->m;
    const pl_term *e = m->terms[t].effect;
    double *rows = pl_arena_get(w->a, e->ncell, w->p * sizeof *rows);
    double *estimate = PL_NEWN(w->a, e->ncell, double);
    double *cov = pl_arena_get(w->a, e->ncell, e->ncell * sizeof *cov);
    double *room = PL_NEWN(w->a, m->ncol + 1, double);

    if (!rows || !estimate || !cov || !room)
        return pl_nomem(w->d);
    for (size_t l = 0; l < e->ncell; l++) {
        pl_mean *mean = &w->side->means[w->side->nmean++];
        double *h = rows + l * w->p;
        pl_reml_value v;

        h[0] = 1;
        pl_lin_code_cell(m, t, l, h + w->first, room);
        if (pl_reml_combine(w->a, w->reml, h, &v, w->d))
            return pl_nomem(w->d);
        *mean = like_means[l];
        mean->estimate = estimate[l] = v.value;
        mean->se = v.se;
        mean->df = v.df;
        limits(&v, &mean->low, &mean->high);
    }
    for (size_t l = 0; l < e->ncell; l++)
        for (size_t k = 0; k < e->ncell; k++)
            for (size_t i = 0; i < w->p; i++)
                for (size_t j = 0; j < w->p; j++)
                    cov[l * e->ncell + k] += rows[l * w->p + i] * w->reml->adjusted[i * w->p + j] *
                                             rows[k * w->p + j];
    w->side->levels[w->side->nlevels++] = (pl_levels){ .factor = like->factor,
                                                       .n = e->ncell,
                                                       .names = like->names,
                                                       .estimate = estimate,
                                                       .cov = cov,
                                                       .df = w->side->effects[t].error_df,
                                                       .error = w->error,
                                                       .reml = w->reml,
                                                       .rows = rows };
    return PL_OK;
}

static pl_code fill_means(mixed *w, const pl_linear_fit *strata)
{
    size_t at = 0;
    pl_code rc = PL_OK;

    w->side->means = PL_NEWN(w->a, strata->nmean, pl_mean);
    w->side->levels = PL_NEWN(w->a, strata->nlevels, pl_levels);
    if (!w->side->means || !w->side->levels)
        return pl_nomem(w->d);
    for (size_t i = 0; i < strata->nlevels && !rc; i++) {
        size_t t = 0;

        while (strcmp(w->m->terms[t].name, strata->levels[i].factor))
            t++;
        rc = add_means(w, t, &strata->levels[i], strata->means + at);
        at += strata->levels[i].n;
    }
    return rc;
}

/* What leads stands in *out, the other in *side. */
static void lead(pl_linear_fit *out, pl_linear_side *side)
{
    pl_linear_side was = { out->coefs, out->ncoef, out->effects, out->neffect,
                           out->means, out->nmean, out->levels,  out->nlevels };

    out->coefs = side->coefs;
    out->ncoef = side->ncoef;
    out->effects = side->effects;
    out->neffect = side->neffect;
    out->means = side->means;
    out->nmean = side->nmean;
    out->levels = side->levels;
    out->nlevels = side->nlevels;
    *side = was;
}

pl_code pl_lin_mixed(pl_arena *a, const pl_lin *m, bool balanced, double between_df,
                     pl_linear_fit *out, pl_diags *d)
{
    mixed w = { .a = a, .m = m, .d = d };
    pl_code rc;

    w.reml = PL_NEW(a, pl_reml);
    w.side = PL_NEW(a, pl_linear_side);
    if (!w.reml || !w.side)
        return pl_nomem(d);
    rc = fill_columns(&w);
    if (rc)
        return rc;
    w.h = PL_NEWN(a, w.p, double);
    if (!w.h)
        return pl_nomem(d);
    rc = fit(&w);
    rc = rc ? rc : fill_variances(&w, out);
    rc = rc ? rc : fill_coefs(&w);
    rc = rc ? rc : fill_effects(&w, out, balanced);
    rc = rc ? rc : fill_means(&w, out);
    if (rc)
        return rc;
    if (!w.reml->converged)
        pl_advise(d, m->t->name,
                  .found = "a search for the scatter between blocks that did not settle",
                  .expected = "a best point; the figures of random blocks are the best found");
    out->recovered_leads = m->designed || between_df >= LEADS_FROM;
    out->beside = w.side;
    if (out->recovered_leads)
        lead(out, w.side);
    return PL_OK;
}
