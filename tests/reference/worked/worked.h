/* Reading the worked values of this folder in a test. */
#ifndef TESTS_WORKED_H
#define TESTS_WORKED_H

#include "support.h"

#include "base/csv.h"
#include "base/json.h"

static inline const pl_json *worked_list(bench *b, const char *file)
{
    const pl_json *list = NULL;
    const char *path = pl_arena_printf(b->a, "tests/reference/worked/%s", file);

    assert_ok(b, pl_json_read(b->a, top_path(b->a, path), &list, &b->d));
    return list;
}

static inline const pl_csv *worked_table(bench *b, const char *file)
{
    const pl_csv *t = NULL;
    const char *path = pl_arena_printf(b->a, "tests/reference/worked/%s", file);

    assert_ok(b, pl_csv_read(b->a, top_path(b->a, path), &t, &b->d));
    return t;
}

static inline const char *worked_id(const pl_json *record)
{
    return pl_json_get(record, "id")->string;
}

/* The record belongs to a group: "power:phgrid/..." to "phgrid". */
static inline bool worked_in(const pl_json *record, const char *group)
{
    const char *at = strchr(worked_id(record), ':') + 1;
    size_t n = strlen(group);

    return strncmp(at, group, n) == 0 && at[n] == '/';
}

/* A number, or a text that holds one, or "inf"; NaN when absent. */
static inline double worked_value(const pl_json *v)
{
    double x = NAN;

    if (v && v->kind == PL_JSON_NUMBER)
        return v->number;
    if (v && v->kind == PL_JSON_STRING)
        return strcmp(v->string, "inf") == 0 ? INFINITY : strtod(v->string, NULL);
    return x;
}

static inline double worked_in_value(const pl_json *record, const char *key)
{
    return worked_value(pl_json_get(pl_json_get(record, "inputs"), key));
}

static inline double worked_expected(const pl_json *record, const char *key)
{
    return worked_value(pl_json_get(pl_json_get(record, "expected"), key));
}

static inline double worked_cell(const pl_csv *t, size_t row, const char *column)
{
    double x = NAN;
    size_t c = pl_csv_column(t, column);

    assert_true(c < t->ncol);
    assert_true(pl_csv_number(t, pl_csv_at(t, row, c), &x));
    return x;
}

#endif
