/* The arrangement that a study asks for: what it needs of the factors, and its refusals. */
#include "study_text.h"

static const char two[] =
    "{\"study\": \"t\", \"question\": {\"aim\": \"difference\", \"worth_noticing\": \"10 %\"},\n"
    " \"factors\": [{\"name\": \"a\", \"levels\": [\"x\", \"y\"]}, {\"name\": \"b\", \"levels\": "
    "[\"x\", \"y\"]},\n"
    "  {\"name\": \"c\", \"levels\": [\"x\", \"y\"]}, {\"name\": \"d\", \"levels\": [\"x\", "
    "\"y\"]},\n"
    "  {\"name\": \"e\", \"levels\": [\"x\", \"y\"]}],\n"
    " \"joint\": {\"kind\": \"lap\", \"width\": \"36 mm\", \"overlap\": \"25 mm\"},\n"
    " \"boards\": [{\"species\": \"beech\", \"count\": 3, \"specimens\": 9}],\n"
    " \"arrangement\": {ARRANGE}}\n";

static const pl_study *asked(bench *b, const char *arrange)
{
    const pl_study *s = NULL;
    char *text = pl_arena_str(b->a, two), *at;
    pl_text t;

    pl_text_init(&t, b->a);
    at = strstr(text, "ARRANGE");
    *at = '\0';
    pl_text_add(&t, "%s%s%s", text, arrange, at + strlen("ARRANGE"));
    if (pl_study_parse(b->a, "t.json", pl_text_done(&t), t.length, &s, &b->d))
        return NULL;
    return s;
}

static void test_runs(void **state)
{
    bench *b = *state;
    const pl_study *s = asked(b, "\"kind\": \"fractional-factorial\"");

    assert_non_null(s);
    assert_int_equal(s->arrangement.runs, 16); /* resolution 4 is the default */
    assert_int_equal(s->arrangement.resolution, 4);
    assert_int_equal(pl_study_treatments(s), 16);
    assert_int_equal(s->glue_ups_per_level, 1);
    s = asked(b, "\"kind\": \"fractional-factorial\", \"resolution\": 3");
    assert_int_equal(s->arrangement.runs, 8);
    s = asked(b, "\"kind\": \"fractional-factorial\", \"generators\": ["
                 "{\"factor\": \"d\", \"product_of\": [\"a\", \"b\"]}, "
                 "{\"factor\": \"e\", \"product_of\": [\"a\", \"b\", \"c\"]}]");
    assert_int_equal(s->arrangement.runs, 8);
    assert_int_equal(s->arrangement.generated[3], 3);
    assert_int_equal(s->arrangement.generated[4], 7);
    s = asked(b, "\"kind\": \"screening\"");
    assert_int_equal(s->arrangement.runs, 8);
    assert_int_equal(pl_study_treatments(s), 8);
}

static void test_refused(void **state)
{
    static const struct {
        const char *arrange, *says;
    } cases[] = {
        { "\"kind\": \"fractional-factorial\", \"runs\": 12", "4, 8, 16, 32" },
        { "\"kind\": \"fractional-factorial\", \"runs\": 64", "at most 32" },
        { "\"kind\": \"fractional-factorial\", \"runs\": 4", "4 runs for 5 factors" },
        { "\"kind\": \"screening\", \"runs\": 10", "a multiple of 4, at least 8" },
        { "\"kind\": \"screening\", \"resolution\": 3", "`resolution` in a screening" },
        { "\"kind\": \"latin-square\", \"runs\": 8", "`runs` in a latin-square" },
        { "\"kind\": \"latin-square\"", "5 factors compared within boards" },
        { "\"kind\": \"central-composite\"", "2 levels of \"a\" in a central-composite" },
        { "\"kind\": \"graeco-latin-square\"", "expected two, of equally many levels" },
        { "\"kind\": \"fractional-factorial\", \"generators\": [{\"factor\": \"q\", "
          "\"product_of\": [\"a\", \"b\"]}]",
          "\"q\"" },
        { "\"kind\": \"fractional-factorial\", \"generators\": [{\"factor\": \"d\", "
          "\"product_of\": [\"a\", \"b\"]}, {\"factor\": \"e\", \"product_of\": [\"a\", \"d\"]}]",
          "\"e\" follows a factor that itself follows others" },
        { "\"kind\": \"fractional-factorial\", \"generators\": [{\"factor\": \"d\", "
          "\"product_of\": [\"a\", \"b\"]}, {\"factor\": \"e\", \"product_of\": [\"a\", \"b\"]}]",
          "follow the same product" },
        { "\"kind\": \"fractional-factorial\", \"runs\": 16, \"generators\": [{\"factor\": \"d\", "
          "\"product_of\": [\"a\", \"b\"]}, {\"factor\": \"e\", \"product_of\": [\"a\", \"c\"]}]",
          "8: 5 factors, 2 of them following" },
    };

    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        void *own;

        bench_open(&own);
        assert_null(asked(own, cases[i].arrange));
        assert_finding(own, cases[i].says);
        bench_close(&own);
    }
    (void)state;
}

/* A factor of three levels has no place in a fraction. */
static void test_three_levels(void **state)
{
    bench *b = *state;
    const pl_study *s = NULL;
    const char *text = pl_arena_str(b->a, whole);
    char *at = strstr(text, "complete-blocks");
    pl_text t;

    pl_text_init(&t, b->a);
    *at = '\0';
    pl_text_add(&t, "%sscreening%s", text, at + strlen("complete-blocks"));
    assert_true(pl_study_parse(b->a, "t.json", pl_text_done(&t), t.length, &s, &b->d) != PL_OK);
    assert_finding(b, "4 levels of \"pressure\" in a screening");
}

/* Corners of a rotatable design in two factors lie at 1 / sqrt(2) of the way from the middle. */
static void test_central_levels(void **state)
{
    static const char text[] =
        "{\"study\": \"t\", \"question\": {\"aim\": \"difference\", \"worth_noticing\": \"10 "
        "%\"},\n"
        " \"factors\": [{\"name\": \"a\", \"from\": \"0 mm\", \"to\": \"10 mm\", \"count\": 5},\n"
        "   {\"name\": \"b\", \"from\": \"1 min\", \"to\": \"5 min\", \"count\": 5}],\n"
        " \"joint\": {\"kind\": \"lap\", \"width\": \"36 mm\", \"overlap\": \"25 mm\"},\n"
        " \"arrangement\": {\"kind\": \"central-composite\", \"centre_points\": 3}}\n";
    static const char *const levels[] = { "0 mm", "1.464 mm", "5 mm", "8.536 mm", "10 mm" };
    bench *b = *state;
    const pl_study *s = NULL;

    assert_ok(b, pl_study_parse(b->a, "t.json", text, sizeof text - 1, &s, &b->d));
    assert_int_equal(s->arrangement.runs, 4 + 4 + 3);
    for (size_t i = 0; i < 5; i++)
        assert_string_equal(s->factors[0].levels[i].text, levels[i]);
}

/* Middle runs that are reckoned, and axes that make blocks drop out: published for two factors 5
 * runs (Box & Hunter 1957), for three with 4 corners and 2 middle runs a block, 2 on the axes' 6:
 * sqrt(3 (1 + 2/6) / (1 + 2/4)) = 1.633. */
static void test_central_middle(void **state)
{
    static const char text[] =
        "{\"study\": \"t\", \"question\": {\"aim\": \"difference\", \"worth_noticing\": \"10 "
        "%\"},\n"
        " \"factors\": [{\"name\": \"a\", \"from\": \"0 mm\", \"to\": \"10 mm\", \"count\": 5},\n"
        "   {\"name\": \"b\", \"from\": \"1 min\", \"to\": \"5 min\", \"count\": 5}THIRD],\n"
        " \"joint\": {\"kind\": \"lap\", \"width\": \"36 mm\", \"overlap\": \"25 mm\"},\n"
        " \"arrangement\": {\"kind\": \"central-composite\", ARRANGE}}\n";
    static const char third[] = ", {\"name\": \"c\", \"from\": \"2 mm\", \"to\": \"4 mm\", "
                                "\"count\": 5}";
    static const struct {
        const char *arrange, *says;
    } bad[] = {
        { "\"centre_for\": \"even\", \"centre_points\": 3", "`centre_points` beside `centre_for`" },
        { "\"centre_for\": \"even\", \"axial\": \"orthogonal\"", "axial rotatable" },
        { "\"centre_points_axes\": 3", "axial orthogonal-blocks" },
    };
    bench *b = *state;
    const pl_study *s = NULL;
    const char *two_factors = with(b, text, "THIRD", ""), *t;

    t = with(b, two_factors, "ARRANGE", "\"centre_for\": \"even\"");
    assert_ok(b, pl_study_parse(b->a, "t.json", t, strlen(t), &s, &b->d));
    assert_int_equal(s->arrangement.centre, 5);
    assert_int_equal(s->arrangement.runs, 4 + 4 + 5);
    t = with(b, with(b, text, "THIRD", third), "ARRANGE",
             "\"axial\": \"orthogonal-blocks\", \"centre_points\": 2");
    assert_ok(b, pl_study_parse(b->a, "t.json", t, strlen(t), &s, &b->d));
    assert_int_equal(s->arrangement.runs, 8 + 6 + 6);
    assert_int_equal(s->arrangement.corner_blocks, 2);
    assert_string_equal(s->factors[0].levels[3].text, "8.062 mm"); /* (1 + 1 / 1.633) / 2 */
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        pl_diags_init(&b->d, b->a);
        t = with(b, two_factors, "ARRANGE", bad[i].arrange);
        assert_true(pl_study_parse(b->a, "t.json", t, strlen(t), &s, &b->d) != PL_OK);
        assert_finding(b, bad[i].says);
    }
}

static const char four[] =
    "{\"study\": \"t\", \"question\": {\"aim\": \"difference\", \"worth_noticing\": \"10 %\"},\n"
    " \"factors\": [{\"name\": \"a\", \"levels\": [\"1 mm\", \"2 mm\", \"3 mm\"]},\n"
    "  {\"name\": \"b\", \"levels\": [\"x\", \"y\", \"z\", 4]},\n"
    "  {\"name\": \"wood\", \"levels\": [\"beech\", \"larch\"], \"comes_with\": \"board\"}],\n"
    " \"joint\": {\"kind\": \"lap\", \"width\": \"36 mm\", \"overlap\": \"25 mm\"},\n"
    " \"boards\": [{\"species\": \"beech\", \"count\": 3, \"specimens\": 9}, {\"species\": "
    "\"larch\", \"count\": 3, \"specimens\": 9}],\n"
    " REST}\n";

static const pl_study *asks(bench *b, const char *rest)
{
    const pl_study *s = NULL;
    const char *at = strstr(four, "REST");
    pl_text t;

    pl_text_init(&t, b->a);
    pl_text_add(&t, "%.*s%s%s", (int)(at - four), four, rest, at + strlen("REST"));
    return pl_study_parse(b->a, "t.json", pl_text_done(&t), t.length, &s, &b->d) ? NULL : s;
}

/* Figures asked for: slope and bend of a, three contrasts of b, their three products, the mean:
 * 9 for each wood, and 4 more. */
static void test_optimal(void **state)
{
    bench *b = *state;
    const pl_study *s = asks(b, "\"arrangement\": {\"kind\": \"optimal\"}");

    assert_non_null(s);
    assert_int_equal(s->arrangement.asks, PL_ASKS_CURVED);
    assert_int_equal(s->arrangement.runs, 2 * (9 + 4));
    s = asks(
        b,
        "\"arrangement\": {\"kind\": \"optimal\", \"effects\": \"single\", \"criterion\": \"I\"}");
    assert_int_equal(s->arrangement.runs, 2 * (6 + 4));
    assert_int_equal(s->arrangement.criterion, PL_CRITERION_I);
    s = asks(b, "\"arrangement\": {\"kind\": \"optimal\", \"effects\": \"pairs\"}");
    assert_int_equal(s->arrangement.runs, 2 * (12 + 4));
    assert_null(asks(b, "\"arrangement\": {\"kind\": \"optimal\", \"runs\": 27}"));
    assert_finding(b, "18 or more, equally many for each wood");
    assert_null(asks(b, "\"arrangement\": {\"kind\": \"optimal\"}, \"glue_ups_per_level\": 2"));
    assert_finding(b, "`runs` counts the glue-ups");
}

static void test_not_together(void **state)
{
    static const struct {
        const char *list, *says;
    } cases[] = {
        { "[{\"a\": \"1 mm\"}]", "levels of two factors or more" },
        { "[{\"a\": \"1 mm\", \"c\": \"x\"}]", "\"c\"" },
        { "[{\"a\": \"4 mm\", \"b\": \"x\"}]", "a level of \"a\"" },
        { "[{\"a\": true, \"b\": \"x\"}]", "a level of \"a\"" },
        { "[7]", "an object of factors and their levels" },
        { "[]", "in the list" },
        { "[{\"a\": [\"1 mm\", \"2 mm\", \"3 mm\"], \"b\": [\"x\", \"y\", \"z\", 4]}]",
          "no combination is left that may meet" },
        { "[{\"a\": [\"1 mm\", \"2 mm\", \"3 mm\"], \"b\": \"y\"}]", "nothing left for b y" },
    };
    bench *b = *state;
    const pl_study *s = asks(b, "\"not_together\": [{\"a\": [\"0.1 cm\", \"3 mm\"], \"b\": 4}, "
                                "{\"wood\": \"beech\", \"b\": \"x\", \"note\": \"why\"}]");

    assert_non_null(s);
    assert_int_equal(s->napart, 2);
    assert_int_equal(pl_study_combinations(s), 24 - 2 * 2 - 3); /* 0.1 cm is 1 mm */
    assert_int_equal(s->arrangement.kind, PL_ARRANGE_OPTIMAL);  /* 7 of beech, 10 of larch */
    assert_string_equal(s->arrangement.because,
                        "because unequally many combinations of each wood may meet");
    assert_false(pl_study_may_meet(s, (int[]){ 2, 3, 1 }));
    assert_true(pl_study_may_meet(s, (int[]){ 1, 3, 1 }));
    assert_false(pl_study_may_meet(s, (int[]){ 1, 0, 0 }));
    assert_non_null(strstr(pl_study_words(b->a, s), "Never together: a 1 mm or 3 mm with b 4."));
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        void *own;

        bench_open(&own);
        assert_null(asks(own, pl_arena_printf(b->a, "\"not_together\": %s", cases[i].list)));
        assert_finding(own, cases[i].says);
        bench_close(&own);
    }
}

/* What is hard to change: layers, and where it has no place. */
static void test_hard(void **state)
{
    static const struct {
        const char *a, *b, *arrange, *says; /* NULL: fine */
        unsigned layers;
    } cases[] = {
        { "yes", "no", "split-plot", NULL, 1 },
        { "yes", "no", "auto", NULL, 1 },
        { "very", "yes", "auto", NULL, 2 },
        { "very", "very", "full-factorial", NULL, 1 },
        { "no", "no", "split-plot", "a split-plot in which nothing is hard to change", 0 },
        { "yes", "no", "screening", "\"a\" is hard to change, in a screening", 0 },
        { "maybe", "no", "auto", "no, yes or very", 0 },
    };
    bench *b = *state;

    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        const pl_study *s = NULL;
        const char *text = with(
            b, two, "\"x\", \"y\"]}, {\"name\": \"b\"",
            pl_arena_printf(b->a,
                            "\"x\", \"y\"], \"hard_to_change\": \"%s\"}, {\"hard_to_change\": "
                            "\"%s\", \"name\": \"b\"",
                            cases[i].a, cases[i].b));

        text = with(b, text, "ARRANGE",
                    pl_arena_printf(b->a, "\"kind\": \"%s\"", cases[i].arrange));
        pl_diags_init(&b->d, b->a);
        if (cases[i].says) {
            assert_true(pl_study_parse(b->a, "t.json", text, strlen(text), &s, &b->d) != PL_OK);
            assert_finding(b, cases[i].says);
            continue;
        }
        assert_ok(b, pl_study_parse(b->a, "t.json", text, strlen(text), &s, &b->d));
        assert_int_equal(pl_study_layers(s), cases[i].layers);
        assert_int_equal(pl_study_layer_of(s, 0), 0);
        assert_int_equal(pl_study_layer_of(s, 4), cases[i].layers);
    }
}

/* What a study gets that names no arrangement; five factors of two levels are 32 combinations. */
static void test_chosen(void **state)
{
    static const struct {
        const char *rest;
        pl_arrangement kind;
        unsigned runs;
        const char *because; /* NULL: nothing to give a reason for */
    } cases[] = {
        { "", PL_ARRANGE_FRACTION, 16, "than the 27 glue-ups that the boards hold" },
        { "\"budget\": {\"specimens\": 10}", PL_ARRANGE_SCREENING, 8,
          "one of each of the 32 combinations is more than the 10 glue-ups that the budget "
          "allows" },
        { "\"budget\": {\"specimens\": 26}", PL_ARRANGE_FRACTION, 16,
          "than the 26 glue-ups that the budget allows" },
        { "\"budget\": {\"press_hours\": \"9 h\"}, \"times\": {\"clamp\": \"30 min\"}",
          PL_ARRANGE_FRACTION, 16, "than the 18 glue-ups that the press hours allow" },
        { "\"budget\": {\"specimens\": 7}", PL_ARRANGE_AUTO, 0, NULL }, /* too few for any */
        { "\"budget\": {\"specimens\": 26}, \"glue_ups_per_level\": 1", PL_ARRANGE_AUTO, 0, NULL },
        { "\"not_together\": [{\"a\": \"x\", \"b\": \"x\"}], \"budget\": {\"specimens\": 20}",
          PL_ARRANGE_OPTIMAL, 20, "one of each of the 24 combinations" },
        { "\"not_together\": [{\"a\": \"x\", \"b\": \"x\"}]", PL_ARRANGE_AUTO, 0, NULL },
    };

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        const pl_study *s = NULL;
        const char *at = strstr(two, ",\n \"arrangement\"");
        void *own;
        bench *b;
        pl_text t;

        bench_open(&own);
        b = own;
        pl_text_init(&t, b->a);
        pl_text_add(&t, "%.*s%s%s}", (int)(at - two), two, *cases[i].rest ? ", " : "",
                    cases[i].rest);
        assert_ok(b, pl_study_parse(b->a, "t.json", pl_text_done(&t), t.length, &s, &b->d));
        assert_int_equal(s->arrangement.kind, cases[i].kind);
        assert_int_equal(s->arrangement.runs, cases[i].runs);
        assert_int_equal(s->arrangement.because != NULL, cases[i].because != NULL);
        if (cases[i].because && !strstr(s->arrangement.because, cases[i].because))
            fail_msg("%s", s->arrangement.because);
        bench_close(&own);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_runs),           TEST(test_refused),        TEST(test_three_levels),
        TEST(test_central_levels), TEST(test_central_middle), TEST(test_optimal),
        TEST(test_not_together),   TEST(test_hard),           TEST(test_chosen),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
