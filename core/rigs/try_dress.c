/* A record taken apart into lines and cells, and put together again as other loggers and
 * spreadsheets would have written it. What it says stays the same. */
#include <stdlib.h>
#include <string.h>

#include "base/text.h"
#include "rigs/try_inner.h"

/* ---- apart ---- */

bool pl_cell_number(const char *cell, bool commas, double *x)
{
    char text[64];
    size_t n = strlen(cell);

    if (n == 0 || n >= sizeof text)
        return false;
    memcpy(text, cell, n + 1);
    for (char *c = text; commas && *c; c++)
        *c = *c == ',' ? '.' : *c;
    return pl_text_to_number(text, x);
}

size_t pl_line_cells(pl_arena *a, const char *line, char between, const char **cells)
{
    size_t n = 0;
    bool quoted = false;
    const char *from = line;

    for (const char *c = line; n < PL_CELLS_MOST; c++) {
        quoted = quoted != (*c == '"');
        if (*c && (quoted || *c != between))
            continue;
        cells[n++] = pl_arena_strn(a, from, (size_t)(c - from));
        if (!cells[n - 1])
            return 0;
        from = c + 1;
        if (!*c)
            break;
    }
    return n;
}

static size_t count(const char *line, char c)
{
    size_t n = 0;

    for (; *line; line++)
        n += *line == c;
    return n;
}

/* The last line with something on it is a row of data. */
static const char *last_row(const pl_lines *l)
{
    for (size_t i = l->n; i > 0; i--)
        if (l->text[i - 1][0])
            return l->text[i - 1];
    return "";
}

/* The first line from which on all have as many cells as the last, one of them a number. */
static size_t first_row(pl_arena *a, const pl_lines *l)
{
    const char *cells[PL_CELLS_MOST];
    size_t want = count(last_row(l), l->between);

    for (size_t i = 0; i < l->n; i++) {
        size_t n;
        double x;

        if (count(l->text[i], l->between) != want)
            continue;
        n = pl_line_cells(a, l->text[i], l->between, cells);
        for (size_t k = 0; k < n; k++)
            if (pl_cell_number(cells[k], l->commas, &x))
                return i;
    }
    return l->n;
}

pl_code pl_lines_of(pl_arena *a, const char *bytes, size_t n, pl_lines *out, pl_diags *d)
{
    const char *from = bytes, *end = bytes + n, *row;

    *out = (pl_lines){ .text = PL_NEWN(a, n + 1, const char *), .between = ',' };
    if (n >= 3 && !memcmp(bytes, "\xef\xbb\xbf", 3))
        from += 3;
    while (out->text && from < end) {
        const char *nl = memchr(from, '\n', (size_t)(end - from)), *to = nl ? nl : end;
        size_t length = (size_t)(to - from);

        if (length && from[length - 1] == '\r')
            length--;
        out->text[out->n++] = pl_arena_strn(a, from, length);
        if (!out->text[out->n - 1])
            return pl_nomem(d);
        from = nl ? nl + 1 : end;
    }
    if (!out->text)
        return pl_nomem(d);
    row = last_row(out);
    out->between = strchr(row, ';') ? ';' : strchr(row, '\t') ? '\t' : ',';
    out->commas = out->between != ',' && strchr(row, ',') && !strchr(row, '.');
    out->first = first_row(a, out);
    return PL_OK;
}

pl_lines pl_lines_thin(pl_arena *a, const pl_lines *l, size_t most)
{
    size_t rows = l->n - l->first;
    pl_lines out = *l;

    if (rows <= most)
        return out;
    out.text = PL_NEWN(a, l->first + most, const char *);
    if (!out.text)
        return *l;
    for (size_t i = 0; i < l->first; i++)
        out.text[i] = l->text[i];
    out.n = l->first;
    for (size_t k = 0; k < most; k++)
        out.text[out.n++] = l->text[l->first + k * (rows - 1) / (most - 1)];
    return out;
}

bool pl_lines_plain(const pl_lines *l)
{
    if (l->between != ',')
        return false;
    for (size_t i = 0; i < l->n; i++)
        if (strpbrk(l->text[i], "\";"))
            return false;
    return l->first > 0 && l->first < l->n;
}

/* ---- together again ---- */

static void put_with(const pl_lines *l, const char *end, pl_text *out)
{
    for (size_t i = 0; i < l->n; i++) {
        pl_text_put(out, l->text[i]);
        pl_text_put(out, end);
    }
}

static void crlf(const pl_lines *l, pl_text *out)
{
    put_with(l, "\r\n", out);
}

static void marked(const pl_lines *l, pl_text *out)
{
    pl_text_put(out, "\xef\xbb\xbf");
    put_with(l, "\n", out);
}

static void endless(const pl_lines *l, pl_text *out) /* no line end behind the last row */
{
    for (size_t i = 0; i < l->n; i++) {
        pl_text_put(out, i ? "\n" : "");
        pl_text_put(out, l->text[i]);
    }
}

static void put_between(const pl_lines *l, const char *between, bool commas, pl_text *out)
{
    for (size_t i = 0; i < l->n; i++) {
        for (const char *c = l->text[i]; *c; c++) {
            if (*c == ',')
                pl_text_put(out, between);
            else
                pl_text_bytes(out, *c == '.' && commas && i >= l->first ? "," : c, 1);
        }
        pl_text_put(out, "\n");
    }
}

static void semicolons(const pl_lines *l, pl_text *out)
{
    put_between(l, ";", true, out);
}

static void tabs(const pl_lines *l, pl_text *out)
{
    put_between(l, "\t", false, out);
}

static void quoted(const pl_lines *l, pl_text *out)
{
    for (size_t i = 0; i < l->n; i++) {
        pl_text_put(out, l->text[i][0] ? "\"" : "");
        for (const char *c = l->text[i]; *c; c++)
            if (*c == ',')
                pl_text_put(out, "\",\"");
            else
                pl_text_bytes(out, c, 1);
        pl_text_put(out, l->text[i][0] ? "\"\n" : "\n");
    }
}

/* The header and its rows; a block above them stays as it is. */
static void put_turned(const pl_lines *l, bool all, pl_text *out)
{
    for (size_t i = 0; i < l->n; i++) {
        const char *cells[PL_CELLS_MOST];
        size_t n = i + 1 < l->first ? 0 : pl_line_cells(out->arena, l->text[i], ',', cells);

        if (n < 2) {
            pl_text_put(out, l->text[i]);
        } else {
            pl_text_put(out, cells[n - 1]);
            for (size_t k = 1; k < n; k++) {
                pl_text_put(out, ",");
                pl_text_put(out, cells[all ? n - 1 - k : k - 1]);
            }
        }
        pl_text_put(out, "\n");
    }
}

static void last_first(const pl_lines *l, pl_text *out)
{
    put_turned(l, false, out);
}

static void reversed(const pl_lines *l, pl_text *out)
{
    put_turned(l, true, out);
}

/* A column that nobody asked for. */
static void one_more(const pl_lines *l, pl_text *out)
{
    for (size_t i = 0; i < l->n; i++) {
        bool row = i + 1 >= l->first && l->text[i][0];

        pl_text_put(out, i + 1 == l->first ? "lamp," : row ? "7," : "");
        pl_text_put(out, l->text[i]);
        pl_text_put(out, "\n");
    }
}

const pl_dress pl_dresses[] = {
    { "with carriage returns", false, crlf },
    { "with a byte order mark", false, marked },
    { "with no end of its last line", false, endless },
    { "with semicolons and decimal commas", true, semicolons },
    { "with tabs", true, tabs },
    { "with every cell in quotes", true, quoted },
    { "with its last column first", true, last_first },
    { "with its columns in reverse", true, reversed },
    { "with a column more", true, one_more },
};
const size_t pl_ndresses = sizeof pl_dresses / sizeof *pl_dresses;
