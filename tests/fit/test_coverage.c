/* How often the onset's interval holds the truth, by seeded simulation through
 * the whole of pl_fit_curves: six levels on six boards, boards and joints scattering by
 * 0.6 each (5 to 6 %). Figures and recipe: docs/validation.md. Short in `make check`,
 * long with PLATEN_LONG. */
#include <gsl/gsl_errno.h>

#include "base/stream.h"
#include "fit/onset.h"
#include "fit/plateau.h"
#include "support.h"

#define NLEVEL 6
#define NBOARD 6
#define N (NLEVEL * NBOARD)

static const double levels[NLEVEL] = { 0.1, 0.2, 0.4, 0.8, 1.4, 2.4 };

static double exponential(double p)
{
    return 11.4 - 6.9 * exp(-p / 0.28);
}

static double knee_in_log(double p)
{
    return 6 + 5 * fmin(log(p / 0.1) / log(9), 1);
}

static double line(double p)
{
    return 6 + 2 * p;
}

/* Lowest p with 95 % of the largest mean in the range, by bisection: all three rise. */
static double onset_of(double (*mean)(double))
{
    double low = 0.1, high = 2.4, aim = 0.95 * mean(2.4);

    for (int i = 0; i < 200; i++) {
        double middle = (low + high) / 2;

        *(mean(middle) < aim ? &low : &high) = middle;
    }
    return high;
}

/* rig_u: relative standard uncertainty of a rig that made all pressures: one error common to all,
 * and one a third as large for each joint. */
static const pl_plateau *drawn(pl_arena *a, pl_diags *d, double (*mean)(double), double rig_u,
                               uint64_t draw)
{
    const pl_rig_doubt doubt = { 0.4, rig_u, "press" };
    static const char *const block = "board";
    pl_curve_spec spec = { .response = "y",
                           .over = "p",
                           .blocks = &block,
                           .nblock = 1,
                           .doubts = &doubt,
                           .ndoubt = rig_u > 0 };
    double *p = PL_NEWN(a, N, double), *y = PL_NEWN(a, N, double);
    const char **p_text = PL_NEWN(a, N, const char *), **y_text = PL_NEWN(a, N, const char *);
    const char **board = PL_NEWN(a, N, const char *);
    pl_column columns[] = { { "y", "N/mm2", 1, y_text, y },
                            { "p", "N/mm2", 1, p_text, p },
                            { "board", "", 1, board, NULL } };
    pl_table table = { "drawn", N, 3, columns, board };
    pl_plateau *out = NULL;
    double shift = 0, rig = 0;
    pl_stream q;
    size_t n;

    pl_stream_init(&q, 20261125, PL_FOR_TEST, draw);
    if (rig_u > 0)
        rig = rig_u * pl_stream_normal(&q);
    for (size_t i = 0; i < N; i++) {
        double made = 1;

        if (i % NLEVEL == 0)
            shift = 0.6 * pl_stream_normal(&q);
        p[i] = levels[i % NLEVEL];
        if (rig_u > 0)
            made = 1 + rig + rig_u / 3 * pl_stream_normal(&q);
        y[i] = mean(p[i] * made) + shift + 0.6 * pl_stream_normal(&q);
        p_text[i] = pl_arena_printf(a, "%.17g", p[i]);
        y_text[i] = pl_arena_printf(a, "%.17g", y[i]);
        board[i] = pl_arena_printf(a, "B%zu", i / NLEVEL);
    }
    return pl_fit_curves(a, &table, &spec, &out, &n, d) ? NULL : out;
}

typedef struct tally {
    size_t draws, held, reached, held_itself; /* itself: without the rig's error */
} tally;

static tally simulate(double (*mean)(double), double rig_u, uint64_t first)
{
    tally t = { .draws = getenv("PLATEN_LONG") ? 2000 : 60 };
    double truth = onset_of(mean);

    for (size_t i = 0; i < t.draws; i++) {
        pl_arena *a = pl_arena_new(0);
        const pl_plateau *p;
        pl_diags d;

        pl_diags_init(&d, a);
        p = drawn(a, &d, mean, rig_u, first + i);
        assert_non_null(p);
        t.held_itself += (p->onset_itself.low_open || p->onset_itself.low <= truth) &&
                         (p->onset_itself.high_open || truth <= p->onset_itself.high);
        t.held += (p->onset.low_open || p->onset.low <= truth) &&
                  (p->onset.high_open || truth <= p->onset.high);
        t.reached += p->state == PL_REACHED;
        pl_arena_free(a);
    }
    print_message("%zu of %zu intervals hold %.4f; %zu reached\n", t.held, t.draws, truth,
                  t.reached);
    return t;
}

/* The aim is 0.95. What these cases came to in 2,000 draws each falls short of it
 * (docs/validation.md says by how much); `known` is that figure, and this test guards it: no
 * change may make it worse by more than three Monte Carlo standard errors. */
static void holds(const tally *t, double known)
{
    double least = known - 3 * sqrt(known * (1 - known) / (double)t->draws);

    assert_true((double)t->held >= least * (double)t->draws);
}

static void test_exponential(void **state)
{
    tally t = simulate(exponential, 0, 0);

    (void)state;
    holds(&t, 0.902);
    assert_true(t.reached > t.draws / 2);
}

static void test_knee(void **state)
{
    tally t = simulate(knee_in_log, 0, 100000);

    (void)state;
    holds(&t, 0.935);
    assert_true(t.reached > t.draws / 2);
}

/* No plateau: reached at most 1.3 times in 100 (DESIGN's rule), plus three standard errors. */
static void test_line(void **state)
{
    tally t = simulate(line, 0, 200000);

    (void)state;
    holds(&t, 0.944);
    assert_true((double)t.reached <=
                0.013 * (double)t.draws + 3 * sqrt(0.013 * 0.987 * (double)t.draws));
}

/* A press known to 15 % only: set points are Berkson errors, drawn as such. Ranges that carry the
 * rig hold the truth as often as those of an exact rig do; without it they do not. */
static void test_rig_in_the_onset(void **state)
{
    tally t = simulate(exponential, 0.15, 800000);

    (void)state;
    print_message("%zu of %zu without the rig's error\n", t.held_itself, t.draws);
    holds(&t, 0.902); /* as an exact rig: test_exponential */
    assert_true(t.held_itself <= t.held);
    if (t.draws >= 2000)
        assert_true((double)t.held_itself < 0.9 * (double)t.draws);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_rig_in_the_onset),
        cmocka_unit_test(test_exponential),
        cmocka_unit_test(test_knee),
        cmocka_unit_test(test_line),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
