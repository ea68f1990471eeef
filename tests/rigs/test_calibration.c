/* Calibrations: the fitted line against the GUM's example, set points and the way
 * back through it, what is refused, and adding one to a rig's text. */
#include "shop.h"

#include <unistd.h>

#include "rigs/calibration.h"

/* GUM (JCGM 100:2008), example H.3, calibration of a thermometer: t_k and b_k as
 * published, from memory; y1 = -0.1712, s(y1) = 0.0029, y2 = 0.00218, s = 0.0035, and at 30
 * degC -0.1494 with 0.0041, as published (recomputed from these data: -0.171204, 0.0028776,
 * 0.00218270, 0.00349756, -0.149377, 0.00413860). Here t is bar on a dial and b + 1 is N. */
static const char *const gum[][2] = {
    { "21.521", "0.829" }, { "22.012", "0.831" }, { "22.512", "0.834" }, { "23.003", "0.841" },
    { "23.507", "0.836" }, { "23.999", "0.835" }, { "24.513", "0.844" }, { "25.002", "0.843" },
    { "25.503", "0.841" }, { "26.010", "0.839" }, { "26.511", "0.840" },
};
#define NGUM (sizeof gum / sizeof *gum)

static const char *points(bench *b, const char *const (*p)[2], size_t n)
{
    pl_text t;

    pl_text_init(&t, b->a);
    for (size_t i = 0; i < n; i++)
        pl_text_add(&t, "%s{\"dial\": \"%s bar\", \"force\": \"%s N\"}", i ? ", " : "", p[i][0],
                    p[i][1]);
    return pl_text_done(&t);
}

static const char *rig_text(bench *b, const char *calibrations)
{
    return pl_arena_printf(
        b->a,
        "{\"name\": \"c\", \"kind\": \"piston-press\", \"settings\": "
        "{\"bore\": \"63 mm\", \"friction\": 0}, \"rated\": \"10 bar\", "
        "\"dial\": {\"unit\": \"bar\", \"to\": \"10 bar\", \"class\": \"1.6 %%\", "
        "\"marks\": \"0.2 bar\"}, \"calibrations\": [%s]}",
        calibrations);
}

static pl_code line_of(bench *b, const char *text, pl_calibration *out)
{
    pl_rig rig = rig_of(b, text);
    pl_dial dial;

    assert_ok(b, pl_dial_read(b->a, rig.written, "Pa", &dial, &b->d));
    return pl_calibration_read(b->a, rig.written, &dial, out, &b->d);
}

static void test_gum_h3(void **state)
{
    bench *b = *state;
    pl_calibration c;
    double bar = 1e5;

    assert_ok(
        b, line_of(b,
                   rig_text(b, pl_arena_printf(b->a, "{\"date\": \"2026-02-01\", \"points\": [%s]}",
                                               points(b, gum, NGUM))),
                   &c));
    assert_true(c.there);
    assert_rel("slope", c.b * bar, 0.0021826977398874, 1e-9);
    assert_rel("at 20", pl_calibration_force(&c, 20 * bar), 1 - 0.17120379013135, 1e-12);
    assert_rel("s", c.s, 0.0034975639635053, 1e-9);
    assert_abs("published slope", c.b * bar, 0.00218, 0.000005);
    assert_abs("published intercept", pl_calibration_force(&c, 20 * bar), 1 - 0.1712, 0.00005);
    assert_abs("published s(y1)", pl_calibration_u_rig(&c, 20 * bar), 0.0029, 0.00005);
    assert_abs("published at 30", pl_calibration_force(&c, 30 * bar), 1 - 0.1494, 0.00005);
    assert_abs("published u at 30", pl_calibration_u_rig(&c, 30 * bar), 0.0041, 0.00005);
    assert_rel("and back", pl_calibration_dial(&c, pl_calibration_force(&c, 24 * bar)), 24 * bar,
               1e-12);
}

/* 290 N a bar exactly, but for the settings' 311.7 N a bar: the points win. */
#define LINE                                                                                  \
    "{\"date\": \"%s\", \"points\": [{\"dial\": \"1 bar\", \"force\": \"%s N\"}, {\"dial\": " \
    "\"4 bar\", \"force\": \"1160 N\"}, {\"dial\": \"8 bar\", \"force\": \"2320 N\"}]}"

static void test_points_replace_settings(void **state)
{
    bench *b = *state;
    pl_rig rig = rig_of(b, rig_text(b, pl_arena_printf(b->a, LINE, "2026-02-01", "290")));
    double force_N = 1160, dial = 4e5, f, u;
    pl_set_points p;

    assert_ok(b, pl_rigs_set_points(b->a, &rig, 1, &force_N, 1, 1e-3, &p, &b->d));
    assert_true(p.at[0].can);
    assert_rel("dial", p.at[0].dial, 4, 1e-12);
    assert_rel("gives", p.at[0].gives_N, 1160, 1e-9);
    assert_ok(b, pl_rigs_forces(b->a, &rig, &dial, PL_Q_PRESSURE, 1, &f, &u, &b->d));
    assert_rel("way back", f, 1160, 1e-9);
    /* what is left is the reading between marks: 0.05 bar, rectangular, 290 N a bar */
    assert_rel("u", u, 0.05 * 290 / sqrt(3), 1e-6);
}

/* The newest counts, whatever the order; the reference's own uncertainty adds. */
static void test_newest(void **state)
{
    bench *b = *state;
    pl_calibration c;

    assert_ok(b, line_of(b,
                         rig_text(b, pl_arena_printf(b->a, LINE ", " LINE, "2026-02-01", "290",
                                                     "2025-02-01", "330")),
                         &c));
    assert_string_equal(c.date, "2026-02-01");
    assert_abs("intercept", c.a, 0, 1e-9);
    assert_ok(
        b,
        line_of(b,
                rig_text(b, "{\"date\": \"2026-02-01\", \"against_uncertainty\": \"0.5 %\", "
                            "\"points\": [{\"dial\": \"1 bar\", \"force\": \"290 N\"}, {\"dial\": "
                            "\"4 bar\", \"force\": \"1160 N\"}, {\"dial\": \"8 bar\", \"force\": "
                            "\"2320 N\"}]}"),
                &c));
    assert_rel("reference", pl_calibration_u_rig(&c, 4e5), 0.005 * 1160, 1e-6);
}

static void test_refused(void **state)
{
    static const struct {
        const char *calibrations, *says;
        pl_code code;
    } cases[] = {
        { "{\"date\": \"1.2.2026\", \"points\": [{\"dial\": \"1 bar\", \"force\": \"1 N\"}, "
          "{\"dial\": "
          "\"2 bar\", \"force\": \"2 N\"}, {\"dial\": \"3 bar\", \"force\": \"3 N\"}]}",
          "a date", PL_EVALUE },
        { "{\"date\": \"2026-02-01\", \"points\": [{\"dial\": \"1 bar\", \"force\": \"3 N\"}, "
          "{\"dial\": "
          "\"2 bar\", \"force\": \"2 N\"}, {\"dial\": \"3 bar\", \"force\": \"1 N\"}]}",
          "falls as the dial rises", PL_ECONFLICT },
        { "{\"date\": \"2026-02-01\", \"points\": [{\"dial\": \"1 bar\", \"force\": \"3 N\"}, "
          "{\"dial\": "
          "\"1 bar\", \"force\": \"2 N\"}, {\"dial\": \"1 bar\", \"force\": \"1 N\"}]}",
          "one dial reading only", PL_ECONFLICT },
        { "{\"date\": \"2026-02-01\", \"points\": [{\"dial\": \"1 N\", \"force\": \"3 N\"}, "
          "{\"dial\": "
          "\"2 bar\", \"force\": \"2 kg\"}, {\"dial\": \"3 bar\", \"force\": \"1 N\"}]}",
          "2 kg", PL_EUNIT },
    };

    bench *b = *state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        pl_calibration c;

        assert_code(b, cases[i].code, line_of(b, rig_text(b, cases[i].calibrations), &c));
        assert_false(c.there);
        assert_finding(b, cases[i].says);
    }
}

/* A slip of the dial at the fourth of six points is pointed at. */
static void test_far_off(void **state)
{
    static const char *const slipped[][2] = { { "1", "291" },  { "2", "579" },  { "3", "871" },
                                              { "4", "1290" }, { "6", "1741" }, { "8", "2319" } };
    bench *b = *state;
    pl_calibration c;

    assert_ok(
        b, line_of(b,
                   rig_text(b, pl_arena_printf(b->a, "{\"date\": \"2026-02-01\", \"points\": [%s]}",
                                               points(b, slipped, 6))),
                   &c));
    assert_int_equal(b->d.count, 1);
    assert_finding(b, "/points/3");
}

/* A set point far beyond the points is made, and said. */
static void test_beyond(void **state)
{
    bench *b = *state;
    pl_rig rig = rig_of(b,
                        rig_text(b, "{\"date\": \"2026-02-01\", \"points\": [{\"dial\": \"1 bar\", "
                                    "\"force\": \"290 N\"}, {\"dial\": \"2 bar\", \"force\": \"580 "
                                    "N\"}, {\"dial\": \"3 bar\", \"force\": \"870 N\"}]}"));
    double force_N = 2320;
    pl_set_points p;

    assert_ok(b, pl_rigs_set_points(b->a, &rig, 1, &force_N, 1, 1e-3, &p, &b->d));
    assert_true(p.at[0].can);
    assert_finding(b, "calibrate as far as you press");
}

static void test_age(void **state)
{
    bench *b = *state;
    pl_rig plain = rig_of(b,
                          "{\"name\": \"c\", \"kind\": \"piston-press\", \"settings\": {\"bore\": "
                          "\"63 mm\"}, \"dial\": {\"unit\": \"bar\"}}");
    pl_rig rig = rig_of(b, rig_text(b, pl_arena_printf(b->a, LINE, "2026-02-01", "290")));
    double day = 86400, then = 1769904000; /* 2026-02-01 00:00 UTC */

    assert_rel("days", pl_calibration_age_days("2026-02-01", then + 10 * day), 10, 1e-12);
    assert_true(isnan(pl_calibration_age_days("soon", then)));
    assert_string_equal(pl_rigs_calibration_words(b->a, &rig, then + 366 * day), "");
    assert_non_null(
        strstr(pl_rigs_calibration_words(b->a, &rig, then + 367 * day), "more than a year ago"));
    assert_non_null(strstr(pl_rigs_calibration_words(b->a, &plain, then), "never held against"));
}

/* The text stays as it was but for what is added, with and without a list. */
static void test_added_to_the_text(void **state)
{
    bench *b = *state;
    char *folder = temp_folder(b->a), *text, *again;
    const char csv[] = "dial [bar],force [kN]\n1,0.29\n4,1.16\n8,2.32\n";
    pl_rig rig = rig_of(b, "{\n  \"name\": \"c\",\n  \"kind\": \"piston-press\",\n  \"settings\": "
                           "{\"bore\": \"63 mm\"},\n  \"dial\": {\"unit\": \"bar\"}\n}");
    pl_calibrating c = { .path = temp_file(b->a, folder, "points.csv", csv, sizeof csv - 1),
                         .date = "2026-02-01",
                         .against = "a \"5 kN\" cell" };
    pl_rig made;

    assert_ok(b, pl_rigs_calibrate(b->a, &rig, &c, &text, &b->d));
    assert_int_equal(strncmp(text, rig.text, strlen(rig.text) - 2), 0);
    made = rig_of(b, text);
    c.date = "2026-03-01";
    assert_ok(b, pl_rigs_calibrate(b->a, &made, &c, &again, &b->d));
    made = rig_of(b, again);
    assert_int_equal(pl_json_get(made.written, "calibrations")->count, 2);
    c.path = temp_file(b->a, folder, "bare.csv", "dial,force\n1,2\n", 15);
    assert_code(b, PL_EUNIT, pl_rigs_calibrate(b->a, &made, &c, &text, &b->d));
    assert_finding(b, "without a unit");
    assert_int_equal(unlink(pl_arena_printf(b->a, "%s/points.csv", folder)), 0);
    assert_int_equal(unlink(c.path), 0);
    assert_int_equal(rmdir(folder), 0);
}

static const struct CMUnitTest tests[] = {
    TEST(test_gum_h3),  TEST(test_points_replace_settings),
    TEST(test_newest),  TEST(test_refused),
    TEST(test_far_off), TEST(test_beyond),
    TEST(test_age),     TEST(test_added_to_the_text),
};

MAIN_OF_RIGS(tests, "plugins")
