/* Gathers units, levels and blocks of one group; what is left out is said. Fitting is
 * plateau.c. */
#include "fit/plateau_data.h"

#include <assert.h>
#include <math.h>
#include <string.h>

#include "fit/units.h"

/* The same columns for some of the rows. */
static pl_code pick_rows(pl_arena *a, const pl_table *t, const size_t *rows, size_t nrow,
                         pl_table *out, pl_diags *d)
{
    const char **names = PL_NEWN(a, nrow, const char *);

    *out = (pl_table){ t->name, nrow, t->ncol, PL_NEWN(a, t->ncol, pl_column), names };
    if (!names || !out->columns)
        return pl_nomem(d);
    for (size_t i = 0; i < nrow; i++)
        names[i] = t->row_names[rows[i]];
    for (size_t j = 0; j < t->ncol; j++) {
        const char **text = PL_NEWN(a, nrow, const char *);
        double *number = t->columns[j].number ? PL_NEWN(a, nrow, double) : NULL;

        if (!text || (t->columns[j].number && !number))
            return pl_nomem(d);
        for (size_t i = 0; i < nrow; i++) {
            text[i] = t->columns[j].text[rows[i]];
            if (number)
                number[i] = t->columns[j].number[rows[i]];
        }
        out->columns[j] = t->columns[j];
        out->columns[j].text = text;
        out->columns[j].number = number;
    }
    return PL_OK;
}

typedef struct gather {
    pl_arena *a;
    pl_table t;
    pl_units units;
    pl_factor_codes planned;
    pl_factor_codes *blocks;
    int *unit_level; /* -1 unknown */
    bool *use;
    bool *reference;  /* units that are reference joints */
    size_t *unit_new; /* old unit -> place among those used */
    size_t no_level, no_block, no_x;
    pl_diags *d;
} gather;

/* A unit's planned level is that of its rows. */
static pl_code level_of_units(gather *g)
{
    pl_code rc = PL_OK;

    assert(g->units.unit_of);
    for (size_t k = 0; k < g->units.nunit; k++)
        g->unit_level[k] = -1;
    for (size_t i = 0; i < g->t.nrow; i++) {
        size_t k = g->units.unit_of[i];
        int code = g->planned.code[i];

        if (k == PL_NO_UNIT || code < 0)
            continue;
        if (g->unit_level[k] >= 0 && g->unit_level[k] != code)
            rc = pl_fail(g->d, PL_EDATA,
                         pl_arena_printf(g->d->arena, "%s: %s", g->t.name, g->t.row_names[i]),
                         .found = pl_arena_printf(
                             g->d->arena, "unit \"%s\" is planned at both %s and %s",
                             g->units.table->row_names[k], g->planned.levels[g->unit_level[k]],
                             g->planned.levels[code]),
                         .expected = "one planned level in a unit");
        g->unit_level[k] = code;
    }
    return rc;
}

static void choose_units(gather *g, const pl_curve_spec *spec)
{
    const pl_column *tie = spec->tie ? pl_table_find(g->units.table, spec->tie) : NULL;
    const size_t nblock = spec->nblock;

    for (size_t k = 0; k < g->units.nunit; k++) {
        g->reference[k] = tie && tie->number && tie->number[k] != 0 && !isnan(tie->number[k]);
        g->use[k] = g->reference[k] || g->unit_level[k] >= 0;
        g->no_level += !g->use[k];
    }
    for (size_t i = 0; i < g->t.nrow; i++) {
        size_t k = g->units.unit_of[i];

        for (size_t b = 0; b < nblock && k != PL_NO_UNIT; b++)
            if (g->use[k] && g->blocks[b].code[i] < 0) {
                g->use[k] = false;
                g->no_block += !g->reference[k];
            }
    }
}

/* Levels that occur, in rising order; level_new maps the factor's codes to them. */
static pl_code make_levels(gather *g, const double *x, const size_t *rows_of, int *level_new,
                           pl_plateau_data *out)
{
    const size_t L = g->planned.nlevel;
    double *mean = PL_NEWN(g->a, L, double), *order = PL_NEWN(g->a, L, double);
    size_t *known = PL_NEWN(g->a, L, size_t), *code_of = PL_NEWN(g->a, L, size_t);
    pl_level_mean *all = PL_NEWN(g->a, L, pl_level_mean);

    if (!mean || !order || !known || !code_of || !all)
        return pl_nomem(g->d);
    for (size_t k = 0; k < g->units.nunit; k++) {
        size_t l = (size_t)g->unit_level[k];

        if (!g->use[k] || g->reference[k])
            continue;
        all[l].units++;
        all[l].specimens += rows_of[k];
        if (!isnan(x[k])) {
            known[l]++; /* by steps from the mean so far: equal values give just that value */
            mean[l] += (x[k] - mean[l]) / (double)known[l];
        }
    }
    out->levels = PL_NEWN(g->a, L, pl_level_mean);
    if (!out->levels)
        return pl_nomem(g->d);
    for (size_t l = 0; l < L; l++) {
        double planned = g->planned.values ? g->planned.values[l] : NAN, at, key;
        size_t j;

        level_new[l] = -1;
        if (!all[l].units)
            continue;
        at = known[l] ? mean[l] : planned;
        key = g->planned.values ? planned : at;
        for (j = out->K; j > 0 && order[j - 1] > key; j--) {
            order[j] = order[j - 1];
            code_of[j] = code_of[j - 1];
            out->levels[j] = out->levels[j - 1];
        }
        order[j] = key;
        code_of[j] = l;
        out->levels[j] = all[l];
        out->levels[j].planned = planned;
        out->levels[j].level = g->planned.levels[l];
        out->levels[j].at = at;
        out->levels[j].mean = out->levels[j].se = NAN;
        out->K++;
    }
    for (size_t j = 0; j < out->K; j++)
        level_new[code_of[j]] = (int)j;
    return PL_OK;
}

static void say_left_out(const gather *g, const pl_curve_spec *spec)
{
    pl_diags *d = g->d;

    if (g->no_level && !spec->planned)
        pl_remark(d, g->t.name,
                  .found = pl_arena_printf(d->arena, "units without a known \"%s\" left out: %zu",
                                           spec->over, g->no_level));
    else if (g->no_level)
        pl_advise(d, g->t.name,
                  .found = pl_arena_printf(d->arena,
                                           "units without a level in \"%s\" left out: %zu",
                                           spec->planned, g->no_level),
                  .expected = "a level for every unit");
    if (g->no_block)
        pl_advise(d, g->t.name,
                  .found = pl_arena_printf(d->arena, "units without their block left out: %zu",
                                           g->no_block),
                  .expected = "a block for every specimen");
    if (g->no_x && spec->planned)
        pl_remark(d, g->t.name,
                  .found = pl_arena_printf(
                      d->arena, "specimens without a known \"%s\", not in the curves: %zu",
                      spec->over, g->no_x));
}

/* Reference joints behind the others. All stand at one and the same place, which their own column
 * among the blocks takes out again. */
static pl_code add_references(gather *g, const size_t *rows, double *y, double *x, size_t *level,
                              size_t *row, pl_plateau_data *out)
{
    const double *uy = pl_table_find(g->units.table, out->response->name)->number;
    const size_t ordinary = out->n;
    bool *reference = PL_NEWN(g->a, g->units.nunit, bool);
    double at = NAN;

    if (!reference)
        return pl_nomem(g->d);
    for (size_t k = 0; k < ordinary && isnan(at); k++)
        at = x[k];
    for (size_t k = 0; k < g->units.nunit && ordinary; k++) {
        if (!g->use[k] || !g->reference[k])
            continue;
        g->unit_new[k] = out->n;
        reference[out->n] = true;
        y[out->n] = uy[k];
        x[out->n] = at;
        level[out->n] = level[0];
        row[out->n++] = rows[g->units.first[k]];
    }
    out->nreference = out->n - ordinary;
    out->reference = out->nreference ? reference : NULL;
    return PL_OK;
}

/* The blocks, and that of reference joints behind them. */
static pl_code fill_blocks(gather *g, const pl_curve_spec *spec, pl_plateau_data *out)
{
    const int **code = PL_NEWN(g->a, spec->nblock + 1, const int *);
    int *tie = PL_NEWN(g->a, out->nrow, int);

    if (!code || !tie)
        return pl_nomem(g->d);
    for (size_t b = 0; b < spec->nblock; b++)
        code[b] = g->blocks[b].code;
    for (size_t i = 0; out->reference && i < out->nrow; i++)
        tie[i] = out->unit_of[i] != PL_NO_UNIT && out->reference[out->unit_of[i]];
    out->nblock = spec->nblock;
    if (out->reference)
        code[out->nblock++] = tie;
    out->block_code = code;
    return PL_OK;
}

static pl_code fill_units(gather *g, const pl_curve_spec *spec, const size_t *rows,
                          const int *level_new, pl_plateau_data *out)
{
    const size_t N = g->units.nunit, nrow = g->t.nrow;
    double *y = PL_NEWN(g->a, N, double), *x = PL_NEWN(g->a, N, double);
    size_t *level = PL_NEWN(g->a, N, size_t), *row = PL_NEWN(g->a, N, size_t);
    size_t *unit_of = PL_NEWN(g->a, nrow, size_t);
    pl_code rc;
    const pl_column *wood = spec->wood ? pl_table_find(&g->t, spec->wood) : NULL;
    const double *uy = pl_table_find(g->units.table, spec->response)->number;
    const double *ux = pl_table_find(g->units.table, spec->over)->number;

    if (!y || !x || !level || !row || !unit_of)
        return pl_nomem(g->d);
    for (size_t k = 0; k < N; k++) {
        if (!g->use[k] || g->reference[k])
            continue;
        g->unit_new[k] = out->n;
        y[out->n] = uy[k];
        x[out->n] = ux ? ux[k] : NAN;
        level[out->n] = (size_t)level_new[g->unit_level[k]];
        row[out->n] = rows[g->units.first[k]];
        out->specimens += g->units.count[k];
        if (isnan(x[out->n]))
            g->no_x += g->units.count[k];
        out->n++;
    }
    rc = add_references(g, rows, y, x, level, row, out);
    for (size_t i = 0; i < nrow; i++) {
        size_t k = g->units.unit_of[i];

        unit_of[i] = k != PL_NO_UNIT && g->use[k] ? g->unit_new[k] : PL_NO_UNIT;
        if (wood && unit_of[i] != PL_NO_UNIT && !g->reference[k] && wood->number &&
            wood->number[i] != 0 && !isnan(wood->number[i]))
            out->levels[level[unit_of[i]]].wood++;
    }
    out->y = y;
    out->x = x;
    out->level = level;
    out->row = row;
    for (size_t k = 0; k < N && !spec->planned; k++)
        g->no_x += g->use[k] ? 0 : g->units.count[k];
    out->unknown_applied = g->no_x;
    out->nrow = nrow;
    out->unit_of = unit_of;
    return rc ? rc : fill_blocks(g, spec, out);
}

pl_code pl_plateau_gather(pl_arena *a, const pl_table *table, const pl_curve_spec *spec,
                          const size_t *rows, size_t nrow, pl_plateau_data *out, pl_diags *d)
{
    gather g = { .a = a, .d = d };
    int *level_new;
    const pl_column *over;
    pl_code rc = pick_rows(a, table, rows, nrow, &g.t, d);

    memset(out, 0, sizeof *out);
    if (!rc)
        rc = pl_fit_units(a, &g.t, spec->unit, spec->response, &g.units, d);
    if (!rc)
        rc = pl_table_factor(a, &g.t, spec->planned ? spec->planned : spec->over, &g.planned, d);
    if (rc)
        return rc;
    g.blocks = PL_NEWN(a, spec->nblock, pl_factor_codes);
    g.unit_level = PL_NEWN(a, g.units.nunit, int);
    g.use = PL_NEWN(a, g.units.nunit, bool);
    g.reference = PL_NEWN(a, g.units.nunit, bool);
    g.unit_new = PL_NEWN(a, g.units.nunit, size_t);
    level_new = PL_NEWN(a, g.planned.nlevel, int);
    if (!g.blocks || !g.unit_level || !g.use || !g.reference || !g.unit_new || !level_new)
        return pl_nomem(d);
    for (size_t b = 0; b < spec->nblock; b++)
        if ((rc = pl_table_factor(a, &g.t, spec->blocks[b], &g.blocks[b], d)))
            return rc;
    if ((rc = level_of_units(&g)))
        return rc;
    choose_units(&g, spec);
    over = pl_table_find(g.units.table, spec->over);
    if (!over->number)
        return pl_fail(
            d, PL_EVALUE, table->name,
            .found = pl_arena_printf(d->arena, "column \"%s\" holds no numbers here", spec->over),
            .expected = "numbers");
    out->response = pl_table_find(table, spec->response);
    rc = make_levels(&g, over->number, g.units.count, level_new, out);
    if (!rc)
        rc = fill_units(&g, spec, rows, level_new, out);
    if (rc)
        return rc;
    say_left_out(&g, spec);
    out->where = table->name;
    out->over = pl_table_find(table, spec->over);
    return PL_OK;
}

/* Block codes of the rows in use, renumbered so that every level occurs. What reference joints
 * alone stand in is in no average. */
static pl_code block_factor(pl_arena *a, const int *code, const pl_plateau_data *data,
                            const size_t *unit_of, pl_block_factor *out, pl_diags *d)
{
    const size_t nrow = data->nrow;
    int *fresh = PL_NEWN(a, nrow, int), *map;
    bool *apart;
    int most = -1;

    for (size_t i = 0; i < nrow; i++)
        most = code[i] > most ? code[i] : most;
    map = PL_NEWN(a, most + 1, int);
    if (!fresh || !map)
        return pl_nomem(d);
    for (size_t i = 0; i < nrow; i++)
        if (unit_of[i] != PL_NO_UNIT && code[i] >= 0)
            map[code[i]] = 1;
    out->nlevel = 0;
    for (int c = 0; c <= most; c++)
        map[c] = map[c] ? (int)out->nlevel++ : -1;
    for (size_t i = 0; i < nrow; i++)
        fresh[i] = code[i] >= 0 ? map[code[i]] : -1;
    out->code = fresh;
    apart = PL_NEWN(a, out->nlevel, bool);
    if (!apart)
        return pl_nomem(d);
    for (size_t l = 0; l < out->nlevel; l++)
        apart[l] = data->reference != NULL;
    for (size_t i = 0; data->reference && i < nrow; i++)
        if (unit_of[i] != PL_NO_UNIT && fresh[i] >= 0 && !data->reference[data->unit_of[i]])
            apart[fresh[i]] = false;
    out->apart = apart;
    return PL_OK;
}

pl_code pl_plateau_columns(pl_arena *a, const pl_plateau_data *data, const size_t *units,
                           size_t nunit, size_t nblock, const double **out, size_t *q, pl_diags *d)
{
    size_t *place = PL_NEWN(a, data->n, size_t), *unit_of = PL_NEWN(a, data->nrow, size_t);
    pl_block_factor *factors = PL_NEWN(a, nblock, pl_block_factor);
    pl_code rc = PL_OK;

    *out = NULL;
    *q = 0;
    if (!place || !unit_of || !factors)
        return pl_nomem(d);
    for (size_t k = 0; k < data->n; k++)
        place[k] = PL_NO_UNIT;
    for (size_t k = 0; k < nunit; k++)
        place[units[k]] = k;
    for (size_t i = 0; i < data->nrow; i++)
        unit_of[i] = data->unit_of[i] == PL_NO_UNIT ? PL_NO_UNIT : place[data->unit_of[i]];
    for (size_t b = 0; b < nblock && !rc; b++)
        rc = block_factor(a, data->block_code[b], data, unit_of, &factors[b], d);
    if (!rc && nblock)
        rc = pl_curve_blocks(a, factors, nblock, unit_of, data->nrow, nunit, out, q, d);
    return rc;
}

pl_code pl_plateau_rows(pl_arena *a, const pl_plateau_data *data, const size_t *units, size_t nunit,
                        const double *x, size_t nblock, const pl_curve_scatter *scatter,
                        pl_curve_rows *out, pl_diags *d)
{
    double *y = PL_NEWN(a, nunit, double), *at = PL_NEWN(a, nunit, double);
    const double *block;
    size_t q;
    pl_code rc = pl_plateau_columns(a, data, units, nunit, nblock, &block, &q, d);

    if (!rc && (!y || !at))
        rc = pl_nomem(d);
    for (size_t k = 0; k < nunit && !rc; k++) {
        y[k] = data->y[units[k]];
        at[k] = x[units[k]];
    }
    return rc ? rc : pl_curve_rows_make(a, at, y, nunit, block, q, scatter, out, d);
}
