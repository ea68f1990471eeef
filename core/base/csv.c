/* Whole tables of text in memory: forms, bare tables. The rows come from csv_reader.c;
 * what columns mean is the caller's. */
#include "base/csv.h"

#include <stdint.h>
#include <string.h>

#include "base/csv_inner.h"
#include "base/decimal.h"
#include "base/file.h"

/* --------------------------------------------------------- whole tables ---- */

typedef struct table {
    pl_csv *t;
    pl_csv_cell *cells;
    size_t room; /* rows */
} table;

static bool copy_row(pl_csv_reader *r, pl_csv_cell *to)
{
    for (size_t i = 0; i < r->ncol; i++) {
        const char *text = pl_csv_piece_text(r, i);

        to[i].text = text[0] ? pl_arena_str(r->a, text) : "";
        to[i].line = r->row.pieces[i].line;
        to[i].column = r->row.pieces[i].column;
        if (!to[i].text)
            return false;
    }
    return true;
}

static int take_table_row(pl_csv_reader *r, bool header)
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

/* Text that is no UTF-8 is turned into it, and that is said. */
static pl_code to_utf8(pl_csv_reader *r, const char **text, size_t *length)
{
    pl_sniff_carry carry = { { 0 }, 0 };
    const char *found = pl_sniff_text(r->a, &r->found);
    char *out = pl_arena_get(r->a, *length + 4, PL_SNIFF_WIDEST);

    if (!out || !found)
        return pl_nomem(r->d);
    *length = pl_sniff_utf8(r->found.encoding, *text, *length, true, &carry, out);
    *text = out;
    pl_remark(r->d, r->name, .found = found);
    return PL_OK;
}

pl_code pl_csv_parse(pl_arena *a, const char *name, const char *text, size_t length,
                     const pl_csv **out, pl_diags *diags)
{
    static const pl_sniff_ask first = { NULL, NULL };
    pl_csv *t = PL_NEW(a, pl_csv);
    table whole = { .t = t };
    pl_csv_reader r = { .a = a, .d = diags, .take = take_table_row, .self = &whole };
    size_t head = length < PL_SNIFF_HEAD ? length : PL_SNIFF_HEAD;
    pl_code code;

    r.name = pl_arena_str(a, name);
    if (!t || !r.name || pl_sniff(a, text, head, &first, &r.found))
        return pl_nomem(diags);
    if (r.found.encoding == PL_LATIN1) /* a guess, and what a form says stays in the book */
        r.found.encoding = PL_UTF8;
    t->name = r.name;
    t->delimiter = r.found.delimiter;
    text += r.found.mark;
    length -= r.found.mark;
    if (r.found.encoding != PL_UTF8 && to_utf8(&r, &text, &length))
        return PL_ENOMEM;
    pl_csv_open(&r);
    (void)pl_csv_feed(&r, text, length, false);
    pl_csv_feed_end(&r);
    code = pl_csv_close(&r);
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
    char point = t->delimiter != ',' && strchr(c->text, ',') ? ',' : '.';

    return pl_decimal_all(c->text, strlen(c->text), point, out);
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
