/* Table: finding columns and reading them as factors. Making tables is cli's. */
#include "study/table.h"

#include <math.h>
#include <stdint.h>
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

/* Levels met so far by what they are: place + 1 in an open table of a power of two, twice as long
 * as there are rows. A factor may have as many levels as there are boards in a shop's whole record.
 */
typedef struct met {
    size_t mask;
    int *slot;
} met;

static uint64_t hash_of(const pl_column *c, size_t row)
{
    uint64_t h = 1469598103934665603u; /* FNV-1a, 64 bits */
    const unsigned char *bytes = (const unsigned char *)c->text[row];
    double x = c->number ? c->number[row] + 0.0 : 0; /* -0 is 0 */
    size_t n = c->number ? sizeof x : strlen(c->text[row]);
    unsigned char number[sizeof x];

    memcpy(number, &x, sizeof x);
    if (c->number)
        bytes = number;
    for (size_t i = 0; i < n; i++)
        h = (h ^ bytes[i]) * 1099511628211u;
    return h ^ h >> 29;
}

/* The slot where this row's level stands or belongs. Numbers are one level however they are
 * written: 1.2 and 1.20. */
static int *find_level(const met *m, const pl_column *c, size_t row, const char *const *levels,
                       const double *values)
{
    for (size_t at = hash_of(c, row) & m->mask;; at = (at + 1) & m->mask) {
        int l = m->slot[at] - 1;

        if (l < 0 || (c->number ? values[l] == c->number[row] : !strcmp(levels[l], c->text[row])))
            return &m->slot[at];
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
    met m = { .mask = 1 };
    pl_code rc = pl_table_need(t, name, &c, d);

    if (rc)
        return rc;
    while (m.mask < 2 * t->nrow)
        m.mask = 2 * m.mask + 1;
    m.slot = PL_NEWN(a, m.mask + 1, int);
    if (!levels || !values || !place || !rank || !code || !m.slot)
        return pl_nomem(d);
    for (size_t i = 0; i < t->nrow; i++) {
        int *slot;

        code[i] = -1;
        if (!c->text[i][0])
            continue;
        slot = find_level(&m, c, i, levels, values);
        if (!*slot) {
            levels[n] = c->text[i];
            values[n] = c->number ? c->number[i] : NAN;
            place[n] = (int)n;
            *slot = (int)++n;
        }
        code[i] = *slot - 1;
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
