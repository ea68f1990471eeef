/* The model that matches a plan: blocks and strata from how it was planned. */
#include <gsl/gsl_errno.h>

#include "linear_support.h"

#include "fit/matching.h"
#include "reference/worked/worked.h"

/* ------------------------------------------------------------- split plots -- */

typedef struct paper {
    pl_level levels[7];
    pl_factor factors[2];
    pl_study s;
    pl_plan plan; /* no boards are shared out */
    const pl_json *record;
    const pl_table *t;
} paper;

/* analyses.json, splitplot/paper-strength: 3 replicates; a batch of pulp is a stretch in which the
 * preparation is left alone; four pieces of it are cooked at four temperatures. */
static void paper_open(bench *b, paper *p, size_t lost)
{
    static const char *const names[] = { "board",   "session",       "prep", "temp",
                                         "stretch", "inner_stretch", "y" };
    const pl_json *list = worked_list(b, "analyses.json");
    const char *cells[36 * 7];
    size_t n = 0;

    for (size_t i = 0; i < list->count; i++)
        if (!strcmp(worked_id(pl_json_at(list, i)), "analyses:splitplot/paper-strength"))
            p->record = pl_json_at(list, i);
    for (size_t i = 0; i < 36; i++) {
        size_t rep = i / 12, prep = i / 4 % 3, temp = i % 4;
        const pl_json *y = pl_json_get(pl_json_get(p->record, "inputs"), "reps_preps_temps");

        if (i == lost)
            continue;
        y = pl_json_at(pl_json_at(pl_json_at(y, rep), prep), temp);
        cells[7 * n] = pl_arena_printf(b->a, "B%zu", rep);
        cells[7 * n + 1] = "1";
        cells[7 * n + 2] = pl_arena_printf(b->a, "prep %zu", prep);
        cells[7 * n + 3] = pl_arena_printf(b->a, "%zu", 200 + 25 * temp);
        cells[7 * n + 4] = pl_arena_printf(b->a, "%zu", i / 4);
        cells[7 * n + 5] = "";
        cells[7 * n++ + 6] = y->raw;
    }
    p->factors[0] = (pl_factor){ .name = "prep", .levels = p->levels, .nlevel = 3, .hard = 1 };
    p->factors[1] = (pl_factor){ .name = "temp", .levels = p->levels + 3, .nlevel = 4 };
    p->s = (pl_study){ .name = "paper", .factors = p->factors, .nfactor = 2 };
    p->plan = (pl_plan){ .ntreatment = 12, .nfactor = 2 };
    p->t = table_of(b, "paper", n, 7, names, cells);
}

static pl_linear_fit fit_matched(bench *b, const paper *p, bool designed)
{
    pl_linear_spec spec = spec_of(b, (wish){ .response = "y", .effects = "prep; temp; prep,temp" });
    pl_linear_fit f = { 0 };
    pl_matching m;

    assert_ok(b, pl_match_plan(b->a, &p->s, &p->plan, p->t, &m, &b->d));
    spec.blocks = m.blocks;
    spec.nblock = m.nblock;
    spec.randoms = m.randoms;
    spec.nrandom = m.nrandom;
    spec.designed = m.designed && designed;
    assert_true(m.designed);
    assert_int_equal(m.nblock, 1);
    assert_string_equal(m.blocks[0], "board");
    assert_int_equal(m.nrandom, 1);
    assert_string_equal(m.randoms[0], "stretch");
    assert_ok(b, pl_fit_linear(b->a, p->t, &spec, &f, &b->d));
    return f;
}

static const pl_effect *effect(const pl_linear_fit *f, const char *name)
{
    for (size_t i = 0; i < f->neffect; i++)
        if (f->effects[i].kind == PL_SS_AFTER_ALL_OTHERS && !strcmp(f->effects[i].name, name))
            return &f->effects[i];
    fail_msg("no effect %s", name);
    return NULL;
}

/* Balanced: exact F of each stratum, as printed (Montgomery; recomputed in exact arithmetic). */
static void test_split_plot(void **state)
{
    bench *b = *state;
    pl_linear_fit f;
    paper p = { 0 };

    paper_open(b, &p, SIZE_MAX);
    f = fit_matched(b, &p, true);
    assert_null(f.beside);
    assert_string_equal(effect(&f, "prep")->error, "stretch");
    assert_rel("prep", effect(&f, "prep")->f, worked_expected(p.record, "F_A"), 1e-10);
    assert_rel("error df", effect(&f, "prep")->error_df, 4, 0);
    assert_string_equal(effect(&f, "temp")->error, "residual");
    assert_rel("temp", effect(&f, "temp")->f, worked_expected(p.record, "F_B_pooled"), 1e-10);
    assert_rel("both", effect(&f, "prep, temp")->f, worked_expected(p.record, "F_AB_pooled"),
               1e-10);
}

/* One reading lost: no stratum is exact any more, and Kenward & Roger's answer leads though only
 * few stretches are left. The engine is held against 40 digits in test_mixed.c. Fewer than 4 df for
 * preparations, more than half of them. */
static void test_split_plot_lost(void **state)
{
    bench *b = *state;
    pl_linear_fit f, plain;
    const pl_effect *e, *other = NULL;
    paper p = { 0 };

    paper_open(b, &p, 17);
    f = fit_matched(b, &p, true);
    plain = fit_matched(b, &p, false);
    assert_true(f.recovered_leads);
    assert_false(plain.recovered_leads);
    e = effect(&f, "prep");
    assert_string_equal(e->error, "stretch, residual");
    assert_in_range(e->error_df * 1000, 2000, 4100);
    for (size_t i = 0; i < plain.beside->neffect; i++)
        if (!strcmp(plain.beside->effects[i].name, "prep"))
            other = &plain.beside->effects[i];
    assert_non_null(other);
    assert_rel("F", e->f, other->f, 1e-12);
    /* near the whole data's answer: one of 36 is gone */
    assert_rel("F near the whole's", e->f, worked_expected(p.record, "F_A"), 0.25);
}

/* A curve over what is hard to change is judged by stretches, within boards; over the other by
 * glue-ups within stretches. */
static void test_curve_units(void **state)
{
    const char *blocks[PL_MATCHING_BLOCKS_MOST], *unit;
    bench *b = *state;
    paper p = { 0 };
    size_t n;

    paper_open(b, &p, SIZE_MAX);
    assert_ok(b, pl_match_curve(b->a, &p.s, p.t, 0, blocks, &n, &unit, &b->d));
    assert_string_equal(unit, "stretch");
    assert_int_equal(n, 1);
    assert_string_equal(blocks[0], "board");
    assert_ok(b, pl_match_curve(b->a, &p.s, p.t, 1, blocks, &n, &unit, &b->d));
    assert_string_equal(unit, "glue_up");
    assert_int_equal(n, 2);
    assert_string_equal(blocks[1], "stretch");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_split_plot),
        TEST(test_split_plot_lost),
        TEST(test_curve_units),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
