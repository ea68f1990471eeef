/* Tables of text on libcsv. Bytes are handed to it one by one, because it keeps
 * no positions: lines, columns, comments and caps are kept here. What columns
 * mean is the caller's. */
#include "base/csv.h"

#include <errno.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <csv.h>

#include "base/file.h"

#define CHUNK ((size_t)64 * 1024)

/* One row on its way: texts one after the other, each with its NUL. */
typedef struct row_buffer {
    char *bytes;
    size_t used, room;
    struct piece {
        size_t text; /* offset in bytes */
        size_t line, column;
    } * pieces;
    size_t count, pieces_room;
    size_t extra; /* cells beyond the header's */
    bool filled;  /* some cell holds a text */
} row_buffer;

typedef struct reader {
    pl_arena *a;
    const char *name;
    pl_diags *d;
    struct csv_parser parser;
    bool parser_made;

    size_t line, column;           /* of the byte that comes next */
    size_t cell_line, cell_column; /* of the cell now read */
    size_t cell_bytes;
    bool row_open;    /* a byte of a row has been read */
    bool cell_open;   /* a byte other than a blank, of the cell */
    bool after_cr;    /* the last byte was a CR */
    bool skip_line;   /* a comment, or behind a fault */
    bool stopped;     /* by the caller, or no sense in reading on */
    bool headed;      /* the header has been read */
    size_t faults_at; /* d->count at the start */

    row_buffer row;
    size_t ncol;
    const char **names, **units;

    /* A whole row, header first; non-zero: stop. */
    int (*take)(struct reader *r, bool header);
    void *self;
} reader;

static char *place(reader *r, size_t line, size_t column)
{
    return pl_arena_printf(r->d->arena, "%s:%zu:%zu", r->name, line, column);
}

static void fault(reader *r, size_t line, size_t column, const char *found, const char *expected,
                  const char *mend)
{
    char *where = place(r, line, column);

    if (!where || !found || !expected)
        pl_nomem(r->d);
    else
        pl_fail(r->d, PL_ESYNTAX, where, .found = found, .expected = expected, .mend = mend);
    /* What more there is nobody could be told; and memory must not grow. */
    if (r->d->count >= PL_DIAGS_MOST || r->d->out_of_memory)
        r->stopped = true;
}

static bool faulty(const reader *r)
{
    return pl_diags_code(r->d, r->faults_at) != PL_OK;
}

/* ---------------------------------------------------------------- rows ---- */

static bool more_bytes(reader *r, size_t n)
{
    row_buffer *b = &r->row;
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

static bool more_pieces(reader *r)
{
    row_buffer *b = &r->row;
    size_t room = b->pieces_room ? 2 * b->pieces_room : 16;
    struct piece *pieces;

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

static void row_clear(reader *r)
{
    r->row.used = r->row.count = r->row.extra = 0;
    r->row.filled = false;
    r->row_open = r->cell_open = false;
    r->cell_bytes = 0;
}

/* libcsv has a whole cell. */
static void cell_done(void *text, size_t n, void *self)
{
    reader *r = self;
    row_buffer *b = &r->row;
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
    if (b->count >= most) {
        b->extra++;
        return;
    }
    if (!more_bytes(r, n + 1) || !more_pieces(r)) {
        r->stopped = true;
        return;
    }
    b->pieces[b->count++] = (struct piece){ b->used, r->cell_line, r->cell_column };
    if (n)
        memcpy(b->bytes + b->used, s, n);
    b->bytes[b->used + n] = '\0';
    b->used += n + 1;
}

static const char *piece_text(const reader *r, size_t i)
{
    return r->row.bytes + r->row.pieces[i].text;
}

/* "peak [kN]" into "peak" and "kN". */
static bool split_name(reader *r, size_t i)
{
    const char *text = piece_text(r, i), *open = strrchr(text, '[');
    size_t n = strlen(text), name = n;

    if (n && open && text[n - 1] == ']') {
        name = (size_t)(open - text);
        r->units[i] = pl_arena_strn(r->a, open + 1, n - name - 2);
        while (name && (text[name - 1] == ' ' || text[name - 1] == '\t'))
            name--;
    } else {
        r->units[i] = "";
    }
    r->names[i] = pl_arena_strn(r->a, text, name);
    return r->names[i] && r->units[i];
}

static void check_names(reader *r)
{
    for (size_t i = 0; i < r->ncol; i++) {
        const struct piece *p = &r->row.pieces[i];

        if (!r->names[i][0])
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

static void take_header(reader *r)
{
    r->ncol = r->row.count;
    r->names = PL_NEWN(r->a, r->ncol, const char *);
    r->units = PL_NEWN(r->a, r->ncol, const char *);
    r->headed = true;
    if (r->row.extra) {
        fault(r, r->row.pieces[0].line, 1,
              pl_arena_printf(r->a, "%zu columns", r->ncol + r->row.extra), "at most 1024", NULL);
        r->stopped = true;
        return;
    }
    for (size_t i = 0; i < r->ncol; i++)
        if (!r->names || !r->units || !split_name(r, i)) {
            pl_nomem(r->d);
            r->stopped = true;
            return;
        }
    check_names(r);
    if (!faulty(r) && r->take(r, true))
        r->stopped = true;
}

/* libcsv has a whole row. */
static void row_done(int ended_by, void *self)
{
    reader *r = self;
    row_buffer *b = &r->row;

    (void)ended_by;
    if (r->stopped)
        return;
    if (!b->filled)
        ; /* an empty line, or one of commas only */
    else if (!r->headed)
        take_header(r);
    else if (b->count + b->extra != r->ncol)
        fault(r, b->pieces[0].line, b->pieces[0].column,
              pl_arena_printf(r->a, "%zu cells", b->count + b->extra),
              pl_arena_printf(r->a, "%zu as in the header", r->ncol),
              b->extra ? "a text that holds the separator stands in quotes" : NULL);
    else if (!faulty(r) && r->take(r, false))
        r->stopped = true;
    row_clear(r);
}

/* --------------------------------------------------------------- bytes ---- */

static bool start_parser(reader *r, unsigned char delimiter)
{
    if (r->parser_made)
        csv_free(&r->parser);
    r->parser_made = csv_init(&r->parser, CSV_STRICT | CSV_STRICT_FINI) == 0;
    if (r->parser_made)
        csv_set_delim(&r->parser, delimiter);
    return r->parser_made;
}

/* The row cannot be read on: it is dropped, and so is the rest of its line. */
static void drop_row(reader *r)
{
    if (csv_error(&r->parser) != CSV_EPARSE || !start_parser(r, csv_get_delim(&r->parser))) {
        pl_nomem(r->d);
        r->stopped = true;
        return;
    }
    row_clear(r);
    r->skip_line = true;
}

static void step(reader *r, char c)
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

static void feed(reader *r, char c)
{
    bool line_end = c == '\n' || c == '\r';

    if (r->skip_line) {
        r->skip_line = !line_end;
        return;
    }
    if (!r->row_open && (c == '#' || line_end)) {
        r->skip_line = c == '#';
        return;
    }
    r->row_open = true;
    if (!r->cell_open && c != ' ' && c != '\t' && !line_end &&
        (unsigned char)c != csv_get_delim(&r->parser)) {
        r->cell_open = true;
        r->cell_line = r->line;
        r->cell_column = r->column;
    }
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

static void feed_all(reader *r, const char *s, size_t n)
{
    for (size_t i = 0; i < n && !r->stopped; i++) {
        if (!s[i]) {
            fault(r, r->line, r->column, "a NUL byte", "text",
                  "save the table as CSV in UTF-8, not as UTF-16 or a workbook");
            r->stopped = true;
            return;
        }
        feed(r, s[i]);
        step(r, s[i]);
    }
}

static void feed_end(reader *r)
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

/* The separator that the header line holds more often, outside quotes. */
static char sniff(const char *s, size_t n)
{
    size_t commas = 0, semicolons = 0, i = 0;
    bool quoted = false;

    while (i < n && strchr("\r\n#", s[i]) && s[i]) { /* blank lines, comments */
        if (s[i] == '#')
            while (i < n && s[i] != '\n' && s[i] != '\r')
                i++;
        else
            i++;
    }
    for (; i < n && (quoted || (s[i] != '\n' && s[i] != '\r')); i++) {
        quoted = quoted != (s[i] == '"');
        commas += !quoted && s[i] == ',';
        semicolons += !quoted && s[i] == ';';
    }
    return semicolons > commas ? ';' : ',';
}

/* What a file may begin with: the mark is skipped, UTF-16 is refused. Returns
 * the bytes to skip. */
static size_t open_text(reader *r, const char *s, size_t n, char *delimiter)
{
    size_t skip = n >= 3 && !memcmp(s, "\xef\xbb\xbf", 3) ? 3 : 0;

    *delimiter = sniff(s + skip, n - skip);
    r->faults_at = r->d->count;
    r->line = r->column = 1;
    if (!start_parser(r, (unsigned char)*delimiter)) {
        pl_nomem(r->d);
        r->stopped = true;
    } else if (n >= 2 && (!memcmp(s, "\xff\xfe", 2) || !memcmp(s, "\xfe\xff", 2))) {
        fault(r, 1, 1, "UTF-16", "UTF-8", "save the table as CSV in UTF-8");
        r->stopped = true;
    }
    return skip;
}

static pl_code close_text(reader *r)
{
    if (r->parser_made)
        csv_free(&r->parser);
    if (!r->headed && !faulty(r))
        fault(r, 1, 1, "no header", "a line with the names of the columns", NULL);
    return pl_diags_code(r->d, r->faults_at);
}

/* --------------------------------------------------------- whole tables ---- */

typedef struct table {
    pl_csv *t;
    pl_csv_cell *cells;
    size_t room; /* rows */
} table;

static bool copy_row(reader *r, pl_csv_cell *to)
{
    for (size_t i = 0; i < r->ncol; i++) {
        const char *text = piece_text(r, i);

        to[i].text = text[0] ? pl_arena_str(r->a, text) : "";
        to[i].line = r->row.pieces[i].line;
        to[i].column = r->row.pieces[i].column;
        if (!to[i].text)
            return false;
    }
    return true;
}

static int take_table_row(reader *r, bool header)
{
    table *whole = r->self;
    pl_csv *t = whole->t;

    if (header) {
        pl_csv_cell *places = PL_NEWN(r->a, r->ncol, pl_csv_cell);

        if (!places || !copy_row(r, places)) {
            pl_nomem(r->d);
            return 1;
        }
        t->header = places;
        t->ncol = r->ncol;
        t->names = r->names;
        t->units = r->units;
        return 0;
    }
    if (t->nrow == whole->room) {
        size_t room = whole->room ? 2 * whole->room : 32;
        pl_csv_cell *cells = room > SIZE_MAX / t->ncol
                                 ? NULL
                                 : pl_arena_grow(r->a, whole->cells, t->nrow * t->ncol,
                                                 room * t->ncol, sizeof *cells);

        if (!cells) {
            pl_nomem(r->d);
            return 1;
        }
        whole->cells = cells;
        whole->room = room;
    }
    if (!copy_row(r, whole->cells + t->nrow * t->ncol)) {
        pl_nomem(r->d);
        return 1;
    }
    t->nrow++;
    return 0;
}

pl_code pl_csv_parse(pl_arena *a, const char *name, const char *text, size_t length,
                     const pl_csv **out, pl_diags *diags)
{
    pl_csv *t = PL_NEW(a, pl_csv);
    table whole = { .t = t };
    reader r = { .a = a, .d = diags, .take = take_table_row, .self = &whole };
    size_t skip;
    pl_code code;

    r.name = pl_arena_str(a, name);
    if (!t || !r.name)
        return pl_nomem(diags);
    t->name = r.name;
    skip = open_text(&r, text, length, &t->delimiter);
    feed_all(&r, text + skip, length - skip);
    feed_end(&r);
    code = close_text(&r);
    if (code)
        return code;
    t->cells = whole.cells;
    *out = t;
    return PL_OK;
}

pl_code pl_csv_read(pl_arena *a, const char *path, const pl_csv **out, pl_diags *diags)
{
    char *bytes;
    size_t length;
    pl_code code = pl_file_read(a, path, &bytes, &length, diags);

    return code ? code : pl_csv_parse(a, path, bytes, length, out, diags);
}

/* --------------------------------------------------------------- stream ---- */

typedef struct stream {
    const pl_csv_stream_ops *ops;
    void *self;
    const char **cells;
} stream;

static int take_stream_row(reader *r, bool header)
{
    stream *s = r->self;

    if (header) {
        s->cells = PL_NEWN(r->a, r->ncol, const char *);
        if (!s->cells) {
            pl_nomem(r->d);
            return 1;
        }
        return s->ops->header ? s->ops->header(s->self, r->names, r->units, r->ncol) : 0;
    }
    for (size_t i = 0; i < r->ncol; i++)
        s->cells[i] = piece_text(r, i);
    return s->ops->row(s->self, s->cells, r->ncol, r->row.pieces[0].line);
}

/* Fills the buffer as far as the file gives; -1 when reading fails. */
static ssize_t read_chunk(int fd, char *buffer)
{
    size_t used = 0;

    while (used < CHUNK) {
        ssize_t got = read(fd, buffer + used, CHUNK - used);

        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0)
            return -1;
        if (got == 0)
            break;
        used += (size_t)got;
    }
    return (ssize_t)used;
}

pl_code pl_csv_stream(pl_arena *a, int fd, const char *name, size_t first_line,
                      const pl_csv_stream_ops *ops, void *self, pl_diags *diags)
{
    stream s = { .ops = ops, .self = self };
    reader r = { .a = a, .name = name, .d = diags, .take = take_stream_row, .self = &s };
    char *buffer = pl_arena_get(a, CHUNK, 1), delimiter;
    ssize_t got;
    size_t skip;

    if (!buffer)
        return pl_nomem(diags);
    got = read_chunk(fd, buffer);
    skip = open_text(&r, buffer, got > 0 ? (size_t)got : 0, &delimiter);
    r.line = first_line;
    while (got > 0 && !r.stopped) {
        feed_all(&r, buffer + skip, (size_t)got - skip);
        skip = 0;
        got = read_chunk(fd, buffer);
    }
    if (got < 0)
        pl_fail(diags, PL_ENOFILE, name, .found = strerror(errno),
                .expected = "a file that can be read");
    else
        feed_end(&r);
    return close_text(&r);
}

/* ------------------------------------------------------------ questions ---- */

size_t pl_csv_column(const pl_csv *t, const char *name)
{
    size_t i = 0;

    while (i < t->ncol && strcmp(t->names[i], name))
        i++;
    return i;
}

char *pl_csv_where(pl_arena *a, const pl_csv *t, const pl_csv_cell *c)
{
    return pl_arena_printf(a, "%s:%zu:%zu", t->name, c->line, c->column);
}

bool pl_csv_number(const pl_csv *t, const pl_csv_cell *c, double *out)
{
    char copy[64], *comma;
    size_t n = strlen(c->text);

    if (t->delimiter != ';' || !strchr(c->text, ','))
        return pl_text_to_number(c->text, out);
    if (n >= sizeof copy || strchr(c->text, '.'))
        return false;
    memcpy(copy, c->text, n + 1);
    comma = strchr(copy, ',');
    *comma = '.';
    return pl_text_to_number(copy, out); /* a second comma is refused there */
}

void pl_csv_put(pl_text *t, const char *cell)
{
    size_t n = strlen(cell);

    if (!strpbrk(cell, ",;\"\r\n\t") && cell[0] != '#' && cell[0] != ' ' &&
        (!n || cell[n - 1] != ' ')) {
        pl_text_put(t, cell);
        return;
    }
    pl_text_put(t, "\"");
    for (; *cell; cell++) {
        if (*cell == '"')
            pl_text_put(t, "\"");
        pl_text_bytes(t, cell, 1);
    }
    pl_text_put(t, "\"");
}
