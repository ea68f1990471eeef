/* The battery: every bundled plugin stands it, and plugins that do wrong do not. */
#include "shop.h"

#include <unistd.h>

#include "rigs/try.h"

static const char screw[] =
    "{\"name\": \"s\", \"kind\": \"screw-press\", \"settings\": {\"thread\": "
    "\"16 mm\", \"nut_factor\": 0.18}, \"rated\": \"20 kN\", \"dial\": "
    "{\"unit\": \"N.m\", \"to\": \"60 N.m\", \"class\": \"4 %\", \"marks\": "
    "\"1 N.m\"}}";
static const char puller[] =
    "{\"name\": \"p\", \"kind\": \"pressure-log\", \"rated\": \"10 bar\", \"settings\": {\"bore\": "
    "\"50 mm\", \"range\": \"10 bar\"}, \"dial\": {\"unit\": \"bar\", \"to\": \"10 bar\", "
    "\"class\": "
    "\"1 %\", \"marks\": \"0.1 bar\"}}";

static void stands(bench *b, const pl_rig *rig, const char *record, size_t least)
{
    const char *path = record ? top_path(b->a, record) : NULL;
    pl_trials t;

    assert_ok(b, pl_rigs_try(b->a, rig, &path, record ? 1 : 0, &t, &b->d));
    for (size_t i = 0; i < t.count; i++)
        if (!t.items[i].passed)
            print_error("%s: found %s, expected %s\n", t.items[i].name, t.items[i].found,
                        t.items[i].expected);
    assert_int_equal(t.failed, 0);
    assert_true(t.count >= least);
    if (record) {
        assert_int_equal(t.rows, PL_TRY_ROWS);
        assert_true(t.us_per_row > 0);
    }
}

static void test_presses(void **state)
{
    bench *b = *state;
    pl_rig stand = rig_file(b, "tests/rigs/lever-stand.json");
    pl_rig air = rig_file(b, "tests/rigs/air-63.json");
    pl_rig turned = rig_of(b, screw);

    stands(b, &stand, NULL, 5);
    stands(b, &air, NULL, 6);
    stands(b, &turned, NULL, 6);
}

static void test_records(void **state)
{
    bench *b = *state;
    pl_rig cell = rig_file(b, "tests/rigs/cell-25.json");
    pl_rig logged = rig_of(b, puller);
    pl_rig frame = rig_of(b, "{\"name\": \"f\", \"kind\": \"test-frame\", \"rated\": \"25 kN\", "
                             "\"dial\": {\"unit\": \"kN\", \"to\": \"25 kN\", \"class\": \"1 %\", "
                             "\"marks\": \"0.01 kN\"}}");

    stands(b, &cell, "plugins/load-cell/recordings/pull.csv", 12);
    stands(b, &logged, "plugins/pressure-log/recordings/pull.csv", 12);
    stands(b, &frame, "plugins/test-frame/recordings/pull.csv", 11); /* no dress of commas */
}

static size_t fails(bench *b, const char *kind, const char *says)
{
    pl_rig rig = rig_of(b, pl_arena_printf(b->a, "{\"name\": \"x\", \"kind\": \"%s\"}", kind));
    size_t found = 0;
    pl_trials t;

    use_plugins("faults");
    assert_ok(b, pl_rigs_try(b->a, &rig, NULL, 0, &t, &b->d));
    use_plugins("plugins");
    assert_true(t.failed > 0);
    for (size_t i = 0; i < t.count; i++)
        found += !t.items[i].passed && strstr(t.items[i].found, says) != NULL;
    for (size_t i = 0; i < t.count && !found; i++)
        print_error("%s: %s\n", t.items[i].name, t.items[i].found);
    if (!found)
        fail_msg("no failed check of %s says \"%s\"", kind, says);
    return found;
}

static void test_wrong_ones_fail(void **state)
{
    bench *b = *state;

    fails(b, "crash", "crashed");
    fails(b, "falling", "no uncertainty"); /* it states none */
    fails(b, "moody", "another answer than before");
}

static void test_unknown(void **state)
{
    bench *b = *state;
    pl_rig rig = rig_of(b, "{\"name\": \"x\", \"kind\": \"steam-hammer\"}");
    pl_trials t;

    assert_code(b, PL_EKEY, pl_rigs_try(b->a, &rig, NULL, 0, &t, &b->d));
}

static const struct CMUnitTest tests[] = {
    TEST(test_presses),
    TEST(test_records),
    TEST(test_wrong_ones_fail),
    TEST(test_unknown),
};

MAIN_OF_RIGS(tests, "plugins")
