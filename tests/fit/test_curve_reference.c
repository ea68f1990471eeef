/* Curves against the outside: NIST certified values, published sets, R's nls. */
#include <gsl/gsl_errno.h>

#include "fit/plateau.h"
#include "reference.h"

static const pl_plateau *fit(bench *b, const pl_table *t, const pl_curve_spec *spec)
{
    pl_plateau *p = NULL;
    size_t n = 0;

    assert_ok(b, pl_fit_curves(b->a, t, spec, &p, &n, &b->d));
    assert_int_equal(n, 1);
    return p;
}

static const pl_coef *param(const pl_curve_fit *c, const char *name)
{
    for (size_t i = 0; i < c->nparam; i++)
        if (!strcmp(c->params[i].name, name))
            return &c->params[i];
    fail_msg("%s has no parameter \"%s\"", c->name, name);
    return NULL;
}

/* NIST StRD, certified to 11 digits; no start is given. b1 is top, b2 rate; floor fixed at 0. */
static void nist_rise(bench *b, const char *set)
{
    const pl_named_curve curve = { "saturating-exponential", false };
    const pl_curve_spec spec = {
        .response = "y", .over = "x", .curves = &curve, .ncurve = 1, .floor_fixed = true
    };
    const pl_json *j = reference_json(b, set);
    const pl_curve_fit *c = &fit(b, reference_table(b, set), &spec)->curves[0];

    assert_int_equal(c->nparam, 2);
    assert_digits("b1", param(c, "top")->estimate,
                  json_number(j, "certified/parameters/0/estimate"), 10.4);
    assert_digits("b2", param(c, "rate")->estimate,
                  json_number(j, "certified/parameters/1/estimate"), 10.4);
    assert_digits("sd b1", param(c, "top")->se,
                  json_number(j, "certified/parameters/0/standard_deviation"), 10);
    assert_digits("sd b2", param(c, "rate")->se,
                  json_number(j, "certified/parameters/1/standard_deviation"), 10);
    assert_digits("residual ss", c->residual.ss,
                  json_number(j, "certified/residual_sum_of_squares"), 10);
    assert_digits("residual sd", c->residual.sd, json_number(j, "certified/residual_sd"), 9.9);
    /* the 20-digit recomputation beside it shows more of them */
    assert_digits("b1, recomputed", param(c, "top")->estimate, json_number(j, "recomputed/b1"), 13);
    assert_digits("b2, recomputed", param(c, "rate")->estimate, json_number(j, "recomputed/b2"),
                  13);
    assert_digits("sd b2, recomputed", param(c, "rate")->se, json_number(j, "recomputed/sd(b2)"),
                  13);
    assert_true(c->weight == 1);
}

static void test_misra1a(void **state)
{
    nist_rise(*state, "nist/Misra1a");
}

static void test_boxbod(void **state)
{
    nist_rise(*state, "nist/BoxBOD");
}

/* Load cell calibration, x up to 3e6: certified to 12 digits and more. */
static void test_pontius_norris(void **state)
{
    const pl_named_curve square = { "polynomial:2", false }, line = { "line", false };
    pl_curve_spec spec = { .response = "y", .over = "x", .curves = &square, .ncurve = 1 };
    bench *b = *state;
    const pl_json *j = reference_json(b, "nist/Pontius");
    const pl_curve_fit *c = &fit(b, reference_table(b, "nist/Pontius"), &spec)->curves[0];

    for (size_t i = 0; i < 3; i++) {
        const char *at = pl_arena_printf(b->a, "certified/parameters/%zu", i);

        assert_digits(c->params[i].name, c->params[i].estimate,
                      json_number(j, pl_arena_printf(b->a, "%s/estimate", at)), 11);
        assert_digits("sd", c->params[i].se,
                      json_number(j, pl_arena_printf(b->a, "%s/standard_deviation", at)), 11);
    }
    spec.curves = &line;
    j = reference_json(b, "nist/Norris");
    c = &fit(b, reference_table(b, "nist/Norris"), &spec)->curves[0];
    assert_digits("B0", param(c, "intercept")->estimate,
                  json_number(j, "certified/parameters/0/estimate"), 11);
    assert_digits("B1", param(c, "slope")->estimate,
                  json_number(j, "certified/parameters/1/estimate"), 11);
    assert_digits("sd B1", param(c, "slope")->se,
                  json_number(j, "certified/parameters/1/standard_deviation"), 11);
}

/* Degree 5 through points that lie on it exactly. */
static void test_wampler(void **state)
{
    const pl_named_curve five = { "polynomial:5", false };
    const pl_curve_spec spec = { .response = "y", .over = "x", .curves = &five, .ncurve = 1 };
    bench *b = *state;
    const pl_curve_fit *c = &fit(b, reference_table(b, "nist/Wampler1"), &spec)->curves[0];

    for (size_t i = 0; i < 6; i++)
        assert_digits(c->params[i].name, c->params[i].estimate, 1, 9);
}

/* Bates & Watts 1988, Puromycin, treated cells: 50-digit values in curves/Puromycin.json. */
static void test_puromycin(void **state)
{
    const pl_named_curve set[] = { { "saturating-hyperbola", false },
                                   { "saturating-exponential", false } };
    const pl_curve_spec spec = { .response = "rate",
                                 .over = "conc",
                                 .for_each = "state",
                                 .curves = set,
                                 .ncurve = 2,
                                 .floor_fixed = true };
    bench *b = *state;
    const pl_json *j = reference_json(b, "curves/Puromycin");
    pl_plateau *p = NULL;
    const pl_curve_fit *c;
    size_t n = 0;

    assert_ok(b, pl_fit_curves(b->a, reference_table(b, "curves/Puromycin"), &spec, &p, &n, &b->d));
    assert_int_equal(n, 2);
    assert_string_equal(p[0].group, "treated");
    c = &p[0].curves[0];
#define HIGH(x) json_number(j, "high_precision/michaelis_menten_treated/" x)
#define LOOSE(x) json_number(j, "results/michaelis_menten_treated/lack_of_fit/" x)
    assert_rel("Vm", param(c, "top")->estimate, HIGH("parameters/Vm/estimate"), 1e-13);
    assert_rel("K", param(c, "half")->estimate, HIGH("parameters/K/estimate"), 1e-13);
    assert_rel("se Vm", param(c, "top")->se, HIGH("parameters/Vm/standard_error"), 1e-12);
    assert_rel("se K", param(c, "half")->se, HIGH("parameters/K/standard_error"), 1e-12);
    assert_rel("low Vm", param(c, "top")->low, HIGH("parameters/Vm/wald_lower95"), 1e-10);
    assert_rel("high K", param(c, "half")->high, HIGH("parameters/K/wald_upper95"), 1e-10);
    assert_rel("ss", c->residual.ss, HIGH("residual_sum_of_squares"), 1e-13);
    /* AICc from its log-likelihood, N = 12, K = 3 with the variance */
    assert_rel("aicc", c->aicc, -2 * HIGH("log_likelihood") + 6 + 2 * 3 * 4 / 8.0, 1e-12);
    assert_rel("lack of fit", c->lack_of_fit.f, LOOSE("F"), 1e-10);
    assert_rel("its p", c->lack_of_fit.p, LOOSE("p"), 1e-9);
    assert_true(c->lack_of_fit.df1 == 4 && c->lack_of_fit.df2 == 6);
    c = &p[0].curves[1];
    assert_rel("A", param(c, "top")->estimate,
               json_number(j, "high_precision/exponential_rise_treated/parameters/A/estimate"),
               1e-13);
    assert_rel("k", param(c, "rate")->estimate,
               json_number(j, "high_precision/exponential_rise_treated/parameters/k/estimate"),
               1e-13);
    assert_rel("lack of fit, exponential", c->lack_of_fit.p,
               json_number(j, "results/exponential_rise_treated/lack_of_fit/p"), 1e-9);
}

/* Free floors, board effects, log x, on curves/set_boards: every figure of a file of cases; params
 * within par of their standard errors, the rest within rel of themselves. */
static void compare_cases(bench *b, const char *file, size_t count, double par, double rel)
{
    static const char *const board = "board";
    const pl_json *cases = json_value(reference_json(b, file), "cases");
    const pl_table *t = reference_table(b, "curves/set_boards");

    assert_int_equal(cases->count, count);
    for (const pl_json *k = cases->child; k; k = k->next) {
        const pl_named_curve curve = { json_value(k, "curve")->string,
                                       json_value(k, "log_x")->truth };
        const pl_curve_spec spec = { .response = "strength",
                                     .over = "applied",
                                     .planned = "planned",
                                     .blocks = &board,
                                     .nblock = 1,
                                     .curves = &curve,
                                     .ncurve = 1 };
        const pl_curve_fit *c = &fit(b, t, &spec)->curves[0];
        const pl_json *params = json_value(k, "parameters");

        assert_int_equal(c->nparam, params->count);
        for (const pl_json *q = params->child; q; q = q->next) {
            const pl_coef *got = param(c, json_value(q, "name")->string);

            assert_abs(got->name, got->estimate, json_number(q, "estimate"),
                       par * json_number(q, "se"));
            assert_rel("its se", got->se, json_number(q, "se"), 3 * par);
        }
        assert_rel("ss", c->residual.ss, json_number(k, "ss"), rel);
        assert_rel("aicc", c->aicc, json_number(k, "aicc"), rel);
        assert_true(c->residual.df == json_number(k, "df"));
    }
}

/* R's nls stops when what is left to gain is 1e-7 of the residuals; against the 40 digits below its
 * estimates are off by up to 1.3e-6 of their standard errors (the knee), ours are not. */
static void test_against_nls(void **state)
{
    compare_cases(*state, "curves/nls", 5, 2e-6, 1e-11);
}

static void test_against_40_digits(void **state)
{
    compare_cases(*state, "curves/high_precision", 6, 1e-11, 1e-12);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_misra1a),           TEST(test_boxbod),    TEST(test_pontius_norris),
        TEST(test_wampler),           TEST(test_puromycin), TEST(test_against_nls),
        TEST(test_against_40_digits),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
