/* Groups beside each other: the ratio of their onsets against brute force written apart
 * (curves/onset_ratio.py), a shape in common against R's nls and the same script. */
#include <gsl/gsl_errno.h>
#include <string.h>

#include "base/stream.h"
#include "fit/plateau.h"
#include "reference.h"

static const pl_between *between(bench *b, const pl_table *t, const pl_curve_spec *spec)
{
    pl_plateau *p = NULL;
    size_t n = 0;

    assert_ok(b, pl_fit_curves(b->a, t, spec, &p, &n, &b->d));
    assert_int_equal(n, 2);
    assert_non_null(p[0].between);
    assert_ptr_equal(p[0].between, p[1].between);
    return p[0].between;
}

/* R 4.2.2: nls(rate ~ Vm[state] * conc / (K + conc), Puromycin, start = list(Vm = c(200, 160),
 * K = 0.05), control = nls.control(tol = 1e-12, maxiter = 200, minFactor = 1e-12, warnOnly =
 * TRUE)), its summary, and anova() against K[state]. */
static void test_shape_shared_by_two(void **state)
{
    bench *b = *state;
    static const struct {
        const char *name;
        double estimate, se;
    } wanted[] = {
        { "top[state=treated]", 208.6300702952880215, 5.80399291229172309 },
        { "top[state=untreated]", 166.6040967548382241, 5.80742961398282453 },
        { "half", 0.0579718326436722, 0.00591017578855211 },
    };
    const pl_named_curve curve = { "saturating-hyperbola", false };
    const pl_between *w = between(b, reference_table(b, "curves/Puromycin"),
                                  &(pl_curve_spec){ .response = "rate",
                                                    .over = "conc",
                                                    .for_each = "state",
                                                    .curves = &curve,
                                                    .ncurve = 1,
                                                    .floor_fixed = true });
    const pl_shared_shape *s = w->shared;

    assert_int_equal(w->nshared, 1);
    assert_int_equal(s->nparam, 3);
    for (size_t i = 0; i < 3; i++) {
        assert_string_equal(s->params[i].name, wanted[i].name);
        /* nls leaves about 1e-9 in its numbers */
        assert_rel(wanted[i].name, s->params[i].estimate, wanted[i].estimate, 1e-8);
        assert_rel(wanted[i].name, s->params[i].se, wanted[i].se, 1e-8);
    }
    assert_rel("ss", s->residual.ss, 2240.89143863643, 1e-13);
    assert_rel("df", s->residual.df, 20, 0);
    assert_rel("F", s->own.f, 1.71817, 5e-6);
    assert_rel("p", s->own.p, 0.20555, 2e-5);
    assert_rel("AICc with own shapes less shared", s->aicc_own - s->aicc,
               23 * log(2055.05310821873 / 2240.89143863643) + 2 * 5.0 * 23 / 17 -
                   2 * 4.0 * 23 / 18,
               1e-9);
}

static void same_limit(const char *what, double got, bool open, const pl_json *wanted)
{
    if (wanted->kind == PL_JSON_NULL)
        assert_true(open);
    else
        assert_rel(what, got, wanted->number, 2e-6); /* the script's minimiser stops at 1e-7 */
}

static void test_ratio(void **state)
{
    bench *b = *state;
    static const char *const board = "board";
    const pl_json *cases = json_value(reference_json(b, "curves/onset_ratio"), "cases");

    assert_int_equal(cases->count, 2);
    for (const pl_json *k = cases->child; k; k = k->next) {
        const pl_json *curves = json_value(k, "curves"), *ratio = json_value(k, "ratio");
        const pl_json *shared = json_value(k, "shared");
        pl_named_curve set[2];
        const pl_between *w;

        for (size_t i = 0; i < curves->count; i++)
            set[i] = (pl_named_curve){ json_value(pl_json_at(curves, i), "curve")->string,
                                       json_value(pl_json_at(curves, i), "log_x")->truth };
        w = between(b, reference_table(b, "curves/set_two-woods"),
                    &(pl_curve_spec){ .response = "strength",
                                      .over = "applied",
                                      .planned = "planned",
                                      .blocks = &board,
                                      .nblock = 1,
                                      .for_each = "wood",
                                      .curves = set,
                                      .ncurve = curves->count });
        assert_int_equal(w->nratio, 1);
        assert_string_equal(w->ratios[0].group, "larch");
        assert_string_equal(w->ratios[0].against, "beech");
        same_limit("low", w->ratios[0].ratio.low, w->ratios[0].ratio.low_open,
                   json_value(ratio, "low"));
        same_limit("at", w->ratios[0].ratio.at, false, json_value(ratio, "at"));
        same_limit("high", w->ratios[0].ratio.high, w->ratios[0].ratio.high_open,
                   json_value(ratio, "high"));
        assert_int_equal(w->nshared, shared->count);
        for (size_t i = 0; i < shared->count; i++) {
            const pl_json *one = pl_json_at(shared, i), *params = json_value(one, "parameters");

            assert_rel("shared ss", w->shared[i].residual.ss, json_number(one, "ss"), 1e-11);
            for (size_t j = 0; j < params->count; j++)
                assert_rel(w->shared[i].params[j].name, w->shared[i].params[j].estimate,
                           pl_json_at(params, j)->number, 1e-6);
        }
    }
}

/* Eight levels, four of each a group, both woods of one shape; larch's onset
 * is `factor` times as far out, and its pressures are written in 1/unit of beech's. */
static const pl_table *two_woods(bench *b, double factor, double unit, double sd, uint64_t draw)
{
    enum { LEVELS = 8, PER = 4, N = 2 * LEVELS * PER };
    static const double levels[LEVELS] = { 0.1, 0.2, 0.35, 0.6, 1.0, 1.6, 2.3, 3.2 };
    static const char *const names[] = { "wood", "pressure", "strength" };
    const char **cells = PL_NEWN(b->a, N * 3, const char *);
    pl_stream q;

    pl_stream_init(&q, 20261125, PL_FOR_TEST, draw);
    for (size_t i = 0; i < N; i++) {
        const bool larch = i >= N / 2;
        double p = levels[i % LEVELS], at = larch ? p / factor : p;
        double y = (larch ? 9 : 12) * (1 - exp(-3.2 * at)) + sd * pl_stream_normal(&q);

        if (larch && isinf(factor)) /* nothing but scatter */
            y = 9 + 9 * pl_stream_normal(&q);

        cells[3 * i] = larch ? "larch" : "beech";
        cells[3 * i + 1] = pl_arena_printf(b->a, "%.17g", larch ? p * unit : p);
        cells[3 * i + 2] = pl_arena_printf(b->a, "%.17g", y);
    }
    return table_of(b, "woods.csv", N, 3, names, cells);
}

static const pl_curve_spec over_pressure = { .response = "strength",
                                             .over = "pressure",
                                             .for_each = "wood" };

/* Nothing but the unit of one group's pressures is changed: the ratio goes along. */
static void test_ratio_follows_the_unit(void **state)
{
    bench *b = *state;
    pl_bounded before = between(b, two_woods(b, 1.3, 1, 0.5, 1), &over_pressure)->ratios[0].ratio;
    pl_bounded after = between(b, two_woods(b, 1.3, 4, 0.5, 1), &over_pressure)->ratios[0].ratio;

    assert_true(!before.low_open && !before.high_open && before.low < before.at);
    assert_rel("low", after.low, 4 * before.low, 1e-6);
    assert_rel("at", after.at, 4 * before.at, 1e-6);
    assert_rel("high", after.high, 4 * before.high, 1e-6);
}

/* Scatter alone leaves larch's onset open on both sides, and so the ratio. */
static void test_open_onset_opens_the_ratio(void **state)
{
    bench *b = *state;
    pl_plateau *p = NULL;
    const pl_bounded *r;
    size_t n = 0;

    assert_ok(
        b, pl_fit_curves(b->a, two_woods(b, INFINITY, 1, 0.8, 3), &over_pressure, &p, &n, &b->d));
    assert_true(p[1].onset.low_open && !p[0].onset.high_open && !p[0].onset.low_open);
    r = &p[0].between->ratios[0].ratio;
    assert_true(r->low_open && isnan(r->low));
    assert_true(r->high_open == p[1].onset.high_open);
}

/* How often the interval holds the truth: the onset is where the mean is 95 % of that at the
 * highest level, larch's 1.25 times as far out by the same share of its own top. */
static void test_ratio_holds(void **state)
{
    bench *b = *state;
    const size_t draws = getenv("PLATEN_LONG") ? 1000 : 12;
    const double tops = 1 - exp(-3.2 * 3.2), larch_top = 1 - exp(-3.2 * 3.2 / 1.25);
    const double truth = 1.25 * log(1 - 0.95 * larch_top) / log(1 - 0.95 * tops);
    size_t held = 0;

    for (size_t i = 0; i < draws; i++) {
        pl_mark mark = pl_arena_mark(b->a);
        const pl_bounded *r =
            &between(b, two_woods(b, 1.25, 1, 0.8, 100 + i), &over_pressure)->ratios[0].ratio;

        held += (r->low_open || r->low <= truth) && (r->high_open || truth <= r->high);
        pl_diags_init(&b->d, b->a);
        pl_arena_reset(b->a, mark);
    }
    print_message("%zu of %zu intervals of a ratio hold %.4f\n", held, draws, truth);
    /* the aim, less three Monte Carlo standard errors and what averaging costs an onset
     * (docs/validation.md: single onsets hold 93 to 95 %) */
    assert_true((double)held >= (0.93 - 3 * sqrt(0.93 * 0.07 / (double)draws)) * (double)draws);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_shape_shared_by_two),
        TEST(test_ratio),
        TEST(test_ratio_follows_the_unit),
        TEST(test_open_onset_opens_the_ratio),
        TEST(test_ratio_holds),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
