/* Every record of tests/reference/worked/power.json, source in each: textbooks and papers,
 * recomputed at 30 digits. A record that no line below checks fails the test. What a whole
 * question makes of some of them is in test_size.c. */
#include "asked.h"

#include <gsl/gsl_errno.h>

#include "base/prob.h"
#include "reference/worked/worked.h"
#include "size/equivalence.h"
#include "size/power.h"
#include "size/precision.h"

#define POWER_TOL 1e-10 /* as the records say */

/* Smallest n per group with two-sample t power enough, from noncentral t. */
static void two_sample(const pl_json *r)
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
}

static void one_sample(const pl_json *r)
{
    double d = worked_in_value(r, "d"), alpha = worked_in_value(r, "alpha");
    double n = worked_expected(r, "n");
    int sides = (int)worked_in_value(r, "sides");

    assert_abs(worked_id(r), ttest(n - 1, d * sqrt(n), alpha, sides),
               worked_expected(r, "power_at_n"), POWER_TOL);
    assert_true(ttest(n - 2, d * sqrt(n - 1), alpha, sides) < worked_in_value(r, "power"));
}

static void cohen_anova(const pl_json *r)
{
    double k = worked_in_value(r, "groups"), f = worked_in_value(r, "f");
    double n = worked_expected(r, "n_per_group"), alpha = worked_in_value(r, "alpha");

    assert_abs(worked_id(r), ftest(k - 1, k * (n - 1), f * f * k * n, alpha),
               worked_expected(r, "power_at_n"), POWER_TOL);
    assert_true(ftest(k - 1, k * (n - 2), f * f * k * (n - 1), alpha) <
                worked_in_value(r, "power"));
}

static void regression(const pl_json *r)
{
    double u = worked_in_value(r, "predictors"), N = worked_expected(r, "N");

    assert_abs(worked_id(r),
               ftest(u, N - u - 1, worked_in_value(r, "f2") * N, worked_in_value(r, "alpha")),
               worked_expected(r, "power_at_N"), POWER_TOL);
}

/* Pearson & Hartley: Phi = sqrt(lambda/(v1 + 1)). */
static void chart(const pl_json *r)
{
    double v1 = worked_in_value(r, "v1"), phi = worked_in_value(r, "Phi");

    assert_abs(
        worked_id(r),
        ftest(v1, worked_in_value(r, "v2"), phi * phi * (v1 + 1), worked_in_value(r, "alpha")),
        worked_expected(r, "power"), POWER_TOL);
}

/* Chart readings of Montgomery's strength of fibre, and a blocked one. */
static void montgomery(const pl_json *r)
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
        return;
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
}

static void kutner(const pl_json *r)
{
    double ncp = worked_in_value(r, "ncp");

    if (isnan(ncp))
        ncp = worked_expected(r, "ncp");
    assert_abs(worked_id(r), ttest(worked_in_value(r, "df"), ncp, worked_in_value(r, "alpha"), 2),
               worked_expected(r, "power"), POWER_TOL);
}

static void contrast(const pl_json *r)
{
    double df = worked_expected(r, "df"), ncp = worked_expected(r, "ncp");
    double alpha = worked_in_value(r, "alpha");

    assert_abs(worked_id(r), ttest(df, ncp, alpha, 2), worked_expected(r, "power_two_sided"),
               POWER_TOL);
    assert_abs(worked_id(r), ttest(df, ncp, alpha, 1), worked_expected(r, "power_one_sided"),
               POWER_TOL);
}

static void two_levels(const pl_json *r)
{
    assert_abs(
        worked_id(r),
        ttest(worked_expected(r, "df"), worked_expected(r, "ncp"), worked_in_value(r, "alpha"), 2),
        worked_expected(r, "power"), POWER_TOL);
}

static void wheeler(const pl_json *r)
{
    assert_abs(worked_id(r),
               ttest(worked_in_value(r, "df"), worked_in_value(r, "r") / 2,
                     worked_in_value(r, "alpha"), 2),
               worked_expected(r, "power"), POWER_TOL);
}

static void latin(const pl_json *r)
{
    double k = worked_in_value(r, "k"), f = worked_in_value(r, "f");

    assert_abs(worked_id(r),
               ftest(k - 1, (k - 1) * (k - 2), k * k * f * f, worked_in_value(r, "alpha")),
               worked_expected(r, "power"), POWER_TOL);
}

static void upper_limit(const pl_json *r)
{
    assert_rel(worked_id(r),
               pl_sd_upper_limit(1, worked_in_value(r, "df"), worked_in_value(r, "confidence")),
               worked_expected(r, "factor"), 1e-10);
}

static void soap(const pl_json *r)
{
    double df = worked_in_value(r, "df"), s = sqrt(worked_in_value(r, "ssE") / df);

    assert_rel(worked_id(r), pl_sd_upper_limit(s, df, worked_in_value(r, "conf")),
               worked_expected(r, "sigma_ucl"), 1e-10);
}

/* Least favourable case of a range: two of k levels so far apart, the others midway. */
static void range_grid(const pl_json *r)
{
    double k = worked_in_value(r, "groups"), d = worked_in_value(r, "range_over_sigma");
    double n = worked_expected(r, "n"), alpha = worked_in_value(r, "alpha");

    assert_abs(worked_id(r), ftest(k - 1, k * (n - 1), n * d * d / 2, alpha),
               worked_expected(r, "power_at_n"), POWER_TOL);
    assert_true(ftest(k - 1, k * (n - 2), (n - 1) * d * d / 2, alpha) <
                worked_in_value(r, "power"));
}

static void complete_blocks(const pl_json *r)
{
    double b = worked_in_value(r, "blocks"), k = worked_in_value(r, "treatments");
    double f = worked_in_value(r, "f");

    assert_abs(worked_id(r),
               ftest(k - 1, (k - 1) * (b - 1), b * k * f * f, worked_in_value(r, "alpha")),
               worked_expected(r, "power"), POWER_TOL);
}

static void balanced_blocks(const pl_json *r)
{
    double v = worked_in_value(r, "v"), f = worked_in_value(r, "f");

    assert_abs(worked_id(r),
               ftest(v - 1, worked_expected(r, "df2"),
                     worked_in_value(r, "r") * worked_expected(r, "E") * v * f * f,
                     worked_in_value(r, "alpha")),
               worked_expected(r, "power"), POWER_TOL);
}

static void browne(const pl_json *r)
{
    double s = pl_sd_upper_limit(worked_in_value(r, "pilot_sd"), worked_in_value(r, "pilot_n") - 1,
                                 worked_in_value(r, "confidence"));
    double n = worked_expected(r, "n_per_group"), d = worked_in_value(r, "delta") / s;

    assert_rel(worked_id(r), s, worked_expected(r, "sigma_ucl"), 1e-10);
    assert_abs(worked_id(r), ttest(2 * n - 2, d * sqrt(n / 2), worked_in_value(r, "alpha"), 2),
               worked_expected(r, "power_at_n"), POWER_TOL);
}

/* R's manual: continuous numbers to 1e-4, and two tails where it gives one. */
static void manual(const pl_json *r)
{
    double n = worked_in_value(r, "n_per_group"), groups = worked_in_value(r, "groups"), up, low;

    if (!isnan(n)) {
        double t = -pl_t_quantile(0.025, 2 * n - 2);
        pl_tails one;

        assert_int_equal(pl_nct(t, 2 * n - 2, sqrt(n / 2), &one), PL_OK);
        assert_abs("upper", one.upper.value, worked_expected(r, "power_upper_tail_only"),
                   POWER_TOL);
        assert_abs("both", ttest(2 * n - 2, sqrt(n / 2), 0.05, 2),
                   worked_expected(r, "power_both_tails"), POWER_TOL);
        return;
    }
    if (isnan(groups)) { /* one side, d = 1: the printed number is where the chance is reached */
        n = worked_expected(r, "n_per_group_continuous");
        low = ttest(2 * (n - 1e-4) - 2, sqrt((n - 1e-4) / 2), 0.05, 1);
        up = ttest(2 * (n + 1e-4) - 2, sqrt((n + 1e-4) / 2), 0.05, 1);
    } else { /* between 1, within 3: lambda = (groups - 1) n / 3 */
        n = worked_expected(r, "n_continuous");
        low = ftest(groups - 1, groups * (n - 1e-4 - 1), (groups - 1) * (n - 1e-4) / 3, 0.05);
        up = ftest(groups - 1, groups * (n + 1e-4 - 1), (groups - 1) * (n + 1e-4) / 3, 0.05);
    }
    assert_true(low < worked_in_value(r, "power") && up > worked_in_value(r, "power"));
}

/* Normal formulas 2 sigma^2 multiplier / distance^2: 5 % between, margin 5 %, and margin 5 %
 * with a true 1 %, both sides, so that each may fail half as often. */
static void normal_formulas(const pl_json *r)
{
    double s2 = 2 * pow(worked_in_value(r, "sigma"), 2);

    assert_rel("equal", s2 * pl_normal_multiplier(0.05, 2, 0.8) / 0.0025,
               worked_expected(r, "equality_n"), 1e-10);
    assert_rel("not worse", s2 * pl_normal_multiplier(0.05, 1, 0.8) / 0.0025,
               worked_expected(r, "noninferiority_n"), 1e-10);
    assert_rel("as good", s2 * pl_normal_multiplier(0.05, 1, 0.9) / 0.0016,
               worked_expected(r, "equivalence_n"), 1e-10);
}

static double tost(double n, double margin, double theta, double sigma, double alpha)
{
    double se = sigma * sqrt(2 / n);
    pl_real p = { NAN, 0 };

    assert_int_equal(pl_power_equivalence(2 * n - 2, (theta + margin) / se, (margin - theta) / se,
                                          alpha, &p, NULL),
                     PL_OK);
    return p.value;
}

static void parallel(const pl_json *r)
{
    double margin = worked_in_value(r, "margin"), theta = worked_in_value(r, "true_difference");
    double sigma = worked_in_value(r, "sigma"), alpha = worked_in_value(r, "alpha");
    double n = worked_expected(r, "n_per_group");

    assert_abs(worked_id(r), tost(n, margin, theta, sigma, alpha), worked_expected(r, "power_at_n"),
               POWER_TOL);
    assert_abs(worked_id(r), tost(n - 1, margin, theta, sigma, alpha),
               worked_expected(r, "power_at_n_minus_1"), POWER_TOL);
    assert_true(tost(n, margin, theta, sigma, alpha) >= worked_in_value(r, "power"));
    assert_true(tost(n - 1, margin, theta, sigma, alpha) < worked_in_value(r, "power"));
}

/* Two periods, in logarithms: se = sigma_w sqrt(2/N), df N - 2. */
static double crossover_power(const pl_json *r, double N)
{
    double cv = worked_in_value(r, "cv_percent") / 100, at = log(worked_in_value(r, "ratio"));
    double se = sqrt(log1p(cv * cv) * 2 / N);
    pl_real p = { NAN, 0 };

    assert_int_equal(pl_power_equivalence(N - 2, (at - log(0.8)) / se, (log(1.25) - at) / se,
                                          worked_in_value(r, "alpha"), &p, NULL),
                     PL_OK);
    return p.value;
}

static void crossover(const pl_json *r)
{
    double N = worked_expected(r, "N_total_even");

    assert_abs(worked_id(r), crossover_power(r, N), worked_expected(r, "power_at_N"), POWER_TOL);
    assert_true(crossover_power(r, N) >= worked_in_value(r, "power"));
    assert_true(N < 5 || crossover_power(r, N - 2) < worked_in_value(r, "power"));
}

static void not_worse(const pl_json *r)
{
    double d = worked_in_value(r, "margin_over_sigma"), n = worked_expected(r, "n_per_group");
    double alpha = worked_in_value(r, "alpha_one_sided");

    assert_abs(worked_id(r), ttest(2 * n - 2, d * sqrt(n / 2), alpha, 1),
               worked_expected(r, "power_at_n"), POWER_TOL);
    assert_true(ttest(2 * n - 4, d * sqrt((n - 1) / 2), alpha, 1) < worked_in_value(r, "power"));
}

static void handbook(const pl_json *r)
{
    double alpha = worked_in_value(r, "alpha"), beta = worked_in_value(r, "beta");

    assert_rel("normal", pl_normal_multiplier(alpha, 1, 1 - beta), worked_expected(r, "N_normal"),
               1e-10);
    assert_rel("df 8", pow(pl_t_quantile(1 - alpha, 8) + pl_t_quantile(1 - beta, 8), 2),
               worked_expected(r, "N_iter_df8"), 1e-10);
    assert_rel("df 10", pow(pl_t_quantile(1 - alpha, 10) + pl_t_quantile(1 - beta, 10), 2),
               worked_expected(r, "N_iter_df10"), 1e-10);
    assert_abs("exact", ttest(10, sqrt(11), alpha, 1), worked_expected(r, "power_at_exact"),
               POWER_TOL);
    assert_true(ttest(9, sqrt(10), alpha, 1) < 1 - beta);
}

static void multiplier(const pl_json *r)
{
    assert_rel(worked_id(r),
               pl_normal_multiplier(worked_in_value(r, "alpha"), (int)worked_in_value(r, "sides"),
                                    worked_in_value(r, "power")),
               worked_expected(r, "multiplier"), 1e-10);
}

static void sd_precision(const pl_json *r)
{
    double share = worked_in_value(r, "percent") / 100;
    unsigned df = (unsigned)worked_expected(r, "df");

    assert_int_equal(pl_sd_within_df(share, worked_in_value(r, "confidence")), df);
    assert_abs(worked_id(r), pl_sd_within(df, share), worked_expected(r, "prob_at_df"), POWER_TOL);
}

typedef struct width {
    double h, confidence;
} width;

static double narrow_enough(const void *ctx, unsigned n)
{
    const width *w = ctx;

    return w->h / pl_half_width(n - 1.0, 1.0 / n, w->confidence);
}

static double narrow_chance(const void *ctx, unsigned n)
{
    const width *w = ctx;

    return pl_half_width_chance(n - 1.0, 1.0 / n, w->confidence, w->h);
}

static void mean_precision(const pl_json *r)
{
    static const char *const sure[] = { "0.8", "0.9", "0.95" };
    width w = { worked_in_value(r, "halfwidth_over_sigma"), worked_in_value(r, "confidence") };

    /* no error to make: a chance of 1/2 adds no z */
    assert_rel("normal", pl_normal_multiplier(1 - w.confidence, 2, 0.5) / (w.h * w.h),
               worked_expected(r, "n_normal"), 1e-10);
    assert_int_equal(pl_least_n(narrow_enough, &w, 1, 2, 100000), worked_expected(r, "n_t"));
    for (size_t i = 0; i < 3; i++) {
        char n_key[32], p_key[32];
        unsigned n;

        snprintf(n_key, sizeof n_key, "n_assured_%s", sure[i]);
        snprintf(p_key, sizeof p_key, "prob_assured_%s", sure[i]);
        n = pl_least_n(narrow_chance, &w, strtod(sure[i], NULL), 2, 100000);
        assert_int_equal(n, worked_expected(r, n_key));
        assert_abs(worked_id(r), narrow_chance(&w, n), worked_expected(r, p_key), POWER_TOL);
    }
}

static void slope(const pl_json *r)
{
    const pl_json *x = pl_json_get(pl_json_get(r, "inputs"), "x");
    double mean = 0, sxx = 0, n = (double)x->count, ncp;

    for (const pl_json *v = x->child; v; v = v->next)
        mean += v->number / n;
    for (const pl_json *v = x->child; v; v = v->next)
        sxx += pow(v->number - mean, 2);
    ncp = worked_in_value(r, "beta") * sqrt(sxx) / worked_in_value(r, "sigma");
    assert_rel("Sxx", sxx, worked_expected(r, "Sxx"), 1e-12);
    assert_rel("ncp", ncp, worked_expected(r, "ncp"), 1e-12);
    assert_abs(worked_id(r), ttest(n - 2, ncp, worked_in_value(r, "alpha"), 2),
               worked_expected(r, "power_two_sided"), POWER_TOL);
}

static void cohen_example(const pl_json *r)
{
    double n = worked_in_value(r, "n_per_group"), d = worked_in_value(r, "d");

    assert_abs(worked_id(r), ttest(2 * n - 2, d * sqrt(n / 2), worked_in_value(r, "alpha"), 2),
               worked_expected(r, "power"), POWER_TOL);
}

static const worked_group groups[] = {
    { "t2-cohen", 44, two_sample },
    { "t2-julious", 10, two_sample },
    { "t2-davies", 10, two_sample },
    { "t1-davies", 12, one_sample },
    { "anova-cohen1992", 27, cohen_anova },
    { "anova-range-grid", 74, range_grid },
    { "regression-cohen1992", 11, regression },
    { "rdoc", 3, manual },
    { "montgomery", 4, montgomery },
    { "kutner", 2, kutner },
    { "deanvoss", 1, soap },
    { "csw", 1, normal_formulas },
    { "tost-parallel", 2, parallel },
    { "ni-parallel", 3, not_worse },
    { "tost-crossover", 44, crossover },
    { "nist", 1, handbook },
    { "sc-mult", 9, multiplier },
    { "sd-precision", 11, sd_precision },
    { "sd-ucl", 30, upper_limit },
    { "assurance", 3, browne },
    { "mean-precision", 11, mean_precision },
    { "effect2level", 20, two_levels },
    { "wheeler", 5, wheeler },
    { "contrast", 3, contrast },
    { "slope", 2, slope },
    { "phgrid", 128, chart },
    { "rcbd", 5, complete_blocks },
    { "latin", 3, latin },
    { "bibd", 5, balanced_blocks },
    { "cohen-ex", 1, cohen_example },
};

static void test_every_record(void **state)
{
    worked_every(*state, "power.json", groups, sizeof groups / sizeof *groups, 485);
}

/* Both shares: given s two correlated normal deviates, integrated the other way round (over the
 * first test's own deviate, then over s) by SciPy 1.10 quad to 1e-11,
 * t by mpmath's incomplete beta function at 30 digits (SciPy's own t.ppf is off by 2e-10): v = 1/n
 * + share^2/n0, correlation (1/n + low high/n0)/sqrt(v1 v2). */
static void test_shares_values(void **state)
{
    static const pl_shares q[] = { { 0.9, 1.12, 1.01, 0.13, 14, 9 }, { 0.85, 1.15, 1, 0.1, 6, 6 } };
    pl_real got;

    (void)state;
    assert_int_equal(pl_power_shares(11, &q[0], 0.05, &got, NULL), PL_OK);
    assert_abs("df 11", got.value, 0.2156876833113017, 1e-10);
    assert_int_equal(pl_power_shares(40, &q[1], 0.025, &got, NULL), PL_OK);
    assert_abs("df 40", got.value, 0.43313876551718733, 1e-10);
}

/* Shares: one side far off is noncentral t's own answer; without scatter of the named mean
 * (n_named very large) both sides are the absolute margins' answer. */
static void test_shares(void **state)
{
    pl_real got, wanted;

    (void)state;
    for (double df = 2; df < 300; df = 3 * df + 1) {
        pl_shares q = { 0.9, 1.12, 1.01, 0.13, 14, 1e13 };
        double se = 0.13 / sqrt(14);

        assert_int_equal(pl_power_shares(df, &q, 0.05, &got, NULL), PL_OK);
        assert_int_equal(pl_power_equivalence(df, 0.11 / se, 0.11 / se, 0.05, &wanted, NULL),
                         PL_OK);
        assert_abs("absolute", got.value, wanted.value, 1e-6);
        q.n_named = 14;
        q.high = 40;
        assert_int_equal(pl_power_shares(df, &q, 0.05, &got, NULL), PL_OK);
        q.high = INFINITY;
        assert_int_equal(pl_power_shares(df, &q, 0.05, &wanted, NULL), PL_OK);
        assert_abs("one side", got.value, wanted.value, df < 3 ? 2e-2 : 1e-9);
    }
}

/* At the edge of a margin the chance is at most alpha; a wider margin, more df or more
 * glue-ups raise it; infinite df is the normal formula by hand:
 * 2 Phi(2.5 - 1.6448536) - 1. */
static void test_equivalence_properties(void **state)
{
    bench *b = *state;
    pl_real p, before = { 0, 0 };
    pl_shares bad = { 0.9, 0.95, 1, 0.1, 5, 5 };

    assert_ok(b, pl_power_equivalence(INFINITY, 2.5, 2.5, 0.05, &p, &b->d));
    assert_abs("normal", p.value, 2 * pl_normal_lower(2.5 - 1.6448536269514722) - 1, 1e-12);
    for (double df = 1; df < 2e4; df *= 3) {
        assert_ok(b, pl_power_equivalence(df, 0, 9, 0.05, &p, &b->d));
        assert_true(p.value <= 0.05 * (1 + 1e-11));
        assert_ok(b, pl_power_equivalence(df, 2.5, 3, 0.05, &p, &b->d));
        assert_true(p.value > before.value);
        before = p;
    }
    assert_code(b, PL_EDOM, pl_power_equivalence(0, 1, 1, 0.05, &p, &b->d));
    assert_finding(b, "df of the scatter");
    assert_code(b, PL_EDOM, pl_power_equivalence(5, 1, 1, 0.5, &p, &b->d));
    assert_finding(b, "alpha of one side");
    assert_code(b, PL_EDOM, pl_power_equivalence(5, 1, -1, 0.05, &p, &b->d));
    assert_finding(b, "margins that leave nothing");
    assert_code(b, PL_EDOM, pl_power_shares(5, &bad, 0.05, &p, &b->d));
    assert_finding(b, "shares out of order");
}

/* c4 by hand: df 1 sqrt(2/pi), df 4 0.9400 (tables of control charts, n = 5). */
static void test_widths(void **state)
{
    (void)state;
    assert_rel("df 1", pl_mean_s(1), sqrt(2 / M_PI), 1e-14);
    assert_abs("df 4", pl_mean_s(4), 0.9400, 5e-5);
    assert_true(pl_mean_s(INFINITY) == 1);
    assert_true(pl_half_width_chance(INFINITY, 0.1, 0.95, 10) == 1);
    assert_true(isnan(pl_half_width(0, 1, 0.95)) && isnan(pl_sd_within(5, -1)));
    assert_int_equal(pl_sd_within_df(1e-6, 0.99), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_every_record),           TEST(test_shares_values), TEST(test_shares),
        TEST(test_equivalence_properties), TEST(test_widths),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
