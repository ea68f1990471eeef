/* The plateau answer on invented joints: units, groups, what is left out and said, memory. */
#include <gsl/gsl_errno.h>

#include "base/stream.h"
#include "fit/plateau.h"
#include "reference.h"

static const char *const names[] = { "strength", "applied", "planned", "glue_up",
                                     "session",  "species", "wood" };
#define NCOL 7
#define ROWS_MOST 200

typedef struct shop {
    size_t n;
    const char *cells[ROWS_MOST * NCOL];
} shop;

static void put(bench *b, shop *s, double y, const char *applied, const char *planned,
                const char *glue_up, const char *session, const char *species, const char *wood)
{
    const char **c = s->cells + NCOL * s->n++;

    c[0] = isnan(y) ? "" : pl_arena_printf(b->a, "%.6g", y);
    c[1] = applied;
    c[2] = planned;
    c[3] = glue_up;
    c[4] = session;
    c[5] = species;
    c[6] = wood;
}

/* Beech that levels off, six levels, three sessions, two specimens a glue-up. */
static void put_beech(bench *b, shop *s)
{
    static const char *const levels[] = { "0.2", "0.4", "0.7", "1.1", "1.6", "2.2" };
    pl_stream r;

    pl_stream_init(&r, 4, PL_FOR_TEST, 0);
    for (int k = 0; k < 3; k++)
        for (int l = 0; l < 6; l++) {
            double x = atof(levels[l]), e = 0.35 * pl_stream_normal(&r);

            for (int i = 0; i < 2; i++)
                put(b, s, 6 + 5 * fmin(x / 0.8, 1) + 0.4 * k + e + 0.2 * pl_stream_normal(&r),
                    levels[l], levels[l], pl_arena_printf(b->a, "B%d%d", k, l),
                    pl_arena_printf(b->a, "s%d", k), "beech", l > 3 && i ? "1" : "0");
        }
}

/* Larch that only gains, four levels, one specimen a glue-up. */
static void put_larch(bench *b, shop *s)
{
    static const char *const levels[] = { "0.2", "0.7", "1.1", "2.2" };
    pl_stream r;

    pl_stream_init(&r, 6, PL_FOR_TEST, 0);
    for (int k = 0; k < 3; k++)
        for (int l = 0; l < 4; l++)
            put(b, s, 3 + 2.5 * atof(levels[l]) + 0.2 * pl_stream_normal(&r), levels[l], levels[l],
                pl_arena_printf(b->a, "L%d%d", k, l), pl_arena_printf(b->a, "s%d", k), "larch",
                "0");
}

static pl_curve_spec whole_spec(void)
{
    static const char *const session = "session";

    return (pl_curve_spec){ .response = "strength",
                            .over = "applied",
                            .planned = "planned",
                            .unit = "glue_up",
                            .blocks = &session,
                            .nblock = 1,
                            .for_each = "species",
                            .wood = "wood" };
}

static pl_code run(bench *b, const shop *s, const pl_curve_spec *spec, pl_plateau **p, size_t *n)
{
    return pl_fit_curves(b->a, table_of(b, "shop.csv", s->n, NCOL, names, s->cells), spec, p, n,
                         &b->d);
}

static void test_two_species(void **state)
{
    bench *b = *state;
    pl_curve_spec spec = whole_spec();
    shop s = { 0 };
    pl_plateau *p = NULL;
    size_t n = 0;
    double sum = 0, weight = 0;

    put_beech(b, &s);
    put_larch(b, &s);
    assert_ok(b, run(b, &s, &spec, &p, &n));
    assert_int_equal(n, 2);
    assert_string_equal(p[0].group, "beech");
    assert_string_equal(p[0].group_factor, "species");
    assert_string_equal(p[0].answer, "joint");
    assert_int_equal(p[0].state, PL_REACHED);
    assert_true(p[0].onset.low < 0.8 && 0.7 < p[0].onset.high);
    assert_true(p[0].advised == p[0].onset.high && p[0].range_end.high_open);
    assert_int_equal(p[0].units, 18);
    assert_int_equal(p[0].specimens, 36);
    assert_true(p[0].error_df == 18 - 6 - 2);
    assert_int_equal(p[0].levels[5].wood, 3);
    assert_int_equal(p[0].levels[3].wood, 0);
    assert_int_equal(p[0].levels[2].specimens, 6);
    assert_string_equal(p[0].levels[2].level, "0.7");
    assert_int_equal(p[0].ncurve, 9);
    assert_false(p[0].curves[0].averaged); /* flat */
    for (size_t i = 0; i < p[0].ncurve; i++)
        weight += p[0].curves[i].weight;
    assert_rel("weights", weight, 1, 1e-12);
    /* residuals are free of the blocks and sum to nothing in each session */
    assert_int_equal(p[0].nunit, 18);
    for (size_t i = 0; i < 6; i++)
        sum += p[0].unit_residual[i];
    assert_abs("session's residuals", sum, 0, 1e-12);
    for (size_t i = 0; i < 18; i++)
        assert_rel("fitted + residual", p[0].unit_fitted[i] + p[0].unit_residual[i], p[0].unit_y[i],
                   1e-14);
    /* larch rises to the end */
    assert_string_equal(p[1].group, "larch");
    assert_int_equal(p[1].state, PL_NOT_REACHED);
    assert_true(isnan(p[1].advised));
    assert_true(p[1].onset.low > 1.1);
    assert_int_equal(b->d.count, 0); /* nothing to say about sound data */
}

/* Specimens of one glue-up are no repeats: given as one row, their average, the answer is the
 * same. */
static void test_units_are_averaged(void **state)
{
    bench *b = *state;
    pl_curve_spec spec = whole_spec();
    shop s = { 0 }, means = { 0 };
    pl_plateau *p = NULL, *q = NULL;
    size_t n = 0;

    put_beech(b, &s);
    for (size_t i = 0; i < s.n; i += 2) {
        const char *const *c = s.cells + NCOL * i;

        put(b, &means, 0.5 * (atof(c[0]) + atof(c[NCOL])), c[1], c[2], c[3], c[4], c[5], c[6]);
    }
    assert_ok(b, run(b, &s, &spec, &p, &n));
    assert_ok(b, run(b, &means, &spec, &q, &n));
    assert_rel("onset", q->onset.at, p->onset.at, 1e-4); /* %.6g in put */
    assert_rel("high", q->onset.high, p->onset.high, 1e-4);
    assert_rel("sd", q->error_sd, p->error_sd, 1e-4);
    assert_true(q->error_df == p->error_df);
}

/* A mis-set dial: applied differs from planned; the level keeps its name and stands at the mean of
 * what was made. Unknown applied: in the level means, not in the curves. */
static void test_applied(void **state)
{
    bench *b = *state;
    pl_curve_spec spec = whole_spec();
    shop s = { 0 };
    pl_plateau *p = NULL;
    size_t n = 0;

    put_beech(b, &s);
    s.cells[NCOL * 10 + 1] = s.cells[NCOL * 11 + 1] = "1.9"; /* session 0, planned 2.2 */
    s.cells[NCOL * 4 + 1] = s.cells[NCOL * 5 + 1] = "";      /* session 0, planned 0.7 */
    assert_ok(b, run(b, &s, &spec, &p, &n));
    assert_string_equal(p->levels[5].level, "2.2");
    assert_rel("made", p->levels[5].at, (1.9 + 2.2 + 2.2) / 3, 1e-14);
    assert_true(p->levels[5].planned == 2.2);
    assert_int_equal(p->unknown_applied, 2);
    assert_int_equal(p->units, 18);
    assert_int_equal(p->nunit, 17);
    assert_int_equal(p->levels[2].units, 3);
    assert_rel("0.7 stands where the others were made", p->levels[2].at, 0.7, 1e-14);
    assert_true(p->error_df == 10);
    assert_true(p->curves[1].residual.df == 17 - 2 - 2);
    assert_finding(b, "specimens without a known \"applied\", not in the curves: 2");
    /* the range ends at the highest level as made */
    assert_rel("range", p->grid_x[p->ngrid - 1], (1.9 + 2.2 + 2.2) / 3, 1e-14);
}

static void test_left_out(void **state)
{
    bench *b = *state;
    pl_curve_spec spec = whole_spec();
    shop s = { 0 };
    pl_plateau *p = NULL;
    size_t n = 0;

    put_beech(b, &s);
    s.cells[NCOL * 0 + 2] = s.cells[NCOL * 1 + 2] = ""; /* no planned level */
    s.cells[NCOL * 2 + 4] = "";                         /* no session */
    s.cells[NCOL * 6 + 5] = "";                         /* no species */
    assert_ok(b, run(b, &s, &spec, &p, &n));
    assert_int_equal(p->units, 16);
    assert_finding(b, "units without a level in \"planned\" left out: 1");
    assert_finding(b, "units without their block left out: 1");
    assert_finding(b, "rows without \"species\" left out: 1");
}

static void test_refusals(void **state)
{
    bench *b = *state;
    const pl_named_curve curves[] = { { "quadratic-plato", false } };
    const char *const blocks[] = { "sesion" };
    pl_curve_spec spec = whole_spec();
    shop s = { 0 };
    pl_plateau *p = NULL;
    size_t n = 0;

    put_beech(b, &s);
    spec.response = "strenght";
    spec.blocks = blocks;
    spec.curves = curves;
    spec.ncurve = 1;
    spec.share = 1.2;
    assert_code(b, PL_EKEY, run(b, &s, &spec, &p, &n)); /* all faults in one run */
    assert_finding(b, "did you mean \"strength\"?");
    assert_finding(b, "did you mean \"session\"?");
    assert_finding(b, "did you mean \"quadratic-plateau\"?");
    assert_finding(b, "share 1.2");
}

static void test_conflicts(void **state)
{
    bench *b = *state;
    pl_curve_spec spec = whole_spec();
    shop s = { 0 };
    pl_plateau *p = NULL;
    size_t n = 0;

    put_beech(b, &s);
    s.cells[NCOL * 1 + 2] = "0.4";
    assert_code(b, PL_EDATA, run(b, &s, &spec, &p, &n));
    assert_finding(b, "unit \"B00\" is planned at both 0.2 and 0.4");
}

static void test_too_little(void **state)
{
    bench *b = *state;
    const pl_named_curve named[] = { { "quadratic-plateau", true }, { "polynomial:7", false } };
    pl_curve_spec spec = { .response = "strength", .over = "applied" };
    shop s = { 0 };
    pl_plateau *p = NULL;
    size_t n = 0;

    put(b, &s, 7, "0.2", "0.2", "a", "s", "beech", "0");
    put(b, &s, 8, "0.2", "0.2", "b", "s", "beech", "0");
    put(b, &s, 8, "0.2", "0.2", "c", "s", "beech", "0");
    assert_code(b, PL_EDATA, run(b, &s, &spec, &p, &n));
    assert_finding(b, "3 units at 1 levels of \"applied\"");
    put(b, &s, 8, "0", "0", "d", "s", "beech", "0");
    put(b, &s, 7.5, "0", "0", "e", "s", "beech", "0");
    spec.curves = named;
    spec.ncurve = 2;
    assert_code(b, PL_EDATA, run(b, &s, &spec, &p, &n));
    assert_finding(b, "\"quadratic-plateau\" in log x is left out: some \"applied\" is at or below "
                      "zero");
    assert_finding(b, "\"polynomial:7\" is left out: 2 levels are too few for its 8 parameters");
    assert_finding(b, "none of the named curves");
    /* two levels, default set: no curve to average, and the state still stands on its contrast */
    spec.ncurve = 0;
    assert_ok(b, run(b, &s, &spec, &p, &n));
    assert_true(isnan(p->onset.at) && p->onset.low_open && p->onset.high_open);
    assert_true(isnan(p->height) && p->ngrid == 0);
    assert_int_equal(p->state, PL_UNDECIDED);
    assert_string_equal(p->reason, "change-not-excluded");
}

static void test_log_offers(void **state)
{
    bench *b = *state;
    pl_curve_spec spec = whole_spec();
    shop s = { 0 };
    pl_plateau *p = NULL;
    size_t n = 0;

    put_beech(b, &s);
    for (size_t i = 0; i < s.n; i++)
        if (!strcmp(s.cells[NCOL * i + 1], "0.2"))
            s.cells[NCOL * i + 1] = s.cells[NCOL * i + 2] = "0";
    assert_ok(b, run(b, &s, &spec, &p, &n));
    assert_int_equal(p->ncurve, 6);
    for (size_t i = 0; i < p->ncurve; i++)
        assert_false(p->curves[i].log_x);
    assert_finding(b, "curves in log x are not offered: some \"applied\" is at or below zero");
}

/* Planned levels that are words: in the order of what was made. */
static void test_level_words(void **state)
{
    bench *b = *state;
    pl_curve_spec spec = whole_spec();
    shop s = { 0 };
    pl_plateau *p = NULL;
    size_t n = 0;

    put_beech(b, &s);
    for (size_t i = s.n; i-- > 0;)
        s.cells[NCOL * i + 2] = !strcmp(s.cells[NCOL * i + 2], "0.2")   ? "hand-tight"
                                : !strcmp(s.cells[NCOL * i + 2], "0.4") ? "gentle"
                                                                        : s.cells[NCOL * i + 2];
    assert_ok(b, run(b, &s, &spec, &p, &n));
    assert_string_equal(p->levels[0].level, "hand-tight");
    assert_string_equal(p->levels[1].level, "gentle");
    assert_true(isnan(p->levels[1].planned) && p->levels[1].at == 0.4);
}

/* A glue-up of specimens from two boards carries half of each board's effect. Exact data: board
 * effects +1 and -1, and the level means come out exactly. */
static void test_mixed_boards(void **state)
{
    static const char *const block = "session"; /* here: boards */
    bench *b = *state;
    pl_curve_spec spec = {
        .response = "strength", .over = "applied", .unit = "glue_up", .blocks = &block, .nblock = 1
    };
    static const char *const levels[] = { "1", "2", "3", "4" };
    static const double truth[] = { 5, 7, 8, 8 };
    shop s = { 0 };
    pl_plateau *p = NULL;
    size_t n = 0;

    for (int l = 0; l < 4; l++)
        for (int k = 0; k < 3; k++)
            for (int i = 0; i < 2; i++) {
                int board = k == 2 ? i : k; /* two pure glue-ups, one mixed */

                put(b, &s, truth[l] + (board ? -1 : 1), levels[l], levels[l],
                    pl_arena_printf(b->a, "%d%d", l, k), board ? "b" : "a", "beech", "0");
            }
    assert_ok(b, run(b, &s, &spec, &p, &n));
    for (size_t l = 0; l < 4; l++)
        assert_rel("mean", p->levels[l].mean, truth[l], 1e-14);
    assert_true(p->error_sd < 1e-12 && p->error_df == 12 - 4 - 1);
    assert_int_equal(p->state, PL_REACHED);
}

/* Levels that never meet in a board cannot be compared. */
static void test_levels_within_blocks(void **state)
{
    bench *b = *state;
    const pl_named_curve line = { "line", false };
    static const char *const block = "session";
    pl_curve_spec spec = { .response = "strength",
                           .over = "applied",
                           .blocks = &block,
                           .nblock = 1,
                           .curves = &line,
                           .ncurve = 1 };
    static const char *const levels[] = { "1", "2", "3" };
    shop s = { 0 };
    pl_plateau *p = NULL;
    size_t n = 0;

    for (int l = 0; l < 3; l++)
        for (int i = 0; i < 3; i++)
            put(b, &s, 5 + l + 0.1 * i, levels[l], levels[l], "", levels[l], "beech", "0");
    assert_code(b, PL_ERANK, run(b, &s, &spec, &p, &n));
    assert_finding(b, "\"line\" cannot be told from the blocks");
}

/* A fixed floor: rises start there, the line and log curves do not. */
static void test_fixed_floor(void **state)
{
    bench *b = *state;
    pl_curve_spec spec = whole_spec();
    shop s = { 0 };
    pl_plateau *p = NULL;
    size_t n = 0;

    put_beech(b, &s);
    spec.floor_fixed = true;
    spec.floor = 5.5;
    assert_ok(b, run(b, &s, &spec, &p, &n));
    for (size_t i = 0; i < p->ncurve; i++) {
        const pl_curve_fit *c = &p->curves[i];
        bool fixed = !c->log_x && strcmp(c->name, "line") && strcmp(c->name, "flat");

        assert_true(fixed == (!strcmp(c->params[0].name, "top")));
    }
    assert_finding(b, "curves in log x, which have no zero, keep a floor of their own");
}

/* The answer does not depend on the group's company. */
static void test_group_alone(void **state)
{
    bench *b = *state;
    pl_curve_spec spec = whole_spec();
    shop both = { 0 }, alone = { 0 };
    pl_plateau *p = NULL, *q = NULL;
    size_t n = 0;

    put_larch(b, &both);
    put_beech(b, &both);
    put_beech(b, &alone);
    assert_ok(b, run(b, &both, &spec, &p, &n));
    assert_ok(b, run(b, &alone, &spec, &q, &n));
    assert_true(p[1].onset.at == q->onset.at && p[1].onset.high == q->onset.high);
    assert_true(p[1].unit_row[0] == 12 && q->unit_row[0] == 0); /* rows of the table given */
}

/* Every allocation in turn fails: out of memory is said, and nothing else happens. */
static void test_out_of_memory(void **state)
{
    bench *b = *state;
    const pl_named_curve named[] = { { "linear-plateau", true }, { "polynomial:2", false } };
    pl_curve_spec spec = whole_spec();
    shop s = { 0 };
    const pl_table *t;
    size_t failed = 0;

    put_beech(b, &s);
    spec.curves = named;
    spec.ncurve = 2;
    t = table_of(b, "shop.csv", s.n, NCOL, names, s.cells);
    for (unsigned long i = 1;; i++) {
        pl_arena *a = pl_arena_new(0);
        pl_diags d;
        pl_plateau *p = NULL;
        size_t n = 0;
        pl_code rc;

        pl_diags_init(&d, a);
        pl_arena_fail_at(i);
        rc = pl_fit_curves(a, t, &spec, &p, &n, &d);
        pl_arena_fail_at(0);
        failed += rc != PL_OK;
        if (rc != PL_OK && rc != PL_ENOMEM)
            fail_msg("allocation %lu: %s", i, pl_code_name(rc));
        if (rc == PL_ENOMEM)
            assert_true(d.out_of_memory && p == NULL);
        pl_arena_free(a);
        if (rc == PL_OK && i > failed + 3) /* a text of a finding may be done without */
            break;
    }
    assert_true(failed > 100);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_two_species),
        TEST(test_units_are_averaged),
        TEST(test_applied),
        TEST(test_left_out),
        TEST(test_refusals),
        TEST(test_conflicts),
        TEST(test_too_little),
        TEST(test_log_offers),
        TEST(test_level_words),
        TEST(test_mixed_boards),
        TEST(test_levels_within_blocks),
        TEST(test_fixed_floor),
        TEST(test_group_alone),
        TEST(test_out_of_memory),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
