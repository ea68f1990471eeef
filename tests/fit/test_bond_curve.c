/* Curves of the glue line: without a bound they are the joint's by least squares; with bounds they
 * are those of tests/fit/bond_curve.R, which holds the same invented readings. */
#include <gsl/gsl_errno.h>

#include "fit/bond_curve.h"
#include "fit/censored_curve.h"
#include "reference.h"

static const char *const names[] = { "x", "board", "least", "most", "share", "wood", "y" };
#define COLUMNS 7
#define ROWS 18
static const char *const raw[ROWS][4] = {
    { "0.2", "a", "4.1", "0" }, { "0.2", "b", "3.6", "0" }, { "0.2", "a", "4.6", "0" },
    { "0.4", "b", "5.9", "0" }, { "0.4", "a", "6.3", "0" }, { "0.4", "b", "5.5", "0" },
    { "0.8", "a", "8.3", "0" }, { "0.8", "b", "7.4", "1" }, { "0.8", "a", "7.9", "0" },
    { "0.8", "b", "7.2", "0" }, { "1.6", "a", "9.2", "1" }, { "1.6", "b", "8.1", "0" },
    { "1.6", "a", "9.0", "0" }, { "1.6", "b", "8.7", "1" }, { "2.4", "a", "9.4", "0" },
    { "2.4", "b", "8.4", "1" }, { "2.4", "a", "9.7", "1" }, { "2.4", "b", "8.6", "0" },
};

/* The readings as a table; no wood at all when exact. */
static const pl_table *readings(bench *b, bool exact)
{
    const char **cells = PL_NEWN(b->a, ROWS * COLUMNS, const char *);

    for (size_t i = 0; i < ROWS; i++) {
        const char *const row[] = { raw[i][0],
                                    raw[i][1],
                                    raw[i][2],
                                    raw[i][2],
                                    exact ? "0" : raw[i][3],
                                    exact ? "0" : raw[i][3],
                                    raw[i][2] };

        memcpy(cells + i * COLUMNS, row, sizeof row);
    }
    return table_of(b, "readings", ROWS, COLUMNS, names, cells);
}

static const char *const blocks[] = { "board" };

static pl_bond_spec bond_spec(pl_law law)
{
    return (pl_bond_spec){ .least = "least",
                           .most = "most",
                           .share = "share",
                           .wood = "wood",
                           .counts_as_wood = 0.75,
                           .law = law };
}

static pl_curve_spec curve_spec(void)
{
    return (pl_curve_spec){
        .response = "y", .over = "x", .blocks = blocks, .nblock = 1, .wood = "wood"
    };
}

/* Every reading exact: likelihood and least squares are one, up to the divisor of the scatter. */
static void test_same_as_least_squares(void **state)
{
    bench *b = *state;
    const pl_table *t = readings(b, true);
    pl_bond_spec bond = bond_spec(PL_LAW_NORMAL);
    pl_curve_spec spec = curve_spec();
    pl_plateau *mine, *plain;
    size_t n;

    assert_ok(b, pl_bond_curves(b->a, t, &bond, PL_LINK_BOND, &spec, &mine, &n, &b->d));
    assert_int_equal(n, 1);
    assert_ok(b, pl_fit_curves(b->a, t, &spec, &plain, &n, &b->d));
    assert_string_equal(mine->answer, "bond");
    assert_int_equal(mine->state, plain->state);
    assert_int_equal(mine->ncurve, plain->ncurve);
    for (size_t i = 0; i < mine->ncurve; i++) {
        const pl_curve_fit *m = &mine->curves[i], *l = &plain->curves[i];

        assert_string_equal(m->name, l->name);
        assert_rel(m->name, m->aicc, l->aicc, 1e-9);
        assert_abs(m->name, m->weight, l->weight, 1e-9);
        assert_rel(m->name, m->residual.sd, l->residual.sd, 1e-8);
        if (l->limit)
            continue;
        for (size_t k = 0; k < l->nparam; k++) {
            /* a knee stands where its valley is flat to rounding; its error by differences */
            assert_string_equal(m->params[k].name, l->params[k].name);
            assert_rel(m->params[k].name, m->params[k].estimate, l->params[k].estimate, 2e-6);
            assert_rel(m->params[k].name, m->params[k].se, l->params[k].se, 1e-4);
        }
    }
    assert_rel("rise", mine->rise.t, plain->rise.t, 1e-9);
    assert_rel("its point", mine->rise.point, plain->rise.point, 1e-9);
    assert_rel("fall", mine->fall.t, plain->fall.t, 1e-6);
    assert_rel("level", mine->levels[2].mean, plain->levels[2].mean, 1e-12);
    assert_rel("height", mine->height, plain->height, 1e-7);
    assert_rel("its limit", mine->height_low, plain->height_low, 1e-5);
    assert_rel("onset", mine->onset.at, plain->onset.at, 1e-5);
    assert_rel("low", mine->onset.low, plain->onset.low, 1e-5);
    assert_rel("high", mine->onset.high, plain->onset.high, 1e-5);
}

/* One curve through the rows above, boards a and b by one column. */
static void fit_one(bench *b, const pl_curve *c, pl_law law, pl_censored_curve *out)
{
    double *x = PL_NEWN(b->a, ROWS, double), *y = PL_NEWN(b->a, ROWS, double);
    double *high = PL_NEWN(b->a, ROWS, double), *block = PL_NEWN(b->a, ROWS, double);
    pl_curve_rows *rows = PL_NEW(b->a, pl_curve_rows);
    pl_censored_rows *data = PL_NEW(b->a, pl_censored_rows);

    for (size_t i = 0; i < ROWS; i++) {
        x[i] = strtod(raw[i][0], NULL);
        y[i] = strtod(raw[i][2], NULL);
        high[i] = raw[i][3][0] == '1' ? INFINITY : y[i];
        block[i] = raw[i][1][0] == 'a' ? 1 : -1;
    }
    assert_ok(b, pl_curve_rows_make(b->a, x, y, ROWS, block, 1, NULL, rows, &b->d));
    *data = (pl_censored_rows){ rows, y, high, block, 1, law };
    assert_ok(b, pl_censored_curve_fit(b->a, c, data, false, 0.2, 0.2, 2.4, 0.95, out, &b->d));
    assert_int_equal(out->known, 13);
}

/* R's simplex leaves the numbers good to about 1e-7 and the likelihoods to 1e-9. */
static void test_against_r(void **state)
{
    static const struct {
        const pl_curve *curve;
        pl_law law;
        double floor, top, shape, sigma, log_likelihood, at_09, at_15;
    } known[] = {
        { &pl_curve_saturating_exponential, PL_LAW_NORMAL, 1.1027210933893, 9.1136390482719,
          2.2787422132553, 0.25233899238471, -4.0019128617334, -10.423045370928, -7.491130917933 },
        { &pl_curve_saturating_hyperbola, PL_LAW_NORMAL, -2.6852633065673, 10.123919099943,
          0.18538432093422, 0.23142853447973, -3.1191055105757, NAN, -3.3327408340614 },
        { &pl_curve_linear_plateau, PL_LAW_NORMAL, 3.1159461406026, 9.0718022100204,
          0.99088034814147, 0.40654598532094, -9.7376687017754, -9.786647489103, -18.432898880333 },
        { &pl_curve_saturating_exponential, PL_LAW_LOGNORMAL, 0.72953834013229, 2.2039979280887,
          3.0224966570946, 0.045561526058204, -5.9097469591352, -8.5145361325628, NAN },
    };
    bench *b = *state;

    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        pl_censored_curve m;
        pl_coef c[3];

        fit_one(b, known[i].curve, known[i].law, &m);
        assert_int_equal(pl_censored_curve_params(&m, c), 3);
        assert_rel("floor", c[0].estimate, known[i].floor, 2e-7);
        assert_rel("top", c[1].estimate, known[i].top, 2e-7);
        assert_rel("shape", c[2].estimate, known[i].shape, 2e-7);
        assert_rel("scatter", m.sigma, known[i].sigma, 2e-7);
        assert_rel("log-likelihood", m.log_likelihood, known[i].log_likelihood, 1e-9);
        if (!isnan(known[i].at_09)) /* the hyperbola is there at its limit: R's simplex loses it */
            assert_rel("onset held", pl_censored_curve_held(&m, 0.9), known[i].at_09, 1e-8);
        if (!isnan(known[i].at_15))
            assert_rel("onset held", pl_censored_curve_held(&m, 1.5), known[i].at_15, 1e-8);
        /* held where it is, nothing is lost */
        assert_rel("at the onset", pl_censored_curve_held(&m, m.onset), m.log_likelihood, 1e-9);
    }
}

/* The two upper levels all in the wood: they have no upper limit, and no plateau is claimed of
 * them; a wood break moves the glue line up, never down. */
static void test_all_wood_above(void **state)
{
    bench *b = *state;
    const pl_table *t = readings(b, false);
    pl_bond_spec bond = bond_spec(PL_LAW_NORMAL);
    pl_curve_spec spec = curve_spec();
    pl_plateau *p, *plain;
    size_t n;

    assert_ok(b, pl_fit_curves(b->a, t, &spec, &plain, &n, &b->d));
    assert_ok(b, pl_bond_curves(b->a, t, &bond, PL_LINK_BOND, &spec, &p, &n, &b->d));
    assert_true(p->height > plain->height && p->onset.high > plain->onset.high);
    for (size_t i = 0; i < t->nrow; i++)
        if (t->columns[0].number[i] > 1) {
            ((double *)(uintptr_t)t->columns[4].number)[i] = 1;
            ((const char **)(uintptr_t)t->columns[4].text)[i] = "1";
        }
    assert_ok(b, pl_bond_curves(b->a, t, &bond, PL_LINK_BOND, &spec, &p, &n, &b->d));
    assert_true(isnan(p->levels[3].mean) && isnan(p->levels[4].mean));
    assert_true(isfinite(p->levels[2].mean));
    assert_true(p->rise.t > p->rise.point);
    assert_true(p->state != PL_REACHED && isnan(p->advised));
    assert_true(p->onset.low > 1.6); /* what lies above is only known to be no less */
    bond.law = PL_LAW_WEIBULL;       /* and the other laws have an answer */
    assert_ok(b, pl_bond_curves(b->a, t, &bond, PL_LINK_BOND, &spec, &p, &n, &b->d));
    assert_true(p->ncurve > 5 && p->state != PL_REACHED);
    for (size_t i = 0; i < t->nrow; i++) { /* nothing left to fit */
        ((double *)(uintptr_t)t->columns[4].number)[i] = 1;
        ((const char **)(uintptr_t)t->columns[4].text)[i] = "1";
    }
    assert_ok(b, pl_bond_curves(b->a, t, &bond, PL_LINK_BOND, &spec, &p, &n, &b->d));
    assert_string_equal(p->reason, "glue-line-breaks-too-few");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_same_as_least_squares),
        TEST(test_against_r),
        TEST(test_all_wood_above),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
