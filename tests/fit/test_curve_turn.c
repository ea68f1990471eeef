/* The curves with a hill or a bend of their own. rise-and-fall: against SciPy
 * (reference/curves/rise_and_fall.py), against other code of ours at its limits, and what no hill
 * may break. */
#include <gsl/gsl_errno.h>

#include "base/stream.h"
#include "fit/curve.h"
#include "fit/plateau.h"
#include "reference.h"

static const char *const board = "board";

static void fit_starved(bench *b, const char *curve, bool log_x, pl_curve_model *m)
{
    const pl_table *t = reference_table(b, "curves/set_starved");
    const pl_column *x = pl_table_find(t, "applied"), *y = pl_table_find(t, "strength");
    pl_curve_rows *rows = PL_NEW(b->a, pl_curve_rows);
    size_t *unit = PL_NEWN(b->a, t->nrow, size_t), ncol;
    pl_factor_codes codes;
    pl_block_factor factor;
    const double *block;

    for (size_t i = 0; i < t->nrow; i++)
        unit[i] = i;
    assert_ok(b, pl_table_factor(b->a, t, board, &codes, &b->d));
    factor = (pl_block_factor){ .nlevel = codes.nlevel, .code = codes.code };
    assert_ok(b, pl_curve_blocks(b->a, &factor, 1, unit, t->nrow, t->nrow, &block, &ncol, &b->d));
    assert_ok(
        b, pl_curve_rows_make(b->a, x->number, y->number, t->nrow, block, ncol, NULL, rows, &b->d));
    assert_ok(b, pl_curve_model_fit(b->a, pl_curve_find(curve), rows, log_x, 0.1, 0.1, 2.4, 0.95,
                                    NULL, m, &b->d));
}

/* SciPy stops at about 1e-8 of a parameter; its sums of squares are good to 1e-12. */
static void test_against_scipy(void **state)
{
    bench *b = *state;
    const pl_json *j = reference_json(b, "curves/rise_and_fall");
    const pl_json *params = json_value(j, "parameters"), *held = json_value(j, "held");
    pl_curve_model m;
    size_t n = 0;

    fit_starved(b, "rise-and-fall", false, &m);
    assert_rel("ss", m.ss, json_number(j, "ss"), 1e-11);
    assert_true(m.df == json_number(j, "df"));
    for (const pl_json *p = params->child; p; p = p->next, n++) {
        assert_rel("estimate", (double)m.beta[n], json_number(p, "estimate"), 2e-7);
        assert_rel("se", sqrt(m.s2 * (double)m.inverse[n * m.nf + n]), json_number(p, "se"), 1e-5);
    }
    assert_int_equal(n, 4);
    assert_rel("onset", m.onset, json_number(j, "onset"), 1e-7);
    assert_rel("end", m.end, json_number(j, "end"), 1e-7);
    assert_rel("top", m.top_at, json_number(j, "top_at"), 1e-7);
    for (const pl_json *h = held->child; h; h = h->next) {
        bool onset = !strcmp(json_value(h, "held")->string, "onset");

        assert_rel(
            "held",
            pl_curve_model_held(&m, onset ? PL_HELD_ONSET : PL_HELD_END, json_number(h, "at")),
            json_number(h, "ss"), 1e-8);
    }
}

/* In log x these data ask for a parabola: the limit is named and fits as polynomial:2 does, which
 * other code fits (curve_powers.c). Held, the family can do no worse than the parabola in it. */
static void test_parabola_limit(void **state)
{
    static const double at[] = { 0.25, 0.36, 0.45 };
    bench *b = *state;
    pl_curve_model m, square;

    fit_starved(b, "rise-and-fall", true, &m);
    fit_starved(b, "polynomial:2", true, &square);
    assert_string_equal(m.best.limit, "parabola");
    assert_rel("ss", m.ss, square.ss, 1e-6);
    assert_rel("onset", m.onset, square.onset, 1e-5);
    assert_rel("end", m.end, square.end, 1e-5);
    for (size_t i = 0; i < 3; i++)
        assert_true(pl_curve_model_held(&m, PL_HELD_ONSET, at[i]) <=
                    pl_curve_model_held(&square, PL_HELD_ONSET, at[i]) * (1 + 1e-6));
}

/* Held at its own place the fit costs nothing, and no hill drawn at random with its onset or its
 * end at t fits better than the held fit. */
static void test_held_is_least(void **state)
{
    static const double x[] = { 0.1, 0.2, 0.4, 0.8, 1.4, 2.4 };
    static const double y[] = { 6.0, 7.6, 9.5, 10.7, 10.3, 8.8 };
    bench *b = *state;
    pl_curve_rows rows;
    pl_curve_model m;
    pl_stream s;
    size_t met = 0;

    assert_ok(b, pl_curve_rows_make(b->a, x, y, 6, NULL, 0, NULL, &rows, &b->d));
    assert_ok(b, pl_curve_model_fit(b->a, &pl_curve_rise_and_fall, &rows, false, 0.1, 0.1, 2.4,
                                    0.95, NULL, &m, &b->d));
    assert_rel("onset", pl_curve_model_held(&m, PL_HELD_ONSET, m.onset), m.ss, 1e-5);
    assert_rel("end", pl_curve_model_held(&m, PL_HELD_END, m.end), m.ss, 1e-5);
    pl_stream_init(&s, 11, PL_FOR_TEST, 0);
    for (int draw = 0; draw < 3000 && met < 60; draw++) {
        double floor = 3 + 3 * pl_stream_unit(&s), top = floor + 12 * pl_stream_unit(&s);
        double loss = 5 * pl_stream_unit(&s), rate = 6 * pl_stream_unit(&s), ss = 0, most = 0;
        double onset = NAN, end = NAN;

        for (int i = 0; i <= 4000; i++) {
            double u = 0.1 + 2.3 * i / 4000;

            most = fmax(most, floor + (top - floor) * -expm1(-rate * u) - loss * u);
        }
        for (int i = 0; i <= 4000; i++) {
            double u = 0.1 + 2.3 * i / 4000;

            if (floor + (top - floor) * -expm1(-rate * u) - loss * u >= 0.95 * most) {
                onset = isnan(onset) ? u : onset;
                end = u;
            }
        }
        if (!(onset > 0.11 && end < 2.39))
            continue;
        met++;
        for (size_t i = 0; i < 6; i++)
            ss += pow(y[i] - (floor + (top - floor) * -expm1(-rate * x[i]) - loss * x[i]), 2);
        /* the places come from a grid of 0.0006: the held fits may differ by that much */
        assert_true(pl_curve_model_held(&m, PL_HELD_ONSET, onset) <= ss * 1.02 + 1e-3);
        assert_true(pl_curve_model_held(&m, PL_HELD_END, end) <= ss * 1.02 + 1e-3);
    }
    assert_true(met >= 30);
}

/* logistic-rise in log x with a level at zero: R's nls and optim (reference/curves/logistic.R),
 * which stop at about 1e-7 of a parameter; a sum of squares is flat there. */
static void test_logistic_against_r(void **state)
{
    bench *b = *state;
    const pl_json *j = reference_json(b, "curves/logistic");
    const pl_json *params = json_value(j, "parameters"), *held = json_value(j, "held");
    const pl_table *t = reference_table(b, "curves/set_logistic");
    const double *x = pl_table_find(t, "applied")->number,
                 *y = pl_table_find(t, "strength")->number;
    const pl_named_curve named = { "logistic-rise", true };
    const pl_curve_spec spec = {
        .response = "strength", .over = "applied", .curves = &named, .ncurve = 1
    };
    pl_curve_rows rows;
    pl_curve_model m;
    pl_plateau *p;
    size_t n = 0;

    assert_ok(b, pl_fit_curves(b->a, t, &spec, &p, &n, &b->d));
    assert_rel("ss", p->curves[0].residual.ss, json_number(j, "ss"), 1e-11);
    assert_rel("aicc", p->curves[0].aicc, json_number(j, "aicc"), 1e-11);
    assert_true(p->curves[0].residual.df == json_number(j, "df"));
    n = 0;
    for (const pl_json *c = params->child; c; c = c->next, n++) {
        assert_string_equal(p->curves[0].params[n].name, json_value(c, "name")->string);
        assert_rel("estimate", p->curves[0].params[n].estimate, json_number(c, "estimate"), 2e-7);
        assert_rel("se", p->curves[0].params[n].se, json_number(c, "se"), 1e-6);
    }
    assert_rel("onset", p->onset.at, json_number(j, "onset"), 2e-6);
    assert_ok(b, pl_curve_rows_make(b->a, x, y, t->nrow, NULL, 0, NULL, &rows, &b->d));
    assert_ok(b, pl_curve_model_fit(b->a, &pl_curve_logistic_rise, &rows, true, 0.2, 0, 3, 0.95,
                                    NULL, &m, &b->d));
    for (const pl_json *h = held->child; h; h = h->next)
        assert_rel("held", pl_curve_model_held(&m, PL_HELD_ONSET, json_number(h, "at")),
                   json_number(h, "ss"), 1e-6);
}

/* Falls at the lowest level already, bent the wrong way: held to a line. */
static void test_hollow_is_a_line(void **state)
{
    static const double x[] = { 0, 1, 2, 3, 4, 5, 6 }, y[] = { 9, 6, 4.5, 4, 4.4, 6.2, 9.1 };
    bench *b = *state;
    pl_curve_rows rows;
    pl_curve_model m, line;

    assert_ok(b, pl_curve_rows_make(b->a, x, y, 7, NULL, 0, NULL, &rows, &b->d));
    assert_ok(b, pl_curve_model_fit(b->a, &pl_curve_rise_and_fall, &rows, false, 1, 0, 6, 0.95,
                                    NULL, &m, &b->d));
    assert_ok(b, pl_curve_model_fit(b->a, &pl_curve_line, &rows, false, 1, 0, 6, 0.95, NULL, &line,
                                    &b->d));
    assert_string_equal(m.best.limit, "line");
    assert_rel("ss", m.ss, line.ss, 1e-12);
    assert_rel("mean", pl_curve_model_mean(&m, 2.5, NULL), pl_curve_model_mean(&line, 2.5, NULL),
               1e-12);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_against_scipy),    TEST(test_parabola_limit),     TEST(test_held_is_least),
        TEST(test_hollow_is_a_line), TEST(test_logistic_against_r),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
