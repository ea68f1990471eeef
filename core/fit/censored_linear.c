/* A table's effects and blocks as columns of a censored fit, and what each level holds. The fit
 * itself is censored.c's. */
#include "fit/censored_linear.h"

#include <math.h>
#include <string.h>

#include "base/prob.h"
#include "base/text.h"
#include "model/terms.h"

#define SURE 0.95
#define LARGEST 1e100 /* as for the linear model */

typedef struct column_set { /* the columns of one effect, covariate or block */
    const char *name;
    const pl_term *term; /* NULL: a covariate */
    bool block;
    bool between;         /* an effect that blocks lie inside of */
    const double *values; /* of a block: n x ncol; NULL: coded from its term */
    size_t first, ncol;
} column_set;

typedef struct work {
    pl_arena *a;
    const pl_table *t;
    const pl_bounds_spec *s;
    size_t n, p, nset;
    size_t *rows;
    double *low, *high, *X;
    const char **names;
    column_set *sets;
    size_t *strides; /* of a block's values */
    pl_diags *d;
} work;

/* ---- readings ---- */

static double cell(const pl_column *c, size_t row, double missing)
{
    return c->text[row][0] ? c->number[row] : missing;
}

/* The bounds of a row; false when it holds no reading. */
static bool bounds_of(const work *w, size_t row, double *low, double *high)
{
    const pl_bounds_spec *s = w->s;

    if (s->lower) {
        *low = cell(pl_table_find(w->t, s->lower), row, -INFINITY);
        *high = cell(pl_table_find(w->t, s->upper), row, INFINITY);
        return !isinf(*low) || !isinf(*high);
    }
    *low = *high = cell(pl_table_find(w->t, s->response), row, NAN);
    if (s->censored) {
        double flag = cell(pl_table_find(w->t, s->censored), row, NAN);

        if (isnan(flag))
            return false;
        if (flag != 0)
            *high = INFINITY;
    }
    return !isnan(*low);
}

static bool whole(const work *w, size_t row)
{
    const pl_bounds_spec *s = w->s;

    for (size_t i = 0; i < s->neffect; i++)
        for (size_t k = 0; k < s->effects[i].nfactor; k++)
            if (!pl_table_find(w->t, s->effects[i].factors[k])->text[row][0])
                return false;
    for (size_t i = 0; i < s->ncovariate; i++)
        if (!pl_table_find(w->t, s->covariates[i])->text[row][0])
            return false;
    for (size_t i = 0; i < s->nblock; i++)
        if (!pl_table_find(w->t, s->blocks[i])->text[row][0])
            return false;
    return true;
}

static pl_code check_columns(const work *w)
{
    const pl_bounds_spec *s = w->s;
    const char *const numbers[] = { s->lower ? NULL : s->response, s->censored, s->lower,
                                    s->upper };
    size_t from = w->d->count;
    const pl_column *c;

    for (size_t i = 0; i < 4; i++)
        if (numbers[i])
            pl_table_need_number(w->t, numbers[i], &c, w->d);
    for (size_t i = 0; i < s->ncovariate; i++)
        pl_table_need_number(w->t, s->covariates[i], &c, w->d);
    for (size_t i = 0; i < s->neffect; i++)
        for (size_t k = 0; k < s->effects[i].nfactor; k++)
            pl_table_need(w->t, s->effects[i].factors[k], &c, w->d);
    for (size_t i = 0; i < s->nblock; i++)
        pl_table_need(w->t, s->blocks[i], &c, w->d);
    return w->d->out_of_memory ? PL_ENOMEM : pl_diags_code(w->d, from);
}

static pl_code pick_rows(work *w)
{
    w->rows = PL_NEWN(w->a, w->t->nrow, size_t);
    w->low = PL_NEWN(w->a, w->t->nrow, double);
    w->high = PL_NEWN(w->a, w->t->nrow, double);
    if (!w->rows || !w->low || !w->high)
        return pl_nomem(w->d);
    for (size_t i = 0; i < w->t->nrow; i++) {
        double low, high;

        if (!bounds_of(w, i, &low, &high) || !whole(w, i))
            continue;
        if ((fabs(low) > LARGEST && !isinf(low)) || (fabs(high) > LARGEST && !isinf(high)))
            return pl_fail(w->d, PL_EVALUE,
                           pl_arena_printf(w->d->arena, "%s: %s", w->t->name, w->t->row_names[i]),
                           .found = "a strength beyond 1e100",
                           .expected = "a number between -1e100 and 1e100");
        if (low > high)
            return pl_fail(w->d, PL_EVALUE,
                           pl_arena_printf(w->d->arena, "%s: %s", w->t->name, w->t->row_names[i]),
                           .found = pl_arena_printf(w->d->arena, "from %g to %g", low, high),
                           .expected = "the lower bound not above the upper one");
        w->rows[w->n] = i;
        w->low[w->n] = low;
        w->high[w->n++] = high;
    }
    if (w->n < w->t->nrow)
        pl_remark(w->d, w->t->name,
                  .found = pl_arena_printf(w->d->arena,
                                           "%zu of %zu rows left out: a cell in use is "
                                           "missing",
                                           w->t->nrow - w->n, w->t->nrow));
    if (!w->n)
        return pl_fail(w->d, PL_EDATA, w->t->name, .found = "no row with all values",
                       .expected = "rows to fit");
    return PL_OK;
}

/* ---- columns ---- */

/* Levels of the rows in use only. */
static pl_code factor_of(work *w, const char *name, const pl_factor_codes **out)
{
    pl_factor_codes all = { 0 }, *f = PL_NEW(w->a, pl_factor_codes);
    int *code = PL_NEWN(w->a, w->t->nrow, int), *fresh;
    const char **levels;
    pl_code rc;

    if (!f || !code)
        return pl_nomem(w->d);
    rc = pl_table_factor(w->a, w->t, name, &all, w->d);
    if (rc)
        return rc;
    fresh = PL_NEWN(w->a, all.nlevel, int);
    levels = PL_NEWN(w->a, all.nlevel, const char *);
    if (!fresh || !levels)
        return pl_nomem(w->d);
    for (size_t i = 0; i < w->n; i++)
        if (all.code[w->rows[i]] >= 0)
            fresh[all.code[w->rows[i]]] = 1;
    *f = (pl_factor_codes){ .name = name, .levels = levels, .code = code };
    for (size_t l = 0; l < all.nlevel; l++)
        if (fresh[l]) {
            levels[f->nlevel] = all.levels[l];
            fresh[l] = (int)f->nlevel++;
        } else {
            fresh[l] = -1;
        }
    for (size_t i = 0; i < w->t->nrow; i++)
        code[i] = all.code[i] >= 0 ? fresh[all.code[i]] : -1;
    if (f->nlevel < 2)
        return pl_fail(
            w->d, PL_EDATA, w->t->name,
            .found = pl_arena_printf(w->d->arena, "\"%s\" is the same in every row", name),
            .expected = "at least two levels",
            .mend = "nothing can be learnt from a column that never changes");
    *out = f;
    return PL_OK;
}

static pl_code add_term(work *w, const char *const *factors, size_t n)
{
    const pl_factor_codes **f = PL_NEWN(w->a, n, const pl_factor_codes *);
    pl_term *term = PL_NEW(w->a, pl_term);
    size_t *rows_of;
    pl_code rc = f && term ? PL_OK : pl_nomem(w->d);

    for (size_t k = 0; k < n && !rc; k++)
        rc = factor_of(w, factors[k], &f[k]);
    if (!rc)
        rc = pl_term_make(w->a, f, n, term, w->d);
    if (rc)
        return rc;
    rows_of = PL_NEWN(w->a, term->ncell, size_t);
    if (!rows_of)
        return pl_nomem(w->d);
    for (size_t i = 0; i < w->n; i++)
        rows_of[pl_term_cell_of_row(term, w->rows[i])]++;
    for (size_t c = 0; c < term->ncell && !rc; c++)
        if (!rows_of[c])
            rc = pl_fail(
                w->d, PL_EDATA, w->t->name,
                .found = pl_arena_printf(w->d->arena, "no row with %s",
                                         pl_term_cell_name(w->a, term, c)),
                .expected = pl_arena_printf(w->d->arena, "every cell of \"%s\" filled", term->name),
                .mend = "leave that interaction out");
    w->sets[w->nset++] = (column_set){
        .name = term->name, .term = term, .first = w->p, .ncol = term->ncol
    };
    w->p += term->ncol;
    return rc;
}

/* ---- blocks ---- */

/* Whether each block lies in one level of f only: then level[] says which. */
static bool lies_inside(const work *w, const pl_factor_codes *block, const pl_factor_codes *f,
                        int *level)
{
    for (size_t b = 0; b < block->nlevel; b++)
        level[b] = -1;
    for (size_t i = 0; i < w->n; i++) {
        int b = block->code[w->rows[i]], l = f->code[w->rows[i]];

        if (level[b] >= 0 && level[b] != l)
            return false;
        level[b] = l;
    }
    return true;
}

/* Effects all of whose factors hold whole blocks are judged by what differs between blocks, which
 * fixed blocks take out. */
static void mark_between(work *w, const bool *holds, const char *const *names, size_t n)
{
    for (size_t e = 0; e < w->nset; e++) {
        const pl_term *t = w->sets[e].term;
        size_t found = 0;

        for (size_t k = 0; t && k < t->nfactor; k++)
            for (size_t i = 0; i < n; i++)
                found += holds[i] && !strcmp(names[i], t->factors[k]->name);
        w->sets[e].between = w->sets[e].between || (t && found == t->nfactor);
    }
}

/* The nest of each block: blocks of one nest lie in the same levels of what holds them. */
static pl_code find_nests(work *w, const pl_factor_codes *block, size_t *nest, size_t *nnest)
{
    int *level = PL_NEWN(w->a, block->nlevel, int);
    const char **names = PL_NEWN(w->a, w->nset * PL_TERM_FACTORS_MOST, const char *);
    bool *holds = PL_NEWN(w->a, w->nset * PL_TERM_FACTORS_MOST, bool);
    size_t n = 0;

    *nnest = 1;
    if (!level || !names || !holds)
        return pl_nomem(w->d);
    for (size_t e = 0; e < w->nset; e++) {
        const pl_factor_codes *f = w->sets[e].term && w->sets[e].term->nfactor == 1
                                       ? w->sets[e].term->factors[0]
                                       : NULL;
        size_t most = 0;

        if (!f)
            continue;
        names[n] = f->name;
        holds[n] = lies_inside(w, block, f, level);
        for (size_t b = 0; holds[n] && b < block->nlevel; b++) {
            nest[b] = nest[b] * f->nlevel + (size_t)level[b];
            most = nest[b] > most ? nest[b] : most;
        }
        *nnest = holds[n] ? most + 1 : *nnest;
        n++;
    }
    mark_between(w, holds, names, n);
    return PL_OK;
}

/* What is left of column v after the orthonormal columns kept so far; false: nothing. Kept then. */
static bool keep_column(double *kept, size_t *nkept, const double *v, size_t n)
{
    double *q = kept + *nkept * n, length = 0, left = 0;

    for (size_t i = 0; i < n; i++) {
        q[i] = v[i];
        length += v[i] * v[i];
    }
    for (int pass = 0; pass < 2; pass++)
        for (size_t k = 0; k < *nkept; k++) {
            double s = 0;

            for (size_t i = 0; i < n; i++)
                s += kept[k * n + i] * q[i];
            for (size_t i = 0; i < n; i++)
                q[i] -= s * kept[k * n + i];
        }
    for (size_t i = 0; i < n; i++)
        left += q[i] * q[i];
    if (!(left > 1e-18 * length))
        return false;
    for (size_t i = 0; i < n; i++)
        q[i] /= sqrt(left);
    ++*nkept;
    return true;
}

/* Blocks coded sum-to-zero, within the levels that hold them where they lie inside some; a column
 * that follows from the constant and earlier blocks is left out. kept: room for them all. */
static pl_code add_block(work *w, const char *name, double *kept, size_t *nkept)
{
    const pl_factor_codes *f = NULL;
    pl_code rc = factor_of(w, name, &f);
    size_t *nest, nnest = 1, ncol = 0;
    double *values, *v;

    if (rc || !f)
        return rc ? rc : PL_ENOMEM;
    nest = PL_NEWN(w->a, f->nlevel, size_t);
    values = PL_NEWN(w->a, w->n * f->nlevel, double);
    v = PL_NEWN(w->a, w->n, double);
    if (!nest || !values || !v)
        return pl_nomem(w->d);
    rc = find_nests(w, f, nest, &nnest);
    for (size_t g = 0; g < nnest && !rc; g++) {
        int last = -1;

        for (size_t b = 0; b < f->nlevel; b++)
            last = nest[b] == g ? (int)b : last;
        for (int b = 0; b < last; b++) {
            if (nest[b] != g)
                continue;
            for (size_t i = 0; i < w->n; i++) {
                int code = f->code[w->rows[i]];

                v[i] = code == b ? 1 : code == last ? -1 : 0;
            }
            if (!keep_column(kept, nkept, v, w->n))
                continue;
            for (size_t i = 0; i < w->n; i++)
                values[i * f->nlevel + ncol] = v[i];
            ncol++;
        }
    }
    if (rc)
        return rc;
    w->sets[w->nset++] = (column_set){
        .name = name, .block = true, .values = values, .first = w->p, .ncol = ncol
    };
    w->strides[w->nset - 1] = f->nlevel;
    w->p += ncol;
    return PL_OK;
}

static pl_code add_covariate(work *w, const char *name)
{
    const double *x = pl_table_find(w->t, name)->number;
    bool constant = true;

    for (size_t i = 0; i < w->n; i++) {
        if (!(fabs(x[w->rows[i]]) <= LARGEST))
            return pl_fail(
                w->d, PL_EVALUE, w->t->name,
                .found = pl_arena_printf(w->d->arena, "%g in column \"%s\"", x[w->rows[i]], name),
                .expected = "a number between -1e100 and 1e100");
        constant = constant && x[w->rows[i]] == x[w->rows[0]];
    }
    if (constant)
        return pl_fail(
            w->d, PL_EDATA, w->t->name,
            .found = pl_arena_printf(w->d->arena, "\"%s\" is the same in every row", name),
            .expected = "values that differ");
    w->sets[w->nset++] = (column_set){ .name = name, .first = w->p++, .ncol = 1 };
    return PL_OK;
}

static pl_code fill_columns(work *w)
{
    double *code;

    w->X = PL_NEWN(w->a, w->n * w->p, double);
    w->names = PL_NEWN(w->a, w->p, const char *);
    code = PL_NEWN(w->a, w->p, double);
    if (!w->X || !w->names || !code)
        return pl_nomem(w->d);
    w->names[0] = "intercept";
    for (size_t i = 0; i < w->n; i++)
        w->X[i * w->p] = 1;
    for (size_t k = 0; k < w->nset; k++) {
        const column_set *set = &w->sets[k];
        const double *x = set->term || set->block ? NULL : pl_table_find(w->t, set->name)->number;
        double mean = 0;

        for (size_t j = 0; j < set->ncol; j++)
            w->names[set->first + j] = set->name;
        for (size_t i = 0; i < w->n && x; i++)
            mean += (x[w->rows[i]] - mean) / (double)(i + 1);
        for (size_t i = 0; i < w->n; i++) {
            double *row = w->X + i * w->p + set->first;

            if (x)
                *row = x[w->rows[i]] - mean;
            else if (set->block)
                memcpy(row, set->values + i * w->strides[k], set->ncol * sizeof *row);
            else
                pl_term_code(set->term, pl_term_cell_of_row(set->term, w->rows[i]), row);
        }
    }
    return PL_OK;
}

static pl_code make_columns(work *w)
{
    const pl_bounds_spec *s = w->s;
    const size_t most = s->neffect + s->ncovariate + s->nblock;
    size_t levels = 1, nkept = 0;
    double *kept, *one = PL_NEWN(w->a, w->n, double);
    pl_code rc = PL_OK;

    w->sets = PL_NEWN(w->a, most, column_set);
    w->strides = PL_NEWN(w->a, most, size_t);
    if (!w->sets || !w->strides || !one)
        return pl_nomem(w->d);
    w->p = 1;
    for (size_t i = 0; i < s->ncovariate && !rc; i++)
        rc = add_covariate(w, s->covariates[i]);
    for (size_t i = 0; i < s->neffect && !rc; i++)
        rc = add_term(w, s->effects[i].factors, s->effects[i].nfactor);
    for (size_t i = 0; i < s->nblock && !rc; i++) {
        pl_factor_codes codes = { 0 };

        rc = pl_table_factor(w->a, w->t, s->blocks[i], &codes, w->d);
        levels += codes.nlevel;
    }
    kept = PL_NEWN(w->a, w->n * levels, double);
    if (!kept)
        return pl_nomem(w->d);
    for (size_t i = 0; i < w->n; i++)
        one[i] = 1;
    keep_column(kept, &nkept, one, w->n);
    for (size_t i = 0; i < s->nblock && !rc; i++)
        rc = add_block(w, s->blocks[i], kept, &nkept);
    return rc ? rc : fill_columns(w);
}

/* Columns of blocks: the last ones. */
static size_t blocks_of(const work *w)
{
    size_t q = 0;

    for (size_t k = 0; k < w->nset; k++)
        q += w->sets[k].block ? w->sets[k].ncol : 0;
    return q;
}

/* The fit with all columns, or without those of one effect. */
static pl_code fit_without(work *w, const column_set *set, pl_censored *out, pl_diags *d)
{
    const size_t gone = set ? set->ncol : 0, p = w->p - gone;
    double *X = PL_NEWN(w->a, w->n * p, double);
    const char **names = PL_NEWN(w->a, p, const char *);
    pl_censored_data data = { .where = w->t->name,
                              .n = w->n,
                              .p = p,
                              .q = blocks_of(w),
                              .X = X,
                              .names = names,
                              .low = w->low,
                              .high = w->high,
                              .law = w->s->law };

    if (!X || !names)
        return pl_nomem(d);
    for (size_t j = 0, k = 0; j < w->p; j++) {
        if (set && j >= set->first && j < set->first + set->ncol)
            continue;
        for (size_t i = 0; i < w->n; i++)
            X[i * p + k] = w->X[i * w->p + j];
        names[k++] = w->names[j];
    }
    return pl_censored_fit(w->a, &data, out, d);
}

/* ---- the answer ---- */

static double shown(const work *w, double x)
{
    return pl_law_of_logs(w->s->law) ? exp(x) : x;
}

static pl_code fill_effects(work *w, const pl_censored *c, pl_bounds_fit *out)
{
    const double n = (double)(c->exact + c->between), df = pl_censored_df(c);

    out->effects = PL_NEWN(w->a, w->nset, pl_bounds_effect);
    if (!out->effects)
        return pl_nomem(w->d);
    for (size_t k = 0; k < w->nset; k++) {
        const column_set *set = &w->sets[k];
        pl_bounds_effect *e = &out->effects[out->neffect];
        pl_diags quiet;
        pl_censored less = { 0 };
        pl_code rc;

        if (set->block)
            continue;
        out->neffect++;
        *e = (pl_bounds_effect){ set->name, (double)set->ncol, NAN, df, NAN, NAN, set->between };
        if (set->between)
            continue;
        pl_diags_init(&quiet, w->a);
        rc = fit_without(w, set, &less, &quiet);
        if (rc == PL_ENOMEM)
            return pl_nomem(w->d);
        if (rc)
            continue;
        e->gain = fmax(c->log_likelihood - less.log_likelihood, 0);
        e->f = df / e->df * expm1(2 * e->gain / n);
        e->p = pl_f_upper(e->f, e->df, df);
    }
    return PL_OK;
}

/* Columns of a cell of `set`: its own, and those of effects made of some of its factors. */
static void code_cell(const work *w, const column_set *set, size_t at, double *g, double *room)
{
    size_t levels[PL_TERM_FACTORS_MOST];

    memset(g, 0, w->p * sizeof *g);
    g[0] = 1;
    if (!set)
        return;
    pl_term_cell(set->term, at, levels);
    for (size_t k = 0; k < w->nset; k++) {
        const column_set *u = &w->sets[k];
        size_t place = 0, found = 0;

        if (!u->term)
            continue;
        for (size_t i = 0; i < u->term->nfactor; i++)
            for (size_t j = 0; j < set->term->nfactor; j++)
                if (!strcmp(u->term->factors[i]->name, set->term->factors[j]->name)) {
                    place = place * u->term->factors[i]->nlevel + levels[j];
                    found++;
                }
        if (found != u->term->nfactor)
            continue;
        pl_term_code(u->term, place, room);
        memcpy(g + u->first, room, u->ncol * sizeof *g);
    }
}

static const char *level_name(const work *w, const column_set *set, size_t at)
{
    size_t levels[PL_TERM_FACTORS_MOST];
    pl_text t;

    if (!set)
        return "";
    pl_term_cell(set->term, at, levels);
    pl_text_init(&t, w->a);
    for (size_t k = 0; k < set->term->nfactor; k++)
        pl_text_add(&t, "%s%s", k ? ", " : "", set->term->factors[k]->levels[levels[k]]);
    return pl_text_done(&t);
}

static pl_code fill_level(work *w, pl_censored *c, const column_set *set, size_t at, double *g,
                          pl_bounds_fit *out)
{
    pl_bounds_level *l = &out->levels[out->nlevel++];
    const double half = w->s->law == PL_LAW_WEIBULL ? pl_law_quantile(w->s->law, 0.5) : 0;

    *l = (pl_bounds_level){ .factor = set ? set->name : "", .level = level_name(w, set, at) };
    if (!l->level)
        return pl_nomem(w->d);
    for (size_t i = 0; i < w->n; i++)
        if (!set || pl_term_cell_of_row(set->term, w->rows[i]) == at) {
            l->n++;
            l->known += !isinf(w->low[i]) && !isinf(w->high[i]);
        }
    code_cell(w, set, at, g, g + w->p);
    pl_censored_limits(c, g, half, pl_censored_drop(c, SURE), &l->holds);
    l->holds.at = shown(w, l->holds.at);
    l->holds.low = shown(w, l->holds.low);
    l->holds.high = shown(w, l->holds.high);
    return PL_OK;
}

static pl_code fill_levels(work *w, pl_censored *c, pl_bounds_fit *out)
{
    size_t most = 1;
    double *g = PL_NEWN(w->a, 2 * w->p, double);
    pl_code rc = PL_OK;

    for (size_t k = 0; k < w->nset; k++)
        most += w->sets[k].term ? w->sets[k].term->ncell : 0;
    out->levels = PL_NEWN(w->a, most, pl_bounds_level);
    if (!g || !out->levels)
        return pl_nomem(w->d);
    if (!w->s->neffect)
        return fill_level(w, c, NULL, 0, g, out);
    for (size_t k = 0; k < w->nset && !rc; k++) {
        const column_set *set = &w->sets[k];
        bool wanted = !w->s->shown || k + w->s->shown >= w->s->ncovariate + w->s->neffect;

        for (size_t at = 0; set->term && wanted && at < set->term->ncell && !rc; at++)
            rc = fill_level(w, c, set, at, g, out);
    }
    return rc;
}

static const char *coef_name(const work *w, const column_set *set, size_t j)
{
    size_t ncol = 0;
    double *code;

    if (!set->term)
        return set->name;
    code = PL_NEWN(w->a, set->ncol, double);
    for (size_t c = 0; code && c < set->term->ncell;
         c++) { /* the cell coded by this column alone */
        size_t ones = 0;

        pl_term_code(set->term, c, code);
        for (size_t i = 0; i < set->ncol; i++)
            ones += code[i] != 0;
        if (ones == 1 && code[j] == 1 && !ncol++)
            return pl_term_cell_name(w->a, set->term, c);
    }
    return set->name;
}

static pl_code fill_coefs(work *w, pl_censored *c, pl_bounds_fit *out)
{
    double *g = PL_NEWN(w->a, w->p, double);

    out->coefs = PL_NEWN(w->a, w->p, pl_coef);
    if (!g || !out->coefs)
        return pl_nomem(w->d);
    for (size_t k = 0; k <= w->nset; k++) {
        const column_set *set = k ? &w->sets[k - 1] : NULL;

        for (size_t j = 0; j < (set ? set->ncol : 1) && !(set && set->block); j++) {
            pl_coef *one = &out->coefs[out->ncoef++];
            pl_bounded b;

            memset(g, 0, w->p * sizeof *g);
            g[set ? set->first + j : 0] = 1;
            one->name = set ? coef_name(w, set, j) : "intercept";
            if (!one->name)
                return pl_nomem(w->d);
            pl_censored_value(c, g, 0, &one->se);
            pl_censored_limits(c, g, 0, pl_censored_drop(c, SURE), &b);
            one->estimate = b.at;
            one->low = b.low;
            one->high = b.high;
            one->df = out->df;
        }
    }
    memset(g, 0, w->p * sizeof *g);
    {
        pl_bounded b;

        pl_censored_limits(c, g, 1, pl_censored_drop(c, SURE), &b);
        out->sigma = c->sigma;
        out->sigma_low = b.low;
        out->sigma_high = b.high;
    }
    return PL_OK;
}

pl_code pl_fit_bounds(pl_arena *a, const pl_table *t, const pl_bounds_spec *spec,
                      pl_bounds_fit *out, pl_diags *d)
{
    work w = { .a = a, .t = t, .s = spec, .d = d };
    const char *response = spec->lower ? spec->lower : spec->response;
    pl_censored c = { 0 };
    pl_code rc = check_columns(&w);

    if (!rc)
        rc = pick_rows(&w);
    if (!rc)
        rc = make_columns(&w);
    if (rc || !w.names)
        return rc ? rc : pl_nomem(d);
    rc = fit_without(&w, NULL, &c, d);
    if (rc)
        return rc;
    *out = (pl_bounds_fit){ .response = spec->response ? spec->response : response,
                            .unit = pl_table_find(t, response)->unit,
                            .law = spec->law,
                            .nrow = w.n,
                            .exact = c.exact,
                            .above = c.above,
                            .below = c.below,
                            .between = c.between,
                            .left_out = t->nrow - w.n,
                            .log_likelihood = c.log_likelihood,
                            .df = pl_censored_df(&c) };
    out->sigma = c.sigma;
    out->sigma_low = out->sigma_high = NAN;
    rc = fill_levels(&w, &c, out);
    if (!rc && !spec->shown)
        rc = fill_effects(&w, &c, out);
    return rc || spec->shown ? rc : fill_coefs(&w, &c, out);
}
