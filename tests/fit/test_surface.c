/* Where the top of a curved surface lies: surfaces known beforehand, and how often what is said of
 * the top is so. Readings are invented. */
#include "linear_support.h"

#include <gsl/gsl_errno.h>

#include "base/stream.h"
#include "fit/surface.h"

typedef struct dials {
    pl_factor factors[2];
    pl_level levels[2][5];
    pl_study s;
    size_t n;
    int run[64][2];
    const char *board[64];
} dials;

/* A central composite design in two factors twice, five middle runs, on two boards. */
static void dials_open(bench *b, dials *d)
{
    static const double place[] = { -1.41421356237, -1, 0, 1, 1.41421356237 };
    static const int run[][2] = { { 1, 1 }, { 1, 3 }, { 3, 1 }, { 3, 3 }, { 0, 2 }, { 4, 2 },
                                  { 2, 0 }, { 2, 4 }, { 2, 2 }, { 2, 2 }, { 2, 2 } };

    *d = (dials){ 0 };
    for (size_t f = 0; f < 2; f++) {
        for (size_t l = 0; l < 5; l++)
            d->levels[f][l] = (pl_level){ .text = pl_arena_printf(b->a, "level %zu", l),
                                          .si = 10 + place[l] };
        d->factors[f] = (pl_factor){
            .name = f ? "second" : "first", .levels = d->levels[f], .nlevel = 5, .numeric = true
        };
    }
    d->s = (pl_study){ .name = "dials", .factors = d->factors, .nfactor = 2 };
    for (size_t twice = 0; twice < 2; twice++)
        for (size_t i = 0; i < sizeof run / sizeof *run; i++) {
            d->board[d->n] = twice ? "B2" : "B1";
            memcpy(d->run[d->n++], run[i], sizeof run[i]);
        }
}

/* 9 less squares about a top at t, from one board to the next 0.5, scatter sd. */
static const pl_surface *fitted(bench *b, const dials *d, const double *top, double sd,
                                pl_stream *r)
{
    static const char *const names[] = { "glue_up", "board", "first", "second", "strength" };
    const char **cells = PL_NEWN(b->a, d->n * 5, const char *), *blocks[] = { "board" };
    const pl_surface *s = NULL;

    for (size_t i = 0; i < d->n; i++) {
        double x = d->levels[0][d->run[i][0]].si - 10 - top[0];
        double y = d->levels[1][d->run[i][1]].si - 10 - top[1];
        double strength = 9 - x * x - 0.8 * y * y + 0.3 * x * y +
                          (d->board[i][1] == '1' ? 0.25 : -0.25) + sd * pl_stream_normal(r);

        cells[5 * i] = pl_arena_printf(b->a, "G%zu", i + 1);
        cells[5 * i + 1] = d->board[i];
        cells[5 * i + 2] = d->levels[0][d->run[i][0]].text;
        cells[5 * i + 3] = d->levels[1][d->run[i][1]].text;
        cells[5 * i + 4] = pl_arena_printf(b->a, "%.17g", strength);
    }
    assert_ok(b, pl_fit_surface(b->a, &d->s, table_of(b, "dials", d->n, 5, names, cells), blocks, 1,
                                &s, &b->d));
    assert_non_null(s);
    return s;
}

/* Hardly any scatter: the top is where it was put, 22 - 6 - 1 = 15 df; boards are averaged. */
static void test_known_top(void **state)
{
    bench *b = *state;
    const double top[] = { 0.3, -0.4 };
    const pl_surface *s;
    pl_stream r;
    dials d;

    pl_stream_init(&r, 1, PL_FOR_TEST, 0);
    dials_open(b, &d);
    s = fitted(b, &d, top, 1e-9, &r);
    assert_true(s->inside);
    assert_rel("df", s->df, 15, 0);
    assert_abs("first", s->axes[0].top_si, 10.3, 1e-7);
    assert_abs("second", s->axes[1].top_si, 9.6, 1e-7);
    assert_abs("height", s->height, 9, 1e-7);
}

/* A top outside of what was tried: the best lies at the edge, 1.414 from the middle, straight
 * towards it as the surface is round there: of -x^2 - 0.8 y^2 + 0.3 x y about (3, 0) the highest
 * point of the circle, found by going around it. */
static void test_edge(void **state)
{
    bench *b = *state;
    const double top[] = { 3, 0 };
    double best = -INFINITY, at[2] = { 0 };
    const pl_surface *s;
    pl_stream r;
    dials d;

    pl_stream_init(&r, 1, PL_FOR_TEST, 0);
    dials_open(b, &d);
    s = fitted(b, &d, top, 1e-9, &r);
    for (size_t i = 0; i < 1000000; i++) {
        double a = 6.283185307179586 * (double)i / 1e6;
        double x = 1.41421356237 * cos(a) - 3, y = 1.41421356237 * sin(a);
        double z = 9 - x * x - 0.8 * y * y + 0.3 * x * y;

        if (z > best) {
            best = z;
            at[0] = x + 3;
            at[1] = y;
        }
    }
    assert_false(s->inside);
    assert_abs("height", s->height, best, 1e-5);
    assert_abs("first", s->axes[0].top_si - 10, at[0], 1e-2);
    assert_abs("second", s->axes[1].top_si - 10, at[1], 1e-2);
    assert_true(isnan(s->axes[0].low_si)); /* nowhere level */
}

/* How often both factors' ranges hold the top, over 600 draws: 95 % at least, as the ranges take in
 * the whole region and it is looked at half a place outward; less than 4 standard errors below. And
 * it is no idle range: half of them at most reach what was tried on all sides. */
static void test_region(void **state)
{
    bench *b = *state;
    const double top[] = { 0.2, -0.1 };
    size_t held = 0, idle = 0, draws = 600;
    pl_stream r;
    dials d;

    pl_stream_init(&r, 5, PL_FOR_TEST, 0);
    dials_open(b, &d);
    for (size_t i = 0; i < draws; i++) {
        pl_mark mark = pl_arena_mark(b->a);
        const pl_surface *s = fitted(b, &d, top, 0.4, &r);
        bool in = true, all = true;

        for (size_t k = 0; k < 2; k++) {
            in = in && s->axes[k].low_si <= 10 + top[k] && s->axes[k].high_si >= 10 + top[k];
            all = all && s->axes[k].low_open && s->axes[k].high_open;
        }
        held += in;
        idle += all;
        pl_arena_reset(b->a, mark);
    }
    print_message("%zu of %zu hold the top, %zu say nothing\n", held, draws, idle);
    assert_true((double)held >= 0.95 * (double)draws - 4 * sqrt(0.95 * 0.05 * (double)draws));
    assert_true(idle < draws / 2);
}

/* Nothing to say: a factor of two levels, a factor of names, too few glue-ups. */
static void test_none(void **state)
{
    static const char *const names[] = { "glue_up", "first", "second", "strength" };
    static const char *const cells[] = { "G1", "level 0", "level 2", "5",
                                         "G2", "level 4", "level 2", "6" };
    bench *b = *state;
    const pl_surface *s;
    const pl_table *t = table_of(b, "few", 2, 4, names, cells);
    dials d;

    dials_open(b, &d);
    assert_ok(b, pl_fit_surface(b->a, &d.s, t, NULL, 0, &s, &b->d));
    assert_null(s);
    d.factors[0].nlevel = 2;
    assert_ok(b, pl_fit_surface(b->a, &d.s, t, NULL, 0, &s, &b->d));
    assert_null(s);
    d.factors[0].nlevel = 5;
    d.factors[1].numeric = false;
    assert_ok(b, pl_fit_surface(b->a, &d.s, t, NULL, 0, &s, &b->d));
    assert_null(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_known_top),
        TEST(test_edge),
        TEST(test_region),
        TEST(test_none),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
