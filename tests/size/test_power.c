/* Chances of noticing: properties, refusals, assurance by quadrature. The records of textbooks
 * are in test_worked_power.c. */
#include "asked.h"

#include <gsl/gsl_errno.h>

#include "size/power.h"

/* WORKED.md 4.6: from n = 20, 95 % two-sided, factors 0.760 and 1.461 */
static void test_upper_limits(void **state)
{
    (void)state;
    assert_true(isnan(pl_sd_upper_limit(1, 0, 0.8)));
    assert_true(pl_sd_upper_limit(2, INFINITY, 0.8) == 2);
    assert_abs("high", pl_sd_upper_limit(1, 19, 0.975), 1.461, 5e-4);
    assert_abs("low", pl_sd_upper_limit(1, 19, 0.025), 0.760, 1e-3);
}

/* Mean of power over the pilot at 30 digits: make_assurance.py beside the values. */
static void test_assurance_values(void **state)
{
    static const struct {
        double df1, df2, lambda, alpha, pilot, wanted;
    } v[] = {
#include "reference/worked/assurance.inc"
    };

    (void)state;
    for (size_t i = 0; i < sizeof v / sizeof *v; i++) {
        double got;

        assert_int_equal(
            pl_assurance_ftest(v[i].df1, v[i].df2, v[i].lambda, v[i].alpha, v[i].pilot, &got, NULL),
            PL_OK);
        assert_abs("assurance", got, v[i].wanted, 1e-9);
    }
}

/* The larger the pilot, the nearer to plain power; without an effect, alpha. */
static void test_assurance_limits(void **state)
{
    double got, last = 1, power = ftest(3, 28, 14.2, 0.05);

    (void)state;
    for (double df = 2; df < 1e7; df *= 4) {
        double off;

        assert_int_equal(pl_assurance_ftest(3, 28, 14.2, 0.05, df, &got, NULL), PL_OK);
        off = fabs(got - power);
        assert_true(off < last);
        last = off;
    }
    assert_true(last < 1e-6);
    assert_int_equal(pl_assurance_ftest(3, 28, 14.2, 0.05, INFINITY, &got, NULL), PL_OK);
    assert_rel("infinite", got, power, 1e-14);
    assert_int_equal(pl_assurance_ftest(3, 28, 0, 0.05, 5, &got, NULL), PL_OK);
    assert_rel("no effect", got, 0.05, 1e-11);
}

/* The coarse rule gives the fine one's mean of a chance to 1e-5. */
static void test_coarse_nodes(void **state)
{
    double ratio[PL_PILOT_NODES], weight[PL_PILOT_NODES];

    (void)state;
    for (double df = 1; df < 500; df = df * 2 + 1) {
        double fine, sum = 0;
        size_t n = pl_pilot_nodes(df, false, ratio, weight);

        assert_int_equal(pl_assurance_ftest(2, 17, 9.3, 0.05, df, &fine, NULL), PL_OK);
        for (size_t i = 0; i < n; i++)
            sum += weight[i] * ftest(2, 17, fmin(9.3 / (ratio[i] * ratio[i]), 1e8), 0.05);
        assert_abs("coarse", sum, fine, 1e-5);
    }
}

static void test_properties(void **state)
{
    static const double df[] = { 1, 2.5, 9, 60 };

    (void)state;
    for (size_t i = 0; i < 4; i++)
        for (size_t j = 0; j < 4; j++) {
            double last = 0.03, lambda;

            assert_rel("alpha", ftest(df[i], df[j], 0, 0.03), 0.03, 1e-12);
            for (lambda = 0.5; lambda < 60; lambda *= 2) {
                double p = ftest(df[i], df[j], lambda, 0.03);

                assert_true(p > last);
                last = p;
            }
            lambda = pl_power_lambda(df[i], df[j], 0.03, 0.87);
            if (lambda < 1e4) /* beyond, on 1 df, the sum is long and its bound says EPREC */
                assert_abs("inverse", ftest(df[i], df[j], lambda, 0.03), 0.87, 1e-9);
            else
                assert_true(df[j] < 2);
        }
    /* one-sided: the wrong direction is noticed less often than alpha */
    assert_true(ttest(12, -1.1, 0.05, 1) < 0.05);
    /* infinite df: Phi by hand, 1 - Phi(1.96 - 2.8) + Phi(-1.96 - 2.8) */
    assert_abs("normal", ttest(INFINITY, 2.8, 0.05, 2), 0.79955, 5e-5);
    assert_true(isnan(pl_power_lambda(2, 9, 0.05, 0.04)));
}

static void test_refusals(void **state)
{
    bench *b = *state;
    pl_real p;
    double x;

    assert_code(b, PL_EDOM, pl_power_ftest(0, 9, 1, 0.05, &p, &b->d));
    assert_finding(b, "df1 = 0");
    assert_code(b, PL_EDOM, pl_power_ftest(2, -1, 1, 0.05, &p, &b->d));
    assert_finding(b, "df2 = -1");
    assert_code(b, PL_EDOM, pl_power_ftest(2, 9, -1, 0.05, &p, &b->d));
    assert_finding(b, "lambda = -1");
    assert_code(b, PL_EDOM, pl_power_ftest(2, 9, 1, 1.5, &p, &b->d));
    assert_finding(b, "alpha = 1.5");
    assert_code(b, PL_EDOM, pl_power_ttest(9, 1, 0.05, 3, &p, &b->d));
    assert_finding(b, "sides = 3");
    assert_code(b, PL_EDOM, pl_assurance_ftest(2, 9, 1, 0.05, 0, &x, &b->d));
    assert_finding(b, "pilot_df = 0");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_upper_limits), TEST(test_assurance_values), TEST(test_assurance_limits),
        TEST(test_coarse_nodes), TEST(test_properties),       TEST(test_refusals),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
