/* Reference joints: a treatment of its own that shares blocks with the levels, and which offsets
 * they tie. */
#include <gsl/gsl_errno.h>
#include <string.h>

#include "fit/plateau.h"
#include "fit/ties.h"
#include "linear_support.h"

/* Four sessions, each with one paste and one pressure only, three joints of it from boards P, Q
 * and R, and two reference joints from board Z. Invented. */
enum { N = 20, COLUMNS = 11 };
static const char *const names[COLUMNS] = { "strength", "paste",     "pressure",    "session",
                                            "board",    "reference", "glue_up",     "rig",
                                            "press",    "broken_by", "breaking_rig" };
static const char *const strengths[N] = { "10.31", "10.82", "9.95",  "8.12", "8.47",
                                          "11.64", "11.12", "11.38", "9.21", "9.58",
                                          "10.02", "9.61",  "9.87",  "7.55", "7.02",
                                          "12.33", "12.81", "12.05", "9.94", "10.41" };

typedef struct shape {
    bool untied;      /* sessions 3 and 4 have no reference joints */
    bool own_presses; /* a rig for each press, and nothing that ties them */
} shape;

static const pl_table *shop(bench *b, shape s)
{
    static const char *const pressures[] = { "0.2", "0.5", "0.9", "1.6" };
    static const char *const boards[] = { "P", "Q", "R", "Z", "Z" };
    const char **cells = PL_NEWN(b->a, N * COLUMNS, const char *);
    size_t n = 0;

    for (size_t i = 0; i < N; i++) {
        size_t session = i / 5;
        bool reference = i % 5 > 2;
        const char **c = cells + n * COLUMNS;

        if (reference && s.untied && session > 1)
            continue;
        c[0] = strengths[i];
        c[1] = reference ? "" : session < 2 ? "A" : "B";
        c[2] = reference ? "" : pressures[session];
        c[3] = pl_arena_printf(b->a, "%zu", session + 1);
        c[4] = boards[i % 5];
        c[5] = reference ? "1" : "0";
        c[6] = pl_arena_printf(b->a, "G%zu", i + 1);
        c[7] = s.own_presses && session > 1 ? "pump" : "lever";
        c[8] = session < 2 ? "jack" : "frame";
        c[9] = "1";
        c[10] = "stand";
        n++;
    }
    return table_of(b, "tied.csv", n, COLUMNS, names, cells);
}

static pl_linear_fit fit_paste(bench *b, const pl_table *t, const char *blocks, const char *tie)
{
    pl_linear_spec s = spec_of(
        b,
        (wish){ .response = "strength", .effects = "paste", .blocks = blocks, .unit = "glue_up" });
    pl_linear_fit f = { 0 };

    s.tie = tie;
    assert_ok(b, pl_fit_linear(b->a, t, &s, &f, &b->d));
    return f;
}

/* R 4: ref <- paste == "ref"; x <- c(A = 1, B = -1, ref = 0)[paste];
 * m <- lm(y ~ session + ref + x); anova(lm(y ~ session + ref), m); means: L'coef(m) with
 * L = (1, 1/4, 1/4, 1/4, 0, +-1). */
static void test_paste_within_sessions(void **state)
{
    bench *b = *state;
    pl_linear_fit f = fit_paste(b, shop(b, (shape){ 0 }), "session", "reference");
    const pl_effect *e = effect_of(&f, "paste", PL_SS_AFTER_ALL_OTHERS);

    assert_string_equal(e->error, "residual");
    assert_rel("SS", e->ss, 0.15552, 1e-10);
    assert_rel("F", e->f, 1.61591213, 1e-8);
    assert_rel("p", e->p, 0.224377781927241, 1e-10);
    assert_rel("residual SS", f.residual.ss, 1.3474, 1e-10);
    assert_rel("residual df", f.residual.df, 14, 1e-15);
    assert_int_equal(f.nmean, 2);
    assert_rel("mean A", f.means[0].estimate, 10.8125, 1e-12);
    assert_rel("its se", f.means[0].se, 0.167543526682869, 1e-10);
    assert_rel("mean B", f.means[1].estimate, 11.1725, 1e-12);
}

/* Where one paste's sessions have none, paste is judged between sessions, as without them; and a
 * board that holds both pastes needs none. */
static void test_untied_sessions(void **state)
{
    bench *b = *state;
    pl_linear_fit f = fit_paste(b, shop(b, (shape){ .untied = true }), "session", "reference");

    assert_string_equal(effect_of(&f, "paste", PL_SS_AFTER_ALL_OTHERS)->error, "session");
    f = fit_paste(b, shop(b, (shape){ 0 }), "board", "reference");
    assert_string_equal(effect_of(&f, "paste", PL_SS_AFTER_ALL_OTHERS)->error, "residual");
}

/* Reference joints on a board of their own: it is in no average. R: m <- lm(y ~ board + session +
 * x), L = (1, 1/3, 1/3, 0, 1/4, 1/4, 1/4, 1) for the mean of A. */
static void test_board_of_its_own(void **state)
{
    bench *b = *state;
    pl_linear_fit f = fit_paste(b, shop(b, (shape){ 0 }), "board,session", "reference");

    assert_rel("residual SS", f.residual.ss, 1.15255, 1e-10);
    assert_rel("residual df", f.residual.df, 12, 1e-15);
    assert_rel("mean A", f.means[0].estimate, 10.8125, 1e-12);
    assert_rel("its se", f.means[0].se, 0.167371945246375, 1e-10);
    assert_rel("F", effect_of(&f, "paste", PL_SS_AFTER_ALL_OTHERS)->f, 1.61923, 3e-6);
}

static const pl_curve_fit *line_over(bench *b, const char *const *blocks, size_t nblock,
                                     pl_plateau **p)
{
    static const pl_named_curve line = { "line", false };
    pl_curve_spec spec = { .response = "strength",
                           .over = "pressure",
                           .unit = "glue_up",
                           .blocks = blocks,
                           .nblock = nblock,
                           .curves = &line,
                           .ncurve = 1,
                           .tie = "reference" };
    size_t n = 0;

    assert_ok(b, pl_fit_curves(b->a, shop(b, (shape){ 0 }), &spec, p, &n, &b->d));
    return &(*p)->curves[0];
}

/* Each pressure in a session of its own: a line all the same. R: p of reference joints 0,
 * l <- lm(y ~ session + ref + p); with boards lm(y ~ board + session + p). */
static void test_curve(void **state)
{
    static const char *const blocks[] = { "session", "board" };
    bench *b = *state;
    pl_plateau *p = NULL;
    const pl_curve_fit *c = line_over(b, blocks, 1, &p);

    assert_string_equal(c->params[0].name, "intercept");
    assert_rel("intercept", c->params[0].estimate, 10.8487424242424, 1e-12);
    assert_rel("slope", c->params[1].estimate, 0.179696969696972, 1e-10);
    assert_rel("its se", c->params[1].se, 0.281105566933935, 1e-8);
    assert_rel("residual SS", c->residual.ss, 1.46029587878788, 1e-10);
    assert_rel("residual df", c->residual.df, 14, 1e-15);
    assert_int_equal(p->units, 12);
    assert_int_equal(p->nunit, 12);
    assert_int_equal(p->levels[0].units, 3);
    c = line_over(b, blocks, 2, &p);
    assert_rel("intercept", c->params[0].estimate, 10.8487424242424, 1e-12);
    assert_rel("slope", c->params[1].estimate, 0.179696969696971, 1e-10);
    assert_rel("residual SS", c->residual.ss, 1.26544587878788, 1e-10);
}

/* Which kinds become blocks and what is fitted as zero. */
static void test_kinds(void **state)
{
    static const char *const session = "session";
    bench *b = *state;
    pl_ties ties = { 0 };

    /* sessions are no block: tied ones become one, untied ones are judged between */
    assert_ok(b, pl_ties_find(b->a, shop(b, (shape){ 0 }), true, false, NULL, 0, "pressure", NULL,
                              &ties, &b->d));
    assert_int_equal(ties.nblock, 1); /* each press is whole sessions */
    assert_string_equal(ties.blocks[0], "session");
    assert_int_equal(ties.nzero, 0);
    /* presses inside sessions that are a block already */
    ties = (pl_ties){ 0 };
    assert_ok(b, pl_ties_find(b->a, shop(b, (shape){ 0 }), true, false, &session, 1, "pressure",
                              NULL, &ties, &b->d));
    assert_int_equal(ties.nblock + ties.nzero, 0);
    /* no reference joint in sessions 3 and 4, and so none on the frame */
    ties = (pl_ties){ 0 };
    assert_ok(b, pl_ties_find(b->a, shop(b, (shape){ .untied = true }), true, false, NULL, 0,
                              "pressure", NULL, &ties, &b->d));
    assert_int_equal(ties.nblock, 0);
    assert_int_equal(ties.nzero, 2);
    assert_string_equal(ties.zeros[1],
                        "The difference between jack and frame is fitted as zero: no pressure was "
                        "made on both, so what one of them does to strength counts as pressure.");
    /* one press for each rig: one sentence */
    ties = (pl_ties){ 0 };
    assert_ok(b, pl_ties_find(b->a, shop(b, (shape){ .untied = true, .own_presses = true }), true,
                              false, NULL, 0, "pressure", NULL, &ties, &b->d));
    assert_int_equal(ties.nblock, 0);
    assert_int_equal(ties.nzero, 2);
    assert_non_null(strstr(ties.zeros[0], "between lever and pump"));
    assert_non_null(strstr(ties.zeros[1], "between sessions"));
    assert_code(b, PL_EKEY,
                pl_ties_find(b->a, shop(b, (shape){ 0 }), true, false, NULL, 0, "warmth", NULL,
                             &ties, &b->d));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_paste_within_sessions),
        TEST(test_untied_sessions),
        TEST(test_board_of_its_own),
        TEST(test_curve),
        TEST(test_kinds),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
