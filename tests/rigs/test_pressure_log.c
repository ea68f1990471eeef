/* The pressure log: volts, milliamps and pressures of one cylinder come to the same
 * force. WORKED, section 2: 50 mm bore at 6 bar is pi x 50^2/4 x 0.6 = 1178.10 N. */
#include "shop.h"

#include <unistd.h>

static const char puller[] =
    "{\"name\": \"puller\", \"kind\": \"pressure-log\", \"rated\": \"10 bar\", \"settings\": "
    "{\"bore\": \"50 mm\", \"range\": \"10 bar\"}, \"dial\": {\"unit\": \"bar\", \"to\": \"10 "
    "bar\"}}";

/* A second of no load, 20 s up to 6 bar, a break; zero and per_bar: the signal. */
static const char *record(pl_arena *a, const char *header, double zero, double per_bar)
{
    pl_text t;

    pl_text_init(&t, a);
    pl_text_add(&t, "%s\n", header);
    for (int k = 0; k < 460; k++) {
        double s = k / 20.0, bar = k < 20 ? 0 : k <= 420 ? 6 * (k - 20) / 400.0 : 0.3;

        pl_text_add(&t, "%.2f,%.6f\n", s, zero + per_bar * bar);
    }
    return pl_text_done(&t);
}

static pl_code take_with(bench *b, const char *settings, const char *text, pl_readings *out)
{
    char *folder = temp_folder(b->a);
    const char *path = temp_file(b->a, folder, "pull.csv", text, strlen(text));
    pl_rig rig = rig_of(b, settings);
    pl_code code = pl_rigs_read(b->a, &rig, path, "K7M3", out, &b->d);

    assert_int_equal(unlink(path), 0);
    assert_int_equal(rmdir(folder), 0);
    return code;
}

static pl_code take(bench *b, const char *text, pl_readings *out)
{
    return take_with(b, puller, text, out);
}

static double peak(bench *b, const char *header, double zero, double per_bar)
{
    pl_readings r = { 0 };

    assert_ok(b, take(b, record(b->a, header, zero, per_bar), &r));
    return pl_readings_find(&r, PL_ON_SPECIMEN, "K7M3", "peak")->value;
}

static void test_signals(void **state)
{
    bench *b = *state;

    assert_abs("volts", peak(b, "time [s],voltage [V]", 0, 1), 1178.10, 0.005);
    assert_abs("milliamps", peak(b, "time [s],current [mA]", 4, 1.6), 1178.10, 0.005);
    assert_abs("pressure", peak(b, "time [s],pressure [bar]", 0, 1), 1178.10, 0.005);
    /* an offset of the transducer goes with the tare */
    assert_abs("offset", peak(b, "time [s],voltage [V]", 0.12, 1), 1178.10, 0.005);
}

static void test_which_signal(void **state)
{
    bench *b = *state;
    pl_readings r = { 0 };

    assert_code(b, PL_EDATA,
                take(b, "time [s],voltage [V],current [mA]\n0,0,4\n1,1,5\n2,2,6\n", &r));
    assert_finding(b, "one column is needed of voltage, current and pressure");
    assert_int_equal(r.count, 0);
}

/* Derived: 10 bar x 0.5 % on 1963.50 mm2 as a rectangle: 9.8175 / sqrt 3 = 5.668 N. */
static void test_way_back(void **state)
{
    bench *b = *state;
    pl_rig rig = rig_of(b, puller);
    double dial = 6e5, f, u;

    assert_ok(b, pl_rigs_forces(b->a, &rig, &dial, PL_Q_PRESSURE, 1, &f, &u, &b->d));
    assert_abs("N", f, 1178.10, 0.005);
    assert_abs("u", u, 5.668, 0.0005);
}

/* 1178.10 N in 20 s: 58.9 N/s. */
static void test_rate_wanted(void **state)
{
    bench *b = *state;
    const char *text = record(b->a, "time [s],current [mA]", 4, 1.6);
    pl_readings r = { 0 };

    assert_ok(b, take_with(b,
                           "{\"name\": \"p\", \"kind\": \"pressure-log\", \"settings\": {\"bore\": "
                           "\"50 mm\", \"range\": \"10 bar\", \"rate_from\": \"50 N/s\"}, "
                           "\"dial\": {\"unit\": \"bar\"}}",
                           text, &r));
    assert_int_equal(pl_diags_count(&b->d, PL_ADVICE), 0);
    r = (pl_readings){ 0 };
    assert_ok(b, take_with(b,
                           "{\"name\": \"p\", \"kind\": \"pressure-log\", \"settings\": {\"bore\": "
                           "\"50 mm\", \"range\": \"10 bar\", \"rate_to\": \"50 N/s\"}, \"dial\": "
                           "{\"unit\": \"bar\"}}",
                           text, &r));
    assert_finding(b, "loaded at 58.9 N/s, expected at most 50 N/s");
}

static const struct CMUnitTest tests[] = {
    TEST(test_rate_wanted),
    TEST(test_signals),
    TEST(test_which_signal),
    TEST(test_way_back),
};

MAIN_OF_RIGS(tests, "plugins")
