/* Spread, far-off units and normal scores against R 4.2 (base): the recipe stands beside each. */
#include "fit/trust.h"

#include <gsl/gsl_errno.h>
#include <math.h>

#include "analyses.h"
#include "fit/boxcox.h"
#include "linear_support.h"

/* R's InsectSprays: G. Beall 1942, Biometrika 32:243; six sprays, twelve counts each. */
static const double sprays[] = {
    10, 7, 20, 14, 14, 12, 10, 23, 17, 20, 14, 13, 11, 17, 21, 11, 16, 14, 17, 17, 19, 21, 7,  13,
    0,  1, 7,  2,  3,  1,  2,  1,  3,  0,  1,  4,  3,  5,  12, 6,  4,  3,  5,  5,  5,  5,  2,  4,
    3,  5, 3,  5,  3,  6,  1,  1,  3,  2,  6,  4,  11, 9,  15, 22, 15, 16, 13, 10, 26, 26, 24, 13,
};

static void test_spread(void **state)
{
    bench *b = *state;
    size_t level[72];
    pl_spread s;

    for (size_t i = 0; i < 72; i++)
        level[i] = i / 12;
    assert_ok(b, pl_trust_spread(b->a, sprays, level, 72, 6, &s, &b->d));
    /* bartlett.test(count ~ spray, InsectSprays) */
    assert_rel("Bartlett", s.bartlett, 25.9598253203687, 1e-12);
    assert_rel("its df", s.bartlett_df, 5, 0);
    assert_rel("its p", s.bartlett_p, 9.08512233294531e-05, 1e-11);
    /* anova(lm(abs(count - tapply(count, spray, median)[spray]) ~ spray)) */
    assert_rel("Levene", s.levene, 3.82135631322592, 1e-12);
    assert_rel("its df", s.levene_df2, 66, 0);
    assert_rel("its p", s.levene_p, 0.00422279113899214, 1e-11);
    assert_int_equal(s.least, 4); /* E: sd 1.73; of F: 6.21 */
    assert_int_equal(s.most, 5);
}

/* Shifting a level, and the unit, change nothing; scatter of 0 in a level is no figure. */
static void test_properties(void **state)
{
    bench *b = *state;
    double v[72];
    size_t level[72];
    pl_spread s, t;

    for (size_t i = 0; i < 72; i++) {
        level[i] = i / 12;
        v[i] = 1000 * sprays[i] + 5000 * (double)level[i];
    }
    assert_ok(b, pl_trust_spread(b->a, sprays, level, 72, 6, &s, &b->d));
    assert_ok(b, pl_trust_spread(b->a, v, level, 72, 6, &t, &b->d));
    assert_rel("Bartlett", t.bartlett, s.bartlett, 1e-10);
    assert_rel("Levene", t.levene, s.levene, 1e-10);
    assert_ok(b, pl_trust_spread(b->a, v, level, 30, 3, &t, &b->d)); /* the third: six */
    assert_true(isnan(t.levene) && t.bartlett >= 0);
    for (size_t i = 0; i < 12; i++)
        v[i] = 7;
    assert_ok(b, pl_trust_spread(b->a, v, level, 72, 6, &t, &b->d));
    assert_true(isnan(t.bartlett));
    assert_ok(b, pl_trust_spread(b->a, v, level, 1, 1, &t, &b->d));
    assert_true(isnan(t.bartlett) && isnan(t.levene));
}

static void test_far_off(void **state)
{
    /* y <- c(5.1, 4.7, 5.3, 9.0, 4.9, 5.0); rstudent(lm(y ~ 1))[4]; 6 * 2 * pt(., 4, lower = F) */
    static const double e[] = { -0.56666666666666621, -0.96666666666666679, -0.36666666666666714,
                                3.333333333333333,    -0.76666666666666661, -0.66666666666666696 };
    static const double none[] = { 0, 0, 0 };
    pl_far_off f = pl_trust_far_off(e, 6, 5);

    (void)state;
    assert_int_equal(f.at, 3);
    assert_rel("t", f.t, 16.3299316185545, 1e-11);
    assert_rel("p", f.p, 0.000493838510682571, 1e-10);
    assert_int_equal(pl_trust_far_off(none, 3, 2).at, 3);
    assert_int_equal(pl_trust_far_off(e, 6, 1).at, 6);
}

static void test_scores(void **state)
{
    /* qnorm((rank(c(3, 1, 2, 2, 5)) - 3/8) / 5.25) */
    static const double v[] = { 3, 1, 2, 2, 5 };
    static const double wanted[] = { 0.497200570682, -1.17976111761, -0.241040393886,
                                     -0.241040393886, 1.17976111761 };
    bench *b = *state;
    const double *scores;

    assert_ok(b, pl_trust_scores(b->a, v, 5, &scores, &b->d));
    for (size_t i = 0; i < 5; i++)
        assert_rel("score", scores[i], wanted[i], 1e-11);
}

/* Box & Cox 1964, survival of animals, 3 poisons x 4 treatments; figures of the records recomputed.
 * The likelihood there has n/2 ln n of its constant: 24 ln 48 of 48 animals. */
static void check_power(bench *b, const char *id, const char *effects)
{
    const pl_json *r = analyses_record(b, id);
    const pl_json *from = analyses_record(b, "analyses:boxcox/poisons");
    static const char *const names[] = { "time", "poison", "treat" };
    static const char *const powers[] = { "-1", "-0.5", "0", "0.5", "1" };
    const char *cells[48 * 3];
    const pl_table *t;
    pl_linear_spec spec = spec_of(b, (wish){ .response = "time", .effects = effects });
    pl_boxcox p;
    bool fitted;

    for (size_t i = 0; i < 48; i++) {
        const char *at = pl_arena_printf(b->a, "inputs/time/%zu", i);

        cells[3 * i] = pl_arena_printf(b->a, "%g", json_number(from, at));
        for (size_t k = 1; k < 3; k++)
            cells[3 * i + k] =
                json_value(from, pl_arena_printf(b->a, "inputs/%s/%zu", names[k], i))->string;
    }
    t = table_of(b, "poisons", 48, 3, names, cells);
    assert_ok(b, pl_boxcox_fit(b->a, t, &spec, &p, &fitted, &b->d));
    assert_true(fitted && !p.low_open && !p.high_open && p.units == 48);
    assert_abs("power", p.power, analyses_expected(r, "lambda_hat"), 1e-6);
    assert_abs("low", p.low, analyses_expected(r, "ci95/0"), 1e-6);
    assert_abs("high", p.high, analyses_expected(r, "ci95/1"), 1e-6);
    for (size_t i = 0; i < 5; i++) {
        const char *at = pl_arena_printf(b->a, "profile_loglik_scaled/%s", powers[i]);
        double l = pl_boxcox_likelihood(b->a, t, &spec, atof(powers[i]));

        assert_abs(powers[i], l + 24 * log(48), analyses_expected(r, at), 1e-6);
    }
}

static void test_power(void **state)
{
    check_power(*state, "analyses:boxcox/poisons", "poison; treat");
    check_power(*state, "analyses:boxcox/poisons-cellmeans", "poison; treat; poison,treat");
}

/* A value at zero has no power; nor has a fit with nothing left over. Units are averaged first. */
static void test_no_power(void **state)
{
    bench *b = *state;
    static const char *const names[] = { "y", "level", "unit" };
    const char *cells[] = { "0",  "a", "1", "2",  "a", "2", "3",  "b", "3", "5",  "b", "4",
                            "10", "c", "5", "12", "c", "6", "20", "d", "7", "25", "d", "8" };
    pl_linear_spec spec = spec_of(b, (wish){ .response = "y", .effects = "level" });
    pl_boxcox p, q;
    bool fitted;

    assert_ok(
        b, pl_boxcox_fit(b->a, table_of(b, "zero", 8, 3, names, cells), &spec, &p, &fitted, &b->d));
    assert_false(fitted);
    cells[0] = "1.5";
    assert_ok(
        b, pl_boxcox_fit(b->a, table_of(b, "one", 8, 3, names, cells), &spec, &p, &fitted, &b->d));
    assert_true(fitted && p.units == 8);
    for (size_t i = 0; i < 8; i++) /* two specimens a unit: one value */
        cells[3 * i + 2] = cells[3 * i + 1];
    spec.unit = "unit";
    assert_ok(
        b, pl_boxcox_fit(b->a, table_of(b, "two", 8, 3, names, cells), &spec, &q, &fitted, &b->d));
    assert_false(fitted); /* four units at four levels */
    assert_int_equal(b->d.count, 0);
}

static void test_ledger(void **state)
{
    analyses_settle(*state, "test_trust");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_spread), TEST(test_properties), TEST(test_far_off), TEST(test_scores),
        TEST(test_power),  TEST(test_no_power),   TEST(test_ledger),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
