/* Tables of text. libcsv is used in csv_reader.c and nowhere else.
 *
 * What parts the cells, the decimal sign, the encoding and where the table begins is
 * decided from the file's beginning (sniff.h). Lines end with LF, CRLF or CR. Columns
 * of places count bytes of the text as UTF-8. */
#ifndef PL_BASE_CSV_H
#define PL_BASE_CSV_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/arena.h"
#include "base/diag.h"
#include "base/sniff.h"
#include "base/text.h"

#define PL_CSV_CELL_MOST ((size_t)64 * 1024) /* bytes in one cell */
#define PL_CSV_COLUMNS_MOST ((size_t)1024)

/* ---- whole tables: forms and bare tables ---- */

typedef struct pl_csv_cell {
    const char *text;    /* trimmed of blanks around; "" if empty */
    size_t line, column; /* of its first byte, from 1; column counts bytes */
} pl_csv_cell;

typedef struct pl_csv {
    const char *name;          /* file name for findings */
    char delimiter;            /* ',' ';' '\t' or '|' */
    size_t ncol, nrow;         /* nrow without the header */
    const char **names;        /* header, units taken off: "peak" of "peak [kN]" */
    const char **units;        /* "kN"; "" when the header gives none */
    const pl_csv_cell *header; /* ncol, for places */
    const pl_csv_cell *cells;  /* nrow x ncol, row-major */
} pl_csv;

/* The whole file into memory. The header is the first line that is neither blank nor a
 * comment. Lines that are blank, or whose cells are all empty, are skipped; a line that
 * starts with '#' is a comment. The delimiter is the one that the header line holds most
 * often outside quotes, ',' if none. Refused: no header, a doubled or empty column name,
 * a row with another number of cells (empty ones behind a trailing delimiter are let
 * pass), a stray or unclosed quote, what is neither UTF-8 nor UTF-16, a NUL
 * byte, a cell over PL_CSV_CELL_MOST, a header over PL_CSV_COLUMNS_MOST columns. Places
 * are in the findings; all faults in one run. PL_ENOFILE, PL_ESYNTAX, PL_ENOMEM. */
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
/* The cell as one number; with decimal point, or decimal comma where no comma parts the
 * cells: whoever fills in a form by hand may mix them. */
bool pl_csv_number(const pl_csv *t, const pl_csv_cell *c, double *out);

/* Writing: one cell, quoted where needed; the caller writes ',' and '\n'. */
void pl_csv_put(pl_text *t, const char *cell);

/* ---- records, column by column, in memory that does not grow with their length ---- */

#define PL_CSV_BATCH ((size_t)2048) /* rows of a batch, at most */

typedef enum pl_csv_as { PL_CSV_SKIP, PL_CSV_NUMBER, PL_CSV_WORDS } pl_csv_as;

/* What becomes of one column of the file. */
typedef struct pl_csv_use {
    pl_csv_as as;
    size_t slot; /* its place in a batch; each slot for one column at most */
} pl_csv_use;

typedef struct pl_csv_head {
    const pl_sniffed *found;
    const char *const *names, *const *units; /* n each */
    const size_t *columns;                   /* where in the header line each begins */
    size_t n;
} pl_csv_head;

/* n rows. numbers[slot] or words[slot] holds n of them, the other is NULL; both are NULL
 * for a slot that no column has. Lent until the call returns; numbers may be changed. */
typedef struct pl_csv_batch {
    size_t n;
    double *const *numbers;
    const char **const *words;
    const uint64_t *lines; /* of each row, from 1 */
    bool last;             /* the last one, which may be empty */
} pl_csv_batch;

/* A non-zero return ends the reading with PL_OK: whoever stops knows why. */
typedef struct pl_csv_ops {
    /* Is this the header? May be asked of many lines. */
    bool (*knows)(void *self, const char *const *names, size_t n);
    /* Once. Fills use, n entries, zeroed. */
    int (*header)(void *self, const pl_csv_head *head, pl_csv_use *use);
    int (*batch)(void *self, const pl_csv_batch *b);
} pl_csv_ops;

/* Reads fd from its start to its end. After the first fault there are no more batches,
 * but the reading goes on for further faults. ENOFILE, ESYNTAX; EVALUE for a cell that
 * is no number; ENOMEM. slow: everything through libcsv and strtod, for comparison. */
typedef struct pl_csv_how {
    size_t nslot;
    bool slow;
    bool narrow; /* the fast lane without wide registers, for comparison */
} pl_csv_how;
pl_code pl_csv_columns(pl_arena *a, int fd, const char *name, pl_csv_how how, const pl_csv_ops *ops,
                       void *self, pl_diags *diags);

#endif
