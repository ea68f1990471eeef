/* The battery: every bundled plugin stands it, and each of its checks fails for a plugin that does
 * what that check is against. */
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
    "\"class\": \"1 %\", \"marks\": \"0.1 bar\"}}";
static const char frame[] = "{\"name\": \"f\", \"kind\": \"test-frame\", \"rated\": \"25 kN\", "
                            "\"dial\": {\"unit\": \"kN\", \"to\": \"25 kN\", \"class\": \"1 %\", "
                            "\"marks\": \"0.01 kN\"}}";

static void all_pass(const pl_trials *t)
{
    for (size_t i = 0; i < t->count; i++)
        if (!t->items[i].passed)
            print_error("%s: found %s, expected %s\n", t->items[i].name, t->items[i].found,
                        t->items[i].expected);
    assert_int_equal(t->failed, 0);
}

/* rig NULL: made up of what the kind declares. Every check is there once. */
static void stands(bench *b, const char *kind, const pl_rig *rig, const char *record, size_t checks)
{
    const char *path = record ? top_path(b->a, record) : NULL;
    pl_trying what = { kind, rig, &path, record ? 1 : 0 };
    pl_trials t;

    assert_ok(b, pl_rigs_try(b->a, &what, &t, &b->d));
    all_pass(&t);
    assert_int_equal(t.count, checks);
    if (record) {
        assert_true(t.rows >= PL_TRY_ROWS);
        assert_true(t.us_per_row > 0 && t.us_per_row < 100);
        assert_true(t.bytes_per_row < 4);
    }
}

static void test_presses(void **state)
{
    bench *b = *state;
    pl_rig stand = rig_file(b, "tests/rigs/lever-stand.json");
    pl_rig air = rig_file(b, "tests/rigs/air-63.json");
    pl_rig turned = rig_of(b, screw);

    stands(b, NULL, &stand, NULL, 9);
    stands(b, NULL, &air, NULL, 12);
    stands(b, NULL, &turned, NULL, 12);
    stands(b, "dead-weight", NULL, NULL, 8); /* made up, it has no limit to be held to */
    stands(b, "piston-press", NULL, NULL, 11);
    stands(b, "screw-press", NULL, NULL, 11);
}

static void test_records(void **state)
{
    bench *b = *state;
    pl_rig cell = rig_file(b, "tests/rigs/cell-25.json");
    pl_rig logged = rig_of(b, puller);
    pl_rig framed = rig_of(b, frame);

    stands(b, NULL, &cell, "plugins/load-cell/recordings/pull.csv", 30);
    stands(b, NULL, &logged, "plugins/pressure-log/recordings/pull.csv", 30);
    stands(b, NULL, &framed, "plugins/test-frame/recordings/pull.csv", 24); /* no dress of commas */
}

/* A reader without a recording is tried with records made up of its columns. */
static void test_records_made_up(void **state)
{
    bench *b = *state;

    stands(b, "load-cell", NULL, NULL, 5);
    stands(b, "pressure-log", NULL, NULL, 5);
    stands(b, "test-frame", NULL, NULL, 5);
}

/* ---- each check fails ---- */

static const char *failed(const pl_trials *t, const char *name)
{
    for (size_t i = 0; i < t->count; i++)
        if (strstr(t->items[i].name, name) && !t->items[i].passed)
            return t->items[i].found;
    for (size_t i = 0; i < t->count; i++)
        print_error("%s: %s\n", t->items[i].name, t->items[i].passed ? "passed" : "failed");
    fail_msg("no check \"%s\" failed", name);
    return "";
}

static void fails(bench *b, pl_trying what, const char *check, const char *says)
{
    pl_trials t;
    const char *found;

    use_plugins("faults");
    assert_ok(b, pl_rigs_try(b->a, &what, &t, &b->d));
    use_plugins("plugins");
    found = failed(&t, check);
    if (!strstr(found, says))
        fail_msg("%s: found \"%s\", not \"%s\"", check, found, says);
}

static const struct {
    const char *does, *check, *says;
} wrongs[] = {
    { "mute", "set points rise with the force", "refused without a reason" },
    { "mute-at-end", "just beyond either end", "refused without a reason" },
    { "never", "there is a force that it presses", "every force was refused" },
    { "boundless", "a force beyond all rigs is refused", "1e9 N was accepted" },
    { "dips", "set points rise within its range", "a larger force at a smaller dial reading" },
    { "moody", "the same question has the same answer, bit for bit", "another answer" },
    { "remembers", "what was asked before does not matter", "another answer" },
    { "one-way", "from force to dial and back", "N come back" },
    { "back-falls", "a larger reading never means a smaller force", "less than below it" },
    { "back-moody", "the same reading has the same force, bit for bit", "another answer" },
};

static pl_rig tries(bench *b, const char *does)
{
    return rig_of(b, pl_arena_printf(
                         b->a,
                         "{\"name\": \"x\", \"kind\": \"tries\", \"settings\": {\"does\": \"%s\"}, "
                         "\"dial\": {\"unit\": \"Pa\"}}",
                         does));
}

static void test_pressing_wrongly(void **state)
{
    bench *b = *state;
    pl_rig well = tries(b, "well");
    pl_trials t;

    use_plugins("faults");
    assert_ok(b, pl_rigs_try(b->a, &(pl_trying){ .rig = &well }, &t, &b->d));
    use_plugins("plugins");
    all_pass(&t);
    for (size_t i = 0; i < sizeof wrongs / sizeof *wrongs; i++) {
        pl_rig rig = tries(b, wrongs[i].does);

        fails(b, (pl_trying){ .rig = &rig }, wrongs[i].check, wrongs[i].says);
    }
}

static void test_other_faults(void **state)
{
    bench *b = *state;
    pl_rig crash = rig_of(b, "{\"name\": \"x\", \"kind\": \"crash\"}");
    pl_rig sure = rig_of(b, "{\"name\": \"x\", \"kind\": \"moody\"}");

    fails(b, (pl_trying){ .kind = "gaps" }, "the plugin loads", "does not follow its header");
    fails(b, (pl_trying){ .rig = &crash }, "set points rise with the force", "crashed");
    fails(b, (pl_trying){ .rig = &sure }, "set points rise with the force", "no uncertainty");
    fails(b, (pl_trying){ .kind = "ends" }, "with every setting at the ends",
          "every setting at its highest: plugin \"ends\" crashed");
    fails(b, (pl_trying){ .kind = "ends-reading" }, "with every setting at the ends",
          "every setting at its lowest: plugin \"ends-reading\" crashed");
    fails(b, (pl_trying){ .kind = "halves" }, "with every setting at the ends",
          "no rig can be made of it");
}

static const char *const of_records[] = {
    "is read",
    "has the same readings once more, bit for bit",
    "with carriage returns",
    "with a byte order mark",
    "with no end of its last line",
    "with semicolons and decimal commas",
    "with tabs",
    "with every cell in quotes",
    "with its last column first",
    "with its columns in reverse",
    "with a column more",
    "cut short after every row",
    "cut within a row",
    "empty",
    "with zero bytes",
    "that is no text",
    "with numbers beyond all sense",
    "with negative numbers as large",
    "with numbers too small to count",
    "with an empty row",
    "with a word for a number",
    "with cells of a megabyte",
    "without units",
    "of a million rows",
    "of a million rows needs no more memory",
};
enum { NCHECKS = sizeof of_records / sizeof *of_records };

/* 200 rows of time and force, for plugins that are no better than their tests. */
static const char *plain_record(bench *b, const char *folder)
{
    pl_text t;

    pl_text_init(&t, b->a);
    pl_text_put(&t, "time [s],force [N]\n");
    for (int i = 0; i < 200; i++)
        pl_text_add(&t, "%.2f,%.1f\n", i * 0.05, i < 20 ? 0 : i < 180 ? 1.5 * (i - 20) : 5);
    return temp_file(b->a, folder, "plain.csv", pl_text_done(&t), t.length);
}

static void tried(bench *b, const char *kind, const char *path, pl_trials *t)
{
    use_plugins("faults");
    assert_ok(b, pl_rigs_try(b->a, &(pl_trying){ kind, NULL, &path, 1 }, t, &b->d));
    use_plugins("plugins");
}

/* Between them these plugins fail every check of records that there is. */
static void test_reading_wrongly(void **state)
{
    bench *b = *state;
    const char *folder = temp_folder(b->a), *path = plain_record(b, folder);
    pl_trials nosy, hoards, crash;
    bool fell[NCHECKS] = { false };

    tried(b, "nosy", path, &nosy);
    tried(b, "hoards", path, &hoards);
    tried(b, "crash", path, &crash);
    for (int i = 0; i < NCHECKS; i++) {
        const pl_trials *all[] = { &nosy, &hoards, &crash };

        for (int k = 0; k < 3; k++)
            for (size_t j = 0; j < all[k]->count; j++) {
                const pl_trial *x = &all[k]->items[j];

                fell[i] |= !x->passed &&
                           !strcmp(x->name + strcspn(x->name, " ") + 1, of_records[i]);
            }
        fell[i] = fell[i] || (i == NCHECKS - 1 && failed(&hoards, of_records[i])[0]);
        if (!fell[i])
            fail_msg("nothing fails \"%s\"", of_records[i]);
    }
    failed(&nosy, "records made up of its columns");
    unlink(path);
    rmdir(folder);
}

/* No check is missing from the list above. */
static void test_all_checks_are_listed(void **state)
{
    bench *b = *state;
    const char *path = top_path(b->a, "plugins/load-cell/recordings/pull.csv");
    pl_trials t;
    size_t of_a_file = 0;

    assert_ok(b, pl_rigs_try(b->a, &(pl_trying){ "load-cell", NULL, &path, 1 }, &t, &b->d));
    for (size_t i = 0; i < t.count; i++)
        of_a_file += !strncmp(t.items[i].name, "pull.csv ", 9);
    assert_int_equal(of_a_file, NCHECKS);
}

/* One that takes bytes may refuse another way to write a table, but not misread it. */
static void test_bytes(void **state)
{
    bench *b = *state;
    const char *folder = temp_folder(b->a), *path = plain_record(b, folder);
    pl_trials t;

    tried(b, "raw-lines", path, &t);
    assert_string_equal(failed(&t, "with semicolons and decimal commas"), "other readings");
    assert_string_equal(failed(&t, "with its last column first"), "other readings");
    unlink(path);
    rmdir(folder);
}

/* Curves: the bundled one, one that does well, and one for each check that does not. */
static void test_curves(void **state)
{
    static const struct {
        const char *kind, *check, *says;
    } bad[] = {
        { "curve-gaps", "the plugin loads", "no curve_gradient or curve_range" },
        { "curve-nan", "every number is finite", "a number that cannot be" },
        { "curve-falls", "every number is finite", "a curve that falls" },
        { "curve-code", "every number is finite", "gave code" },
        { "curve-crash", "every number is finite", "while its curve was asked" },
        { "curve-nowhere", "there are shape numbers", "PLATEN_ERANGE everywhere" },
        { "curve-slope", "its derivatives agree", "by rate at rate " },
        { "curve-remembers", "point by point and in any order",
          "another answer for a point alone" },
        { "curve-moody", "in another process", "other numbers than before" },
    };
    bench *b = *state;
    pl_trials t;

    stands(b, "richards-rise", NULL, NULL, 6);
    use_plugins("faults");
    assert_ok(b, pl_rigs_try(b->a, &(pl_trying){ .kind = "curve-well" }, &t, &b->d));
    all_pass(&t);
    assert_int_equal(t.count, 6);
    assert_ok(b, pl_rigs_try(b->a, &(pl_trying){ .kind = "mgh17" }, &t, &b->d));
    all_pass(&t);
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        fails(b, (pl_trying){ .kind = bad[i].kind }, bad[i].check, bad[i].says);
}

static void test_unknown(void **state)
{
    bench *b = *state;
    pl_rig rig = rig_of(b, "{\"name\": \"x\", \"kind\": \"steam-hammer\"}");
    pl_trials t;

    assert_code(b, PL_EKEY, pl_rigs_try(b->a, &(pl_trying){ .rig = &rig }, &t, &b->d));
    assert_code(b, PL_EKEY, pl_rigs_try(b->a, &(pl_trying){ .kind = "steam" }, &t, &b->d));
}

static const struct CMUnitTest tests[] = {
    TEST(test_presses),         TEST(test_records),
    TEST(test_records_made_up), TEST(test_pressing_wrongly),
    TEST(test_other_faults),    TEST(test_reading_wrongly),
    TEST(test_bytes),           TEST(test_all_checks_are_listed),
    TEST(test_unknown),         TEST(test_curves),
};

MAIN_OF_RIGS(tests, "plugins")
