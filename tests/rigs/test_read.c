/* Records through the load-cell plugin: dialects, units, places of faults, several
 * specimens, and what comes of a doubtful record. The numbers are made here. */
#include "shop.h"

static const char cell[] = "{\"name\": \"bench\", \"kind\": \"load-cell\", \"rated\": \"25 kN\","
                           " \"dial\": {\"unit\": \"kN\"}}";

static pl_code take_with(bench *b, const char *rig_text, const char *id, const char *text, size_t n,
                         pl_readings *out)
{
    const char *folder = temp_folder(b->a), *path = temp_file(b->a, folder, "pull.csv", text, n);
    pl_rig rig = rig_of(b, rig_text);
    pl_code code = pl_rigs_read(b->a, &rig, path, id, out, &b->d);

    unlink(path);
    rmdir(folder);
    return code;
}

static pl_code take(bench *b, const char *id, const char *text, pl_readings *out)
{
    return take_with(b, cell, id, text, strlen(text), out);
}

static double value_of(const pl_readings *r, const char *id, const char *quantity)
{
    const pl_reading *one = pl_readings_find(r, PL_ON_SPECIMEN, id, quantity);

    if (!one)
        fail_msg("no %s of %s", quantity, id);
    return one->value;
}

/* 10 samples of no load, a ramp of 250 N/s at 20 Hz to 5 kN, a break. sep, point: dialect. */
static char *ramp(pl_arena *a, const char *header, char sep, char point, const char *end)
{
    pl_text t;

    pl_text_init(&t, a);
    pl_text_add(&t, "%s%s", header, end);
    for (int i = 0; i < 415; i++) {
        int N = i < 10 ? 0 : i <= 410 ? (i - 10) * 125 : 2000; /* tenths */

        pl_text_add(&t, "%d%c%02d%c%d%c%04d%s", i / 20, point, i % 20 * 5, sep, N / 10000, point,
                    N % 10000, end);
    }
    return pl_text_done(&t);
}

static void is_the_ramp(bench *b, const pl_readings *r)
{
    const pl_reading *peak = pl_readings_find(r, PL_ON_SPECIMEN, "K7M3", "peak");

    assert_non_null(peak);
    assert_rel("peak", peak->value, 5000, 1e-12);
    assert_string_equal(peak->unit, "N");
    assert_string_equal(peak->text, "5000");
    assert_string_equal(peak->where, "pull.csv:412");
    assert_rel("rate", value_of(r, "K7M3", "rate"), 250, 1e-9);
    assert_abs("time", value_of(r, "K7M3", "time_to_peak"), 19.8, 0.051);
    assert_null(pl_readings_find(r, PL_ON_SPECIMEN, "K7M3", "first_drop"));
    assert_int_equal(pl_diags_count(&b->d, PL_ADVICE) + pl_diags_count(&b->d, PL_REFUSED), 0);
}

static void test_dialects(void **state)
{
    bench *b = *state;
    pl_readings r[4] = { 0 };

    assert_ok(b, take(b, "K7M3", ramp(b->a, "time [s],force [kN]", ',', '.', "\n"), &r[0]));
    is_the_ramp(b, &r[0]);
    assert_int_equal(b->d.count, 0); /* a plain file is not spoken of */
    assert_ok(b, take(b, "K7M3", ramp(b->a, "Time [s];Load [kN]", ';', ',', "\r\n"), &r[1]));
    is_the_ramp(b, &r[1]);
    assert_ok(b, take(b, "K7M3", ramp(b->a, "\xef\xbb\xbft [s];F [kN]", ';', '.', "\n"), &r[2]));
    is_the_ramp(b, &r[2]);
    assert_ok(b, take(b, "K7M3", ramp(b->a, "\"time [s]\",\"force [kN]\"", ',', '.', "\n"), &r[3]));
    is_the_ramp(b, &r[3]);
}

/* A comma is no decimal point where it parts the cells. */
static void test_comma_is_no_point(void **state)
{
    bench *b = *state;
    pl_readings r = { 0 };

    assert_code(b, PL_EVALUE, take(b, "K7M3", "time [s],force [N]\n0,0\n1,\"1,234\"\n2,3\n", &r));
    assert_finding(b, "pull.csv:3:3: found \"1,234\" in column \"force\", expected a number");
    assert_int_equal(r.count, 0);
}

/* 1 lbf = 4.4482216152605 N, 1 min = 60 s. */
static void test_units(void **state)
{
    bench *b = *state;
    pl_readings r = { 0 };

    assert_ok(b, take(b, "AAAA",
                      "elapsed [min],load [lbf]\n0,0\n0,0\n0,0\n0,0\n0,0\n0,0\n0.001,100\n"
                      "0.002,200\n0.003,300\n0.004,400\n0.005,10\n",
                      &r));
    assert_rel("peak", value_of(&r, "AAAA", "peak"), 400 * LBF, 1e-12);
}

static void test_faults_have_their_place(void **state)
{
    static const struct {
        const char *text, *says;
        pl_code code;
    } cases[] = {
        { "time [s],force\n0,0\n", "pull.csv:1:10: found column \"force\" without a unit",
          PL_EUNIT },
        { "time [s],force [bar]\n0,0\n", "column \"force [bar]\"", PL_EUNIT },
        { "time [s],mass [kg]\n0,0\n", "found no column \"force\", expected force of time and mass",
          PL_EKEY },
        { "time [s],force [N]\n0,0\n1,x\n2,3\n", "pull.csv:3:3: found \"x\" in column \"force\"",
          PL_EVALUE },
        { "time [s],force [N]\n0,0\n1,\n2,3\n", "pull.csv:3:3: found \"\" in column \"force\"",
          PL_EVALUE },
        { "time [s],force [N]\n0,0\n1,nan\n", "found \"nan\"", PL_EVALUE },
        { "time [s],force [N]\n0,0\n1\n", "pull.csv:3", PL_ESYNTAX },
        { "time [s],force [N]\n", "nothing to take from this record", PL_EDATA },
        { "time [s],force [N]\n0,0\n1,-5\n2,-9\n3,0\n", "no load in this record", PL_EDATA },
        { "", "pull.csv", PL_ESYNTAX },
    };

    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        bench *b = *state;
        pl_readings r = { 0 };

        b->d.count = 0;
        assert_code(b, cases[i].code, take(b, "K7M3", cases[i].text, &r));
        assert_finding(b, cases[i].says);
        assert_int_equal(r.count, 0);
    }
}

static void test_binary_is_refused(void **state)
{
    bench *b = *state;
    pl_readings r = { 0 };
    char noise[5000];

    for (size_t i = 0; i < sizeof noise; i++)
        noise[i] = (char)(i * 2654435761u >> 13);
    assert_code(b, PL_ESYNTAX, take_with(b, cell, "K7M3", noise, sizeof noise, &r));
    assert_int_equal(r.count, 0);
}

static void test_no_such_file(void **state)
{
    bench *b = *state;
    pl_rig rig = rig_of(b, cell);
    pl_readings r = { 0 };

    assert_code(b, PL_ENOFILE, pl_rigs_read(b->a, &rig, "/nonexistent/x.csv", "K7M3", &r, &b->d));
    assert_code(b, PL_ENOFILE, pl_rigs_read(b->a, &rig, P_tmpdir, "K7M3", &r, &b->d));
}

static void test_whose_record(void **state)
{
    bench *b = *state;
    pl_readings r = { 0 };

    assert_code(b, PL_EDATA, take(b, NULL, ramp(b->a, "time [s],force [kN]", ',', '.', "\n"), &r));
    assert_finding(b, "a record that names no specimen");
    assert_int_equal(r.count, 0);
}

static void test_several_specimens(void **state)
{
    bench *b = *state;
    pl_readings r = { 0 };
    pl_text t;

    pl_text_init(&t, b->a);
    pl_text_put(&t, "specimen,time [s],force [N]\n");
    for (int s = 0; s < 3; s++)
        for (int i = 0; i < 300; i++)
            pl_text_add(&t, "S%d,%d.%d,%d\n", s + 1, i / 10, i % 10,
                        i < 10    ? 0
                        : i < 290 ? (i - 9) * (s + 1)
                                  : 5);
    assert_ok(b, take(b, NULL, pl_text_done(&t), &r));
    for (int s = 0; s < 3; s++)
        assert_rel("peak", value_of(&r, pl_arena_printf(b->a, "S%d", s + 1), "peak"), 280 * (s + 1),
                   1e-12);
}

static void test_reversed(void **state)
{
    bench *b = *state;
    pl_readings r = { 0 };
    static const char rig[] = "{\"name\": \"bench\", \"kind\": \"load-cell\", \"settings\": "
                              "{\"reversed\": true}, \"dial\": {\"unit\": \"kN\"}}";
    static const char text[] = "time [s],force [N]\n0,0\n0.1,0\n0.2,0\n0.3,0\n0.4,0\n0.5,0\n"
                               "0.6,-10\n0.7,-20\n0.8,-30\n0.9,0\n";

    assert_ok(b, take_with(b, rig, "K7M3", text, sizeof text - 1, &r));
    assert_rel("peak", value_of(&r, "K7M3", "peak"), 30, 1e-12);
}

/* Doubts are advice: the readings are still taken. */
static void test_doubts_are_said(void **state)
{
    bench *b = *state;
    pl_readings r = { 0 };
    char *text = ramp(b->a, "time [s],force [kN]", ',', '.', "\n");
    char *line = text;

    for (int i = 0; i < 411; i++)
        line = strchr(line, '\n') + 1;
    *line = 0; /* ends one short of the peak, at 4.9875 kN */
    assert_ok(b, take(b, "K7M3", text, &r));
    assert_rel("peak", value_of(&r, "K7M3", "peak"), 4987.5, 1e-12);
    assert_finding(b, "pull.csv:411: advice: found the record ends at its highest force");
    assert_finding(b, "its mode is not-broken");
    assert_int_equal(pl_diags_count(&b->d, PL_ADVICE), 1);
}

static void test_above_rated_is_said(void **state)
{
    bench *b = *state;
    pl_readings r = { 0 };
    static const char rig[] = "{\"name\": \"bench\", \"kind\": \"load-cell\", \"rated\": "
                              "\"4.9 kN\", \"dial\": {\"unit\": \"kN\"}}";
    char *text = ramp(b->a, "time [s],force [kN]", ',', '.', "\n");

    assert_ok(b, take_with(b, rig, "K7M3", text, strlen(text), &r));
    assert_finding(b, "pull.csv:412: advice: found a peak of 5000 N, expected at most 4900 N");
}

/* A rig that reads no records says so at its kind. */
static void test_kind_that_reads_nothing(void **state)
{
    bench *b = *state;
    pl_readings r = { 0 };
    static const char rig[] = "{\"name\": \"w\",\n\"kind\": \"dead-weight\", \"settings\": "
                              "{\"masses\": [[\"1 kg\", 1]]}}";
    char *text = ramp(b->a, "time [s],force [kN]", ',', '.', "\n");

    assert_code(b, PL_EVALUE, take_with(b, rig, "K7M3", text, strlen(text), &r));
    assert_finding(b, "rig.json:2: /kind");
}

/* A testing machine's export: words first, then the table; places count from the
 * file's first line. */
static void test_block_of_words(void **state)
{
    static const char frame[] = "{\"name\": \"frame\", \"kind\": \"test-frame\", \"rated\": "
                                "\"25 kN\", \"dial\": {\"unit\": \"kN\"}}";
    static const char several[] = "Machine;x, y\nForce range;25 kN\n\n"
                                  "Specimen;Time [s];Load [N]\n"
                                  "K7M3;0;0\nK7M3;1;10\nK7M3;2;500\nK7M3;3;900\nK7M3;4;20\n"
                                  "P4QX;0;0\nP4QX;1;12\nP4QX;2;400\nP4QX;3;700\nP4QX;4;15\n";
    static const char wrong[] = "Machine;x\n\nTime [s];Load [N]\n0;0\n1;ten\n";
    bench *b = *state;
    pl_readings r = { 0 };

    assert_ok(b, take_with(b, frame, NULL, several, sizeof several - 1, &r));
    assert_abs("first", value_of(&r, "K7M3", "peak"), 900, 1e-9);
    assert_abs("second", value_of(&r, "P4QX", "peak"), 700, 1e-9);
    assert_code(b, PL_EVALUE, take_with(b, frame, "K7M3", wrong, sizeof wrong - 1, &r));
    assert_finding(b, "pull.csv:5");
}

/* In its unit a number, in newtons none: the file's doing, not the plugin's. */
static void test_number_beyond_a_double(void **state)
{
    static const char text[] = "time [s],force [kN]\n0,0.0\n1,0.1\n2,-1e308\n3,0.1\n";
    bench *b = *state;
    pl_readings r = { 0 };

    assert_code(b, PL_EVALUE, take(b, "K7M3", text, &r));
    assert_int_equal(b->d.count, 1);
    assert_finding(b, "pull.csv:4: found a number beyond 1e30 in column \"force\"");
    assert_int_equal(r.count, 0);
}

static const struct CMUnitTest tests[] = {
    TEST(test_block_of_words),
    TEST(test_dialects),
    TEST(test_comma_is_no_point),
    TEST(test_units),
    TEST(test_faults_have_their_place),
    TEST(test_binary_is_refused),
    TEST(test_number_beyond_a_double),
    TEST(test_no_such_file),
    TEST(test_whose_record),
    TEST(test_several_specimens),
    TEST(test_reversed),
    TEST(test_doubts_are_said),
    TEST(test_above_rated_is_said),
    TEST(test_kind_that_reads_nothing),
};

MAIN_OF_RIGS(tests, "plugins")
