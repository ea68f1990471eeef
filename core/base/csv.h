/* Tables of text: comma- or semicolon-separated files. libcsv is used here
 * and nowhere else.
 *
 * The delimiter is the one of ',' and ';' that the header line holds outside
 * quotes more often; ',' if it holds neither. With ';' a decimal comma in
 * number cells is understood ("2,4"), never with ','. A UTF-8 byte order mark
 * is skipped. Lines end with LF, CRLF or CR. */
#ifndef PL_BASE_CSV_H
#define PL_BASE_CSV_H

#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"
#include "base/diag.h"
#include "base/text.h"

#define PL_CSV_CELL_MOST ((size_t)64 * 1024) /* bytes in one cell */
#define PL_CSV_COLUMNS_MOST ((size_t)1024)

typedef struct pl_csv_cell {
    const char *text;    /* trimmed of blanks around; "" if empty */
    size_t line, column; /* of its first byte, from 1; column counts bytes */
} pl_csv_cell;

typedef struct pl_csv {
    const char *name; /* file name for findings */
    char delimiter;
    size_t ncol, nrow;         /* nrow without the header */
    const char **names;        /* header, units taken off: "peak" of "peak [kN]" */
    const char **units;        /* "kN"; "" when the header gives none */
    const pl_csv_cell *header; /* ncol, for places */
    const pl_csv_cell *cells;  /* nrow x ncol, row-major */
} pl_csv;

/* The whole file into memory. Lines that are blank, or whose cells are all
 * empty, are skipped; a line that starts with '#' is a comment. Refused: no
 * header, a doubled or empty column name, a row with another number of cells,
 * a stray or unclosed quote, invalid UTF-8, a NUL byte, a cell over
 * PL_CSV_CELL_MOST, a header over PL_CSV_COLUMNS_MOST columns. Places are in
 * the findings; all faults in one run. PL_ENOFILE, PL_ESYNTAX, PL_ENOMEM. */
pl_code pl_csv_read(pl_arena *a, const char *path, const pl_csv **out, pl_diags *diags);
pl_code pl_csv_parse(pl_arena *a, const char *name, const char *text, size_t length,
                     const pl_csv **out, pl_diags *diags);

/* Column by name; ncol when absent. */
size_t pl_csv_column(const pl_csv *t, const char *name);
static inline const pl_csv_cell *pl_csv_at(const pl_csv *t, size_t row, size_t col)
{
    return &t->cells[row * t->ncol + col];
}
/* "day3.csv:17:5" */
char *pl_csv_where(pl_arena *a, const pl_csv *t, const pl_csv_cell *c);
/* The cell as one number; a decimal comma if the delimiter is ';'. */
bool pl_csv_number(const pl_csv *t, const pl_csv_cell *c, double *out);

/* Writing: one cell, quoted where needed; the caller writes ',' and '\n'. */
void pl_csv_put(pl_text *t, const char *cell);

/* Streaming for traces: reads fd from where it stands to its end, by the same
 * rules, and calls header() once, then row() once a data row with its n cells in
 * order. What they are given lives until they return. A non-zero return ends
 * the reading with PL_OK: whoever stops knows why. After the first fault row()
 * is called no more, but the reading goes on for further faults. Memory does
 * not grow with the number of rows. first_line: number of the line where fd
 * stands (1 at the start of a file), for places. */
typedef struct pl_csv_stream_ops {
    int (*header)(void *self, const char *const *names, const char *const *units, size_t n);
    int (*row)(void *self, const char *const *cells, size_t n, size_t line);
} pl_csv_stream_ops;
pl_code pl_csv_stream(pl_arena *a, int fd, const char *name, size_t first_line,
                      const pl_csv_stream_ops *ops, void *self, pl_diags *diags);

#endif
