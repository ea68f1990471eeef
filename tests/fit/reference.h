/* Reference sets for the tests of fit: a CSV file as a Table, figures out of its
 * JSON, and closeness in digits. */
#ifndef TESTS_FIT_REFERENCE_H
#define TESTS_FIT_REFERENCE_H

#include "base/csv.h"
#include "base/json.h"
#include "study/table.h"
#include "support.h"

/* cells: nrow x ncol texts, row-major. */
static inline const pl_table *table_of(bench *b, const char *name, size_t nrow, size_t ncol,
                                       const char *const *names, const char *const *cells)
{
    pl_table *t = PL_NEW(b->a, pl_table);
    const char **rows = PL_NEWN(b->a, nrow, const char *);

    *t = (pl_table){ name, nrow, ncol, PL_NEWN(b->a, ncol, pl_column), rows };
    for (size_t i = 0; i < nrow; i++)
        rows[i] = pl_arena_printf(b->a, "row %zu", i + 1);
    for (size_t j = 0; j < ncol; j++) {
        const char **text = PL_NEWN(b->a, nrow, const char *);
        double *number = PL_NEWN(b->a, nrow, double);
        bool all = true;

        for (size_t i = 0; i < nrow; i++) {
            text[i] = cells[i * ncol + j];
            number[i] = NAN;
            if (text[i][0] && !pl_text_to_number(text[i], &number[i]))
                all = false;
        }
        t->columns[j] = (pl_column){ names[j], "", 1, text, all ? number : NULL };
    }
    return t;
}

static inline const pl_table *table_at(bench *b, const char *path)
{
    const pl_csv *csv = NULL;
    const char **cells;

    assert_ok(b, pl_csv_read(b->a, path, &csv, &b->d));
    cells = PL_NEWN(b->a, csv->nrow * csv->ncol, const char *);
    for (size_t i = 0; i < csv->nrow * csv->ncol; i++)
        cells[i] = csv->cells[i].text;
    return table_of(b, path, csv->nrow, csv->ncol, csv->names, cells);
}

/* "nist/Norris" -> tests/reference/nist/Norris.csv */
static inline const pl_table *reference_table(bench *b, const char *set)
{
    return table_at(b, top_path(b->a, pl_arena_printf(b->a, "tests/reference/%s.csv", set)));
}

static inline const pl_json *reference_json(bench *b, const char *set)
{
    const pl_json *v = NULL;
    const char *path = top_path(b->a, pl_arena_printf(b->a, "tests/reference/%s.json", set));

    assert_ok(b, pl_json_read(b->a, path, &v, &b->d));
    return v;
}

/* A value by its path: "certified/parameters/0/estimate". */
static inline const pl_json *json_value(const pl_json *v, const char *path)
{
    char part[128];

    while (*path) {
        size_t n = strcspn(path, "/");
        const pl_json *next;

        snprintf(part, sizeof part, "%.*s", (int)n, path);
        next = v->kind == PL_JSON_ARRAY ? pl_json_at(v, strtoul(part, NULL, 10))
                                        : pl_json_get(v, part);
        if (!next)
            fail_msg("no \"%s\" in the reference file", part);
        v = next;
        path += n + (path[n] == '/');
    }
    return v;
}

static inline double json_number(const pl_json *v, const char *path)
{
    const pl_json *x = json_value(v, path);
    double out = NAN;

    if (x->kind == PL_JSON_STRING ? !pl_text_to_number(x->string, &out) : x->kind != PL_JSON_NUMBER)
        fail_msg("\"%s\" is no number", path);
    return x->kind == PL_JSON_NUMBER ? x->number : out;
}

/* Log relative error: digits that agree; 15 at most (a printed value holds no more). */
static inline double digits(double got, double wanted)
{
    double e = wanted != 0 ? fabs(got - wanted) / fabs(wanted) : fabs(got);

    return e > 0 ? fmin(15, -log10(e)) : isnan(got) ? -1 : 15;
}

static inline void assert_digits(const char *what, double got, double wanted, double least)
{
    double d = digits(got, wanted);

    if (getenv("PLATEN_DIGITS"))
        printf("    %-28s %5.2f digits (bound %g)\n", what, d, least);
    if (!(d >= least))
        fail_msg("%s: got %.17g, wanted %.17g: %.2f digits, at least %g wanted", what, got, wanted,
                 d, least);
}

#endif
