/* Random blocks: against dense 40- and 50-digit computations, and published variances. */
#include <gsl/gsl_errno.h>

#include "base/stream.h"
#include "fit/reml.h"
#include "linear_support.h"

#define TEN 1e-10 /* ten digits */

static double sd_of(const pl_linear_fit *f, const char *name)
{
    for (size_t i = 0; i < f->nvariance; i++)
        if (!strcmp(f->variance[i].name, name))
            return f->variance[i].sd;
    fail_msg("no variance \"%s\"", name);
    return NAN;
}

/* tests/reference/mixed/mixed_cases.json, by mixed_cases.py beside it. All of them have fewer than
 * 10 degrees of freedom between blocks: the recovered answer stands beside. */
static void check_case(bench *b, const char *name, wish w, const char *const *factors,
                       const char *const *randoms)
{
    const pl_json *all = reference_json(b, "mixed/mixed_cases");
    const pl_json *j = json_value(all, pl_arena_printf(b->a, "cases/%s", name));
    const pl_table *t = reference_table(b, pl_arena_printf(b->a, "mixed/mixed_%s", name));
    pl_linear_fit f = fit_of(b, t, w);

    assert_false(f.recovered_leads);
    for (; *randoms; randoms++)
        assert_rel(*randoms, sd_of(&f, *randoms) * sd_of(&f, *randoms),
                   json_number(j, pl_arena_printf(b->a, "variance/%s", *randoms)), TEN);
    assert_rel("log-likelihood", f.log_likelihood, json_number(j, "log_likelihood"), TEN);
    for (size_t i = 0; i < f.beside->ncoef; i++) {
        const pl_coef *c = &f.beside->coefs[i];
        const pl_json *r = pl_json_get(json_value(j, "coefficients"), c->name);

        assert_non_null(r);
        assert_rel(c->name, c->estimate, json_number(r, "estimate"), TEN);
        assert_rel(c->name, c->se, json_number(r, "se"), TEN);
        assert_rel(c->name, c->df, json_number(r, "df"), TEN);
    }
    for (size_t i = 0; i < f.beside->neffect; i++, factors++) {
        const pl_effect *e = &f.beside->effects[i];
        const pl_json *r = json_value(j, pl_arena_printf(b->a, "terms/%s", *factors));

        assert_string_equal(e->name, *factors);
        assert_rel("F", e->f, json_number(r, "f"), TEN);
        assert_rel("df2", e->error_df, json_number(r, "df2"), TEN);
        assert_rel("df1", e->df, json_number(r, "df1"), 0);
    }
    assert_rel("first mean", f.beside->means[0].estimate, json_number(j, "first_mean/estimate"),
               TEN);
    assert_rel("its se", f.beside->means[0].se, json_number(j, "first_mean/se"), TEN);
    assert_rel("its df", f.beside->means[0].df, json_number(j, "first_mean/df"), TEN);
}

static void test_cases(void **state)
{
    bench *b = *state;
    static const char *const both[] = { "pressure", "wood", NULL };
    static const char *const board[] = { "board", "residual", NULL };
    static const char *const nested[] = { "session", "board", "residual", NULL };

    check_case(b, "boards",
               (wish){ .response = "strength", .effects = "pressure; wood", .randoms = "board" },
               both, board);
    check_case(b, "nested",
               (wish){ .response = "strength",
                       .effects = "pressure",
                       .randoms = "session,board",
                       .nested = "board",
                       .inside = "session" },
               both, nested);
    check_case(b, "crossed",
               (wish){ .response = "strength", .effects = "pressure", .randoms = "board,session" },
               both, nested);
    check_case(b, "zero",
               (wish){ .response = "strength", .effects = "pressure", .randoms = "board" }, both,
               board);
}

/* Values of 50 digits in the JSON beside the data; there |X'X| is left out of the likelihood. */
static void test_published_sets(void **state)
{
    bench *b = *state;
    const pl_json *j = reference_json(b, "r/Rail");
    pl_linear_fit f = fit_of(b, reference_table(b, "r/Rail"),
                             (wish){ .response = "travel", .randoms = "Rail" });
    const char *at = "high_precision/lme_REML/standard_deviations";

    assert_rel("Rail", sd_of(&f, "Rail"), json_number(j, pl_arena_printf(b->a, "%s/Rail", at)),
               1e-13);
    assert_rel("residual", sd_of(&f, "residual"),
               json_number(j, pl_arena_printf(b->a, "%s/residual", at)), 1e-13);
    assert_rel("likelihood", f.log_likelihood,
               json_number(j, "high_precision/lme_REML/log_likelihood") + 0.5 * log(18), 1e-13);
    assert_rel("se", f.beside->coefs[0].se,
               json_number(j, "high_precision/lme_REML/fixed/(Intercept)/standard_error"), 1e-12);
    assert_rel("df of a balanced mean", f.beside->coefs[0].df, 5, 1e-10); /* rails - 1 */
    f = fit_of(
        b, reference_table(b, "r/npk"),
        (wish){ .response = "yield", .effects = "N; P; K; N,P; N,K; P,K", .randoms = "block" });
    j = reference_json(b, "r/npk");
    at = "high_precision/lme_random_block_REML/standard_deviations";
    assert_rel("block", sd_of(&f, "block"), json_number(j, pl_arena_printf(b->a, "%s/block", at)),
               1e-12);
    assert_rel("plots", sd_of(&f, "residual"),
               json_number(j, pl_arena_printf(b->a, "%s/residual", at)), 1e-12);
}

/* Mendenhall and others 1990, exercise 13.36: variances 11.448 and 10.372, F 6.359 (WORKED 4.1). */
static void test_bond_ingots(void **state)
{
    bench *b = *state;
    pl_linear_fit f = fit_of(
        b, reference_table(b, "trade/bond_ingots_rcbd"),
        (wish){ .response = "pressure", .effects = "metal", .randoms = "ingot" });
    double ingot = sd_of(&f, "ingot"), rest = sd_of(&f, "residual");
    pl_contrast c;
    const double w[] = { -1, 1, 0 };

    assert_abs("ingot", ingot * ingot, 11.448, 0.0005);
    assert_abs("residual", rest * rest, 10.372, 0.0005);
    assert_abs("F", f.beside->effects[0].f, 6.359, 0.0005);
    assert_string_equal(f.beside->effects[0].error, "residual");
    /* balanced: a difference is the same either way, on 12 df */
    assert_ok(b, pl_levels_contrast(b->a, &f.beside->levels[0], w, &c, &b->d));
    assert_rel("df", c.df, 12, 1e-10);
    assert_rel("se", c.se, sqrt(2 * f.residual.ss / 12 / 7), 1e-10);
}

/* Balanced, boards alike by construction: the component stops at 0, the stratum is not pooled. Two
 * boards of each wood, mean of every board 10 but one; wood's F is its mean square over that of
 * boards: by hand, board means 10, 10.2 | 10.1, 10.1 of 4: boards 2 * (0.1^2 * 2) * 2 = ... */
static void test_stratum_at_zero(void **state)
{
    bench *b = *state;
    static const char *const names[] = { "wood", "board", "pressure", "y" };
    static const double y[16] = { 7,    9,    11,  13,  7.2, 9.2,  11.2, 13.2,
                                  13.1, 11.1, 9.1, 7.1, 9.1, 11.1, 13.1, 7.1 };
    const char *cells[64];
    const pl_effect *wood;
    pl_linear_fit f;

    for (size_t i = 0; i < 16; i++) {
        cells[4 * i] = i < 8 ? "beech" : "larch";
        cells[4 * i + 1] = pl_arena_printf(b->a, "B%zu", i / 4);
        cells[4 * i + 2] = pl_arena_printf(b->a, "%zu", i % 4);
        cells[4 * i + 3] = pl_arena_printf(b->a, "%.17g", y[i]);
    }
    f = fit_of(b, table_of(b, "alike", 16, 4, names, cells),
               (wish){ .response = "y", .effects = "wood; pressure", .randoms = "board" });
    assert_true(f.variance[0].at_zero);
    wood = &f.beside->effects[0];
    assert_string_equal(wood->error, "board");
    assert_rel("error df", wood->error_df, 2, 0);
    /* between boards within wood: 4 * 2 * 0.1^2 on 2 df; woods do not differ */
    assert_rel("error ms", wood->error_ms, 0.04, 1e-12);
    assert_abs("F", wood->f, 0, 1e-12);
}

/* From 10 degrees of freedom between boards on the recovered answer leads; a contrast then has
 * degrees of freedom of its own. */
static void test_recovered_leads(void **state)
{
    bench *b = *state;
    enum { BOARDS = 14 };
    static const char *const names[] = { "board", "pressure", "y" };
    const char *cells[BOARDS * 3 * 3];
    const char *const levels[] = { "0", "1" };
    const double w[] = { 1, -1 };
    const pl_linear_contrast c = { "pressure", levels, w, 2 };
    pl_linear_spec s = spec_of(
        b, (wish){ .response = "y", .effects = "pressure", .randoms = "board" });
    pl_linear_fit f;
    pl_stream r;

    pl_stream_init(&r, 5, PL_FOR_TEST, 1);
    for (size_t i = 0; i < BOARDS * 3; i++) {
        cells[3 * i] = pl_arena_printf(b->a, "B%zu", i / 3);
        cells[3 * i + 1] = pl_arena_printf(b->a, "%zu", (i / 3 + i % 3) % 4);
        cells[3 * i + 2] = pl_arena_printf(b->a, "%.3f",
                                           9 + (double)(i / 3 * 7 % 5) / 3 + pl_stream_normal(&r));
    }
    s.contrasts = &c;
    s.ncontrast = 1;
    assert_ok(b,
              pl_fit_linear(b->a, table_of(b, "many", BOARDS * 3, 3, names, cells), &s, &f, &b->d));
    assert_true(f.recovered_leads);
    assert_string_equal(f.effects[0].error, "board, residual");
    assert_string_equal(f.beside->effects[0].error, "residual");
    /* more is known with what boards tell between them, and never more than all rows tell */
    assert_true(f.contrasts[0].df > f.beside->levels[0].df && f.contrasts[0].df < BOARDS * 3 - 4);
    assert_true(f.contrasts[0].se < sqrt(f.beside->levels[0].cov[0] + f.beside->levels[0].cov[5] -
                                         2 * f.beside->levels[0].cov[1]));
}

static void test_refusals(void **state)
{
    bench *b = *state;
    static const char *const names[] = { "a", "b", "c", "y" };
    const char *cells[12 * 4];
    const pl_table *t;

    for (size_t i = 0; i < 12; i++) {
        cells[4 * i] = pl_arena_printf(b->a, "%zu", i / 3);
        cells[4 * i + 1] = pl_arena_printf(b->a, "x%zu", i / 3);
        cells[4 * i + 2] = pl_arena_printf(b->a, "%zu", i);
        cells[4 * i + 3] = pl_arena_printf(b->a, "%zu", i * i % 7);
    }
    t = table_of(b, "same", 12, 4, names, cells);
    assert_code(b, PL_ERANK, code_of(b, t, (wish){ .response = "y", .randoms = "a,b" }));
    assert_finding(b, "cannot be told apart");
    assert_code(b, PL_ERANK, code_of(b, t, (wish){ .response = "y", .randoms = "c" }));
    assert_finding(b, "one row in each level");
    assert_code(b, PL_ECONFLICT,
                code_of(b, t, (wish){ .response = "y", .blocks = "a", .randoms = "a" }));
    assert_finding(b, "\"a\" is a block and a random block");
}

static void test_out_of_memory(void **state)
{
    bench *b = *state;
    const pl_table *t = reference_table(b, "mixed/mixed_nested");
    const wish w = { .response = "strength",
                     .effects = "pressure",
                     .randoms = "session,board",
                     .nested = "board",
                     .inside = "session" };

    pl_linear_spec s = spec_of(b, w);
    unsigned long out = 0, last = 0;

    for (unsigned long n = 1; n < last + 60; n++) {
        pl_arena *a = pl_arena_new(0);
        pl_linear_fit f = { 0 };
        pl_diags d;
        pl_code rc;

        pl_diags_init(&d, a);
        pl_arena_fail_at(n);
        rc = pl_fit_linear(a, t, &s, &f, &d);
        pl_arena_fail_at(0);
        assert_true(rc == PL_OK || rc == PL_ENOMEM);
        if (rc) {
            assert_true(d.out_of_memory);
            out++;
            last = n;
        } else {
            assert_rel("residual", f.variance[2].sd, 0.628732781, 1e-8); /* mixed_cases.json */
        }
        pl_arena_free(a);
    }
    assert_true(out > 300);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_cases),           TEST(test_published_sets),  TEST(test_bond_ingots),
        TEST(test_stratum_at_zero), TEST(test_recovered_leads), TEST(test_refusals),
        TEST(test_out_of_memory),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
