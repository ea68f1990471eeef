/* Effects by themselves, squares, fractions, whole plots; pilots in parts; costs. */
#include "asked.h"

#include <gsl/gsl_errno.h>
#include <limits.h>

#include "base/prob.h"
#include "reference/worked/worked.h"
#include "size/costs.h"
#include "size/power.h"
#include "size/size.h"

/* Records slope: the line's noncentrality is beta sqrt(Sxx)/sigma, beta the rise from end to end
 * over the span; each level once is n - 2 df there, here the levels are made 3 times. */
static void test_trend(void **state)
{
    bench *b = *state;
    const pl_json *list = worked_list(b, "power.json");
    size_t n = 0;

    for (const pl_json *r = list->child; r; r = r->next) {
        const pl_json *x;
        double at[16], span, ncp;
        pl_size_effect e = { .name = "x", .kind = PL_SIZE_TREND, .at = at };
        pl_size_effect_row got;
        pl_size_question q;

        if (!worked_in(r, "slope"))
            continue;
        x = pl_json_get(pl_json_get(r, "inputs"), "x");
        for (const pl_json *v = x->child; v; v = v->next)
            at[e.levels[0]++] = v->number;
        span = at[e.levels[0] - 1] - at[0];
        q = plain(e.levels[0], worked_in_value(r, "beta") * span, worked_in_value(r, "sigma"));
        got = pl_size_effect_at(&q, &e, 3);
        ncp = worked_expected(r, "ncp");
        assert_true(got.df1 == 1 && got.df2 == 2.0 * e.levels[0]);
        assert_rel(worked_id(r), got.power, ftest(1, got.df2, 3 * ncp * ncp, 0.05), 1e-12);
        e.at = NULL; /* both records have equal steps */
        assert_rel("steps", pl_size_effect_at(&q, &e, 3).power, got.power, 1e-12);
        n++;
    }
    assert_int_equal(n, 2);
}

/* A 3 x 4 factorial, 5 of each, by hand: main effect of 4 levels r = 15, lambda = 15 (1.2)^2/2
 * on 3 and 48 df; meeting m = 5, lambda = 5 (1.2)^2/4 on 6 and 48. Interaction by its cells too:
 * the four cells +-D/4 (and none else) have sum of squares D^2/4. */
static void test_factorial(void **state)
{
    pl_size_question q = plain(12, 1.2, 1);
    pl_size_effect four = { .name = "b", .kind = PL_SIZE_MAIN, .levels = { 4 } };
    pl_size_effect both = { .name = "a with b", .kind = PL_SIZE_MEETING, .levels = { 3, 4 } };
    pl_size_effect_row r = pl_size_effect_at(&q, &four, 5);
    unsigned need;

    (void)state;
    assert_true(r.df1 == 3 && r.df2 == 48);
    assert_rel("main", r.power, ftest(3, 48, 15 * 1.44 / 2, 0.05), 1e-12);
    r = pl_size_effect_at(&q, &both, 5);
    assert_true(r.df1 == 6 && r.df2 == 48);
    assert_rel("meeting", r.power, ftest(6, 48, 5 * 1.44 / 4, 0.05), 1e-12);
    need = r.need;
    assert_true(pl_size_effect_at(&q, &both, need).power >= 0.9);
    assert_true(pl_size_effect_at(&q, &both, need - 1).power < 0.9);
}

/* A split plot of 4 whole-plot and 3 sub-plot levels, 6 whole plots of each, by hand
 * (Montgomery ch. 14): whole plots 4 x 5 df, variance B^2 + s^2/3 of a whole plot's mean; sub
 * plots 4 x 5 x 2 df. */
static void test_split_plot(void **state)
{
    bench *b = *state;
    pl_size_question q = plain(3, 0.15, 0.08);
    pl_size_effect list[] = {
        { .name = "setting", .kind = PL_SIZE_MAIN, .levels = { 4 }, .whole = true },
        { .name = "surface", .kind = PL_SIZE_MAIN, .levels = { 3 } },
        { .name = "setting with surface", .kind = PL_SIZE_MEETING, .levels = { 4, 3 } }
    };
    pl_size_effect_row r;

    q.groups = 4;
    q.block_size = 3;
    q.between_blocks = 0.1;
    q.effects = list;
    q.neffect = 3;
    r = pl_size_effect_at(&q, &list[0], 6);
    assert_true(r.df1 == 3 && r.df2 == 20);
    assert_rel("sd", r.sd, sqrt(0.01 + 0.0064 / 3), 1e-12);
    assert_rel("whole", r.power, ftest(3, 20, 6 * 0.0225 / (2 * (0.01 + 0.0064 / 3)), 0.05), 1e-12);
    r = pl_size_effect_at(&q, &list[1], 6);
    assert_true(r.df1 == 2 && r.df2 == 40);
    assert_rel("sub", r.power, ftest(2, 40, 24 * 0.0225 / (2 * 0.0064), 0.05), 1e-12);
    r = pl_size_effect_at(&q, &list[2], 6);
    assert_rel("meeting", r.power, ftest(6, 40, 6 * 0.0225 / (4 * 0.0064), 0.05), 1e-12);
    assert_non_null(strstr(pl_size_effect_words(b->a, &q, 6), "for it is compared between blocks"));
    q.between_blocks = NAN;
    assert_true(isnan(pl_size_effect_at(&q, &list[0], 6).power));
    assert_non_null(strstr(pl_size_effect_words(b->a, &q, 6), "nobody has said how much these"));
    q.neffect = 1;
    assert_string_equal(pl_size_effect_words(b->a, &q, 6), "");
}

/* Latin squares (records latin: one square) by the question's columns; fractions (records
 * effect2level) by its other df. */
static void test_squares_and_fractions(void **state)
{
    bench *b = *state;
    const pl_json *list = worked_list(b, "power.json");
    size_t n = 0;

    for (const pl_json *r = list->child; r; r = r->next) {
        pl_size_question q;
        pl_size_effect e = { .name = "x", .kind = PL_SIZE_MAIN, .levels = { 2 } };

        if (worked_in(r, "latin")) {
            double k = worked_in_value(r, "k"), f = worked_in_value(r, "f");

            q = plain((unsigned)k, f * sqrt(2 * k), 1);
            q.columns = q.block_size = q.levels;
            e.levels[0] = q.levels;
            assert_abs(worked_id(r), pl_size_effect_at(&q, &e, q.levels).power,
                       worked_expected(r, "power"), 1e-10);
            n++;
        } else if (worked_in(r, "effect2level")) {
            unsigned runs = (unsigned)worked_in_value(r, "runs");

            q = plain(2, worked_in_value(r, "effect_over_sigma"), 1);
            q.across = runs / 2;
            q.other_df = worked_in_value(r, "parameters") - 2; /* the mean and the effect itself */
            assert_abs(worked_id(r), pl_size_effect_at(&q, &e, 1).power,
                       worked_expected(r, "power"), 1e-10);
            n++;
        }
    }
    assert_int_equal(n, 23);
}

static const pl_study *design(bench *b, const char *name)
{
    const pl_study *s = NULL;
    const char *path = pl_arena_printf(b->a, "designs/%s.json", name);

    assert_ok(b, pl_study_read(b->a, top_path(b->a, path), &s, &b->d));
    return s;
}

static void test_designs(void **state)
{
    bench *b = *state;
    pl_size_question q;

    assert_ok(b, pl_size_from_study(b->a, design(b, "stair-lap"), &q, &b->d));
    assert_int_equal(q.neffect, 4);
    assert_true(q.effects[1].kind == PL_SIZE_TREND && q.effects[2].whole);
    assert_true(!q.effects[3].whole && q.effects[3].kind == PL_SIZE_MEETING);
    assert_ok(b, pl_size_from_study(b->a, design(b, "six-suspects"), &q, &b->d));
    assert_true(q.levels == 2 && q.runs == pl_study_treatments(design(b, "six-suspects")));
    assert_rel("runs", q.each_worth, 8, 1e-9);
    assert_true(pl_size_error_df(&q, 1) == 6); /* 16 - 1 - 6 factors - 3 for four boards */
    assert_ok(b, pl_size_from_study(b->a, design(b, "five-glues"), &q, &b->d));
    assert_int_equal(q.columns, 5);
    assert_true(pl_size_error_df(&q, 5) == 12); /* (k-1)(k-2) */
    assert_ok(b, pl_size_from_study(b->a, design(b, "glues-and-pads"), &q, &b->d));
    assert_true(pl_size_error_df(&q, 1) == 3); /* (k-1)(k-3), k 4 */
    assert_int_equal(q.neffect, 2);
    /* 2 rooms, changed by the stretch; 3 pressures and 2 surfaces within */
    assert_ok(b, pl_size_from_study(b->a, design(b, "warm-and-cold"), &q, &b->d));
    assert_true(q.levels == 6 && q.block_size == 6 && q.groups == 2 && q.neffect == 7);
    assert_true(q.effects[0].whole && !q.effects[1].whole && !q.effects[4].whole);
    assert_true(pl_size_effect_at(&q, &q.effects[0], 3).df2 == 4); /* 2 x 3 stretches */
}

static const pl_study *dials(bench *b, const char *count, const char *arrangement)
{
    const pl_study *s = NULL;
    const char *text = pl_arena_printf(
        b->a,
        "{\"study\": \"dials\", \"question\": {\"aim\": \"difference\", \"worth_noticing\": \"12 "
        "%%\"},"
        " \"factors\": [{\"name\": \"pressure\", \"from\": \"0.4 N/mm2\", \"to\": \"2 N/mm2\", "
        "\"count\": %s}, {\"name\": \"spread\", \"from\": \"100 g/m2\", \"to\": \"260 g/m2\", "
        "\"count\": %s}, {\"name\": \"warmth\", \"from\": \"12 degC\", \"to\": \"28 degC\", "
        "\"count\": %s}], \"joint\": {\"kind\": \"lap\", \"width\": \"40 mm\", \"overlap\": \"30 "
        "mm\"}, "
        "\"scatter\": {\"cv\": \"12 %%\"}, \"arrangement\": {%s}}",
        count, count, count, arrangement);

    assert_ok(b, pl_study_parse(b->a, "dials.json", text, strlen(text), &s, &b->d));
    return s;
}

/* Noncentralities for D = sigma of a rotatable central composite design in three factors, six runs
 * in the middle, 20 - 10 df, corners at 8^-1/4: by hand a slope has x'x/4, x'x = 8 8^-1/2 + 2, two
 * slopes 8 8^-1/16; a bend 1/v of the inverse of X'X (NumPy: columns 1, x_i, x_i^2, x_i x_j).
 * Levels have four digits in a study (132.4 g/m2 for 132.43, of 80 to the middle), which moves a
 * corner by 7 in 10,000 at most and its fourth power by 3 in 1,000. */
static void test_central_composite(void **state)
{
    bench *b = *state;
    const pl_study *s = dials(b, "5",
                              "\"kind\": \"central-composite\", \"axial\": \"rotatable\", "
                              "\"centre_points\": 6");
    const double slope = (8 / sqrt(8) + 2) / 4, off = 3e-3;
    pl_size_question q;

    assert_ok(b, pl_size_from_study(b->a, s, &q, &b->d));
    assert_int_equal(q.neffect, 9);
    for (size_t i = 0; i < 3; i++) {
        assert_true(q.effects[2 * i].kind == PL_SIZE_TREND);
        assert_rel("slope", q.effects[2 * i].per_replicate, slope, off);
        assert_true(q.effects[2 * i + 1].kind == PL_SIZE_BEND);
        assert_rel("bend", q.effects[2 * i + 1].per_replicate, 1.8014113262504647, off);
    }
    for (size_t i = 6; i < 9; i++)
        assert_rel("twist", q.effects[i].per_replicate, 1.0 / 16, off);
    assert_true(pl_size_error_df(&q, 1) == 10 && pl_size_error_df(&q, 2) == 30);
    assert_rel("power", pl_size_effect_at(&q, &q.effects[0], 1).power,
               ftest(1, 10, q.effects[0].per_replicate, 0.05), 1e-9);
    assert_rel("worth", pl_size_worth(&q, 1), 2 * slope, off);
}

/* Box-Behnken in three factors, three in the middle, 15 - 10 df; levels are whole here. From the
 * inverse of X'X (NumPy) and by hand: a line 8/4, two slopes 4/16; three levels by the quadratics
 * that lie D apart at two of them and midway at the third: 2 for the ends, 2.5769 for the rest. */
static void test_box_behnken(void **state)
{
    bench *b = *state;
    pl_size_question q;

    assert_ok(
        b, pl_size_from_study(
               b->a, dials(b, "3", "\"kind\": \"box-behnken\", \"centre_points\": 3"), &q, &b->d));
    assert_int_equal(q.neffect, 9);
    for (size_t i = 0; i < 9; i++)
        assert_rel(q.effects[i].name, q.effects[i].per_replicate, i < 6 ? 2 : 0.25, 1e-9);
    assert_true(q.effects[0].hardest[0] + q.effects[0].hardest[1] == 2);
    assert_true(pl_size_error_df(&q, 1) == 5);
}

/* Specimens of one glue-up: need falls with them and stops at what glue-ups differ by. */
static void test_more_specimens(void **state)
{
    bench *b = *state;
    pl_size_question q = plain(4, 0.15, NAN);
    unsigned before, many;
    pl_size_question none = plain(4, 0.15, 0.06);
    const pl_size_answer *w;

    q.between_glue_ups = 0.06;
    q.within = 0.12;
    before = pl_size_need_with(b->a, &q, 1, &b->d);
    many = pl_size_need_with(b->a, &q, 0, &b->d);
    assert_true(pl_size_need_with(b->a, &q, 3, &b->d) < before && many < before);
    assert_ok(b, pl_size_find(b->a, &none, &w, &b->d));
    assert_int_equal(many, w->need->glue_ups_per_level);
    assert_non_null(
        strstr(pl_size_specimen_words(b->a, &q, &b->d), "share what happened in the press"));
    q = plain(4, 0.15, 0.12);
    q.specimens_per_glue_up = 5;
    assert_int_equal(pl_size_need_with(b->a, &q, 1, &b->d), 0);
    assert_non_null(strstr(pl_size_specimen_words(b->a, &q, &b->d), "cannot be told"));
}

/* Parts that a pilot leaves open. With as many specimens from a glue-up as the pilot had, the
 * variance of a glue-up's mean is its mean square over m: exactly the chi-square of the plain
 * case, which the drawn one must meet within its error (20,000 draws, sd of a chance 0.35 or
 * less: 4 errors are 0.01). Where glue-ups do not differ the part is cut at 0 and what is left
 * open is larger than nothing. */
static void test_parts(void **state)
{
    bench *b = *state;
    pl_size_question q = plain(4, 0.15, NAN), whole = plain(4, 0.15, 0);
    const pl_size_answer *w, *v;

    q.between_glue_ups = 0.1;
    q.within = 0.08;
    q.specimens_per_glue_up = 3;
    q.from = PL_SCATTER_PILOT;
    q.sd_df = 9;
    q.pilot_specimens = 30;
    whole.sd = sqrt(0.01 + 0.0064 / 3);
    whole.from = PL_SCATTER_PILOT;
    whole.sd_df = 9;
    assert_ok(b, pl_size_find(b->a, &q, &w, &b->d));
    assert_ok(b, pl_size_find(b->a, &whole, &v, &b->d));
    assert_rel("upper", w->sd_upper, v->sd_upper, 0.01);
    for (size_t i = 0; i < w->nrow && i < v->nrow; i++)
        if (w->table[i].glue_ups_per_level == v->table[i].glue_ups_per_level)
            assert_abs("assurance", w->table[i].chance[PL_SIZE_OVERALL][PL_SIZE_ASSURED],
                       v->table[i].chance[PL_SIZE_OVERALL][PL_SIZE_ASSURED], 0.01);
    q.specimens_per_glue_up = 1; /* boards too, not blocks: they count */
    q.between_blocks = 0.05;
    q.pilot_boards = 5;
    assert_ok(b, pl_size_find(b->a, &q, &w, &b->d));
    assert_rel("sd", w->sd, sqrt(0.01 + 0.0064 + 0.0025), 1e-12);
    assert_true(w->sd_upper > w->sd);
    q.between_glue_ups = 0;
    assert_ok(b, pl_size_find(b->a, &q, &w, &b->d));
    assert_true(isfinite(w->sd_upper) && w->sd_upper > 0.08);
}

/* The pilot found is enough and one glue-up less is not; none where a sure scatter fails. */
static void test_larger_pilot(void **state)
{
    bench *b = *state;
    pl_size_question q = plain(4, 0.15, 0.1);
    double assured;
    unsigned pilot;
    const pl_size_answer *w;

    q.from = PL_SCATTER_PILOT;
    q.sd_df = 3;
    assert_ok(b, pl_size_find(b->a, &q, &w, &b->d));
    pilot = pl_size_pilot_for(&q, w->need->glue_ups_per_level + 3);
    assert_true(pilot > 4 && pilot < 1000);
    for (unsigned less = 0; less < 2; less++) {
        unsigned n = w->need->glue_ups_per_level + 3;

        assert_int_equal(pl_assurance_ftest(3, 4 * (n - 1.0), n * 2.25 / 2, 0.05,
                                            pilot - 1.0 - less, &assured, NULL),
                         PL_OK);
        assert_true((assured >= 0.9) == !less);
    }
    assert_int_equal(pl_size_pilot_for(&q, 3), 0);
    assert_non_null(strstr(pl_size_pilot_words(b->a, &q, w, 3, &b->d), "no pilot makes it sure"));
    assert_non_null(strstr(pl_size_pilot_words(b->a, &q, w, w->need->glue_ups_per_level + 3, &b->d),
                           "would take a scatter found on"));
    q.from = PL_SCATTER_GUESSED;
    q.sd = 0.15;
    q.sd_low = 0.1;
    q.sd_high = 0.2;
    pilot = pl_size_pilot_that_pays(b->a, &q, &b->d);
    assert_true(pilot >= 3 && pilot < 20);
    q.sd_high = 0.151; /* nothing to save */
    assert_int_equal(pl_size_pilot_that_pays(b->a, &q, &b->d), 0);
}

static const pl_study *priced(bench *b, const char *budget)
{
    const char *text = pl_arena_printf(
        b->a,
        "{\"study\": \"s\", \"question\": {\"aim\": \"difference\", \"worth_noticing\": \"15 %%\"},"
        " \"factors\": [{\"name\": \"surface\", \"levels\": [\"planed\", \"sanded\", \"sawn\"]}],"
        " \"joint\": {\"kind\": \"lap\", \"width\": \"40 mm\", \"overlap\": \"30 mm\","
        " \"specimens_per_glue_up\": 2},"
        " \"boards\": [{\"species\": \"beech\", \"count\": 9, \"specimens\": 10}],"
        " \"presses\": [{\"name\": \"press\", \"stations\": 2, \"changeover\": \"15 min\"}],"
        " \"times\": {\"clamp\": \"45 min\", \"session\": \"8 h\"},"
        " \"arrangement\": {\"kind\": \"full-factorial\"},"
        " \"scatter\": {\"between_glue_ups\": \"5 %%\", \"within\": \"10 %%\"}, \"budget\": {%s}}",
        budget);
    const pl_study *s = NULL;

    assert_ok(b, pl_study_parse(b->a, "s.json", text, strlen(text), &s, &b->d));
    return s;
}

/* By hand: 4 of each of 3 treatments: 12 glue-ups, 24 specimens, 3 boards of 10, 12 press hours,
 * on two stations 6 hours: a day; 12 x 4 + 24 x 0.5 + 3 x 20 + 12 x 2 + 30 = 174. */
static void test_costs(void **state)
{
    bench *b = *state;
    const pl_study *s = priced(
        b, "\"money\": \"190 EUR\", \"prices\": {\"glue_up\": \"4 EUR\", \"specimen\": "
           "\"0.5 EUR\", \"board\": \"20 EUR\", \"press_hour\": \"2 EUR\", \"day\": \"30 EUR\"}");
    pl_size_trade trades[8];
    pl_size_question q;
    pl_size_costs c;
    size_t n;

    pl_size_cost(s, 4, &c);
    assert_int_equal(c.glue_ups, 12);
    assert_int_equal(c.specimens, 24);
    assert_int_equal(c.boards, 3);
    assert_rel("press", c.press_s, 12 * 3600, 1e-12);
    assert_true(c.days == 1 && !c.over);
    assert_rel("money", c.money, 174, 1e-12);
    assert_string_equal(s->budget.currency, "EUR");
    assert_int_equal(pl_size_within_budget(s), 4);
    pl_size_cost(s, 5, &c);
    assert_true(c.over);
    /* sqrt((4 + 2)/0.5) 10/5 */
    assert_rel("best", pl_size_best_specimens(s), sqrt(12) * 2, 1e-12);
    assert_ok(b, pl_size_from_study(b->a, s, &q, &b->d));
    pl_size_trades(&q, 4, trades, &n);
    assert_int_equal(n, 2);
    assert_true(trades[1].levels == 2 && trades[1].glue_ups_per_level == 6);
    assert_true(trades[1].chance[PL_SIZE_PAIR] > trades[0].chance[PL_SIZE_PAIR]);
    assert_rel("three", trades[0].chance[PL_SIZE_PAIR],
               ftest(1, 9, 4 * 0.0225 / (2 * (0.0025 + 0.005)), 0.05), 1e-12);
    assert_non_null(strstr(pl_size_cost_words(b->a, s, &q, 4), "174 EUR."));
    assert_non_null(strstr(pl_size_cost_words(b->a, s, &q, 9), "more than the budget"));
    assert_int_equal(pl_size_within_budget(priced(b, "")), UINT_MAX);
    pl_size_cost(priced(b, ""), 4, &c);
    assert_true(isnan(c.money) && !c.over);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_trend),
        TEST(test_factorial),
        TEST(test_split_plot),
        TEST(test_squares_and_fractions),
        TEST(test_designs),
        TEST(test_more_specimens),
        TEST(test_parts),
        TEST(test_larger_pilot),
        TEST(test_central_composite),
        TEST(test_box_behnken),
        TEST(test_costs),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
