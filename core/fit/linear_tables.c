/* Sums of squares in both orders, coefficients and level means of a linear model.
 * The steps they rest on are linear_step.c's. */
#include <math.h>
#include <string.h>

#include "base/prob.h"
#include "base/text.h"
#include "fit/linear_inner.h"

/* Unequal boards or treatments unbalanced over them show as this share of a sum of squares. */
#define BALANCE_TOL 1e-8

typedef struct tables {
    pl_arena *a;
    const pl_lin *m;
    pl_linear_fit *out;
    pl_diags *d;
    pl_lin_step full;   /* all blocks, all terms within them */
    pl_lin_step *minus; /* nblock: without this block and those inside it */
    double *block_ss, *block_df, *block_first_ss; /* after all others; in order */
    bool *in, *terms;                             /* scratch masks */
    double error_df, error_ms;
    bool exact; /* every residual is 0 but for rounding */
} tables;

static pl_effect *add_effect(tables *w, const char *name, pl_ss_kind kind, double df, double ss)
{
    pl_effect *e = &w->out->effects[w->out->neffect++];

    *e = (pl_effect){
        .name = name, .kind = kind, .df = df, .ss = ss, .ms = df > 0 ? ss / df : NAN
    };
    return e;
}

static void judge(const tables *w, pl_effect *e, size_t stratum)
{
    bool residual = stratum == PL_LIN_RESIDUAL;

    e->error = residual ? "residual" : w->m->blocks[stratum].name;
    e->error_df = residual ? w->error_df : w->block_df[stratum];
    e->error_ms = residual          ? w->error_ms
                  : e->error_df > 0 ? w->block_ss[stratum] / e->error_df
                                    : NAN;
    e->f = e->p = NAN;
    if (!(e->df > 0) || !(e->error_df > 0))
        return;
    if (residual && w->exact) {
        e->f = e->ss > 0 ? INFINITY : NAN;
        e->p = e->ss > 0 ? 0 : NAN;
        return;
    }
    e->f = e->ms / e->error_ms;
    e->p = pl_f_upper(e->f, e->df, e->error_df);
}

/* ---------------------------------------------------------- the steps ---- */

static pl_code dependent(const tables *w, const char *name, const char *on)
{
    return pl_fail(
        w->d, PL_ERANK, w->m->t->name,
        .found = pl_arena_printf(w->d->arena, "\"%s\" cannot be told apart from %s", name, on),
        .expected = "terms that each add something", .mend = "leave it out, or one of the others");
}

/* Every term asked for adds all its columns. */
static pl_code check_rank(const tables *w, const pl_lin_step *s, const bool *asked)
{
    pl_code rc = PL_OK;

    for (size_t t = 0; t < w->m->nterm; t++) {
        const pl_lin_term *term = &w->m->terms[t];

        if (asked[t] && !s->present[t])
            rc = dependent(w, term->name, w->m->nblock ? "the blocks together" : "the mean");
        for (size_t j = 0; s->present[t] && j < term->ncol; j++)
            if (s->lsq.dependent[s->at[t] + j]) {
                rc = dependent(w, term->name, "the terms before it");
                break;
            }
    }
    return rc;
}

static pl_code check_rows(const tables *w, const pl_lin_step *s)
{
    size_t need = s->absorbed->rank + s->lsq.p;

    if (w->m->n >= need)
        return PL_OK;
    return pl_fail(w->d, PL_EDATA, w->m->t->name,
                   .found = pl_arena_printf(w->d->arena, "%zu rows", w->m->n),
                   .expected = pl_arena_printf(
                       w->d->arena, "at least %zu, one for each number to estimate", need),
                   .mend = "leave interactions or blocks out, or make more joints");
}

static double ss_of_term(const pl_lin *m, const pl_lin_step *s, size_t t)
{
    pl_dd ss = pl_dd_of(0);

    for (size_t j = 0; j < m->terms[t].ncol; j++)
        ss = pl_dd_add(ss, s->lsq.effect_ss_dd[s->at[t] + j]);
    return pl_dd_value(ss);
}

/* In-order: blocks come in one after the other, each after the terms it holds constant. Errors
 * are not known yet: f and p follow in judge_all. */
static pl_code go_in_order(tables *w)
{
    const pl_lin *m = w->m;
    pl_lin_step s, before = { 0 };
    pl_code rc;

    memset(w->in, 0, m->nblock * sizeof *w->in);
    for (size_t k = 0; k <= m->nblock; k++) {
        size_t stratum = k < m->nblock ? m->order[k] : PL_LIN_RESIDUAL;

        for (size_t t = 0; t < m->nterm; t++)
            w->terms[t] = m->terms[t].stratum == stratum;
        rc = pl_lin_step_fit(w->a, m, w->in, w->terms, &s, w->d);
        rc = rc ? rc : check_rows(w, &s);
        rc = rc ? rc : check_rank(w, &s, w->terms);
        if (rc)
            return rc;
        if (k == 0)
            w->out->total_ss = pl_dd_value(s.tss);
        if (k > 0) {
            size_t b = m->order[k - 1];

            w->block_first_ss[b] = fmax(0, pl_dd_value(pl_dd_sub(before.lsq.rss_dd, s.tss)));
            (void)add_effect(w, m->blocks[b].name, PL_SS_IN_ORDER,
                             (double)s.absorbed->rank - (double)before.rank, w->block_first_ss[b]);
        }
        for (size_t t = 0; t < m->nterm; t++)
            if (w->terms[t])
                (void)add_effect(w, m->terms[t].name, PL_SS_IN_ORDER, (double)m->terms[t].ncol,
                                 ss_of_term(m, &s, t));
        if (k < m->nblock)
            w->in[stratum] = true;
        before = s;
    }
    w->full = s;
    return PL_OK;
}

/* All terms that the blocks in w->in leave alive. */
static pl_code fit_all_terms(tables *w, pl_lin_step *s)
{
    for (size_t t = 0; t < w->m->nterm; t++)
        w->terms[t] = true;
    return pl_lin_step_fit(w->a, w->m, w->in, w->terms, s, w->d);
}

/* A block after all others, those inside it left out. */
static pl_code measure_block(tables *w, size_t b)
{
    const pl_lin *m = w->m;
    pl_lin_step plus = w->full;
    bool holds_finer = false;
    pl_code rc = PL_OK;

    for (size_t c = 0; c < m->nblock; c++) {
        w->in[c] = !m->blocks[b].finer[c];
        holds_finer = holds_finer || !w->in[c];
    }
    if (holds_finer)
        rc = fit_all_terms(w, &plus);
    w->in[b] = false;
    rc = rc ? rc : fit_all_terms(w, &w->minus[b]);
    if (rc)
        return rc;
    w->block_df[b] = (double)plus.rank - (double)w->minus[b].rank;
    w->block_ss[b] = fmax(0, pl_dd_value(pl_dd_sub(w->minus[b].lsq.rss_dd, plus.lsq.rss_dd)));
    return PL_OK;
}

static const pl_lin_step *step_of(const tables *w, size_t t)
{
    size_t s = w->m->terms[t].stratum;

    return s == PL_LIN_RESIDUAL ? &w->full : &w->minus[s];
}

/* Same order of lines as in-order. */
static pl_code go_after_all_others(tables *w)
{
    const pl_lin *m = w->m;

    for (size_t k = 0; k <= m->nblock; k++) {
        size_t stratum = k < m->nblock ? m->order[k] : PL_LIN_RESIDUAL;

        if (k > 0)
            (void)add_effect(w, m->blocks[m->order[k - 1]].name, PL_SS_AFTER_ALL_OTHERS,
                             w->block_df[m->order[k - 1]], w->block_ss[m->order[k - 1]]);
        for (size_t t = 0; t < m->nterm; t++) {
            double ss;
            pl_code rc;

            if (m->terms[t].stratum != stratum)
                continue;
            rc = pl_lin_term_ss(w->a, m, step_of(w, t), t, &ss, w->d);
            if (rc)
                return rc;
            (void)add_effect(w, m->terms[t].name, PL_SS_AFTER_ALL_OTHERS, (double)m->terms[t].ncol,
                             ss);
        }
    }
    return PL_OK;
}

/* Which line is about what: lines of one kind run through blocks and terms as above. */
static void judge_all(tables *w)
{
    const pl_lin *m = w->m;
    pl_effect *e = w->out->effects;

    for (int kind = 0; kind < PL_SS_NKINDS; kind++)
        for (size_t k = 0; k <= m->nblock; k++) {
            size_t stratum = k < m->nblock ? m->order[k] : PL_LIN_RESIDUAL;

            if (k > 0)
                judge(w, e++, m->blocks[m->order[k - 1]].judged);
            for (size_t t = 0; t < m->nterm; t++)
                if (m->terms[t].stratum == stratum)
                    judge(w, e++, stratum);
        }
}

/* ------------------------------------------------- estimates and means ---- */

typedef struct estimate {
    double value, se, df;
} estimate;

/* The average over blocks (if wanted) plus h'beta, and its standard error: the blocks'
 * averages of y and X (y_centre, centre) are independent of beta, so
 * var / sigma^2 = average_variance + (h - centre)' C (h - centre). */
static estimate combine(const tables *w, const pl_lin_step *s, size_t stratum, const double *h,
                        bool level)
{
    size_t p = s->lsq.p;
    pl_dd value = level ? s->y_centre : pl_dd_of(0);
    pl_dd var = level ? s->absorbed->average_variance : pl_dd_of(0);
    bool residual = stratum == PL_LIN_RESIDUAL;
    double df = residual ? w->error_df : w->block_df[stratum];
    double ms = residual ? w->error_ms : df > 0 ? w->block_ss[stratum] / df : NAN;

    for (size_t i = 0; i < p; i++) {
        pl_dd gi = pl_dd_of(h[i]), row = pl_dd_of(0);

        if (level)
            gi = pl_dd_sub(gi, s->centre[i]);
        value = pl_dd_mac(value, gi, s->lsq.beta_dd[i]);
        for (size_t j = 0; j < p; j++) {
            pl_dd gj = pl_dd_of(h[j]);

            if (level)
                gj = pl_dd_sub(gj, s->centre[j]);
            row = pl_dd_mac(row, s->lsq.inverse_dd[i * p + j], gj);
        }
        var = pl_dd_mac(var, gi, row);
    }
    if (level && !s->absorbed->connected)
        return (estimate){ NAN, NAN, df };
    return (estimate){ pl_dd_value(value), df > 0 ? sqrt(ms * pl_dd_value(var)) : NAN, df };
}

static void limits(const estimate *e, double *low, double *high)
{
    double t = e->df > 0 ? pl_t_quantile(0.975, e->df) : NAN;

    *low = e->value - t * e->se;
    *high = e->value + t * e->se;
}

static void add_coef(tables *w, const char *name, estimate e)
{
    pl_coef *c = &w->out->coefs[w->out->ncoef++];

    *c = (pl_coef){ .name = name, .estimate = e.value, .se = e.se, .df = e.df };
    limits(&e, &c->low, &c->high);
}

static pl_code fill_coefs(tables *w)
{
    const pl_lin *m = w->m;
    double *h = PL_NEWN(w->a, m->ncol, double);
    size_t most = 1;

    for (size_t t = 0; t < m->nterm; t++)
        most += m->terms[t].effect ? m->terms[t].effect->ncell : 1;
    w->out->coefs = PL_NEWN(w->a, most, pl_coef);
    if (!h || !w->out->coefs)
        return pl_nomem(w->d);
    if (!m->through_zero)
        add_coef(w, "intercept", combine(w, &w->full, PL_LIN_RESIDUAL, h, true));
    for (size_t t = 0; t < m->nterm; t++) {
        const pl_lin_term *term = &m->terms[t];
        const pl_lin_step *s = step_of(w, t);
        size_t ncell = term->effect ? term->effect->ncell : 1;

        for (size_t c = 0; c < ncell; c++) {
            const char *name = term->name;

            memset(h, 0, m->ncol * sizeof *h);
            h[s->at[t]] = 1;
            if (term->effect) {
                pl_term_code(term->effect, c, h + s->at[t]);
                name = pl_term_cell_name(w->a, term->effect, c);
            }
            if (!name)
                return pl_nomem(w->d);
            add_coef(w, name, combine(w, s, term->stratum, h, false));
        }
    }
    return PL_OK;
}

static void add_means(tables *w, size_t t, double *h)
{
    const pl_lin *m = w->m;
    const pl_lin_step *s = step_of(w, t);
    const pl_factor_codes *f = m->terms[t].effect->factors[0];

    memset(h, 0, m->ncol * sizeof *h);
    for (size_t c = 0; c < m->nterm; c++)
        if (s->present[c] && !m->terms[c].effect)
            h[s->at[c]] = m->terms[c].mean;
    for (size_t l = 0; l < f->nlevel; l++) {
        pl_mean *mean = &w->out->means[w->out->nmean++];
        estimate e;

        pl_term_code(m->terms[t].effect, l, h + s->at[t]);
        e = combine(w, s, m->terms[t].stratum, h, true);
        *mean = (pl_mean){
            .factor = f->name, .level = f->levels[l], .estimate = e.value, .se = e.se, .df = e.df
        };
        limits(&e, &mean->low, &mean->high);
        for (size_t i = 0; i < m->n; i++)
            mean->n += f->code[i] == (int)l ? 1 : 0;
    }
}

static pl_code fill_means(tables *w)
{
    const pl_lin *m = w->m;
    double *h = PL_NEWN(w->a, m->ncol, double);
    size_t most = 0;

    for (size_t t = 0; t < m->nterm; t++)
        if (m->terms[t].effect && m->terms[t].effect->nfactor == 1)
            most += m->terms[t].effect->ncell;
    w->out->means = PL_NEWN(w->a, most, pl_mean);
    if (!h || !w->out->means)
        return pl_nomem(w->d);
    for (size_t t = 0; t < m->nterm; t++)
        if (m->terms[t].effect && m->terms[t].effect->nfactor == 1)
            add_means(w, t, h);
    return PL_OK;
}

/* ----------------------------------------------------------- the whole ---- */

static pl_code fill_residual(tables *w)
{
    const pl_lin *m = w->m;
    double *fitted = PL_NEWN(w->a, m->n, double), most = 0, df = (double)(m->n - w->full.rank);
    double rss = w->full.lsq.rss;

    if (!fitted)
        return pl_nomem(w->d);
    for (size_t i = 0; i < m->n; i++) {
        fitted[i] = m->y[i] - w->full.lsq.residuals[i];
        most = fmax(most, fabs(m->y[i]));
    }
    w->error_df = df;
    w->error_ms = df > 0 ? rss / df : NAN;
    /* readings are held to 2^-53 of themselves: residuals below that are their rounding */
    w->exact = df > 0 && rss <= (double)m->n * ldexp(most, -53) * ldexp(most, -53);
    w->out->fitted = fitted;
    w->out->residuals = w->full.lsq.residuals;
    w->out->residual = (pl_residual){ df, rss, df > 0 ? sqrt(w->error_ms) : NAN };
    w->out->r_squared = 1 - rss / w->out->total_ss;
    w->out->whole = (pl_effect){ .name = "whole model",
                                 .df = (double)w->full.rank - (m->through_zero ? 0 : 1),
                                 .ss = w->out->total_ss - rss };
    w->out->whole.ms = w->out->whole.ss / w->out->whole.df;
    judge(w, &w->out->whole, PL_LIN_RESIDUAL);
    return PL_OK;
}

static void say_what_is_weak(const tables *w)
{
    const pl_lin *m = w->m;
    const char *at = m->t->name;

    if (!(w->error_df > 0))
        pl_remark(w->d, at,
                  .found = pl_arena_printf(w->d->arena, "%zu rows for %zu numbers to estimate",
                                           m->n, w->full.rank),
                  .expected = "more rows than that: nothing is left to judge the scatter by");
    if (w->exact)
        pl_remark(w->d, at, .found = "a model that meets every reading",
                  .expected = "some scatter; standard errors and tests say nothing here");
    if (!w->full.absorbed->connected)
        pl_remark(
            w->d, at, .found = "blocks that fall into groups with nothing in common",
            .expected = "every block tied to the others; no average over all blocks is given");
    for (size_t t = 0; t < m->nterm; t++) {
        size_t b = m->terms[t].stratum;

        if (b == PL_LIN_RESIDUAL)
            continue;
        if (!(w->block_df[b] > 0))
            pl_advise(w->d, at,
                      .found = pl_arena_printf(w->d->arena, "no more \"%s\" than \"%s\" uses up",
                                               m->blocks[b].name, m->terms[t].name),
                      .expected = "two or more in each of its levels",
                      .mend = pl_arena_printf(w->d->arena, "nothing here tells \"%s\" from \"%s\"",
                                              m->terms[t].name, m->blocks[b].name));
        else if (!m->blocks[b].even ||
                 fabs(w->block_first_ss[b] - w->block_ss[b]) > BALANCE_TOL * w->block_ss[b])
            pl_advise(
                w->d, at,
                .found = pl_arena_printf(w->d->arena,
                                         "\"%s\": blocks that differ in size or in what they hold",
                                         m->blocks[b].name),
                .expected = pl_arena_printf(
                    w->d->arena, "blocks alike; the test of \"%s\" between them is approximate",
                    m->terms[t].name));
    }
}

pl_code pl_lin_tables(pl_arena *a, const pl_lin *m, pl_linear_fit *out, pl_diags *diags)
{
    tables w = { .a = a, .m = m, .out = out, .d = diags };
    pl_code rc;

    w.minus = PL_NEWN(a, m->nblock, pl_lin_step);
    w.block_ss = PL_NEWN(a, m->nblock, double);
    w.block_df = PL_NEWN(a, m->nblock, double);
    w.block_first_ss = PL_NEWN(a, m->nblock, double);
    w.in = PL_NEWN(a, m->nblock, bool);
    w.terms = PL_NEWN(a, m->nterm, bool);
    out->effects = PL_NEWN(a, PL_SS_NKINDS * (m->nterm + m->nblock), pl_effect);
    if (!w.minus || !w.block_ss || !w.block_df || !w.block_first_ss || !w.in || !w.terms ||
        !out->effects)
        return pl_nomem(diags);
    rc = go_in_order(&w);
    for (size_t b = 0; b < m->nblock && !rc; b++)
        rc = measure_block(&w, b);
    rc = rc ? rc : go_after_all_others(&w);
    rc = rc ? rc : fill_residual(&w);
    if (rc)
        return rc;
    judge_all(&w);
    rc = fill_coefs(&w);
    rc = rc ? rc : fill_means(&w);
    if (!rc)
        say_what_is_weak(&w);
    return rc;
}
