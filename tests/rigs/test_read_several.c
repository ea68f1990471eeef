/* What a record says beyond its peak, through the load-cell plugin: several specimens in
 * a file, the mode of a joint that held, the loading rate against the wanted one, samples
 * that are missing. The numbers are made here. */
#include "shop.h"

static const char cell[] = "{\"name\": \"bench\", \"kind\": \"load-cell\", \"rated\": \"25 kN\","
                           " \"dial\": {\"unit\": \"kN\"}}";

static pl_code take(bench *b, const char *rig_text, const char *id, const char *text,
                    pl_readings *out)
{
    const char *folder = temp_folder(b->a);
    const char *path = temp_file(b->a, folder, "pull.csv", text, strlen(text));
    pl_rig rig = rig_of(b, rig_text);
    pl_code code;

    b->d.count = 0;
    *out = (pl_readings){ 0 };
    code = pl_rigs_read(b->a, &rig, path, id, out, &b->d);
    unlink(path);
    rmdir(folder);
    return code;
}

static const pl_reading *find(const pl_readings *r, const char *id, const char *quantity)
{
    return pl_readings_find(r, PL_ON_SPECIMEN, id, quantity);
}

static void peak_is(const pl_readings *r, const char *id, double wanted)
{
    const pl_reading *peak = find(r, id, "peak");

    assert_non_null(peak);
    assert_rel("peak", peak->value, wanted, 1e-12);
}

/* Three joints one after the other at 10 Hz, 100 N/s; 20 samples of no load between. */
static const char *three(pl_arena *a, const char *above)
{
    static const int high[] = { 2000, 3000, 2500 };
    int row = 0;
    pl_text t;

    pl_text_init(&t, a);
    pl_text_add(&t, "%stime [s],force [N]\n", above);
    for (int k = 0; k < 3; k++) {
        for (int i = 0; i < 20; i++, row++)
            pl_text_add(&t, "%d.%d,0\n", row / 10, row % 10);
        for (int f = 10; f <= high[k]; f += 10, row++)
            pl_text_add(&t, "%d.%d,%d\n", row / 10, row % 10, f);
    }
    for (int i = 0; i < 20; i++, row++)
        pl_text_add(&t, "%d.%d,0\n", row / 10, row % 10);
    return pl_text_done(&t);
}

static void test_never_by_order(void **state)
{
    bench *b = *state;
    pl_readings r;

    assert_code(b, PL_EDATA, take(b, cell, "K7M3", three(b->a, ""), &r));
    assert_int_equal(r.count, 0);
    assert_finding(b, "the load comes on 3 times and goes back to none between, expected one "
                      "load, or whose each of them is\n  mend: a column specimen; a line "
                      "\"Specimens: A, B\" above the table");
    assert_code(b, PL_EDATA, take(b, cell, NULL, three(b->a, ""), &r));
    assert_finding(b, "the load comes on 3 times");
}

/* A list names them: in the file, or handed over. */
static void test_named_in_order(void **state)
{
    bench *b = *state;
    pl_readings r;

    for (int how = 0; how < 2; how++) {
        assert_ok(b, take(b, cell, how ? NULL : "K7M3,P4QX, R2T8",
                          three(b->a, how ? "Specimens: K7M3, P4QX, R2T8\n\n" : ""), &r));
        peak_is(&r, "K7M3", 2000);
        peak_is(&r, "P4QX", 3000);
        peak_is(&r, "R2T8", 2500);
        assert_rel("rate", find(&r, "P4QX", "rate")->value, 100, 1e-6);
        assert_string_equal(find(&r, "P4QX", "peak")->where, how ? "pull.csv:543" : "pull.csv:541");
        assert_null(find(&r, "P4QX", "mode"));
    }
}

static void test_other_number_of_names(void **state)
{
    bench *b = *state;
    pl_readings r;

    assert_code(b, PL_EDATA, take(b, cell, "K7M3,P4QX", three(b->a, ""), &r));
    assert_finding(b, "pull.csv: found 3 loads, expected 2, one for each of K7M3 and P4QX");
    assert_int_equal(r.count, 0);
    assert_code(b, PL_EPLUGIN, take(b, cell, "K7M3,P4QX,K7M3", three(b->a, ""), &r));
    assert_finding(b, "peak of K7M3 twice");
}

/* A column says whose it is: then a second load of the same specimen is only said. */
static void test_named_by_column(void **state)
{
    bench *b = *state;
    pl_readings r;
    pl_text t;

    pl_text_init(&t, b->a);
    pl_text_put(&t, "specimen,time [s],force [N]\n");
    for (int i = 0, k = 0; k < 2; k++)
        for (int j = 0; j < 40; j++, i++)
            pl_text_add(&t, "S1,%d,%d\n", i, j < 10 ? 0 : j < 35 ? (j - 9) * (10 + k) : 0);
    assert_ok(b, take(b, cell, NULL, pl_text_done(&t), &r));
    peak_is(&r, "S1", 275);
    assert_finding(b, "S1 was loaded 2 times, expected one load\n  mend: the highest is taken");
}

/* A ramp of 100 N/s that ends as told: N after the peak. */
static const char *ramp(pl_arena *a, int peak, int after)
{
    pl_text t;
    int row = 0;

    pl_text_init(&t, a);
    pl_text_put(&t, "time [s],force [N]\n");
    for (int i = 0; i < 20; i++, row++)
        pl_text_add(&t, "%d.%d,0\n", row / 10, row % 10);
    for (int f = 10; f <= peak; f += 10, row++)
        pl_text_add(&t, "%d.%d,%d\n", row / 10, row % 10, f);
    for (int i = 0; after >= 0 && i < 20; i++, row++)
        pl_text_add(&t, "%d.%d,%d\n", row / 10, row % 10, after);
    return pl_text_done(&t);
}

/* What held is censored: the record says not-broken, and the fit takes it as a bound. */
static void test_mode_of_what_held(void **state)
{
    bench *b = *state;
    pl_readings r;

    assert_ok(b, take(b, cell, "K7M3", ramp(b->a, 2000, 100), &r));
    assert_null(find(&r, "K7M3", "mode"));
    assert_ok(b, take(b, cell, "K7M3", ramp(b->a, 2000, 1700), &r));
    assert_string_equal(find(&r, "K7M3", "mode")->text, "not-broken");
    assert_true(isnan(find(&r, "K7M3", "mode")->value));
    assert_finding(b, "no break: the force never falls by a fifth");
    assert_ok(b, take(b, cell, "K7M3", ramp(b->a, 2000, -1), &r));
    assert_string_equal(find(&r, "K7M3", "mode")->text, "not-broken");
    peak_is(&r, "K7M3", 2000);
    assert_finding(b, "the record ends at its highest force");
}

static void test_rate_wanted(void **state)
{
    static const struct {
        const char *settings, *says;
    } cases[] = {
        { "\"rate_from\": \"90 N/s\", \"rate_to\": \"110 N/s\"", NULL },
        { "\"rate_to\": \"100.1 N/s\"", NULL },
        { "\"rate_from\": \"0.12 kN/s\"", "loaded at 0.1 kN/s, expected at least 0.12 kN/s" },
        { "\"rate_from\": \"10 N/s\", \"rate_to\": \"80 N/s\"",
          "loaded at 100 N/s, expected at most 80 N/s\n  mend: as its rig file asks" },
    };
    bench *b = *state;

    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        const char *rig = pl_arena_printf(
            b->a,
            "{\"name\": \"b\", \"kind\": \"load-cell\", \"settings\": {%s}, "
            "\"dial\": {\"unit\": \"kN\"}}",
            cases[i].settings);
        pl_readings r;

        assert_ok(b, take(b, rig, "K7M3", ramp(b->a, 2000, 100), &r));
        if (cases[i].says)
            assert_finding(b, cases[i].says);
        assert_int_equal(pl_diags_count(&b->d, PL_ADVICE), cases[i].says != NULL);
    }
}

/* Five rows that never came. */
static void test_missing_samples(void **state)
{
    bench *b = *state;
    pl_readings r;
    char *text = pl_arena_str(b->a, ramp(b->a, 2000, 100)), *from = text, *to;

    for (int i = 0; i < 100; i++)
        from = strchr(from, '\n') + 1;
    to = from;
    for (int i = 0; i < 5; i++)
        to = strchr(to, '\n') + 1;
    memmove(from, to, strlen(to) + 1);
    assert_ok(b, take(b, cell, "K7M3", text, &r));
    assert_finding(b,
                   "pull.csv:101: advice: found samples are missing: 1 gap, the longest of 0.6 s "
                   "ends here");
    peak_is(&r, "K7M3", 2000);
}

/* A plugin may ask what the lines above the table say. */
static void test_words_above(void **state)
{
    static const char rig[] = "{\"name\": \"b\", \"kind\": \"words-above\"}";
    bench *b = *state;
    pl_readings r;

    use_plugins("faults");
    assert_ok(b, take(b, rig, NULL,
                      "Machine;x\nCrosshead speed [mm/min];5.5;\n\ntime [s];force [N]\n0;1\n", &r));
    assert_rel("speed", find(&r, "K7M3", "speed")->value, 5.5, 0);
    assert_ok(b, take(b, rig, NULL, "time [s],force [N]\n0,1\n", &r));
    assert_rel("speed", find(&r, "K7M3", "speed")->value, 99, 0);
    use_plugins("plugins");
}

static const struct CMUnitTest tests[] = {
    TEST(test_words_above),           TEST(test_never_by_order),  TEST(test_named_in_order),
    TEST(test_other_number_of_names), TEST(test_named_by_column), TEST(test_mode_of_what_held),
    TEST(test_rate_wanted),           TEST(test_missing_samples),
};

MAIN_OF_RIGS(tests, "plugins")
