/* The engine of all tables: rows of texts on libcsv. Bytes are handed to it one by one,
 * because it keeps no positions: lines, columns, comments and caps are kept here. What
 * columns mean is for csv.c and csv_columns.c. */
#include <stdint.h>
#include <string.h>

#include "base/csv_inner.h"

static char *place(pl_csv_reader *r, size_t line, size_t column)
{
    return pl_arena_printf(r->d->arena, "%s:%zu:%zu", r->name, line, column);
}

void pl_csv_fault(pl_csv_reader *r, pl_code code, size_t line, size_t column, const char *found,
                  const char *expected, const char *mend)
{
    char *where = place(r, line, column);

    if (!where || !found || !expected)
        pl_nomem(r->d);
    else
        pl_fail(r->d, code, where, .found = found, .expected = expected, .mend = mend);
    /* What more there is nobody could be told; and memory must not grow. */
    if (r->d->count >= PL_DIAGS_MOST || r->d->out_of_memory)
        r->stopped = true;
}

static void fault(pl_csv_reader *r, size_t line, size_t column, const char *found,
                  const char *expected, const char *mend)
{
    pl_csv_fault(r, PL_ESYNTAX, line, column, found, expected, mend);
}

bool pl_csv_faulty(const pl_csv_reader *r)
{
    return pl_diags_code(r->d, r->faults_at) != PL_OK;
}

/* ---------------------------------------------------------------- rows ---- */

static bool more_bytes(pl_csv_reader *r, size_t n)
{
    pl_csv_row *b = &r->row;
    size_t room = 2 * (b->used + n);
    char *bytes;

    if (b->used + n <= b->room)
        return true;
    bytes = pl_arena_grow(r->a, b->bytes, b->used, room, 1);
    if (!bytes) {
        pl_nomem(r->d);
        return false;
    }
    b->bytes = bytes;
    b->room = room;
    return true;
}

static bool more_pieces(pl_csv_reader *r)
{
    pl_csv_row *b = &r->row;
    size_t room = b->pieces_room ? 2 * b->pieces_room : 16;
    struct pl_csv_piece *pieces;

    if (b->count < b->pieces_room)
        return true;
    pieces = pl_arena_grow(r->a, b->pieces, b->count, room, sizeof *pieces);
    if (!pieces) {
        pl_nomem(r->d);
        return false;
    }
    b->pieces = pieces;
    b->pieces_room = room;
    return true;
}

static void row_clear(pl_csv_reader *r)
{
    r->row.used = r->row.count = r->row.extra = 0;
    r->row.filled = r->row.extra_filled = false;
    r->row_open = r->cell_open = false;
    r->gap = r->in_brackets = r->in_quotes = false;
    r->cell_bytes = 0;
}

/* libcsv has a whole cell. */
static void cell_done(void *text, size_t n, void *self)
{
    pl_csv_reader *r = self;
    pl_csv_row *b = &r->row;
    const char *s = text;
    size_t most = r->headed ? r->ncol : PL_CSV_COLUMNS_MOST, utf8;

    while (n && (s[0] == ' ' || s[0] == '\t')) {
        s++;
        n--;
    }
    while (n && (s[n - 1] == ' ' || s[n - 1] == '\t'))
        n--;
    if (!r->cell_open) { /* empty: where it would stand */
        r->cell_line = r->line;
        r->cell_column = r->column;
    }
    r->cell_open = false;
    r->cell_bytes = 0;
    b->filled = b->filled || n;
    utf8 = pl_text_utf8_fault(s, n);
    if (utf8 < n)
        fault(r, r->cell_line, r->cell_column,
              pl_arena_printf(r->a, "byte 0x%02x", (unsigned)(unsigned char)s[utf8]), "UTF-8",
              "save the table as UTF-8");
    if (r->found.encoding != PL_UTF8 && n >= 3 && memmem(s, n, "\xef\xbf\xbd", 3))
        fault(r, r->cell_line, r->cell_column, "bytes that are no character",
              "the encoding that the file begins with", "save the table as UTF-8");
    if (b->count >= most) {
        b->extra++;
        b->extra_filled = b->extra_filled || n;
        return;
    }
    if (!more_bytes(r, n + 1) || !more_pieces(r)) {
        r->stopped = true;
        return;
    }
    b->pieces[b->count++] = (struct pl_csv_piece){ b->used, r->cell_line, r->cell_column };
    if (n)
        memcpy(b->bytes + b->used, s, n);
    b->bytes[b->used + n] = '\0';
    b->used += n + 1;
}

static void check_names(pl_csv_reader *r)
{
    for (size_t i = 0; i < r->ncol; i++) {
        const struct pl_csv_piece *p = &r->row.pieces[i];

        if (!r->names[i][0] && !r->loose)
            fault(r, p->line, p->column, "a column without a name", "a name for every column",
                  NULL);
        for (size_t j = 0; j < i && r->names[i][0]; j++)
            if (!strcmp(r->names[i], r->names[j])) {
                fault(r, p->line, p->column,
                      pl_arena_printf(r->a, "column \"%s\" a second time", r->names[i]),
                      "each column once", NULL);
                break;
            }
    }
}

static void hand_header(pl_csv_reader *r)
{
    if (!pl_csv_faulty(r) && r->take(r, true))
        r->stopped = true;
}

static void take_header(pl_csv_reader *r)
{
    if (r->found.trailing)
        while (r->row.count > 1 && !pl_csv_piece_text(r, r->row.count - 1)[0])
            r->row.count--;
    r->ncol = r->row.count;
    r->names = PL_NEWN(r->a, r->ncol, const char *);
    r->units = PL_NEWN(r->a, r->ncol, const char *);
    r->headed = true;
    r->units_due = r->found.units_row;
    if (r->row.extra) {
        fault(r, r->row.pieces[0].line, 1,
              pl_arena_printf(r->a, "%zu columns", r->ncol + r->row.extra), "at most 1024", NULL);
        r->stopped = true;
        return;
    }
    for (size_t i = 0; i < r->ncol; i++)
        if (!r->names || !r->units ||
            pl_sniff_name(r->a, pl_csv_piece_text(r, i), r->loose, &r->names[i], &r->units[i])) {
            pl_nomem(r->d);
            r->stopped = true;
            return;
        }
    check_names(r);
    if (!r->units_due)
        hand_header(r);
}

/* The line below the header: units of columns whose names have none. */
static void take_units(pl_csv_reader *r)
{
    for (size_t i = 0; i < r->ncol && i < r->row.count; i++) {
        const char *text = pl_csv_piece_text(r, i), *unit;
        size_t n = strlen(text);
        bool bracket = n >= 2 && strchr("[(", text[0]) && strchr("])", text[n - 1]);

        if (r->units[i][0] || !n || !strcmp(text, "-"))
            continue;
        unit = bracket ? pl_arena_strn(r->a, text + 1, n - 2) : pl_arena_str(r->a, text);
        if (unit)
            r->units[i] = unit;
        else
            r->stopped = pl_nomem(r->d) != PL_OK;
    }
    r->units_due = false;
    if (!r->stopped)
        hand_header(r);
}

static void check_count(pl_csv_reader *r, size_t n)
{
    const char *mend = NULL;

    if (n == 2 * r->ncol && r->found.delimiter == ',')
        mend = "decimal commas and commas between cells cannot be told apart: export with "
               "semicolons";
    else if (n > r->ncol)
        mend = "a text that holds the separator stands in quotes";
    fault(r, r->row.pieces[0].line, r->row.pieces[0].column, pl_arena_printf(r->a, "%zu cells", n),
          pl_arena_printf(r->a, "%zu as in the header", r->ncol), mend);
}

/* libcsv has a whole row. */
static void row_done(int ended_by, void *self)
{
    pl_csv_reader *r = self;
    pl_csv_row *b = &r->row;
    size_t n = b->count + (r->found.trailing && !b->extra_filled ? 0 : b->extra);

    (void)ended_by;
    if (r->stopped)
        return;
    if (!b->filled)
        ; /* an empty line, or one of commas only */
    else if (!r->headed)
        take_header(r);
    else if (n != r->ncol)
        check_count(r, n);
    else if (r->units_due)
        take_units(r);
    else if (!pl_csv_faulty(r) && r->take(r, false))
        r->stopped = true;
    row_clear(r);
}

/* --------------------------------------------------------------- bytes ---- */

static bool start_parser(pl_csv_reader *r, unsigned char delimiter)
{
    if (r->parser_made)
        csv_free(&r->parser);
    r->parser_made = csv_init(&r->parser, CSV_STRICT | CSV_STRICT_FINI) == 0;
    if (r->parser_made)
        csv_set_delim(&r->parser, delimiter);
    return r->parser_made;
}

/* The row cannot be read on: it is dropped, and so is the rest of its line. */
static void drop_row(pl_csv_reader *r)
{
    if (csv_error(&r->parser) != CSV_EPARSE || !start_parser(r, csv_get_delim(&r->parser))) {
        pl_nomem(r->d);
        r->stopped = true;
        return;
    }
    row_clear(r);
    r->skip_line = true;
}

static void step(pl_csv_reader *r, char c)
{
    if (c == '\n' && r->after_cr)
        ; /* counted with the CR */
    else if (c == '\n' || c == '\r') {
        r->line++;
        r->column = 0;
    }
    if (c != '\n' || !r->after_cr)
        r->column++;
    r->after_cr = c == '\r';
}

static bool is_blank(char c)
{
    return c == ' ' || c == '\t';
}

/* One byte to libcsv. */
static void put(pl_csv_reader *r, char c, bool line_end)
{
    if (++r->cell_bytes > PL_CSV_CELL_MOST) {
        fault(r, r->cell_line, r->cell_column, "a cell over 64 KiB", "at most 64 KiB",
              "a quote that is not closed swallows what follows");
        r->stopped = true;
        return;
    }
    if (csv_parse(&r->parser, &c, 1, cell_done, row_done, r) != 1) {
        if (csv_error(&r->parser) == CSV_EPARSE)
            fault(r, r->line, r->column,
                  c == '"' ? "a quote within a cell" : "a character behind a closing quote",
                  "quotes around the whole cell", "a quote within quotes is doubled: \"\"");
        drop_row(r);
        r->skip_line = r->skip_line && !line_end;
    }
}

/* Where blanks part the cells: true when this byte is one of them, and not for libcsv.
 * In the header a unit in brackets stays with its name. */
static bool take_blank(pl_csv_reader *r, char c, bool line_end)
{
    bool header = !r->headed || r->units_due;

    if (c == '"')
        r->in_quotes = !r->in_quotes;
    if (is_blank(c) && !r->in_quotes && !r->in_brackets) {
        r->gap = r->row_open;
        return true;
    }
    if (r->gap && !line_end)
        put(r, header && (c == '[' || c == '(') ? ' ' : '\t', false);
    r->gap = false;
    if (header)
        r->in_brackets = (r->in_brackets || c == '[' || c == '(') && c != ']' && c != ')';
    return false;
}

static void feed(pl_csv_reader *r, char c)
{
    bool line_end = c == '\n' || c == '\r', comment = c == '#' || (r->loose && c == '%');
    bool blanks = r->found.delimiter == ' ';

    if (r->skip_line) {
        r->skip_line = !line_end;
        return;
    }
    if (!r->row_open && (comment || line_end)) {
        r->skip_line = comment;
        return;
    }
    if (blanks && take_blank(r, c, line_end))
        return;
    r->row_open = true;
    if (!r->cell_open && !is_blank(c) && !line_end &&
        (unsigned char)c != csv_get_delim(&r->parser)) {
        r->cell_open = true;
        r->cell_line = r->line;
        r->cell_column = r->column;
    }
    if (!r->stopped)
        put(r, c, line_end);
    /* a line of blanks is no row to libcsv, which says nothing of it */
    if (line_end && r->row_open && !r->cell_open && !r->row.count && !r->row.extra)
        row_clear(r);
}

size_t pl_csv_feed(pl_csv_reader *r, const char *s, size_t n, bool one_row)
{
    for (size_t i = 0; i < n && !r->stopped; i++) {
        bool line_end = s[i] == '\n' || s[i] == '\r';

        if (!s[i]) {
            fault(r, r->line, r->column, "a NUL byte", "text",
                  "save the table as CSV in UTF-8, not as a workbook");
            r->stopped = true;
            return i;
        }
        feed(r, s[i]);
        step(r, s[i]);
        if (one_row && line_end && !r->row_open)
            return i + 1;
    }
    return n;
}

void pl_csv_feed_end(pl_csv_reader *r)
{
    if (r->stopped || !r->row_open)
        return;
    if (csv_fini(&r->parser, cell_done, row_done, r) == 0)
        return;
    if (csv_error(&r->parser) == CSV_EPARSE)
        fault(r, r->cell_line, r->cell_column, "a quote that is not closed", "a closing quote",
              NULL);
    else
        pl_nomem(r->d);
}

void pl_csv_open(pl_csv_reader *r)
{
    char delimiter = r->found.delimiter == ' ' ? '\t' : r->found.delimiter;

    r->faults_at = r->d->count;
    r->line = r->column = 1;
    if (!start_parser(r, (unsigned char)delimiter)) {
        pl_nomem(r->d);
        r->stopped = true;
    }
}

pl_code pl_csv_close(pl_csv_reader *r)
{
    if (r->parser_made)
        csv_free(&r->parser);
    r->parser_made = false;
    if (r->units_due && !pl_csv_faulty(r))
        fault(r, r->line, 1, "a header alone", "rows below it", NULL);
    if (!r->headed && !pl_csv_faulty(r))
        fault(r, 1, 1, "no header", "a line with the names of the columns", NULL);
    return pl_diags_code(r->d, r->faults_at);
}
