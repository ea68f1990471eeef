/* A bare table from a CSV file: numbers where a whole column is numbers, text
 * beside them always. */
#include "cli/data.h"

#include <math.h>

static pl_code fill_column(pl_arena *a, const pl_csv *csv, size_t col, pl_column *out, pl_diags *d)
{
    const char **text = PL_NEWN(a, csv->nrow, const char *);
    double *number = PL_NEWN(a, csv->nrow, double);
    bool numbers = true, any = false;

    if (!text || !number)
        return pl_nomem(d);
    for (size_t row = 0; row < csv->nrow; row++) {
        const pl_csv_cell *cell = pl_csv_at(csv, row, col);

        text[row] = cell->text;
        number[row] = NAN;
        if (!cell->text[0])
            continue;
        any = true;
        numbers = pl_csv_number(csv, cell, &number[row]) && numbers;
    }
    *out = (pl_column){ csv->names[col], csv->units[col], 1, text, numbers && any ? number : NULL };
    return PL_OK;
}

pl_code pl_table_from_csv(pl_arena *a, const char *path, const pl_table **out, pl_diags *d)
{
    const pl_csv *csv;
    pl_table *t = PL_NEW(a, pl_table);
    const char **rows;
    pl_code rc = pl_csv_read(a, path, &csv, d);

    if (rc)
        return rc;
    if (!t)
        return pl_nomem(d);
    if (!csv->nrow)
        return pl_fail(d, PL_EDATA, csv->name, .found = "a header and no rows",
                       .expected = "rows of readings");
    t->name = csv->name;
    t->nrow = csv->nrow;
    t->ncol = csv->ncol;
    t->columns = PL_NEWN(a, t->ncol, pl_column);
    t->row_names = rows = PL_NEWN(a, t->nrow, const char *);
    if (!t->columns || !rows)
        return pl_nomem(d);
    for (size_t row = 0; row < t->nrow; row++) {
        rows[row] = pl_arena_printf(a, "line %zu", pl_csv_at(csv, row, 0)->line);
        if (!rows[row])
            return pl_nomem(d);
    }
    for (size_t col = 0; col < t->ncol && !rc; col++)
        rc = fill_column(a, csv, col, &t->columns[col], d);
    *out = t;
    return rc;
}
