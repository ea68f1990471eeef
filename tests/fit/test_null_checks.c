/* False alarms of comparisons in balanced layouts, of the checks of a fit's footing and of the test
 * of one shape for all groups, where nothing is there: null.h has the bounds. */
#include <gsl/gsl_errno.h>

#include "base/stream.h"
#include "fit/compare.h"
#include "fit/plateau.h"
#include "fit/trust.h"
#include "linear_support.h"
#include "null.h"

#define LEVELS 4

static void normals(pl_stream *s, double *y, size_t n)
{
    for (size_t i = 0; i < n; i++)
        y[i] = pl_stream_normal(s);
}

/* What limits of all comparisons of a kind stand at, in standard errors: from one fit. */
static double point_of(bench *b, pl_compare_kind kind, size_t each)
{
    static const char *const names[] = { "group", "y" };
    const char **cells = PL_NEWN(b->a, 2 * LEVELS * each, const char *);
    pl_linear_fit f;

    for (size_t i = 0; i < LEVELS * each; i++) {
        cells[2 * i] = pl_arena_printf(b->a, "%zu", i % LEVELS);
        cells[2 * i + 1] = pl_arena_printf(b->a, "%zu", i * i % 7);
    }
    f = fit_of(b, table_of(b, "null", LEVELS * each, 2, names, cells),
               (wish){ .response = "y", .effects = "group" });
    assert_ok(b, pl_compare_levels(b->a, &f,
                                   &(pl_compare){ .factor = "group",
                                                  .kind = kind,
                                                  .named = kind == PL_AGAINST_NAMED ? "3" : NULL,
                                                  .alpha = 0.05 },
                                   &b->d));
    return (f.comparisons[0].high - f.comparisons[0].estimate) / f.comparisons[0].se;
}

/* Four levels of six: some pair, or some level against the last, is called different. */
static void test_comparisons(void **state)
{
    bench *b = *state;
    enum { EACH = 6, N = LEVELS * EACH };
    const int draws = null_draws(20000, 2000);
    const double pair = point_of(b, PL_EVERY_PAIR, EACH),
                 named = point_of(b, PL_AGAINST_NAMED, EACH);
    int tukey = 0, dunnett = 0;
    pl_stream s;

    pl_stream_init(&s, 31, PL_FOR_TEST, 1);
    for (int k = 0; k < draws; k++) {
        double y[N], mean[LEVELS] = { 0 }, ss = 0, se, range = 0, off = 0;

        normals(&s, y, N);
        for (size_t i = 0; i < N; i++)
            mean[i % LEVELS] += y[i] / EACH;
        for (size_t i = 0; i < N; i++)
            ss += (y[i] - mean[i % LEVELS]) * (y[i] - mean[i % LEVELS]);
        se = sqrt(ss / (N - LEVELS) * 2 / EACH);
        for (size_t i = 0; i < LEVELS; i++)
            for (size_t j = 0; j < i; j++) {
                double far = fabs(mean[i] - mean[j]) / se;

                range = fmax(range, far);
                off = fmax(off, i == LEVELS - 1 ? far : 0);
            }
        tukey += range > pair;
        dunnett += off > named;
    }
    null_rate(NULL_EXACT, "every pair of four levels of six (Tukey 1953)", tukey, draws);
    null_rate(NULL_EXACT, "each of them against one named (Dunnett 1955)", dunnett, draws);
}

/* Equal scatter, one sample a level: five and ten a level. Three a level is as found. */
static void test_spread(void **state)
{
    bench *b = *state;
    const int draws = null_draws(20000, 2000);
    static const size_t sizes[] = { 3, 5, 10 };

    for (size_t k = 0; k < 3; k++) {
        const size_t n = LEVELS * sizes[k];
        double *y = PL_NEWN(b->a, n, double);
        size_t *level = PL_NEWN(b->a, n, size_t);
        int bartlett = 0, levene = 0, far = 0;
        pl_stream s;

        pl_stream_init(&s, 31, PL_FOR_TEST, 10 + k);
        for (size_t i = 0; i < n; i++)
            level[i] = i % LEVELS;
        for (int d = 0; d < draws; d++) {
            pl_mark mark = pl_arena_mark(b->a);
            double mean[LEVELS] = { 0 }, *residual = PL_NEWN(b->a, n, double);
            pl_spread out;

            normals(&s, y, n);
            assert_ok(b, pl_trust_spread(b->a, y, level, n, LEVELS, &out, &b->d));
            bartlett += out.bartlett_p < 0.05;
            levene += out.levene_p < 0.05;
            for (size_t i = 0; i < n; i++)
                mean[level[i]] += y[i] / (double)sizes[k];
            for (size_t i = 0; i < n; i++)
                residual[i] = y[i] - mean[level[i]];
            far += pl_trust_far_off(residual, n, (double)(n - LEVELS)).p < 0.05;
            pl_arena_reset(b->a, mark);
        }
        null_rate(sizes[k] < 5 ? NULL_AS_FOUND : NULL_APPROXIMATE,
                  pl_arena_printf(b->a, "Bartlett 1937, four levels of %zu", sizes[k]), bartlett,
                  draws);
        if (sizes[k] >= PL_LEVENE_LEAST)
            null_rate(NULL_AS_FOUND,
                      pl_arena_printf(b->a, "Brown & Forsythe 1974, four levels of %zu", sizes[k]),
                      levene, draws);
        /* Bonferroni's bound is no level: at most 5 % */
        null_rate(NULL_BOUND, pl_arena_printf(b->a, "a single joint far off, among %zu", n), far,
                  draws);
    }
}

/* Two groups with one rate, floors and tops of their own: six levels of six each. */
static void test_shared_shape(void **state)
{
    static const double at[] = { 0.1, 0.2, 0.4, 0.8, 1.4, 2.4 };
    enum { EACH = 6, N = 6 * EACH * 2 };
    const pl_named_curve curve = { "saturating-exponential", false };
    const int draws = null_draws(4000, 60);
    int alarms = 0;

    (void)state;
    for (int d = 0; d < draws; d++) {
        pl_arena *a = pl_arena_new(0);
        double *x = PL_NEWN(a, N, double), *y = PL_NEWN(a, N, double);
        const char **text = PL_NEWN(a, N, const char *), **wood = PL_NEWN(a, N, const char *);
        pl_column columns[] = { { "y", "", 1, text, y },
                                { "p", "", 1, text, x },
                                { "wood", "", 1, wood, NULL } };
        pl_table table = { "drawn", N, 3, columns, wood };
        pl_plateau *p;
        pl_diags said;
        pl_stream s;
        size_t n;

        pl_diags_init(&said, a);
        pl_stream_init(&s, 31, PL_FOR_TEST, 1000000 + (uint64_t)d);
        for (size_t i = 0; i < N; i++) {
            bool larch = i >= N / 2;

            x[i] = at[i % 6];
            y[i] = (larch ? 8 : 11.4) - (larch ? 4 : 6.9) * exp(-x[i] / 0.28) +
                   0.6 * pl_stream_normal(&s);
            text[i] = pl_arena_printf(a, "%.17g", x[i]);
            wood[i] = larch ? "larch" : "beech";
        }
        assert_int_equal(pl_fit_curves(a, &table,
                                       &(pl_curve_spec){ .response = "y",
                                                         .over = "p",
                                                         .for_each = "wood",
                                                         .curves = &curve,
                                                         .ncurve = 1,
                                                         .brief = true },
                                       &p, &n, &said),
                         PL_OK);
        alarms += p->between->shared[0].own.p < 0.05;
        pl_arena_free(a);
    }
    null_rate(NULL_APPROXIMATE, "one shape for two woods, likelihood ratio", alarms, draws);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_comparisons),
        TEST(test_spread),
        TEST(test_shared_shape),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
