/* Drawing a plan's treatments anew, and counting what could have been drawn. Counts:
 * tests/reference/worked/randomisation.json, where each record names its source. */
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>

#include "shop.h"

#include "../reference/worked/worked.h"
#include "design/allocations.h"
#include "design/redraw.h"

#define DRAWS 4000
#define UPPER 1e-3 /* of chi-square */

static double at(const pl_json *list, size_t i)
{
    return pl_json_at(list, i)->number;
}

static void assert_count(const pl_json *record, const char *key, const pl_allocations *n)
{
    const char *wanted = pl_json_get(pl_json_get(record, "expected"), key)->string;

    if (strcmp(n->exact, wanted) != 0)
        fail_msg("%s: %s, wanted %s", worked_id(record), n->exact, wanted);
    assert_rel(worked_id(record), n->mantissa * pow(10, n->power), strtod(wanted, NULL), 1e-13);
}

static void times_factorial(pl_allocations *n, double k, double times)
{
    for (double t = 0; t < times; t++)
        for (double i = 2; i <= k; i++)
            pl_allocations_times(n, i);
}

static void test_counts(void **state)
{
    bench *b = *state;
    size_t done = 0;

    for (const pl_json *r = worked_list(b, "randomisation.json")->child; r; r = r->next) {
        pl_allocations n = pl_allocations_one();
        const pl_json *in = pl_json_get(r, "inputs");
        size_t count[8], kinds = 0;

        if (worked_in(r, "count-crd")) {
            const pl_json *sizes = pl_json_get(in, "group_sizes");

            for (; kinds < sizes->count; kinds++)
                count[kinds] = (size_t)at(sizes, kinds);
            pl_allocations_arrange(&n, count, kinds);
            assert_count(r, "allocations", &n);
        } else if (worked_in(r, "count-rcbd")) {
            times_factorial(&n, worked_in_value(r, "treatments"), worked_in_value(r, "blocks"));
            assert_count(r, "allocations", &n);
        } else if (worked_in(r, "count-latin")) {
            assert_true(pl_allocations_latin(&n, (size_t)worked_in_value(r, "order")));
            assert_count(r, "squares", &n);
        } else if (worked_in(r, "count-splitplot")) {
            double blocks = worked_in_value(r, "blocks"),
                   whole = worked_in_value(r, "whole_levels");

            times_factorial(&n, whole, blocks);
            times_factorial(&n, worked_in_value(r, "sub_levels"), whole * blocks);
            assert_count(r, "allocations", &n);
        } else if (worked_in(r, "count-bibd")) {
            times_factorial(&n, worked_in_value(r, "v"), 1);
            assert_count(r, "label_permutations", &n);
            n = pl_allocations_one();
            times_factorial(&n, worked_in_value(r, "b"), 1);
            assert_count(r, "block_orders", &n);
            n = pl_allocations_one();
            times_factorial(&n, worked_in_value(r, "k"), worked_in_value(r, "b"));
            assert_count(r, "within_block_orders", &n);
        } else {
            continue;
        }
        done++;
    }
    assert_int_equal(done, 19);
}

static const char *const pastes[] = { "a", "b", "c", "d", "e", "f", "g" };

/* v pastes on boards of `hold`, n of each; no guard, for nothing is numeric. */
static const pl_plan *paste_plan(bench *b, shop *w, size_t v, unsigned boards, unsigned hold,
                                 unsigned n, uint64_t seed)
{
    const pl_plan *p;

    shop_open(w);
    shop_words(b, w, "paste", pastes, v, false);
    if (boards)
        shop_boards(w, "", boards, hold);
    w->s.times.session_s = 1e6;
    assert_ok(b, pl_plan_make(b->a, &w->s, NULL, n, seed, NULL, &p, &b->d));
    return p;
}

/* The same counts as plans say them, and the least p of two groups (min-p records). */
static void test_plans_say_their_count(void **state)
{
    static const char *const latin[] = { "12", "576", "161280" }; /* Fisher & Yates */
    bench *b = *state;
    const pl_plan *p;
    shop w;

    p = paste_plan(b, &w, 5, 12, 5, 12, 7);
    assert_string_equal(p->health.allocations.exact, "8916100448256000000000000");
    assert_false(p->health.allocations_at_most);
    p = paste_plan(b, &w, 4, 0, 0, 3, 7);
    assert_string_equal(p->health.allocations.exact, "369600");
    for (const pl_json *r = worked_list(b, "randomisation.json")->child; r; r = r->next)
        if (worked_in(r, "min-p")) {
            unsigned n = (unsigned)worked_in_value(r, "n");

            p = paste_plan(b, &w, 2, 0, 0, n, 7);
            assert_rel(worked_id(r), p->health.least_p, worked_expected(r, "two_group"), 1e-12);
            p = paste_plan(b, &w, 2, n, 2, n, 7);
            assert_rel(worked_id(r), p->health.least_p, worked_expected(r, "paired"), 1e-12);
        }
    for (unsigned v = 3; v <= 5; v++) {
        shop_open(&w);
        shop_words(b, &w, "paste", pastes, v, false);
        shop_boards(&w, "", v, v);
        w.s.times.session_s = 1e6;
        w.s.arrangement.kind = PL_ARRANGE_LATIN;
        assert_ok(b, pl_plan_make(b->a, &w.s, NULL, v, 3, NULL, &p, &b->d));
        assert_string_equal(p->health.allocations.exact, latin[v - 3]);
    }
    p = paste_plan(b, &w, 7, 7, 3, 3, 3); /* 7! labels, 7! boards, 3! on each: Fano's plane */
    assert_rel("sets", strtod(p->health.allocations.exact, NULL), 5040.0 * 5040 * 279936, 0);
    assert_true(p->health.allocations_at_most);
}

/* -------------------------------------------------------------- uniformity -- */

typedef struct seen {
    size_t n, nglue_up;
    size_t *rows; /* one assignment a row */
    size_t *count;
} seen;

static bool keep(void *context, const size_t *treatment)
{
    seen *s = context;

    memcpy(s->rows + s->n++ * s->nglue_up, treatment, s->nglue_up * sizeof *treatment);
    return true;
}

static size_t find(const seen *s, const size_t *treatment)
{
    for (size_t i = 0; i < s->n; i++)
        if (!memcmp(s->rows + i * s->nglue_up, treatment, s->nglue_up * sizeof *treatment))
            return i;
    return s->n;
}

static void assert_even(const char *what, const size_t *count, size_t n, size_t draws)
{
    double sum = 0, each = (double)draws / (double)n;

    for (size_t i = 0; i < n; i++)
        sum += ((double)count[i] - each) * ((double)count[i] - each) / each;
    print_message("%s: %zu assignments, chi-square %.1f\n", what, n, sum);
    if (sum > gsl_cdf_chisq_Qinv(UPPER, (double)n - 1) ||
        sum < gsl_cdf_chisq_Pinv(UPPER, (double)n - 1))
        fail_msg("%s: chi-square %.2f", what, sum);
}

/* Three pressures on two boards: 36 assignments less those that the guard refuses, each drawn
 * equally often; all listed, the plan's own among them. */
static void test_guarded_is_even(void **state)
{
    bench *b = *state;
    size_t draw[6], own[6], taken, room[36 * 6], count[36] = { 0 };
    seen s = { .nglue_up = 6, .rows = room, .count = count };
    const pl_plan *p;
    pl_redraw *r;
    pl_stream stream;
    bool listed;
    shop w;

    shop_open(&w);
    shop_pressure(b, &w, 3, false);
    shop_boards(&w, "", 2, 3);
    assert_ok(b, pl_plan_make(b->a, &w.s, NULL, 2, 11, NULL, &p, &b->d));
    assert_ok(b, pl_redraw_open(b->a, &w.s, p, &r, &b->d));
    assert_true(pl_redraw_follows(r));
    assert_string_equal(p->health.allocations.exact, pl_redraw_count(r).exact);
    assert_ok(b, pl_redraw_each(r, 100000, keep, &s, &listed, &taken, &b->d));
    assert_true(listed);
    assert_int_equal(taken, s.n);
    for (size_t i = 0; i < 6; i++)
        own[i] = p->glue_ups[i].treatment;
    assert_true(find(&s, own) < s.n);
    assert_true(s.n < 36);
    pl_stream_init(&stream, 5, PL_FOR_TEST, 0);
    for (size_t i = 0; i < DRAWS; i++) {
        assert_ok(b, pl_redraw_draw(r, &stream, draw, &b->d));
        assert_true(find(&s, draw) < s.n);
        count[find(&s, draw)]++;
    }
    assert_even("three pressures on two boards", count, s.n, DRAWS);
}

/* A limit of the tester's on every factor: of the 6! = 720 orders of two pastes by three pressures
 * a re-draw makes those, and only those, that a count by hand of all orders leaves: both
 * correlations at most 0.4, no run of pressures throughout (which the first bound implies here
 * but for three levels twice: the guard is asked). */
static double correlation(const double *x, size_t n)
{
    double mean = 0, xy = 0, xx = 0, tt = 0;

    for (size_t i = 0; i < n; i++)
        mean += x[i] / (double)n;
    for (size_t i = 0; i < n; i++) {
        double t = (double)i - (double)(n - 1) / 2;

        xy += t * (x[i] - mean);
        xx += (x[i] - mean) * (x[i] - mean);
        tt += t * t;
    }
    return xy / sqrt(xx * tt);
}

static void test_limit_is_repeated(void **state)
{
    enum { N = 6 };
    bench *b = *state;
    size_t rows[720 * N];
    seen s = { .nglue_up = N, .rows = rows };
    bool listed;
    size_t taken, by_hand = 0, draw[N];
    const pl_plan *p;
    pl_stream stream;
    pl_redraw *r;
    shop w;

    shop_open(&w);
    shop_words(b, &w, "paste", pastes, 2, false);
    shop_pressure(b, &w, 3, false);
    w.s.times.clamp_s = 600; /* one sitting */
    w.s.arrangement.order_limit = 0.4;
    assert_ok(b, pl_plan_make(b->a, &w.s, NULL, 1, 3, NULL, &p, &b->d));
    assert_true(p->health.order_balance <= 0.4);
    assert_true(p->health.order_bound == 0.4);
    assert_ok(b, pl_redraw_open(b->a, &w.s, p, &r, &b->d));
    assert_ok(b, pl_redraw_each(r, 1000, keep, &s, &listed, &taken, &b->d));
    assert_true(listed);
    for (size_t code = 0; code < 46656; code++) { /* 6^6 */
        double paste[N], pressure[N];
        unsigned used = 0;
        int rising = 0, falling = 0;

        for (size_t i = 0, rest = code; i < N; i++, rest /= N) {
            used |= 1u << rest % N;
            paste[i] = (double)(rest % N / 3);
            pressure[i] = (double)(rest % N % 3);
            rising += i && pressure[i] < pressure[i - 1];
            falling += i && pressure[i] > pressure[i - 1];
        }
        by_hand += used == 63 && rising && falling && fabs(correlation(paste, N)) <= 0.4 &&
                   fabs(correlation(pressure, N)) <= 0.4;
    }
    assert_int_equal(taken, by_hand);
    pl_stream_init(&stream, 7, PL_FOR_TEST, 0);
    for (size_t i = 0; i < DRAWS; i++) {
        assert_ok(b, pl_redraw_draw(r, &stream, draw, &b->d));
        assert_true(find(&s, draw) < s.n);
    }
}

/* Squares of order 4: treatments over the 16 glue-ups, as Latin squares. */
static void test_squares(void **state)
{
    bench *b = *state;
    size_t draw[16], count[16 * 4] = { 0 };
    const pl_plan *p;
    pl_redraw *r;
    pl_stream stream;
    shop w;

    shop_open(&w);
    shop_words(b, &w, "paste", pastes, 4, false);
    shop_boards(&w, "", 4, 4);
    w.s.arrangement.kind = PL_ARRANGE_LATIN;
    assert_ok(b, pl_plan_make(b->a, &w.s, NULL, 4, 3, NULL, &p, &b->d));
    assert_ok(b, pl_redraw_open(b->a, &w.s, p, &r, &b->d));
    assert_true(pl_redraw_follows(r));
    pl_stream_init(&stream, 5, PL_FOR_TEST, 0);
    for (size_t k = 0; k < DRAWS; k++) {
        unsigned board[4] = { 0 }, session[4] = { 0 };

        assert_ok(b, pl_redraw_draw(r, &stream, draw, &b->d));
        for (size_t i = 0; i < 16; i++) {
            board[p->glue_ups[i].board] |= 1u << draw[i];
            session[p->glue_ups[i].session - 1] |= 1u << draw[i];
            count[i * 4 + draw[i]]++;
        }
        for (size_t i = 0; i < 4; i++)
            assert_true(board[i] == 15 && session[i] == 15);
    }
    for (size_t i = 0; i < 16; i++)
        assert_even("a cell of a square", count + i * 4, 4, DRAWS);
}

/* Does a re-draw give what new plans give? Treatments on short boards cut up by sessions: of
 * each pair of glue-ups of one board, and of one session, whether treatments a and b meet. */
static void meet(const pl_plan *p, const size_t *treatment, size_t v, double *board,
                 double *session)
{
    for (size_t i = 0; i < p->nglue_up; i++)
        for (size_t j = 0; j < i; j++) {
            size_t pair = treatment[i] < treatment[j] ? treatment[i] * v + treatment[j]
                                                      : treatment[j] * v + treatment[i];

            board[pair] += p->glue_ups[i].board == p->glue_ups[j].board;
            session[pair] += p->glue_ups[i].session == p->glue_ups[j].session;
        }
}

static const pl_plan *cut_plan(bench *b, shop *w, pl_arrangement kind, uint64_t seed)
{
    const pl_plan *p;

    shop_open(w);
    shop_words(b, w, "paste", pastes, 5, false);
    shop_boards(w, "", 4, 5);
    shop_press(w, "press", 1, -1);
    w->s.times.session_s = 4 * 4500;
    w->s.arrangement.kind = kind;
    assert_ok(b, pl_plan_make(b->a, &w->s, NULL, 4, seed, NULL, &p, &b->d));
    return p;
}

static void compare_meetings(pl_arrangement kind)
{
    double plan[2][25] = { { 0 } }, again[2][25] = { { 0 } };
    const size_t n = 400;

    for (size_t k = 0; k < n; k++) {
        size_t own[20], draw[20];
        const pl_plan *p;
        pl_redraw *r;
        pl_stream stream;
        void *state;
        bench *b;
        shop w;

        bench_open(&state);
        b = state;
        p = cut_plan(b, &w, kind, k);
        for (size_t i = 0; i < 20; i++)
            own[i] = p->glue_ups[i].treatment;
        meet(p, own, 5, plan[0], plan[1]);
        assert_ok(b, pl_redraw_open(b->a, &w.s, p, &r, &b->d));
        assert_true(pl_redraw_follows(r));
        pl_stream_init(&stream, k, PL_FOR_TEST, 1);
        assert_ok(b, pl_redraw_draw(r, &stream, draw, &b->d));
        for (size_t i = 0, same = 0; i < 20; i++) { /* each board as many of each as before */
            same = 0;
            for (size_t j = 0; j < 20; j++)
                same += p->glue_ups[j].board == p->glue_ups[i].board && draw[j] == draw[i];
            assert_int_equal(same, 1);
        }
        meet(p, draw, 5, again[0], again[1]);
        bench_close(&state);
    }
    for (size_t i = 0; i < 25; i++) {
        /* a mean of n counts of sd at most 1 each: five standard errors of a difference */
        assert_abs("meet on a board", again[0][i] / (double)n, plan[0][i] / (double)n, 1e-12);
        assert_abs("meet in a session", again[1][i] / (double)n, plan[1][i] / (double)n,
                   5 * sqrt(2 / (double)n));
    }
}

static void test_cut_boards(void **state)
{
    (void)state;
    compare_meetings(PL_ARRANGE_AUTO);
    compare_meetings(PL_ARRANGE_ROW_COLUMN);
}

/* Short boards: seven treatments in sevens of three, which stay Fano's plane. */
static void test_sets_stay_balanced(void **state)
{
    bench *b = *state;
    size_t draw[21], count[21 * 7] = { 0 };
    const pl_plan *p;
    pl_redraw *r;
    pl_stream stream;
    shop w;

    p = paste_plan(b, &w, 7, 7, 3, 3, 9);
    assert_ok(b, pl_redraw_open(b->a, &w.s, p, &r, &b->d));
    assert_true(pl_redraw_follows(r));
    pl_stream_init(&stream, 1, PL_FOR_TEST, 0);
    for (size_t k = 0; k < DRAWS; k++) {
        double board[49] = { 0 }, session[49] = { 0 };

        assert_ok(b, pl_redraw_draw(r, &stream, draw, &b->d));
        meet(p, draw, 7, board, session);
        for (size_t i = 0; i < 7; i++)
            for (size_t j = i + 1; j < 7; j++)
                assert_true(board[i * 7 + j] == 1);
        for (size_t i = 0; i < 21; i++)
            count[i * 7 + draw[i]]++;
    }
    for (size_t i = 0; i < 21; i++)
        assert_even("a place of the plane", count + i * 7, 7, DRAWS);
}

/* A plan whose seed is not the one it was drawn with: nothing is presumed of it. */
static void test_strange_plan(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    size_t *draw;
    pl_plan other;
    pl_redraw *r;
    pl_stream stream;
    shop w;

    shop_stairs(b, &w, 4, 4, 4, 2);
    assert_ok(b, pl_plan_make(b->a, &w.s, NULL, 4, 11, NULL, &p, &b->d));
    other = *p;
    other.drawn.seed = 12;
    draw = PL_NEWN(b->a, p->nglue_up, size_t);
    assert_ok(b, pl_redraw_open(b->a, &w.s, &other, &r, &b->d));
    assert_false(pl_redraw_follows(r));
    pl_stream_init(&stream, 1, PL_FOR_TEST, 0);
    for (size_t k = 0; k < 50; k++) {
        assert_ok(b, pl_redraw_draw(r, &stream, draw, &b->d));
        for (size_t i = 0; i < p->nglue_up; i++) {
            int with = pl_study_with_board(&w.s);

            assert_int_equal(p->treatments[draw[i] * p->nfactor + (size_t)with],
                             p->treatments[p->glue_ups[i].treatment * p->nfactor + (size_t)with]);
        }
    }
    assert_int_equal(b->d.count, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_counts),
        TEST(test_plans_say_their_count),
        TEST(test_guarded_is_even),
        TEST(test_limit_is_repeated),
        TEST(test_squares),
        TEST(test_cut_boards),
        TEST(test_sets_stay_balanced),
        TEST(test_strange_plan),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
