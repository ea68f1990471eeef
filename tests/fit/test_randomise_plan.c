/* A study's plan drawn again for the randomisation test. Counts are held against lists of all
 * arrangements made here, level by level, with plain sums; rates of false alarms at 1 in 20 where
 * nothing is there: at most 5 % (levels are discrete), 4 Monte Carlo errors allowed; 20,000
 * experiments in `make validation`. Shops and readings are invented. */
#include <gsl/gsl_errno.h>

#include "../design/plan_laws.h"

#include "base/stream.h"
#include "fit/randomise.h"
#include "null.h"

static const char *const pastes[] = { "a", "b", "c", "d" };
static const char *const rooms[] = { "cold", "warm", "hot" };

typedef struct sheet {
    pl_table table;
    double *y; /* a glue-up each, as the plan lists them; NAN: no reading */
} sheet;

static void put(bench *b, sheet *s, const char *name, const char *const *text, const double *number)
{
    s->table.columns[s->table.ncol++] = (pl_column){ name, "", 1, text, number };
    (void)b;
}

/* A row a glue-up, with all that the plan says of it. */
static void lay_out(bench *b, const shop *w, const pl_plan *p, sheet *s)
{
    const size_t n = p->nglue_up;
    const char **label = PL_NEWN(b->a, n, const char *), **board = PL_NEWN(b->a, n, const char *);
    const char **session = PL_NEWN(b->a, n, const char *), **y = PL_NEWN(b->a, n, const char *);
    const char **stretch = PL_NEWN(b->a, n, const char *);

    *s = (sheet){ .y = PL_NEWN(b->a, n, double) };
    s->table = (pl_table){ "sheet", n, 0, PL_NEWN(b->a, 16, pl_column), label };
    for (size_t i = 0; i < n; i++) {
        const pl_glue_up *g = &p->glue_ups[i];

        label[i] = g->label;
        board[i] = g->board < 0 ? "" : p->boards[g->board].label;
        session[i] = pl_arena_printf(b->a, "%u", g->session);
        stretch[i] = pl_arena_printf(b->a, "%u", g->stretch[0]);
        y[i] = "y";
    }
    put(b, s, "glue_up", label, NULL);
    put(b, s, "board", board, NULL);
    put(b, s, "session", session, NULL);
    if (pl_study_layers(&w->s))
        put(b, s, "stretch", stretch, NULL);
    for (size_t f = 0; f < p->nfactor; f++) {
        const char **text = PL_NEWN(b->a, n, const char *);

        for (size_t i = 0; i < n; i++)
            text[i] = w->s.factors[f].levels[level_of(p, &p->glue_ups[i], (int)f)].text;
        put(b, s, w->s.factors[f].name, text, NULL);
    }
    put(b, s, "strength", y, s->y);
}

static pl_drawn_again test_of(bench *b, const shop *w, const pl_plan *p, const sheet *s,
                              size_t factor, uint64_t draws)
{
    const pl_randomise_plan_spec spec = { &w->s, p, factor, "strength", draws, 11 };
    pl_drawn_again out;
    const char *why;

    assert_ok(b, pl_randomise_plan(b->a, &s->table, &spec, &out, &why, &b->d));
    if (why)
        fail_msg("%s", why);
    return out;
}

static void noise(const pl_plan *p, sheet *s, uint64_t draw)
{
    pl_stream r;

    pl_stream_init(&r, 5, PL_FOR_TEST, draw);
    for (size_t i = 0; i < p->nglue_up; i++)
        s->y[i] = pl_stream_normal(&r);
}

/* Sum of squares between k levels of m units each: their totals are enough. */
static double spread(const double *total, size_t k, double each)
{
    double sum = 0, ss = 0;

    for (size_t i = 0; i < k; i++)
        sum += total[i];
    for (size_t i = 0; i < k; i++)
        ss += (total[i] - sum / (double)k) * (total[i] - sum / (double)k) / each;
    return ss;
}

static const size_t orders3[6][3] = { { 0, 1, 2 }, { 0, 2, 1 }, { 1, 0, 2 },
                                      { 1, 2, 0 }, { 2, 0, 1 }, { 2, 1, 0 } };

/* Three pastes on each of four boards: 6^4 arrangements, each board's readings in every order. */
static void test_complete_blocks(void **state)
{
    bench *b = *state;
    size_t at[4] = { 0 }, far = 0, all = 0, most = 0;
    double y[4][3], made[3] = { 0 }, first, largest = 0;
    const pl_plan *p;
    pl_drawn_again t;
    sheet s;
    shop w;

    shop_open(&w);
    shop_words(b, &w, "paste", pastes, 3, false);
    shop_boards(&w, "", 4, 3);
    w.s.times.session_s = 1e6;
    assert_ok(b, pl_plan_make(b->a, &w.s, NULL, 4, 9, NULL, &p, &b->d));
    lay_out(b, &w, p, &s);
    noise(p, &s, 1);
    for (size_t i = 0; i < p->nglue_up; i++) {
        size_t l = (size_t)level_of(p, &p->glue_ups[i], 0);

        y[p->glue_ups[i].board][l] = s.y[i];
        made[l] += s.y[i];
    }
    first = spread(made, 3, 4);
    for (all = 0; all < 1296; all++) {
        double total[3] = { 0 }, ss;

        for (size_t k = 0, rest = all; k < 4; k++, rest /= 6)
            at[k] = rest % 6;
        for (size_t k = 0; k < 4; k++)
            for (size_t l = 0; l < 3; l++)
                total[l] += y[k][orders3[at[k]][l]];
        ss = spread(total, 3, 4);
        far += ss >= first * (1 - 1e-10);
        if (ss > largest * (1 + 1e-10)) {
            largest = ss;
            most = 0;
        }
        most += ss >= largest * (1 - 1e-10);
    }
    t = test_of(b, &w, p, &s, 0, 100);
    assert_true(t.all && !t.narrower && t.mc_se == 0);
    assert_int_equal(t.draws, 1296);
    assert_int_equal(t.as_far, far);
    assert_rel("as made", t.ss, first, 1e-12);
    assert_rel("p", t.p, (double)far / 1296, 1e-12);
    assert_rel("least p", t.p_least, (double)most / 1296, 1e-12);
    assert_string_equal(t.within, "board");
}

/* Rooms that are hard to change, three in each of three rows, pastes within: (3!)^3 orders of whole
 * stretches for the room, whatever pastes do; pastes change places within a stretch only. */
static void test_whole_plots(void **state)
{
    bench *b = *state;
    size_t far = 0;
    double mean[9] = { 0 }, made[3] = { 0 }, first;
    size_t level[9], seen[3] = { 0 };
    const pl_plan *p;
    pl_drawn_again room, paste;
    double yet;
    sheet s;
    shop w;

    shop_open(&w);
    shop_words(b, &w, "room", rooms, 3, false);
    w.factors[0].hard = 1;
    shop_words(b, &w, "paste", pastes, 2, false);
    w.s.times.session_s = 1e6;
    assert_ok(b, pl_plan_make(b->a, &w.s, NULL, 3, 4, NULL, &p, &b->d));
    lay_out(b, &w, p, &s);
    noise(p, &s, 2);
    for (size_t i = 0; i < p->nglue_up; i++) {
        size_t k = p->glue_ups[i].stretch[0] - 1;

        mean[k] += s.y[i] / 2;
        level[k] = (size_t)level_of(p, &p->glue_ups[i], 0);
    }
    for (size_t k = 0; k < 9; k++) {
        made[level[k]] += mean[k];
        seen[level[k]]++;
    }
    for (size_t l = 0; l < 3; l++)
        assert_int_equal(seen[l], 3);
    first = spread(made, 3, 3);
    for (size_t all = 0; all < 216; all++) {
        double total[3] = { 0 };

        for (size_t k = 0, rest = all; k < 3; k++, rest /= 6)
            for (size_t l = 0; l < 3; l++)
                total[orders3[rest % 6][l]] += mean[3 * k + l];
        far += spread(total, 3, 3) >= first * (1 - 1e-10);
    }
    room = test_of(b, &w, p, &s, 0, 100);
    assert_string_equal(room.unit, "stretch");
    assert_true(room.all);
    assert_int_equal(room.draws, 216);
    assert_int_equal(room.units, 9);
    assert_int_equal(room.as_far, far);
    paste = test_of(b, &w, p, &s, 1, 100);
    assert_true(paste.all);
    assert_int_equal(paste.draws, 512); /* two places in each of nine stretches */
    for (size_t i = 0; i < p->nglue_up; i++)
        s.y[i] += 7.5 * level_of(p, &p->glue_ups[i], 0);
    yet = test_of(b, &w, p, &s, 1, 100).p; /* what the room does is no matter to pastes */
    assert_rel("pastes beside rooms", yet, paste.p, 1e-12);
}

/* Two factors on complete boards: what one does changes nothing for the other. */
static void test_one_of_two(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    pl_drawn_again before, after;
    sheet s;
    shop w;

    shop_open(&w);
    shop_words(b, &w, "room", rooms, 2, false);
    shop_words(b, &w, "paste", pastes, 3, false);
    shop_boards(&w, "", 4, 6);
    w.s.times.session_s = 1e6;
    assert_ok(b, pl_plan_make(b->a, &w.s, NULL, 4, 21, NULL, &p, &b->d));
    lay_out(b, &w, p, &s);
    noise(p, &s, 3);
    before = test_of(b, &w, p, &s, 1, 2000);
    assert_false(before.all); /* 6^8 */
    assert_rel("error of p", before.mc_se, sqrt(before.p * (1 - before.p) / 2001), 1e-12);
    assert_rel("least p", before.p_least, 1.0 / 2001, 1e-12);
    for (size_t i = 0; i < p->nglue_up; i++)
        s.y[i] += 40 * level_of(p, &p->glue_ups[i], 0) + 3 * p->glue_ups[i].board;
    after = test_of(b, &w, p, &s, 1, 2000);
    assert_int_equal(before.as_far, after.as_far);
    after = test_of(b, &w, p, &s, 0, 2000); /* all 2^12 counted: the two that part the rooms */
    assert_int_equal(after.draws, 4096);
    assert_int_equal(after.as_far, 2);
    assert_rel("least p, rooms", after.p_least, 2.0 / 4096, 1e-12);
}

/* A lost reading, a joint made at another level: counted, and the labels stay those drawn. */
static void test_bench(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    pl_drawn_again before, after;
    sheet s;
    shop w;

    shop_open(&w);
    shop_words(b, &w, "paste", pastes, 3, false);
    shop_boards(&w, "", 4, 3);
    w.s.times.session_s = 1e6;
    assert_ok(b, pl_plan_make(b->a, &w.s, NULL, 4, 9, NULL, &p, &b->d));
    lay_out(b, &w, p, &s);
    noise(p, &s, 4);
    s.y[5] = NAN;
    before = test_of(b, &w, p, &s, 0, 100);
    assert_int_equal(before.lost, 1);
    assert_int_equal(before.otherwise, 0);
    assert_int_equal(before.units, 11);
    assert_int_equal(before.draws, 1296);
    for (size_t j = 0; j < s.table.ncol; j++)
        if (!strcmp(s.table.columns[j].name, "paste"))
            ((const char **)(uintptr_t)s.table.columns[j].text)[0] = level_of(p, &p->glue_ups[0], 0)
                                                                         ? "a"
                                                                         : "b";
    after = test_of(b, &w, p, &s, 0, 100);
    assert_int_equal(after.otherwise, 1);
    assert_int_equal(after.as_far, before.as_far);
}

/* What comes with the board was not drawn; a fraction holds nothing alike in all else. */
static void test_cannot(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    pl_drawn_again out;
    const char *why;
    sheet s;
    shop w;

    shop_stairs(b, &w, 4, 3, 4, 8);
    assert_ok(b, pl_plan_make(b->a, &w.s, NULL, 3, 2, NULL, &p, &b->d));
    lay_out(b, &w, p, &s);
    noise(p, &s, 5);
    assert_ok(b, pl_randomise_plan(b->a, &s.table,
                                   &(pl_randomise_plan_spec){ &w.s, p, 1, "strength", 99, 1 }, &out,
                                   &why, &b->d));
    assert_non_null(why);
    assert_non_null(strstr(why, "comes with the board"));
    assert_null(out.factor);
}

/* How often nothing is taken for something: a guarded order, boards cut short, whole plots. Each
 * experiment draws its own plan and its own readings; boards and sessions scatter. */
static void rates(bench *b, null_kind kind, const char *what, shop *w, unsigned n, size_t factor,
                  uint64_t draws, int experiments)
{
    int alarms = 0;

    for (int i = 0; i < experiments; i++) {
        pl_mark mark = pl_arena_mark(b->a);
        const pl_plan *p;
        double board[16];
        pl_stream r;
        sheet s;

        assert_ok(b, pl_plan_make(b->a, &w->s, NULL, n, (uint64_t)i + 1, NULL, &p, &b->d));
        lay_out(b, w, p, &s);
        noise(p, &s, (uint64_t)i + 100);
        pl_stream_init(&r, 6, PL_FOR_TEST, (uint64_t)i);
        for (size_t k = 0; k < 16; k++)
            board[k] = 2 * pl_stream_normal(&r);
        for (size_t k = 0; k < p->nglue_up; k++) {
            const pl_glue_up *g = &p->glue_ups[k];

            s.y[k] += (g->board < 0 ? 0 : board[g->board]) + board[15 - g->stretch[0]];
            s.y[k] += 0.1 * g->glue_order; /* a drift, too */
        }
        alarms += test_of(b, w, p, &s, factor, draws).p <= 0.05;
        pl_arena_reset(b->a, mark);
    }
    null_rate(kind, what, alarms, experiments);
}

static void test_rates(void **state)
{
    bench *b = *state;
    const int n = null_draws(20000, 300);
    shop w;

    shop_open(&w);
    shop_pressure(b, &w, 4, false);
    shop_boards(&w, "", 4, 4);
    w.s.times.session_s = 1e6;
    rates(b, NULL_EXACT, "plan drawn again: complete boards", &w, 4, 0, 99, n);

    shop_open(&w);
    shop_pressure(b, &w, 5, false);
    shop_boards(&w, "", 5, 4);
    w.s.times.session_s = 1e6;
    rates(b, NULL_EXACT, "plan drawn again: short boards", &w, 4, 0, 99, n);

    shop_open(&w);
    shop_words(b, &w, "room", rooms, 3, false);
    w.factors[0].hard = 1;
    shop_words(b, &w, "paste", pastes, 2, false);
    w.s.times.session_s = 1e6;
    rates(b, NULL_DISCRETE, "plan drawn again: whole plots, counted", &w, 3, 0, 99, n);
    rates(b, NULL_DISCRETE, "plan drawn again: within them, counted", &w, 3, 1, 99, n);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_complete_blocks), TEST(test_whole_plots), TEST(test_one_of_two),
        TEST(test_bench),           TEST(test_cannot),      TEST(test_rates),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
