/* The bootstrap beside the profile: against R's own loop, the same bits for any number of threads,
 * draws without an onset. */
#include <gsl/gsl_errno.h>
#include <string.h>

#ifdef _OPENMP
#include <omp.h>
#endif

#include "base/stream.h"
#include "fit/curve_rows.h"
#include "fit/plateau.h"
#include "reference.h"

static const pl_plateau *fitted(bench *b, const pl_table *t, const pl_curve_spec *spec)
{
    pl_plateau *p = NULL;
    size_t n = 0;

    assert_ok(b, pl_fit_curves(b->a, t, spec, &p, &n, &b->d));
    return p;
}

static const pl_named_curve hyperbola = { "saturating-hyperbola", false };

/* R 4.2.2: Puromycin, treated; f <- nls(rate ~ Vm * conc / (K + conc)); set.seed(1); 20,000 times
 * y <- fitted(f) + sqrt(deviance(f) / 10) * rnorm(12), nls again from coef(f), the onset of each at
 * 95 % of the mean at 1.1: K q / (1 - q), q = 0.95 * 1.1 / (K + 1.1); quantile(type = 7) and their
 * Monte Carlo standard errors from density(). */
static void test_against_nls_loop(void **state)
{
    bench *b = *state;
    const pl_plateau *p = fitted(b, reference_table(b, "curves/Puromycin"),
                                 &(pl_curve_spec){ .response = "rate",
                                                   .over = "conc",
                                                   .for_each = "state",
                                                   .curves = &hyperbola,
                                                   .ncurve = 1,
                                                   .floor_fixed = true,
                                                   .bootstrap = 20000,
                                                   .seed = 7 });
    const pl_bootstrap *s = p->bootstrap;

    assert_non_null(s);
    assert_int_equal(s->draws, 20000);
    assert_int_equal(s->without, 0);
    /* both have the error of 20,000 draws: 4 times the root of 2 of it */
    assert_abs("low", s->onset.low, 0.49404691, 4 * 1.4142 * 0.000641);
    assert_abs("median", s->onset.at, 0.56244178, 4 * 1.4142 * 0.00029);
    assert_abs("high", s->onset.high, 0.62640910, 4 * 1.4142 * 0.000593);
}

static pl_curve_spec averaged(size_t draws)
{
    static const char *const board = "board";

    return (pl_curve_spec){ .response = "strength",
                            .over = "applied",
                            .planned = "planned",
                            .blocks = &board,
                            .nblock = 1,
                            .bootstrap = draws,
                            .seed = 12 };
}

static void test_threads_change_no_bit(void **state)
{
    bench *b = *state;
    const pl_table *t = reference_table(b, "curves/set_as-made");
    pl_curve_spec spec = averaged(500);
    pl_bounded onset[2];

    for (int k = 0; k < 2; k++) {
#ifdef _OPENMP
        omp_set_num_threads(k ? 3 : 1);
#endif
        onset[k] = fitted(b, t, &spec)->bootstrap->onset;
    }
    assert_memory_equal(&onset[0].at, &onset[1].at, sizeof onset[0].at);
    assert_memory_equal(&onset[0].low, &onset[1].low, sizeof onset[0].low);
    assert_memory_equal(&onset[0].high, &onset[1].high, sizeof onset[0].high);
    assert_true(onset[0].low < onset[0].at && onset[0].at < onset[0].high);
}

/* Without scatter every draw is the fit itself: what is left is how well a draw is fitted again. */
static void test_no_scatter_no_spread(void **state)
{
    bench *b = *state;
    enum { N = 24 };
    static const char *const names[] = { "pressure", "strength" };
    static const char *const curves[] = { "saturating-exponential", "linear-plateau",
                                          "quadratic-plateau", "saturating-hyperbola" };

    for (size_t c = 0; c < 4; c++) {
        const pl_named_curve curve = { curves[c], false };
        const char **cells = PL_NEWN(b->a, 2 * N, const char *);
        const pl_plateau *p;

        for (size_t i = 0; i < N; i++) {
            double x = 0.2 * (double)(1 + i % 8), f = 0;

            f = c == 0   ? -expm1(-2.3 * x)
                : c == 1 ? fmin(x / 0.93, 1)
                : c == 2 ? 1 - pow(fmax(0, 1 - x / 1.27), 2)
                         : x / (0.31 + x);
            cells[2 * i] = pl_arena_printf(b->a, "%.17g", x);
            cells[2 * i + 1] = pl_arena_printf(b->a, "%.17g", 3 + 8 * f);
        }
        p = fitted(b, table_of(b, "exact.csv", N, 2, names, cells),
                   &(pl_curve_spec){ .response = "strength",
                                     .over = "pressure",
                                     .curves = &curve,
                                     .ncurve = 1,
                                     .bootstrap = 200,
                                     .seed = 3 });
        assert_rel(curves[c], p->bootstrap->onset.low, p->onset.at, 2e-5);
        assert_rel(curves[c], p->bootstrap->onset.high, p->onset.at, 2e-5);
    }
}

/* Readings about zero: in some draws no mean is above it, and these stand at both ends. */
static void test_draws_without_an_onset(void **state)
{
    bench *b = *state;
    enum { N = 16 };
    static const char *const names[] = { "pressure", "strength" };
    static const double scatter[N] = { 0.3, -0.9, 1.1, -0.2, -1.3, 0.8,  0.1, -0.4,
                                       0.9, 0.2,  -1,  0.6,  0.5,  -0.7, 0.4, -0.3 };
    const pl_named_curve line = { "line", false };
    const char **cells = PL_NEWN(b->a, 2 * N, const char *);
    const pl_bootstrap *s;

    for (size_t i = 0; i < N; i++) {
        cells[2 * i] = pl_arena_printf(b->a, "%zu", 1 + i % 4);
        cells[2 * i + 1] = pl_arena_printf(b->a, "%.17g", scatter[i] + 0.05);
    }
    s = fitted(b, table_of(b, "nothing.csv", N, 2, names, cells),
               &(pl_curve_spec){ .response = "strength",
                                 .over = "pressure",
                                 .curves = &line,
                                 .ncurve = 1,
                                 .bootstrap = 2000,
                                 .seed = 3 })
            ->bootstrap;
    assert_non_null(s);
    assert_true(s->without > 50 && s->without < 2000);
    assert_true(s->onset.low_open && s->onset.high_open);
}

/* What a unit's scatter does to the rows of the searches: a reading taken through it is the rows'
 * own. */
static void test_units_are_seen_as_rows(void **state)
{
    bench *b = *state;
    enum { N = 18, Q = 2 };
    double x[N], y[N], block[N * Q], z[N];
    long double v[N], sd[N];
    pl_stream s;

    pl_stream_init(&s, 3, PL_FOR_TEST, 0);
    for (size_t i = 0; i < N; i++) {
        x[i] = (double)(i % 6) * 0.3 + 0.1;
        y[i] = 10 + pl_stream_normal(&s);
        sd[i] = 0.8L + 0.05L * (long double)i;
        block[i * Q] = i / 6 == 0 ? 1 : i / 6 == 2 ? -1 : 0;
        block[i * Q + 1] = i / 6 == 1 ? 1 : i / 6 == 2 ? -1 : 0;
    }
    for (int kind = 0; kind < 3; kind++) { /* no blocks; blocks; blocks and uneven scatter */
        const pl_curve_scatter scatter = { .sd = sd };
        size_t q = kind ? Q : 0;
        pl_curve_rows r;
        double rest = 0;

        assert_ok(
            b, pl_curve_rows_make(b->a, x, y, N, block, q, kind == 2 ? &scatter : NULL, &r, &b->d));
        for (size_t i = 0; i < N; i++) {
            v[i] = kind == 2 ? y[i] / sd[i] : y[i];
            rest += (double)(v[i] * v[i]);
        }
        pl_curve_rows_turn(&r, v, z);
        for (size_t j = 0; j < q; j++)
            rest -= (double)(v[j] * v[j]);
        for (size_t k = 0; k < r.rows; k++) {
            assert_rel("row", z[k], r.z[k], 1e-13);
            rest -= z[k] * z[k];
        }
        assert_rel("rest", rest, r.rest, 1e-10);
    }
}

/* R 4.2.2: as above with y <- fitted(f) + sample(e, 12, TRUE), e the residuals less their mean
 * times sqrt(12 / 10). */
static void test_residuals_against_nls_loop(void **state)
{
    bench *b = *state;
    const pl_plateau *p = fitted(b, reference_table(b, "curves/Puromycin"),
                                 &(pl_curve_spec){ .response = "rate",
                                                   .over = "conc",
                                                   .for_each = "state",
                                                   .curves = &hyperbola,
                                                   .ncurve = 1,
                                                   .floor_fixed = true,
                                                   .bootstrap = 20000,
                                                   .residuals = true,
                                                   .seed = 7 });
    const pl_bootstrap *s = &p->bootstrap[1];

    assert_int_equal(p->nbootstrap, 2); /* no boards */
    assert_int_equal(s->kind, PL_BOOTSTRAP_RESIDUALS);
    assert_abs("low", s->onset.low, 0.4912838519, 4 * 1.4142 * 0.000710);
    assert_abs("median", s->onset.at, 0.5631694096, 4 * 1.4142 * 0.000297);
    assert_abs("high", s->onset.high, 0.6237846319, 4 * 1.4142 * 0.000535);
}

/* Whole boards from 20 of them that hold the same, and not below: 24 boards, and 14. Boards of the
 * first set differ in slope (invented): what they share shows in whole boards only. */
static void test_whole_boards(void **state)
{
    bench *b = *state;
    static const char *const board = "board";
    pl_curve_spec spec = { .response = "strength",
                           .over = "pressure",
                           .blocks = &board,
                           .nblock = 1,
                           .bootstrap = 4000,
                           .residuals = true,
                           .seed = 5 };
    const pl_plateau *p = fitted(b, reference_table(b, "curves/set_many-boards"), &spec);
    double by_units, by_boards;

    assert_int_equal(p->nbootstrap, 3);
    assert_int_equal(p->bootstrap[2].kind, PL_BOOTSTRAP_BOARDS);
    assert_string_equal(p->bootstrap[2].block, "board");
    by_units = p->bootstrap[1].onset.high - p->bootstrap[1].onset.low;
    by_boards = p->bootstrap[2].onset.high - p->bootstrap[2].onset.low;
    assert_true(by_boards > 1.05 * by_units);
    p = fitted(b, reference_table(b, "curves/set_even-boards"), &spec);
    assert_int_equal(p->nbootstrap, 2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_units_are_seen_as_rows), TEST(test_residuals_against_nls_loop),
        TEST(test_whole_boards),           TEST(test_against_nls_loop),
        TEST(test_threads_change_no_bit),  TEST(test_no_scatter_no_spread),
        TEST(test_draws_without_an_onset),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
