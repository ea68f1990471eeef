/* Every record of tests/reference/worked/distributions.json, source in each: published
 * tables recomputed in high precision. A record that no line below checks fails the test. */
#include "support.h"

#include <gsl/gsl_errno.h>

#include "base/prob.h"
#include "base/tolerance.h"
#include "reference/worked/worked.h"
#include "size/weibull.h"

#define TABLE_TOL 1e-9 /* as the records say */
#define FACTOR_TOL 1e-10

static void cdf(const pl_json *r, pl_code rc, const pl_tails *got)
{
    assert_int_equal(rc, PL_OK);
    assert_rel(worked_id(r), got->lower.value, worked_expected(r, "cdf"), 1e-12);
    assert_rel("complement", got->upper.value, 1 - worked_expected(r, "cdf"), 1e-11);
}

static void ncchisq(const pl_json *r)
{
    pl_tails got;

    cdf(r,
        pl_ncchisq(worked_in_value(r, "x"), worked_in_value(r, "df"), worked_in_value(r, "nc"),
                   &got),
        &got);
}

static void nct(const pl_json *r)
{
    pl_tails got;

    cdf(r,
        pl_nct(worked_in_value(r, "t"), worked_in_value(r, "df"), worked_in_value(r, "delta"),
               &got),
        &got);
}

static void ncf(const pl_json *r)
{
    pl_tails got;

    cdf(r,
        pl_ncf(worked_in_value(r, "f"), worked_in_value(r, "v1"), worked_in_value(r, "v2"),
               worked_in_value(r, "nc"), &got),
        &got);
}

static void range(const pl_json *r)
{
    assert_abs(worked_id(r),
               pl_range_quantile_upper(worked_in_value(r, "alpha"),
                                       (unsigned)worked_in_value(r, "k"), worked_in_value(r, "df")),
               worked_expected(r, "q"), TABLE_TOL);
}

static double against_one(const pl_json *r, int sides)
{
    double alike[40];

    for (size_t i = 0; i < 40; i++)
        alike[i] = M_SQRT1_2;
    return pl_dunnett_quantile_upper(worked_in_value(r, "alpha"), alike,
                                     (size_t)worked_in_value(r, "comparisons"),
                                     worked_in_value(r, "df"), sides);
}

static void dunnett(const pl_json *r)
{
    assert_abs(worked_id(r), against_one(r, (int)worked_in_value(r, "sides")),
               worked_expected(r, "d"), TABLE_TOL);
}

static void dunnett_both(const pl_json *r)
{
    assert_abs(worked_id(r), against_one(r, 1), worked_expected(r, "d_one_sided"), TABLE_TOL);
    assert_abs(worked_id(r), against_one(r, 2), worked_expected(r, "d_two_sided"), TABLE_TOL);
}

/* n, content, confidence of a record. */
#define OF(r, f)                                                                           \
    f(worked_in_value(r, "n"), worked_in_value(r, "n") - 1, worked_in_value(r, "content"), \
      worked_in_value(r, "confidence"))

static void one_sided(const pl_json *r)
{
    assert_rel(worked_id(r), OF(r, pl_tolerance_lower), worked_expected(r, "k"), FACTOR_TOL);
}

static void two_sided(const pl_json *r)
{
    assert_rel(worked_id(r), OF(r, pl_tolerance_two_sided), worked_expected(r, "k"), TABLE_TOL);
}

static void approximate(const pl_json *r)
{
    assert_rel(worked_id(r), OF(r, pl_tolerance_weissberg),
               worked_expected(r, "k_weissberg_beatty"), FACTOR_TOL);
    assert_rel(worked_id(r), OF(r, pl_tolerance_howe), worked_expected(r, "k_howe"), FACTOR_TOL);
}

static void handbook(const pl_json *r)
{
    assert_rel("Howe", OF(r, pl_tolerance_howe), worked_expected(r, "k2_howe"), TABLE_TOL);
    assert_rel("both", OF(r, pl_tolerance_two_sided), worked_expected(r, "k2_exact"), TABLE_TOL);
    assert_rel("one", OF(r, pl_tolerance_lower), worked_expected(r, "k1_exact"), TABLE_TOL);
    assert_rel("Natrella",
               pl_tolerance_natrella(worked_in_value(r, "n"), worked_in_value(r, "content"),
                                     worked_in_value(r, "confidence")),
               worked_expected(r, "k1_natrella"), TABLE_TOL);
}

/* The short formulas are given to six decimals. */
static void basis(const pl_json *r)
{
    double n = worked_in_value(r, "n");

    assert_rel("B", pl_tolerance_lower(n, n - 1, 0.90, 0.95), worked_expected(r, "kB"), FACTOR_TOL);
    assert_rel("A", pl_tolerance_lower(n, n - 1, 0.99, 0.95), worked_expected(r, "kA"), FACTOR_TOL);
    assert_abs("B short", pl_tolerance_basis(n, 0.90), worked_expected(r, "kB_approx"), 5.1e-7);
    assert_abs("A short", pl_tolerance_basis(n, 0.99), worked_expected(r, "kA_approx"), 5.1e-7);
}

static void en14358(const pl_json *r)
{
    double n = worked_in_value(r, "n");

    assert_rel(worked_id(r), pl_tolerance_lower(n, n - 1, 0.95, 0.75), worked_expected(r, "k"),
               FACTOR_TOL);
    assert_abs("short", pl_tolerance_en14358(n), worked_expected(r, "approx"), 5.1e-11);
}

static void order(const pl_json *r)
{
    double p = worked_in_value(r, "percentile"), sure = worked_in_value(r, "confidence");
    unsigned rank = (unsigned)worked_in_value(r, "rank"), n = (unsigned)worked_expected(r, "n");

    assert_int_equal(pl_order_least(rank, p, sure), n);
    assert_abs(worked_id(r), pl_order_confidence(n, rank, p), worked_expected(r, "confidence_at_n"),
               1e-10);
    assert_true(pl_order_confidence(n - 1, rank, p) < sure);
}

static void between_ends(const pl_json *r)
{
    assert_int_equal(
        pl_order_least(2, 1 - worked_in_value(r, "content"), worked_in_value(r, "confidence")),
        (unsigned)worked_expected(r, "n"));
}

static size_t add_logs(const pl_json *list, double *log_x)
{
    size_t n = 0;

    for (const pl_json *v = list->child; v; v = v->next)
        log_x[n++] = log(v->number);
    return n;
}

static void weibull(const pl_json *r)
{
    const pl_json *in = pl_json_get(r, "inputs");
    double log_x[64];
    bool censored[64] = { false };
    size_t broke = add_logs(pl_json_get(in, "failures"), log_x);
    size_t held = add_logs(pl_json_get(in, "censored"), log_x + broke);
    pl_weibull w;

    for (size_t i = 0; i < held; i++)
        censored[broke + i] = true;
    assert_true(pl_weibull_fit(log_x, censored, broke + held, &w));
    assert_rel("shape", w.shape, worked_expected(r, "shape"), TABLE_TOL);
    assert_rel("scale", w.scale, worked_expected(r, "scale"), TABLE_TOL);
    assert_rel("likelihood", w.log_likelihood, worked_expected(r, "loglik"), TABLE_TOL);
    assert_rel("5th", pl_weibull_quantile(&w, 0.05), worked_expected(r, "quantile_05"), TABLE_TOL);
}

static const worked_group groups[] = {
    { "ncchi2", 5, ncchisq },
    { "nct", 36, nct },
    { "ncf", 36, ncf },
    { "tukey", 50, range },
    { "dunnett1", 18, dunnett },
    { "dunnett2", 18, dunnett },
    { "dunnett-extra", 8, dunnett_both },
    { "tol1", 31, one_sided },
    { "tol2", 26, two_sided },
    { "tol2approx", 7, approximate },
    { "nist7263", 1, handbook },
    { "basis", 4, basis },
    { "en14358", 5, en14358 },
    { "order", 25, order },
    { "wilks2", 5, between_ends },
    { "weibull", 2, weibull },
};

static void test_every_record(void **state)
{
    worked_every(*state, "distributions.json", groups, sizeof groups / sizeof *groups, 277);
}

/* mean - k s passes mu - z sigma with 1 - confidence; the median's factor at 1/2 is 0; more
 * confidence or a farther percentile takes more; refusals. */
static void test_properties(void **state)
{
    (void)state;
    for (double n = 2; n < 300; n = n * 2 + 1) {
        double k = pl_tolerance_lower(n, n - 1, 0.9, 0.8);

        assert_rel("back", pl_tolerance_above(n, n - 1, k, pl_normal_quantile(0.9)), 0.2, 1e-9);
        assert_true(pl_tolerance_lower(n, n - 1, 0.9, 0.85) > k);
        assert_true(pl_tolerance_lower(n, n - 1, 0.93, 0.8) > k);
        assert_true(pl_tolerance_two_sided(n, n - 1, 0.8, 0.8) > 0);
        assert_true(pl_tolerance_lower(n, n + 3, 0.9, 0.8) < k);
    }
    assert_abs("median", pl_tolerance_lower(9, 8, 0.5, 0.5), 0, 1e-12);
    /* known scatter: (z_p sqrt n + z_c)/sqrt n by hand, 1.644854 + 0.674490/3 */
    assert_abs("known", pl_tolerance_lower(9, INFINITY, 0.95, 0.75), 1.869684, 1e-6);
    assert_true(isnan(pl_tolerance_lower(1, 0, 0.9, 0.9)));
    assert_true(isnan(pl_tolerance_lower(5, 4, 1.0, 0.9)));
    assert_true(isnan(pl_tolerance_two_sided(1, 1, 0.9, 0.9)));
    assert_true(isnan(pl_tolerance_basis(5, 0.95)));
    assert_true(isnan(pl_order_confidence(5, 0, 0.1)));
    assert_true(pl_order_confidence(3, 4, 0.1) == 0);
    assert_int_equal(pl_order_least(1, 1e-9, 0.99), 0);
    /* the classical pair: 59 at 95 %, 28 at 75 % (ASTM D2915 table, from memory) */
    assert_int_equal(pl_order_least(1, 0.05, 0.95), 59);
    assert_int_equal(pl_order_least(1, 0.05, 0.75), 28);
}

/* Shape 1 is the exponential, cv 1; shape 2 Rayleigh's, cv sqrt(4/pi - 1). */
static void test_weibull_shapes(void **state)
{
    static const double one[] = { 0.3, 0.3, 0.3 };
    pl_weibull w;

    (void)state;
    assert_rel("exponential", pl_weibull_shape_of(1), 1, 1e-9);
    assert_rel("Rayleigh", pl_weibull_shape_of(sqrt(4 / M_PI - 1)), 2, 1e-9);
    assert_true(isnan(pl_weibull_shape_of(0)) && isnan(pl_weibull_shape_of(11)));
    assert_false(pl_weibull_fit(one, NULL, 3, &w));
    assert_false(pl_weibull_fit(one, NULL, 1, &w));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_every_record),
        TEST(test_properties),
        TEST(test_weibull_shapes),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
