/* What one session can hold: a shop for each limit in which just that one binds. Loosened, the
 * session holds more; in force, the plan names it. */
#include <gsl/gsl_errno.h>

#include "shop.h"

typedef void (*change)(shop *w);

/* Sixty glue-ups of four pressures without boards: several sessions, whatever limits them. */
static void open_shop(bench *b, shop *w, unsigned stations)
{
    shop_open(w);
    shop_pressure(b, w, 4, false);
    shop_press(w, "bench press", stations, -1);
    w->s.breaking.press = -1;
    w->s.breaking.per_specimen_s = w->s.adhesive.pot_life_s = NAN;
    w->s.adhesive.open_time_limit_s = NAN;
}

static size_t most_joints(const pl_plan *p)
{
    size_t most = 0;

    for (unsigned k = 1; k <= p->nsession; k++) {
        size_t n = 0;

        for (size_t i = 0; i < p->nspecimen; i++)
            n += p->glue_ups[p->specimens[i].glue_up].session == k;
        most = n > most ? n : most;
    }
    return most;
}

static size_t plan_of(bench *b, const shop *w, const char *says)
{
    const pl_plan *p;

    assert_ok(b, pl_plan_make(b->a, &w->s, NULL, 15, 5, NULL, &p, &b->d));
    assert_true(p->nsession > 1);
    if (says && !strstr(p->chosen, says))
        fail_msg("\"%s\" does not say \"%s\"", p->chosen, says);
    return most_joints(p);
}

static void less_clamp(shop *w)
{
    w->s.times.clamp_s = 1800;
}

static void less_hands(shop *w)
{
    w->s.times.hands_on_s = 300;
}

static void less_changeover(shop *w)
{
    w->presses[0].changeover_s = 600;
}

static void more_stations(shop *w)
{
    w->presses[0].stations = 2;
}

static void more_at_once(shop *w)
{
    w->presses[0].specimens_at_once = 2;
}

static void longer_days(shop *w)
{
    for (size_t i = 0; i < 5; i++)
        w->s.times.work.to_min[i] = 17 * 60;
}

static void longer_pot_life(shop *w)
{
    w->s.adhesive.pot_life_s = 7200;
}

static void longer_open_time(shop *w)
{
    w->s.adhesive.open_time_limit_s = 1200;
}

static void quicker_breaking(shop *w)
{
    w->s.breaking.per_specimen_s = 60;
}

static void check(bench *b, shop *w, const char *says, change loosen)
{
    size_t tight = plan_of(b, w, says);

    loosen(w);
    assert_true(plan_of(b, w, NULL) > tight);
}

static void test_each(void **state)
{
    bench *b = *state;
    shop w;

    open_shop(b, &w, 1);
    check(b, &w, "limited by the clamp time (60 min) and the number of stations", less_clamp);
    open_shop(b, &w, 1);
    check(b, &w, "the clamp time (60 min) and the number of stations", more_stations);
    open_shop(b, &w, 1);
    check(b, &w, "limited by", more_at_once);
    open_shop(b, &w, 8); /* hands are busy all the time */
    check(b, &w, "the hands-on time (15 min for each glue-up)", less_hands);
    open_shop(b, &w, 1);
    w.s.times.clamp_s = 600;
    w.presses[0].changeover_s = 5400;
    check(b, &w, "the changeover (90 min)", less_changeover);
    open_shop(b, &w, 1);
    w.s.times.work.given = true;
    for (size_t i = 0; i < 5; i++) {
        w.s.times.work.from_min[i] = 8 * 60;
        w.s.times.work.to_min[i] = 12 * 60;
    }
    check(b, &w, "the working hours (4 h on the longest day)", longer_days);
    open_shop(b, &w, 4);
    w.s.adhesive.pot_life_s = 1800; /* two glue-ups of 15 min */
    check(b, &w, "the pot life (30 min: one mix serves 2 stations)", longer_pot_life);
    open_shop(b, &w, 1);
    w.presses[0].specimens_at_once = 3;
    w.s.adhesive.open_time_limit_s = 600; /* 5 min for each of three: two are closed in time */
    check(b, &w, "the open time limit (10 min: 2 of 3 joints at once", longer_open_time);
    open_shop(b, &w, 1);
    w.s.breaking.press = 0;
    w.s.breaking.per_specimen_s = 1800;
    check(b, &w, "breaking on the frame that clamps (30 min for each glue-up)", quicker_breaking);
}

/* Days off move sessions and make none longer or shorter; what leaves no time at all is refused. */
static void test_refused(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    shop w;

    open_shop(b, &w, 1);
    w.s.adhesive.pot_life_s = 600;
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, NULL, 15, 5, NULL, &p, &b->d));
    assert_finding(b, "a pot life shorter than the hands-on time of one glue-up");
    open_shop(b, &w, 1);
    w.s.breaking.press = 0;
    w.s.breaking.per_specimen_s = 7 * 3600;
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, NULL, 15, 5, NULL, &p, &b->d));
    assert_finding(b, "to clamp one glue-up and to break one on the same frame");
}

int main(void)
{
    const struct CMUnitTest tests[] = { TEST(test_each), TEST(test_refused) };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
