/* The battery's long record: a recording of the rig's own stretched to a million rows, and what
 * each row costs in time and memory. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "rigs/try_inner.h"

/* Memory that may come with a row: less than one number each, so that no row can be kept. */
#define BYTES_A_ROW_MOST 4.0

static void put_cell(FILE *f, double x, bool commas)
{
    char text[40];
    char *point;

    snprintf(text, sizeof text, "%.9g", x);
    point = commas ? strchr(text, '.') : NULL;
    if (point)
        *point = ',';
    fputs(text, f);
}

/* `times` rows from one row on towards the next: numbers on the straight line between them,
 * words as in the first. */
static void stretch(const pl_lines *l, FILE *f, const char *const *from, const char *const *to,
                    size_t n, size_t times)
{
    double x[PL_CELLS_MOST], y[PL_CELLS_MOST];
    bool between[PL_CELLS_MOST];

    for (size_t k = 0; k < n; k++)
        between[k] = pl_cell_number(from[k], l->commas, &x[k]) &&
                     pl_cell_number(to[k], l->commas, &y[k]);
    for (size_t j = 0; j < times; j++) {
        for (size_t k = 0; k < n; k++) {
            if (k)
                fputc(l->between, f);
            if (j > 0 && between[k])
                put_cell(f, x[k] + (y[k] - x[k]) * (double)j / (double)times, l->commas);
            else
                fputs(from[k], f);
        }
        fputc('\n', f);
    }
}

/* The recording with so many rows between each two of its own that it has PL_TRY_ROWS. */
static bool write_long(const pl_try_record *r, size_t *rows)
{
    const pl_lines *l = &r->lines;
    size_t own = l->n - l->first, times = PL_TRY_ROWS / own + 1;
    pl_arena *a = r->t->a;
    FILE *f = fopen(r->t->file, "wb");
    bool good;

    if (!f)
        return false;
    for (size_t i = 0; i < l->first; i++)
        fprintf(f, "%s\n", l->text[i]);
    *rows = 0;
    for (size_t i = l->first; i < l->n; i++) {
        const char *from[PL_CELLS_MOST], *to[PL_CELLS_MOST];
        pl_mark mark = pl_arena_mark(a);
        size_t n = pl_line_cells(a, l->text[i], l->between, from),
               m = i + 1 < l->n ? pl_line_cells(a, l->text[i + 1], l->between, to) : 0;

        stretch(l, f, from, n == m ? to : from, n, times);
        *rows += times;
        pl_arena_reset(a, mark);
    }
    good = !ferror(f);
    return fclose(f) == 0 && good;
}

pl_code pl_try_long(pl_try_record *r)
{
    pl_try *t = r->t;
    pl_trials *out = t->out;
    pl_cost plain = r->cost;
    pl_readings got;
    size_t rows;
    pl_code one, rc;

    if (!write_long(r, &rows))
        return pl_fail(t->d, PL_EWRITE, t->file, .found = "the long record cannot be written",
                       .expected = "100 MB of room", .mend = "set TMPDIR");
    one = pl_try_read(r, &t->rig, t->file, &got);
    if (pl_try_ends_all(one))
        return one;
    rc = pl_try_note_record(r, "of a million rows", "readings",
                            "keep what lasts in state, and give few readings a file",
                            r->broke[0] ? r->broke
                            : one       ? pl_code_text(one)
                                        : "");
    if (rc || one)
        return rc;
    out->rows = rows;
    out->us_per_row = 1e6 * fmax(0, r->cost.cpu_s - plain.cpu_s) / (double)rows;
    out->bytes_per_row = fmax(0, r->cost.most_bytes - plain.most_bytes) / (double)rows;
    return pl_try_note_record(
        r, "of a million rows needs no more memory than a short one", "no row kept",
        "take each batch as it comes; what lasts goes into state",
        out->bytes_per_row <= BYTES_A_ROW_MOST
            ? ""
            : pl_arena_printf(t->a, "%.3g bytes more a row", out->bytes_per_row));
}
