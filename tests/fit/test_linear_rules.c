/* Linear models: properties that hold for any data, refusals in words, units, memory. */
#include <gsl/gsl_errno.h>

#include "base/stream.h"
#include "fit/lsq.h"
#include "fit/units.h"
#include "linear_support.h"

/* ------------------------------------------------------------ properties ---- */

static void assert_same_fit(const pl_linear_fit *f, const pl_linear_fit *g, double ss_ratio,
                            double tol)
{
    assert_int_equal(f->neffect, g->neffect);
    for (size_t i = 0; i < f->neffect; i++) {
        const pl_effect *e = &f->effects[i], *o = effect_of(g, e->name, e->kind);

        assert_rel("df", o->df, e->df, 0);
        assert_rel("ss", o->ss, e->ss * ss_ratio, tol);
        assert_rel("F", o->f, e->f, tol);
        assert_rel("p", o->p, e->p, 100 * tol);
    }
    assert_rel("R squared", g->r_squared, f->r_squared, tol);
}

static const wish uneven = { .response = "strength",
                             .effects = "wood; glue; wood,glue",
                             .covariates = "thickness",
                             .blocks = "session,press" };

/* Rows of t in another order: i -> i * step mod n, with step prime to n. */
static const pl_table *reordered(bench *b, const pl_table *t, size_t step)
{
    const char **cells = PL_NEWN(b->a, t->nrow * t->ncol, const char *);
    const char **names = PL_NEWN(b->a, t->ncol, const char *);

    for (size_t j = 0; j < t->ncol; j++) {
        names[j] = t->columns[j].name;
        for (size_t i = 0; i < t->nrow; i++)
            cells[i * t->ncol + j] = t->columns[j].text[i * step % t->nrow];
    }
    return table_of(b, "reordered", t->nrow, t->ncol, names, cells);
}

static void test_row_order(void **state)
{
    bench *b = *state;
    const pl_table *t = reference_table(b, "r/linear_uneven");
    pl_linear_fit f = fit_of(b, t, uneven), g = fit_of(b, reordered(b, t, 13), uneven);

    assert_int_equal(t->nrow % 13 != 0, 1);
    assert_same_fit(&f, &g, 1, 1e-14);
    for (size_t i = 0; i < f.nmean; i++)
        assert_rel("mean", mean_of(&g, f.means[i].factor, f.means[i].level)->estimate,
                   f.means[i].estimate, 1e-14);
    assert_rel("a coefficient", coef_of(&g, "wood=larch")->estimate,
               coef_of(&f, "wood=larch")->estimate, 1e-13);
}

/* y -> scale y + shift, exactly representable. */
static const pl_table *changed(bench *b, const pl_table *t, const char *response, double scale,
                               double shift)
{
    pl_table *out = PL_NEW(b->a, pl_table);
    const pl_column *c = pl_table_find(t, response);
    size_t at = (size_t)(c - t->columns);
    double *y = PL_NEWN(b->a, t->nrow, double);

    *out = *t;
    out->columns = PL_NEWN(b->a, t->ncol, pl_column);
    memcpy(out->columns, t->columns, t->ncol * sizeof *out->columns);
    for (size_t i = 0; i < t->nrow; i++)
        y[i] = c->number[i] * scale + shift;
    out->columns[at].number = y;
    return out;
}

/* Whole numbers, so that adding 2^30 or doubling rounds nothing: all but the level stays. */
static void test_scale_and_shift(void **state)
{
    bench *b = *state;
    const wish w = { .response = "breaks", .effects = "wool; tension; wool,tension" };
    const pl_table *t = reference_table(b, "r/warpbreaks");
    pl_linear_fit f = fit_of(b, t, w), g = fit_of(b, changed(b, t, "breaks", 0.125, 0), w);

    assert_same_fit(&f, &g, 0.015625, 1e-14);
    g = fit_of(b, changed(b, t, "breaks", 1, 1073741824), w);
    assert_same_fit(&f, &g, 1, 1e-14);
    assert_rel("mean", mean_of(&g, "wool", "A")->estimate,
               mean_of(&f, "wool", "A")->estimate + 1073741824, 1e-15);
    assert_rel("se", mean_of(&g, "wool", "A")->se, mean_of(&f, "wool", "A")->se, 1e-13);
}

/* Blocks taken out by elimination against blocks as dense columns of 0 and 1 in plain least
 * squares: same residual, same coefficient of the covariate. Three block factors that cross at
 * random, one of them falling into two groups that never meet. */
static void test_blocks_equal_dense_columns(void **state)
{
    bench *b = *state;
    enum { N = 60, A = 7, B = 5, C = 4, P = A + B + C };
    const char *const names[] = { "a", "b", "c", "x", "y" };
    const char *cells[N * 5];
    double X[N * (P + 1)] = { 0 }, y[N];
    pl_linear_fit f;
    pl_stream s;
    pl_lsq g;

    pl_stream_init(&s, 77, PL_FOR_TEST, 3);
    for (int i = 0; i < N; i++) {
        /* c splits a: levels 0, 1 only with a < 3 */
        int a = (int)pl_stream_below(&s, A), bb = (int)pl_stream_below(&s, B);
        int c = a < 3 ? (int)pl_stream_below(&s, 2) : 2 + (int)pl_stream_below(&s, 2);
        double x = pl_stream_normal(&s);

        y[i] = a + 0.3 * bb * bb - c + 1.7 * x + pl_stream_normal(&s);
        X[i * (P + 1) + a] = X[i * (P + 1) + A + bb] = X[i * (P + 1) + A + B + c] = 1;
        cells[i * 5] = pl_arena_printf(b->a, "a%d", a);
        cells[i * 5 + 1] = pl_arena_printf(b->a, "b%d", bb);
        cells[i * 5 + 2] = pl_arena_printf(b->a, "c%d", c);
        cells[i * 5 + 3] = pl_arena_printf(b->a, "%.17g", x);
        cells[i * 5 + 4] = pl_arena_printf(b->a, "%.17g", y[i]);
        X[i * (P + 1) + P] = x;
    }
    f = fit_of(b, table_of(b, "crossed", N, 5, names, cells),
               (wish){ .response = "y", .covariates = "x", .blocks = "a,b,c" });
    /* 16 columns, 3 of them made up of the others: two means and the two groups of a with c */
    assert_code(b, PL_ERANK, pl_lsq_solve(b->a, X, y, N, P + 1, NULL, &g, &b->d));
    assert_int_equal(g.rank, P + 1 - 3);
    assert_rel("df", f.residual.df, (double)g.df, 0);
    assert_rel("rss", f.residual.ss, g.rss, 1e-13);
    assert_rel("slope", coef_of(&f, "x")->estimate, g.beta[P], 1e-13);
    for (int i = 0; i < N; i++)
        assert_abs("residual", f.residuals[i], g.residuals[i], 1e-13);
}

/* Complete blocks, two factors: each sum of squares is the same in order and after all others,
 * and together they make up the total. */
static void test_balanced_kinds_agree(void **state)
{
    bench *b = *state;
    pl_linear_fit f = fit_of(b, reference_table(b, "r/linear_boards"),
                             (wish){ .response = "strength",
                                     .effects = "species; pressure; species,pressure",
                                     .nested = "board",
                                     .inside = "species" });
    double sum = f.residual.ss;

    for (size_t i = 0; i < f.neffect / 2; i++) {
        const pl_effect *e = &f.effects[i];

        assert_rel("both kinds", effect_of(&f, e->name, PL_SS_AFTER_ALL_OTHERS)->ss, e->ss, 1e-13);
        sum += e->ss;
    }
    assert_rel("total", sum, f.total_ss, 1e-14);
    for (size_t i = 0; i < f.nrow; i++) {
        assert_int_equal(f.rows[i], i);
        assert_abs("parts", f.fitted[i] + f.residuals[i],
                   pl_table_find(reference_table(b, "r/linear_boards"), "strength")->number[i],
                   1e-14);
    }
}

/* In-order sums of squares telescope whatever the balance. */
static void test_in_order_adds_up(void **state)
{
    bench *b = *state;
    pl_linear_fit f = fit_of(b, reference_table(b, "r/linear_uneven"), uneven);
    double sum = f.residual.ss, df = f.residual.df;

    for (size_t i = 0; i < f.neffect; i++)
        if (f.effects[i].kind == PL_SS_IN_ORDER) {
            sum += f.effects[i].ss;
            df += f.effects[i].df;
        }
    assert_rel("total", sum, f.total_ss, 1e-14);
    assert_rel("df", df, (double)f.nrow - 1, 0);
    assert_rel("whole", f.whole.ss, f.total_ss - f.residual.ss, 1e-14);
}

/* Through zero: beta = sum xy / sum x^2, R squared about zero. */
static void test_through_zero(void **state)
{
    bench *b = *state;
    const char *const names[] = { "x", "y" };
    const char *const cells[] = { "1.5", "2.9", "2.5", "5.3", "4", "7.7" };
    const double xy = 1.5 * 2.9 + 2.5 * 5.3 + 4 * 7.7, xx = 1.5 * 1.5 + 2.5 * 2.5 + 16;
    const double yy = 2.9 * 2.9 + 5.3 * 5.3 + 7.7 * 7.7;
    pl_linear_fit f = fit_of(b, table_of(b, "zero", 3, 2, names, cells),
                             (wish){ .response = "y", .covariates = "x", .through_zero = true });

    assert_int_equal(f.ncoef, 1);
    assert_rel("slope", f.coefs[0].estimate, xy / xx, 1e-14);
    assert_rel("rss", f.residual.ss, yy - xy * xy / xx, 1e-12);
    assert_rel("df", f.residual.df, 2, 0);
    assert_rel("R squared", f.r_squared, xy * xy / xx / yy, 1e-14);
}

/* -------------------------------------------------------------- findings ---- */

/* A table from rows like "beech,0.4,7.1"; names likewise. */
static const pl_table *rows_of(bench *b, const char *names, size_t nrow, const char *const *rows)
{
    size_t ncol, n;
    const char **head = split(b, names, ',', &ncol), **cells;

    cells = PL_NEWN(b->a, nrow * ncol, const char *);
    for (size_t i = 0; i < nrow; i++) {
        const char *row = rows[i];

        for (size_t j = 0; j < ncol; j++) {
            n = strcspn(row, ",");
            cells[i * ncol + j] = pl_arena_strn(b->a, row, n);
            row += n + (row[n] == ',');
        }
    }
    return table_of(b, "joints.csv", nrow, ncol, head, cells);
}

#define ROWS(b, names, ...)                                                          \
    rows_of(b, names, sizeof((const char *const[]){ __VA_ARGS__ }) / sizeof(char *), \
            (const char *const[]){ __VA_ARGS__ })

static void test_hopeless_data(void **state)
{
    bench *b = *state;
    const pl_table *t = ROWS(b, "wood,glue,strength,same,thick", "beech,a,7.1,3,0.1",
                             "beech,b,8.2,3,0.2", "larch,a,6.0,3,0.4", "larch,a,6.4,3,0.3");

    assert_code(b, PL_EDATA, code_of(b, t, (wish){ .response = "same", .effects = "wood" }));
    assert_finding(b, "found \"same\" is 3 in every row");
    assert_code(b, PL_EDATA, code_of(b, t, (wish){ .response = "strength", .effects = "same" }));
    assert_finding(b, "found \"same\" is 3 in every row, expected two levels or more");
    assert_code(b, PL_EDATA, code_of(b, t, (wish){ .response = "strength", .covariates = "same" }));
    assert_code(
        b, PL_EDATA,
        code_of(b, t, (wish){ .response = "strength", .effects = "wood; glue; wood,glue" }));
    assert_finding(b, "found no row with wood=larch, glue=b");
    assert_code(
        b, PL_EDATA,
        code_of(b, t,
                (wish){ .response = "strength", .effects = "wood; glue; thick", .blocks = "" }));
    assert_finding(b, "found 4 rows, expected at least 6");
    assert_code(b, PL_EKEY, code_of(b, t, (wish){ .response = "strenth", .effects = "wood" }));
    assert_finding(b, "did you mean \"strength\"?");
    assert_code(b, PL_EVALUE, code_of(b, t, (wish){ .response = "wood", .effects = "glue" }));
    assert_code(b, PL_EUSAGE,
                code_of(b, t, (wish){ .response = "strength", .through_zero = true }));
    assert_finding(b, "no covariate through zero");
    assert_code(
        b, PL_ECONFLICT,
        code_of(b, t, (wish){ .response = "strength", .effects = "wood", .blocks = "wood" }));
    assert_finding(b, "\"wood\" is a factor of an effect and a block");
    assert_code(b, PL_ECONFLICT,
                code_of(b, t, (wish){ .response = "strength", .covariates = "strength" }));
    assert_code(
        b, PL_ECONFLICT,
        code_of(b, t, (wish){ .response = "strength", .effects = "wood", .through_zero = true }));
}

static void test_all_faults_in_one_run(void **state)
{
    bench *b = *state;
    const pl_table *t = ROWS(b, "wood,strength", "beech,7", "larch,8");

    assert_code(b, PL_EKEY,
                code_of(b, t,
                        (wish){ .response = "strength",
                                .effects = "wod",
                                .covariates = "thick",
                                .blocks = "board" }));
    assert_finding(b, "no column \"wod\"");
    assert_finding(b, "no column \"thick\"");
    assert_finding(b, "no column \"board\"");
}

/* Two columns that say the same: refused, the later one named. */
static void test_rank(void **state)
{
    bench *b = *state;
    const pl_table *t = ROWS(b, "wood,origin,day,side,strength", "beech,south,1,l,7.1",
                             "beech,south,1,r,7.5", "larch,north,2,r,6.0", "larch,north,2,l,6.4",
                             "beech,south,2,l,7.3", "larch,north,1,r,6.3");

    assert_code(b, PL_ERANK,
                code_of(b, t, (wish){ .response = "strength", .effects = "wood; origin" }));
    assert_finding(b, "\"origin\" cannot be told apart from the terms before it");
    assert_int_equal(b->d.count, 1);
}

/* Latin-like layout: z is swallowed by a and b together, by neither alone. */
static void test_swallowed_by_two_blocks(void **state)
{
    bench *b = *state;
    const pl_table *t = ROWS(b, "a,b,z,y", "1,1,1,3.1", "1,2,2,3.4", "2,1,2,3.7", "2,2,3,4.9",
                             "1,1,1,2.8", "2,2,3,5.2");

    assert_code(b, PL_ERANK,
                code_of(b, t, (wish){ .response = "y", .covariates = "z", .blocks = "a,b" }));
    assert_finding(b, "\"z\" cannot be told apart from the blocks together");
}

static void test_no_error_left(void **state)
{
    bench *b = *state;
    const pl_table *t = ROWS(b, "wood,strength", "beech,7.1", "larch,6.4", "ash,8");
    pl_linear_fit f = fit_of(b, t, (wish){ .response = "strength", .effects = "wood" });
    const pl_effect *e = effect_of(&f, "wood", PL_SS_IN_ORDER);

    assert_rel("df", f.residual.df, 0, 0);
    assert_true(isnan(e->f) && isnan(e->p) && isnan(f.residual.sd));
    assert_true(isnan(mean_of(&f, "wood", "ash")->se) && isnan(f.coefs[0].low));
    assert_rel("mean", mean_of(&f, "wood", "ash")->estimate, 8, 1e-15);
    assert_finding(b, "nothing is left to judge the scatter by");
}

/* Every reading met: Wampler1 is an exact polynomial of whole numbers; here a line. */
static void test_exact_fit(void **state)
{
    bench *b = *state;
    const pl_table *t = ROWS(b, "x,y", "1,3.5", "2,5.5", "4,9.5", "5,11.5");
    pl_linear_fit f = fit_of(b, t, (wish){ .response = "y", .covariates = "x" });
    const pl_effect *e = effect_of(&f, "x", PL_SS_IN_ORDER);

    assert_true(isinf(e->f) && e->p == 0);
    assert_rel("slope", coef_of(&f, "x")->estimate, 2, 1e-15);
    assert_finding(b, "a model that meets every reading");
}

static void test_missing_cells(void **state)
{
    bench *b = *state;
    const pl_table *t = ROWS(b, "wood,board,strength", "beech,1,7.1", "beech,2,", "larch,,6.0",
                             "larch,4,6.4", "beech,2,7.7", ",4,6.6", "larch,1,6.9");
    pl_linear_fit f = fit_of(b, t,
                             (wish){ .response = "strength", .effects = "wood", .nested = NULL });
    const size_t kept[] = { 0, 2, 3, 4, 6 };

    assert_int_equal(f.nrow, 5);
    assert_int_equal(f.left_out, 2);
    assert_memory_equal(f.rows, kept, sizeof kept);
    assert_finding(b, "2 of 7 rows left out, missing: \"strength\" in 1, \"wood\" in 1");
    f = fit_of(b, t, (wish){ .response = "strength", .effects = "wood", .blocks = "board" });
    assert_int_equal(f.nrow, 4);
}

static void test_not_finite(void **state)
{
    bench *b = *state;
    pl_table *t = (pl_table *)(uintptr_t)ROWS(b, "x,y", "1,2", "2,3", "3,7");
    double *x = PL_NEWN(b->a, 3, double);

    x[0] = 1;
    x[1] = INFINITY;
    x[2] = 4;
    t->columns[0].number = x;
    assert_code(b, PL_EVALUE, code_of(b, t, (wish){ .response = "y", .covariates = "x" }));
    assert_finding(b, "joints.csv: row 2: found inf in column \"x\"");
}

/* One board of each wood: no error between boards, and it is said. */
static void test_one_board_each(void **state)
{
    bench *b = *state;
    const pl_table *t = ROWS(b, "wood,board,pressure,strength", "beech,B1,0.5,7.1",
                             "beech,B1,0.9,8.2", "beech,B1,1.4,8.9", "larch,L1,0.5,5.1",
                             "larch,L1,0.9,6.2", "larch,L1,1.4,6.1");
    pl_linear_fit f = fit_of(
        b, t, (wish){ .response = "strength", .effects = "wood; pressure", .blocks = "board" });
    const pl_effect *e = effect_of(&f, "wood", PL_SS_AFTER_ALL_OTHERS);

    assert_string_equal(e->error, "board");
    assert_true(isnan(e->f) && isnan(e->p));
    assert_rel("error df", e->error_df, 0, 0);
    /* means 24.2/3 and 17.4/3: 6 * (half their difference)^2 */
    assert_rel("ss", e->ss, 6 * (6.8 / 6) * (6.8 / 6), 1e-13);
    assert_true(effect_of(&f, "pressure", PL_SS_IN_ORDER)->p < 0.1);
    assert_finding(b, "nothing here tells \"wood\" from \"board\"");
}

/* A board lost two pieces: the test between boards is approximate, and it is said. */
static void test_unbalanced_boards_are_said(void **state)
{
    bench *b = *state;
    const pl_table *t = ROWS(b, "wood,board,pressure,strength", "beech,B1,0.5,7.1",
                             "beech,B1,0.9,8.2", "beech,B2,0.5,7.7", "beech,B2,0.9,8.1",
                             "larch,L1,0.5,5.1", "larch,L1,0.9,6.2", "larch,L2,0.9,5.6");

    (void)fit_of(b, t,
                 (wish){ .response = "strength", .effects = "wood; pressure", .blocks = "board" });
    assert_finding(b, "the test of \"wood\" between them is approximate");
}

/* ----------------------------------------------------------------- units ---- */

/* Two pieces of each glue-up: averaged, the F of pressure is that of the four means, not of
 * eight pieces. By hand: means 7, 8 at 0.5 and 10, 11 at 0.9; MS 9 over 0.5 = 18 on 1 and 2. */
static void test_glue_ups_are_averaged(void **state)
{
    bench *b = *state;
    const pl_table *t = ROWS(b, "glue_up,pressure,strength", "G1,0.5,6.9", "G1,0.5,7.1",
                             "G2,0.5,8.2", "G3,0.9,10.4", "G2,0.5,7.8", "G4,0.9,11", "G3,0.9,9.6",
                             "G4,0.9,11");
    pl_linear_fit f = fit_of(
        b, t, (wish){ .response = "strength", .effects = "pressure", .unit = "glue_up" });
    const pl_effect *e = effect_of(&f, "pressure", PL_SS_IN_ORDER);
    const size_t first[] = { 0, 2, 3, 5 };

    assert_rel("F", e->f, 18, 1e-12);
    assert_rel("error df", e->error_df, 2, 0);
    assert_int_equal(f.nrow, 4);
    assert_int_equal(f.specimens, 8);
    assert_int_equal(f.left_out, 0);
    assert_memory_equal(f.rows, first, sizeof first);
    assert_finding(b, "8 specimens of 4 units named by \"glue_up\"");
}

/* Woods share glue-ups: pressure is judged between glue-ups, wood within them. By hand from the
 * same means; wood differences within glue-ups 1, 2, 3, 2: mean 2, MS 4 * 2 * 2 ... F below. */
static void test_glue_ups_as_stratum(void **state)
{
    bench *b = *state;
    const pl_table *t = ROWS(b, "glue_up,pressure,wood,strength", "G1,0.5,beech,7.5",
                             "G1,0.5,larch,6.5", "G2,0.5,beech,9", "G2,0.5,larch,7",
                             "G3,0.9,beech,11.5", "G3,0.9,larch,8.5", "G4,0.9,beech,12",
                             "G4,0.9,larch,10");
    pl_linear_fit f = fit_of(
        b, t, (wish){ .response = "strength", .effects = "pressure; wood", .unit = "glue_up" });
    const pl_effect *p = effect_of(&f, "pressure", PL_SS_AFTER_ALL_OTHERS);
    const pl_effect *w = effect_of(&f, "wood", PL_SS_AFTER_ALL_OTHERS);

    assert_string_equal(p->error, "glue_up");
    assert_rel("pressure F", p->f, 18, 1e-12); /* of the means 7, 8 | 10, 11 as above */
    assert_rel("pressure error df", p->error_df, 2, 0);
    assert_string_equal(w->error, "residual");
    /* differences 1, 2, 3, 2: t = 2 / sqrt((2/3) / 4), F = t^2 = 24 on 1 and 3 */
    assert_rel("wood F", w->f, 24, 1e-12);
    assert_rel("wood error df", w->error_df, 3, 0);
    assert_finding(b, "\"wood\" differs within \"glue_up\"");
}

static void test_units(void **state)
{
    bench *b = *state;
    const pl_table *t = ROWS(b, "glue_up,pressure,applied,strength,mode", "2,0.5,0.48,6,wood",
                             "1,0.9,,10,glue", "2.0,0.5,0.52,7,glue", "1,0.9,0.9,,glue",
                             ",0.9,0.9,9,glue", "3,0.9,,11,glue");
    pl_units u;
    const pl_column *c;

    assert_ok(b, pl_fit_units(b->a, t, "glue_up", "strength", &u, &b->d));
    assert_int_equal(u.nunit, 3);
    assert_int_equal(u.table->nrow, 3);
    assert_int_equal(u.left_out, 2);
    assert_int_equal(u.count[0], 2);
    assert_int_equal(u.first[1], 1);
    assert_int_equal(u.unit_of[2], 0);
    assert_true(u.unit_of[3] == PL_NO_UNIT && u.unit_of[4] == PL_NO_UNIT);
    assert_int_equal(u.most, 2);
    assert_int_equal(u.least, 1);
    assert_rel("within ss", u.within_ss, 0.5, 1e-15);
    assert_int_equal(u.within_df, 1);
    c = pl_table_find(u.table, "strength");
    assert_rel("mean", c->number[0], 6.5, 1e-15);
    assert_string_equal(c->text[0], "6.5");
    c = pl_table_find(u.table, "applied");
    assert_rel("mean applied", c->number[0], 0.5, 1e-15);
    assert_true(isnan(c->number[1]) && isnan(c->number[2]));
    assert_true(u.varies[2] && u.varies[3] && u.varies[4] && !u.varies[1]);
    assert_string_equal(pl_table_find(u.table, "mode")->text[0], "");
    assert_string_equal(u.table->row_names[0], "2");
    assert_finding(b, "1 rows without a \"glue_up\"");
    assert_ok(b, pl_fit_units(b->a, t, NULL, "strength", &u, &b->d));
    assert_int_equal(u.nunit, 5);
    assert_int_equal(u.within_df, 0);
    assert_code(b, PL_EKEY, pl_fit_units(b->a, t, "glueup", "strength", &u, &b->d));
    assert_code(b, PL_EVALUE, pl_fit_units(b->a, t, NULL, "mode", &u, &b->d));
    t = ROWS(b, "glue_up,strength", "1,", "2,");
    assert_code(b, PL_EDATA, pl_fit_units(b->a, t, "glue_up", "strength", &u, &b->d));
    assert_finding(b, "no row with a \"strength\"");
}

/* ---------------------------------------------------------------- memory ---- */

/* The n-th allocation fails, for every n of the run: out of memory, or an answer that lost no
 * more than the words of a remark. */
static void test_out_of_memory(void **state)
{
    bench *b = *state;
    const pl_table *t = reference_table(b, "r/linear_uneven");
    pl_linear_spec s = spec_of(b, uneven);
    unsigned long out = 0, last = 0;

    s.unit = "session"; /* wood differs within it: a remark on the way */
    for (unsigned long n = 1; n < last + 60; n++) {
        pl_arena *a = pl_arena_new(0);
        pl_linear_fit f = { 0 };
        pl_diags d;
        pl_code rc;

        pl_diags_init(&d, a);
        pl_arena_fail_at(n);
        rc = pl_fit_linear(a, t, &s, &f, &d);
        pl_arena_fail_at(0);
        assert_true(rc == PL_OK || rc == PL_ENOMEM);
        if (rc) {
            assert_true(d.out_of_memory);
            out++;
            last = n;
        } else {
            assert_rel("rss", f.residual.ss, 6.64347800166285, 1e-13); /* R, linear_uneven.json */
        }
        pl_arena_free(a);
    }
    assert_true(out > 300);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_row_order),
        TEST(test_scale_and_shift),
        TEST(test_blocks_equal_dense_columns),
        TEST(test_balanced_kinds_agree),
        TEST(test_in_order_adds_up),
        TEST(test_through_zero),
        TEST(test_hopeless_data),
        TEST(test_all_faults_in_one_run),
        TEST(test_rank),
        TEST(test_swallowed_by_two_blocks),
        TEST(test_no_error_left),
        TEST(test_exact_fit),
        TEST(test_missing_cells),
        TEST(test_not_finite),
        TEST(test_one_board_each),
        TEST(test_unbalanced_boards_are_said),
        TEST(test_glue_ups_are_averaged),
        TEST(test_glue_ups_as_stratum),
        TEST(test_units),
        TEST(test_out_of_memory),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests_name("fit/linear rules", tests, NULL, NULL);
}
