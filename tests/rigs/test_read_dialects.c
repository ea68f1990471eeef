/* One record in the clothes of many programs, through the plugins: always the same
 * readings, and a note on what it was. The numbers are made here. */
#include "shop.h"

static const char cell[] = "{\"name\": \"bench\", \"kind\": \"load-cell\", \"rated\": \"25 kN\","
                           " \"dial\": {\"unit\": \"kN\"}}";

/* 10 samples of no load, 250 N/s at 20 Hz to 5 kN, a break; in seconds and kN. */
enum { ROWS = 415 };

static double time_of(int i)
{
    return i * 0.05;
}

static double force_of(int i)
{
    return i < 10 ? 0 : i <= 410 ? (i - 10) * 0.0125 : 0.2;
}

typedef struct clothes {
    const char *above, *header, *units, *between, *end;
    char point;
    bool wide; /* padded with blanks to columns of a width */
    int line;  /* of the peak */
    const char *note;
} clothes;

static char *dress(pl_arena *a, const clothes *c)
{
    pl_text t;
    char row[100];

    pl_text_init(&t, a);
    pl_text_add(&t, "%s%s%s%s%s", c->above, c->header, c->end, c->units, *c->units ? c->end : "");
    for (int i = 0; i < ROWS; i++) {
        (void)sprintf(row, c->wide ? "%10.2f%s%10.4f%s" : "%.2f%s%.4f%s", time_of(i), c->between,
                      force_of(i), c->end);
        for (char *x = row; *x; x++)
            *x = *x == '.' ? c->point : *x;
        pl_text_put(&t, row);
    }
    return pl_text_done(&t);
}

static char *widened(pl_arena *a, const char *text, bool big, bool mark, size_t *n)
{
    size_t length = strlen(text);
    char *out = pl_arena_get(a, length + 1, 2), *to = out;

    if (mark) {
        *to++ = big ? '\xfe' : '\xff';
        *to++ = big ? '\xff' : '\xfe';
    }
    for (size_t i = 0; i < length; i++, to += 2) {
        to[big] = text[i];
        to[!big] = 0;
    }
    *n = (size_t)(to - out);
    return out;
}

static pl_code take(bench *b, const char *rig_text, const char *id, const char *text, size_t n,
                    pl_readings *out)
{
    const char *folder = temp_folder(b->a), *path = temp_file(b->a, folder, "pull.csv", text, n);
    pl_rig rig = rig_of(b, rig_text);
    pl_code code;

    b->d.count = 0;
    *out = (pl_readings){ 0 };
    code = pl_rigs_read(b->a, &rig, path, id, out, &b->d);
    unlink(path);
    rmdir(folder);
    return code;
}

static void is_the_ramp(bench *b, const pl_readings *r, int line, const char *note)
{
    const pl_reading *peak = pl_readings_find(r, PL_ON_SPECIMEN, "K7M3", "peak");
    const pl_reading *rate = pl_readings_find(r, PL_ON_SPECIMEN, "K7M3", "rate");

    assert_non_null(peak);
    assert_non_null(rate);
    assert_rel("peak", peak->value, 5000, 1e-12);
    assert_rel("rate", rate->value, 250, 1e-9);
    assert_string_equal(peak->where, pl_arena_printf(b->a, "pull.csv:%d", line));
    if (note[0])
        assert_finding(b, note);
    else
        assert_int_equal(b->d.count, 0);
}

static void test_clothes(void **state)
{
    static const clothes cases[] = {
        { "", "time [s],force [kN]", "", ",", "\n", '.', false, 412, "" },
        { "", "time [s];force [kN]", "", ";", "\r\n", ',', false, 412,
          "pull.csv: note: semicolons between cells and decimal commas" },
        { "", "time [s]\tforce [kN]", "", "\t", "\r", ',', false, 412, "tabs between cells" },
        { "", "time (s)|force (kN)", "", "|", "|\n", '.', false, 412,
          "bars between cells and a delimiter behind the last cell" },
        { "", "time,force", "s,kN", ",", "\n", '.', false, 413, "units in the line below it" },
        { "", "Time;Load", "[s];[kN]", ";", ";\n", ',', false, 413, "units in the line below it" },
        { "# bench 2\n\n", "time [s], force [kN]", "", ", ", "\n", '.', false, 414,
          "the header in line 3" },
        { "", "# time [s], force [kN]", "", ", ", "\n", '.', false, 412, "a comment" },
        { "", "   time [s]     force [kN]", "", "  ", "\n", ',', true, 412,
          "blanks between cells and decimal commas" },
        { "", "   time     force", "      s        kN", "  ", "\n", '.', true, 413,
          "blanks between cells and units in the line below it" },
        { "Machine;x, y\nOperator: invented\n\n", "Time [s];Load [kN]", "", ";", "\n", ',', false,
          415, "the header in line 4 and 2 lines of words above it" },
        { "", "time / s,force / kN", "", ",", "\n", '.', false, 412, "" },
    };
    bench *b = *state;
    pl_readings r;

    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        const char *text = dress(b->a, &cases[i]);

        assert_ok(b, take(b, cell, "K7M3", text, strlen(text), &r));
        is_the_ramp(b, &r, cases[i].line, cases[i].note);
        for (int way = 0; way < 4; way++) { /* and the same in UTF-16 */
            size_t n;
            const char *wide = widened(b->a, text, way & 1, way & 2, &n);

            assert_ok(b, take(b, cell, "K7M3", wide, n, &r));
            is_the_ramp(b, &r, cases[i].line, way & 1 ? "big end first" : "little end first");
        }
    }
}

/* Words in Latin-1 above the table, columns nobody asked for, one without a name. */
static void test_latin(void **state)
{
    static const char text[] = "Pr\xfc"
                               "fer;M\xfcller\n"
                               ";Zeit;time [s];force [N];Bemerkung\n"
                               "1;x;0;0;gut\n2;\xe4;1;0;\n3;;2;0;\n4;;3;7,5;\n5;;4;8,25;\"a;b\"\n"
                               "6;;5;1;\n";
    bench *b = *state;
    pl_readings r;

    assert_ok(b, take(b, cell, "K7M3", text, sizeof text - 1, &r));
    assert_rel("peak", r.items[0].value, 8.25, 1e-12);
    assert_string_equal(r.items[0].where, "pull.csv:7");
    assert_finding(b, "Latin-1");
}

/* The block above the table says whose record it is. */
static void test_whose_record_is_said_above(void **state)
{
    static const char text[] = "Machine: frame\nSpecimen: P4QX\n\ntime [s],force [N]\n"
                               "0,0\n1,0\n2,500\n3,900\n4,20\n";
    bench *b = *state;
    pl_readings r;

    assert_ok(b, take(b, cell, NULL, text, sizeof text - 1, &r));
    assert_non_null(pl_readings_find(&r, PL_ON_SPECIMEN, "P4QX", "peak"));
}

/* What contradicts the head, with line and column; with advice where there is some. */
static void test_contradictions(void **state)
{
    static const struct {
        const char *row, *says;
        pl_code code;
    } cases[] = {
        { "9;1.234,5\n",
          "pull.csv:2002:3: found \"1.234,5\" in column \"force\", expected a "
          "number\n  mend: separators of thousands are not understood",
          PL_EVALUE },
        { "9;1 234\n", "mend: separators of thousands are not understood", PL_EVALUE },
        { "9;1'234,5\n", "mend: separators of thousands are not understood", PL_EVALUE },
        { "9;1.5\n", "mend: this file's decimal sign is the comma", PL_EVALUE },
        { "9;1,5;7\n", "pull.csv:2002:1: found 3 cells, expected 2 as in the header", PL_ESYNTAX },
        { "9\n", "pull.csv:2002:1: found 1 cells", PL_ESYNTAX },
        { "9;\"1\n", "pull.csv:2002:3: found a quote that is not closed", PL_ESYNTAX },
        { "9;\xe9\n", "pull.csv:2002:3: found byte 0xe9, expected UTF-8", PL_ESYNTAX },
    };
    bench *b = *state;

    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        pl_readings r;
        pl_text t;

        pl_text_init(&t, b->a);
        pl_text_put(&t, "time [s];force [N]\n");
        for (int k = 0; k < 2000; k++) /* beyond the head */
            pl_text_add(&t, "%d,%029d;%d,5\n", k, 0, k);
        pl_text_put(&t, cases[i].row);
        assert_true(t.length > 64 * 1024 + 100);
        assert_code(b, cases[i].code, take(b, cell, "K7M3", t.bytes, t.length, &r));
        assert_finding(b, cases[i].says);
        assert_int_equal(r.count, 0);
    }
}

/* Decimal commas and commas between cells: nobody can tell. */
static void test_commas_both_ways(void **state)
{
    static const char text[] = "time [s],force [N]\n0,0,0,5\n0,1,1,5\n";
    bench *b = *state;
    pl_readings r;

    assert_code(b, PL_ESYNTAX, take(b, cell, "K7M3", text, sizeof text - 1, &r));
    assert_finding(b, "pull.csv:2:1: found 4 cells, expected 2 as in the header\n  mend: decimal "
                      "commas and commas between cells cannot be told apart");
}

static const struct CMUnitTest tests[] = {
    TEST(test_clothes),
    TEST(test_latin),
    TEST(test_whose_record_is_said_above),
    TEST(test_contradictions),
    TEST(test_commas_both_ways),
};

MAIN_OF_RIGS(tests, "plugins")
