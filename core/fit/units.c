/* Rows to units: grouping and means. Which effects are set per unit is the
 * fits' business. */
#include "fit/units.h"

#include <math.h>
#include <string.h>

#include "base/text.h"
#include "fit/dd.h"

typedef struct grouping {
    size_t *count, *first, *unit_of;
    size_t nunit, left_out, unnamed;
} grouping;

static pl_code group(pl_arena *a, const pl_table *t, const char *unit, const double *y, grouping *g,
                     pl_diags *d)
{
    pl_factor_codes codes = { 0 };
    size_t *unit_of_level = NULL;
    pl_code rc = unit ? pl_table_factor(a, t, unit, &codes, d) : PL_OK;

    if (rc)
        return rc;
    g->count = PL_NEWN(a, t->nrow, size_t);
    g->first = PL_NEWN(a, t->nrow, size_t);
    g->unit_of = PL_NEWN(a, t->nrow, size_t);
    unit_of_level = PL_NEWN(a, codes.nlevel, size_t);
    if (!g->count || !g->first || !g->unit_of || !unit_of_level)
        return pl_nomem(d);
    for (size_t l = 0; l < codes.nlevel; l++)
        unit_of_level[l] = PL_NO_UNIT;
    for (size_t i = 0; i < t->nrow; i++) {
        size_t u = PL_NO_UNIT;

        g->unit_of[i] = PL_NO_UNIT;
        if (isnan(y[i]) || (unit && codes.code[i] < 0)) {
            g->left_out++;
            g->unnamed += isnan(y[i]) ? 0 : 1;
            continue;
        }
        if (unit)
            u = unit_of_level[codes.code[i]];
        if (u == PL_NO_UNIT) {
            u = g->nunit++;
            g->first[u] = i;
            if (unit)
                unit_of_level[codes.code[i]] = u;
        }
        g->unit_of[i] = u;
        g->count[u]++;
    }
    return PL_OK;
}

static bool same_cell(const pl_column *c, size_t i, size_t k)
{
    return c->number ? c->number[i] == c->number[k] : !strcmp(c->text[i], c->text[k]);
}

/* One column over all units. holder[u]: a row of u whose cell is there. */
static bool collapse_column(pl_arena *a, const pl_table *t, const grouping *g, const pl_column *c,
                            pl_column *out, bool *varies)
{
    const char **text = PL_NEWN(a, g->nunit, const char *);
    double *number = c->number ? PL_NEWN(a, g->nunit, double) : NULL;
    pl_dd *sum;
    size_t *n, *holder;
    bool *differs;

    if (!text || (c->number && !number))
        return false;
    *out = (pl_column){ c->name, c->unit, c->scale, text, number };
    sum = PL_NEWN(a, g->nunit, pl_dd);
    n = PL_NEWN(a, g->nunit, size_t);
    holder = PL_NEWN(a, g->nunit, size_t);
    differs = PL_NEWN(a, g->nunit, bool);
    if (!sum || !n || !holder || !differs)
        return false;
    for (size_t i = 0; i < t->nrow; i++) {
        size_t u = g->unit_of[i];

        if (u == PL_NO_UNIT || !c->text[i][0])
            continue;
        if (!n[u]++)
            holder[u] = i;
        else if (!same_cell(c, i, holder[u]))
            differs[u] = *varies = true;
        if (c->number)
            sum[u] = pl_dd_add(sum[u], pl_dd_of(c->number[i]));
    }
    for (size_t u = 0; u < g->nunit; u++) {
        bool mean = differs[u] && c->number;

        if (c->number)
            number[u] = !n[u]  ? NAN
                        : mean ? pl_dd_value(pl_dd_div(sum[u], pl_dd_of((double)n[u])))
                               : c->number[holder[u]];
        text[u] = mean                  ? pl_text_number(a, number[u], 6)
                  : n[u] && !differs[u] ? c->text[holder[u]]
                                        : "";
        if (!text[u])
            return false;
    }
    return true;
}

static pl_table *collapse(pl_arena *a, const pl_table *t, const char *unit, const grouping *g,
                          bool *varies)
{
    pl_table *out = PL_NEW(a, pl_table);
    pl_column *columns = PL_NEWN(a, t->ncol, pl_column);
    const char **names = PL_NEWN(a, g->nunit, const char *);
    const pl_column *by = unit ? pl_table_find(t, unit) : NULL;

    if (!out || !columns || !names)
        return NULL;
    for (size_t j = 0; j < t->ncol; j++)
        if (!collapse_column(a, t, g, &t->columns[j], &columns[j], &varies[j]))
            return NULL;
    for (size_t u = 0; u < g->nunit; u++)
        names[u] = by ? by->text[g->first[u]] : t->row_names[g->first[u]];
    *out = (pl_table){ t->name, g->nunit, t->ncol, columns, names };
    return out;
}

static void spread_within(const double *y, const double *mean, size_t nrow, const grouping *g,
                          pl_units *out)
{
    pl_dd ss = pl_dd_of(0);

    for (size_t i = 0; i < nrow; i++)
        if (g->unit_of[i] != PL_NO_UNIT) {
            pl_dd r = pl_dd_two_sum(y[i], -mean[g->unit_of[i]]);

            ss = pl_dd_mac(ss, r, r);
        }
    out->within_ss = pl_dd_value(ss);
    out->within_df = nrow - g->left_out - g->nunit;
    out->most = out->least = g->count[0];
    for (size_t u = 1; u < g->nunit; u++) {
        out->most = g->count[u] > out->most ? g->count[u] : out->most;
        out->least = g->count[u] < out->least ? g->count[u] : out->least;
    }
}

pl_code pl_fit_units(pl_arena *a, const pl_table *t, const char *unit, const char *response,
                     pl_units *out, pl_diags *diags)
{
    const pl_column *y;
    grouping g = { 0 };
    pl_table *table;
    bool *varies;
    pl_code rc = pl_table_need_number(t, response, &y, diags);

    rc = rc ? rc : group(a, t, unit, y->number, &g, diags);
    if (rc)
        return rc;
    if (!g.nunit)
        return pl_fail(diags, PL_EDATA, t->name,
                       .found = pl_arena_printf(diags->arena, "no row with a \"%s\"", response),
                       .expected = "readings to fit");
    if (g.unnamed)
        pl_remark(
            diags, t->name,
            .found = pl_arena_printf(diags->arena, "%zu rows without a \"%s\"", g.unnamed, unit),
            .expected = "a name of the unit; these rows are left out");
    varies = PL_NEWN(a, t->ncol, bool);
    table = varies ? collapse(a, t, unit, &g, varies) : NULL;
    if (!table)
        return pl_nomem(diags);
    *out = (pl_units){ .table = table,
                       .nunit = g.nunit,
                       .count = g.count,
                       .first = g.first,
                       .unit_of = g.unit_of,
                       .varies = varies,
                       .left_out = g.left_out };
    spread_within(y->number, pl_table_find(table, response)->number, t->nrow, &g, out);
    return PL_OK;
}
