/* Joints beside those that are compared: reference joints of every session, pairs that bridge two
 * rigs. */
#include <gsl/gsl_errno.h>

#include "shop.h"

#include "design/plan_grow.h"
#include "design/plan_repair.h"
#include "design/redraw.h"

/* Six pressures, two woods, six boards of each and some more; weights make the lower half, the
 * air press the upper, and both make the third from below. */
static void two_rigs(bench *b, shop *w, unsigned boards, unsigned stations)
{
    shop_open(w);
    shop_pressure(b, w, 6, false);
    shop_words(b, w, "species", woods, 2, true);
    shop_boards(w, "beech", boards, 7);
    shop_boards(w, "larch", boards, 7);
    shop_rig(w, "weights");
    shop_rig(w, "air press");
    shop_press(w, "stand", stations, 0);
    shop_press(w, "frame", 2, 1);
    (void)shop_points(w, 6, 3, 0, 1);
    w->at[2 * 2 + 1].can = true;
    w->s.scatter = (pl_scatter){ .sd_Pa = NAN, .cv = 0.12, .glue_ups = 8 };
    w->s.breaking.expected_strength_Pa = NAN;
    w->s.question.worth_noticing = (pl_worth){ .value = 0.15, .relative = true, .text = "15 %" };
    w->s.bridging = (pl_bridging){ .level = -1, .at_most = { .value = NAN } };
    w->s.budget.press_s = NAN;
}

static const int beech_at_08[] = { 3, 0 }; /* levels 0.1 0.2 0.4 0.8 ...; beech */

typedef struct counts {
    size_t pairs, references;
} counts;

static counts check_extras(const shop *w, const pl_plan *p)
{
    counts n = { 0, 0 };

    for (unsigned k = 1; k <= p->nsession; k++) {
        size_t own = 0;

        for (size_t i = 0; i < p->nglue_up; i++)
            own += p->glue_ups[i].reference && p->glue_ups[i].session == k;
        assert_int_equal(own, w->s.reference.given ? w->s.reference.per_session : 0);
        n.references += own;
    }
    for (size_t i = 0; i < p->nglue_up; i++) {
        const pl_glue_up *g = &p->glue_ups[i];
        size_t partners = 0;

        assert_false(g->reference && g->pair);
        assert_false(g->spare && (g->reference || g->pair));
        if (g->reference)
            assert_memory_equal(p->treatments + g->treatment * p->nfactor, w->s.reference.levels,
                                p->nfactor * sizeof(int));
        for (size_t k = 0; k < p->nglue_up && g->pair; k++) {
            const pl_glue_up *o = &p->glue_ups[k];

            if (k == i || o->pair != g->pair)
                continue;
            partners++;
            assert_int_equal(o->treatment, g->treatment);
            assert_int_equal(o->session, g->session);
            assert_int_equal(o->board, g->board);
            assert_int_not_equal(o->rig, g->rig);
        }
        assert_int_equal(partners, g->pair ? 1 : 0);
        n.pairs += g->pair > n.pairs ? g->pair - n.pairs : 0;
        if (g->spare)
            continue;
        assert_int_equal(g->glue_order, i + 1);
        for (size_t k = 0; k < i; k++) /* a closing takes one glue-up */
            assert_false(p->glue_ups[k].session == g->session && p->glue_ups[k].press == g->press &&
                         p->glue_ups[k].station == g->station &&
                         p->glue_ups[k].start_s == g->start_s);
        if (g->rig >= 0) { /* on a press that has the rig, which can make the level */
            const pl_press *press = &w->presses[g->press];

            assert_int_equal(press->rigs[0], g->rig);
            assert_true(pl_set_points_at(&w->points,
                                         (size_t)p->treatments[g->treatment * p->nfactor],
                                         (size_t)g->rig)
                            ->can);
        }
    }
    return n;
}

/* b pairs leave the difference a standard error of sqrt(2/b) sd (two independent means of b): 12 %
 * against half of 15 % needs 2 (12/7.5)^2 = 5.12, so 6. */
static void test_how_many_pairs(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    counts n;
    shop w;

    two_rigs(b, &w, 9, 3);
    w.s.bridging.given = true;
    assert_ok(b, pl_plan_make(b->a, &w.s, &w.points, 6, 3, NULL, &p, &b->d));
    n = check_extras(&w, p);
    assert_int_equal(n.pairs, 6);
    assert_non_null(strstr(p->chosen, "6 pairs that bridge two rigs"));
    assert_non_null(strstr(p->health.cannot[1], "6 pairs at 0.4 N/mm2"));
    w.s.bridging.at_most = (pl_worth){ .value = 0.05, .relative = true, .text = "5 %" };
    assert_ok(b, pl_plan_make(b->a, &w.s, &w.points, 6, 3, NULL, &p, &b->d));
    assert_int_equal(check_extras(&w, p).pairs, 12); /* 11.52 */
    w.s.budget.specimens = 72 + 2 * 5 + 1;           /* room for 5 */
    assert_ok(b, pl_plan_make(b->a, &w.s, &w.points, 6, 3, NULL, &p, &b->d));
    assert_int_equal(check_extras(&w, p).pairs, 5);
    assert_non_null(strstr(p->health.cannot[1], "less surely than asked"));
    w.s.bridging.given = false; /* then it is offered */
    assert_ok(b, pl_plan_make(b->a, &w.s, &w.points, 6, 3, NULL, &p, &b->d));
    assert_int_equal(check_extras(&w, p).pairs, 0);
    assert_non_null(strstr(p->health.cannot[1], "the budget has room for 5"));
    w.s.budget.specimens = 0;
    w.at[2 * 2 + 1].can = false;
    assert_ok(b, pl_plan_make(b->a, &w.s, &w.points, 6, 3, NULL, &p, &b->d));
    assert_non_null(strstr(p->health.cannot[1], "no level is made both by"));
}

/* Random shops: everything has its place, re-draws leave these joints alone, and nothing of the
 * plan's own is lost. */
static void test_random(void **state)
{
    (void)state;
    for (uint64_t seed = 0; seed < 300; seed++) {
        size_t *draw, own = 0;
        const pl_plan *p;
        pl_stream stream;
        pl_redraw *r;
        void *state_of;
        counts n;
        bench *b;
        shop w;

        bench_open(&state_of);
        b = state_of;
        pl_stream_init(&stream, seed, PL_FOR_TEST, 0);
        two_rigs(b, &w, 9 + pl_stream_below(&stream, 3), 2 + pl_stream_below(&stream, 3));
        w.s.reference = (pl_reference){ .given = pl_stream_below(&stream, 3) > 0,
                                        .levels = beech_at_08,
                                        .per_session = 1 + pl_stream_below(&stream, 2) };
        w.s.bridging.given = pl_stream_below(&stream, 2);
        w.s.bridging.pairs = 1 + pl_stream_below(&stream, 6);
        w.s.times.session_s = 21600 + 3600 * pl_stream_below(&stream, 6);
        w.s.cutting.spare_joints = 0.05 * pl_stream_below(&stream, 3);
        assert_ok(b, pl_plan_make(b->a, &w.s, &w.points, 6, seed, NULL, &p, &b->d));
        n = check_extras(&w, p);
        assert_int_equal(n.pairs, w.s.bridging.given ? w.s.bridging.pairs : 0);
        for (size_t i = 0; i < p->nglue_up; i++)
            own += !p->glue_ups[i].spare && !p->glue_ups[i].reference && !p->glue_ups[i].pair;
        assert_int_equal(own, 72);
        draw = PL_NEWN(b->a, p->nglue_up, size_t);
        assert_ok(b, pl_redraw_open(b->a, &w.s, p, &r, &b->d));
        assert_true(pl_redraw_follows(r));
        assert_ok(b, pl_redraw_draw(r, &stream, draw, &b->d));
        for (size_t i = 0; i < p->nglue_up; i++)
            if (p->glue_ups[i].reference || p->glue_ups[i].pair)
                assert_int_equal(draw[i], p->glue_ups[i].treatment);
        bench_close(&state_of);
    }
}

static void test_refusals(void **state)
{
    static const int nowhere[] = { 9, 0 };
    bench *b = *state;
    const pl_plan *p;
    shop w;

    two_rigs(b, &w, 9, 3);
    w.s.reference = (pl_reference){ .given = true, .levels = nowhere, .per_session = 1 };
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, &w.points, 6, 3, NULL, &p, &b->d));
    assert_finding(b, "a combination that the plan does not make");
    w.s.reference.levels = beech_at_08;
    w.s.reference.per_session = 20;
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, &w.points, 6, 3, NULL, &p, &b->d));
    assert_finding(b, "a session has no more closings for them");
    w.s.reference.given = false;
    two_rigs(b, &w, 6, 3); /* six boards of seven hold 36 and six more */
    w.s.bridging.given = true;
    w.s.bridging.pairs = 20;
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, &w.points, 6, 3, NULL, &p, &b->d));
    assert_finding(b, "add a board, or ask for fewer of these joints");
}

/* A further round and a repair: reference joints in every new session, a pair where two rigs have
 * work again, both joints of a lost pair anew; and no closing twice. */
static void check_added(const shop *w, const pl_plan *old, const pl_plan *p)
{
    assert_true(pl_plan_grown_from(p, old));
    assert_true(p->nsession > old->nsession);
    check_extras(w, p);
}

static void test_added(void **state)
{
    bench *b = *state;
    const int round[6][2] = { { 1, 0 }, { 4, 0 }, { 2, 1 }, { 5, 1 }, { 1, 1 }, { 4, 1 } };
    const size_t replicate[6] = { 0 };
    const pl_plan *old, *p, *again;
    size_t pair[2], n = 0;
    shop w;

    two_rigs(b, &w, 10, 3);
    w.boards[0].specimens = w.boards[1].specimens = 9;
    w.s.bridging.given = true;
    w.s.reference = (pl_reference){ .given = true, .levels = beech_at_08, .per_session = 1 };
    w.s.cutting.spare_joints = 0.3;
    assert_ok(b, pl_plan_make(b->a, &w.s, &w.points, 6, 3, NULL, &old, &b->d));
    assert_ok(b, pl_plan_grow(b->a, &w.s, &w.points, old, &round[0][0], replicate, 6, 8, NULL, &p,
                              &b->d));
    check_added(&w, old, p);
    assert_int_equal(check_extras(&w, old).pairs, 6);
    assert_int_equal(check_extras(&w, p).pairs, 7); /* six are enough, one for the new day */
    assert_non_null(strstr(p->chosen, "beside them 1 reference joint and 1 pair that bridges"));
    for (size_t i = 0; i < old->nglue_up && n < 2; i++)
        if (old->glue_ups[i].pair == 3)
            pair[n++] = i;
    n = 0;
    assert_ok(b, pl_plan_repair(b->a, &w.s, old, pair, 1, 9, &p, &b->d));
    check_added(&w, old, p);
    for (size_t i = 0; i < p->nglue_up; i++)
        n += p->glue_ups[i].instead != NULL;
    assert_int_equal(n, 1);
    assert_int_equal(check_extras(&w, p).pairs, 7);
    assert_ok(b, pl_plan_repair(b->a, &w.s, old, pair, 2, 9, &again, &b->d)); /* once, not twice */
    assert_int_equal(check_extras(&w, again).pairs, 7);
    assert_non_null(strstr(again->health.cannot[again->health.ncannot - 1],
                           "is told from those before it by its reference joint"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_how_many_pairs),
        TEST(test_random),
        TEST(test_refusals),
        TEST(test_added),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
