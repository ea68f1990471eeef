/* Whole plans: what is asked for comes out, for a golden study and for many
 * random ones. The studies are invented. */
#include "design/ids.h"
#include "shop.h"

/* ---------------------------------------------------- laws of every plan -- */

static int level_of(const pl_plan *p, const pl_glue_up *g, int factor)
{
    return p->treatments[g->treatment * p->nfactor + (size_t)factor];
}

static void check_counts(bench *b, const shop *w, const pl_plan *p, unsigned n)
{
    size_t *times = PL_NEWN(b->a, p->ntreatment, size_t), m, made = 0;

    assert_int_equal(p->ntreatment, pl_study_treatments(&w->s));
    m = pl_study_specimens_per_glue_up(&w->s);
    for (size_t i = 0; i < p->nglue_up; i++) {
        const pl_glue_up *g = &p->glue_ups[i];

        assert_true(g->treatment < p->ntreatment);
        times[g->treatment] += !g->spare;
        made += !g->spare;
        assert_int_equal(g->glue_order, g->spare ? 0 : i + 1); /* spare ones behind */
        assert_int_equal(g->session == 0, g->spare);
    }
    for (size_t t = 0; t < p->ntreatment; t++)
        assert_int_equal(times[t], n);
    assert_int_equal(made, n * p->ntreatment);
    assert_int_equal(p->nspecimen, p->nglue_up * m);
}

static void check_boards(bench *b, const shop *w, const pl_plan *p, unsigned n)
{
    int with = pl_study_with_board(&w->s);
    bool *taken = PL_NEWN(b->a, p->nspecimen + 1, bool);
    size_t v = p->ntreatment / (with >= 0 ? w->s.factors[with].nlevel : 1);
    size_t *on = PL_NEWN(b->a, p->ntreatment, size_t);

    if (!w->s.nboard_kinds)
        assert_int_equal(p->nboard, 0);
    for (size_t k = 0; k < p->nboard; k++) {
        const pl_stock *stock = &w->boards[p->boards[k].stock];
        size_t units = 0, specimens = 0, low = SIZE_MAX, high = 0;

        memset(taken, 0, p->nspecimen + 1);
        memset(on, 0, p->ntreatment * sizeof *on);
        assert_string_equal(p->boards[k].label, pl_arena_printf(b->a, "B%zu", k + 1));
        for (size_t i = 0; i < p->nglue_up; i++) {
            const pl_glue_up *g = &p->glue_ups[i];

            if (g->board != (int)k)
                continue;
            if (with >= 0) /* species never crosses boards */
                assert_string_equal(stock->species,
                                    w->s.factors[with].levels[level_of(p, g, with)].text);
            on[g->treatment] += !g->spare;
            units += !g->spare;
        }
        for (size_t i = 0; i < p->nspecimen; i++)
            if (p->glue_ups[p->specimens[i].glue_up].board == (int)k) {
                assert_in_range(p->specimens[i].place, 1, p->nspecimen);
                assert_false(taken[p->specimens[i].place]);
                taken[p->specimens[i].place] = true;
                specimens++;
            }
        for (size_t i = 1; i <= specimens; i++) /* the places are 1.. without a gap */
            assert_true(taken[i]);
        if (stock->specimens)
            assert_true(specimens <= stock->specimens);
        assert_true(units > 0);
        for (size_t t = 0; t < p->ntreatment; t++)
            if (with < 0 ||
                !strcmp(
                    w->s.factors[with].levels[p->treatments[t * p->nfactor + (size_t)with]].text,
                    stock->species)) {
                low = on[t] < low ? on[t] : low;
                high = on[t] > high ? on[t] : high;
            }
        if (units % v == 0) /* whole sets: every treatment as often as any other */
            assert_int_equal(low, high);
        assert_true(high <= n);
    }
}

static void check_sessions(const shop *w, const pl_plan *p)
{
    const pl_times *times = &w->s.times;
    double busy_s = times->hands_on_s + times->clamp_s;
    bool overnight = busy_s > times->session_s;

    for (size_t i = 0; i < p->nglue_up && !p->glue_ups[i].spare; i++) {
        const pl_glue_up *g = &p->glue_ups[i];

        assert_in_range(g->session, 1, p->nsession);
        if (i) {
            assert_true(g->session - g[-1].session <= 1);
            if (g->session == g[-1].session && !isnan(busy_s)) /* one pair of hands */
                assert_true(g->start_s >= g[-1].start_s + times->hands_on_s - 1e-6);
        }
        if (w->s.npress) {
            const pl_press *press = &w->presses[g->press];
            bool has = !press->nrig || g->rig < 0;

            assert_in_range(g->station, 1, press->stations);
            for (size_t r = 0; r < press->nrig; r++)
                has = has || press->rigs[r] == g->rig;
            assert_true(has);
        }
        if (isnan(busy_s)) {
            assert_true(isnan(g->start_s));
            continue;
        }
        assert_true(g->start_s + (overnight ? times->hands_on_s : busy_s) <=
                    times->session_s + 1e-3);
        for (size_t j = 0; j < i; j++) { /* no station closes twice at a time */
            const pl_glue_up *o = &p->glue_ups[j];

            if (o->session == g->session && o->press == g->press && o->station == g->station)
                assert_true(!overnight && g->start_s >= o->start_s + busy_s - 1e-6);
        }
    }
    assert_int_equal(p->glue_ups[0].session, 1);
}

static void check_specimens(bench *b, const pl_plan *p)
{
    bool *broken = PL_NEWN(b->a, p->nspecimen + 1, bool);

    for (size_t i = 0; i < p->nspecimen; i++) {
        const pl_specimen *x = &p->specimens[i];

        assert_true(x->glue_up < p->nglue_up);
        assert_int_equal(x->spare, p->glue_ups[x->glue_up].spare);
        assert_true(pl_id_valid(x->id));
        assert_string_equal(x->adherends[0], pl_arena_printf(b->a, "%s-a", x->id));
        assert_string_equal(x->adherends[1], pl_arena_printf(b->a, "%s-b", x->id));
        assert_ptr_equal(pl_plan_find(p, x->id), x); /* none twice */
        if (x->spare) {
            assert_int_equal(x->break_order, 0);
            continue;
        }
        assert_in_range(x->break_order, 1, p->nspecimen);
        assert_false(broken[x->break_order]);
        broken[x->break_order] = true;
    }
}

/* Spearman's rank correlation with midranks, the long way. */
static double spearman(bench *b, const pl_study *s, const pl_plan *p, int factor)
{
    size_t n = 0;
    double *x = PL_NEWN(b->a, p->nglue_up, double), sxy = 0, sxx = 0, syy = 0;

    for (size_t i = 0; i < p->nglue_up; i++)
        if (!p->glue_ups[i].spare)
            x[n++] = s->factors[factor].levels[level_of(p, &p->glue_ups[i], factor)].si;
    for (size_t i = 0; i < n; i++) {
        double rank = 0.5, mean = ((double)n + 1) / 2, order = (double)i + 1;

        for (size_t j = 0; j < n; j++)
            rank += x[j] < x[i] ? 1 : x[j] == x[i] ? 0.5 : 0;
        sxy += (rank - mean) * (order - mean);
        sxx += (order - mean) * (order - mean);
        syy += (rank - mean) * (rank - mean);
    }
    return sxx > 0 && syy > 0 ? sxy / sqrt(sxx * syy) : 0;
}

/* A session of three levels or more that only rises or only falls. */
static bool some_session_runs(const pl_study *s, const pl_plan *p, int factor)
{
    for (unsigned k = 1; k <= p->nsession; k++) {
        size_t up = 0, down = 0;
        double last = NAN;

        for (size_t i = 0; i < p->nglue_up; i++) {
            double x = s->factors[factor].levels[level_of(p, &p->glue_ups[i], factor)].si;

            if (p->glue_ups[i].session != k)
                continue;
            up += x > last;
            down += x < last;
            last = x;
        }
        if ((up >= 2 && !down) || (down >= 2 && !up))
            return true;
    }
    return false;
}

static void check_order(bench *b, const shop *w, const pl_plan *p)
{
    int pressed = pl_study_pressed(&w->s);
    double r;

    if (pressed < 0 || w->factors[pressed].nlevel < 2)
        return;
    r = spearman(b, &w->s, p, pressed);
    assert_abs("order balance", p->health.order_balance, fabs(r), 1e-12);
    if (p->health.order_draws < PL_PLAN_ORDER_DRAWS_MOST) {
        assert_true(fabs(r) <= p->health.order_bound + 1e-12);
        assert_false(some_session_runs(&w->s, p, pressed));
    }
}

static void check_health(const pl_plan *p)
{
    const pl_health *h = &p->health;

    assert_true(isnan(h->efficiency) || (h->efficiency >= 0 && h->efficiency <= 1 + 1e-9));
    assert_true(isnan(h->efficiency) || h->efficiency <= h->efficiency_bound + 1e-9);
    assert_in_range(h->order_draws, 1, PL_PLAN_ORDER_DRAWS_MOST);
    for (size_t i = 0; i < h->ncannot; i++)
        assert_true(strlen(h->cannot[i]) > 20);
    assert_true(strlen(p->chosen) > 20);
}

static void check_plan(bench *b, const shop *w, const pl_plan *p, unsigned n)
{
    check_counts(b, w, p, n);
    check_boards(b, w, p, n);
    check_sessions(w, p);
    check_specimens(b, p);
    check_order(b, w, p);
    check_health(p);
}

static const pl_plan *make(bench *b, const shop *w, unsigned n, uint64_t seed)
{
    const pl_plan *p = NULL;

    assert_ok(
        b, pl_plan_make(b->a, &w->s, w->points.at ? &w->points : NULL, n, seed, NULL, &p, &b->d));
    check_plan(b, w, p, n);
    return p;
}

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
    w.s.arrangement = PL_ARRANGE_COMPLETE_BLOCKS;
    assert_code(b, PL_EUNFIT, pl_plan_make(b->a, &w.s, NULL, 3, 1, NULL, &p, &b->d));
    assert_finding(b, "complete-blocks, but beech boards hold 0 of 3 whole sets of 8 (the longest "
                      "holds 6 glue-ups)");
    assert_finding(b, "use longer or more boards");
    shop_stairs(b, &w, 8, 9, 8, 4);
    w.s.arrangement = PL_ARRANGE_COMPLETE_BLOCKS;
    p = make(b, &w, 3, 1);
    assert_rel("efficiency", p->health.efficiency, 1, 1e-12);
    w.s.arrangement = PL_ARRANGE_FULL_FACTORIAL;
    assert_string_equal(shop_text(b, &w.s, p), shop_text(b, &w.s, make(b, &w, 3, 1)));
    w.s.nboard_kinds = 0; /* sessions are the blocks then: 4 stations hold 8 a session */
    w.s.arrangement = PL_ARRANGE_COMPLETE_BLOCKS;
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
    assert_finding(b, "at most 2000 glue-ups and 5000 joints");
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
        TEST(test_random_studies),  TEST(test_golden),
        TEST(test_repeats_itself),  TEST(test_through_json),
        TEST(test_spread),          TEST(test_short_boards),
        TEST(test_boards_refused),  TEST(test_arrangement),
        TEST(test_spares),          TEST(test_several_a_glue_up),
        TEST(test_press_hours),     TEST(test_capacity),
        TEST(test_session_refused), TEST(test_both_woods),
        TEST(test_rig_confounding), TEST(test_rig_on_a_press),
        TEST(test_cannot),          TEST(test_limits),
        TEST(test_large),           TEST(test_small),
        TEST(test_memory),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
