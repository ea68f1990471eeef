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

/* Groups of records and what checks them. */
typedef struct worked_group {
    const char *name;
    size_t count;
    void (*check)(const pl_json *record);
} worked_group;

/* Every record of a file is in one group and is checked there; every group has its count. */
static inline void worked_every(bench *b, const char *file, const worked_group *groups,
                                size_t ngroup, size_t all)
{
    const pl_json *list = worked_list(b, file);
    size_t seen[64] = { 0 };

    assert_true(ngroup <= 64);
    assert_int_equal(list->count, all);
    for (const pl_json *r = list->child; r; r = r->next) {
        size_t i = 0;

        while (i < ngroup && !worked_in(r, groups[i].name))
            i++;
        if (i == ngroup)
            fail_msg("nothing checks %s", worked_id(r));
        groups[i].check(r);
        seen[i]++;
    }
    for (size_t i = 0; i < ngroup; i++)
        if (seen[i] != groups[i].count)
            fail_msg("%zu records %s, wanted %zu", seen[i], groups[i].name, groups[i].count);
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
