/* Curves with random boards, and with scatter in proportion to the mean. Figures by R's nlme and
 * lm: tests/reference/curves/random_boards.R, whose readings (set_uneven-boards.csv, and
 * set_even-boards before joints were taken out) are invented. How often ranges hold:
 * docs/validation.md. */
#include <gsl/gsl_errno.h>
#include <string.h>

#include "base/stream.h"
#include "fit/plateau.h"
#include "reference.h"
#include "truths.h"

static const pl_named_curve exponentials = { "saturating-exponential", false };
static const char *const board = "board";

static const pl_plateau *fit_of(bench *b, const pl_table *t, bool named, bool random, bool fixed,
                                bool in_proportion)
{
    const pl_curve_spec spec = { .response = "strength",
                                 .over = "pressure",
                                 .curves = &exponentials,
                                 .ncurve = named,
                                 .blocks = &board,
                                 .nblock = fixed,
                                 .randoms = &board,
                                 .nrandom = random,
                                 .in_proportion = in_proportion };
    pl_plateau *p = NULL;
    size_t n;

    assert_ok(b, pl_fit_curves(b->a, t, &spec, &p, &n, &b->d));
    assert_int_equal(n, 1);
    return p;
}

static void check(const pl_plateau *p, const double *estimate, const double *se, double tol)
{
    static const char *const names[] = { "floor", "top", "rate" };

    for (size_t i = 0; i < 3; i++) {
        assert_string_equal(p->curves[0].params[i].name, names[i]);
        assert_rel(names[i], p->curves[0].params[i].estimate, estimate[i], tol);
        assert_rel(names[i], p->curves[0].params[i].se, se[i], tol);
    }
}

/* Rate and AICc by ML, the rest by REML at that rate. nlme leaves about 1e-9 in its numbers. */
static void test_uneven(void **state)
{
    bench *b = *state;
    const pl_plateau *p = fit_of(b, reference_table(b, "curves/set_uneven-boards"), true, true,
                                 false, false);

    check(p, (const double[]){ 4.659163505128, 11.2345417101237, 3.03779544624668 },
          (const double[]){ 0.40321730906043, 0.222495184002142, 0.322491722349612 }, 1e-8);
    assert_rel("AICc", p->curves[0].aicc, 164.835953566538, 1e-8);
    assert_int_equal(p->nvariance, 2);
    assert_string_equal(p->variance[0].name, "board");
    assert_rel("boards", p->variance[0].sd, 0.656349364909048, 1e-8);
    assert_rel("residual", p->variance[1].sd, 0.584828703274203, 1e-8);
    assert_true(p->recovered_leads);                   /* 13 df between boards */
    assert_rel("df", p->curves[0].residual.df, 57, 0); /* as with fixed blocks */
    assert_non_null(p->beside);
    assert_rel("df", p->beside->curves[0].residual.df, 57, 0);
    assert_true(isnan(p->curves[0].lack_of_fit.f));
}

/* In complete blocks what lies within boards is just as with fixed ones: all estimates, the
 * scatter, the rate's error; heights carry the boards' scatter, so ranges that lean on them are
 * wider. */
static void test_even(void **state)
{
    bench *b = *state;
    const pl_plateau *p = fit_of(b, reference_table(b, "curves/set_even-boards"), true, true, false,
                                 false);
    const pl_plateau *fixed = fit_of(b, reference_table(b, "curves/set_even-boards"), true, false,
                                     true, false);
    const pl_coef *one = p->curves[0].params, *other = fixed->curves[0].params;

    assert_true(p->recovered_leads);
    assert_rel("beside: as fixed", p->beside->onset.high, fixed->onset.high, 1e-12);
    for (size_t i = 0; i < 3; i++)
        assert_rel(one[i].name, one[i].estimate, other[i].estimate, 1e-8);
    assert_rel("rate's error", one[2].se, other[2].se, 1e-8);
    assert_rel("scatter", p->curves[0].residual.sd, fixed->curves[0].residual.sd, 1e-8);
    assert_true(one[0].se > other[0].se && one[1].se > other[1].se);
    assert_rel("onset", p->onset.at, fixed->onset.at, 2e-3);
    assert_true(p->onset.low < fixed->onset.low + 1e-3 && p->onset.high > fixed->onset.high - 1e-3);
    p = fit_of(b, reference_table(b, "curves/set_even-boards"), false, true, false, false);
    fixed = fit_of(b, reference_table(b, "curves/set_even-boards"), false, false, true, false);
    for (size_t k = 0; k < p->ncurve; k++) /* those that leave boards a scatter of their own */
        if (p->curves[k].weight > 1e-3)
            assert_rel(p->curves[k].name, p->curves[k].residual.sd, fixed->curves[k].residual.sd,
                       1e-7);
}

/* A board and a session that says nothing more: one variance among two is found at zero, the other
 * as with the board alone. */
static void test_several(void **state)
{
    bench *b = *state;
    const pl_table *t = reference_table(b, "curves/set_uneven-boards");
    const pl_plateau *alone = fit_of(b, t, true, true, false, false), *p;
    const char *const two[] = { "board", "half" };
    const char **half = PL_NEWN(b->a, t->nrow, const char *);
    pl_column *columns = PL_NEWN(b->a, t->ncol + 1, pl_column);
    pl_table wide = *t;
    pl_plateau *out = NULL;
    size_t n;

    for (size_t i = 0; i < t->nrow; i++) /* crossed with boards: joints one after the other */
        half[i] = i % 4 == 0 ? "a" : i % 4 == 1 ? "b" : i % 4 == 2 ? "c" : "d";
    memcpy(columns, t->columns, t->ncol * sizeof *columns);
    columns[t->ncol] = (pl_column){ "half", "", 1, half, NULL };
    wide.columns = columns;
    wide.ncol++;
    assert_ok(b, pl_fit_curves(b->a, &wide,
                               &(pl_curve_spec){ .response = "strength",
                                                 .over = "pressure",
                                                 .curves = &exponentials,
                                                 .ncurve = 1,
                                                 .randoms = two,
                                                 .nrandom = 2 },
                               &out, &n, &b->d));
    p = out->recovered_leads ? out : out->beside;
    assert_false(out->recovered_leads); /* 3 df between halves */
    assert_int_equal(p->nvariance, 3);
    assert_true(p->variance[1].at_zero);
    for (size_t i = 0; i < 3; i++)
        assert_rel(p->curves[0].params[i].name, p->curves[0].params[i].estimate,
                   alone->curves[0].params[i].estimate, 1e-6);
    assert_rel("boards", p->variance[0].sd, alone->variance[0].sd, 1e-6);
    /* AICc has one variance more: n 73, K 6 for 5 */
    assert_rel("AICc", p->curves[0].aicc - alone->curves[0].aicc,
               2 + 2.0 * 6 * 7 / (73 - 7) - 2.0 * 5 * 6 / (73 - 6), 1e-6);
}

/* Both at once; a glue-up of pieces of two boards has none of its own. */
static void test_refusals(void **state)
{
    bench *b = *state;
    const pl_table *t = reference_table(b, "curves/set_uneven-boards");
    pl_curve_spec spec = { .response = "strength",
                           .over = "pressure",
                           .randoms = &board,
                           .nrandom = 1,
                           .in_proportion = true };
    pl_table pairs = *t;
    pl_plateau *p = NULL;
    size_t n;

    assert_int_equal(pl_fit_curves(b->a, t, &spec, &p, &n, &b->d), PL_ECONFLICT);
    assert_finding(b, "random blocks, and scatter in proportion");
    pl_diags_init(&b->d, b->a);
    spec.in_proportion = false;
    spec.unit = "pot";
    {
        pl_column *columns = PL_NEWN(b->a, t->ncol + 1, pl_column);
        const char **pot = PL_NEWN(b->a, t->nrow, const char *);
        const pl_column *at = pl_table_find(t, "pressure"), *of = pl_table_find(t, "board");

        for (size_t i = 0; i < t->nrow; i++) /* B1 and B2 together */
            pot[i] = pl_arena_printf(b->a, "%s %s", strcmp(of->text[i], "B1") ? of->text[i] : "B2",
                                     at->text[i]);
        memcpy(columns, t->columns, t->ncol * sizeof *columns);
        columns[t->ncol] = (pl_column){ "pot", "", 1, pot, NULL };
        pairs.columns = columns;
        pairs.ncol++;
    }
    assert_ok(b, pl_fit_curves(b->a, &pairs, &spec, &p, &n, &b->d));
    assert_finding(b, "pieces of several of its levels");
    assert_null(p->beside);
    pl_diags_init(&b->d, b->a);
    assert_int_equal(
        pl_fit_curves(
            b->a, t,
            &(pl_curve_spec){ .response = "depth", .over = "pressure", .in_proportion = true }, &p,
            &n, &b->d),
        PL_EKEY);
}

/* Weights 1/fitted^2 until they stand. */
static void test_in_proportion(void **state)
{
    bench *b = *state;
    const pl_plateau *p = fit_of(b, reference_table(b, "curves/set_uneven-boards"), true, false,
                                 true, true);

    check(p, (const double[]){ 4.74646165793462, 11.2630740322935, 2.95458243971784 },
          (const double[]){ 0.286523236265047, 0.157937082058278, 0.301947447986286 }, 1e-11);
    assert_rel("sd", p->curves[0].residual.sd, 0.58245268874656, 1e-11);
    assert_rel("at", p->even_at, 9.36150684931507, 1e-13);
    assert_rel("AICc", p->curves[0].aicc, 152.19625674879, 1e-11);
}

/* A change of unit changes nothing but the figures' unit. */
static void test_unit(void **state)
{
    bench *b = *state;
    const pl_table *t = reference_table(b, "curves/set_uneven-boards");
    const pl_plateau *p = fit_of(b, t, false, false, true, true), *q;
    double *y = PL_NEWN(b->a, t->nrow, double);
    pl_table other = *t;
    pl_column *columns = PL_NEWN(b->a, t->ncol, pl_column);

    memcpy(columns, t->columns, t->ncol * sizeof *columns);
    for (size_t j = 0; j < t->ncol; j++)
        if (!strcmp(columns[j].name, "strength")) {
            for (size_t i = 0; i < t->nrow; i++)
                y[i] = 145.04 * columns[j].number[i];
            columns[j].number = y;
        }
    other.columns = columns;
    q = fit_of(b, &other, false, false, true, true);
    assert_rel("onset", q->onset.high, p->onset.high, 1e-7);
    assert_rel("scatter", q->error_sd / q->even_at, p->error_sd / p->even_at, 1e-9);
    for (size_t k = 0; k < p->ncurve; k++)
        assert_abs(p->curves[k].name, q->curves[k].weight, p->curves[k].weight, 1e-8);
}

/* Scatter of one share of the mean: how often ranges hold, with the weights and without. */
static size_t holds(bool weighted, double (*mean)(double), size_t n, double cv, size_t draws)
{
    const double truth = onset_of(mean);
    size_t held = 0;

    for (size_t i = 0; i < draws; i++) {
        pl_arena *a = pl_arena_new(0);
        pl_curve_spec spec = {
            .response = "y", .over = "p", .in_proportion = weighted, .brief = true
        };
        double *p = PL_NEWN(a, NLEVEL * n, double), *y = PL_NEWN(a, NLEVEL * n, double);
        const char **text = PL_NEWN(a, NLEVEL * n, const char *);
        pl_column columns[] = { { "y", "", 1, text, y }, { "p", "", 1, text, p } };
        pl_table table = { "drawn", NLEVEL * n, 2, columns, text };
        pl_plateau *f;
        pl_stream q;
        pl_diags d;
        size_t nf;

        pl_diags_init(&d, a);
        pl_stream_init(&q, 1971, PL_FOR_TEST, i);
        for (size_t k = 0; k < NLEVEL * n; k++) {
            p[k] = level(k % NLEVEL);
            y[k] = mean(p[k]) * (1 + cv * pl_stream_normal(&q));
            text[k] = pl_arena_printf(a, "%.17g", p[k]);
        }
        assert_int_equal(pl_fit_curves(a, &table, &spec, &f, &nf, &d), PL_OK);
        held += (f->onset.low_open || f->onset.low <= truth) &&
                (f->onset.high_open || truth <= f->onset.high);
        pl_arena_free(a);
    }
    return held;
}

static void test_calibration(void **state)
{
    static const struct {
        const char *name;
        double (*mean)(double);
    } truths[] = { { "saturating exponential", exponential },
                   { "knee in log p", knee_in_log },
                   { "line in log p", line_in_log } };
    const bool lasting = getenv("PLATEN_LONG");
    const size_t draws = lasting ? 1000 : 40;

    (void)state;
    for (size_t t = 0; t < (lasting ? 3 : 1); t++)
        for (size_t n = 3; n <= (lasting ? 10 : 3); n = n == 3 ? 5 : 10 + (n == 10))
            for (int k = 1; k <= (lasting ? 2 : 1); k++) {
                double cv = 0.1 * k, weighted, plain;

                weighted = (double)holds(true, truths[t].mean, n, cv, draws) / (double)draws;
                plain = (double)holds(false, truths[t].mean, n, cv, draws) / (double)draws;
                printf("    in proportion: %-24s %2zu a level, %2.0f %%: holds %5.1f %%, without "
                       "weights %5.1f %%\n",
                       truths[t].name, n, 100 * cv, 100 * weighted, 100 * plain);
                assert_true(weighted >= 0.9 - 3 * sqrt(0.09 / (double)draws));
            }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_uneven),        TEST(test_even), TEST(test_several),     TEST(test_refusals),
        TEST(test_in_proportion), TEST(test_unit), TEST(test_calibration),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
