/* The fast lane against libcsv: the same file through the wide fast lane, the narrow one,
 * libcsv alone, and libcsv as words that strtod reads here. Generated plain records, and
 * the same with bytes changed, taken out and put in; all must agree in every bit, every
 * line number and every finding. PLATEN_LONG: a hundred times as many. */
#include "support.h"

#include <unistd.h>

#include "base/csv.h"
#include "base/stream.h"

enum { ROWS_MOST = 60000, COLUMNS = 3 };

typedef struct run {
    pl_code code;
    size_t n;
    double *x[COLUMNS];
    uint64_t *lines;
    char *findings;
    char point;
    bool words, bad_words;
} run;

static bool knows(void *self, const char *const *names, size_t n)
{
    (void)self;
    return n >= 2 && !strcmp(names[0], "time");
}

static int on_header(void *self, const pl_csv_head *head, pl_csv_use *use)
{
    run *r = self;

    r->point = head->found->point;
    for (size_t i = 0; i < head->n && i < COLUMNS; i++)
        if (strcmp(head->names[i], "extra") != 0)
            use[i] = (pl_csv_use){ r->words ? PL_CSV_WORDS : PL_CSV_NUMBER, i };
    return 0;
}

/* What strtod makes of a cell; no blanks, no hexadecimal, no infinity. */
static bool by_strtod(const char *cell, char point, double *x)
{
    char copy[256], *end;
    size_t n = strlen(cell);

    assert_true(n < sizeof copy);
    memcpy(copy, cell, n + 1);
    for (char *c = copy; *c; c++)
        if (*c == point)
            *c = '.';
        else if (*c == '.')
            return false;
    *x = strtod(copy, &end);
    return n && !*end && strspn(copy, "+-.0123456789eE") == n && isfinite(*x);
}

static int on_batch(void *self, const pl_csv_batch *b)
{
    run *r = self;

    assert_true(r->n + b->n <= ROWS_MOST);
    for (size_t c = 0; c < COLUMNS; c++)
        for (size_t i = 0; i < b->n; i++) {
            double *to = &r->x[c][r->n + i];

            if (b->numbers[c])
                *to = b->numbers[c][i];
            else if (b->words[c] && !by_strtod(b->words[c][i], r->point, to))
                r->bad_words = true;
        }
    memcpy(r->lines + r->n, b->lines, b->n * sizeof *b->lines);
    r->n += b->n;
    return 0;
}

static const pl_csv_ops ops = { knows, on_header, on_batch };

static void go(run *r, int fd, pl_csv_how how)
{
    pl_arena *a = pl_arena_new(0);
    pl_diags d;
    pl_text t;

    pl_diags_init(&d, a);
    how.nslot = COLUMNS;
    r->n = 0;
    r->bad_words = false;
    lseek(fd, 0, SEEK_SET);
    r->code = pl_csv_columns(a, fd, "x.csv", how, &ops, r, &d);
    pl_text_init(&t, a);
    for (size_t i = 0; i < d.count; i++)
        pl_text_add(&t, "%s\n", pl_diag_text(a, &d.items[i]));
    free(r->findings);
    r->findings = strdup(pl_text_done(&t));
    pl_arena_free(a);
}

static run runs[4];

static void same(const run *a, const run *b, const char *what)
{
    if (a->code != b->code || strcmp(a->findings, b->findings) != 0)
        fail_msg("%s: %s\n%sand %s\n%s", what, pl_code_name(a->code), a->findings,
                 pl_code_name(b->code), b->findings);
    if (a->code)
        return;
    assert_int_equal(a->n, b->n);
    assert_memory_equal(a->lines, b->lines, a->n * sizeof *a->lines);
    for (size_t c = 0; c < COLUMNS; c++)
        if (memcmp(a->x[c], b->x[c], a->n * sizeof(double)) != 0)
            fail_msg("%s: column %zu differs", what, c);
}

static void compare(const char *text, size_t n)
{
    char path[] = P_tmpdir "/platen-lanes-XXXXXX";
    int fd = mkstemp(path);

    unlink(path);
    assert_int_equal(write(fd, text, n), n);
    runs[3].words = true;
    go(&runs[0], fd, (pl_csv_how){ 0 });
    go(&runs[1], fd, (pl_csv_how){ .narrow = true });
    go(&runs[2], fd, (pl_csv_how){ .slow = true });
    go(&runs[3], fd, (pl_csv_how){ 0 });
    close(fd);
    same(&runs[0], &runs[2], "wide and libcsv");
    same(&runs[1], &runs[2], "narrow and libcsv");
    if (!runs[2].code) {
        assert_false(runs[3].bad_words);
        same(&runs[0], &runs[3], "wide and strtod");
    } else if (runs[2].code == PL_EVALUE) {
        assert_true(runs[3].code || runs[3].bad_words);
    } else {
        assert_int_equal(runs[2].code, runs[3].code);
    }
}

typedef struct kind {
    const char *header, *between, *end;
    char point;
    bool extra, blank;
} kind;

static const kind kinds[] = {
    { "time [s],force [N]", ",", "\n", '.', false, false },
    { "time [s];force [N]", ";", "\r\n", ',', false, false },
    { "time [s]\tforce [N]", "\t", "\n", '.', false, false },
    { "time [s]   force [N]", "  ", "\n", ',', false, true },
    { "time [s], force [N]", ", ", "\n", '.', false, false },
    { "time,force,extra", ",", "\n", '.', true, false },
    { "time|force|", "|", "|\n", '.', false, false },
    { "time,force", ",", "\r", '.', false, false },
};

static void number(pl_stream *s, pl_text *t, char point)
{
    unsigned what = pl_stream_below(s, 40);
    char text[64];

    if (what == 0)
        (void)sprintf(text, "%u", pl_stream_word(s));
    else if (what == 1)
        (void)sprintf(text, "%.3e", pl_stream_normal(s));
    else if (what == 2)
        (void)sprintf(text, "%.*f", 12 + (int)pl_stream_below(s, 10), pl_stream_normal(s));
    else
        (void)sprintf(text, "%.*f", (int)pl_stream_below(s, 7), 1000 * pl_stream_normal(s));
    for (char *c = text; *c; c++)
        *c = *c == '.' ? point : *c;
    pl_text_put(t, text);
}

static void make(pl_stream *s, const kind *k, size_t rows, pl_text *t)
{
    static const char *const extras[] = { "ok", "7", "a b", "", "x_1" };

    pl_text_add(t, "%s%s", k->header, k->end[0] == '|' ? k->end + 1 : k->end);
    for (size_t i = 0; i < rows; i++) {
        if (k->blank)
            pl_text_put(t, "   ");
        pl_text_add(t, "%zu%c%02zu%s", i / 50, k->point, i % 50 * 2, k->between);
        number(s, t, k->point);
        if (k->extra)
            pl_text_add(t, ",%s", extras[pl_stream_below(s, 5)]);
        pl_text_put(t, k->end);
    }
}

static size_t scale(void)
{
    return getenv("PLATEN_LONG") ? 100 : 1;
}

static void test_plain(void **state)
{
    (void)state;
    for (size_t i = 0; i < 8 * scale(); i++) {
        pl_arena *a = pl_arena_new(0);
        pl_stream s;
        pl_text t;

        pl_stream_init(&s, 20270303, PL_FOR_TEST, i);
        pl_text_init(&t, a);
        make(&s, &kinds[i % 8], i < 8 ? 30000 : 3000, &t);
        compare(t.bytes, t.length);
        assert_int_equal(runs[0].code, PL_OK);
        assert_int_equal(runs[0].n, i < 8 ? 30000 : 3000);
        pl_arena_free(a);
    }
}

/* One to four bytes changed, taken out, or put in, below the header. */
static size_t mutate(pl_stream *s, char *text, size_t n, size_t from)
{
    static const char bytes[] = "0123456789.,;\t| \"\r\n#%-+eE[(x\0\x80\xc3\xa9'";

    for (unsigned k = 1 + pl_stream_below(s, 4); k > 0; k--) {
        size_t at = from + pl_stream_below(s, (uint32_t)(n - from));
        char c = bytes[pl_stream_below(s, sizeof bytes - 1)];
        unsigned how = pl_stream_below(s, 3);

        if (how == 0) {
            text[at] = c;
        } else if (how == 1) {
            memmove(text + at, text + at + 1, n - at - 1);
            n--;
        } else {
            memmove(text + at + 1, text + at, n - at);
            text[at] = c;
            n++;
        }
    }
    return n;
}

static void test_mutated(void **state)
{
    size_t count = 2000 * scale(), fine = 0;

    (void)state;
    for (size_t i = 0; i < count; i++) {
        pl_arena *a = pl_arena_new(0);
        pl_stream s;
        pl_text t;
        char *text;
        size_t n;

        pl_stream_init(&s, 20270304, PL_FOR_TEST, i);
        pl_text_init(&t, a);
        make(&s, &kinds[i % 8], 1 + pl_stream_below(&s, 60), &t);
        text = malloc(t.length + 16);
        memcpy(text, t.bytes, t.length);
        n = mutate(&s, text, t.length, strlen(kinds[i % 8].header) + 1);
        compare(text, n);
        fine += runs[0].code == PL_OK;
        free(text);
        pl_arena_free(a);
    }
    /* neither all refused nor all read: the test looks at both */
    assert_in_range(fine, count / 20, count - count / 5);
}

/* A row that is not plain, at every place about the ends of pieces and batches. */
static void test_borders(void **state)
{
    char *text = malloc(700000);

    (void)state;
    for (size_t shift = 0; shift < 24; shift++) {
        size_t n = (size_t)sprintf(text, "time,force\n");

        for (size_t i = 0; n < 2 * 256 * 1024 + 4096; i++) {
            bool odd = (n > 256 * 1024 - 60 && n < 256 * 1024 + 60) || i % 2047 == shift;

            n += (size_t)sprintf(text + n, odd ? "%zu, \"%zu\"\n" : "%zu,%zu\n", i, i + shift);
        }
        memmove(text + 11 + shift, text + 11, n - 11);
        memset(text + 11, '\n', shift);
        compare(text, n + shift);
        assert_int_equal(runs[0].code, PL_OK);
    }
    free(text);
}

static int open_runs(void **state)
{
    (void)state;
    for (size_t i = 0; i < 4; i++) {
        for (size_t c = 0; c < COLUMNS; c++)
            runs[i].x[c] = calloc(ROWS_MOST, sizeof(double));
        runs[i].lines = calloc(ROWS_MOST, sizeof(uint64_t));
    }
    return 0;
}

static int close_runs(void **state)
{
    (void)state;
    for (size_t i = 0; i < 4; i++) {
        for (size_t c = 0; c < COLUMNS; c++)
            free(runs[i].x[c]);
        free(runs[i].lines);
        free(runs[i].findings);
    }
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_plain),
        cmocka_unit_test(test_mutated),
        cmocka_unit_test(test_borders),
    };

    return cmocka_run_group_tests_name("csv lanes", tests, open_runs, close_runs);
}
