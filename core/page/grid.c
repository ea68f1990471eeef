/* Tables to look at, as text and as HTML. What stands in them is the caller's. */
#include "page/grid.h"

#include <math.h>
#include <stdarg.h>
#include <stdbool.h>
#include <string.h>

#include "page/html.h"

#define GUTTER 2
#define NARROWEST 10 /* of a column that is broken at words */

typedef struct column {
    pl_side side;
    const char *heading, *unit;
} column;

typedef struct cell {
    const char *text;
    bool blank; /* for handwriting */
    bool rule;  /* a line above; of a row's first cell */
} cell;

struct pl_grid {
    pl_arena *a;
    column *columns;
    size_t ncol, column_room;
    cell *cells;
    size_t ncell, cell_room;
    bool rule_next, failed;
};

pl_grid *pl_grid_new(pl_arena *a)
{
    pl_grid *g = PL_NEW(a, pl_grid);

    if (g)
        g->a = a;
    return g;
}

static bool room_for(pl_grid *g, void *items, size_t used, size_t *room, size_t size)
{
    void **p = items;
    size_t more = *room ? 2 * *room : 16;
    void *grown;

    if (used < *room)
        return true;
    grown = pl_arena_grow(g->a, *p, used, more, size);
    if (!grown) {
        g->failed = true;
        return false;
    }
    *p = grown;
    *room = more;
    return true;
}

void pl_grid_column(pl_grid *g, pl_side side, const char *heading, const char *unit)
{
    column c = { .side = side };

    if (!g || !room_for(g, &g->columns, g->ncol, &g->column_room, sizeof *g->columns))
        return;
    c.heading = pl_arena_str(g->a, heading);
    c.unit = pl_arena_str(g->a, unit ? unit : "");
    if (!c.heading || !c.unit)
        g->failed = true;
    else
        g->columns[g->ncol++] = c;
}

static void add(pl_grid *g, const char *text, bool blank)
{
    cell c = { .blank = blank };

    if (!g || !room_for(g, &g->cells, g->ncell, &g->cell_room, sizeof *g->cells))
        return;
    c.text = pl_arena_str(g->a, text ? text : "");
    c.rule = g->rule_next;
    g->rule_next = false;
    if (!c.text)
        g->failed = true;
    else
        g->cells[g->ncell++] = c;
}

void pl_grid_cell(pl_grid *g, const char *text)
{
    add(g, text, false);
}

void pl_grid_cellf(pl_grid *g, const char *format, ...)
{
    va_list args;
    char *text;

    if (!g)
        return;
    va_start(args, format);
    text = pl_arena_vprintf(g->a, format, args);
    va_end(args);
    if (!text)
        g->failed = true;
    add(g, text, false);
}

void pl_grid_number(pl_grid *g, double x, int digits)
{
    char *text = NULL;

    if (!g)
        return;
    if (isinf(x)) {
        add(g, "open", false);
        return;
    }
    if (!isnan(x) && !(text = pl_text_number(g->a, x, digits)))
        g->failed = true;
    add(g, text, false);
}

void pl_grid_blank(pl_grid *g)
{
    add(g, "", true);
}

void pl_grid_rule(pl_grid *g)
{
    if (g)
        g->rule_next = true;
}

size_t pl_grid_rows(const pl_grid *g)
{
    return g && g->ncol ? (g->ncell + g->ncol - 1) / g->ncol : 0;
}

static const cell *at(const pl_grid *g, size_t row, size_t col)
{
    static const cell empty = { .text = "" };
    size_t i = row * g->ncol + col;

    return i < g->ncell ? &g->cells[i] : &empty;
}

static const char *shown(const cell *c)
{
    return c->blank ? "______" : c->text;
}

/* ---------------------------------------------------------------- text ---- */

static size_t larger(size_t a, size_t b)
{
    return a > b ? a : b;
}

static void measure(const pl_grid *g, size_t *widths)
{
    for (size_t j = 0; j < g->ncol; j++) {
        widths[j] = larger(pl_text_width(g->columns[j].heading), pl_text_width(g->columns[j].unit));
        for (size_t i = 0; i < pl_grid_rows(g); i++)
            widths[j] = larger(widths[j], pl_text_width(shown(at(g, i, j))));
    }
}

/* Words of headings stay whole, even those with a hyphen. */
static size_t longest_word(const char *s)
{
    size_t most = 0;

    while (*s) {
        size_t n = strcspn(s, " "), columns = 0;

        for (size_t i = 0; i < n; i++)
            columns += ((unsigned char)s[i] & 0xc0) != 0x80;
        most = larger(most, columns);
        s += n + (s[n] == ' ');
    }
    return most;
}

static size_t total_of(const pl_grid *g, const size_t *widths)
{
    size_t total = 0;

    for (size_t j = 0; j < g->ncol; j++)
        total += widths[j] + (j ? GUTTER : 0);
    return total;
}

/* What a column must have when its heading is broken at words. */
static size_t without_heading(const pl_grid *g, size_t col)
{
    size_t least = larger(longest_word(g->columns[col].heading),
                          longest_word(g->columns[col].unit));

    for (size_t i = 0; i < pl_grid_rows(g); i++)
        least = larger(least, pl_text_width(shown(at(g, i, col))));
    return least;
}

/* Off whichever column is widest for its heading alone, a character at a time, as long as the
 * whole is too wide: they come out about even. */
static void break_headings(const pl_grid *g, size_t *widths, size_t width)
{
    while (total_of(g, widths) > width) {
        size_t best = g->ncol;

        for (size_t j = 0; j < g->ncol; j++)
            if (widths[j] > without_heading(g, j) && (best == g->ncol || widths[j] > widths[best]))
                best = j;
        if (best == g->ncol)
            return;
        widths[best]--;
    }
}

/* Breaks headings, then takes the surplus off the widest left-standing column. */
static void fit(const pl_grid *g, size_t *widths, size_t width)
{
    size_t total, widest = g->ncol;

    if (!width)
        return;
    break_headings(g, widths, width);
    total = total_of(g, widths);
    for (size_t j = 0; j < g->ncol; j++)
        if (g->columns[j].side == PL_SIDE_LEFT && (widest == g->ncol || widths[j] > widths[widest]))
            widest = j;
    if (total <= width || widest == g->ncol || widths[widest] <= NARROWEST)
        return;
    total -= width;
    widths[widest] = widths[widest] > NARROWEST + total ? widths[widest] - total : NARROWEST;
}

/* Bytes of s that stand on one line of `width` columns: broken at the last blank or
 * behind the last hyphen that fits, within a word if none does. */
static size_t line_bytes(const char *s, size_t width)
{
    size_t columns = 0, last = 0, n = 0;

    for (; s[n] && s[n] != '\n'; n++) {
        if (s[n] == ' ')
            last = n;
        if (((unsigned char)s[n] & 0xc0) != 0x80 && ++columns > width)
            return last ? last : n;
        if (s[n] == '-' && n && s[n - 1] != ' ')
            last = n + 1;
    }
    return n;
}

static void put_padded(pl_text *t, const char *s, size_t n, size_t width, pl_side side)
{
    size_t columns = 0, gap;

    for (size_t i = 0; i < n; i++)
        columns += ((unsigned char)s[i] & 0xc0) != 0x80;
    gap = width > columns ? width - columns : 0;
    if (side == PL_SIDE_RIGHT)
        pl_text_add(t, "%*s", (int)gap, "");
    for (size_t i = 0; i < n; i++)
        pl_text_bytes(t, (unsigned char)s[i] < ' ' || s[i] == 0x7f ? "?" : s + i, 1);
    if (side == PL_SIDE_LEFT)
        pl_text_add(t, "%*s", (int)gap, "");
}

static void end_line(pl_text *t)
{
    while (t->length && t->bytes[t->length - 1] == ' ')
        t->bytes[--t->length] = '\0';
    pl_text_put(t, "\n");
}

/* One row, over as many lines as its longest cell needs. rest[j] is consumed. */
static void put_row(pl_text *t, const pl_grid *g, const char **rest, const size_t *widths)
{
    bool more = true;

    while (more && !t->failed) {
        more = false;
        for (size_t j = 0; j < g->ncol; j++) {
            size_t n = line_bytes(rest[j], widths[j]);

            pl_text_add(t, "%*s", j ? GUTTER : 0, "");
            put_padded(t, rest[j], n, widths[j], g->columns[j].side);
            rest[j] += n;
            while (*rest[j] == ' ' || *rest[j] == '\n')
                rest[j]++;
            more = more || *rest[j];
        }
        end_line(t);
    }
}

static void put_rule(pl_text *t, const pl_grid *g, const size_t *widths)
{
    for (size_t j = 0; j < g->ncol; j++) {
        pl_text_add(t, "%*s", j ? GUTTER : 0, "");
        for (size_t i = 0; i < widths[j]; i++)
            pl_text_put(t, "-");
    }
    pl_text_put(t, "\n");
}

char *pl_grid_text(pl_arena *a, const pl_grid *g, size_t width)
{
    size_t *widths;
    const char **rest;
    bool units = false;
    pl_text t;

    if (!g || g->failed)
        return NULL;
    widths = PL_NEWN(a, g->ncol, size_t);
    rest = PL_NEWN(a, g->ncol, const char *);
    if (!widths || !rest)
        return NULL;
    measure(g, widths);
    fit(g, widths, width);
    pl_text_init(&t, a);
    for (size_t j = 0; j < g->ncol; j++) {
        rest[j] = g->columns[j].heading;
        units = units || g->columns[j].unit[0];
    }
    put_row(&t, g, rest, widths);
    for (size_t j = 0; units && j < g->ncol; j++)
        rest[j] = g->columns[j].unit;
    if (units)
        put_row(&t, g, rest, widths);
    put_rule(&t, g, widths);
    for (size_t i = 0; i < pl_grid_rows(g); i++) {
        if (at(g, i, 0)->rule && i)
            put_rule(&t, g, widths);
        for (size_t j = 0; j < g->ncol; j++)
            rest[j] = shown(at(g, i, j));
        put_row(&t, g, rest, widths);
    }
    return pl_text_done(&t);
}

/* ---------------------------------------------------------------- HTML ---- */

#define LONG_TEXT 24 /* columns; a column of longer texts is not squeezed on a phone */

/* Bytes count here, nearly: it is a matter of looks. */
static bool is_long(const pl_grid *g, size_t col)
{
    for (size_t i = 0; i < pl_grid_rows(g); i++)
        if (strlen(at(g, i, col)->text) > LONG_TEXT)
            return true;
    return false;
}

static const char *class_of(const pl_grid *g, size_t col, const cell *k)
{
    if (k && k->blank)
        return " class=\"fill\"";
    if (g->columns[col].side == PL_SIDE_RIGHT)
        return " class=\"n\"";
    return !k && is_long(g, col) ? " class=\"long\"" : "";
}

void pl_grid_html(pl_text *t, const pl_grid *g, const char *caption)
{
    if (!g || g->failed) {
        t->failed = true;
        return;
    }
    pl_text_put(t, "<div class=\"scroll\"><table>\n");
    if (caption) {
        pl_text_put(t, "<caption>");
        pl_html_put(t, caption);
        pl_text_put(t, "</caption>\n");
    }
    pl_text_put(t, "<thead><tr>");
    for (size_t j = 0; j < g->ncol; j++) {
        pl_text_add(t, "<th scope=\"col\"%s>", class_of(g, j, NULL));
        pl_html_put(t, g->columns[j].heading);
        if (g->columns[j].unit[0]) {
            pl_text_put(t, " <span class=\"unit\">");
            pl_html_put(t, g->columns[j].unit);
            pl_text_put(t, "</span>");
        }
        pl_text_put(t, "</th>");
    }
    pl_text_put(t, "</tr></thead>\n<tbody>\n");
    for (size_t i = 0; i < pl_grid_rows(g); i++) {
        pl_text_put(t, at(g, i, 0)->rule && i ? "<tr class=\"rule\">" : "<tr>");
        for (size_t j = 0; j < g->ncol; j++) {
            const cell *c = at(g, i, j);

            pl_text_add(t, "<td%s>", class_of(g, j, c));
            pl_html_put(t, c->text);
            pl_text_put(t, "</td>");
        }
        pl_text_put(t, "</tr>\n");
    }
    pl_text_put(t, "</tbody></table></div>\n");
}
