/* Is every allocation that a small design allows drawn equally often? Each design is drawn from so
 * many seeds that every allocation is expected 30 times and more, and all counts are held against
 * equal chances by Pearson's chi-square, which must lie between its lower and upper 0.05 % points
 * (too even is not random either). Were the seeds random, a true design would fail 1 time in 1,000,
 * and any of the 13 cases here 1 time in 77; the seeds are fixed, so the outcome is too. How many
 * allocations there are is counted by hand beside each case, and exactly so many must turn up. */
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>

#include "shop.h"

#include "design/redraw.h"

#define TAIL 5e-4
#define EACH 30 /* expected draws of an allocation */
#define ALLOCATIONS_MOST 200
#define SIGNS_MOST 64

typedef struct tally {
    char sign[ALLOCATIONS_MOST][SIGNS_MOST];
    size_t count[ALLOCATIONS_MOST], n, draws;
} tally;

static void add(tally *t, const char *sign)
{
    size_t i = 0;

    while (i < t->n && strcmp(t->sign[i], sign) != 0)
        i++;
    assert_true(i < ALLOCATIONS_MOST && strlen(sign) < SIGNS_MOST);
    if (i == t->n)
        strcpy(t->sign[t->n++], sign);
    t->count[i]++;
    t->draws++;
}

static void assert_uniform(const char *what, const tally *t, size_t allocations)
{
    double each = (double)t->draws / (double)allocations, sum = 0, df = (double)allocations - 1;
    double low = gsl_cdf_chisq_Pinv(TAIL, df), high = gsl_cdf_chisq_Qinv(TAIL, df);

    assert_true(t->draws >= EACH * allocations);
    if (t->n != allocations)
        fail_msg("%s: %zu allocations, counted by hand %zu", what, t->n, allocations);
    for (size_t i = 0; i < t->n; i++)
        sum += ((double)t->count[i] - each) * ((double)t->count[i] - each) / each;
    print_message("%s: %zu allocations, chi-square %.1f, between %.1f and %.1f\n", what,
                  allocations, sum, low, high);
    if (sum < low || sum > high)
        fail_msg("%s: chi-square %.2f", what, sum);
}

typedef void build(bench *b, shop *w);
typedef void sign(const pl_plan *p, pl_text *t);

static void draw(const char *what, build *make, unsigned n, sign *say, size_t allocations)
{
    static tally t;

    t = (tally){ 0 };
    for (uint64_t seed = 0; seed < EACH * allocations; seed++) {
        const pl_plan *p;
        pl_text words;
        void *own;
        bench *b;
        shop w;

        bench_open(&own);
        b = own;
        shop_open(&w);
        make(b, &w);
        assert_ok(b, pl_plan_make(b->a, &w.s, NULL, n, seed, NULL, &p, &b->d));
        pl_text_init(&words, b->a);
        say(p, &words);
        add(&t, pl_text_done(&words));
        bench_close(&own);
    }
    assert_uniform(what, &t, allocations);
}

/* ------------------------------------------------------------------ signs -- */

static const char *const names[] = { "a", "b", "c", "d" };

/* Treatments in glue order. */
static void in_order(const pl_plan *p, pl_text *t)
{
    for (size_t i = 0; i < p->nglue_up; i++)
        pl_text_add(t, "%zu ", p->glue_ups[i].treatment);
}

/* The same with boards. */
static void in_order_on_boards(const pl_plan *p, pl_text *t)
{
    for (size_t i = 0; i < p->nglue_up; i++)
        pl_text_add(t, "%zu%d ", p->glue_ups[i].treatment, p->glue_ups[i].board);
}

/* Treatments by board and place along it. */
static void on_places(const pl_plan *p, pl_text *t)
{
    for (int board = 0; board < (int)p->nboard; board++)
        for (unsigned place = 1; place <= p->nspecimen; place++)
            for (size_t i = 0; i < p->nspecimen; i++)
                if (p->glue_ups[p->specimens[i].glue_up].board == board &&
                    p->specimens[i].place == place)
                    pl_text_add(t, "%zu ", p->glue_ups[p->specimens[i].glue_up].treatment);
}

/* Treatments by board, in any place: rising. */
static void on_boards(const pl_plan *p, pl_text *t)
{
    for (int board = 0; board < (int)p->nboard; board++) {
        for (size_t k = 0; k < p->ntreatment; k++)
            for (size_t i = 0; i < p->nglue_up; i++)
                if (p->glue_ups[i].board == board && p->glue_ups[i].treatment == k)
                    pl_text_add(t, "%zu", k);
        pl_text_put(t, " ");
    }
}

/* Treatments by board and session. */
static void in_cells(const pl_plan *p, pl_text *t)
{
    for (int board = 0; board < (int)p->nboard; board++)
        for (unsigned session = 1; session <= p->nsession; session++)
            for (size_t i = 0; i < p->nglue_up; i++)
                if (p->glue_ups[i].board == board && p->glue_ups[i].session == session)
                    pl_text_add(t, "%zu ", p->glue_ups[i].treatment);
}

/* ------------------------------------------------------------- unrestricted -- */

static void one_sitting(bench *b, shop *w)
{
    shop_words(b, w, "paste", names, 4, false);
    shop_press(w, "press", 1, -1);
}

static void two_boards(bench *b, shop *w)
{
    shop_words(b, w, "paste", names, 3, false);
    shop_boards(w, "", 2, 3);
    shop_press(w, "press", 1, -1);
}

/* 4! orders; 3! on each of two boards. */
static void test_blocks(void **state)
{
    (void)state;
    draw("orders of four", one_sitting, 1, in_order, 24);
    draw("places on two boards", two_boards, 2, on_places, 36);
}

/* Pressures, whose order may not follow the time: the guard takes those of the 24 orders whose rank
 * correlation is at most 1/sqrt(3); they are counted from all 24. */
static void pressures(bench *b, shop *w)
{
    shop_pressure(b, w, 4, false);
    shop_press(w, "press", 1, -1);
}

static void test_guarded(void **state)
{
    size_t taken = 0;

    (void)state;
    for (int a = 0; a < 4; a++)
        for (int c = 0; c < 4; c++)
            for (int d = 0; d < 4; d++) {
                int e = 6 - a - c - d;
                double r = (a - 1.5) * -1.5 + (c - 1.5) * -0.5 + (d - 1.5) * 0.5 + (e - 1.5) * 1.5;

                if (a == c || a == d || c == d)
                    continue;
                taken += (r / 5) * (r / 5) <= 1.0 / 3;
            }
    draw("guarded orders of four", pressures, 1, in_order, taken);
}

/* Words are guarded when the study gives a limit: of the 6 orders of two of each of two pastes
 * those whose correlation with time is at most 0.5, counted from all: ABBA, BAAB (0), ABAB, BABA
 * (0.45), not AABB, BBAA (0.89). As glue-ups of one paste are told apart, each stands for 2 x 2. */
static void limited(bench *b, shop *w)
{
    shop_words(b, w, "paste", names, 2, false);
    shop_press(w, "press", 1, -1);
    w->s.arrangement.order_limit = 0.5;
}

static void test_limited(void **state)
{
    (void)state;
    draw("limited orders of two pastes", limited, 2, in_order, 4);
}

/* ------------------------------------------------------------- split plots -- */

static void rooms(bench *b, shop *w)
{
    shop_words(b, w, "room", names, 2, false);
    w->factors[0].hard = 1;
    shop_words(b, w, "paste", names, 3, false);
    shop_press(w, "press", 1, -1);
    w->s.times.clamp_s = 600; /* all in one sitting */
}

static void rooms_twice(bench *b, shop *w)
{
    rooms(b, w);
    w->factors[1].nlevel = 2;
}

static void three_layers(bench *b, shop *w)
{
    rooms_twice(b, w);
    w->factors[0].hard = 2;
    w->factors[1].hard = 1;
    shop_words(b, w, "pads", names, 2, false);
}

static void own_boards(bench *b, shop *w)
{
    rooms_twice(b, w);
    shop_boards(w, "", 2, 2);
}

/* 2! orders of the rooms, 3! pastes in each; with two of each and twice: (2 x 2 x 2)^2; three
 * layers: 2 rooms, 2 pastes in each, 2 pads in each of four. Two boards that hold a stretch each:
 * which one has which room as well. */
static void test_split_plots(void **state)
{
    (void)state;
    draw("split plot", rooms, 1, in_order, 2 * 6 * 6);
    draw("split plot, twice", rooms_twice, 2, in_order, 64);
    draw("split-split plot", three_layers, 1, in_order, 2 * 4 * 16);
    draw("split plot on boards", own_boards, 1, in_order_on_boards, 8 * 2);
}

/* The same by drawing one plan's treatments anew, as the randomisation test does. */
static void test_split_redrawn(void **state)
{
    static tally t;
    bench *b = *state;
    pl_redraw *r = NULL;
    const pl_plan *p;
    size_t *treatment;
    pl_stream stream;
    shop w;

    shop_open(&w);
    rooms(b, &w);
    assert_ok(b, pl_plan_make(b->a, &w.s, NULL, 1, 7, NULL, &p, &b->d));
    assert_string_equal(p->health.allocations.exact, "72");
    treatment = PL_NEWN(b->a, p->nglue_up, size_t);
    assert_ok(b, pl_redraw_open(b->a, &w.s, p, &r, &b->d));
    pl_stream_init(&stream, 5, PL_FOR_TEST, 0);
    for (size_t k = 0; k < EACH * 72; k++) {
        pl_text words;

        assert_ok(b, pl_redraw_draw(r, &stream, treatment, &b->d));
        pl_text_init(&words, b->a);
        for (size_t i = 0; i < p->nglue_up; i++)
            pl_text_add(&words, "%zu ", treatment[i]);
        add(&t, pl_text_done(&words));
    }
    assert_uniform("split plot drawn anew", &t, 72);
}

/* ------------------------------------------------------ boards and sessions -- */

static void three_by_three(bench *b, shop *w)
{
    shop_words(b, w, "glue", names, 3, false);
    shop_boards(w, "", 3, 3);
    shop_press(w, "press", 3, -1);
}

static void latin(bench *b, shop *w)
{
    three_by_three(b, w);
    w->s.arrangement.kind = PL_ARRANGE_LATIN;
}

static void graeco(bench *b, shop *w)
{
    three_by_three(b, w);
    shop_words(b, w, "pads", names, 3, false);
    w->s.arrangement.kind = PL_ARRANGE_GRAECO_LATIN;
}

static void row_column(bench *b, shop *w)
{
    three_by_three(b, w);
    w->boards[0].specimens = 2;
    w->s.arrangement.kind = PL_ARRANGE_ROW_COLUMN;
}

static void pairs(bench *b, shop *w)
{
    row_column(b, w);
    w->s.arrangement.kind = PL_ARRANGE_INCOMPLETE_BLOCKS;
}

/* 12 Latin squares of order 3 (Fisher & Yates), each with 3! squares of the other letters at right
 * angles to it: 72 pairs. Three in pairs of two: 3! ways to lay the pairs on boards; in rows of
 * sessions 3! x 2, as the second session may repeat nothing on a board. */
static void test_squares(void **state)
{
    (void)state;
    draw("Latin squares of order 3", latin, 3, in_cells, 12);
    draw("Graeco-Latin squares of order 3", graeco, 1, in_cells, 72);
    draw("pairs on boards", pairs, 2, on_boards, 6);
    draw("rows and columns", row_column, 2, in_cells, 12);
}

/* ---------------------------------------------------------------- fractions -- */

static void half(bench *b, shop *w)
{
    static const uint32_t generated[] = { 0, 0, 3 };

    shop_words(b, w, "one", names, 2, false);
    shop_words(b, w, "two", names, 2, false);
    shop_words(b, w, "three", names, 2, false);
    w->s.arrangement = (pl_arrange){ .kind = PL_ARRANGE_FRACTION,
                                     .runs = 4,
                                     .generated = generated };
    shop_press(w, "press", 1, -1);
}

static void half_on_boards(bench *b, shop *w)
{
    half(b, w);
    shop_boards(w, "", 2, 2);
}

/* Four runs: 4! orders. On two boards of two each way to part them gives one factor to the boards,
 * so none is better: 4 x 3 / 2 = 6. */
static void test_fractions(void **state)
{
    (void)state;
    draw("orders of a fraction", half, 1, in_order, 24);
    draw("a fraction on boards", half_on_boards, 1, on_boards, 6);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_blocks),        TEST(test_guarded), TEST(test_limited),   TEST(test_split_plots),
        TEST(test_split_redrawn), TEST(test_squares), TEST(test_fractions),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
