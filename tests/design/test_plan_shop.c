/* Whole plans in the shop: boards, sessions, rigs, and what a plan says it cannot show. The
 * studies are invented. */
#include "plan_laws.h"

/* ------------------------------------------------------------------ boards -- */

static size_t glue_ups_on(const pl_plan *p, int board)
{
    size_t n = 0;

    for (size_t i = 0; i < p->nglue_up; i++)
        n += p->glue_ups[i].board == board && !p->glue_ups[i].spare;
    return n;
}

/* One replicate a board while boards last; then as evenly as can be. */
static void test_spread(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    shop w;

    shop_stairs(b, &w, 4, 6, 20, 4);
    p = make(b, &w, 5, 1);
    assert_int_equal(p->nboard, 10); /* 5 of each wood, 2 stay whole */
    for (int k = 0; k < 10; k++)
        assert_int_equal(glue_ups_on(p, k), 4);
    assert_rel("efficiency", p->health.efficiency, 1, 1e-12);
    assert_int_equal(p->health.unit_df, 40 - 10 - 6);
    assert_non_null(strstr(p->chosen, "each board gets every pressure once, in random places"));
    assert_non_null(strstr(p->chosen, "5 glue-ups of every pressure in each species"));
    shop_stairs(b, &w, 4, 3, 20, 4);
    p = make(b, &w, 5, 1);
    assert_int_equal(p->nboard, 6);
    for (int k = 0; k < 6; k++)
        assert_int_equal(glue_ups_on(p, k), k % 3 < 2 ? 8 : 4);
    assert_non_null(strstr(p->chosen, "every pressure once or twice"));
    shop_stairs(b, &w, 4, 3, 0, 4); /* room not known: as if there were enough */
    p = make(b, &w, 7, 1);
    assert_int_equal(glue_ups_on(p, 0), 12);
}

/* Boards that hold 3 of 4 pressures, 4 boards: the balanced design of Fisher &
 * Yates, efficiency 8/9, in every wood and whatever the seed. */
static void test_short_boards(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    shop w;

    shop_stairs(b, &w, 4, 4, 3, 4);
    for (uint64_t seed = 0; seed < 20; seed++) {
        p = make(b, &w, 3, seed);
        assert_rel("efficiency", p->health.efficiency, 8.0 / 9, 1e-12);
        assert_rel("bound", p->health.efficiency_bound, 8.0 / 9, 1e-12);
    }
    assert_non_null(strstr(p->chosen, "no board holds every pressure: each gets 3 glue-ups"));
    shop_stairs(b, &w, 4, 6, 6, 4); /* 6 places for 4 pressures: two of them twice, any two alike */
    p = make(b, &w, 9, 1);
    assert_int_equal(p->nboard, 12);
    assert_rel("efficiency", p->health.efficiency, p->health.efficiency_bound, 1e-9);
    assert_non_null(strstr(p->chosen, "the boards do not hold whole sets of every pressure"));
}

static void test_boards_refused(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    shop w;

    shop_stairs(b, &w, 8, 3, 8, 4);
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, NULL, 4, 1, NULL, &p, &b->d));
    assert_finding(b, "found beech boards for 24 glue-ups, expected room for 32");
    assert_finding(b, "larch boards for 24 glue-ups"); /* all faults in one run */
    assert_finding(b, "add beech boards, or make 3 for each combination");
    shop_stairs(b, &w, 8, 3, 8, 4);
    w.boards[1].species = "ash";
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, NULL, 1, 1, NULL, &p, &b->d));
    assert_finding(b, "found larch boards for 0 glue-ups, expected room for 8");
    shop_stairs(b, &w, 8, 1, 1, 4);
    w.s.joint.specimens_per_glue_up = 2; /* no board holds both halves of one glue-up */
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, NULL, 1, 1, NULL, &p, &b->d));
}

static void test_arrangement(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    shop w;

    shop_stairs(b, &w, 8, 9, 6, 4);
    w.s.arrangement.kind = PL_ARRANGE_COMPLETE_BLOCKS;
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, NULL, 3, 1, NULL, &p, &b->d));
    assert_finding(b, "complete-blocks, but beech boards hold 0 of 3 whole sets of 8 (the longest "
                      "holds 6 glue-ups)");
    assert_finding(b, "use longer or more boards");
    shop_stairs(b, &w, 8, 9, 8, 4);
    w.s.arrangement.kind = PL_ARRANGE_COMPLETE_BLOCKS;
    p = make(b, &w, 3, 1);
    assert_rel("efficiency", p->health.efficiency, 1, 1e-12);
    w.s.arrangement.kind = PL_ARRANGE_FULL_FACTORIAL;
    assert_string_equal(shop_text(b, &w.s, p), shop_text(b, &w.s, make(b, &w, 3, 1)));
    w.s.nboard_kinds = 0; /* sessions are the blocks then: 4 stations hold 8 a session */
    w.s.arrangement.kind = PL_ARRANGE_COMPLETE_BLOCKS;
    p = make(b, &w, 3, 1);
    assert_rel("efficiency", p->health.efficiency, 1, 1e-12);
    w.presses[0].stations = 1; /* 6 a session do not */
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, NULL, 3, 1, NULL, &p, &b->d));
    assert_finding(b, "a session too short for every combination");
}

static void test_spares(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    size_t spare = 0;
    shop w;

    shop_stairs(b, &w, 8, 3, 10, 4);
    w.s.cutting.spare_joints = 0.125;
    p = make(b, &w, 3, 1); /* 48 glue-ups: 6 spare, one a board */
    assert_int_equal(p->nglue_up, 54);
    for (int k = 0; k < 6; k++)
        for (size_t i = 0; i < p->nglue_up; i++)
            spare += p->glue_ups[i].board == k && p->glue_ups[i].spare;
    assert_int_equal(spare, 6);
    shop_stairs(b, &w, 8, 3, 8, 4); /* no room */
    w.s.cutting.spare_joints = 0.125;
    p = make(b, &w, 3, 1);
    assert_int_equal(p->nglue_up, 48);
    assert_non_null(strstr(p->health.cannot[p->health.ncannot - 1], "0 of the 6 spare joints"));
    w.s.nboard_kinds = 0; /* no boards: they are at least numbered */
    p = make(b, &w, 3, 1);
    assert_int_equal(p->nglue_up, 54);
}

/* All specimens of a glue-up come from one board; a board holds whole glue-ups. */
static void test_several_a_glue_up(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    shop w;

    shop_stairs(b, &w, 4, 4, 13, 2);
    w.presses[0].specimens_at_once = 3;
    p = make(b, &w, 4, 1);
    assert_int_equal(p->nspecimen, 4 * 8 * 3);
    assert_int_equal(p->nboard, 8);
}

/* ---------------------------------------------------------------- sessions -- */

/* "24 joints at one clamp hour each on one press are 24 press hours": common
 * practice, no source. The hours stand in the schedule, not only in a product:
 * three sessions of eight, back to back. */
static void test_press_hours(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    double closed_s = 0;
    shop w;

    shop_open(&w);
    shop_pressure(b, &w, 8, false);
    shop_press(&w, "the only press", 1, -1);
    w.s.times.hands_on_s = 0;
    p = make(b, &w, 3, 1);
    assert_rel("press hours", pl_plan_press_s(&w.s, p) / 3600, 24, 1e-15);
    assert_int_equal(p->nsession, 3);
    for (unsigned k = 1; k <= 3; k++) {
        double first = 1e9, last = 0;

        for (size_t i = 0; i < p->nglue_up; i++)
            if (p->glue_ups[i].session == k) {
                first = fmin(first, p->glue_ups[i].start_s);
                last = fmax(last, p->glue_ups[i].start_s + 3600);
            }
        closed_s += last - first;
    }
    assert_rel("hours in the schedule", closed_s / 3600, 24, 1e-12);
}

static unsigned sessions_for(bench *b, unsigned stations, double clamp_s, double hands_s,
                             double changeover_s)
{
    shop w;

    shop_open(&w);
    shop_pressure(b, &w, 6, false);
    shop_press(&w, "press", stations, -1);
    w.presses[0].changeover_s = changeover_s;
    w.s.times.clamp_s = clamp_s;
    w.s.times.hands_on_s = hands_s;
    return make(b, &w, 8, 1)->nsession; /* 48 glue-ups, whole sets of 6 */
}

/* Eight hours, by hand. */
static void test_capacity(void **state)
{
    bench *b = *state;

    assert_int_equal(sessions_for(b, 1, 3600, 1200, 0), 8);   /* 6 x 80 min */
    assert_int_equal(sessions_for(b, 1, 3600, 1200, 60), 10); /* 5 fit: sets are cut up */
    assert_int_equal(sessions_for(b, 2, 3600, 1200, 0), 5);   /* 6 + 5: a set each, 8, or cut up */
    assert_int_equal(sessions_for(b, 6, 3600, 600, 0), 2);    /* six rounds of 70 min */
    assert_int_equal(sessions_for(b, 1, 12 * 3600, 600, 0), 48); /* one a day, overnight */
    assert_int_equal(sessions_for(b, 12, 12 * 3600, 600, 0), 4);
    assert_int_equal(sessions_for(b, 1, NAN, 600, 0), 1);    /* no times: one sitting */
    assert_int_equal(sessions_for(b, 48, 3600, 1200, 0), 3); /* hands, not presses, are short */
}

static void test_session_refused(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    shop w;

    shop_stairs(b, &w, 4, 4, 8, 1);
    w.s.times.hands_on_s = 9 * 3600;
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, NULL, 3, 1, NULL, &p, &b->d));
    assert_finding(b, "hands-on time longer than a session");
}

/* Every session holds boards of both woods where boards fit in pairs. */
static void test_both_woods(void **state)
{
    bench *b = *state;
    shop w;

    shop_stairs(b, &w, 4, 7, 4, 2);
    for (uint64_t seed = 0; seed < 20; seed++) {
        const pl_plan *p = make(b, &w, 7, seed);

        assert_int_equal(p->nsession, 5); /* 12 closings: 3 boards of 14 */
        for (unsigned k = 1; k <= p->nsession; k++) {
            bool seen[2] = { false, false };

            for (size_t i = 0; i < p->nglue_up; i++)
                if (p->glue_ups[i].session == k)
                    seen[level_of(p, &p->glue_ups[i], 1)] = true;
            assert_true(seen[0] && seen[1]);
        }
    }
}

/* -------------------------------------------------------------------- rigs -- */

static bool says(const pl_plan *p, const char *part)
{
    for (size_t i = 0; i < p->health.ncannot; i++)
        if (strstr(p->health.cannot[i], part))
            return true;
    for (size_t i = 0; i < p->health.ncannot; i++)
        print_error("  %s\n", p->health.cannot[i]);
    return false;
}

static void test_rig_confounding(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    shop w;

    shop_open(&w);
    shop_pressure(b, &w, 4, false);
    shop_rig(&w, "weights");
    shop_rig(&w, "air press");
    shop_press(&w, "low", 2, 0);
    shop_press(&w, "high", 2, 1);
    shop_points(&w, 4, 2, 0, 1);
    p = make(b, &w, 3, 1);
    /* pairs 1-3 1-4 2-3 2-4 of six */
    assert_rel("share", p->health.rig_confounding, 4.0 / 6, 1e-15);
    assert_true(says(p, "0.1 N/mm2 and 0.2 N/mm2 are made by weights, 0.4 N/mm2 and 0.8 N/mm2 are "
                        "made by air press: a step between 0.2 N/mm2 and 0.4 N/mm2 cannot be told "
                        "from a difference between the rigs"));
    shop_points(&w, 4, 0, 0, 1);
    p = make(b, &w, 3, 1);
    assert_true(p->health.rig_confounding == 0);
}

static void test_rig_on_a_press(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    shop w;

    shop_open(&w);
    shop_pressure(b, &w, 3, false);
    shop_rig(&w, "weights");
    shop_rig(&w, "jack");
    shop_press(&w, "low", 2, 0);
    shop_points(&w, 3, 2, 0, 1);
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, &w.points, 3, 1, NULL, &p, &b->d));
    assert_finding(b, "no press with the rig \"jack\" that makes 0.4 N/mm2");
    w.at[2 * 2 + 0].can = true; /* weights can too, and are on a press */
    p = make(b, &w, 3, 1);
    for (size_t i = 0; i < p->nglue_up; i++)
        assert_int_equal(p->glue_ups[i].rig, 0);
    w.at[2 * 2 + 0].can = false;
    w.chosen[2] = -1;
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, &w.points, 3, 1, NULL, &p, &b->d));
    assert_finding(b, "no rig that makes 0.4 N/mm2");
}

/* --------------------------------------------------- what it cannot show -- */

static void test_cannot(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    shop w;

    shop_stairs(b, &w, 4, 1, 20, 4);
    p = make(b, &w, 3, 1);
    assert_true(says(p, "one beech board: nothing here tells beech from this beech board"));
    assert_true(says(p, "one larch board"));
    shop_stairs(b, &w, 6, 4, 6, 1);
    p = make(b, &w, 3, 1); /* 6 a session: a board each */
    assert_true(says(p, "every session holds one board only: session and board cannot be told "
                        "apart"));
    shop_stairs(b, &w, 4, 4, 4, 4);
    p = make(b, &w, 1, 1);
    assert_true(says(p, "every treatment is glued once"));
    assert_int_equal(p->health.unit_df, 0);
    shop_stairs(b, &w, 8, 4, 4, 4);
    p = make(b, &w, 1, 1); /* two boards of four each, nothing in common */
    assert_true(p->health.efficiency == 0);
    assert_true(says(p, "they cannot be compared"));
    shop_stairs(b, &w, 4, 4, 4, 4);
    w.s.nboard_kinds = 0;
    p = make(b, &w, 3, 1);
    assert_true(says(p, "no boards are listed"));
    shop_open(&w);
    shop_pressure(b, &w, 4, false);
    shop_press(&w, "press", 1, -1);
    w.s.times.clamp_s = 12 * 3600;
    p = make(b, &w, 4, 1); /* one glue-up a night */
    assert_true(says(p, "16 of 16 sessions hold a single glue-up"));
    assert_true(says(p, "the sessions are too short to compare within"));
    assert_int_equal(p->health.unit_df, 16 - 4);
    assert_rel("efficiency", p->health.efficiency, 1, 1e-12);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_spread),      TEST(test_short_boards),    TEST(test_boards_refused),
        TEST(test_arrangement), TEST(test_spares),          TEST(test_several_a_glue_up),
        TEST(test_press_hours), TEST(test_capacity),        TEST(test_session_refused),
        TEST(test_both_woods),  TEST(test_rig_confounding), TEST(test_rig_on_a_press),
        TEST(test_cannot),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
