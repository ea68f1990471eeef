/* Tables of text: cells with places, refusals, streaming, writing. The form is
 * RFC 4180 with the widenings that csv.h names. */
#include "support.h"

#include <fcntl.h>
#include <unistd.h>

#include "base/csv.h"

static pl_code parse(bench *b, const char *text, const pl_csv **out)
{
    return pl_csv_parse(b->a, "day3.csv", text, strlen(text), out, &b->d);
}

static void test_table(void **state)
{
    bench *b = *state;
    const pl_csv *t;
    double x;

    assert_ok(b, parse(b,
                       "\xef\xbb\xbf# breaks of the second day\r\n"
                       "\r\n"
                       "specimen,peak [kN] , \"note\"\r\n"
                       "K7P4, 2.41 ,\"held, then \"\"let go\"\"\"\r\n"
                       ",,\r\n"
                       "# a comment, with commas\r\n"
                       "\"M2\n3\",,  late  \r\n"
                       "R9,-1e2,x",
                       &t));
    assert_int_equal(t->delimiter, ',');
    assert_int_equal(t->ncol, 3);
    assert_int_equal(t->nrow, 3);
    assert_string_equal(t->names[1], "peak");
    assert_string_equal(t->units[1], "kN");
    assert_string_equal(t->names[2], "note");
    assert_string_equal(t->units[2], "");
    assert_int_equal(pl_csv_column(t, "note"), 2);
    assert_int_equal(pl_csv_column(t, "Note"), 3);
    assert_string_equal(pl_csv_where(b->a, t, &t->header[1]), "day3.csv:3:10");
    assert_string_equal(pl_csv_at(t, 0, 2)->text, "held, then \"let go\"");
    assert_string_equal(pl_csv_where(b->a, t, pl_csv_at(t, 0, 0)), "day3.csv:4:1");
    assert_string_equal(pl_csv_where(b->a, t, pl_csv_at(t, 0, 1)), "day3.csv:4:7");
    assert_string_equal(pl_csv_where(b->a, t, pl_csv_at(t, 0, 2)), "day3.csv:4:13");
    assert_string_equal(pl_csv_at(t, 1, 0)->text, "M2\n3");
    assert_string_equal(pl_csv_at(t, 1, 1)->text, "");
    assert_string_equal(pl_csv_where(b->a, t, pl_csv_at(t, 1, 1)), "day3.csv:8:4");
    assert_string_equal(pl_csv_at(t, 1, 2)->text, "late");
    assert_string_equal(pl_csv_where(b->a, t, pl_csv_at(t, 1, 2)), "day3.csv:8:7");
    assert_string_equal(pl_csv_where(b->a, t, pl_csv_at(t, 2, 0)), "day3.csv:9:1");
    assert_true(pl_csv_number(t, pl_csv_at(t, 0, 1), &x) && x == 2.41);
    assert_true(pl_csv_number(t, pl_csv_at(t, 2, 1), &x) && x == -100);
    assert_false(pl_csv_number(t, pl_csv_at(t, 1, 1), &x));
    assert_false(pl_csv_number(t, pl_csv_at(t, 0, 0), &x));
}

static void test_semicolon(void **state)
{
    bench *b = *state;
    const pl_csv *t;
    double x;

    assert_ok(b, parse(b, "\"a,b,c\";peak\n1;2,4\n2;2.4\n3;1.234,5\n4;1,2,3\n", &t));
    assert_int_equal(t->delimiter, ';');
    assert_string_equal(t->names[0], "a,b,c");
    assert_true(pl_csv_number(t, pl_csv_at(t, 0, 1), &x) && x == 2.4);
    assert_true(pl_csv_number(t, pl_csv_at(t, 1, 1), &x) && x == 2.4);
    assert_false(pl_csv_number(t, pl_csv_at(t, 2, 1), &x));
    assert_false(pl_csv_number(t, pl_csv_at(t, 3, 1), &x));
    assert_ok(b, parse(b, "peak\n\"2,4\"\n", &t));
    assert_int_equal(t->delimiter, ',');
    assert_false(pl_csv_number(t, pl_csv_at(t, 0, 0), &x));
}

/* Line ends of three makes, mixed. */
static void test_line_ends(void **state)
{
    bench *b = *state;
    const pl_csv *t;

    assert_ok(b, parse(b, "a,b\r1,2\r\r3,4\r\n5,6\n7,8\n\r9,10\r\n", &t));
    assert_int_equal(t->nrow, 5);
    assert_int_equal(pl_csv_at(t, 1, 0)->line, 4);
    assert_int_equal(pl_csv_at(t, 2, 0)->line, 5);
    assert_int_equal(pl_csv_at(t, 3, 0)->line, 6);
    assert_int_equal(pl_csv_at(t, 4, 0)->line, 8);
    assert_ok(b, parse(b, "a,b", &t));
    assert_int_equal(t->nrow, 0);
}

/* A line of blanks is an empty line: what follows it may be a comment. */
static void test_comment_after_blanks(void **state)
{
    bench *b = *state;
    const pl_csv *t;

    assert_ok(b, parse(b, "a,b\n1,2\n  \n# no row, of any length\n \t\n\n3,4\n", &t));
    assert_int_equal(t->nrow, 2);
    assert_string_equal(pl_csv_at(t, 1, 0)->text, "3");
    assert_int_equal(pl_csv_at(t, 1, 0)->line, 7);
}

static void refused(bench *b, const char *text, size_t length, const char *finding)
{
    const pl_csv *t = NULL;
    size_t from = b->d.count;

    assert_code(b, PL_ESYNTAX, pl_csv_parse(b->a, "x.csv", text, length, &t, &b->d));
    assert_null(t);
    assert_int_equal(b->d.count, from + 1);
    assert_string_equal(pl_diag_text(b->a, &b->d.items[from]), finding);
}

static void test_refusals(void **state)
{
    bench *b = *state;
    const char *no_header = "x.csv:1:1: found no header, expected a line with the names of the "
                            "columns";
    size_t n = PL_CSV_CELL_MOST + 100;
    char *large = malloc(n + 1);

    refused(b, "", 0, no_header);
    refused(b, "# only\n\n , \n", 12, no_header);
    refused(b, "a,b,a\n1,2,3\n", 12,
            "x.csv:1:5: found column \"a\" a second time, expected each column once");
    refused(b, "a [N],b,a\n", 10,
            "x.csv:1:9: found column \"a\" a second time, expected each column once");
    refused(b, "a,,b\n", 5,
            "x.csv:1:3: found a column without a name, expected a name for every column");
    refused(b, "a,b\n1,2\n 1,2,3\n", 15,
            "x.csv:3:2: found 3 cells, expected 2 as in the header\n"
            "  mend: a text that holds the separator stands in quotes");
    refused(b, "a,b\n\n1\n", 7, "x.csv:3:1: found 1 cells, expected 2 as in the header");
    refused(b, "a,b\n1,2\"3\n4,5\n", 14,
            "x.csv:2:4: found a quote within a cell, expected quotes around the whole cell\n"
            "  mend: a quote within quotes is doubled: \"\"");
    refused(b, "a,b\n\"1\"2,3\n4,5\n", 15,
            "x.csv:2:4: found a character behind a closing quote, expected quotes around the "
            "whole cell\n  mend: a quote within quotes is doubled: \"\"");
    refused(b, "a,b\n1,\"2\n4,5\n", 13,
            "x.csv:2:3: found a quote that is not closed, expected a closing quote");
    refused(b, "a,b\n1,a\xe9\n", 9,
            "x.csv:2:3: found byte 0xe9, expected UTF-8\n  mend: save the table as UTF-8");
    refused(b, "a,b\n1,a\x81\n", 9,
            "x.csv:2:3: found byte 0x81, expected UTF-8\n  mend: save the table as UTF-8");
    refused(b, "a,b\n1,\0\n", 8,
            "x.csv:2:3: found a NUL byte, expected text\n"
            "  mend: save the table as CSV in UTF-8, not as a workbook");

    memset(large, 'x', n);
    memcpy(large, "a,b\n1,\"", 7);
    large[n] = '\0';
    refused(b, large, n,
            "x.csv:2:3: found a cell over 64 KiB, expected at most 64 KiB\n"
            "  mend: a quote that is not closed swallows what follows");
    for (size_t i = 0; i < n; i++)
        large[i] = i % 2 ? ',' : 'a';
    large[2 * PL_CSV_COLUMNS_MOST + 1] = '\0';
    assert_code(b, PL_ESYNTAX, parse(b, large, &(const pl_csv *){ NULL }));
    assert_finding(b, "day3.csv:1:1: found 1025 columns, expected at most 1024");
    free(large);
}

static void test_all_faults(void **state)
{
    bench *b = *state;
    const pl_csv *t;

    assert_code(b, PL_ESYNTAX, parse(b, "a,b\n1,2,3\n4,\"5\"6\n\xc3\xa9,8\n9,\xff\n\"\n", &t));
    assert_int_equal(b->d.count, 4);
    assert_finding(b, "day3.csv:2:1: found 3 cells");
    assert_finding(b, "day3.csv:3:6: found a character behind a closing quote");
    assert_finding(b, "day3.csv:5:3: found byte 0xff");
    assert_finding(b, "day3.csv:6:1: found a quote that is not closed");
}

/* ------------------------------------------------------------ columns ---- */

typedef struct seen {
    size_t rows, headers, last_line, stop_after, batches, lasts;
    double sum;
} seen;

static bool see_knows(void *self, const char *const *names, size_t n)
{
    (void)self;
    return n >= 2 && !strcmp(names[0], "time") && !strcmp(names[1], "force");
}

static int see_header(void *self, const pl_csv_head *head, pl_csv_use *use)
{
    seen *s = self;

    assert_int_equal(head->n, 2);
    assert_string_equal(head->names[1], "force");
    assert_string_equal(head->units[1], "N");
    assert_int_equal(head->columns[1], 10);
    use[0] = (pl_csv_use){ PL_CSV_NUMBER, 2 };
    use[1] = (pl_csv_use){ PL_CSV_NUMBER, 0 };
    s->headers++;
    return 0;
}

static int see_batch(void *self, const pl_csv_batch *b)
{
    seen *s = self;

    assert_true(b->n <= PL_CSV_BATCH);
    assert_non_null(b->numbers[2]);
    assert_null(b->numbers[1]);
    for (size_t i = 0; i < b->n; i++)
        s->sum += b->numbers[0][i];
    s->rows += b->n;
    s->last_line = b->n ? b->lines[b->n - 1] : s->last_line;
    s->lasts += b->last;
    return ++s->batches == s->stop_after;
}

static const pl_csv_ops see = { see_knows, see_header, see_batch };

static pl_code look(bench *b, int fd, pl_csv_how how, seen *s)
{
    how.nslot = 3;
    lseek(fd, 0, SEEK_SET);
    return pl_csv_columns(b->a, fd, "t.csv", how, &see, s, &b->d);
}

static int trace_file(const char *text, size_t rows)
{
    char path[] = P_tmpdir "/platen-csv-XXXXXX";
    int fd = mkstemp(path);
    FILE *f = fdopen(dup(fd), "w");

    fputs("time [s],force [N]\n", f);
    for (size_t i = 0; i < rows; i++)
        fprintf(f, "%zu.%03zu,%zu\n", i / 1000, i % 1000, i % 7);
    fputs(text, f);
    fclose(f);
    unlink(path);
    return fd;
}

/* 100000 rows over many pieces; memory is that of a few thousand. */
static void test_columns(void **state)
{
    bench *b = *state;
    int fd = trace_file("", 100000);
    size_t held;
    seen s = { 0 };
    double sum = 0;

    for (size_t i = 0; i < 100000; i++)
        sum += (double)(i % 7);
    assert_ok(b, look(b, fd, (pl_csv_how){ 0 }, &s));
    held = pl_arena_bytes(b->a);
    assert_int_equal(s.headers, 1);
    assert_int_equal(s.rows, 100000);
    assert_int_equal(s.last_line, 100001);
    assert_int_equal(s.lasts, 1);
    assert_true(s.sum == sum);
    assert_true(held < 1500000);

    s = (seen){ .stop_after = 5 };
    assert_ok(b, look(b, fd, (pl_csv_how){ 0 }, &s));
    assert_int_equal(s.rows, 5 * PL_CSV_BATCH);
    assert_int_equal(s.lasts, 0);
    close(fd);
}

static void test_columns_faults(void **state)
{
    bench *b = *state;
    int fd = trace_file("x\n9,9\ny\n4,1.2.3\n5,\"1,234\"\n", 3);
    seen s = { 0 };

    assert_code(b, PL_ESYNTAX, look(b, fd, (pl_csv_how){ 0 }, &s));
    assert_finding(b, "t.csv:5:1: found 1 cells");
    assert_finding(b, "t.csv:7:1: found 1 cells");
    assert_int_equal(s.rows, 0);
    close(fd);
    b->d.count = 0;
    fd = trace_file("9,9\n4,1.2.3\n5,\"1,234\"\n6,ten\n", 3);
    assert_code(b, PL_EVALUE, look(b, fd, (pl_csv_how){ 0 }, &s));
    assert_finding(b, "t.csv:6:3: found \"1.2.3\" in column \"force\", expected a number\n"
                      "  mend: separators of thousands are not understood");
    close(fd);
    b->d.count = 0;
    assert_code(b, PL_ENOFILE, look(b, -1, (pl_csv_how){ 0 }, &s));
    assert_finding(b, "t.csv: found Bad file descriptor");
}

/* After a fault the rows are still counted and parted, but their numbers not looked at. */
static void test_columns_after_a_fault(void **state)
{
    bench *b = *state;
    int fd = trace_file("9,9\n4,1.2.3\n5,\"1,234\"\n6,ten\n7,\n", 3);
    seen s = { 0 };

    for (size_t i = 0; i < 2; i++) {
        b->d.count = 0;
        (void)look(b, fd, (pl_csv_how){ .slow = i }, &s);
        assert_int_equal(b->d.count, 1);
    }
    close(fd);
}

/* A million bad rows end in a full list of findings, not in a full memory. */
static void test_columns_many_faults(void **state)
{
    bench *b = *state;
    int fd;
    seen s = { 0 };
    char *rows = malloc(400000);

    memset(rows, '\n', 400000);
    for (size_t i = 0; i < 400000; i += 2)
        rows[i] = 'x';
    rows[399999] = '\0';
    fd = trace_file(rows, 0);
    assert_code(b, PL_ESYNTAX, look(b, fd, (pl_csv_how){ 0 }, &s));
    assert_int_equal(b->d.count, PL_DIAGS_MOST);
    assert_true(pl_arena_bytes(b->a) < 2000000);
    close(fd);
    free(rows);
}

/* -------------------------------------------------------------- write ---- */

static void test_write(void **state)
{
    bench *b = *state;
    const char *cells[] = { "plain",       "two words", "a,b",  "a;b",         "say \"so\"",
                            "line\nbreak", "",          "# no", "caf\xc3\xa9", "2.4..2.6" };
    size_t n = sizeof cells / sizeof *cells;
    const pl_csv *t;
    pl_text text;

    pl_text_init(&text, b->a);
    for (size_t i = 0; i < n; i++)
        pl_text_add(&text, "%sc%zu", i ? "," : "", i);
    pl_text_put(&text, "\n");
    for (size_t i = 0; i < n; i++) {
        pl_text_put(&text, i ? "," : "");
        pl_csv_put(&text, cells[i]);
    }
    pl_text_put(&text, "\n");
    assert_non_null(strstr(pl_text_done(&text),
                           "plain,two words,\"a,b\",\"a;b\",\"say \"\"so\"\"\",\"line\nbreak\",,"
                           "\"# no\","));
    assert_ok(b, parse(b, pl_text_done(&text), &t));
    for (size_t i = 0; i < n; i++)
        assert_string_equal(pl_csv_at(t, 0, i)->text, cells[i]);
}

/* Forms as other programs save them: the same table every time. */
static void test_dialects(void **state)
{
    static const char utf16[] = "\xff\xfe"
                                "w\0o\0o\0d\0\t\0p\0e\0a\0k\0 \0[\0k\0N\0]\0\r\0\n\0"
                                "h\0\xea\0t\0r\0e\0\t\0002\0,\0004\0\r\0\n\0";
    static const struct {
        const char *text;
        size_t n;
        char delimiter;
    } cases[] = {
        { "wood,peak [kN]\nh\xc3\xaatre,2.4\n", 0, ',' },
        { "wood;peak [kN]\nh\xc3\xaatre;2,4\n", 0, ';' },
        { "wood\tpeak [kN]\nh\xc3\xaatre\t2,4\n", 0, '\t' },
        { "wood|peak [kN]|\nh\xc3\xaatre|2.4|\n", 0, '|' },
        { "wood,peak [kN],,\nh\xc3\xaatre,2.4,,\n", 0, ',' },
        { "wood;peak [kN]\nh\xc3\xaatre;2,4;\n", 0, ';' },
        { utf16, sizeof utf16 - 1, '\t' },
    };
    bench *b = *state;

    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        const pl_csv *t;
        double x;

        assert_ok(b, pl_csv_parse(b->a, "x.csv", cases[i].text,
                                  cases[i].n ? cases[i].n : strlen(cases[i].text), &t, &b->d));
        assert_int_equal(t->delimiter, cases[i].delimiter);
        assert_int_equal(t->ncol, 2);
        assert_int_equal(t->nrow, 1);
        assert_string_equal(t->units[1], "kN");
        assert_string_equal(pl_csv_at(t, 0, 0)->text, "h\xc3\xaatre");
        assert_true(pl_csv_number(t, pl_csv_at(t, 0, 1), &x) && x == 2.4);
    }
    assert_finding(b, "UTF-16 (little end first)");
}

static bool still_armed(pl_arena *a, unsigned long n)
{
    while (n--)
        if (!pl_arena_get(a, 0, 0))
            return true;
    return false;
}

static void test_no_memory(void **state)
{
    const char *good = "a [N],b\n1,\"x,y\"\n2,z\n";
    const char *bad = "a,a\n1,2,3\n\"4\"5,6\n\xc3\xa9,\xff\n\"";
    const char *texts[] = { good, bad };

    (void)state;
    for (size_t t = 0; t < 2; t++) {
        bool armed = false;

        for (unsigned long n = 1; !armed; n++) {
            const pl_csv *table = NULL;
            pl_code code;
            bench b;

            b.a = pl_arena_new(0);
            pl_diags_init(&b.d, b.a);
            pl_arena_fail_at(n);
            code = parse(&b, texts[t], &table);
            armed = still_armed(b.a, n);
            pl_arena_fail_at(0);
            assert_int_equal(code, !armed ? PL_ENOMEM : t ? PL_ESYNTAX : PL_OK);
            assert_true(code == PL_OK || !table);
            assert_true(!armed || n > 10);
            pl_arena_free(b.a);
        }
    }
}

static void test_columns_no_memory(void **state)
{
    int fd = trace_file("\"4\",5\n", 3);
    bool armed = false;

    (void)state;
    for (unsigned long n = 1; !armed; n++) {
        seen s = { 0 };
        pl_code code;
        bench b;

        b.a = pl_arena_new(0);
        pl_diags_init(&b.d, b.a);
        pl_arena_fail_at(n);
        code = look(&b, fd, (pl_csv_how){ 0 }, &s);
        armed = still_armed(b.a, n);
        pl_arena_fail_at(0);
        assert_int_equal(code, armed ? PL_OK : PL_ENOMEM);
        assert_true(!armed || (n > 5 && s.rows == 4));
        pl_arena_free(b.a);
    }
    close(fd);
}

static void test_read(void **state)
{
    bench *b = *state;
    const pl_csv *t;

    assert_code(b, PL_ENOFILE, pl_csv_read(b->a, "no/such.csv", &t, &b->d));
    assert_finding(b, "no/such.csv: found no such file");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_table),
        TEST(test_semicolon),
        TEST(test_line_ends),
        TEST(test_comment_after_blanks),
        TEST(test_refusals),
        TEST(test_all_faults),
        TEST(test_columns),
        TEST(test_columns_faults),
        TEST(test_columns_after_a_fault),
        TEST(test_columns_many_faults),
        TEST(test_write),
        TEST(test_dialects),
        TEST(test_no_memory),
        TEST(test_columns_no_memory),
        TEST(test_read),
    };

    return cmocka_run_group_tests_name("csv", tests, NULL, NULL);
}
