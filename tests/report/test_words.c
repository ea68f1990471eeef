/* The answer's sentences, state by state: what must be said, and what must not
 * be claimed. Figures are invented. */
#include "report/say.h"
#include "support.h"

static pl_level_mean levels[] = {
    { 0.2, "0.2", 0.2, 4, 4, 6.1, 0.2, 0 },  { 0.5, "0.5", 0.5, 4, 4, 8.4, 0.2, 0 },
    { 1.1, "1.1", 1.1, 4, 4, 10.2, 0.2, 0 }, { 1.9, "1.9", 1.9, 4, 4, 10.3, 0.2, 1 },
    { 3.0, "3", 3.0, 4, 4, 10.1, 0.2, 1 },
};

static pl_plateau reached(void)
{
    return (pl_plateau){ .response = "strength",
                         .unit = "N/mm2",
                         .over = "pressure",
                         .over_unit = "N/mm2",
                         .answer = "joint",
                         .group_factor = "species",
                         .group = "ash",
                         .state = PL_REACHED,
                         .height = 10.24,
                         .height_low = 9.871,
                         .height_high = 10.612,
                         .share = 0.95,
                         .onset = { 0.873, 0.617, 1.432, false, false },
                         .range_end = { 3, NAN, NAN, false, true },
                         .fall_excluded = 0.871,
                         .advised = 1.432,
                         .rise = { 0, 1, 2, 4, 3.0, 0.2, 15, 2.9 },
                         .fall = { 4, 4, 2, 3, 0.2, 0.3, 0.7, 2.9 },
                         .change_excluded = 4.2,
                         .levels = levels,
                         .nlevel = 5 };
}

static const char *said(bench *b, const pl_plateau *p)
{
    pl_fit_answer f = { .source = "invented", .plateaus = p, .nplateau = 1 };
    const char *text = pl_fit_sentence(b->a, &f, 0);

    assert_non_null(text);
    return text;
}

static void has(const char *text, const char *part)
{
    if (!strstr(text, part))
        fail_msg("\"%s\" is not in: %s", part, text);
}

static void has_not(const char *text, const char *part)
{
    if (strstr(text, part))
        fail_msg("\"%s\" is in: %s", part, text);
}

/* Limits are rounded outward: 0.617 down, 1.432 up. */
static void test_reached(void **state)
{
    pl_plateau p = reached();
    const char *text = said(*state, &p);

    has(text, "Ash: ");
    has(text, "stopped helping at about 0.87 N/mm2");
    has(text, "between 0.61 and 1.5 N/mm2");
    has(text, "nineteen times in twenty");
    has(text, "set 1.5, not 0.87");
    has(text, "highest average is about 10.2 N/mm2 and lies between 9.87 and 10.7");
    has(text, "\"stopped helping\" means that 95 % of it is there");
    has(text, "a loss of more than 0.88 N/mm2 is excluded");
    has(text, "2 of 20 joints broke in the wood");
}

static void test_open_below(void **state)
{
    pl_plateau p = reached();
    const char *text;

    p.onset.low_open = true;
    p.onset.low = NAN;
    text = said(*state, &p);
    has(text, "or earlier");
    has(text, "at or below 1.5 N/mm2");
    has(text, "set 1.5");
}

static void test_wood_ceiling(void **state)
{
    pl_plateau p = reached();
    pl_level_mean woody[5];
    const char *text;

    memcpy(woody, levels, sizeof woody);
    woody[2].wood = 3;
    woody[3].wood = 4;
    woody[4].wood = 3;
    p.levels = woody;
    text = said(*state, &p);
    has(text, "10 of 12 joints from 0.87 N/mm2 up broke in the wood");
    has(text, "not how strong the glue line is");
}

static void test_fall(void **state)
{
    pl_plateau p = reached();
    const char *text;

    p.fall = (pl_step){ 4, 4, 2, 3, 1.61, 0.3, 5.4, 2.9 };
    p.reason = "fall-not-followed";
    p.advised = NAN;
    text = said(*state, &p);
    has(text, "does harm later");
    has(text, "joints made at 3 N/mm2 held 1.61 N/mm2 less");
    has(text, "those at 1.1 N/mm2 to 1.9 N/mm2");
    has(text, "no setting is advised");
    has_not(text, "safe side");
    has_not(text, "stopped helping");
}

static void test_fall_that_is_followed(void **state)
{
    pl_plateau p = reached();
    const char *text;

    p.fall = (pl_step){ 4, 4, 2, 3, 1.61, 0.3, 5.4, 2.9 };
    p.range_end = (pl_bounded){ 2.3, 2.05, 2.8, false, false };
    text = said(*state, &p);
    has(text, "does harm later");
    has(text, "safe side");
    has(text, "stay below 2 N/mm2");
    has(text, "less often where it sets in at one point");
    has_not(text, "No sign of harm");
    p.reason = "range-not-clear";
    p.advised = NAN;
    text = said(*state, &p);
    has(text, "each end may lie beyond the other: no setting is advised");
    has_not(text, "safe side");
}

static void test_not_reached(void **state)
{
    pl_plateau p = reached();
    const char *text;

    p.state = PL_NOT_REACHED;
    p.onset = (pl_bounded){ 2.8, 2.1, NAN, false, true };
    p.advised = NAN;
    text = said(*state, &p);
    has(text, "still helping at the top");
    has(text, "If there is one, it starts above 2.1 N/mm2");
    has(text, "No setting is advised");
    has_not(text, "safe side");
}

static void test_top_open(void **state)
{
    pl_plateau p = reached();
    const char *text;

    p.state = PL_UNDECIDED;
    p.reason = "top-open";
    p.onset = (pl_bounded){ 1.4, 0.9, NAN, false, true };
    p.advised = NAN;
    text = said(*state, &p);
    has(text, "cannot tell whether it stops helping below 3 N/mm2");
    has(text, "Of the highest average within what was tried, 95 % is there at about 1.4 N/mm2");
    has(text, "at or above 0.9 N/mm2");
    has(text, "No setting is advised");
}

static void test_too_few(void **state)
{
    pl_plateau p = reached();
    const char *text;

    p.state = PL_UNDECIDED;
    p.reason = "change-not-excluded";
    p.rise.t = 1.2;
    p.advised = NAN;
    text = said(*state, &p);
    has(text, "no effect of pressure shows between 0.2 N/mm2 and 3 N/mm2");
    has(text, "too few to say that there is none");
    has(text, "a change of up to 4.2 N/mm2 is not excluded");
}

static void test_untested(void **state)
{
    pl_plateau p = reached();
    const char *text;

    p.state = PL_UNDECIDED;
    p.reason = "levels-not-repeated";
    p.rise.t = p.fall.t = NAN;
    p.advised = NAN;
    text = said(*state, &p);
    has(text, "nothing to judge chance by");
    has(text, "The curves alone");
    has_not(text, "no effect");
    has(text, "No setting is advised");
}

static void test_no_change_and_falling(void **state)
{
    pl_plateau p = reached();

    p.state = PL_NO_CHANGE;
    p.advised = NAN;
    p.change_excluded = 0.31;
    has(said(*state, &p), "any change larger than 0.31 N/mm2 is excluded");
    /* level ground up to 1.9, then a loss: nothing may claim a fall from 0.2 on */
    p.state = PL_FALLING;
    p.fall = (pl_step){ 4, 4, 0, 3, 2.94, 0.2, 14.7, 2.9 };
    has(said(*state, &p), "joints made at 3 N/mm2 held 2.94 N/mm2 less on average than those at "
                          "0.2 N/mm2 to 1.9 N/mm2");
    has(said(*state, &p), "lies below 3 N/mm2, perhaps below 0.2 N/mm2");
    has_not(said(*state, &p), "safe side");
}

/* Source: arithmetic. A limit never moves inward, and never by more than a unit of
 * its last digit. */
static void test_rounding(void **state)
{
    (void)state;
    assert_rel("up", pl_round_outward(1.4321, 2, 1), 1.5, 1e-12);
    assert_rel("down", pl_round_outward(0.6179, 2, -1), 0.61, 1e-12);
    assert_rel("kept", pl_round_outward(0.7, 2, 1), 0.7, 1e-12);
    assert_rel("negative", pl_round_outward(-1.23, 2, -1), -1.3, 1e-12);
    for (double x = 0.00137; x < 5e4; x *= 1.37) {
        double up = pl_round_outward(x, 2, 1), down = pl_round_outward(x, 2, -1);

        assert_true(down <= x * (1 + 1e-9) && up >= x * (1 - 1e-9));
        assert_true(up - down <= 0.1000001 * x);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_reached),
        TEST(test_open_below),
        TEST(test_wood_ceiling),
        TEST(test_fall),
        TEST(test_fall_that_is_followed),
        TEST(test_not_reached),
        TEST(test_top_open),
        TEST(test_too_few),
        TEST(test_untested),
        TEST(test_no_change_and_falling),
        TEST(test_rounding),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
