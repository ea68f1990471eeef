/* A further round: nothing of the plan changes, every glue-up asked for is there, of the right
 * wood, in sessions of its own. The studies are invented. */
#include "design/plan_grow.h"

#include "plan_laws.h"

static const pl_plan *planned(bench *b, shop *w, double spares)
{
    const pl_plan *p = NULL;

    w->s.cutting.spare_joints = spares;
    assert_ok(b, pl_plan_make(b->a, &w->s, NULL, 3, 5, NULL, &p, &b->d));
    return p;
}

/* The shop with one pressure more, as a study that was grown has it. */
static void add_level(bench *b, shop *w)
{
    pl_factor *f = &w->factors[0];
    pl_level *more = PL_NEWN(b->a, f->nlevel + 1, pl_level);

    memcpy(more, f->levels, f->nlevel * sizeof *more);
    more[f->nlevel] = (pl_level){ .text = "0.57 N/mm2", .si = 570000 };
    f->levels = more;
    f->nlevel++;
}

static pl_issued issued_of(bench *b, const pl_plan *p)
{
    const char **ids = PL_NEWN(b->a, p->nspecimen, const char *);

    for (size_t i = 0; i < p->nspecimen; i++)
        ids[i] = p->specimens[i].id;
    return (pl_issued){ ids, p->nspecimen };
}

static void check_laws(const shop *w, const pl_plan *old, const pl_plan *p, const int *levels,
                       size_t n)
{
    size_t added = 0, m = pl_study_specimens_per_glue_up(&w->s);
    bool seen[64] = { false };

    assert_true(pl_plan_grown_from(p, old));
    assert_int_equal(p->nspecimen, p->nglue_up * m);
    for (size_t i = 0; i < p->nglue_up; i++) {
        const pl_glue_up *g = &p->glue_ups[i], *was = pl_plan_find_glue_up(old, g->label);
        const int *row = p->treatments + g->treatment * p->nfactor;
        size_t k = 0;

        for (size_t j = 0; j < i; j++)
            assert_string_not_equal(p->glue_ups[j].label, g->label);
        if (g->board >= 0) /* a board is of one wood */
            assert_string_equal(p->boards[g->board].species, w->s.factors[1].levels[row[1]].text);
        if (g->spare || (was && !was->spare))
            continue;
        added++;
        assert_true(g->session > old->nsession);
        while (k < n && (seen[k] || memcmp(levels + k * p->nfactor, row, 2 * sizeof *row)))
            k++;
        assert_true(k < n);
        seen[k] = true;
    }
    assert_int_equal(added, n);
    for (size_t i = 0; i < p->nspecimen; i++) {
        assert_true(pl_id_valid(p->specimens[i].id));
        for (size_t j = 0; j < i; j++) {
            assert_string_not_equal(p->specimens[j].id, p->specimens[i].id);
            if (p->glue_ups[p->specimens[j].glue_up].board >= 0 &&
                p->glue_ups[p->specimens[j].glue_up].board ==
                    p->glue_ups[p->specimens[i].glue_up].board)
                assert_int_not_equal(p->specimens[j].place, p->specimens[i].place);
            if (!p->specimens[i].spare)
                assert_int_not_equal(p->specimens[j].break_order, p->specimens[i].break_order);
        }
    }
}

static bool said(const pl_plan *p, const char *words)
{
    for (size_t i = 0; i < p->health.ncannot; i++)
        if (strstr(p->health.cannot[i], words))
            return true;
    return false;
}

/* Levels 0, 2 and the added 4 in both woods, twice. */
static const int round_two[] = { 0, 0, 2, 0, 4, 0, 0, 1, 2, 1, 4, 1,
                                 0, 0, 2, 0, 4, 0, 0, 1, 2, 1, 4, 1 };
static const size_t replicate[] = { 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1 };
#define ROUND 12

static void test_spares_then_boards(void **state)
{
    bench *b = *state;
    const pl_plan *old, *p = NULL, *same = NULL;
    size_t from_old = 0, spare = 0;
    pl_issued issued;
    shop w;

    shop_stairs(b, &w, 4, 3, 6, 2);
    old = planned(b, &w, 0.25); /* 3 spares of each wood */
    issued = issued_of(b, old);
    add_level(b, &w);
    assert_ok(
        b, pl_plan_grow(b->a, &w.s, NULL, old, round_two, replicate, ROUND, 8, &issued, &p, &b->d));
    check_laws(&w, old, p, round_two, ROUND);
    for (size_t i = 0; i < p->nglue_up; i++) {
        from_old += p->glue_ups[i].session > old->nsession && p->glue_ups[i].board < 6;
        spare += p->glue_ups[i].spare;
    }
    assert_int_equal(from_old, 6);
    assert_int_equal(p->nboard, 8); /* one more of each wood: 3 of them and a spare joint */
    assert_int_equal(spare, 2);
    assert_true(said(p, "1 board of beech to be found besides the 3 that the study lists"));
    assert_true(said(p, "the further round"));
    assert_int_equal(p->ntreatment, old->ntreatment + 2);
    assert_ok(b, pl_plan_grow(b->a, &w.s, NULL, old, round_two, replicate, ROUND, 8, &issued, &same,
                              &b->d));
    assert_string_equal(shop_text(b, &w.s, p), shop_text(b, &w.s, same));
}

/* A round behind a round, and without boards. */
static void test_again_and_bare(void **state)
{
    bench *b = *state;
    const pl_plan *old, *p = NULL, *more = NULL;
    pl_issued issued;
    shop w;

    shop_open(&w);
    shop_pressure(b, &w, 4, true);
    shop_words(b, &w, "adhesive", (const char *const[]){ "white", "brown" }, 2, false);
    shop_press(&w, "bench press", 2, -1);
    old = planned(b, &w, 0);
    issued = issued_of(b, old);
    add_level(b, &w);
    assert_ok(
        b, pl_plan_grow(b->a, &w.s, NULL, old, round_two, replicate, ROUND, 1, &issued, &p, &b->d));
    check_laws(&w, old, p, round_two, ROUND);
    issued = issued_of(b, p);
    assert_ok(b,
              pl_plan_grow(b->a, &w.s, NULL, p, round_two, replicate, 4, 2, &issued, &more, &b->d));
    check_laws(&w, p, more, round_two, 4);
    assert_int_equal(more->ntreatment, p->ntreatment);
    assert_true(pl_plan_grown_from(more, old));
}

static void test_refused(void **state)
{
    bench *b = *state;
    const pl_plan *old, *p = NULL;
    shop w;

    shop_stairs(b, &w, 4, 3, 6, 2);
    old = planned(b, &w, 0);
    assert_code(b, PL_EUSAGE,
                pl_plan_grow(b->a, &w.s, NULL, old, round_two, replicate, 0, 1, NULL, &p, &b->d));
    assert_code(b, PL_EUSAGE,
                pl_plan_grow(b->a, &w.s, NULL, old, round_two, replicate, 2, PL_SEED_LIMIT, NULL,
                             &p, &b->d));
    w.boards[1].species = "oak"; /* larch is gone */
    assert_code(
        b, PL_EUNFIT,
        pl_plan_grow(b->a, &w.s, NULL, old, round_two + 6, replicate, 1, 1, NULL, &p, &b->d));
    assert_finding(b, "no board of larch in the study");
    assert_null(p);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_spares_then_boards),
        TEST(test_again_and_bare),
        TEST(test_refused),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
