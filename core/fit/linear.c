/* Linear models on a table: the spec checked, rows chosen, columns coded. Steps and
 * strata are linear_step.c's, sums of squares and means linear_tables.c's. */
#include "fit/linear.h"

#include <math.h>
#include <string.h>

#include "base/text.h"
#include "fit/linear_inner.h"
#include "fit/units.h"

#define LARGEST 1e100 /* its square, summed, still is a double with room above */

/* Columns in use, each once, with the role it came in with. */
typedef enum role { RESPONSE, FACTOR, COVARIATE, BLOCK, RANDOM, TIE } role;
static const char *const role_words[] = { "the response", "a factor of an effect", "a covariate",
                                          "a block",      "a random block",        "a tie" };

typedef struct uses {
    const char **names;
    role *roles;
    size_t n;
    const char *tie;          /* column that marks reference joints; NULL: none */
    const pl_units *averaged; /* a row is a unit of several specimens; else NULL */
} uses;

static bool used(const uses *u, const char *name, size_t *at)
{
    for (*at = 0; *at < u->n; ++*at)
        if (!strcmp(u->names[*at], name))
            return true;
    return false;
}

static pl_code use(uses *u, const pl_table *t, const char *name, role r, pl_diags *d)
{
    const pl_column *c;
    size_t at;
    bool number = r == RESPONSE || r == COVARIATE || r == TIE;
    pl_code rc = number ? pl_table_need_number(t, name, &c, d) : pl_table_need(t, name, &c, d);

    if (rc)
        return rc;
    if (!used(u, name, &at)) {
        u->names[u->n] = name;
        u->roles[u->n++] = r;
        return PL_OK;
    }
    if (u->roles[at] == r && r == FACTOR)
        return PL_OK;
    return pl_fail(
        d, PL_ECONFLICT, t->name,
        .found = u->roles[at] == r
                     ? pl_arena_printf(d->arena, "\"%s\" is %s twice", name, role_words[r])
                     : pl_arena_printf(d->arena, "\"%s\" is %s and %s", name,
                                       role_words[u->roles[at]], role_words[r]),
        .expected = "one part for each column");
}

static pl_code check_spec(const pl_table *t, const pl_linear_spec *s, pl_diags *d)
{
    if (s->through_zero &&
        (s->neffect || s->nblock || s->nrandom || s->nnested || s->unit || s->tie))
        return pl_fail(d, PL_ECONFLICT, t->name, .found = "effects or blocks through zero",
                       .expected = "covariates only, or an intercept",
                       .mend = "levels of a factor have means of their own: leave \"through "
                               "zero\" out");
    if (s->through_zero && !s->ncovariate)
        return pl_fail(d, PL_EUSAGE, t->name, .found = "no covariate through zero",
                       .expected = "something that may explain the response");
    for (size_t i = 0; i < s->neffect; i++)
        if (!s->effects[i].nfactor)
            return pl_fail(d, PL_EUSAGE, t->name, .found = "an effect without a factor",
                           .expected = "at least one column");
    return PL_OK;
}

/* All faults of the spec in one run. */
static pl_code gather(pl_arena *a, const pl_table *t, const pl_linear_spec *s, uses *u, pl_diags *d)
{
    size_t most = 3 + s->ncovariate + s->nblock + s->nrandom + 2 * s->nnested, from = d->count, at;

    for (size_t i = 0; i < s->neffect; i++)
        most += s->effects[i].nfactor;
    u->names = PL_NEWN(a, most, const char *);
    u->roles = PL_NEWN(a, most, role);
    if (!u->names || !u->roles)
        return pl_nomem(d);
    (void)use(u, t, s->response, RESPONSE, d);
    for (size_t i = 0; i < s->neffect; i++)
        for (size_t k = 0; k < s->effects[i].nfactor; k++)
            (void)use(u, t, s->effects[i].factors[k], FACTOR, d);
    for (size_t i = 0; i < s->ncovariate; i++)
        (void)use(u, t, s->covariates[i], COVARIATE, d);
    for (size_t i = 0; i < s->nblock; i++)
        (void)use(u, t, s->blocks[i], BLOCK, d);
    for (size_t i = 0; i < s->nrandom; i++)
        (void)use(u, t, s->randoms[i], RANDOM, d);
    u->tie = s->tie;
    if (s->tie)
        (void)use(u, t, s->tie, TIE, d);
    for (size_t i = 0; i < s->nnested; i++) {
        if (!used(u, s->nested[i].block, &at))
            (void)use(u, t, s->nested[i].block, BLOCK, d);
        if (!used(u, s->nested[i].inside, &at))
            (void)use(u, t, s->nested[i].inside, FACTOR, d);
    }
    return pl_diags_code(d, from);
}

/* Specimens to units where that is exact; else the unit becomes a block factor. */
static pl_code average_units(pl_arena *a, const pl_table *t, const pl_linear_spec *s, uses *u,
                             pl_units *units, pl_diags *d)
{
    const char *varying = NULL;
    size_t at;
    pl_code rc = pl_fit_units(a, t, s->unit, s->response, units, d);

    if (rc || units->most == 1)
        return rc;
    for (size_t j = 0; j < t->ncol; j++)
        if (units->varies[j] && used(u, t->columns[j].name, &at) &&
            (u->roles[at] == FACTOR || u->roles[at] >= BLOCK))
            varying = t->columns[j].name;
    if (varying) {
        if (!used(u, s->unit, &at)) {
            u->names[u->n] = s->unit;
            u->roles[u->n++] = BLOCK;
        }
        pl_remark(
            d, t->name,
            .found = pl_arena_printf(d->arena, "\"%s\" differs within \"%s\"", varying, s->unit),
            .expected = pl_arena_printf(
                d->arena,
                "\"%s\" is therefore a block; what is set once in it is judged "
                "between its levels",
                s->unit));
        return PL_OK;
    }
    u->averaged = units;
    pl_remark(d, t->name,
              .found = pl_arena_printf(d->arena, "%zu specimens of %zu units named by \"%s\"",
                                       t->nrow - units->left_out, units->nunit, s->unit),
              .expected = "means of units are judged, not single specimens");
    if (units->most != units->least)
        pl_advise(d, t->name,
                  .found = pl_arena_printf(d->arena, "%zu to %zu specimens in a unit", units->least,
                                           units->most),
                  .expected = "equal numbers; each unit counts alike here");
    return PL_OK;
}

/* ---------------------------------------------------------------- rows ---- */

static bool is_missing(const pl_column *c, size_t i)
{
    return !c->text[i][0] || (c->number && isnan(c->number[i]));
}

static bool is_reference(const pl_table *t, const char *tie, size_t i)
{
    return tie && pl_table_find(t, tie)->number[i] != 0;
}

/* A reference joint needs neither level nor covariate. */
static bool is_gap(const pl_table *t, const uses *u, size_t j, size_t i)
{
    return is_missing(pl_table_find(t, u->names[j]), i) &&
           ((u->roles[j] != FACTOR && u->roles[j] != COVARIATE) || !is_reference(t, u->tie, i));
}

static bool copy_rows(pl_arena *a, const pl_table *t, const uses *u, const size_t *rows, size_t n,
                      pl_table *out)
{
    pl_column *columns = PL_NEWN(a, u->n, pl_column);
    const char **names = PL_NEWN(a, n, const char *);

    if (!columns || !names)
        return false;
    for (size_t k = 0; k < n; k++)
        names[k] = t->row_names[rows[k]];
    for (size_t j = 0; j < u->n; j++) {
        const pl_column *c = pl_table_find(t, u->names[j]);
        const char **text = PL_NEWN(a, n, const char *);
        double *number = c->number ? PL_NEWN(a, n, double) : NULL;

        if (!text || (c->number && !number))
            return false;
        for (size_t k = 0; k < n; k++) {
            text[k] = c->text[rows[k]];
            if (number)
                number[k] = c->number[rows[k]];
        }
        columns[j] = (pl_column){ c->name, c->unit, c->scale, text, number };
    }
    *out = (pl_table){ t->name, n, u->n, columns, names };
    return true;
}

/* Rows whose every used cell is there; a remark counts the others, column by column. */
static pl_code pick_rows(pl_arena *a, const pl_table *t, const uses *u, pl_table *out,
                         size_t **picked, pl_diags *d)
{
    size_t *rows = PL_NEWN(a, t->nrow, size_t), *gaps = PL_NEWN(a, u->n, size_t), n = 0;
    pl_text said;

    if (!rows || !gaps)
        return pl_nomem(d);
    for (size_t i = 0; i < t->nrow; i++) {
        bool whole = true;

        for (size_t j = 0; j < u->n; j++)
            if (is_gap(t, u, j, i)) {
                gaps[j]++;
                whole = false;
            }
        if (whole)
            rows[n++] = i;
    }
    if (n < t->nrow) {
        const char *comma = "";

        pl_text_init(&said, d->arena);
        pl_text_add(&said, "%zu of %zu rows left out, missing: ", t->nrow - n, t->nrow);
        for (size_t j = 0; j < u->n; j++)
            if (gaps[j]) {
                pl_text_add(&said, "%s\"%s\" in %zu", comma, u->names[j], gaps[j]);
                comma = ", ";
            }
        pl_remark(d, t->name, .found = pl_text_done(&said));
    }
    *picked = rows;
    if (!n)
        return pl_fail(d, PL_EDATA, t->name, .found = "no row with all values",
                       .expected = "rows to fit");
    return copy_rows(a, t, u, rows, n, out) ? PL_OK : pl_nomem(d);
}

/* ------------------------------------------------------------- columns ---- */

/* A reference joint without a covariate. */
static bool stands_apart(const pl_lin *m, const double *x, size_t i)
{
    return m->reference && m->reference[i] && isnan(x[i]);
}

/* A column of numbers: none beyond LARGEST, and not all the same. */
static pl_code check_numbers(const pl_lin *m, const char *name, bool may_be_constant, pl_diags *d)
{
    const pl_table *t = m->t;
    const pl_column *c = pl_table_find(t, name);
    bool constant = true;
    size_t first = 0;

    while (first + 1 < t->nrow && stands_apart(m, c->number, first))
        first++;
    for (size_t i = first; i < t->nrow; i++) {
        if (stands_apart(m, c->number, i))
            continue;
        if (!(fabs(c->number[i]) <= LARGEST))
            return pl_fail(
                d, PL_EVALUE, pl_arena_printf(d->arena, "%s: %s", t->name, t->row_names[i]),
                .found = pl_arena_printf(d->arena, "%g in column \"%s\"", c->number[i], name),
                .expected = "a number between -1e100 and 1e100");
        constant = constant && c->number[i] == c->number[first];
    }
    if (!constant || may_be_constant)
        return PL_OK;
    return pl_fail(
        d, PL_EDATA, t->name,
        .found = pl_arena_printf(d->arena, "\"%s\" is %g in every row", name, c->number[first]),
        .expected = "values that differ",
        .mend = "nothing can be learnt from a column that never changes");
}

static pl_code add_covariates(pl_lin *m, const pl_linear_spec *s, pl_diags *d)
{
    pl_code rc = PL_OK;

    for (size_t k = 0; k < s->ncovariate && !rc; k++) {
        const double *x = pl_table_find(m->t, s->covariates[k])->number;
        pl_dd sum = pl_dd_of(0);
        size_t n = 0;

        rc = check_numbers(m, s->covariates[k], s->through_zero, d);
        for (size_t i = 0; i < m->n; i++)
            if (!m->reference || !m->reference[i]) {
                sum = pl_dd_add(sum, pl_dd_of(x[i]));
                n++;
            }
        m->terms[m->nterm++] = (pl_lin_term){ .name = s->covariates[k],
                                              .first = m->ncol++,
                                              .ncol = 1,
                                              .mean = n ? pl_dd_value(sum) / (double)n : 0 };
    }
    return rc;
}

static pl_code check_cells(pl_arena *a, const pl_lin *m, const pl_term *t, pl_diags *d)
{
    bool *met = PL_NEWN(a, t->ncell, bool);

    if (!met)
        return pl_nomem(d);
    for (size_t i = 0; i < m->n; i++)
        if (!m->reference || !m->reference[i])
            met[pl_term_cell_of_row(t, i)] = true;
    for (size_t c = 0; c < t->ncell; c++)
        if (!met[c])
            return pl_fail(
                d, PL_EDATA, m->t->name,
                .found = pl_arena_printf(d->arena, "no row with %s",
                                         pl_term_cell_name(d->arena, t, c)),
                .expected = pl_arena_printf(d->arena, "every combination of \"%s\"", t->name),
                .mend = "leave the interaction out, or drop the levels concerned");
    return PL_OK;
}

/* Said when an interaction stands without one of its factors: their difference then counts as
 * residual. */
static void check_margins(const pl_lin *m, const pl_term *t, const pl_linear_spec *s, pl_diags *d)
{
    for (size_t k = 0; t->nfactor > 1 && k < t->nfactor; k++) {
        bool there = false;

        for (size_t i = 0; !there && i < s->neffect; i++)
            there = s->effects[i].nfactor == 1 &&
                    !strcmp(s->effects[i].factors[0], t->factors[k]->name);
        if (!there)
            pl_advise(d, m->t->name,
                      .found = pl_arena_printf(d->arena, "interaction \"%s\" without \"%s\" alone",
                                               t->name, t->factors[k]->name),
                      .expected = "each factor of an interaction as an effect too");
    }
}

static pl_code add_effect(pl_arena *a, pl_lin *m, const pl_linear_spec *s,
                          const pl_linear_effect *e, pl_diags *d)
{
    const pl_factor_codes *factors[PL_TERM_FACTORS_MOST];
    pl_factor_codes *codes = PL_NEWN(a, e->nfactor, pl_factor_codes);
    pl_term *term = PL_NEW(a, pl_term);
    pl_code rc;

    if (!codes || !term)
        return pl_nomem(d);
    for (size_t k = 0; k < e->nfactor && k < PL_TERM_FACTORS_MOST; k++) {
        rc = pl_table_factor(a, m->t, e->factors[k], &codes[k], d);
        if (rc)
            return rc;
        factors[k] = &codes[k];
    }
    rc = pl_term_make(a, factors, e->nfactor, term, d);
    rc = rc ? rc : check_cells(a, m, term, d);
    if (rc)
        return rc;
    check_margins(m, term, s, d);
    m->terms[m->nterm++] = (pl_lin_term){
        .name = term->name, .effect = term, .first = m->ncol, .ncol = term->ncol
    };
    m->ncol += term->ncol;
    return PL_OK;
}

/* Block names that start afresh inside another column: pairs become the levels. */
static pl_code refine(pl_arena *a, const pl_lin *m, const char *inside, pl_factor_codes *f,
                      pl_diags *d)
{
    pl_factor_codes by;
    pl_code rc = pl_table_factor(a, m->t, inside, &by, d);
    int *pair, *code = PL_NEWN(a, m->n, int);
    int next = 0;

    if (rc)
        return rc;
    pair = pl_arena_get(a, by.nlevel, f->nlevel * sizeof(int));
    if (!pair || !code)
        return pl_nomem(d);
    for (size_t i = 0; i < m->n; i++) {
        int *p = &pair[(size_t)by.code[i] * f->nlevel + (size_t)f->code[i]];

        if (!*p)
            *p = ++next;
        code[i] = *p - 1;
    }
    f->code = code;
    f->nlevel = (size_t)next;
    return PL_OK;
}

static pl_code add_block(pl_arena *a, pl_lin *m, const pl_linear_spec *s, const char *name, role r,
                         pl_diags *d)
{
    pl_factor_codes f;
    pl_code rc = pl_table_factor(a, m->t, name, &f, d);

    for (size_t k = 0; k < s->nnested && !rc; k++)
        if (!strcmp(s->nested[k].block, name))
            rc = refine(a, m, s->nested[k].inside, &f, d);
    if (rc)
        return rc;
    if (f.nlevel < 2 && r == TIE)
        return PL_OK;
    if (f.nlevel < 2) {
        pl_remark(d, m->t->name,
                  .found = pl_arena_printf(d->arena, "block \"%s\" is the same in every row", name),
                  .expected = "several; it is left out");
        return PL_OK;
    }
    if (r == TIE)
        m->tie = m->nblock;
    m->blocks[m->nblock++] = (pl_lin_block){ .name = name,
                                             .random = r == RANDOM,
                                             .factor = { .code = f.code, .nlevel = f.nlevel } };
    return PL_OK;
}

static pl_code fill_columns(pl_arena *a, pl_lin *m, pl_diags *d)
{
    double *row = PL_NEWN(a, m->ncol, double);

    m->x = pl_arena_get(a, m->ncol, m->n * sizeof(double));
    m->length = PL_NEWN(a, m->ncol, double);
    if (!row || !m->x || !m->length)
        return pl_nomem(d);
    for (size_t k = 0; k < m->nterm; k++) {
        const pl_lin_term *t = &m->terms[k];
        double *x = m->x + t->first * m->n;

        if (!t->effect)
            memcpy(x, pl_table_find(m->t, t->name)->number, m->n * sizeof *x);
        for (size_t i = 0; !t->effect && i < m->n; i++)
            x[i] = stands_apart(m, x, i) ? 0 : x[i];
        for (size_t i = 0; t->effect && i < m->n; i++) {
            if (m->reference && m->reference[i])
                continue; /* columns are zeroed */
            pl_term_code(t->effect, pl_term_cell_of_row(t->effect, i), row);
            for (size_t j = 0; j < t->ncol; j++)
                x[j * m->n + i] = row[j];
        }
    }
    for (size_t j = 0; j < m->ncol; j++) {
        double s = 0;

        for (size_t i = 0; i < m->n; i++)
            s += m->x[j * m->n + i] * m->x[j * m->n + i];
        m->length[j] = sqrt(s);
    }
    return PL_OK;
}

static pl_code make_room(pl_arena *a, pl_lin *m, pl_diags *d)
{
    size_t levels = 1;

    for (size_t b = 0; b < m->nblock; b++)
        levels += m->blocks[b].factor.nlevel;
    m->work_x = pl_arena_get(a, m->ncol, m->n * sizeof(pl_dd));
    m->work_y = PL_NEWN(a, m->n, pl_dd);
    m->room = PL_NEWN(a, levels, pl_dd);
    m->columns = PL_NEWN(a, m->ncol, pl_dd *);
    if (!m->work_x || !m->work_y || !m->room || !m->columns)
        return pl_nomem(d);
    for (size_t j = 0; j < m->ncol; j++)
        m->columns[j] = m->work_x + j * m->n;
    return PL_OK;
}

static pl_code find_references(pl_arena *a, const pl_linear_spec *s, pl_lin *m, pl_diags *d)
{
    bool *reference = s->tie ? PL_NEWN(a, m->n, bool) : NULL;

    if (s->tie && !reference)
        return pl_nomem(d);
    for (size_t i = 0; reference && i < m->n; i++)
        reference[i] = is_reference(m->t, s->tie, i);
    m->reference = reference;
    m->tie = SIZE_MAX;
    return PL_OK;
}

static pl_code make_model(pl_arena *a, const pl_linear_spec *s, const uses *u, pl_lin *m,
                          pl_diags *d)
{
    pl_code rc = find_references(a, s, m, d);

    if (rc)
        return rc;
    rc = check_numbers(m, s->response, false, d);
    m->y = pl_table_find(m->t, s->response)->number;
    m->through_zero = s->through_zero;
    m->designed = s->designed;
    m->terms = PL_NEWN(a, s->ncovariate + s->neffect, pl_lin_term);
    m->blocks = PL_NEWN(a, u->n, pl_lin_block);
    if (!m->terms || !m->blocks)
        return pl_nomem(d);
    rc = rc ? rc : add_covariates(m, s, d);
    for (size_t i = 0; i < s->neffect && !rc; i++)
        rc = add_effect(a, m, s, &s->effects[i], d);
    for (size_t j = 0; j < u->n && !rc; j++)
        if (u->roles[j] >= BLOCK)
            rc = add_block(a, m, s, u->names[j], u->roles[j], d);
    rc = rc ? rc : fill_columns(a, m, d);
    rc = rc ? rc : make_room(a, m, d);
    return rc ? rc : pl_lin_strata(a, m, d);
}

/* Places in the caller's table: of a unit, its first row. */
static void set_rows(pl_linear_fit *out, size_t *rows, const pl_units *averaged, size_t nrow)
{
    out->specimens = averaged ? 0 : out->nrow;
    for (size_t k = 0; k < out->nrow && averaged; k++) {
        out->specimens += averaged->count[rows[k]];
        rows[k] = averaged->first[rows[k]];
    }
    out->rows = rows;
    out->left_out = nrow - out->specimens;
}

pl_code pl_fit_linear(pl_arena *a, const pl_table *t, const pl_linear_spec *spec,
                      pl_linear_fit *out, pl_diags *diags)
{
    pl_table *rows = PL_NEW(a, pl_table);
    pl_units units = { 0 };
    pl_lin m = { .t = rows };
    uses u = { 0 };
    size_t *picked = NULL;
    pl_code rc = rows ? check_spec(t, spec, diags) : pl_nomem(diags);

    rc = rc ? rc : gather(a, t, spec, &u, diags);
    if (!rc && spec->unit)
        rc = average_units(a, t, spec, &u, &units, diags);
    rc = rc ? rc : pick_rows(a, u.averaged ? u.averaged->table : t, &u, rows, &picked, diags);
    if (rc)
        return rc;
    m.n = rows->nrow;
    rc = make_model(a, spec, &u, &m, diags);
    if (rc)
        return rc;
    *out = (pl_linear_fit){ .response = spec->response,
                            .unit = pl_table_find(t, spec->response)->unit,
                            .nrow = m.n };
    set_rows(out, picked, u.averaged, t->nrow);
    rc = pl_lin_tables(a, &m, out, diags);
    return rc ? rc : pl_lin_contrasts(a, t, spec, out, diags);
}
