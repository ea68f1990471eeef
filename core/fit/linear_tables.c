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

typedef struct level_value {
    double value, se, df;
} level_value;

/* The average over blocks (if wanted) plus h'beta, and its standard error: the blocks'
 * averages of y and X (y_centre, centre) are independent of beta, so
 * var / sigma^2 = average_variance + (h - centre)' C (h - centre). */
static level_value combine(const tables *w, const pl_lin_step *s, size_t stratum, const double *h,
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
        return (level_value){ NAN, NAN, df };
    return (level_value){ pl_dd_value(value), df > 0 ? sqrt(ms * pl_dd_value(var)) : NAN, df };
}

static void limits(const level_value *e, double *low, double *high)
{
    double t = e->df > 0 ? pl_t_quantile(0.975, e->df) : NAN;

    *low = e->value - t * e->se;
    *high = e->value + t * e->se;
}

static void add_coef(tables *w, const char *name, level_value e)
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

/* Terms that a cell of term t is the sum of: those whose factors are all among its own. */
static bool is_part(const pl_term *part, const pl_term *of)
{
    for (size_t i = 0; i < part->nfactor; i++) {
        bool there = false;

        for (size_t k = 0; k < of->nfactor; k++)
            there = there || part->factors[i] == of->factors[k] ||
                    !strcmp(part->factors[i]->name, of->factors[k]->name);
        if (!there)
            return false;
    }
    return true;
}

/* Cells of an interaction beyond this many are no table that anyone reads. */
#define CELLS_MOST 400

/* One error judges all that the cells of term t differ by. */
static bool in_one_stratum(const pl_lin *m, size_t t)
{
    if (m->terms[t].effect->nfactor > 1 && m->terms[t].effect->ncell > CELLS_MOST)
        return false;
    for (size_t c = 0; c < m->nterm; c++)
        if (m->terms[c].effect && is_part(m->terms[c].effect, m->terms[t].effect) &&
            m->terms[c].stratum != m->terms[t].stratum)
            return false;
    return true;
}

/* The place, in the term `part`, of cell c of the term `of`. */
static size_t part_cell(const pl_term *part, const pl_term *of, size_t c)
{
    size_t levels[PL_TERM_FACTORS_MOST], at = 0;

    pl_term_cell(of, c, levels);
    for (size_t i = 0; i < part->nfactor; i++)
        for (size_t k = 0; k < of->nfactor; k++)
            if (!strcmp(part->factors[i]->name, of->factors[k]->name))
                at = at * part->factors[i]->nlevel + levels[k];
    return at;
}

void pl_lin_code_cell(const pl_lin *m, size_t t, size_t cell, double *h, double *room)
{
    for (size_t c = 0; c < m->nterm; c++) {
        const pl_lin_term *part = &m->terms[c];

        if (!part->effect) {
            h[part->first] += part->mean;
        } else if (is_part(part->effect, m->terms[t].effect)) {
            pl_term_code(part->effect, part_cell(part->effect, m->terms[t].effect, cell), room);
            for (size_t j = 0; j < part->ncol; j++)
                h[part->first + j] += room[j];
        }
    }
}

/* The same for the columns of a step, less what the blocks took. room: 2 ncol. */
static void code_cell(const tables *w, const pl_lin_step *s, size_t t, size_t cell, pl_dd *g,
                      double *room)
{
    const pl_lin *m = w->m;
    double *h = room + m->ncol;

    memset(h, 0, m->ncol * sizeof *h);
    pl_lin_code_cell(m, t, cell, h, room);
    for (size_t j = 0; j < s->lsq.p; j++)
        g[j] = pl_dd_neg(s->centre[j]);
    for (size_t c = 0; c < m->nterm; c++)
        for (size_t j = 0; s->present[c] && j < m->terms[c].ncol; j++)
            g[s->at[c] + j] = pl_dd_add(g[s->at[c] + j], pl_dd_of(h[m->terms[c].first + j]));
}

/* Estimates and covariances of a term's cells. Cg: C times each cell's g. */
static pl_code estimate_cells(tables *w, size_t t, double *estimate, double *cov, double ms)
{
    const pl_lin_step *s = step_of(w, t);
    size_t n = w->m->terms[t].effect->ncell, p = s->lsq.p;
    pl_mark mark = pl_arena_mark(w->a);
    pl_dd *g = pl_arena_get(w->a, n, p * sizeof *g), *Cg = pl_arena_get(w->a, n, p * sizeof *Cg);
    double *room = PL_NEWN(w->a, 2 * w->m->ncol, double);
    bool whole = s->absorbed->connected;

    if (!g || !Cg || !room)
        return pl_nomem(w->d);
    for (size_t l = 0; l < n; l++) {
        pl_dd value = whole ? s->y_centre : pl_dd_of(0);

        code_cell(w, s, t, l, g + l * p, room);
        for (size_t i = 0; i < p; i++) {
            pl_dd row = pl_dd_of(0);

            value = pl_dd_mac(value, g[l * p + i], s->lsq.beta_dd[i]);
            for (size_t j = 0; j < p; j++)
                row = pl_dd_mac(row, s->lsq.inverse_dd[i * p + j], g[l * p + j]);
            Cg[l * p + i] = row;
        }
        estimate[l] = pl_dd_value(value);
    }
    for (size_t l = 0; l < n; l++)
        for (size_t k = 0; k < n; k++) {
            pl_dd v = whole ? s->absorbed->average_variance : pl_dd_of(0);

            for (size_t i = 0; i < p; i++)
                v = pl_dd_mac(v, g[l * p + i], Cg[k * p + i]);
            cov[l * n + k] = ms * pl_dd_value(v);
        }
    pl_arena_reset(w->a, mark);
    return PL_OK;
}

static const char *level_name(const tables *w, const pl_term *e, size_t cell)
{
    size_t levels[PL_TERM_FACTORS_MOST];
    pl_text name;

    pl_term_cell(e, cell, levels);
    if (e->nfactor == 1)
        return e->factors[0]->levels[levels[0]];
    pl_text_init(&name, w->a);
    for (size_t k = 0; k < e->nfactor; k++)
        pl_text_add(&name, "%s%s", k ? ", " : "", e->factors[k]->levels[levels[k]]);
    return pl_text_done(&name);
}

static pl_code add_means(tables *w, size_t t)
{
    const pl_lin_term *term = &w->m->terms[t];
    const pl_term *e = term->effect;
    const pl_lin_step *s = step_of(w, t);
    bool residual = term->stratum == PL_LIN_RESIDUAL;
    double df = residual ? w->error_df : w->block_df[term->stratum];
    double ms = residual ? w->error_ms : df > 0 ? w->block_ss[term->stratum] / df : NAN;
    double *estimate = PL_NEWN(w->a, e->ncell, double);
    double *cov = pl_arena_get(w->a, e->ncell, e->ncell * sizeof *cov);
    const char **names = PL_NEWN(w->a, e->ncell, const char *);
    size_t first = w->out->nmean;
    pl_code rc;

    if (!estimate || !cov || !names)
        return pl_nomem(w->d);
    rc = estimate_cells(w, t, estimate, cov, df > 0 ? ms : NAN);
    for (size_t l = 0; l < e->ncell && !rc; l++) {
        pl_mean *mean = &w->out->means[w->out->nmean++];
        level_value v = { estimate[l], sqrt(cov[l * e->ncell + l]), df };

        if (!s->absorbed->connected)
            v.value = v.se = NAN;
        names[l] = level_name(w, e, l);
        rc = names[l] ? PL_OK : pl_nomem(w->d);
        *mean = (pl_mean){
            .factor = term->name, .level = names[l], .estimate = v.value, .se = v.se, .df = df
        };
        limits(&v, &mean->low, &mean->high);
    }
    for (size_t i = 0; i < w->m->n && !rc; i++)
        w->out->means[first + pl_term_cell_of_row(e, i)].n++;
    w->out->levels[w->out->nlevels++] = (pl_levels){
        .factor = term->name,
        .n = e->ncell,
        .names = names,
        .estimate = estimate,
        .cov = cov,
        .df = df,
        .error = residual ? "residual" : w->m->blocks[term->stratum].name
    };
    return rc;
}

static pl_code fill_means(tables *w)
{
    const pl_lin *m = w->m;
    size_t most = 0;
    pl_code rc = PL_OK;

    for (size_t t = 0; t < m->nterm; t++)
        if (m->terms[t].effect)
            most += m->terms[t].effect->ncell;
    w->out->means = PL_NEWN(w->a, most, pl_mean);
    w->out->levels = PL_NEWN(w->a, m->nterm, pl_levels);
    if (!w->out->means || !w->out->levels)
        return pl_nomem(w->d);
    for (size_t t = 0; t < m->nterm && !rc; t++)
        if (m->terms[t].effect && in_one_stratum(m, t))
            rc = add_means(w, t);
    return rc;
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

static bool is_balanced(const tables *w, size_t b)
{
    return w->m->blocks[b].even &&
           !(fabs(w->block_first_ss[b] - w->block_ss[b]) > BALANCE_TOL * w->block_ss[b]);
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
        else if (!is_balanced(w, b) && !w->out->recovered_leads)
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

static pl_code go_random(tables *w)
{
    bool any = false, balanced = true;
    double least = INFINITY;

    for (size_t b = 0; b < w->m->nblock; b++) {
        /* fixed blocks beside a design's strata are allowed for in each */
        if (!w->m->designed || w->m->blocks[b].random)
            balanced = balanced && is_balanced(w, b);
        if (!w->m->blocks[b].random)
            continue;
        any = true;
        least = fmin(least, w->block_df[b]);
    }
    if (w->m->designed && balanced)
        return PL_OK;
    return any ? pl_lin_mixed(w->a, w->m, balanced, least, w->out, w->d) : PL_OK;
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
    rc = rc ? rc : go_random(&w);
    if (!rc)
        say_what_is_weak(&w);
    return rc;
}
