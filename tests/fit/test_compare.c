/* Comparisons of many levels: records of books and papers in tests/reference/worked/analyses.json,
 * R's intervals in tests/reference/r, and what must hold for any data. */
#include <gsl/gsl_errno.h>

#include "analyses.h"
#include "base/prob.h"
#include "base/stream.h"
#include "fit/compare.h"
#include "linear_support.h"
#include "null.h"

static const pl_comparison *of(const pl_linear_fit *f, const char *level, const char *against)
{
    for (size_t i = 0; i < f->ncomparison; i++)
        if (!strcmp(f->comparisons[i].level, level) && !strcmp(f->comparisons[i].against, against))
            return &f->comparisons[i];
    fail_msg("no comparison of %s with %s", level, against);
    return NULL;
}

/* Points are exact where all levels are equally sure, to 5e-4 elsewhere. Every pair of
 * R's list "Q-P" with difference, lower95, upper95. */
static void check_pairs(bench *b, const char *set, wish w, const char *factor, const char *path,
                        double tol)
{
    const pl_json *list = json_value(reference_json(b, set), path);
    pl_linear_fit f = fit_of(b, reference_table(b, set), w);

    assert_ok(b,
              pl_compare_levels(
                  b->a, &f, &(pl_compare){ .factor = factor, .kind = PL_EVERY_PAIR, .alpha = 0.05 },
                  &b->d));
    assert_int_equal(f.ncomparison, list->count);
    for (size_t i = 0; i < list->count; i++) {
        const pl_json *j = pl_json_at(list, i);
        const char *pair = json_value(j, "pair")->string, *dash = strchr(pair, '-');
        const pl_comparison *c;
        double way = 1;

        for (c = f.comparisons; c < f.comparisons + f.ncomparison; c++) {
            if (!strncmp(pair, c->level, strlen(c->level)) && !strcmp(dash + 1, c->against))
                break;
            way = -1;
            if (!strncmp(pair, c->against, strlen(c->against)) && !strcmp(dash + 1, c->level))
                break;
            way = 1;
        }
        assert_true(c < f.comparisons + f.ncomparison);
        assert_abs(pair, way * c->estimate, json_number(j, "difference"), 1e-10);
        assert_abs("low", way > 0 ? c->low : -c->high, json_number(j, "lower95"), tol * c->se);
        assert_abs("high", way > 0 ? c->high : -c->low, json_number(j, "upper95"), tol * c->se);
        assert_int_equal(c->shown, json_number(j, "p_adjusted") < 0.05);
    }
}

static void test_every_pair(void **state)
{
    check_pairs(*state, "r/warpbreaks", (wish){ .response = "breaks", .effects = "wool; tension" },
                "tension", "results/tukey_additive/tension", 1e-6);
    check_pairs(*state, "r/PlantGrowth", (wish){ .response = "weight", .effects = "group" },
                "group", "results/tukey/group", 1e-6);
    check_pairs(*state, "r/michelson", (wish){ .response = "Speed", .effects = "Expt" }, "Expt",
                "results/tukey_one_way/Expt", 1e-6);
}

/* Dunnett 1955, section 2: exact two-sided point 2.8796615051 (as in Dunnett 1964), allowance
 * 10.2487904098. */
static void test_against_named(void **state)
{
    bench *b = *state;
    static const char *const names[] = { "process", "y" };
    static const char *const y[] = { "55", "47", "48", "55", "64", "64",
                                     "55", "49", "52", "50", "44", "41" };
    static const char *const process[] = { "standard", "p1", "p2", "p3" };
    const char *cells[24];
    const pl_comparison *c;
    pl_linear_fit f;

    for (size_t i = 0; i < 12; i++) {
        cells[2 * i] = process[i / 3];
        cells[2 * i + 1] = y[i];
    }
    f = fit_of(b, table_of(b, "fabric", 12, 2, names, cells),
               (wish){ .response = "y", .effects = "process" });
    assert_ok(b, pl_compare_levels(b->a, &f,
                                   &(pl_compare){ .factor = "process",
                                                  .kind = PL_AGAINST_NAMED,
                                                  .named = "standard",
                                                  .alpha = 0.05 },
                                   &b->d));
    assert_int_equal(f.ncomparison, 3);
    c = of(&f, "p1", "standard");
    assert_rel("estimate", c->estimate, 11, 1e-12);
    assert_abs("allowance", c->high - c->estimate, 10.2487904098, 1e-9);
    assert_true(c->shown);
    assert_false(of(&f, "p2", "standard")->shown);
    /* t 3.09073317822, 0.561951486949, -1.40487871737 on 8 df (the record): p alone times 3 */
    assert_rel("Holm", c->p_holm, 3 * 2 * pl_t_upper(3.09073317822, 8), 1e-9);
    assert_rel("Holm", of(&f, "p3", "standard")->p_holm, 2 * 2 * pl_t_upper(1.40487871737, 8),
               1e-9);
    /* one-sided point 2.4164552069: Hsu's limits of a level that all others are compared with */
    f.ncomparison = 0;
    assert_ok(b, pl_compare_levels(
                     b->a, &f,
                     &(pl_compare){ .factor = "process", .kind = PL_AGAINST_BEST, .alpha = 0.05 },
                     &b->d));
    c = of(&f, "p1", "the best of the others"); /* 61 against 52, 50, 45 */
    assert_rel("best less next", c->estimate, 9, 1e-12);
    assert_abs("high", c->high, 9 + 8.6002271122, 1e-9);
    assert_abs("low", c->low, 0, 0); /* 9 > 8.6: nothing else may be best */
    assert_true(c->shown);
    c = of(&f, "p2", "the best of the others");
    assert_abs("not the best", c->high, 0, 0);
    assert_abs("by at most", c->low, -9 - 8.6002271122, 1e-9);
}

/* The chances of the record, from our tails of the largest of three: alike numbers, lambda^2 1/2.
 */
static void test_against_named_chances(void **state)
{
    bench *b = *state;
    const pl_json *r = analyses_record(b, "analyses:dunnett/fabric");
    static const char *const names[] = { "process", "y" };
    static const char *const process[] = { "standard", "p1", "p2", "p3" };
    const double lambda[] = { sqrt(0.5), sqrt(0.5), sqrt(0.5) };
    const char *cells[24];
    pl_linear_fit f;
    double s;

    for (size_t i = 0; i < 12; i++) {
        const char *at = pl_arena_printf(b->a, "inputs/groups/%s/%zu", process[i / 3], i % 3);

        cells[2 * i] = process[i / 3];
        cells[2 * i + 1] = pl_arena_printf(b->a, "%g", json_number(r, at));
    }
    f = fit_of(b, table_of(b, "fabric", 12, 2, names, cells),
               (wish){ .response = "y", .effects = "process" });
    s = f.residual.sd;
    assert_rel("mse", s * s, analyses_expected(r, "mse"), 1e-12);
    assert_rel("df", f.residual.df, analyses_expected(r, "df"), 0);
    assert_abs("two-sided", pl_dunnett_quantile_upper(0.05, lambda, 3, 8, 2),
               analyses_expected(r, "d_two_sided"), 1e-8);
    assert_abs("one-sided", pl_dunnett_quantile_upper(0.05, lambda, 3, 8, 1),
               analyses_expected(r, "d_one_sided"), 1e-8);
    assert_ok(b, pl_compare_levels(b->a, &f,
                                   &(pl_compare){ .factor = "process",
                                                  .kind = PL_AGAINST_NAMED,
                                                  .named = "standard",
                                                  .alpha = 0.05 },
                                   &b->d));
    assert_abs("allowance", f.comparisons[0].high - f.comparisons[0].estimate,
               analyses_expected(r, "allowance_two_sided"), 1e-8);
    assert_abs("allowance", f.comparisons[0].se * pl_dunnett_quantile_upper(0.05, lambda, 3, 8, 1),
               analyses_expected(r, "allowance_one_sided"), 1e-8);
    for (size_t i = 0; i < 4; i++) {
        const char *at = pl_arena_printf(b->a, "%zu", i ? i - 1 : 0);
        const pl_comparison *c;
        pl_tails p;

        assert_rel("mean", mean_of(&f, "process", process[i])->estimate,
                   analyses_expected(r, pl_arena_printf(b->a, "means/%zu", i)), 1e-12);
        if (!i)
            continue;
        c = of(&f, process[i], "standard");
        assert_abs("t", c->estimate / c->se,
                   analyses_expected(r, pl_arena_printf(b->a, "t/%s", at)), 1e-8);
        assert_ok(b, pl_dunnett(fabs(c->estimate / c->se), lambda, 3, 8, 2, &p));
        assert_abs("p", p.upper.value,
                   analyses_expected(r, pl_arena_printf(b->a, "p_adj_two_sided/%s", at)), 1e-8);
        assert_ok(b, pl_dunnett(c->estimate / c->se, lambda, 3, 8, 1, &p));
        assert_abs("p", p.upper.value,
                   analyses_expected(r, pl_arena_printf(b->a, "p_adj_one_sided_upper/%s", at)),
                   1e-8);
    }
}

/* Tippett's warp breaks as the record has them. */
static void test_pairs_of_record(void **state)
{
    bench *b = *state;
    const pl_json *r = analyses_record(b, "analyses:tukey/warpbreaks");
    pl_linear_fit f = fit_of(b, reference_table(b, "r/warpbreaks"),
                             (wish){ .response = "breaks", .effects = "wool; tension" });
    static const char *const pairs[][3] = { { "M-L", "M", "L" },
                                            { "H-L", "H", "L" },
                                            { "H-M", "H", "M" } };

    for (size_t i = 0; i < 54; i++) /* the same readings */
        assert_rel("breaks", pl_table_find(reference_table(b, "r/warpbreaks"), "breaks")->number[i],
                   json_number(r, pl_arena_printf(b->a, "inputs/breaks/%zu", i)), 0);
    for (size_t i = 0; i < f.neffect; i++)
        assert_rel(f.effects[i].name, f.effects[i].ss,
                   analyses_expected(r, pl_arena_printf(b->a, "ss_%s", f.effects[i].name)), 1e-10);
    assert_rel("error", f.residual.ss, analyses_expected(r, "ss_error"), 1e-10);
    assert_rel("df", f.residual.df, analyses_expected(r, "df_error"), 0);
    assert_ok(b, pl_compare_levels(
                     b->a, &f,
                     &(pl_compare){ .factor = "tension", .kind = PL_EVERY_PAIR, .alpha = 0.05 },
                     &b->d));
    for (int i = 0; i < 3; i++) {
        const pl_comparison *c = NULL;
        const char *at = pl_arena_printf(b->a, "comparisons/%s", pairs[i][0]);
        double way = 1;
        pl_real p;

        for (size_t k = 0; k < f.ncomparison; k++) {
            const pl_comparison *one = &f.comparisons[k];

            if (!strcmp(one->level, pairs[i][1]) && !strcmp(one->against, pairs[i][2]))
                c = one;
            if (!strcmp(one->level, pairs[i][2]) && !strcmp(one->against, pairs[i][1])) {
                c = one;
                way = -1;
            }
        }
        assert_non_null(c);
        assert_abs("diff", way * c->estimate,
                   analyses_expected(r, pl_arena_printf(b->a, "%s/diff", at)), 1e-6);
        assert_abs("lower", way > 0 ? c->low : -c->high,
                   analyses_expected(r, pl_arena_printf(b->a, "%s/lower", at)), 1e-6);
        assert_abs("upper", way > 0 ? c->high : -c->low,
                   analyses_expected(r, pl_arena_printf(b->a, "%s/upper", at)), 1e-6);
        assert_ok(b, pl_range_upper(fabs(c->estimate / c->se) * sqrt(2), 3, 50, &p));
        assert_abs("p", p.value, analyses_expected(r, pl_arena_printf(b->a, "%s/p_adj", at)), 1e-6);
    }
}

static void test_ledger(void **state)
{
    analyses_settle(*state, "test_compare");
}

/* Steps of the ladder by hand: 5 at each of four levels, means 10, 9.9, 9.0, 9.8 from the top down
 * with sd known: 9.9 passes 95 %, 9.0 fails and ends it, 9.8 is not tried. */
static void test_ladder(void **state)
{
    bench *b = *state;
    static const char *const names[] = { "pressure", "y" };
    static const double mean[] = { 9.8, 9.0, 9.9, 10 }, off[] = { -0.2, -0.1, 0, 0.1, 0.2 };
    const char *cells[40];
    const pl_comparison *c;
    pl_linear_fit f;

    for (size_t i = 0; i < 20; i++) {
        cells[2 * i] = pl_arena_printf(b->a, "%zu", i / 5 + 1);
        cells[2 * i + 1] = pl_arena_printf(b->a, "%.17g", mean[i / 5] + off[i % 5]);
    }
    f = fit_of(b, table_of(b, "ladder", 20, 2, names, cells),
               (wish){ .response = "y", .effects = "pressure" });
    assert_ok(b, pl_compare_levels(b->a, &f,
                                   &(pl_compare){ .factor = "pressure",
                                                  .kind = PL_AS_GOOD_AS,
                                                  .margin = 0.05,
                                                  .alpha = 0.05 },
                                   &b->d));
    assert_int_equal(f.ncomparison, 3);
    c = of(&f, "3", "4");
    assert_rel("estimate", c->estimate, 9.9 - 9.5, 1e-12);
    /* s^2 = 4 * 0.1 / 16 = 0.025; se^2 = s^2 / 5 (1 + 0.95^2); t(0.95, 16) = 1.745884 (any table)
     */
    assert_rel("se", c->se, sqrt(0.005 * (1 + 0.9025)), 1e-12);
    assert_abs("low", c->low, 0.4 - 1.745884 * c->se, 1e-6);
    assert_true(c->shown);
    assert_true(of(&f, "2", "4")->tested && !of(&f, "2", "4")->shown);
    assert_false(of(&f, "1", "4")->tested || of(&f, "1", "4")->shown);
}

/* No difference at all: some pair of four, of unequal numbers, is called different in about 5 % of
 * experiments; within 4 Monte Carlo errors of 5 % (the points are exact to 5e-4). */
static void test_false_alarms(void **state)
{
    bench *b = *state;
    enum { N = 20 };
    const int draws = null_draws(20000, 1500);
    static const size_t level[N] = { 0, 0, 0, 1, 1, 1, 1, 1, 1, 1, 2, 2, 2, 2, 3, 3, 3, 3, 3, 3 };
    static const double size[4] = { 3, 7, 4, 6 };
    const char *cells[2 * N];
    static const char *const names[] = { "group", "y" };
    pl_linear_fit f;
    double most = 0;
    int alarms = 0;
    pl_stream s;

    pl_stream_init(&s, 11, PL_FOR_TEST, 9);
    for (size_t i = 0; i < N; i++) {
        cells[2 * i] = pl_arena_printf(b->a, "%zu", level[i]);
        cells[2 * i + 1] = pl_arena_printf(b->a, "%.17g", pl_stream_normal(&s));
    }
    f = fit_of(b, table_of(b, "null", N, 2, names, cells),
               (wish){ .response = "y", .effects = "group" });
    assert_ok(b,
              pl_compare_levels(
                  b->a, &f,
                  &(pl_compare){ .factor = "group", .kind = PL_EVERY_PAIR, .alpha = 0.05 }, &b->d));
    most = (f.comparisons[0].high - f.comparisons[0].estimate) / f.comparisons[0].se;
    for (int k = 0; k < draws; k++) {
        double mean[4] = { 0 }, ss = 0, y[N];
        bool alarm = false;

        for (size_t i = 0; i < N; i++)
            mean[level[i]] += (y[i] = pl_stream_normal(&s)) / size[level[i]];
        for (size_t i = 0; i < N; i++)
            ss += (y[i] - mean[level[i]]) * (y[i] - mean[level[i]]);
        for (size_t i = 0; i < 4; i++)
            for (size_t j = 0; j < i; j++)
                alarm = alarm || fabs(mean[i] - mean[j]) >
                                     most * sqrt(ss / (N - 4) * (1 / size[i] + 1 / size[j]));
        alarms += alarm;
    }
    null_rate(NULL_EXACT, "every pair of four groups of 3, 7, 4 and 6 (multivariate t)", alarms,
              draws);
}

static void test_refusals(void **state)
{
    bench *b = *state;
    pl_linear_fit f = fit_of(b, reference_table(b, "r/PlantGrowth"),
                             (wish){ .response = "weight", .effects = "group" });

    assert_code(
        b, PL_EVALUE,
        pl_compare_levels(b->a, &f, &(pl_compare){ .factor = "grup", .alpha = 0.05 }, &b->d));
    assert_finding(b, "a comparison of \"grup\"");
    assert_code(b, PL_EVALUE,
                pl_compare_levels(
                    b->a, &f,
                    &(pl_compare){ .factor = "group", .kind = PL_AGAINST_NAMED, .alpha = 0.05 },
                    &b->d));
    assert_finding(b, "no level named");
    assert_code(b, PL_EVALUE,
                pl_compare_levels(
                    b->a, &f,
                    &(pl_compare){
                        .factor = "group", .kind = PL_AS_GOOD_AS, .named = "trt9", .alpha = 0.05 },
                    &b->d));
    assert_finding(b, "level \"trt9\"");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_every_pair),      TEST(test_against_named), TEST(test_ladder),
        TEST(test_false_alarms),    TEST(test_refusals),      TEST(test_against_named_chances),
        TEST(test_pairs_of_record), TEST(test_ledger),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
