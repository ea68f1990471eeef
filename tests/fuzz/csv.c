/* Tables of text against an oracle: libcsv as it comes, and strtod. Three readings of one
 * record (wide registers, narrow ones, libcsv alone) agree in every bit, line and finding,
 * and every number in it is what strtod makes of the cell's text. A whole table has the
 * cells that libcsv finds. And each line as a number by itself. */
#include "fuzz.h"

#include <csv.h>
#include <math.h>
#include <sys/mman.h>
#include <unistd.h>

#include "base/csv.h"
#include "base/decimal.h"

enum { COLUMNS = 6, ROWS_MOST = 4096 };

/* ---- a number by itself ---- */

/* strtod, but for what no table means: blanks, hexadecimal, infinities, a NaN. */
static bool by_strtod(const char *cell, char point, double *x)
{
    size_t n = strlen(cell);
    char *copy = malloc(n + 1), *end;
    bool fine = copy && n && strspn(cell, "+-.,0123456789eE") == n;

    HOLDS(copy);
    memcpy(copy, cell, n + 1);
    for (char *c = copy; *c && point == ','; c++)
        *c = *c == ',' ? '.' : *c == '.' ? ',' : *c;
    *x = strtod(copy, &end);
    fine = fine && !*end && isfinite(*x);
    free(copy);
    return fine;
}

static bool same_bits(double x, double y)
{
    return memcmp(&x, &y, sizeof x) == 0;
}

static void each_line(const char *text, size_t n)
{
    char line[1000];

    for (size_t i = 0, length; i < n; i += length + 1) {
        double x = 0, y = 0;

        length = 0;
        while (i + length < n && text[i + length] != '\n')
            length++;
        if (length >= sizeof line || memchr(text + i, 0, length))
            continue;
        memcpy(line, text + i, length);
        line[length] = 0;
        for (int k = 0; k < 2; k++) {
            char point = ".,"[k];
            bool ours = pl_decimal_all(line, length, point, &x);

            HOLDS(ours == by_strtod(line, point, &y));
            HOLDS(!ours || same_bits(x, y));
        }
    }
}

/* ---- three lanes ---- */

typedef struct run {
    bool words; /* numbers come as words, and strtod reads them here */
    bool wrong; /* a word that is none */
    pl_code code;
    size_t n, ncol;
    pl_csv_as as[COLUMNS];
    double *x[COLUMNS];
    uint64_t *lines;
    char *text; /* findings */
    char point;
    bool point_seen, comma_may_be;
} run;

static bool knows(void *self, const char *const *names, size_t n)
{
    (void)self;
    for (size_t i = 0; i < n; i++)
        if (!strcmp(names[i], "time"))
            return true;
    return false;
}

static int on_header(void *self, const pl_csv_head *head, pl_csv_use *use)
{
    run *r = self;

    r->point = head->found->point;
    r->point_seen = head->found->point_seen;
    r->comma_may_be = head->found->delimiter != ',';
    r->ncol = head->n < COLUMNS ? head->n : COLUMNS;
    for (size_t i = 0; i < r->ncol; i++) {
        r->as[i] = head->names[i][0] == 's' ? PL_CSV_SKIP : PL_CSV_NUMBER;
        if (r->as[i] == PL_CSV_NUMBER)
            use[i] = (pl_csv_use){ r->words ? PL_CSV_WORDS : PL_CSV_NUMBER, i };
    }
    return 0;
}

/* As csv.h says it: the first decimal sign of all settles a sign that was a guess. */
static void take_word(run *r, const char *cell, double *to)
{
    if (!by_strtod(cell, r->point, to)) {
        if (!r->point_seen && r->comma_may_be && by_strtod(cell, ',', to))
            r->point = ',';
        else
            r->wrong = true;
    }
    r->point_seen = r->point_seen || strpbrk(cell, ".,");
}

static int on_batch(void *self, const pl_csv_batch *b)
{
    run *r = self;

    if (r->n + b->n > ROWS_MOST)
        return 1;
    for (size_t i = 0; i < b->n; i++)
        for (size_t c = 0; c < r->ncol; c++) {
            double *to = &r->x[c][r->n + i];

            if (r->as[c] == PL_CSV_SKIP)
                continue;
            HOLDS((b->words[c] != NULL) == r->words && (b->numbers[c] != NULL) == !r->words);
            if (r->words)
                take_word(r, b->words[c][i], to);
            else
                *to = b->numbers[c][i];
        }
    memcpy(r->lines + r->n, b->lines, b->n * sizeof *b->lines);
    r->n += b->n;
    return 0;
}

static void go(run *r, int fd, pl_csv_how how)
{
    static const pl_csv_ops ops = { knows, on_header, on_batch };
    pl_arena *a = pl_arena_new(0);
    pl_diags d;
    pl_text t;

    pl_diags_init(&d, a);
    how.nslot = COLUMNS;
    r->n = r->ncol = 0;
    r->wrong = false;
    HOLDS(lseek(fd, 0, SEEK_SET) == 0);
    r->code = pl_csv_columns(a, fd, "x.csv", how, &ops, r, &d);
    same_story(r->code, &d);
    pl_text_init(&t, a);
    for (size_t i = 0; i < d.count; i++)
        pl_text_add(&t, "%s\n", pl_diag_text(a, &d.items[i]));
    free(r->text);
    r->text = strdup(pl_text_done(&t));
    HOLDS(r->text);
    pl_arena_free(a);
}

static run *runs_new(void)
{
    run *r = calloc(4, sizeof *r);

    HOLDS(r);
    for (size_t i = 0; i < 4; i++) {
        for (size_t c = 0; c < COLUMNS; c++)
            HOLDS((r[i].x[c] = calloc(ROWS_MOST, sizeof(double))));
        HOLDS((r[i].lines = calloc(ROWS_MOST, sizeof(uint64_t))));
    }
    r[3].words = true;
    return r;
}

static void same(const run *a, const run *b)
{
    HOLDS(a->code == b->code);
    HOLDS(!strcmp(a->text, b->text));
    if (a->code)
        return;
    HOLDS(a->n == b->n && a->ncol == b->ncol);
    HOLDS(!memcmp(a->lines, b->lines, a->n * sizeof *a->lines));
    for (size_t c = 0; c < a->ncol; c++)
        HOLDS(a->as[c] == PL_CSV_SKIP || !memcmp(a->x[c], b->x[c], a->n * sizeof(double)));
}

static void lanes(const char *text, size_t n)
{
    static run *r;
    static int fd = -1;

    if (!r) {
        r = runs_new();
        fd = memfd_create("record", MFD_CLOEXEC);
    }
    HOLDS(ftruncate(fd, 0) == 0 && pwrite(fd, text, n, 0) == (ssize_t)n);
    go(&r[0], fd, (pl_csv_how){ 0 });
    go(&r[1], fd, (pl_csv_how){ .narrow = true });
    go(&r[2], fd, (pl_csv_how){ .slow = true });
    go(&r[3], fd, (pl_csv_how){ 0 });
    same(&r[0], &r[2]);
    same(&r[1], &r[2]);
    if (!r[2].code) {
        HOLDS(!r[3].wrong);
        same(&r[0], &r[3]);
    } else {
        HOLDS(r[3].code || r[3].wrong);
    }
}

/* ---- whole tables ---- */

typedef struct oracle {
    const pl_csv *t;
    size_t row, cell;
    bool filled, header_seen;
    char *first[PL_CSV_COLUMNS_MOST + 1]; /* of the row now read */
} oracle;

static void on_cell(void *text, size_t n, void *self)
{
    oracle *o = self;
    const char *s = text;

    while (n && (*s == ' ' || *s == '\t')) {
        s++;
        n--;
    }
    while (n && (s[n - 1] == ' ' || s[n - 1] == '\t'))
        n--;
    o->filled = o->filled || n;
    if (o->cell <= PL_CSV_COLUMNS_MOST)
        o->first[o->cell] = strndup(n ? s : "", n);
    o->cell++;
}

static void compare_row(oracle *o)
{
    const pl_csv *t = o->t;

    HOLDS(o->row < t->nrow && o->cell >= t->ncol);
    for (size_t i = 0; i < o->cell && i <= PL_CSV_COLUMNS_MOST; i++) {
        const pl_csv_cell *c;
        double x, y;
        char point;

        if (i >= t->ncol) {
            HOLDS(!o->first[i][0]);
            continue;
        }
        c = pl_csv_at(t, o->row, i);
        HOLDS(!strcmp(c->text, o->first[i]));
        point = t->delimiter != ',' && strchr(c->text, ',') ? ',' : '.';
        HOLDS(pl_csv_number(t, c, &x) == by_strtod(o->first[i], point, &y));
        HOLDS(!pl_csv_number(t, c, &x) || same_bits(x, y));
    }
    o->row++;
}

static void on_row(int ended_by, void *self)
{
    oracle *o = self;

    (void)ended_by;
    if (o->filled && o->header_seen)
        compare_row(o);
    o->header_seen = o->header_seen || o->filled;
    for (size_t i = 0; i < o->cell && i <= PL_CSV_COLUMNS_MOST; i++)
        free(o->first[i]);
    o->cell = 0;
    o->filled = false;
}

/* libcsv is fed all but the comments: a '#' where a line begins, no row being open. */
static void by_libcsv(const pl_csv *t, const char *text, size_t n)
{
    oracle o = { .t = t };
    struct csv_parser p;
    bool open = false, comment = false;

    HOLDS(csv_init(&p, CSV_STRICT | CSV_STRICT_FINI) == 0);
    csv_set_delim(&p, (unsigned char)t->delimiter);
    for (size_t i = 0; i < n; i++) {
        bool line_end = text[i] == '\n' || text[i] == '\r';

        comment = comment || (!open && text[i] == '#');
        if (comment) {
            comment = !line_end;
            continue;
        }
        open = open || !line_end;
        HOLDS(csv_parse(&p, text + i, 1, on_cell, on_row, &o) == 1);
        open = open && !(line_end && p.pstate == 0);
    }
    HOLDS(csv_fini(&p, on_cell, on_row, &o) == 0);
    csv_free(&p);
    HOLDS(o.row == t->nrow);
}

static void whole(const char *text, size_t n)
{
    pl_arena *a = pl_arena_new(0);
    const pl_csv *t = NULL;
    pl_diags d;
    pl_code code;

    pl_diags_init(&d, a);
    code = pl_csv_parse(a, "x.csv", text, n, &t, &d);
    same_story(code, &d);
    HOLDS((code == PL_OK) == (t != NULL));
    if (n >= 3 && !memcmp(text, "\xef\xbb\xbf", 3)) {
        text += 3;
        n -= 3;
    }
    /* a note says that the text was turned into UTF-8 first */
    if (t && !d.count)
        by_libcsv(t, text, n);
    pl_arena_free(a);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    each_line((const char *)data, size);
    lanes((const char *)data, size);
    whole((const char *)data, size);
    return 0;
}
