/* Table: one row per specimen, what every fit starts from.
 *
 * Made from a CSV file (core/cli/data.c) or from a plan joined with its readings
 * (core/cli/join.c). Read-only once made; lives in its arena. */
#ifndef PL_STUDY_TABLE_H
#define PL_STUDY_TABLE_H

#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"
#include "base/diag.h"

typedef struct pl_column {
    const char *name;
    const char *unit;        /* of number[], to print; "" if none */
    double scale;            /* number[] is in SI / scale: 1e6 for N/mm2; 1 if plain */
    const char *const *text; /* nrow cells as written, "" = missing */
    const double *number;    /* nrow values; NAN where the cell is missing or no number;
                                NULL if some cell that is not missing is no number */
} pl_column;

typedef struct pl_table {
    const char *name; /* file or study */
    size_t nrow, ncol;
    pl_column *columns;
    const char *const *row_names; /* specimen ids or "line 17" */
} pl_table;

/* NULL when absent. */
const pl_column *pl_table_find(const pl_table *t, const char *name);
/* As find, with a refusal that names the nearest column. EKEY. */
pl_code pl_table_need(const pl_table *t, const char *name, const pl_column **out, pl_diags *d);
/* As need, and every cell that is there is a number. EVALUE names the first that is not. */
pl_code pl_table_need_number(const pl_table *t, const char *name, const pl_column **out,
                             pl_diags *d);

/* A column read as a factor. Levels come in rising order if all are numbers,
 * else in order of first appearance. code[row] is -1 where missing. */
typedef struct pl_factor_codes {
    const char *name;
    size_t nlevel;
    const char *const *levels;
    const double *values; /* nlevel numbers, NULL if some level is no number */
    const int *code;      /* nrow */
} pl_factor_codes;
pl_code pl_table_factor(pl_arena *a, const pl_table *t, const char *name, pl_factor_codes *out,
                        pl_diags *d);

#endif
