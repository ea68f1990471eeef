/* Whole plans: what is asked for comes out, for a golden study and for many random ones, and
 * at the limits. The studies are invented. */
#include "plan_laws.h"

/* ---------------------------------------------------------- random studies -- */

static void random_shop(bench *b, pl_stream *r, shop *w)
{
    size_t nlevel = 1 + pl_stream_below(r, 6);
    static const char *const hands[] = { "planed", "sanded", "sawn" };
    bool boards = pl_stream_below(r, 4), species = pl_stream_below(r, 3);
    size_t nspecies = species ? 1 + pl_stream_below(r, 3) : 0;

    shop_open(w);
    if (pl_stream_below(r, 2))
        shop_words(b, w, "surface", hands, 1 + pl_stream_below(r, 3), false);
    if (pl_stream_below(r, 8))
        shop_pressure(b, w, nlevel, pl_stream_below(r, 2));
    if (species)
        shop_words(b, w, "species", woods, nspecies, true);
    w->s.joint.specimens_per_glue_up = 1 + pl_stream_below(r, 3) / 2;
    for (size_t i = 0; boards && i < (species ? nspecies : 1); i++)
        shop_boards(w, species ? woods[i] : "", 1 + pl_stream_below(r, 9),
                    pl_stream_below(r, 4) ? 2 + pl_stream_below(r, 20) : 0);
    w->s.cutting.spare_joints = pl_stream_below(r, 2) ? 0.125 : 0;
    w->s.times.clamp_s = pl_stream_below(r, 6) ? 600.0 * (1 + pl_stream_below(r, 80)) : NAN;
    w->s.times.hands_on_s = 60.0 * pl_stream_below(r, 30);
    if (!pl_stream_below(r, 5))
        return; /* no presses listed */
    shop_rig(w, "weights");
    shop_rig(w, "air press");
    if (pl_stream_below(r, 2)) {
        shop_press(w, "one", 1 + pl_stream_below(r, 4), -1);
    } else {
        shop_press(w, "low", 1 + pl_stream_below(r, 3), 0);
        shop_press(w, "high", 1 + pl_stream_below(r, 3), 1);
    }
    w->presses[0].changeover_s = 300.0 * pl_stream_below(r, 3);
    if (pl_study_pressed(&w->s) >= 0)
        shop_points(w, nlevel, pl_stream_below(r, (uint32_t)nlevel + 1), 0, 1);
}

static void test_random_studies(void **state)
{
    size_t made = 0, refused = 0, split = 0, shared = 0;
    pl_stream r;

    (void)state;
    pl_stream_init(&r, 20, PL_FOR_TEST, 0);
    for (size_t k = 0; k < 600; k++) {
        unsigned n = 1 + pl_stream_below(&r, 5);
        const pl_plan *p;
        void *own;
        bench *b;
        shop w;
        pl_code rc;

        bench_open(&own);
        b = own;
        random_shop(b, &r, &w);
        rc = pl_plan_make(b->a, &w.s, w.points.at ? &w.points : NULL, n, k, NULL, &p, &b->d);
        if (rc == PL_EUNFIT) {
            refused++;
            assert_true(pl_diags_count(&b->d, PL_REFUSED) > 0 && b->d.items[0].mend[0]);
        } else {
            assert_ok(b, rc);
            check_plan(b, &w, p, n);
            made++;
            split += strstr(p->chosen, "of several boards") != NULL;
            shared += strstr(p->chosen, "incomplete blocks") != NULL;
        }
        bench_close(&own);
    }
    /* All paths were walked. */
    assert_true(made > 300 && refused > 20 && split > 20 && shared > 20);
}

/* ------------------------------------------------------------------ golden -- */

/* The whole plan, byte for byte: no machine, compiler or library may change it.
 * PLATEN_GOLDEN=write rewrites the file for review. */
static void compare_golden(bench *b, const char *name, const char *text)
{
    const char *path = top_path(b->a, pl_arena_printf(b->a, "tests/design/%s", name));
    const char *mode = getenv("PLATEN_GOLDEN");
    char *kept = pl_arena_get(b->a, 1, 1 << 20);
    FILE *f = fopen(path, mode && !strcmp(mode, "write") ? "w+" : "r");

    if (!f)
        fail_msg("%s cannot be opened", path);
    if (mode && !strcmp(mode, "write"))
        fputs(text, f);
    rewind(f);
    kept[fread(kept, 1, (1 << 20) - 1, f)] = '\0';
    fclose(f);
    assert_string_equal(kept, text);
}

static void golden_shop(bench *b, shop *w)
{
    shop_stairs(b, w, 5, 3, 7, 2);
    shop_rig(w, "weights");
    shop_rig(w, "air press");
    shop_points(w, 5, 2, 0, 1);
    w->s.cutting.spare_joints = 0.125;
}

static void test_golden(void **state)
{
    bench *b = *state;
    shop w;

    golden_shop(b, &w);
    compare_golden(b, "plan_stairs.txt", shop_text(b, &w.s, make(b, &w, 3, 1811)));
    shop_stairs(b, &w, 6, 4, 4, 1); /* boards shorter than all pressures */
    compare_golden(b, "plan_short.txt", shop_text(b, &w.s, make(b, &w, 2, 1811)));
    shop_stairs(b, &w, 8, 2, 8, 1); /* sessions shorter than a board */
    compare_golden(b, "plan_split.txt", shop_text(b, &w.s, make(b, &w, 2, 1811)));
}

static void test_repeats_itself(void **state)
{
    bench *b = *state;
    shop w;
    char *first, *again;

    golden_shop(b, &w);
    first = shop_text(b, &w.s, make(b, &w, 3, 5));
    assert_string_equal(first, shop_text(b, &w.s, make(b, &w, 3, 5)));
    again = shop_text(b, &w.s, make(b, &w, 3, 6));
    assert_string_not_equal(first, again);
    assert_string_not_equal(first, shop_text(b, &w.s, make(b, &w, 3, PL_SEED_LIMIT - 1)));
}

/* To JSON and back: the study room's promise, held with a real plan. */
static void test_through_json(void **state)
{
    bench *b = *state;
    pl_jval *object = pl_jobject(b->a);
    const pl_plan *p, *back;
    const pl_json *parsed;
    char *text;
    shop w;

    golden_shop(b, &w);
    p = make(b, &w, 3, 5);
    assert_ok(b, pl_plan_to_json(&w.s, p, object));
    text = pl_jtext(b->a, object);
    assert_non_null(text);
    assert_ok(b, pl_json_parse(b->a, "plan", text, strlen(text), &parsed, &b->d));
    assert_ok(b, pl_plan_from_json(b->a, &w.s, parsed, &back, &b->d));
    assert_string_equal(shop_text(b, &w.s, p), shop_text(b, &w.s, back));
}

/* ------------------------------------------------------------------ limits -- */

static void test_limits(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    shop w;

    shop_stairs(b, &w, 4, 4, 4, 4);
    assert_code(b, PL_EUSAGE, pl_plan_make(b->a, &w.s, NULL, 0, 1, NULL, &p, &b->d));
    assert_code(b, PL_EUSAGE, pl_plan_make(b->a, &w.s, NULL, 1, PL_SEED_LIMIT, NULL, &p, &b->d));
    assert_finding(b, "a seed of 2^53 or more");
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, NULL, 4000000000u, 1, NULL, &p, &b->d));
    assert_finding(b, "at most 5127787 joints, spare ones not counted: there are no more labels");
    shop_stairs(b, &w, 30, 4, 4, 4);
    shop_words(b, &w, "again", woods, 3, false);
    shop_words(b, &w, "and again", woods, 3, false);
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, NULL, 1, 1, NULL, &p, &b->d));
    assert_finding(b, "more combinations of levels than one plan holds");
}

/* The largest plan stays within a bearable time. */
static void test_large(void **state)
{
    bench *b = *state;
    shop w;

    shop_stairs(b, &w, 20, 60, 7, 8);
    make(b, &w, 20, 1); /* 800 glue-ups on boards that hold 7 of 20 */
}

/* A treatment or two, a glue-up or two: the ends of every loop. */
static void test_small(void **state)
{
    bench *b = *state;
    const pl_plan *p;
    shop w;

    for (size_t nlevel = 1; nlevel <= 4; nlevel++)
        for (unsigned n = 1; n <= 3; n++) {
            shop_open(&w);
            shop_pressure(b, &w, nlevel, false);
            p = make(b, &w, n, 9);
            assert_true(p->health.order_draws < PL_PLAN_ORDER_DRAWS_MOST);
        }
    shop_open(&w);
    shop_words(b, &w, "species", woods, 2, true);
    shop_boards(&w, "beech", 3, 5);
    shop_boards(&w, "larch", 3, 5);
    p = make(b, &w, 3, 9);
    assert_true(isnan(p->health.efficiency));
    assert_int_equal(p->nboard, 6);
}

/* The n-th allocation fails, for every n: no crash, no leak, PL_ENOMEM. */
static unsigned long fail_every(void (*build)(bench *, shop *))
{
    for (unsigned long n = 1;; n++) {
        const pl_plan *p;
        void *own;
        bench *b;
        shop w;
        pl_code rc;

        bench_open(&own);
        b = own;
        build(b, &w);
        pl_arena_fail_at(n);
        rc = pl_plan_make(b->a, &w.s, w.points.at ? &w.points : NULL, 2, 3, NULL, &p, &b->d);
        pl_arena_fail_at(0);
        if (rc != PL_OK)
            assert_code(b, PL_ENOMEM, rc);
        bench_close(&own);
        if (rc == PL_OK)
            return n - 1;
    }
}

static void short_shop(bench *b, shop *w)
{
    shop_stairs(b, w, 6, 3, 4, 1);
}

static void split_shop(bench *b, shop *w)
{
    shop_stairs(b, w, 8, 2, 8, 1);
}

static void test_memory(void **state)
{
    (void)state;
    assert_true(fail_every(golden_shop) > 100);
    assert_true(fail_every(short_shop) > 100);
    assert_true(fail_every(split_shop) > 100);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_random_studies), TEST(test_golden), TEST(test_repeats_itself),
        TEST(test_through_json),   TEST(test_limits), TEST(test_large),
        TEST(test_small),          TEST(test_memory),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
