/* The engine behind csv.h: bytes in, rows of texts out. Only csv_*.c include this. */
#ifndef PL_BASE_CSV_INNER_H
#define PL_BASE_CSV_INNER_H

#include <csv.h>

#include "base/csv.h"

/* One row on its way: texts one after the other, each with its NUL. */
typedef struct pl_csv_row {
    char *bytes;
    size_t used, room;
    struct pl_csv_piece {
        size_t text; /* offset in bytes */
        size_t line, column;
    } * pieces;
    size_t count, pieces_room;
    size_t extra;      /* cells beyond the header's */
    bool filled;       /* some cell holds a text */
    bool extra_filled; /* one beyond the header's does */
} pl_csv_row;

typedef struct pl_csv_reader pl_csv_reader;
struct pl_csv_reader {
    pl_arena *a;
    const char *name;
    pl_diags *d;
    pl_sniffed found;
    bool loose; /* a record: units in round brackets, '%' for comments, nameless columns */
    struct csv_parser parser;
    bool parser_made;

    size_t line, column;           /* of the byte that comes next */
    size_t cell_line, cell_column; /* of the cell now read */
    size_t cell_bytes;
    bool row_open;         /* a byte of a row has been read */
    bool cell_open;        /* a byte other than a blank, of the cell */
    bool after_cr;         /* the last byte was a CR */
    bool skip_line;        /* a comment, or behind a fault */
    bool stopped;          /* by the caller, or no sense in reading on */
    bool headed;           /* the header has been read */
    bool units_due;        /* the next row holds the units */
    bool gap, in_brackets; /* blanks between cells: one lies behind; a unit is open */
    bool in_quotes;
    size_t faults_at; /* d->count at the start */

    pl_csv_row row;
    size_t ncol;
    const char **names, **units;

    /* A whole row, header first; non-zero: stop. */
    int (*take)(pl_csv_reader *r, bool header);
    void *self;
};

/* After found, name, d, a, take are set. */
void pl_csv_open(pl_csv_reader *r);
/* Up to the end of the bytes or, with one_row, to the end of a line at which no row is
 * open. Returns the bytes read. */
size_t pl_csv_feed(pl_csv_reader *r, const char *s, size_t n, bool one_row);
void pl_csv_feed_end(pl_csv_reader *r);
pl_code pl_csv_close(pl_csv_reader *r);

void pl_csv_fault(pl_csv_reader *r, pl_code code, size_t line, size_t column, const char *found,
                  const char *expected, const char *mend);
bool pl_csv_faulty(const pl_csv_reader *r);
static inline const char *pl_csv_piece_text(const pl_csv_reader *r, size_t i)
{
    return r->row.bytes + r->row.pieces[i].text;
}

/* ---- the fast lane: rows of plain numbers, many at once ---- */

#define PL_CSV_PAD 96 /* bytes behind the end that may be read */
#define PL_CSV_FAST_COLUMNS 64

typedef struct pl_csv_fast {
    char delimiter; /* ' ': blanks and tabs */
    char point;
    bool trailing;
    size_t ncol;
    double **to; /* column of the file -> its numbers; NULL: skipped */

    bool all_numbers;               /* none is skipped; these are made by pl_csv_fast_init */
    char ends[PL_CSV_FAST_COLUMNS]; /* what stands behind each cell */
    unsigned char shuffle[17][16][16];
} pl_csv_fast;

/* After the members above are set. */
void pl_csv_fast_init(pl_csv_fast *f);
/* Reads rows from s on, each ending with a line end before `end`, PL_CSV_PAD readable
 * bytes behind it, into to[...][row...], until `row` is `most`, or a row is not plain.
 * Returns the new row count; *stopped is the first byte of the row that was not read. */
size_t pl_csv_fast_rows(const pl_csv_fast *f, const char *s, const char *end, size_t row,
                        size_t most, const char **stopped);
/* The same without the wide registers, for tests and other machines. */
size_t pl_csv_fast_rows_narrow(const pl_csv_fast *f, const char *s, const char *end, size_t row,
                               size_t most, const char **stopped);

#endif
