/* What check says of a study: the words, the counts in them, and the advice. */
#include "study_text.h"

#include "study/set_points.h"

static void assert_says(bench *b, const char *text, const char *line)
{
    const pl_study *s = parsed(b, text);
    char *words = pl_study_words(b->a, s);

    assert_non_null(words);
    if (!strstr(words, line))
        fail_msg("\"%s\" is not in:\n%s", line, words);
}

static void test_words(void **state)
{
    static const char *const lines[] = {
        "bench-lap: a trial\n",
        "You ask from which pressure on strength no longer rises (95 % of the highest counts), for "
        "each species by itself.\n",
        "A difference of 10 % is worth noticing: it may go unseen 1 time in 10, and a false alarm "
        "may come 1 time in 20.\n",
        "pressure: 4 levels, 0.3 N/mm2, 0.6 N/mm2, 0.9 N/mm2 and 1.6 N/mm2; set by the press.\n",
        "species: 2 levels, beech and larch; comes with the board",
        "One specimen is a lap joint, width x overlap (36 mm x 25 mm): 900 mm2 break.\n",
        /* 0.3 x 900 = 270 N, 1.6 x 900 = 1440 N */
        "One closing presses on 900 mm2: that takes a force of 270 N to 1.44 kN.\n",
        "That makes 8 treatments; with 3 glue-ups of each, 24 glue-ups and 24 specimens.\n",
        /* 24 x (50 min + 90 s) = 20.6 h; 4 stations: 6 rounds, 5.15 h */
        "Each glue-up is clamped for 50 min and takes 1.5 min to change over: 24 are 20.6 press "
        "hours, at least 5.15 h on your 4 stations.\n",
        "Wood: 4 boards of beech, 7 specimens each.\n",
        "Glue: PUR, 150 g/m2 on each of both faces, closed within 9 min.\n",
        "Specimens are broken on \"puller\", at about 9 N/mm2 (1310 psi).\n",
        "They are left for at least 3 d before they are broken.\n",
        "Equal joints are taken to differ by 13 %, as 7 glue-ups showed.\n",
        "You allow 30 press hours.\n",
        "You allow 30 specimens.\n",
        "- one closing holds one joint (/presses/0/specimens_at_once)\n",
    };
    bench *b = *state;

    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++)
        assert_says(b, whole, lines[i]);
}

static void test_words_of_the_least(void **state)
{
    bench *b = *state;

    assert_says(b, least, "That makes 4 treatments.\n");
    assert_says(b, least, "How much equal joints differ is not known.\n");
    assert_says(b, least, "- one sitting lasts 8 h (/times/session)\n");
    assert_says(b, with(b, whole, "\"1 in 10\"", "0.07"), "it may go unseen 7 times in 100");
    assert_says(b, with(b, whole, "\"glue_ups_per_level\": 3,", ""),
                "Each glue-up is clamped for 50 min and takes 1.5 min to change over: 0.858 press "
                "hours each.\n");
    assert_says(b, with(b, whole, "\"plateau\"", "\"difference\""),
                "You ask whether strength differs between the levels, for each species by itself.");
}

/* Facts of the trade, common practice, no source: 24 joints at one clamp hour
 * each on one press are 24 press hours. */
static void test_press_hours_said(void **state)
{
    bench *b = *state;

    assert_says(b,
                with(b,
                     with(b, least, "\"least\"",
                          "\"least\", \"glue_ups_per_level\": 6, "
                          "\"times\": {\"clamp\": \"1 h\"}"),
                     "{}", "{}"),
                "with 6 glue-ups of each, 24 glue-ups and 24 specimens.\nEach glue-up is clamped "
                "for 1 h: 24 are 24 press hours on one press.\n");
}

/* Eight levels from 1.2 to 1400 psi: R gives (1400/1.2)^(1/7) = 2.742428; shop
 * talk has 2.743, one too many in its last digit. Common practice, no source. */
static void test_ratio_said(void **state)
{
    bench *b = *state;
    const char *listed = "\"levels\": [\"0.3 N/mm2\", \"0.6 N/mm2\", \"0.9 N/mm2\", \"1.6 N/mm2\"]";
    char *text = with(b, least, listed,
                      "\"from\": \"1.2 psi\", \"to\": \"1400 psi\", \"count\": 8, "
                      "\"spacing\": \"constant ratio\"");

    assert_says(b, text, "510.5 psi and 1400 psi; each is 2.742 times the one before;");
    /* Listed levels may have a ratio too; most have none. */
    assert_says(b,
                with(b, least, listed, "\"levels\": [\"1 bar\", \"2 bar\", \"4 bar\", \"8 bar\"]"),
                "; each is 2 times the one before;");
    assert_null(strstr(pl_study_words(b->a, parsed(b, least)), "times the one before"));
}

static void test_inches(void **state)
{
    bench *b = *state;
    char *text = with(b, least, "\"width\": \"36 mm\", \"overlap\": \"25 mm\"",
                      "\"width\": \"1.5 in\", \"overlap\": \"1.5 in\"");

    /* 1.5 x 1.5 = 2.25 in2; 0.3 N/mm2 = 43.511 psi -> 97.9 lbf */
    assert_says(b, text, "(1.5 in x 1.5 in): 2.25 in2 break.\n");
    assert_says(b, text, "takes a force of 97.9 lbf to 522.1 lbf.\n");
}

/* The words of the shop only: STUDY, section 5. */
static void test_no_statistics(void **state)
{
    static const char *const words[] = { "replicate", "factorial", "variance", "signific",
                                         "power",     "hypothes",  "p-value",  "sigma",
                                         "deviation", "confidence" };
    bench *b = *state;
    char *text = pl_study_words(b->a, parsed(b, whole));

    for (size_t i = 0; i < sizeof words / sizeof *words; i++)
        assert_null(strstr(text, words[i]));
    text = pl_study_words(b->a, parsed(b, least));
    for (size_t i = 0; i < sizeof words / sizeof *words; i++)
        assert_null(strstr(text, words[i]));
}

/* --------------------------------------------------------------- advice ---- */

static size_t advised(bench *b, const char *text, const pl_set_points *points)
{
    const pl_study *s;

    pl_diags_init(&b->d, b->a);
    assert_ok(b, parse(b, text, &s));
    assert_ok(b, pl_study_advise(b->a, s, points, &b->d));
    assert_int_equal(pl_diags_count(&b->d, PL_REFUSED), 0);
    return pl_diags_count(&b->d, PL_ADVICE);
}

/* One piece of advice, in these words. */
static void assert_advised(bench *b, const char *text, const char *says)
{
    size_t n = advised(b, text, NULL);

    assert_finding(b, says);
    if (n != 1) {
        show_findings(b);
        fail_msg("%zu pieces of advice, wanted one: %s", n, says);
    }
}

static void test_nothing_to_advise(void **state)
{
    bench *b = *state;

    assert_int_equal(advised(b, whole, NULL), 0);
    assert_int_equal(advised(b, least, NULL), 0);
}

static void test_crushing(void **state)
{
    bench *b = *state;
    /* Larch: 900 psi = 6.205 N/mm2 (from memory). Beech: the weaker of both in the
     * table, American, 1010 psi = 6.964. 6.5 crushes larch only. */
    char *text = with(b, whole, "\"1.6 N/mm2\"", "\"6.5 N/mm2\"");

    assert_advised(
        b, text,
        "t.json:10: /factors/0/levels/3: advice: found 6.5 N/mm2 on larch, expected less than "
        "about 6.21 N/mm2, where European larch begins to crush across the grain; "
        "value from memory, unconfirmed\n  mend: end at 0.9 N/mm2");
    text = with(b, whole, "\"1.6 N/mm2\"", "\"7 N/mm2\"");
    assert_int_equal(advised(b, text, NULL), 2);
    assert_finding(b, "found 7 N/mm2 on beech, expected less than about 6.96 N/mm2, where "
                      "American beech begins to crush across the grain\n");
}

static void test_wood_is_the_weaker(void **state)
{
    bench *b = *state;
    /* Larch 1600 psi = 11.03 N/mm2, American beech 2010 psi = 13.86 N/mm2. */
    char *text = with(b, whole, "\"9 N/mm2\"", "\"12 N/mm2\"");

    assert_advised(
        b, text,
        "/breaking/expected_strength: advice: found \"12 N/mm2\", expected less than about 11 "
        "N/mm2 (1600 psi), at which European larch shears by itself");
    assert_finding(b, "such breaks in larch show how strong the wood is, not the glue");
    /* A butt joint is pulled, not sheared. */
    text = with(b, text, "\"lap\", \"width\": \"36 mm\", \"overlap\": \"25 mm\"",
                "\"butt-tension\", \"width\": \"36 mm\", \"thickness\": \"25 mm\"");
    assert_int_equal(advised(b, text, NULL), 0);
}

static void test_boards_advice(void **state)
{
    bench *b = *state;

    assert_advised(
        b,
        with(b, with(b, whole, "\"count\": 5", "\"count\": 1"), "\"specimens\": 4",
             "\"specimens\": 40"),
        "t.json:16: /boards: advice: found one board of larch, expected several boards of each "
        "kind\n  mend: nothing here tells larch from this larch board: cut from two "
        "boards or more");
    /* 12 glue-ups a wood and 1 in 8 spare are 13.5; larch gives 3 x 4. */
    assert_advised(
        b, with(b, whole, "\"count\": 5", "\"count\": 3"),
        "/boards: advice: found larch: wood for 12 specimens, expected wood for 14: 12 glue-ups "
        "and the spares\n  mend: 1 more board of larch, or fewer glue-ups");
    assert_int_equal(advised(b, with(b, whole, "\"count\": 5", "\"count\": 4"), NULL), 0);
    assert_advised(b,
                   with(b, least, "\"least\"",
                        "\"least\", \"boards\": [{\"species\": \"oak\", "
                        "\"count\": 1}]"),
                   "found one board of oak");
}

static void test_budget_advice(void **state)
{
    bench *b = *state;

    /* 24 glue-ups need 20.6 h; one of each treatment takes 6.867 h. */
    assert_advised(
        b, with(b, whole, "\"30 h\"", "\"20 h\""),
        "t.json:31: /budget/press_hours: advice: found \"20 h\", expected 20.6 press hours for "
        "24 glue-ups\n  mend: 2 of each treatment fit");
    assert_advised(b, with(b, whole, "\"30 h\"", "\"6 h\""),
                   "mend: not even one of each treatment fits: fewer levels");
    assert_int_equal(advised(b, with(b, whole, "\"30 h\"", "\"20.6 h\""), NULL), 0);
    assert_advised(
        b, with(b, whole, "\"specimens\": 30", "\"specimens\": 20"),
        "/budget/specimens: advice: found 20, expected 24 specimens\n  mend: 2 glue-ups of each "
        "treatment fit");
}

static void test_few_levels(void **state)
{
    bench *b = *state;

    assert_advised(
        b, with(b, least, "\"0.9 N/mm2\", ", ""),
        "/factors/0: advice: found 3 levels of pressure, expected 4 or more to see where a rise "
        "ends");
}

/* Set points by hand: 4 levels of whole on stack, jack and puller. */
static pl_set_points points_of(pl_set_point at[12], int chosen[4])
{
    static const char *const rigs[] = { "stack", "jack", "puller" };
    static const double force_N[] = { 270, 540, 810, 1440 };

    for (int i = 0; i < 12; i++)
        at[i] = (pl_set_point){ .can = i % 3 < 2,
                                .rig = rigs[i % 3],
                                .asked_N = force_N[i / 3],
                                .gives_N = force_N[i / 3],
                                .u_N = 0.02 * force_N[i / 3] };
    for (int i = 0; i < 4; i++)
        chosen[i] = i < 2 ? 0 : 1;
    return (pl_set_points){ .nlevel = 4, .nrig = 3, .at = at, .chosen = chosen, .area_m2 = 9e-4 };
}

static void test_unsure_set_point(void **state)
{
    bench *b = *state;
    pl_set_point at[12];
    int chosen[4];
    pl_set_points p = points_of(at, chosen);

    assert_int_equal(advised(b, whole, &p), 0);
    at[7].u_N = 0.1 * at[7].gives_N; /* level 2 on the jack: just sure enough */
    assert_int_equal(advised(b, whole, &p), 0);
    at[7].u_N = 0.13 * at[7].gives_N;
    assert_int_equal(advised(b, whole, &p), 1);
    assert_finding(
        b, "t.json:10: /factors/0/levels/2: advice: found 0.9 N/mm2 on \"jack\", give or take 13 "
           "%, expected a set point that is sure to 10 %\n  mend: make this level on "
           "\"stack\"");
    at[6].can = false;
    at[7].mend = "a gauge to 4 bar";
    assert_int_equal(advised(b, whole, &p), 1);
    assert_finding(b, "mend: a gauge to 4 bar");
    at[7].mend = NULL;
    assert_int_equal(advised(b, whole, &p), 1);
    assert_finding(b, "mend: a gauge of smaller span, a smaller bore, or weights for this level");
}

static void test_no_rig_makes_it(void **state)
{
    bench *b = *state;
    pl_set_point at[12];
    int chosen[4];
    pl_set_points p = points_of(at, chosen);
    const pl_study *s;

    chosen[3] = -1;
    at[9].reason = "146 kg is more than the set holds";
    at[10].reason = "would need 11 bar, rated 8 bar";
    at[10].mend = "a bore of 63 mm";
    at[11].reason = "does not press"; /* and is in no press: of no interest */
    at[11].mend = "a rig that presses";
    assert_ok(b, parse(b, whole, &s));
    assert_code(b, PL_EUNFIT, pl_study_advise(b->a, s, &p, &b->d));
    assert_finding(b, "t.json:10: /factors/0/levels/3: found 1.6 N/mm2, which no rig makes (stack: "
                      "146 kg is more than the set holds; jack: would need 11 bar, rated 8 bar), "
                      "expected a level that one of the rigs makes\n  mend: jack: a bore of 63 mm");
    assert_int_equal(pl_code_exit(PL_EUNFIT), 1);
    /* Both are said, not the first alone. */
    chosen[2] = -1;
    pl_diags_init(&b->d, b->a);
    assert_code(b, PL_EUNFIT, pl_study_advise(b->a, s, &p, &b->d));
    assert_int_equal(pl_diags_count(&b->d, PL_REFUSED), 2);
    assert_finding(b, "mend: another level, or another rig");
}

/* 9 N/mm2 on 900 mm2 are 8.1 kN. */
static void test_breaking_limit(void **state)
{
    bench *b = *state;
    pl_set_point at[12];
    int chosen[4];
    pl_set_points p = points_of(at, chosen);
    double most[] = { NAN, NAN, 8100 };

    p.most_N = most;
    assert_int_equal(advised(b, whole, &p), 0);
    most[2] = 7000; /* 25 mm x 7 / 8.1 = 21.6 mm */
    assert_int_equal(advised(b, whole, &p), 1);
    assert_finding(
        b, "/breaking/expected_strength: advice: found 9 N/mm2 (1310 psi) on 900 mm2: 8.1 kN, "
           "expected at most 7 kN, the limit of \"puller\"\n  mend: overlap of at most "
           "21 mm");
    most[2] = NAN;
    assert_int_equal(advised(b, whole, &p), 0);
}

static void test_advice_without_memory(void **state)
{
    bench *b = *state;
    char *text = with(b, with(b, whole, "\"30 h\"", "\"6 h\""), "\"1.6 N/mm2\"", "\"7 N/mm2\"");
    pl_set_point at[12];
    int chosen[4];
    pl_set_points p = points_of(at, chosen);
    double most[] = { NAN, NAN, 5000 };
    const pl_study *s = parsed(b, text);
    unsigned long fine = 0;

    p.most_N = most;
    chosen[3] = -1;
    at[7].u_N = at[7].gives_N;
    for (unsigned long n = 1; fine < 40; n++) {
        pl_arena *a = pl_arena_new(0);
        pl_code rc;
        pl_diags d;

        pl_diags_init(&d, a);
        pl_arena_fail_at(n);
        rc = pl_study_advise(a, s, &p, &d);
        pl_arena_fail_at(0);
        if (rc != PL_ENOMEM ? rc != PL_EUNFIT : fine > 0)
            fail_msg("allocation %lu failed: %s", n, pl_code_name(rc));
        fine += rc != PL_ENOMEM;
        pl_arena_free(a);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_words),
        TEST(test_words_of_the_least),
        TEST(test_press_hours_said),
        TEST(test_ratio_said),
        TEST(test_inches),
        TEST(test_no_statistics),
        TEST(test_nothing_to_advise),
        TEST(test_crushing),
        TEST(test_wood_is_the_weaker),
        TEST(test_boards_advice),
        TEST(test_budget_advice),
        TEST(test_few_levels),
        TEST(test_unsure_set_point),
        TEST(test_no_rig_makes_it),
        TEST(test_breaking_limit),
        TEST(test_advice_without_memory),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
