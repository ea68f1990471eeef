/* Level means free of blocks and the contrasts among them, against R. */
#include <gsl/gsl_errno.h>

#include "fit/contrast.h"
#include "fit/plateau.h"
#include "reference.h"

/* Unbalanced, three boards: lm and 4e6 Monte Carlo draws in R (curves/level_means.R). The critical
 * points are aimed at 0.002; R's draws are good to about the same. */
static void test_level_means(void **state)
{
    static const char *const board = "board";
    const pl_curve_spec spec = { .response = "strength",
                                 .over = "applied",
                                 .planned = "planned",
                                 .blocks = &board,
                                 .nblock = 1 };
    bench *b = *state;
    const pl_json *j = reference_json(b, "curves/level_means");
    pl_plateau *p = NULL;
    size_t n = 0;

    assert_ok(b,
              pl_fit_curves(b->a, reference_table(b, "curves/set_as-made"), &spec, &p, &n, &b->d));
    assert_int_equal(p->nlevel, 6);
    for (size_t l = 0; l < 6; l++) {
        assert_rel("mean", p->levels[l].mean, pl_json_at(json_value(j, "mean"), l)->number, 1e-13);
        assert_rel("se", p->levels[l].se, pl_json_at(json_value(j, "se"), l)->number, 1e-13);
    }
    assert_true(p->error_df == json_number(j, "df"));
    assert_rel("sd", p->error_sd, json_number(j, "sd"), 1e-13);
    assert_rel("rise", p->rise.difference, json_number(j, "rise_size"), 1e-12);
    assert_rel("rise t", p->rise.t, json_number(j, "rise_t"), 1e-12);
    assert_rel("fall", p->fall.difference, json_number(j, "fall_size"), 1e-12);
    assert_rel("fall t", p->fall.t, json_number(j, "fall_t"), 1e-12);
    assert_abs("rise point", p->rise_point, json_number(j, "rise_point"), 0.008);
    assert_abs("fall point", p->fall.point, json_number(j, "fall_point"), 0.008);
    /* the rise is from the two lowest levels to all above, the fall from 1.6 to 2.4 */
    assert_true(p->rise.lower_from == 0 && p->rise.lower_to == 1 && p->rise.upper_from == 2 &&
                p->rise.upper_to == 5);
    assert_true(p->fall.upper_to + 1 == p->fall.lower_from && p->fall.lower_to == 5);
}

/* Two levels are a t test: points are the central t's, the two-sided one at 97.5 % too. */
static void test_two_levels(void **state)
{
    static const double y[] = { 8.1, 8.7, 7.9, 8.3, 9.2, 8.0 }, x[] = { 0, 0, 0, 1, 1, 1 };
    static const size_t level[] = { 0, 0, 0, 1, 1, 1 };
    bench *b = *state;
    pl_curve_rows rows;
    pl_level_fit fit;
    pl_contrasts c;
    double se;

    assert_ok(b, pl_curve_rows_make(b->a, x, y, 6, NULL, 0, NULL, &rows, &b->d));
    assert_ok(b, pl_level_means(b->a, &rows, level, 2, &fit, &b->d));
    assert_ok(b, pl_contrasts_test(b->a, &fit, &c, &b->d));
    assert_true(c.tested && !c.rise_shown && !c.fall_shown && fit.residual.df == 4);
    /* means 8.2333, 8.5; sum of squares 0.34667 + 0.78; by hand */
    assert_rel("ss", fit.residual.ss, 0.346666666666667 + 0.78, 1e-12);
    se = sqrt(fit.residual.ss / 4 * 2 / 3);
    assert_rel("difference", c.rise.difference, 0.266666666666667, 1e-12);
    assert_rel("se", c.rise.se, se, 1e-12);
    assert_rel("mirror", c.fall.difference, -0.266666666666667, 1e-12);
    /* t(4) at 0.975: 2.776445105, Fisher & Yates table III, more digits from R's qt */
    assert_rel("point", c.rise.point, 2.7764451051978, 1e-9);
    assert_rel("excluded fall", c.fall_excluded, 2.7764451051978 * se - 0.266666666666667, 1e-9);
    assert_rel("excluded change", c.change_excluded, 2.7764451051978 * se + 0.266666666666667,
               1e-9);
}

/* Nothing to judge by. */
static void test_untested(void **state)
{
    static const double y[] = { 8.1, 8.7, 7.9, 8.3 }, x[] = { 0, 1, 2, 3 };
    static const size_t level[] = { 0, 1, 2, 3 };
    bench *b = *state;
    pl_curve_rows rows;
    pl_level_fit fit;
    pl_contrasts c;

    assert_ok(b, pl_curve_rows_make(b->a, x, y, 4, NULL, 0, NULL, &rows, &b->d));
    assert_ok(b, pl_level_means(b->a, &rows, level, 4, &fit, &b->d));
    assert_ok(b, pl_contrasts_test(b->a, &fit, &c, &b->d));
    assert_true(fit.fine && fit.residual.df == 0 && !c.tested && isnan(c.fall_excluded));
}

/* Boards that hold one level each: no level can be told from its board. */
static void test_within_blocks(void **state)
{
    static const double y[] = { 8.1, 8.7, 7.9, 8.3, 9.2, 8.0 }, x[] = { 0, 0, 1, 1, 2, 2 };
    static const double block[] = { 1, 0, 1, 0, 0, 1, 0, 1, -1, -1, -1, -1 };
    static const size_t level[] = { 0, 0, 1, 1, 2, 2 };
    bench *b = *state;
    pl_curve_rows rows;
    pl_level_fit fit;
    pl_contrasts c;

    assert_ok(b, pl_curve_rows_make(b->a, x, y, 6, block, 2, NULL, &rows, &b->d));
    assert_ok(b, pl_level_means(b->a, &rows, level, 3, &fit, &b->d));
    assert_false(fit.fine);
    assert_ok(b, pl_contrasts_test(b->a, &fit, &c, &b->d));
    assert_false(c.tested);
}

int main(void)
{
    const struct CMUnitTest tests[] = { TEST(test_level_means), TEST(test_two_levels),
                                        TEST(test_untested), TEST(test_within_blocks) };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
