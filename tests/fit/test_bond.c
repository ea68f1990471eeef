/* Joint, glue line and wood apart, against R. Figures: tests/fit/bond.R, which holds the same
 * invented readings; survreg at a relative tolerance of 1e-15. */
#include <gsl/gsl_errno.h>

#include "fit/bond.h"
#include "reference.h"

#define TEN 1e-10
#define EIGHT 1e-8 /* limits: uniroot over survreg's own figures */

static const char *const names[] = { "species", "pressure", "board", "least",
                                     "most",    "share",    "wood" };
static const char *const cells[] = {
    "beech", "low",   "B1",    "5.1",   "5.1",   "0",     "0",     "beech", "low",   "B2",
    "4.6",   "4.6",   "0.1",   "0",     "beech", "low",   "B1",    "5.9",   "5.9",   "0.2",
    "0",     "beech", "low",   "B2",    "5.0",   "5.0",   "0",     "0",     "beech", "mid",
    "B1",    "7.4",   "7.4",   "0.3",   "0",     "beech", "mid",   "B2",    "6.9",   "7.1",
    "0.6",   "0",     "beech", "mid",   "B1",    "8.2",   "8.2",   "0.9",   "1",     "beech",
    "mid",   "B2",    "7.7",   "7.7",   "0.5",   "0",     "beech", "high",  "B1",    "9.6",
    "9.6",   "1",     "1",     "beech", "high",  "B2",    "8.1",   "8.1",   "0.4",   "0",
    "beech", "high",  "B1",    "8.9",   "8.9",   "0.8",   "1",     "beech", "high",  "B2",
    "8.8",   "",      "",      "0",     "larch", "low",   "B3",    "4.0",   "4.0",   "0",
    "0",     "larch", "low",   "B4",    "4.4",   "4.4",   "0.1",   "0",     "larch", "low",
    "B3",    "",      "0.5",   "",      "0",     "larch", "low",   "B4",    "4.9",   "4.9",
    "0.2",   "0",     "larch", "mid",   "B3",    "5.9",   "5.9",   "0.3",   "0",     "larch",
    "mid",   "B4",    "6.0",   "6.2",   "0.2",   "0",     "larch", "mid",   "B3",    "6.3",
    "6.3",   "0.9",   "1",     "larch", "mid",   "B4",    "5.4",   "5.4",   "0.1",   "0",
    "larch", "high",  "B3",    "6.2",   "6.2",   "0.8",   "1",     "larch", "high",  "B4",
    "6.6",   "6.6",   "0.9",   "1",     "larch", "high",  "B3",    "6.0",   "6.0",   "0.2",
    "0",     "larch", "high",  "B4",    "6.5",   "6.5",   "1",     "1",
};
#define COLUMNS 7
#define ROWS (sizeof cells / sizeof *cells / COLUMNS)

static const char *const one[] = { "species" }, *const other[] = { "pressure" },
                         *const both[] = { "species", "pressure" }, *const board[] = { "board" };
static const pl_linear_effect effects[] = { { one, 1 }, { other, 1 }, { both, 2 } };

static pl_bond_spec spec_of(void)
{
    return (pl_bond_spec){ .least = "least",
                           .most = "most",
                           .share = "share",
                           .wood = "wood",
                           .counts_as_wood = 0.75,
                           .effects = effects,
                           .neffect = 3,
                           .nsingle = 2,
                           .shown = 1,
                           .blocks = board,
                           .nblock = 1,
                           .wood_effects = effects,
                           .nwood_effect = 1 };
}

static const pl_bounds_level *level(const pl_bounds_fit *fit, const char *name)
{
    for (size_t i = 0; i < fit->nlevel; i++)
        if (!strcmp(fit->levels[i].level, name))
            return &fit->levels[i];
    fail_msg("no level %s", name);
    return NULL;
}

static void test_links(void **state)
{
    bench *b = *state;
    const pl_table *t = table_of(b, "links", ROWS, COLUMNS, names, cells);
    pl_bond_spec s = spec_of();
    const pl_bounds_fit *f;
    pl_bond_fit bond;

    assert_ok(b, pl_fit_bond(b->a, t, &s, &bond, &b->d));
    assert_int_equal(bond.joints, 24);
    assert_int_equal(bond.wood, 7);
    assert_int_equal(bond.glue, 16);
    assert_int_equal(bond.unbroken, 1);
    assert_int_equal(bond.handling, 1);
    assert_int_equal(bond.between, 2);
    assert_string_equal(bond.cells, "species, pressure");
    /* boards lie inside species: coded within each, averaged evenly */
    f = bond.bond.fit;
    assert_int_equal(bond.bond.model, PL_BOND_WHOLE);
    assert_rel("low beech", level(f, "beech, low")->holds.at, 5.15, TEN);
    assert_rel("mid beech", level(f, "beech, mid")->holds.at, 7.774491277871132, TEN);
    assert_rel("high beech", level(f, "beech, high")->holds.at, 9.713997044446069, TEN);
    assert_rel("low larch", level(f, "larch, low")->holds.at, 3.371617483610732, TEN);
    assert_rel("mid larch", level(f, "larch, mid")->holds.at, 6.058028759128870, TEN);
    assert_rel("high larch", level(f, "larch, high")->holds.at, 7.318709505169158, TEN);
    assert_rel("scatter", f->sigma, 0.951595647093038, TEN);
    assert_rel("log-likelihood", f->log_likelihood, -28.985984547135949, TEN);
    assert_rel("lower limit", level(f, "beech, mid")->holds.low, 6.11041239603090, EIGHT);
    assert_rel("upper limit", level(f, "beech, mid")->holds.high, 9.67670678783133, EIGHT);
    /* species lies between boards: no test from within them */
    assert_true(f->effects[0].between && isnan(f->effects[0].p));
    assert_true(!f->effects[1].between && f->effects[1].p < 0.001);
    /* the wood, boards being its scatter */
    f = bond.wood_itself.fit;
    assert_rel("beech's wood", level(f, "beech")->holds.at, 8.96899998147526, 1e-8);
    assert_rel("larch's wood", level(f, "larch")->holds.at, 6.45299939448940, 1e-8);
    assert_rel("its scatter", f->sigma, 0.370435701595829, 1e-7);
}

static void test_lines_and_laws(void **state)
{
    bench *b = *state;
    const pl_table *t = table_of(b, "links", ROWS, COLUMNS, names, cells);
    pl_bond_spec s = spec_of();
    pl_bond_fit bond;

    s.counts_as_wood = 0.7; /* between two of the lines: one more */
    assert_ok(b, pl_fit_bond(b->a, t, &s, &bond, &b->d));
    assert_int_equal(bond.nline, 6);
    assert_rel("own", bond.lines[2].counts_as_wood, 0.7, 0);
    s.counts_as_wood = 0.75;
    assert_ok(b, pl_fit_bond(b->a, t, &s, &bond, &b->d));
    assert_int_equal(bond.nline, 5);
    /* from a quarter on all of beech's high joints are wood: no upper limit */
    assert_true(level(bond.lines[0].fit, "beech, high")->holds.high_open);
    assert_true(isnan(level(bond.lines[0].fit, "beech, high")->holds.at));
    assert_int_equal(level(bond.lines[0].fit, "beech, high")->known, 0);
    assert_rel("a half", level(bond.lines[1].fit, "beech, mid")->holds.at, 8.4200068623153, 1e-9);
    assert_rel("own line", level(bond.lines[2].fit, "beech, mid")->holds.at, 7.77449127787113, TEN);
    assert_rel("four fifths", level(bond.lines[3].fit, "beech, mid")->holds.at, 7.77449127787113,
               TEN);
    assert_rel("all wood", level(bond.lines[4].fit, "beech, mid")->holds.at, 7.57532817708408, TEN);
    assert_rel("log-likelihood", bond.lines[4].fit->log_likelihood, -30.7547233363075, TEN);
    assert_true(bond.by_line.by > 0.6);
    assert_rel("lognormal", level(bond.laws[PL_LAW_LOGNORMAL].fit, "beech, mid")->holds.at,
               8.45976124058452, 1e-9);
    assert_rel("its log-likelihood", bond.laws[PL_LAW_LOGNORMAL].fit->log_likelihood,
               -43.969812345603, TEN);
    /* tests/fit/bond_weibull.py, 60 digits: survreg stops at 7.60836259 with a warning */
    assert_rel("weibull", level(bond.laws[PL_LAW_WEIBULL].fit, "beech, mid")->holds.at,
               7.6083626068574499795, TEN);
    assert_rel("its log-likelihood", bond.laws[PL_LAW_WEIBULL].fit->log_likelihood,
               -36.35150954571715252, TEN);
}

/* Without a bound the joint's fit is least squares: its limits are those of t. */
static void test_plain(void **state)
{
    static const char *const plain[] = { "5.1", "5.1", "0.1", "0", "4.4", "4.4", "0", "0",
                                         "6.2", "6.2", "0.3", "0", "5.7", "5.7", "0", "0" };
    bench *b = *state;
    const pl_table *t = table_of(b, "plain", 4, 4, names + 3, plain);
    pl_bond_spec s = {
        .least = "least", .most = "most", .share = "share", .wood = "wood", .counts_as_wood = 0.75
    };
    pl_bond_fit bond;

    assert_ok(b, pl_fit_bond(b->a, t, &s, &bond, &b->d));
    assert_rel("mean", bond.joint.fit->levels[0].holds.at, 5.35, 1e-14);
    /* R: t.test(c(5.1, 4.4, 6.2, 5.7))$conf.int */
    assert_rel("low", bond.joint.fit->levels[0].holds.low, 4.11402482091787, 1e-10);
    assert_rel("high", bond.joint.fit->levels[0].holds.high, 6.58597517908213, 1e-10);
    assert_rel("glue line", bond.bond.fit->levels[0].holds.high,
               bond.joint.fit->levels[0].holds.high, 0);
    assert_null(bond.wood_itself.fit);
    assert_int_equal(bond.wood_itself.own, 0);
}

static void test_nothing_to_tell(void **state)
{
    static const char *const held[] = { "5.1", "", "", "0", "4.4", "", "", "0" };
    static const char *const wood[] = { "5.1", "5.1", "1",   "0",   "4.4", "4.4",
                                        "0.9", "0",   "4.9", "4.9", "1",   "0" };
    bench *b = *state;
    const pl_table *t = table_of(b, "held", 2, 4, names + 3, held);
    pl_bond_spec s = {
        .least = "least", .most = "most", .share = "share", .wood = "wood", .counts_as_wood = 0.75
    };
    pl_bond_fit bond;

    assert_code(b, PL_EDATA, pl_fit_bond(b->a, t, &s, &bond, &b->d));
    assert_finding(b, "2 joints, not one of which broke");
    t = table_of(b, "wood", 3, 4, names + 3, wood);
    assert_ok(b, pl_fit_bond(b->a, t, &s, &bond, &b->d));
    assert_null(bond.bond.fit);
    assert_int_equal(bond.bond.own, 0);
    assert_int_equal(bond.bond.model, PL_BOND_NOTHING);
    assert_non_null(bond.joint.fit); /* the joint is not hidden by its wood */
    s.least = "none";
    assert_code(b, PL_EKEY, pl_fit_bond(b->a, t, &s, &bond, &b->d));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_links),
        TEST(test_lines_and_laws),
        TEST(test_plain),
        TEST(test_nothing_to_tell),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
