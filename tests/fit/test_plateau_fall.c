/* A rise and then a fall: rise-and-fall joins the curves, and without a curve that can fall no
 * setting is advised.
 *
 * The truth here is 11.4 - 6.9 exp(-p / 0.28) N/mm2, less `loss` per N/mm2 beyond
 * 1 N/mm2: invented. */
#include <gsl/gsl_errno.h>

#include "base/stream.h"
#include "fit/plateau.h"
#include "support.h"

#define NLEVEL 6
#define NBOARD 6
#define N (NLEVEL * NBOARD)

static const double levels[NLEVEL] = { 0.1, 0.2, 0.4, 0.8, 1.4, 2.4 };

typedef struct shop {
    double p[N], y[N];
    const char *p_text[N], *y_text[N], *board[N], *rows[N];
    pl_column columns[3];
    pl_table table;
} shop;

static const pl_table *made(bench *b, shop *s, double loss, uint64_t draw)
{
    pl_stream q;

    pl_stream_init(&q, 20260302, PL_FOR_TEST, draw);
    for (size_t i = 0; i < N; i++) {
        double p = levels[i % NLEVEL], mean = 11.4 - 6.9 * exp(-p / 0.28);

        s->p[i] = p;
        s->y[i] = mean * (p > 1 ? 1 - loss * (p - 1) : 1) + 0.5 * pl_stream_normal(&q);
        s->p_text[i] = pl_arena_printf(b->a, "%.17g", s->p[i]);
        s->y_text[i] = pl_arena_printf(b->a, "%.17g", s->y[i]);
        s->board[i] = pl_arena_printf(b->a, "B%zu", i / NLEVEL);
        s->rows[i] = s->board[i];
    }
    s->columns[0] = (pl_column){ "y", "N/mm2", 1, s->y_text, s->y };
    s->columns[1] = (pl_column){ "p", "N/mm2", 1, s->p_text, s->p };
    s->columns[2] = (pl_column){ "board", "", 1, s->board, NULL };
    s->table = (pl_table){ "shop", N, 3, s->columns, s->rows };
    return &s->table;
}

static const pl_plateau *fitted(bench *b, double loss, const char *curve)
{
    static shop s;
    static const char *const block = "board";
    pl_named_curve named = { curve, false };
    pl_curve_spec spec = { .response = "y",
                           .over = "p",
                           .blocks = &block,
                           .nblock = 1,
                           .curves = &named,
                           .ncurve = curve ? 1 : 0 };
    pl_plateau *p = NULL;
    size_t n;

    assert_ok(b, pl_fit_curves(b->a, made(b, &s, loss, 1), &spec, &p, &n, &b->d));
    return p;
}

static void test_fall_is_not_followed(void **state)
{
    const pl_plateau *p = fitted(*state, 0.15, "saturating-exponential");

    assert_int_equal(p->state, PL_REACHED);
    assert_string_equal(p->reason, "fall-not-followed");
    assert_true(p->fall.t > p->fall.point);
    assert_true(isnan(p->advised));
}

static void test_rise_and_fall_joins(void **state)
{
    const pl_plateau *p = fitted(*state, 0.15, NULL);
    double weight = 0;

    for (size_t i = 0; i < p->ncurve; i++)
        if (!strcmp(p->curves[i].name, "rise-and-fall"))
            weight += p->curves[i].weight;
    assert_true(weight > 0.9);
    assert_int_equal(p->state, PL_REACHED);
    assert_null(p->reason);
    assert_true(p->advised == p->onset.high);
    assert_true(p->range_end.high < 2.4 && p->range_end.low > p->onset.high);
}

/* It joins only when a fall is shown. */
static void test_rise_and_fall_stays_away(void **state)
{
    const pl_plateau *p = fitted(*state, 0, NULL);

    for (size_t i = 0; i < p->ncurve; i++)
        assert_string_not_equal(p->curves[i].name, "rise-and-fall");
}

static void test_no_fall_is_advised(void **state)
{
    const pl_plateau *p = fitted(*state, 0, NULL);

    assert_int_equal(p->state, PL_REACHED);
    assert_null(p->reason);
    assert_true(p->advised == p->onset.high);
}

/* A curve that can fall follows it: its range ends below the top. */
static void test_polynomial_follows(void **state)
{
    const pl_plateau *p = fitted(*state, 0.15, "polynomial:2");

    assert_int_equal(p->state, PL_REACHED);
    assert_null(p->reason);
    assert_true(p->range_end.at < 2.4);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_fall_is_not_followed),     TEST(test_rise_and_fall_joins),
        TEST(test_rise_and_fall_stays_away), TEST(test_no_fall_is_advised),
        TEST(test_polynomial_follows),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
