/* Plans whose arrangement is asked for: fractions, screenings and squares, from random shops.
 * The studies are invented. */
#include "plan_laws.h"

/* Factors of two levels, a pressure first, the last one with the board if asked. */
static void two_levels(bench *b, shop *w, size_t nfactor, bool woods_last)
{
    static const char *const names[] = { "surface", "grain", "pads", "glue", "faces", "age" };
    static const char *const two[] = { "one", "other" };

    shop_pressure(b, w, 2, false);
    for (size_t k = 1; k < nfactor - woods_last; k++)
        shop_words(b, w, names[k - 1], two, 2, false);
    if (woods_last)
        shop_words(b, w, "species", woods, 2, true);
}

static void boards_of(shop *w, bool species, unsigned count, unsigned hold)
{
    shop_boards(w, species ? "beech" : "", count, hold);
    if (species)
        shop_boards(w, "larch", count, hold);
}

/* Each factor's levels equally often, each pair of factors' combinations too. */
static void check_balance(const pl_plan *p)
{
    for (size_t i = 0; i < p->nfactor; i++)
        for (size_t k = 0; k < i; k++) {
            size_t count[2][2] = { { 0 } };

            for (size_t g = 0; g < p->nglue_up; g++)
                if (!p->glue_ups[g].spare)
                    count[level_of(p, &p->glue_ups[g], (int)i)]
                         [level_of(p, &p->glue_ups[g], (int)k)]++;
            assert_int_equal(count[0][0], count[0][1]);
            assert_int_equal(count[0][0], count[1][0]);
            assert_int_equal(count[0][0], count[1][1]);
        }
}

static void test_random_fractions(void **state)
{
    size_t clean = 0, poor = 0, made = 0;
    pl_stream r;

    (void)state;
    pl_stream_init(&r, 4, PL_FOR_TEST, 1);
    for (size_t k = 0; k < 200; k++) {
        bool screening = pl_stream_below(&r, 2), species = pl_stream_below(&r, 2);
        size_t nfactor = 4 + pl_stream_below(&r, 4);
        unsigned n = 1 + pl_stream_below(&r, 2);
        const pl_plan *p;
        void *own;
        shop w;

        bench_open(&own);
        shop_open(&w);
        two_levels(own, &w, nfactor, species);
        w.s.arrangement.kind = screening ? PL_ARRANGE_SCREENING : PL_ARRANGE_FRACTION;
        w.s.arrangement.runs = screening ? 12 : 16;
        if (nfactor == 4 && !screening)
            w.s.arrangement.runs = 8;
        if (pl_stream_below(&r, 3))
            boards_of(&w, species, 11, 3 + pl_stream_below(&r, 20));
        shop_press(&w, "bench press", 1 + pl_stream_below(&r, 3), -1);
        p = make(own, &w, n, k);
        check_balance(p);
        clean += p->health.efficiency > 0.999;
        poor += !(p->health.efficiency > 0.5);
        assert_int_equal(p->health.nword_length > 0, !screening);
        made++;
        bench_close(&own);
    }
    assert_int_equal(made, 200);
    printf("%zu of 200 plans wholly free of boards and sessions, %zu half lost\n", clean, poor);
    assert_true(clean > 60);
    assert_true(poor < 30); /* boards of three and sessions, with 7 factors in 12 runs */
}

/* 16 runs in four sessions of four, no boards: 2^(6-2) in 4 blocks, every single factor free
 * of them (the confounding pattern of Box & Hunter 1961 allows it). */
static void test_fraction_in_blocks(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    shop w;

    shop_open(&w);
    two_levels(b, &w, 6, false);
    w.s.arrangement.kind = PL_ARRANGE_FRACTION;
    w.s.arrangement.runs = 16;
    w.s.times.clamp_s = 6000; /* four in eight hours on one station */
    shop_press(&w, "bench press", 1, -1);
    p = make(b, &w, 1, 3);
    assert_int_equal(p->nsession, 4);
    assert_rel("efficiency", p->health.efficiency, 1, 1e-12);
    assert_int_equal(p->health.unit_df, 16 - 4 - 6);
    assert_int_equal(p->health.nalias, 7);
    assert_int_equal(p->health.word_lengths[1], 3);
    assert_non_null(strstr(p->chosen, "16 of 64 combinations"));
}

static void test_aliases(void **state)
{
    bench *b = *state;
    const uint32_t generated[] = { 0, 0, 0, 7 };
    const pl_plan *p, *back;
    pl_jval *object = pl_jobject(b->a);
    const pl_json *json;
    char *text;
    shop w;

    shop_open(&w);
    two_levels(b, &w, 4, false);
    w.s.arrangement = (pl_arrange){ .kind = PL_ARRANGE_FRACTION,
                                    .runs = 8,
                                    .generated = generated };
    p = make(b, &w, 2, 3);
    assert_int_equal(p->health.nalias, 3); /* I = ABCD: AB = CD, AC = BD, BC = AD */
    assert_string_equal(p->health.aliases[0], "pressure x surface = grain x pads");
    assert_string_equal(p->health.aliases[1], "pressure x grain = surface x pads");
    assert_string_equal(p->health.aliases[2], "pressure x pads = surface x grain");

    assert_ok(b, pl_plan_to_json(&w.s, p, object));
    text = pl_jtext(b->a, object);
    assert_ok(b, pl_json_parse(b->a, "p", text, strlen(text), &json, &b->d));
    assert_ok(b, pl_plan_from_json(b->a, &w.s, json, &back, &b->d));
    assert_string_equal(shop_text(b, &w.s, back), shop_text(b, &w.s, p));
    assert_int_equal(back->health.nalias, 3);
    assert_string_equal(back->health.aliases[2], p->health.aliases[2]);
    assert_int_equal(back->health.nword_length, p->health.nword_length);
    assert_int_equal(back->health.word_lengths[1], 1);
}

static void test_fraction_refused(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    shop w;

    shop_open(&w);
    two_levels(b, &w, 7, false);
    w.s.arrangement = (pl_arrange){ .kind = PL_ARRANGE_FRACTION, .runs = 8, .resolution = 4 };
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, NULL, 1, 1, NULL, &p, &b->d));
    assert_finding(b, "resolution 3 in 8 runs, where 4 is asked");
    assert_finding(b, "16 runs have it");
    w.s.arrangement = (pl_arrange){ .kind = PL_ARRANGE_SCREENING, .runs = 92 };
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, NULL, 1, 1, NULL, &p, &b->d));
    assert_finding(b, "none is built here: 96 runs");
}

static void test_random_squares(void **state)
{
    static const char *const glues[] = { "PVAc", "PUR", "hide", "urea", "epoxy", "starch", "fish" };
    size_t made = 0;
    pl_stream r;

    (void)state;
    pl_stream_init(&r, 4, PL_FOR_TEST, 2);
    for (size_t k = 0; k < 200; k++) {
        size_t side = 3 + pl_stream_below(&r, 5);
        bool pair = pl_stream_below(&r, 2) && side != 6, species = pl_stream_below(&r, 2);
        unsigned squares = 1 + pl_stream_below(&r, 2);
        const pl_plan *p;
        void *own;
        bench *b;
        shop w;

        bench_open(&own);
        b = own;
        shop_open(&w);
        shop_words(b, &w, "glue", glues, side, false);
        if (pair)
            shop_words(b, &w, "pads", glues, side, false);
        if (species)
            shop_words(b, &w, "species", woods, 2, true);
        boards_of(&w, species, (unsigned)side * squares, (unsigned)side + 1);
        shop_press(&w, "bench press", (unsigned)side, -1);
        w.s.arrangement.kind = pair ? PL_ARRANGE_GRAECO_LATIN : PL_ARRANGE_LATIN;
        p = make(b, &w, pair ? squares : squares * (unsigned)side, k);
        assert_rel("efficiency", p->health.efficiency, 1, 1e-9);
        for (size_t i = 0; i < p->nglue_up; i++) /* no level twice on a board or in a session */
            for (size_t j = 0; j < i; j++) {
                const pl_glue_up *g = &p->glue_ups[i], *o = &p->glue_ups[j];

                for (int f = 0; f < 1 + pair; f++)
                    if (level_of(p, g, f) == level_of(p, o, f))
                        assert_true(g->board != o->board &&
                                    (g->session != o->session ||
                                     p->boards[g->board].species != p->boards[o->board].species));
            }
        made++;
        bench_close(&own);
    }
    assert_int_equal(made, 200);
}

static void test_square_refused(void **state)
{
    static const char *const glues[] = { "PVAc", "PUR", "hide", "urea", "epoxy", "starch" };
    bench *b = *state;
    const pl_plan *p;
    shop w;

    shop_open(&w);
    shop_words(b, &w, "glue", glues, 5, false);
    shop_boards(&w, "beech", 4, 9);
    shop_press(&w, "bench press", 5, -1);
    w.s.arrangement.kind = PL_ARRANGE_LATIN;
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, NULL, 5, 1, NULL, &p, &b->d));
    assert_finding(b, "4 boards that hold 5 glue-ups, expected 5: a row of a square each");
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, NULL, 4, 1, NULL, &p, &b->d));
    assert_finding(b, "a multiple of 5: whole squares");
    w.boards[0].count = 5;
    w.presses[0].stations = 1;
    w.s.times.clamp_s = 7200; /* three in a session */
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, NULL, 5, 1, NULL, &p, &b->d));
    assert_finding(b, "a session too short for 5 glue-ups");
    w.factors[0].nlevel = 6;
    shop_words(b, &w, "pads", glues, 6, false);
    w.s.arrangement.kind = PL_ARRANGE_GRAECO_LATIN;
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, NULL, 1, 1, NULL, &p, &b->d));
    assert_finding(b, "there is none: one level less or more");
}

static const char *const surfaces[] = { "a", "b", "c", "d", "e", "f", "g", "h" };

/* 8 in 14 boards of 4: the bound v(k - 1)/(k(v - 1)) = 6/7 is reached. 60 boards cannot be
 * balanced, and the nearest number of repeats that can is named. */
static void test_balanced_boards(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    shop w;

    shop_open(&w);
    shop_words(b, &w, "surface", surfaces, 8, false);
    shop_boards(&w, "beech", 60, 6);
    shop_press(&w, "bench press", 8, -1);
    w.s.arrangement = (pl_arrange){ .kind = PL_ARRANGE_INCOMPLETE_BLOCKS,
                                    .set_size = 4,
                                    .balanced = true };
    p = make(b, &w, 7, 3);
    assert_int_equal(p->nboard, 14);
    assert_rel("efficiency", p->health.efficiency, 6.0 / 7, 1e-12);
    assert_rel("bound", p->health.efficiency_bound, 6.0 / 7, 1e-12);
    assert_non_null(strstr(p->chosen, "balanced"));
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, NULL, 6, 1, NULL, &p, &b->d));
    assert_finding(b, "8 treatments on 12 boards of 4: no whole number of meetings");
    assert_finding(b, "7 glue-ups of each, on 14 boards of 4");
    w.boards[0].count = 13;
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, NULL, 7, 1, NULL, &p, &b->d));
    assert_finding(b, "too few boards for sets of 4, expected 14 with room for 4 glue-ups");
    w.boards[0].count = 12;
    w.s.arrangement.balanced = false;
    p = make(b, &w, 6, 3);
    assert_true(p->health.efficiency > 0.99 * p->health.efficiency_bound);
    assert_non_null(strstr(p->health.cannot[0], "no whole number of meetings"));
}

/* Rows and columns: seven in seven boards of four is a balanced design whose sessions hold
 * every treatment once (Youden 1937): sessions cost nothing, efficiency 7/8. */
static void test_row_column(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    shop w;

    shop_open(&w);
    shop_words(b, &w, "surface", surfaces, 7, false);
    shop_boards(&w, "beech", 7, 4);
    shop_press(&w, "bench press", 7, -1);
    w.s.arrangement.kind = PL_ARRANGE_ROW_COLUMN;
    for (uint64_t seed = 0; seed < 20; seed++) {
        p = make(b, &w, 4, seed);
        assert_int_equal(p->nsession, 4);
        assert_rel("efficiency", p->health.efficiency, 7.0 / 8, 1e-12);
    }
    w.s.times.clamp_s = 20000; /* one round of the stations in a session: still seven */
    w.presses[0].stations = 4; /* boards in two batches */
    p = make(b, &w, 4, 1);
    assert_int_equal(p->nsession, 8);
    assert_true(p->health.efficiency > 0.5);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_random_fractions), TEST(test_fraction_in_blocks), TEST(test_aliases),
        TEST(test_fraction_refused), TEST(test_random_squares),     TEST(test_square_refused),
        TEST(test_balanced_boards),  TEST(test_row_column),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
