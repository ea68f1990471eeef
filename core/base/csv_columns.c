/* Records column by column: pieces of the file, turned into UTF-8 where need be, go
 * through the fast lane as long as they are plain and through libcsv where they are
 * not; both fill the same batch. What the columns mean is the caller's. */
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/csv_inner.h"
#include "base/decimal.h"

#define PIECE ((size_t)256 * 1024) /* of the file, as UTF-8 */
#define RAW ((size_t)64 * 1024)    /* of a file in another encoding */
#define PATIENCE_MOST ((size_t)4096)
#define WORDS_BUDGET ((size_t)200 << 20)

typedef struct columns {
    pl_csv_reader r;
    const pl_csv_ops *ops;
    void *self;
    pl_csv_how how;

    /* the file */
    int fd;
    char *raw; /* what was read, when it is not UTF-8 */
    pl_sniff_carry carry;
    char *text; /* PIECE + RAW * PL_SNIFF_WIDEST + PL_CSV_PAD */
    size_t from, to;
    bool at_end;

    /* the batch */
    pl_csv_use *use;
    double **numbers;
    const char ***words;
    uint64_t *lines;
    size_t n;
    pl_arena *kept; /* words of one batch */
    pl_mark empty;

    /* the fast lane */
    pl_csv_fast *fast; /* NULL: never */
    size_t slow_rows;  /* still to go through libcsv */
    size_t patience;   /* as many the next time */
} columns;

/* ------------------------------------------------------------ the file ---- */

/* As much as the file gives, up to most bytes; -1 when reading fails. */
static ssize_t read_some(int fd, char *buffer, size_t most)
{
    size_t used = 0;

    while (used < most) {
        ssize_t got = read(fd, buffer + used, most - used);

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

static pl_code unreadable(columns *c)
{
    c->r.stopped = true;
    return pl_fail(c->r.d, PL_ENOFILE, c->r.name, .found = strerror(errno),
                   .expected = "a file that can be read");
}

/* More text behind what is left of the last piece, which moves to the front. */
static pl_code refill(columns *c)
{
    size_t left = c->to - c->from;
    ssize_t got;

    memmove(c->text, c->text + c->from, left);
    c->from = 0;
    c->to = left;
    if (c->r.found.encoding == PL_UTF8) {
        got = read_some(c->fd, c->text + left, PIECE - left);
        if (got < 0)
            return unreadable(c);
        c->at_end = (size_t)got < PIECE - left;
        c->to += (size_t)got;
    } else {
        got = read_some(c->fd, c->raw, RAW);
        if (got < 0)
            return unreadable(c);
        c->at_end = (size_t)got < RAW;
        c->to += pl_sniff_utf8(c->r.found.encoding, c->raw, (size_t)got, c->at_end, &c->carry,
                               c->text + left);
    }
    memset(c->text + c->to, 0, PL_CSV_PAD);
    return PL_OK;
}

/* Reads the head and decides by it what the file is. */
static pl_code begin(columns *c)
{
    pl_csv_reader *r = &c->r;
    const pl_sniff_ask ask = { c->ops->knows, c->self };
    ssize_t got;
    size_t mark;

    c->raw = pl_arena_get(r->a, RAW, 1);
    c->text = pl_arena_get(r->a, PIECE + RAW * PL_SNIFF_WIDEST + PL_CSV_PAD, 1);
    if (!c->raw || !c->text)
        return pl_nomem(r->d);
    got = read_some(c->fd, c->raw, PL_SNIFF_HEAD);
    if (got < 0)
        return unreadable(c);
    if (pl_sniff(r->a, c->raw, (size_t)got, &ask, &r->found))
        return pl_nomem(r->d);
    mark = r->found.mark;
    c->at_end = (size_t)got < PL_SNIFF_HEAD;
    c->to = pl_sniff_utf8(r->found.encoding, c->raw + mark, (size_t)got - mark, c->at_end,
                          &c->carry, c->text);
    memset(c->text + c->to, 0, PL_CSV_PAD);
    c->from = r->found.offset < c->to ? r->found.offset : c->to;
    return PL_OK;
}

/* ----------------------------------------------------------- the batch ---- */

static int hand_over(columns *c, bool last)
{
    const pl_csv_batch b = { c->n, c->numbers, c->words, c->lines, last };
    int stop = 0;

    if (!pl_csv_faulty(&c->r))
        stop = c->ops->batch(c->self, &b);
    c->n = 0;
    pl_arena_reset(c->kept, c->empty);
    return stop;
}

static bool make_columns(columns *c)
{
    pl_arena *a = c->r.a;
    bool plain = !c->how.slow && c->r.ncol <= PL_CSV_FAST_COLUMNS, numbers = false;

    for (size_t i = 0; i < c->r.ncol; i++) {
        const pl_csv_use *u = &c->use[i];

        plain = plain && u->as != PL_CSV_WORDS;
        numbers = numbers || u->as == PL_CSV_NUMBER;
        if (u->as == PL_CSV_NUMBER && !(c->numbers[u->slot] = PL_NEWN(a, PL_CSV_BATCH, double)))
            return false;
        if (u->as == PL_CSV_WORDS && !(c->words[u->slot] = PL_NEWN(a, PL_CSV_BATCH, const char *)))
            return false;
    }
    /* where no number is wanted the fast lane could not tell a row from an empty line */
    if (!plain || !numbers)
        return true;
    c->fast = PL_NEW(a, pl_csv_fast);
    if (!c->fast || !(c->fast->to = PL_NEWN(a, c->r.ncol, double *)))
        return false;
    c->fast->delimiter = c->r.found.delimiter;
    c->fast->point = c->r.found.point;
    c->fast->trailing = c->r.found.trailing;
    c->fast->ncol = c->r.ncol;
    for (size_t i = 0; i < c->r.ncol; i++)
        c->fast->to[i] = c->use[i].as == PL_CSV_NUMBER ? c->numbers[c->use[i].slot] : NULL;
    pl_csv_fast_init(c->fast);
    return true;
}

static int take_head(columns *c)
{
    pl_csv_reader *r = &c->r;
    size_t *at = PL_NEWN(r->a, r->ncol, size_t);
    pl_csv_head head = { &r->found, r->names, r->units, at, r->ncol };

    c->use = PL_NEWN(r->a, r->ncol, pl_csv_use);
    c->numbers = PL_NEWN(r->a, c->how.nslot, double *);
    c->words = PL_NEWN(r->a, c->how.nslot, const char **);
    c->lines = PL_NEWN(r->a, PL_CSV_BATCH, uint64_t);
    if (!at || !c->use || !c->numbers || !c->words || !c->lines)
        return pl_nomem(r->d) != PL_OK;
    for (size_t i = 0; i < r->ncol && i < r->row.count; i++)
        at[i] = r->row.pieces[i].column;
    if (c->ops->header(c->self, &head, c->use))
        return 1;
    return make_columns(c) ? 0 : pl_nomem(r->d) != PL_OK;
}

static bool has_grouping(const char *s)
{
    size_t points = 0, commas = 0;

    for (; *s; s++) {
        points += *s == '.';
        commas += *s == ',';
        if (*s == ' ' || *s == '\'' || !strncmp(s, "\xc2\xa0", 2) ||
            !strncmp(s, "\xe2\x80\xaf", 3) || !strncmp(s, "\xe2\x80\x99", 3))
            return true;
    }
    return points > 1 || commas > 1 || (points && commas);
}

static const char *number_advice(const columns *c, const char *cell)
{
    if (!cell[strcspn(cell, "0123456789")])
        return NULL;
    if (has_grouping(cell))
        return "separators of thousands are not understood: export without them";
    if (!strpbrk(cell, ",.") || strpbrk(cell, "abcdfghijklmnopqrstuvwxyz"))
        return NULL;
    return c->r.found.point == ','
               ? "this file's decimal sign is the comma, and separators of thousands are not "
                 "understood"
               : "this file's decimal sign is the point, and separators of thousands are not "
                 "understood";
}

static bool take_number(columns *c, size_t i, const char *cell)
{
    pl_csv_reader *r = &c->r;
    double *to = &c->numbers[c->use[i].slot][c->n];
    size_t n = strlen(cell);

    if (pl_decimal_all(cell, n, r->found.point, to))
        return true;
    if (!r->found.point_seen && r->found.delimiter != ',' &&
        pl_decimal_all(cell, n, ',', to)) { /* the first decimal sign of all */
        r->found.point = ',';
        if (c->fast)
            c->fast->point = ',';
        return true;
    }
    pl_csv_fault(r, PL_EVALUE, r->row.pieces[i].line, r->row.pieces[i].column,
                 pl_arena_printf(r->d->arena, "\"%.40s\" in column \"%s\"", cell, r->names[i]),
                 "a number", number_advice(c, cell));
    return false;
}

/* A row from libcsv. */
static int take_row(pl_csv_reader *r, bool header)
{
    columns *c = r->self;
    bool good = true;

    if (header)
        return take_head(c);
    c->lines[c->n] = r->row.pieces[0].line;
    for (size_t i = 0; i < r->ncol; i++) {
        const char *cell = pl_csv_piece_text(r, i);

        if (c->use[i].as == PL_CSV_NUMBER) {
            good = take_number(c, i, cell) && good;
            r->found.point_seen = r->found.point_seen || strpbrk(cell, ".,");
        } else if (c->use[i].as == PL_CSV_WORDS) {
            const char *kept = cell[0] ? pl_arena_str(c->kept, cell) : "";

            if (!kept)
                return pl_nomem(r->d) != PL_OK;
            c->words[c->use[i].slot][c->n] = kept;
        }
    }
    return good && ++c->n == PL_CSV_BATCH && hand_over(c, false);
}

/* ------------------------------------------------------------ two lanes ---- */

static bool at_row_start(const columns *c)
{
    const pl_csv_reader *r = &c->r;

    return r->headed && !r->units_due && !r->row_open && !r->skip_line && r->column == 1;
}

static void number_lines(uint64_t *lines, size_t n, uint64_t first)
{
    for (size_t i = 0; i < n; i++)
        lines[i] = first + i;
}

/* Rows of the fast lane up to `end`, behind a line end. */
static void go_fast(columns *c, const char *end)
{
    pl_csv_reader *r = &c->r;
    const char *at = c->text + c->from, *stopped = at;
    size_t rows;

    if (r->after_cr && *at == '\n') { /* counted with its CR */
        r->after_cr = false;
        c->from++;
        return;
    }
    r->after_cr = false;
    rows = (c->how.narrow ? pl_csv_fast_rows_narrow : pl_csv_fast_rows)(c->fast, at, end, c->n,
                                                                        PL_CSV_BATCH, &stopped);
    number_lines(c->lines + c->n, rows - c->n, r->line);
    r->line += rows - c->n;
    c->patience = rows - c->n >= 64 ? 1 : c->patience;
    c->n = rows;
    c->from = (size_t)(stopped - c->text);
    if (rows == PL_CSV_BATCH) {
        r->stopped = hand_over(c, false) || r->stopped;
    } else if (stopped < end) { /* a surprise: libcsv sees the row from its first byte */
        c->slow_rows = c->patience;
        c->patience = c->patience < PATIENCE_MOST ? 2 * c->patience : PATIENCE_MOST;
    }
}

static void go_slow(columns *c)
{
    c->from += pl_csv_feed(&c->r, c->text + c->from, c->to - c->from, true);
    if (at_row_start(c) && c->slow_rows)
        c->slow_rows--;
}

static void read_piece(columns *c)
{
    const char *newline = memrchr(c->text + c->from, '\n', c->to - c->from);

    while (c->from < c->to && !c->r.stopped) {
        bool slow = !c->fast || c->slow_rows || !at_row_start(c);
        bool whole = newline && c->text + c->from <= newline;

        if (!slow && whole)
            go_fast(c, newline + 1);
        else if (slow || c->at_end || c->to - c->from > PIECE / 2)
            go_slow(c);
        else
            return; /* the rest of the row comes with the next piece */
    }
}

static pl_code read_all(columns *c)
{
    pl_code code = begin(c);

    if (code)
        return code;
    pl_csv_open(&c->r);
    c->r.line = c->r.found.line;
    for (;;) {
        read_piece(c);
        if (c->r.stopped || c->at_end)
            break;
        code = refill(c);
        if (code)
            break;
    }
    pl_csv_feed_end(&c->r);
    code = pl_csv_close(&c->r);
    if (!code && !c->r.stopped)
        (void)hand_over(c, true);
    return code ? code : pl_diags_code(c->r.d, c->r.faults_at);
}

pl_code pl_csv_columns(pl_arena *a, int fd, const char *name, pl_csv_how how, const pl_csv_ops *ops,
                       void *self, pl_diags *diags)
{
    columns *c = PL_NEW(a, columns);
    pl_code code;

    if (!c)
        return pl_nomem(diags);
    *c = (columns){
        .r = { .a = a, .name = name, .d = diags, .take = take_row, .self = c, .loose = true },
        .ops = ops,
        .self = self,
        .how = how,
        .fd = fd,
        .patience = 1
    };
    c->kept = pl_arena_new(WORDS_BUDGET);
    if (!c->kept)
        return pl_nomem(diags);
    c->empty = pl_arena_mark(c->kept);
    code = read_all(c);
    pl_arena_free(c->kept);
    return code;
}
