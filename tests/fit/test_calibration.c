/* How often the onset's interval holds the truth on eight levels at constant ratio 1.5 from 0.2,
 * no blocks, for 3, 5 and 10 a level and scatter of 10 and 20 % of the mean: named curve and
 * averaged set. Open ends count as holding. Figures: docs/validation.md. PLATEN_LONG runs 4,000
 * studies of every case and prints the table; `make check` guards two cells. */
#include <gsl/gsl_errno.h>

#include "base/stream.h"
#include "fit/plateau.h"
#include "support.h"
#include "truths.h"

#define MOST 4000

static double late(double p) /* an exponential whose plateau lies beyond the last level */
{
    return 4 + 7 * (1 - exp(-0.35 * p));
}

static const struct truth {
    const char *name;
    double (*mean)(double);
    pl_named_curve named; /* NULL: averaged only */
    bool rises_on;
    double least; /* the averaged set holds it at least so often */
} truths[] = {
    { "saturating exponential", exponential, { "saturating-exponential", false }, false, 0.91 },
    { "knee in log p", knee_in_log, { "linear-plateau", true }, false, 0.91 },
    { "line in log p", line_in_log, { NULL, true }, true, 0.89 },
    { "exponential, onset beyond the levels' last but one", late, { NULL, false }, true, 0.89 },
};

typedef struct tally {
    size_t held, open, reached, not_reached, finite;
    double ratio[MOST];
} tally;

static void one_study(const struct truth *t, bool named, size_t n, double cv, uint64_t draw,
                      double truth, tally *out)
{
    pl_arena *a = pl_arena_new(0);
    pl_curve_spec spec = {
        .response = "y", .over = "p", .curves = &t->named, .ncurve = named ? 1 : 0
    };
    double *p = PL_NEWN(a, NLEVEL * n, double), *y = PL_NEWN(a, NLEVEL * n, double), mean = 0;
    const char **text = PL_NEWN(a, NLEVEL * n, const char *);
    pl_column columns[] = { { "y", "", 1, text, y }, { "p", "", 1, text, p } };
    pl_table table = { "drawn", NLEVEL * n, 2, columns, text };
    pl_plateau *f;
    pl_stream q;
    pl_diags d;
    size_t nf;

    pl_diags_init(&d, a);
    for (size_t l = 0; l < NLEVEL; l++)
        mean += t->mean(level(l)) / NLEVEL;
    pl_stream_init(&q, 4711, PL_FOR_TEST, draw);
    for (size_t i = 0; i < NLEVEL * n; i++) {
        p[i] = level(i % NLEVEL);
        y[i] = t->mean(p[i]) + cv * mean * pl_stream_normal(&q);
        text[i] = pl_arena_printf(a, "%.17g", p[i]);
    }
    assert_int_equal(pl_fit_curves(a, &table, &spec, &f, &nf, &d), PL_OK);
    out->held += (f->onset.low_open || f->onset.low <= truth) &&
                 (f->onset.high_open || truth <= f->onset.high);
    out->reached += f->state == PL_REACHED;
    out->not_reached += f->state == PL_NOT_REACHED;
    if (f->onset.low_open || f->onset.high_open)
        out->open++;
    else
        out->ratio[out->finite++] = f->onset.high / f->onset.low;
    pl_arena_free(a);
}

static int rising(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;

    return (x > y) - (x < y);
}

/* least, most: of the share that holds; three Monte Carlo standard errors are granted. */
static void cell(const struct truth *t, bool named, size_t n, double cv, size_t draws, double least,
                 double most)
{
    static tally c;
    double truth = onset_of(t->mean), N = (double)draws, share;

    memset(&c, 0, sizeof c);
    for (size_t i = 0; i < draws; i++)
        one_study(t, named, n, cv, i, truth, &c);
    qsort(c.ratio, c.finite, sizeof *c.ratio, rising);
    share = (double)c.held / N;
    print_message("| %s, onset %.3f, %s | %zu, %g %% | holds %.1f %% | open %.1f %% | width %.2f | "
                  "reached %.2f %% | not reached %.2f %% |\n",
                  t->name, truth, named ? "named" : "averaged", n, 100 * cv, 100 * share,
                  100 * (double)c.open / N, c.finite ? c.ratio[c.finite / 2] : NAN,
                  100 * (double)c.reached / N, 100 * (double)c.not_reached / N);
    assert_true(share >= least - 3 * sqrt(least * (1 - least) / N));
    assert_true(share <= most + 3 * sqrt(most * (1 - most) / N));
    if (t->rises_on) /* false `reached`, and the mirror, at most 2.5 % */
        assert_true((double)c.reached / N <= 0.025 + 3 * sqrt(0.025 * 0.975 / N));
    else
        assert_true((double)c.not_reached / N <= 0.025 + 3 * sqrt(0.025 * 0.975 / N));
}

static void test_short(void **state)
{
    (void)state;
    cell(&truths[0], true, 5, 0.1, 60, 0.92, 0.98);
    cell(&truths[2], false, 3, 0.1, 20, 0.89, 1);
}

static void test_table(void **state)
{
    static const size_t ns[] = { 3, 5, 10 };
    static const double cvs[] = { 0.1, 0.2 };

    (void)state;
    for (size_t i = 0; i < 12 * sizeof truths / sizeof *truths && getenv("PLATEN_LONG"); i++) {
        const struct truth *t = &truths[i / 12];
        bool named = i % 12 >= 6;

        if (named && !t->named.curve)
            continue;
        cell(t, named, ns[i % 6 / 2], cvs[i % 2], MOST, named ? 0.92 : t->least, named ? 0.98 : 1);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_short),
        cmocka_unit_test(test_table),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
