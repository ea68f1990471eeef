/* The randomisation test of one column of a table. The test itself is randomise.c's. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/text.h"
#include "fit/randomise.h"
#include "fit/units.h"

static int by_value(const void *a, const void *b)
{
    const size_t *x = a, *y = b;

    return (*x > *y) - (*x < *y);
}

/* id: blocks so far, below nrow; made finer by one more column. kept: rows with all cells. */
static pl_code refine(pl_arena *a, const pl_table *t, const char *column, bool *kept, size_t *id,
                      size_t *nblock, pl_diags *d)
{
    pl_factor_codes f = { 0 };
    size_t *sorted = PL_NEWN(a, t->nrow, size_t), n = 0, distinct = 0;
    pl_code rc = sorted ? pl_table_factor(a, t, column, &f, d) : pl_nomem(d);

    if (rc || !f.code)
        return rc;
    for (size_t r = 0; r < t->nrow; r++) {
        kept[r] = kept[r] && f.code[r] >= 0;
        if (!kept[r])
            continue;
        id[r] = id[r] * f.nlevel + (size_t)f.code[r];
        sorted[n++] = id[r];
    }
    qsort(sorted, n, sizeof *sorted, by_value);
    for (size_t i = 0; i < n; i++)
        if (!i || sorted[i] != sorted[distinct - 1])
            sorted[distinct++] = sorted[i];
    for (size_t r = 0; r < t->nrow && distinct; r++)
        if (kept[r])
            id[r] = (size_t)((size_t *)bsearch(&id[r], sorted, distinct, sizeof *sorted, by_value) -
                             sorted);
    *nblock = distinct;
    return PL_OK;
}

static pl_code steady(const pl_units *u, const char *column, pl_diags *d)
{
    const pl_column *c = pl_table_find(u->table, column);

    if (!c || !u->varies[c - u->table->columns])
        return PL_OK;
    return pl_fail(d, PL_ECONFLICT, column, .found = "it changes within a glue-up",
                   .expected = "one value a glue-up: a glue-up is drawn as one");
}

static pl_code arrange(pl_arena *a, const pl_table *t, const pl_randomise_spec *spec,
                       pl_arranged *x, const char **where, pl_diags *d)
{
    const pl_column *y = NULL;
    pl_factor_codes f = { 0 };
    bool *kept = PL_NEWN(a, t->nrow, bool);
    size_t *id = PL_NEWN(a, t->nrow, size_t), *level = PL_NEWN(a, t->nrow, size_t), n = 0;
    double *value = PL_NEWN(a, t->nrow, double);
    pl_code rc = pl_table_need_number(t, spec->response, &y, d);

    if (!rc)
        rc = pl_table_factor(a, t, spec->factor, &f, d);
    if (!rc && (!kept || !id || !level || !value))
        rc = pl_nomem(d);
    *x = (pl_arranged){ .nlevel = f.nlevel, .nblock = 1 };
    *where = f.name;
    for (size_t r = 0; r < t->nrow && !rc; r++)
        kept[r] = f.code[r] >= 0 && isfinite(y->number[r]);
    for (size_t i = 0; i < spec->nwithin && !rc; i++)
        rc = refine(a, t, spec->within[i], kept, id, &x->nblock, d);
    for (size_t r = 0; r < t->nrow && !rc; r++) {
        if (!kept[r])
            continue;
        id[n] = id[r];
        level[n] = (size_t)f.code[r];
        value[n++] = y->number[r];
    }
    x->n = n;
    x->y = value;
    x->level = level;
    x->block = id;
    return rc;
}

static const char *listed(pl_arena *a, const char *const *names, size_t n)
{
    pl_text t;

    pl_text_init(&t, a);
    for (size_t i = 0; i < n; i++)
        pl_text_add(&t, "%s%s", i ? ", " : "", names[i]);
    return n ? pl_text_done(&t) : "";
}

pl_code pl_randomise_table(pl_arena *a, const pl_table *t, const pl_randomise_spec *spec,
                           pl_drawn_again *out, pl_diags *d)
{
    pl_units u = { 0 };
    pl_arranged x = { 0 };
    const char *within = listed(a, spec->within, spec->nwithin), *where = spec->factor;
    pl_code rc = within ? pl_fit_units(a, t, spec->unit, spec->response, &u, d) : pl_nomem(d);

    *out = (pl_drawn_again){ 0 };
    if (!rc && u.table && spec->unit) {
        rc = steady(&u, spec->factor, d);
        for (size_t i = 0; i < spec->nwithin && !rc; i++)
            rc = steady(&u, spec->within[i], d);
    }
    if (!rc && u.table)
        rc = arrange(a, u.table, spec, &x, &where, d);
    if (!rc && !x.n)
        rc = pl_fail(d, PL_EDATA, where, .found = "no row has all that is asked for");
    if (!rc)
        rc = pl_randomise(a, &x, spec->draws, spec->seed, out, d);
    out->factor = where;
    out->within = within;
    return rc;
}
