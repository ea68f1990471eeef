/* Chances of noticing against textbooks and papers, recomputed at 30 digits
 * (tests/reference/worked/power.json, source in each record). */
#include "support.h"

#include <gsl/gsl_errno.h>

#include "reference/worked/worked.h"
#include "size/power.h"

#define POWER_TOL 1e-10 /* as the records say */

static double ftest(double df1, double df2, double lambda, double alpha)
{
    pl_real p = { NAN, 0 };

    assert_int_equal(pl_power_ftest(df1, df2, lambda, alpha, &p, NULL), PL_OK);
    assert_true(p.value >= alpha * (1 - 1e-12) && p.value <= 1);
    return p.value;
}

static double ttest(double df, double delta, double alpha, int sides)
{
    pl_real p = { NAN, 0 };

    assert_int_equal(pl_power_ttest(df, delta, alpha, sides, &p, NULL), PL_OK);
    return p.value;
}

typedef size_t check(const pl_json *record);

/* Runs every record of a group; the count guards against none being there. */
static void each(void **state, const char *group, size_t wanted, check *f)
{
    bench *b = *state;
    const pl_json *list = worked_list(b, "power.json");
    size_t n = 0;

    for (const pl_json *r = list->child; r; r = r->next)
        if (worked_in(r, group))
            n += f(r);
    assert_int_equal(n, wanted);
}

/* Smallest n per group with two-sample t power enough, from noncentral t. */
static size_t two_sample(const pl_json *r)
{
    double d = worked_in_value(r, "d"), alpha = worked_in_value(r, "alpha");
    int sides = (int)worked_in_value(r, "sides");
    double n = worked_expected(r, "n_per_group"), before;

    assert_abs(worked_id(r), ttest(2 * n - 2, d * sqrt(n / 2), alpha, sides),
               worked_expected(r, "power_at_n"), POWER_TOL);
    before = ttest(2 * n - 4, d * sqrt((n - 1) / 2), alpha, sides);
    assert_true(before < worked_in_value(r, "power"));
    if (!isnan(worked_expected(r, "power_at_n_minus_1")))
        assert_abs(worked_id(r), before, worked_expected(r, "power_at_n_minus_1"), POWER_TOL);
    return 1;
}

static void test_two_samples(void **state)
{
    each(state, "t2-cohen", 44, two_sample);
    each(state, "t2-julious", 10, two_sample);
    each(state, "t2-davies", 10, two_sample);
}

static size_t one_sample(const pl_json *r)
{
    double d = worked_in_value(r, "d"), alpha = worked_in_value(r, "alpha");
    double n = worked_expected(r, "n");
    int sides = (int)worked_in_value(r, "sides");

    assert_abs(worked_id(r), ttest(n - 1, d * sqrt(n), alpha, sides),
               worked_expected(r, "power_at_n"), POWER_TOL);
    assert_true(ttest(n - 2, d * sqrt(n - 1), alpha, sides) < worked_in_value(r, "power"));
    return 1;
}

static void test_one_sample(void **state)
{
    each(state, "t1-davies", 12, one_sample);
}

static size_t cohen_anova(const pl_json *r)
{
    double k = worked_in_value(r, "groups"), f = worked_in_value(r, "f");
    double n = worked_expected(r, "n_per_group"), alpha = worked_in_value(r, "alpha");

    assert_abs(worked_id(r), ftest(k - 1, k * (n - 1), f * f * k * n, alpha),
               worked_expected(r, "power_at_n"), POWER_TOL);
    assert_true(ftest(k - 1, k * (n - 2), f * f * k * (n - 1), alpha) <
                worked_in_value(r, "power"));
    return 1;
}

static size_t regression(const pl_json *r)
{
    double u = worked_in_value(r, "predictors"), N = worked_expected(r, "N");

    assert_abs(worked_id(r),
               ftest(u, N - u - 1, worked_in_value(r, "f2") * N, worked_in_value(r, "alpha")),
               worked_expected(r, "power_at_N"), POWER_TOL);
    return 1;
}

/* Pearson & Hartley: Phi = sqrt(lambda/(v1 + 1)). */
static size_t chart(const pl_json *r)
{
    double v1 = worked_in_value(r, "v1"), phi = worked_in_value(r, "Phi");

    assert_abs(
        worked_id(r),
        ftest(v1, worked_in_value(r, "v2"), phi * phi * (v1 + 1), worked_in_value(r, "alpha")),
        worked_expected(r, "power"), POWER_TOL);
    return 1;
}

static void test_f_tests(void **state)
{
    each(state, "anova-cohen1992", 27, cohen_anova);
    each(state, "regression-cohen1992", 11, regression);
    each(state, "phgrid", 128, chart);
}

/* Chart readings of Montgomery's strength of fibre, and a blocked one. */
static size_t montgomery(const pl_json *r)
{
    const pl_json *rows = pl_json_get(pl_json_get(r, "expected"), "rows");
    double alpha = worked_in_value(r, "alpha"), k = worked_in_value(r, "groups");

    if (!rows) {
        double n = worked_in_value(r, "n_per_group");

        assert_abs(worked_id(r),
                   ttest(2 * n - 2,
                         worked_in_value(r, "delta") / worked_in_value(r, "sigma") * sqrt(n / 2),
                         alpha, 2),
                   worked_expected(r, "power"), POWER_TOL);
        return 1;
    }
    for (const pl_json *row = rows->child; row; row = row->next) {
        double n = worked_value(pl_json_get(row, "n"));
        double lambda = n * worked_in_value(r, "sum_tau2") / worked_in_value(r, "sigma2");
        double beta = worked_value(pl_json_get(row, "printed_beta"));
        double p = ftest(k - 1, worked_value(pl_json_get(row, "df2")), lambda, alpha);

        assert_abs(worked_id(r), p, worked_value(pl_json_get(row, "power")), POWER_TOL);
        if (!isnan(beta))
            assert_abs("chart reading", 1 - p, beta, 0.05);
    }
    return 1;
}

static size_t kutner(const pl_json *r)
{
    double ncp = worked_in_value(r, "ncp");

    if (isnan(ncp))
        ncp = worked_expected(r, "ncp");
    assert_abs(worked_id(r), ttest(worked_in_value(r, "df"), ncp, worked_in_value(r, "alpha"), 2),
               worked_expected(r, "power"), POWER_TOL);
    return 1;
}

static size_t contrast(const pl_json *r)
{
    double df = worked_expected(r, "df"), ncp = worked_expected(r, "ncp");
    double alpha = worked_in_value(r, "alpha");

    assert_abs(worked_id(r), ttest(df, ncp, alpha, 2), worked_expected(r, "power_two_sided"),
               POWER_TOL);
    assert_abs(worked_id(r), ttest(df, ncp, alpha, 1), worked_expected(r, "power_one_sided"),
               POWER_TOL);
    return 1;
}

static size_t two_levels(const pl_json *r)
{
    assert_abs(
        worked_id(r),
        ttest(worked_expected(r, "df"), worked_expected(r, "ncp"), worked_in_value(r, "alpha"), 2),
        worked_expected(r, "power"), POWER_TOL);
    return 1;
}

static size_t wheeler(const pl_json *r)
{
    assert_abs(worked_id(r),
               ttest(worked_in_value(r, "df"), worked_in_value(r, "r") / 2,
                     worked_in_value(r, "alpha"), 2),
               worked_expected(r, "power"), POWER_TOL);
    return 1;
}

/* 15 digits of ncp in a record are worth 1e-14 of power. */
static void test_single_contrasts(void **state)
{
    each(state, "montgomery", 4, montgomery);
    each(state, "kutner", 2, kutner);
    each(state, "contrast", 3, contrast);
    each(state, "effect2level", 20, two_levels);
    each(state, "wheeler", 5, wheeler);
}

static size_t latin(const pl_json *r)
{
    double k = worked_in_value(r, "k"), f = worked_in_value(r, "f");

    assert_abs(worked_id(r),
               ftest(k - 1, (k - 1) * (k - 2), k * k * f * f, worked_in_value(r, "alpha")),
               worked_expected(r, "power"), POWER_TOL);
    return 1;
}

static void test_latin(void **state)
{
    each(state, "latin", 3, latin);
}

static size_t upper_limit(const pl_json *r)
{
    assert_rel(worked_id(r),
               pl_sd_upper_limit(1, worked_in_value(r, "df"), worked_in_value(r, "confidence")),
               worked_expected(r, "factor"), 1e-10);
    return 1;
}

static size_t soap(const pl_json *r)
{
    double df = worked_in_value(r, "df"), s = sqrt(worked_in_value(r, "ssE") / df);

    assert_rel(worked_id(r), pl_sd_upper_limit(s, df, worked_in_value(r, "conf")),
               worked_expected(r, "sigma_ucl"), 1e-10);
    return 1;
}

static void test_upper_limits(void **state)
{
    each(state, "sd-ucl", 30, upper_limit);
    each(state, "deanvoss", 1, soap);
    assert_true(isnan(pl_sd_upper_limit(1, 0, 0.8)));
    assert_true(pl_sd_upper_limit(2, INFINITY, 0.8) == 2);
    /* WORKED.md 4.6: from n = 20, 95 % two-sided, factors 0.760 and 1.461 */
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
        TEST(test_two_samples),
        TEST(test_one_sample),
        TEST(test_f_tests),
        TEST(test_single_contrasts),
        TEST(test_latin),
        TEST(test_upper_limits),
        TEST(test_assurance_values),
        TEST(test_assurance_limits),
        TEST(test_properties),
        TEST(test_refusals),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
