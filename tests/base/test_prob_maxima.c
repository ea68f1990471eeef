/* Studentised range and Dunnett's maxima against tables and quadrature. */
#include "support.h"

#include <gsl/gsl_errno.h>

#include "base/prob.h"
#include "reference/worked/worked.h"

#define M_CONTRASTS 40

static size_t read_lambda(const char *text, double *lambda)
{
    size_t m = 0;
    char *end;

    for (double x = strtod(text, &end); end != text; x = strtod(text = end, &end))
        lambda[m++] = x;
    return m;
}

/* maxima.csv: 64-bit arithmetic, by definition, tails down to 1e-60. */
static void test_both_tails(void **state)
{
    bench *b = *state;
    const pl_csv *t = worked_table(b, "maxima.csv");
    double lambda[M_CONTRASTS];

    assert_int_equal(t->nrow, 186);
    for (size_t i = 0; i < t->nrow; i++) {
        const char *kind = pl_csv_at(t, i, 0)->text,
                   *where = pl_csv_where(b->a, t, pl_csv_at(t, i, 0));
        double df = strtod(pl_csv_at(t, i, 2)->text, NULL), x = worked_cell(t, i, "x");
        unsigned count = (unsigned)worked_cell(t, i, "count");
        pl_tails got;

        if (strcmp(kind, "range") == 0) {
            assert_int_equal(pl_range(x, count, df, &got), PL_OK);
        } else {
            assert_int_equal(read_lambda(pl_csv_at(t, i, 4)->text, lambda), count);
            assert_int_equal(pl_dunnett(x, lambda, count, df, kind[7] - '0', &got), PL_OK);
        }
        assert_true(worked_cell(t, i, "off") < 1e-12);
        assert_rel(where, got.lower.value, worked_cell(t, i, "lower"), 1e-11);
        assert_rel(where, got.upper.value, worked_cell(t, i, "upper"), 1e-11);
        assert_true(got.upper.bound <= PL_MAXIMA_TOL && got.lower.bound <= PL_MAXIMA_TOL);
    }
}

/* Two means: sqrt 2 times |t|; one contrast: t itself; no correlation: independent
 * normals; a pooled error of infinite df. */
static void test_simple_cases(void **state)
{
    const double l = 0.3, none[5] = { 0 };
    pl_tails got;

    (void)state;
    for (double df = 1; df < 200; df *= 3) {
        assert_int_equal(pl_range(2.7, 2, df, &got), PL_OK);
        assert_rel("range", got.upper.value, 2 * pl_t_upper(2.7 / M_SQRT2, df), 1e-12);
        assert_int_equal(pl_dunnett(-1.3, &l, 1, df, 1, &got), PL_OK);
        assert_rel("one-sided", got.lower.value, pl_t_upper(1.3, df), 1e-12);
        assert_int_equal(pl_dunnett(1.3, &l, 1, df, 2, &got), PL_OK);
        assert_rel("two-sided", got.upper.value, 2 * pl_t_upper(1.3, df), 1e-12);
    }
    assert_int_equal(pl_dunnett(1.7, none, 5, INFINITY, 1, &got), PL_OK);
    assert_rel("independent", got.lower.value, pow(pl_normal_lower(1.7), 5), 1e-13);
}

/* A point put back gives the chance asked for; the order of contrasts does not matter. */
static void test_points_come_back(void **state)
{
    static const double alpha[] = { 1e-40, 1e-9, 0.02, 0.4, 0.7, 0.999 };
    const double one[] = { 0.2, 0.9, 0.55, 0.9 }, other[] = { 0.9, 0.55, 0.9, 0.2 };

    (void)state;
    for (size_t i = 0; i < sizeof alpha / sizeof *alpha; i++)
        for (double df = 2.5; df < 100; df *= 5) {
            double q = pl_range_quantile_upper(alpha[i], 7, df);
            double d = pl_dunnett_quantile_upper(alpha[i], one, 4, df, 2);
            pl_tails got;

            assert_int_equal(pl_range(q, 7, df, &got), PL_OK);
            assert_rel("range", got.upper.value, alpha[i], 1e-10);
            assert_int_equal(pl_dunnett(d, other, 4, df, 2, &got), PL_OK);
            assert_rel("Dunnett", got.upper.value, alpha[i], 1e-10);
            assert_abs("sum", got.upper.value + got.lower.value, 1, 1e-12);
        }
}

/* Anywhere: both tails add to 1. */
static void test_tails_add_up(void **state)
{
    const double lambda[] = { 0.1, 0.98, 0.995 };

    (void)state;
    for (double df = 0.5; df < 1e6; df *= 19)
        for (double x = 0.03; x < 60; x *= 2.3) {
            pl_tails got;

            assert_int_equal(pl_range(x, 30, df, &got), PL_OK);
            assert_abs("range", got.lower.value + got.upper.value, 1, 1e-11);
            assert_int_equal(pl_range(x, PL_RANGE_MOST, df, &got), PL_OK);
            assert_abs("most means", got.lower.value + got.upper.value, 1, PL_MAXIMA_TOL);
            for (int sides = 1; sides <= 2; sides++) {
                assert_int_equal(pl_dunnett(x, lambda, 3, df, sides, &got), PL_OK);
                assert_abs("Dunnett", got.lower.value + got.upper.value, 1, 1e-12);
            }
        }
}

static void test_refusals(void **state)
{
    const double l[2] = { 0.5, 1 }, fine = 0.5;
    pl_tails got;
    pl_real r;

    (void)state;
    assert_int_equal(pl_range(-1, 4, 9, &got), PL_EDOM);
    assert_int_equal(pl_range(NAN, 4, 9, &got), PL_EDOM);
    assert_int_equal(pl_range_upper(3, 1, 9, &r), PL_EDOM);
    assert_int_equal(pl_range_upper(3, PL_RANGE_MOST + 1, 9, &r), PL_EDOM);
    assert_int_equal(pl_range_upper(3, 4, 0, &r), PL_EDOM);
    assert_int_equal(pl_dunnett(1, l, 2, 9, 1, &got), PL_EDOM);
    assert_int_equal(pl_dunnett(1, l, 0, 9, 1, &got), PL_EDOM);
    assert_int_equal(pl_dunnett(1, l, 1, 9, 3, &got), PL_EDOM);
    assert_int_equal(pl_dunnett(-1, l, 1, 9, 2, &got), PL_EDOM);
    assert_true(isnan(pl_range_quantile_upper(0, 3, 9)));
    assert_true(isnan(pl_dunnett_quantile_upper(0.6, &fine, 1, 9, 1)));
    assert_int_equal(pl_range(0, 4, 9, &got), PL_OK);
    assert_true(got.lower.value == 0 && got.upper.value == 1);
    assert_int_equal(pl_dunnett(INFINITY, &fine, 1, 9, 1, &got), PL_OK);
    assert_true(got.lower.value == 1 && got.upper.value == 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_both_tails),   TEST(test_simple_cases), TEST(test_points_come_back),
        TEST(test_tails_add_up), TEST(test_refusals),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
