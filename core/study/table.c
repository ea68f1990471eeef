/* Table: finding columns and reading them as factors. Making tables is cli's. */
#include "study/table.h"

#include <math.h>
#include <string.h>

#include "base/text.h"

const pl_column *pl_table_find(const pl_table *t, const char *name)
{
    for (size_t i = 0; i < t->ncol; i++)
        if (!strcmp(t->columns[i].name, name))
            return &t->columns[i];
    return NULL;
}

pl_code pl_table_need(const pl_table *t, const char *name, const pl_column **out, pl_diags *d)
{
    const char **names;
    const char *nearest;

    *out = pl_table_find(t, name);
    if (*out)
        return PL_OK;
    names = PL_NEWN(d->arena, t->ncol, const char *);
    if (!names)
        return pl_nomem(d);
    for (size_t i = 0; i < t->ncol; i++)
        names[i] = t->columns[i].name;
    nearest = pl_text_nearest(name, names, t->ncol);
    return pl_fail(
        d, PL_EKEY, t->name, .found = pl_arena_printf(d->arena, "no column \"%s\"", name),
        .expected = pl_arena_printf(d->arena, "one of %s",
                                    pl_text_list(d->arena, names, t->ncol, "and")),
        .mend = nearest ? pl_arena_printf(d->arena, "did you mean \"%s\"?", nearest) : "");
}

pl_code pl_table_need_number(const pl_table *t, const char *name, const pl_column **out,
                             pl_diags *d)
{
    pl_code rc = pl_table_need(t, name, out, d);
    double x;

    if (rc || (*out)->number)
        return rc;
    for (size_t i = 0; i < t->nrow; i++)
        if ((*out)->text[i][0] && !pl_text_to_number((*out)->text[i], &x))
            return pl_fail(d, PL_EVALUE,
                           pl_arena_printf(d->arena, "%s: %s", t->name, t->row_names[i]),
                           .found = pl_arena_printf(d->arena, "\"%s\" in column \"%s\"",
                                                    (*out)->text[i], name),
                           .expected = "a number");
    return pl_fail(d, PL_EVALUE, t->name,
                   .found = pl_arena_printf(d->arena, "column \"%s\" holds no numbers", name),
                   .expected = "numbers");
}

/* Rising order of numeric levels; few levels, so insertion serves. */
static void sort_levels(const char **levels, double *values, int *place, size_t n)
{
    for (size_t i = 1; i < n; i++)
        for (size_t j = i; j > 0 && values[j - 1] > values[j]; j--) {
            const char *l = levels[j];
            double v = values[j];
            int p = place[j];

            levels[j] = levels[j - 1];
            values[j] = values[j - 1];
            place[j] = place[j - 1];
            levels[j - 1] = l;
            values[j - 1] = v;
            place[j - 1] = p;
        }
}

pl_code pl_table_factor(pl_arena *a, const pl_table *t, const char *name, pl_factor_codes *out,
                        pl_diags *d)
{
    const pl_column *c;
    const char **levels = PL_NEWN(a, t->nrow, const char *);
    double *values = PL_NEWN(a, t->nrow, double);
    int *place = PL_NEWN(a, t->nrow, int), *rank = PL_NEWN(a, t->nrow, int);
    int *code = PL_NEWN(a, t->nrow, int);
    size_t n = 0;
    pl_code rc = pl_table_need(t, name, &c, d);

    if (rc)
        return rc;
    if (!levels || !values || !place || !rank || !code)
        return pl_nomem(d);
    for (size_t i = 0; i < t->nrow; i++) {
        size_t l = 0;

        code[i] = -1;
        if (!c->text[i][0])
            continue;
        /* numbers are one level however they are written: 1.2 and 1.20 */
        while (l < n && (c->number ? values[l] != c->number[i] : strcmp(levels[l], c->text[i])))
            l++;
        if (l == n) {
            levels[n] = c->text[i];
            values[n] = c->number ? c->number[i] : NAN;
            place[n] = (int)n;
            n++;
        }
        code[i] = (int)l;
    }
    if (c->number) {
        sort_levels(levels, values, place, n);
        for (size_t l = 0; l < n; l++)
            rank[place[l]] = (int)l;
        for (size_t i = 0; i < t->nrow; i++)
            if (code[i] >= 0)
                code[i] = rank[code[i]];
    }
    *out = (pl_factor_codes){ c->name, n, levels, c->number ? values : NULL, code };
    return PL_OK;
}
