/* Split plots: what is hard to change stays for a stretch; two and three layers, boards that hold
 * all or one stretch. Shops are invented. */
#include "plan_laws.h"

#include "design/redraw.h"

static const char *const rooms[] = { "cold", "warm", "hot" };
static const char *const pastes[] = { "a", "b", "c" };

/* The names of what is hard to change, combined, for one glue-up. */
static size_t setting(const shop *w, const pl_plan *p, const pl_glue_up *g, unsigned layer)
{
    size_t at = 0;

    for (size_t f = 0; f < p->nfactor; f++)
        if (pl_study_layer_of(&w->s, f) <= layer)
            at = at * w->s.factors[f].nlevel + (size_t)level_of(p, g, (int)f);
    return at;
}

/* Stretches are runs of glue-ups within a session with one setting; each holds everything else
 * once; inner ones lie within outer ones; every setting has as many stretches. */
static void check_stretches(bench *b, const shop *w, const pl_plan *p, unsigned n)
{
    unsigned nlayer = pl_study_layers(&w->s);

    for (unsigned l = 0; l < nlayer; l++) {
        size_t count = 0, nkey = 1, of, *times;

        for (size_t f = 0; f < p->nfactor; f++)
            nkey *= pl_study_layer_of(&w->s, f) <= l ? w->s.factors[f].nlevel : 1;
        of = p->ntreatment / nkey;
        times = PL_NEWN(b->a, nkey, size_t);
        for (size_t i = 0; i < p->nglue_up && !p->glue_ups[i].spare; i += of) {
            const pl_glue_up *first = &p->glue_ups[i];
            bool *met = PL_NEWN(b->a, p->ntreatment, bool);

            count++;
            times[setting(w, p, first, l)]++;
            for (size_t k = i; k < i + of; k++) {
                const pl_glue_up *g = &p->glue_ups[k];

                assert_int_equal(g->stretch[l], count);
                assert_int_equal(g->session, first->session);
                assert_int_equal(setting(w, p, g, l), setting(w, p, first, l));
                assert_false(met[g->treatment]);
                met[g->treatment] = true;
                if (l)
                    assert_int_equal(g->stretch[0], first->stretch[0]);
            }
        }
        for (size_t k = 0; k < nkey; k++)
            assert_int_equal(times[k], n);
    }
    for (size_t i = 0; i < p->nglue_up; i++)
        for (unsigned l = nlayer; l < PL_LAYERS_MOST; l++)
            assert_int_equal(p->glue_ups[i].stretch[l], 0);
}

static const pl_stratum *stratum(const pl_plan *p, const char *unit)
{
    for (size_t i = 0; i < p->health.nstratum; i++)
        if (!strcmp(p->health.strata[i].unit, unit))
            return &p->health.strata[i];
    fail_msg("no stratum %s", unit);
    return NULL;
}

static void shop_split(bench *b, shop *w, size_t npressure, unsigned hard, unsigned inner)
{
    shop_open(w);
    shop_words(b, w, "room", rooms, 2, false);
    w->factors[0].hard = hard;
    shop_words(b, w, "paste", pastes, 3, false);
    w->factors[1].hard = inner;
    shop_pressure(b, w, npressure, false);
    shop_press(w, "bench press", 4, -1);
}

/* A room of two warmths, three boards: each board is a block with two stretches of six. Yates 1935
 * (Suppl. J. R. Statist. Soc. 2:181): whole plots (3 - 1)(2 - 1) = 2 df; sub plots 36 - 1 - 2 - 1 -
 * 2 - (12 - 2) = 20. */
static void test_two_layers(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    shop w;

    shop_split(b, &w, 2, 1, 0);
    shop_boards(&w, "", 3, 13);
    p = make(b, &w, 3, 5);
    check_stretches(b, &w, p, 3);
    assert_int_equal(p->health.nstratum, 2);
    assert_int_equal(stratum(p, "stretch")->df, 2);
    assert_int_equal(stratum(p, "stretch")->njudge, 1);
    assert_string_equal(stratum(p, "stretch")->judges[0], "room");
    assert_int_equal(stratum(p, "glue_up")->df, 20);
    assert_int_equal(p->health.unit_df, 20);
    assert_non_null(strstr(p->chosen, "split plot, because room is hard to change: it is left "
                                      "alone for stretches of 6 glue-ups"));
    assert_non_null(strstr(p->health.cannot[p->health.ncannot - 1], "room is set 6 times only"));
}

/* Three layers, no boards, sessions hold a whole set: room 2, paste 3 inside, pressure 2 innermost,
 * four times: 4 sessions. Whole plots (4-1)(2-1) = 3; sub plots: 24 - 4 - (8-4) - (6-2) = 12; the
 * rest 48 - 24 - 6 = 18 (Cochran & Cox 1957, Experimental Designs, 2nd ed., 7.2). */
static void test_three_layers(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    shop w;

    shop_split(b, &w, 2, 2, 1);
    w.s.times.clamp_s = 7000; /* three rounds of four stations: twelve */
    p = make(b, &w, 4, 5);
    check_stretches(b, &w, p, 4);
    assert_int_equal(p->nsession, 4);
    assert_int_equal(stratum(p, "stretch")->df, 3);
    assert_int_equal(stratum(p, "inner_stretch")->df, 12);
    assert_string_equal(stratum(p, "inner_stretch")->judges[0], "paste");
    assert_int_equal(stratum(p, "glue_up")->df, 18);
    assert_non_null(strstr(p->chosen, "split-split plot"));
}

/* Boards too short for everything: one for each stretch and species. Rooms are compared between
 * stretches, woods between boards of one stretch. */
static void test_own_boards(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    shop w;

    shop_open(&w);
    shop_words(b, &w, "room", rooms, 2, false);
    w.factors[0].hard = 1;
    shop_pressure(b, &w, 4, false);
    shop_words(b, &w, "species", woods, 2, true);
    shop_boards(&w, "beech", 7, 5);
    shop_boards(&w, "larch", 6, 5);
    shop_press(&w, "bench press", 4, -1);
    p = make(b, &w, 3, 8);
    check_stretches(b, &w, p, 3);
    assert_int_equal(p->nboard, 12);
    for (size_t i = 0; i < p->nglue_up; i++)
        for (size_t k = 0; k < i; k++)
            if (p->glue_ups[i].board == p->glue_ups[k].board && !p->glue_ups[i].spare)
                assert_int_equal(p->glue_ups[i].stretch[0], p->glue_ups[k].stretch[0]);
    assert_int_equal(stratum(p, "board")->df, 12 - 6 - 2);
    assert_string_equal(stratum(p, "board")->judges[0], "species");
    w.boards[1].count = 5;
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, NULL, 3, 1, NULL, &p, &b->d));
    assert_finding(b, "5 larch boards that hold the 4 glue-ups between changes of room");
}

/* Drawn anew: stretches stay where they are and get other settings, all as the plan may hold it.
 * Room 2, paste 3 inside, pressure 2: 2 x (3!)^2 x (2!)^6 assignments a replicate, by counting. */
static void test_redrawn(void **state)
{
    bench *b = *state;
    pl_redraw *r = NULL;
    const pl_plan *p;
    pl_stream stream;
    size_t *treatment, moved = 0;
    shop w;

    shop_split(b, &w, 2, 2, 1);
    w.factors[2].numeric = false; /* no order is refused */
    w.factors[2].set_by = PL_SET_BY_HAND;
    w.s.question.over = -1;
    p = make(b, &w, 1, 5);
    assert_string_equal(p->health.allocations.exact, "4608");
    assert_false(p->health.allocations_at_most);
    p = make(b, &w, 3, 5);
    treatment = PL_NEWN(b->a, p->nglue_up, size_t);
    assert_ok(b, pl_redraw_open(b->a, &w.s, p, &r, &b->d));
    assert_true(pl_redraw_follows(r));
    pl_stream_init(&stream, 1, PL_FOR_TEST, 0);
    for (size_t k = 0; k < 50; k++) {
        pl_plan other = *p;

        assert_ok(b, pl_redraw_draw(r, &stream, treatment, &b->d));
        other.glue_ups = PL_NEWN(b->a, p->nglue_up, pl_glue_up);
        memcpy(other.glue_ups, p->glue_ups, p->nglue_up * sizeof *p->glue_ups);
        for (size_t i = 0; i < p->nglue_up; i++) {
            other.glue_ups[i].treatment = treatment[i];
            moved += treatment[i] != p->glue_ups[i].treatment;
        }
        check_stretches(b, &w, &other, 3);
    }
    assert_in_range(moved, 50 * 36 / 2, 50 * 36); /* 11 of 12 on average */
}

static void test_refused(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    shop w;

    shop_split(b, &w, 2, 1, 0);
    w.s.times.clamp_s = 20000; /* one round of four */
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, NULL, 3, 1, NULL, &p, &b->d));
    assert_finding(b, "a session too short for the 6 glue-ups between changes of room");
    /* alone: set anew for each glue-up, and that is said */
    shop_open(&w);
    shop_pressure(b, &w, 4, false);
    w.factors[0].hard = 1;
    p = make(b, &w, 3, 1);
    assert_non_null(strstr(p->chosen, "set anew for every glue-up"));
    assert_int_equal(p->health.nstratum, 0);
}

/* Random shops: laws of every plan and of stretches, the same again from the same seed, and
 * nothing lost on paper. */
static void test_random(void **state)
{
    size_t made = 0, refused = 0;
    pl_stream r;

    (void)state;
    pl_stream_init(&r, 4, PL_FOR_TEST, 11);
    for (size_t k = 0; k < 400; k++) {
        unsigned n = 1 + pl_stream_below(&r, 3), inner = pl_stream_below(&r, 2);
        const pl_plan *p = NULL, *again, *back;
        const pl_json *json;
        pl_jval *object;
        bool species = pl_stream_below(&r, 2);
        char *text;
        void *own;
        bench *b;
        shop w;

        bench_open(&own);
        b = own;
        shop_split(b, &w, 2 + pl_stream_below(&r, 2), 1 + inner, inner);
        w.presses[0].stations = 2 + pl_stream_below(&r, 5);
        if (species)
            shop_words(b, &w, "species", woods, 2, true);
        if (pl_stream_below(&r, 2)) {
            shop_boards(&w, species ? "beech" : "", 9, 5 + pl_stream_below(&r, 20));
            if (species)
                shop_boards(&w, "larch", 9, 5 + pl_stream_below(&r, 20));
        }
        w.s.cutting.spare_joints = 0.1 * pl_stream_below(&r, 2);
        if (pl_plan_make(b->a, &w.s, NULL, n, k, NULL, &p, &b->d)) {
            refused++;
            bench_close(&own);
            continue;
        }
        check_plan(b, &w, p, n);
        check_stretches(b, &w, p, n);
        assert_ok(b, pl_plan_make(b->a, &w.s, NULL, n, k, NULL, &again, &b->d));
        assert_string_equal(shop_text(b, &w.s, p), shop_text(b, &w.s, again));
        object = pl_jobject(b->a);
        assert_ok(b, pl_plan_to_json(&w.s, p, object));
        text = pl_jtext(b->a, object);
        assert_ok(b, pl_json_parse(b->a, "p", text, strlen(text), &json, &b->d));
        assert_ok(b, pl_plan_from_json(b->a, &w.s, json, &back, &b->d));
        object = pl_jobject(b->a);
        assert_ok(b, pl_plan_to_json(&w.s, back, object));
        assert_string_equal(pl_jtext(b->a, object), text);
        made++;
        bench_close(&own);
    }
    print_message("%zu plans, %zu refused\n", made, refused);
    assert_true(made > 200);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_two_layers), TEST(test_three_layers), TEST(test_own_boards),
        TEST(test_redrawn),    TEST(test_refused),      TEST(test_random),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
