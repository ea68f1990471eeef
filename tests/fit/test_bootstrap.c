/* The bootstrap beside the profile: against R's own loop, the same bits for any number of threads,
 * draws without an onset. */
#include <gsl/gsl_errno.h>
#include <string.h>

#ifdef _OPENMP
#include <omp.h>
#endif

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

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_against_nls_loop),
        TEST(test_threads_change_no_bit),
        TEST(test_no_scatter_no_spread),
        TEST(test_draws_without_an_onset),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
