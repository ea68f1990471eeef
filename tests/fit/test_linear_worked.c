/* Linear models against the worked cases in tests/reference/worked/analyses.json: each record names
 * the book it is from and holds figures recomputed in exact rational arithmetic. Further: NIST StRD
 * univariate sets as the mean alone, R's results for Michelson's runs, and nested sampling. */
#include <gsl/gsl_errno.h>

#include "analyses.h"
#include "base/prob.h"
#include "fit/compare.h"
#include "fit/plateau.h"
#include "fit/trust.h"
#include "linear_support.h"

static const char *cell_text(bench *b, const pl_json *v)
{
    return v->kind == PL_JSON_STRING ? v->string : pl_arena_printf(b->a, "%.17g", v->number);
}

/* inputs/groups: a list of lists. Columns group, y; groups named 1, 2, ... */
static const pl_table *groups_table(bench *b, const pl_json *groups)
{
    static const char *const names[] = { "group", "y" };
    const char **cells = PL_NEWN(b->a, 1000, const char *);
    size_t n = 0;

    for (size_t g = 0; g < groups->count; g++)
        for (size_t i = 0; i < pl_json_at(groups, g)->count; i++) {
            cells[2 * n] = pl_arena_printf(b->a, "%zu", g + 1);
            cells[2 * n++ + 1] = cell_text(b, pl_json_at(pl_json_at(groups, g), i));
        }
    return table_of(b, "groups", n, 2, names, cells);
}

/* ------------------------------------------------------------- one way ---- */

static pl_linear_fit check_one_way(bench *b, const char *id)
{
    const pl_json *r = analyses_record(b, id);
    pl_linear_fit f = fit_of(b, groups_table(b, json_value(r, "inputs/groups")),
                             (wish){ .response = "y", .effects = "group" });

    for (int kind = 0; kind < PL_SS_NKINDS; kind++) {
        const pl_effect *e = effect_of(&f, "group", kind);

        assert_rel("ss", e->ss, analyses_expected(r, "ss_treat"), 1e-10);
        assert_rel("df", e->df, analyses_expected(r, "df_treat"), 0);
        assert_rel("F", e->f, analyses_expected(r, "F"), 1e-10);
        assert_rel("p", e->p, analyses_expected(r, "p"), 1e-9);
        assert_rel("error ms", e->error_ms, analyses_expected(r, "mse"), 1e-10);
        assert_string_equal(e->error, "residual");
    }
    assert_rel("error ss", f.residual.ss, analyses_expected(r, "ss_error"), 1e-10);
    assert_rel("error df", f.residual.df, analyses_expected(r, "df_error"), 0);
    assert_rel("total ss", f.total_ss, analyses_expected(r, "ss_total"), 1e-10);
    return f;
}

/* How far every pair, and each against the first group, must differ: half the width of limits. */
static void check_cotton_points(bench *b, pl_linear_fit *f)
{
    const pl_json *r = analyses_record(b, "analyses:oneway/cotton-strength");
    double each = sqrt(f->residual.ss / f->residual.df / 5), half;

    assert_ok(b,
              pl_compare_levels(
                  b->a, f, &(pl_compare){ .factor = "group", .kind = PL_EVERY_PAIR, .alpha = 0.05 },
                  &b->d));
    assert_int_equal(f->ncomparison, 10);
    half = f->comparisons[0].high - f->comparisons[0].estimate;
    assert_rel("every pair", half, analyses_expected(r, "tukey_hsd"), 1e-9);
    assert_rel("its q", half / each, analyses_expected(r, "tukey_q"), 1e-9);
    f->ncomparison = 0;
    assert_ok(b, pl_compare_levels(
                     b->a, f,
                     &(pl_compare){
                         .factor = "group", .kind = PL_AGAINST_NAMED, .named = "1", .alpha = 0.05 },
                     &b->d));
    half = f->comparisons[0].high - f->comparisons[0].estimate;
    assert_rel("against one", half, analyses_expected(r, "dunnett_difference"), 1e-9);
    assert_rel("its d", half / each / sqrt(2), analyses_expected(r, "dunnett_d_two_sided_5pct"),
               1e-9);
}

/* Spread of the ten batches: Bartlett, and distances from medians. */
static void check_gear_spread(bench *b)
{
    const pl_json *r = analyses_record(b, "analyses:oneway/nist-gear");
    const pl_table *t = groups_table(b, json_value(r, "inputs/groups"));
    size_t *level = PL_NEWN(b->a, t->nrow, size_t);
    pl_spread s;

    for (size_t i = 0; i < t->nrow; i++)
        level[i] = (size_t)pl_table_find(t, "group")->number[i] - 1;
    assert_ok(b,
              pl_trust_spread(b->a, pl_table_find(t, "y")->number, level, t->nrow, 10, &s, &b->d));
    assert_rel("Bartlett", s.bartlett, analyses_expected(r, "bartlett"), 1e-9);
    assert_rel("its p", s.bartlett_p, analyses_expected(r, "bartlett_p"), 1e-9);
    assert_rel("Levene", s.levene, analyses_expected(r, "levene_median"), 1e-9);
    assert_rel("its p", s.levene_p, analyses_expected(r, "levene_median_p"), 1e-9);
    assert_rel("point", pl_chisq_quantile(0.95, s.bartlett_df),
               analyses_expected(r, "bartlett_critical_95"), 1e-10);
    assert_rel("alpha at the point",
               pl_f_upper(analyses_expected(r, "levene_critical_95"), s.levene_df1, s.levene_df2),
               0.05, 1e-9);
}

/* Certified one-way set in another dress: SiRstv. */
static void check_resistivity(bench *b)
{
    const pl_json *r = analyses_record(b, "analyses:strd/SiRstv");
    pl_linear_fit f = fit_of(b, groups_table(b, json_value(r, "inputs/groups")),
                             (wish){ .response = "y", .effects = "group" });
    const pl_effect *e = effect_of(&f, "group", PL_SS_IN_ORDER);

    assert_rel("between", e->ss, analyses_expected(r, "ss_between"), 1e-10);
    assert_rel("within", f.residual.ss, analyses_expected(r, "ss_within"), 1e-10);
    assert_rel("F", e->f, analyses_expected(r, "F"), 1e-10);
    assert_rel("df", e->df, analyses_expected(r, "df/0"), 0);
    assert_rel("df", e->error_df, analyses_expected(r, "df/1"), 0);
}

static void test_one_way(void **state)
{
    pl_linear_fit f = check_one_way(*state, "analyses:oneway/cotton-strength");

    check_cotton_points(*state, &f);
    check_gear_spread(*state);
    check_resistivity(*state);
    (void)check_one_way(*state, "analyses:oneway/peak-discharge");
    (void)check_one_way(*state, "analyses:oneway/dean-voss-soap");
    (void)check_one_way(*state, "analyses:oneway/nist-gear");
}

/* Orthogonal polynomials of five even steps (any table of them: -2 -1 0 1 2; 2 -1 -2 -1 2;
 * -1 2 0 -2 1; 1 -4 6 -4 1): their sums of squares make up the factor's. */
static void test_polynomial_contrasts(void **state)
{
    bench *b = *state;
    const pl_json *r = analyses_record(b, "analyses:oneway/cotton-strength");
    const pl_table *t = groups_table(b, json_value(r, "inputs/groups"));
    static const char *const levels[] = { "1", "2", "3", "4", "5" };
    static const double w[4][5] = {
        { -2, -1, 0, 1, 2 }, { 2, -1, -2, -1, 2 }, { -1, 2, 0, -2, 1 }, { 1, -4, 6, -4, 1 }
    };
    static const char *const names[] = { "ss_linear", "ss_quadratic", "ss_cubic", "ss_quartic" };
    pl_linear_spec s = spec_of(b, (wish){ .response = "y", .effects = "group" });
    pl_linear_contrast c[4];
    pl_linear_fit f;
    double sum = 0;

    for (int i = 0; i < 4; i++)
        c[i] = (pl_linear_contrast){ "group", levels, w[i], 5 };
    s.contrasts = c;
    s.ncontrast = 4;
    assert_ok(b, pl_fit_linear(b->a, t, &s, &f, &b->d));
    for (int i = 0; i < 4; i++) {
        assert_rel(names[i], f.contrasts[i].ss, analyses_expected(r, names[i]), 1e-10);
        sum += f.contrasts[i].ss;
    }
    assert_rel("together", sum, analyses_expected(r, "ss_treat"), 1e-10);
    assert_rel("df", f.contrasts[0].df, 20, 0);
}

/* Each sample alone: the mean's fit leaves its scatter. */
static void check_variances(bench *b, const pl_json *r)
{
    static const char *const names[] = { "y" };
    const char *const path[] = { "inputs/modified", "inputs/unmodified" };
    const char *const var[] = { "var1", "var2" };

    for (int k = 0; k < 2; k++) {
        const pl_json *y = json_value(r, path[k]);
        const char *cells[10];
        pl_linear_fit f;

        for (size_t i = 0; i < 10; i++)
            cells[i] = cell_text(b, pl_json_at(y, i));
        f = fit_of(b, table_of(b, "one", 10, 1, names, cells), (wish){ .response = "y" });
        assert_rel(var[k], f.residual.sd * f.residual.sd, analyses_expected(r, var[k]), 1e-9);
    }
}

/* Two samples as a contrast: t, p and limits of the record. */
static void test_two_samples(void **state)
{
    bench *b = *state;
    const pl_json *r = analyses_record(b, "analyses:two-sample/mortar");
    static const char *const names[] = { "mortar", "y" };
    const char *cells[40];
    pl_linear_spec s = spec_of(b, (wish){ .response = "y", .effects = "mortar" });
    const char *const levels[] = { "modified", "unmodified" };
    const double w[] = { 1, -1 };
    const pl_linear_contrast c = { "mortar", levels, w, 2 };
    pl_linear_fit f;

    for (size_t i = 0; i < 20; i++) {
        cells[2 * i] = levels[i / 10];
        cells[2 * i + 1] = cell_text(
            b, pl_json_at(json_value(r, i < 10 ? "inputs/modified" : "inputs/unmodified"), i % 10));
    }
    s.contrasts = &c;
    s.ncontrast = 1;
    assert_ok(b, pl_fit_linear(b->a, table_of(b, "mortar", 20, 2, names, cells), &s, &f, &b->d));
    assert_rel("t", f.contrasts[0].t, analyses_expected(r, "t"), 1e-9);
    assert_rel("p", f.contrasts[0].p, analyses_expected(r, "p"), 1e-9);
    assert_rel("sp", f.residual.sd, analyses_expected(r, "sp"), 1e-9);
    assert_rel("mean", mean_of(&f, "mortar", "modified")->estimate, analyses_expected(r, "mean1"),
               1e-12);
    assert_rel("mean", mean_of(&f, "mortar", "unmodified")->estimate, analyses_expected(r, "mean2"),
               1e-12);
    check_variances(b, r);
    assert_abs("low", f.contrasts[0].low, -0.5451, 0.00005); /* WORKED 4.3 */
    assert_abs("high", f.contrasts[0].high, -0.0109, 0.00005);
}

/* ------------------------------------------------------ designed layouts ---- */

/* Sum of squares of the products of block and level deviations, beside both. */
static double products_ss(bench *b, const char *const *cells, const pl_linear_fit *f)
{
    static const char *const names[] = { "pressure", "resin", "y", "product" };
    const char *more[24 * 4];
    double block[6] = { 0 }, all = 0;
    pl_linear_fit with;

    for (size_t i = 0; i < 24; i++) {
        block[i % 6] += atof(cells[3 * i + 2]) / 4;
        all += atof(cells[3 * i + 2]) / 24;
    }
    for (size_t i = 0; i < 24; i++) {
        double level = mean_of(f, "pressure", cells[3 * i])->estimate - all;

        memcpy(more + 4 * i, cells + 3 * i, 3 * sizeof *cells);
        more[4 * i + 3] = pl_arena_printf(b->a, "%.17g", level * (block[i % 6] - all));
    }
    with = fit_of(
        b, table_of(b, "products", 24, 4, names, more),
        (wish){
            .response = "y", .effects = "pressure", .covariates = "product", .blocks = "resin" });
    return effect_of(&with, "product", PL_SS_AFTER_ALL_OTHERS)->ss;
}

static void test_complete_blocks(void **state)
{
    bench *b = *state;
    const pl_json *r = analyses_record(b, "analyses:rcbd/vascular-graft"),
                  *y = json_value(r, "inputs/rows_are_treatments");
    static const char *const names[] = { "pressure", "resin", "y" };
    const char *cells[24 * 3];
    pl_linear_fit f;
    const pl_effect *e;

    for (size_t i = 0; i < 24; i++) {
        cells[3 * i] = pl_arena_printf(b->a, "%zu", 8500 + 200 * (i / 6));
        cells[3 * i + 1] = pl_arena_printf(b->a, "batch %zu", i % 6);
        cells[3 * i + 2] = cell_text(b, pl_json_at(pl_json_at(y, i / 6), i % 6));
    }
    f = fit_of(b, table_of(b, "graft", 24, 3, names, cells),
               (wish){ .response = "y", .effects = "pressure", .blocks = "resin" });
    e = effect_of(&f, "pressure", PL_SS_AFTER_ALL_OTHERS);
    assert_rel("treatments", e->ss, analyses_expected(r, "ss_treat"), 1e-10);
    assert_rel("F", e->f, analyses_expected(r, "F"), 1e-10);
    assert_rel("p", e->p, analyses_expected(r, "p"), 1e-9);
    assert_rel("blocks", effect_of(&f, "resin", PL_SS_IN_ORDER)->ss,
               analyses_expected(r, "ss_block"), 1e-10);
    assert_rel("error", f.residual.ss, analyses_expected(r, "ss_error"), 1e-10);
    assert_rel("total", f.total_ss, analyses_expected(r, "ss_total"), 1e-10);
    assert_rel("mse", e->error_ms, analyses_expected(r, "mse"), 1e-10);
    assert_rel("efficiency",
               (5 * effect_of(&f, "resin", PL_SS_IN_ORDER)->ms + 18 * e->error_ms) /
                   (23 * e->error_ms),
               analyses_expected(r, "relative_efficiency_vs_crd_no_df_correction"), 1e-10);
    /* Tukey 1949, Biometrics 5:232: products of the two means' deviations as one column more */
    assert_rel("not additive", products_ss(b, cells, &f),
               analyses_expected(r, "ss_nonadditivity_tukey_1df"), 1e-8);
}

static void test_latin_square(void **state)
{
    bench *b = *state;
    const pl_json *r = analyses_record(b, "analyses:latin/rocket"),
                  *y = json_value(r, "inputs/y_minus_25");
    static const char *const names[] = { "batch", "operator", "mix", "y" };
    const char *cells[25 * 4];
    pl_linear_fit f;

    for (size_t i = 0; i < 25; i++) {
        const char *row = pl_json_at(json_value(r, "inputs/letters"), i / 5)->string;

        cells[4 * i] = pl_arena_printf(b->a, "batch %zu", i / 5);
        cells[4 * i + 1] = pl_arena_printf(b->a, "operator %zu", i % 5);
        cells[4 * i + 2] = pl_arena_printf(b->a, "%c", row[i % 5]);
        cells[4 * i + 3] = cell_text(b, pl_json_at(pl_json_at(y, i / 5), i % 5));
    }
    f = fit_of(b, table_of(b, "rocket", 25, 4, names, cells),
               (wish){ .response = "y", .effects = "mix", .blocks = "batch,operator" });
    for (int kind = 0; kind < PL_SS_NKINDS; kind++) {
        assert_rel("rows", effect_of(&f, "batch", kind)->ss, analyses_expected(r, "ss_rows"),
                   1e-12);
        assert_rel("columns", effect_of(&f, "operator", kind)->ss, analyses_expected(r, "ss_cols"),
                   1e-12);
        assert_rel("mix", effect_of(&f, "mix", kind)->ss, analyses_expected(r, "ss_treat"), 1e-12);
        assert_rel("F", effect_of(&f, "mix", kind)->f, analyses_expected(r, "F"), 1e-12);
        assert_rel("p", effect_of(&f, "mix", kind)->p, analyses_expected(r, "p"), 1e-9);
    }
    assert_rel("error", f.residual.ss, analyses_expected(r, "ss_error"), 1e-12);
    assert_rel("total", f.total_ss, analyses_expected(r, "ss_total"), 1e-12);
}

/* The sub-plot error in its two parts, replicates as one more factor. */
static void check_split_further(bench *b, const pl_json *r, const pl_table *t)
{
    pl_linear_fit f = fit_of(
        b, t,
        (wish){ .response = "y", .effects = "rep; prep; rep,prep; temp; prep,temp; rep,temp" });
    const pl_effect *rb = effect_of(&f, "rep, temp", PL_SS_IN_ORDER);
    const pl_effect *both = effect_of(&f, "prep, temp", PL_SS_IN_ORDER);

    assert_rel("rep by temperature", rb->ss, analyses_expected(r, "ss_RB"), 1e-10);
    assert_rel("all three", f.residual.ss, analyses_expected(r, "ss_RAB"), 1e-10);
    assert_rel("F of temperature", effect_of(&f, "temp", PL_SS_IN_ORDER)->ms / rb->ms,
               analyses_expected(r, "F_B_vs_RB"), 1e-10);
    assert_rel("F together", both->f, analyses_expected(r, "F_AB_vs_RAB"), 1e-10);
}

/* Whole plots are batches of pulp, made afresh in each replicate; the whole-plot factor is judged
 * against them, all else against what is left. The whole-plot stratum is never pooled. */
static void test_split_plot(void **state)
{
    bench *b = *state;
    const pl_json *r = analyses_record(b, "analyses:splitplot/paper-strength");
    static const char *const names[] = { "rep", "prep", "temp", "batch", "y" };
    const char *cells[36 * 5];
    pl_linear_fit f;
    const pl_effect *e;

    for (size_t i = 0; i < 36; i++) {
        size_t rep = i / 12, prep = i / 4 % 3, temp = i % 4;

        cells[5 * i] = pl_arena_printf(b->a, "rep %zu", rep);
        cells[5 * i + 1] = pl_arena_printf(b->a, "prep %zu", prep);
        cells[5 * i + 2] = pl_arena_printf(b->a, "%zu", 200 + 25 * temp);
        cells[5 * i + 3] = pl_arena_printf(b->a, "batch %zu", i / 4);
        cells[5 * i + 4] = cell_text(
            b, json_value(r, pl_arena_printf(b->a, "inputs/reps_preps_temps/%zu/%zu/%zu", rep, prep,
                                             temp)));
    }
    f = fit_of(
        b, table_of(b, "paper", 36, 5, names, cells),
        (wish){ .response = "y", .effects = "prep; temp; prep,temp", .blocks = "rep,batch" });
    for (int kind = 0; kind < PL_SS_NKINDS; kind++) {
        e = effect_of(&f, "prep", kind);
        assert_rel("preparation", e->ss, analyses_expected(r, "ss_A"), 1e-10);
        assert_rel("F of preparation", e->f, analyses_expected(r, "F_A"), 1e-10);
        assert_string_equal(e->error, "batch");
        assert_rel("its error df", e->error_df, 4, 0);
        assert_rel("its error", e->error_ms, analyses_expected(r, "ss_wholeplot_error") / 4, 1e-10);
        assert_rel("rep", effect_of(&f, "rep", kind)->ss, analyses_expected(r, "ss_rep"), 1e-10);
        e = effect_of(&f, "temp", kind);
        assert_rel("temperature", e->ss, analyses_expected(r, "ss_B"), 1e-10);
        assert_rel("F of temperature", e->f, analyses_expected(r, "F_B_pooled"), 1e-10);
        assert_string_equal(e->error, "residual");
        e = effect_of(&f, "prep, temp", kind);
        assert_rel("together", e->ss, analyses_expected(r, "ss_AB"), 1e-10);
        assert_rel("F together", e->f, analyses_expected(r, "F_AB_pooled"), 1e-10);
    }
    assert_rel("residual", f.residual.ss, analyses_expected(r, "ss_subplot_error_pooled"), 1e-10);
    assert_rel("total", f.total_ss, analyses_expected(r, "ss_total"), 1e-10);
    check_split_further(b, r, table_of(b, "paper", 36, 5, names, cells));
    /* Standard error of a whole-plot mean: sqrt(ms of batches / 12 rows). */
    assert_rel("se", mean_of(&f, "prep", "prep 0")->se,
               sqrt(analyses_expected(r, "ss_wholeplot_error") / 4 / 12), 1e-9);
    assert_rel("df", mean_of(&f, "prep", "prep 0")->df, 4, 0);
}

/* What blocks tell between them: their totals on how often each level is in them. */
static void between_blocks(bench *b, const pl_table *t, double tau[4])
{
    static const char *const names[] = { "c1", "c2", "c3", "total" };
    const double *y = pl_table_find(t, "y")->number, *level = pl_table_find(t, "catalyst")->number;
    double total[4] = { 0 }, in[4][4] = { { 0 } };
    const char *cells[16];
    pl_linear_fit f;

    for (size_t i = 0; i < t->nrow; i++) {
        int block = pl_table_find(t, "batch")->text[i][6] - '0';

        total[block] += y[i];
        in[block][(int)level[i] - 1]++;
    }
    for (int k = 0; k < 4; k++) {
        for (int l = 0; l < 3; l++)
            cells[4 * k + l] = pl_arena_printf(b->a, "%g", in[k][l] - in[k][3]);
        cells[4 * k + 3] = pl_arena_printf(b->a, "%.17g", total[k]);
    }
    f = fit_of(b, table_of(b, "totals", 4, 4, names, cells),
               (wish){ .response = "total", .covariates = "c1,c2,c3" });
    tau[3] = 0;
    for (int l = 0; l < 3; l++) {
        tau[l] = coef_of(&f, names[l])->estimate;
        tau[3] -= tau[l];
    }
}

/* Yates 1940, Ann. Eugenics 10:317: within and between blocks, each by how surely it tells; the
 * variance of blocks from their mean square after the levels. (What the fit itself recovers weighs
 * by restricted likelihood: tests/fit/test_mixed.c holds that to 40 digits.) */
static void check_recovered(bench *b, const pl_json *r, const pl_table *t, const pl_linear_fit *f)
{
    const double v = analyses_expected(r, "params/v"), nb = analyses_expected(r, "params/b"),
                 k = analyses_expected(r, "params/k"), rep = analyses_expected(r, "params/r"),
                 lambda = analyses_expected(r, "params/lambda_");
    const pl_effect *e = effect_of(f, "catalyst", PL_SS_AFTER_ALL_OTHERS);
    const pl_effect *blocks = effect_of(f, "batch", PL_SS_AFTER_ALL_OTHERS);
    double s2 = e->error_ms, s2b = (blocks->ms - s2) * (nb - 1) / (v * (rep - 1)), tau[4];
    pl_linear_fit alone = fit_of(b, t, (wish){ .response = "y", .effects = "catalyst" });

    assert_true(t->nrow == (size_t)(nb * k) && lambda * (v - 1) == rep * (k - 1));
    assert_rel("total", f->total_ss, analyses_expected(r, "ss_total"), 1e-10);
    assert_rel("error df", f->residual.df, analyses_expected(r, "df_error"), 0);
    assert_rel("mse", s2, analyses_expected(r, "mse"), 1e-10);
    assert_rel("without blocks", effect_of(&alone, "catalyst", PL_SS_IN_ORDER)->ss,
               analyses_expected(r, "ss_treat_unadj"), 1e-10);
    assert_rel("variance of blocks", s2b, analyses_expected(r, "sigma2_block_anova"), 1e-10);
    between_blocks(b, t, tau);
    for (int l = 0; l < 4; l++) {
        const char *name = pl_arena_printf(b->a, "%d", l + 1);
        double within = coef_of(f, pl_arena_printf(b->a, "catalyst=%s", name))->estimate;
        double sure = lambda * v * (s2 + k * s2b), less = (rep - lambda) * s2;

        assert_abs("between", tau[l],
                   analyses_expected(r, pl_arena_printf(b->a, "interblock/%s", name)), 1e-9);
        assert_abs("together", (sure * within + less * tau[l]) / (sure + less),
                   analyses_expected(r, pl_arena_printf(b->a, "combined/%s", name)), 1e-9);
    }
}

static void test_incomplete_blocks(void **state)
{
    bench *b = *state;
    const pl_json *r = analyses_record(b, "analyses:bibd/catalyst"),
                  *blocks = json_value(r, "inputs/blocks");
    static const char *const names[] = { "batch", "catalyst", "y" };
    static const char *const levels[] = { "1", "2", "3", "4" };
    const double w[] = { 1, -1, 0, 0 };
    const pl_linear_contrast c = { "catalyst", levels, w, 4 };
    const char *cells[12 * 3];
    pl_linear_spec s = spec_of(b,
                               (wish){ .response = "y", .effects = "catalyst", .blocks = "batch" });
    size_t n = 0;
    pl_linear_fit f;
    const pl_effect *e;

    for (size_t k = 0; k < 4; k++)
        for (size_t l = 0; l < 4; l++) {
            const pl_json *v = pl_json_get(pl_json_at(blocks, k), levels[l]);

            if (!v)
                continue;
            cells[3 * n] = pl_arena_printf(b->a, "batch %zu", k);
            cells[3 * n + 1] = levels[l];
            cells[3 * n++ + 2] = cell_text(b, v);
        }
    assert_int_equal(n, 12);
    s.contrasts = &c;
    s.ncontrast = 1;
    assert_ok(b, pl_fit_linear(b->a, table_of(b, "catalyst", n, 3, names, cells), &s, &f, &b->d));
    e = effect_of(&f, "catalyst", PL_SS_AFTER_ALL_OTHERS);
    assert_rel("adjusted", e->ss, analyses_expected(r, "ss_treat_adj"), 1e-10);
    assert_rel("F", e->f, analyses_expected(r, "F"), 1e-10);
    assert_rel("p", e->p, analyses_expected(r, "p"), 1e-9);
    assert_rel("error", f.residual.ss, analyses_expected(r, "ss_error"), 1e-10);
    assert_rel("blocks first", effect_of(&f, "batch", PL_SS_IN_ORDER)->ss,
               analyses_expected(r, "ss_blocks_unadj"), 1e-10);
    assert_rel("blocks after", effect_of(&f, "batch", PL_SS_AFTER_ALL_OTHERS)->ss,
               analyses_expected(r, "ss_blocks_adj"), 1e-10);
    for (int l = 0; l < 4; l++)
        assert_rel("effect", coef_of(&f, pl_arena_printf(b->a, "catalyst=%s", levels[l]))->estimate,
                   analyses_expected(r, pl_arena_printf(b->a, "intrablock/%s", levels[l])), 1e-9);
    assert_rel("se of a difference", f.contrasts[0].se, analyses_expected(r, "se_diff_intrablock"),
               1e-9);
    check_recovered(b, r, table_of(b, "catalyst", n, 3, names, cells), &f);
}

/* A full 2^4: an effect is twice the coefficient of the high level; with one run a cell nothing is
 * left to judge by, and the answer says so. */
static void test_two_level_factorial(void **state)
{
    bench *b = *state;
    const pl_json *r = analyses_record(b, "analyses:factorial/filtration"),
                  *y = json_value(r, "inputs/y_standard_order");
    static const char *const names[] = { "A", "B", "C", "D", "y" };
    static const char *const words[] = { "A",  "B",  "AB",  "C",  "AC",  "BC",  "ABC", "D",
                                         "AD", "BD", "ABD", "CD", "ACD", "BCD", "ABCD" };
    const char *cells[16 * 5], *effects = "";
    pl_linear_fit f;

    for (int i = 0; i < 16; i++) {
        for (int k = 0; k < 4; k++)
            cells[5 * i + k] = i >> k & 1 ? "1" : "-1";
        cells[5 * i + 4] = cell_text(b, pl_json_at(y, (size_t)i));
    }
    for (int e = 0; e < 15; e++) {
        effects = pl_arena_printf(b->a, "%s%s", effects, e ? ";" : "");
        for (const char *c = words[e]; *c; c++)
            effects = pl_arena_printf(b->a, "%s%s%c", effects, c > words[e] ? "," : "", *c);
    }
    f = fit_of(b, table_of(b, "filtration", 16, 5, names, cells),
               (wish){ .response = "y", .effects = effects });
    for (int e = 0; e < 15; e++) {
        const char *name = "";

        for (const char *c = words[e]; *c; c++)
            name = pl_arena_printf(b->a, "%s%s%c=1", name, c > words[e] ? ", " : "", *c);
        assert_abs(words[e], 2 * coef_of(&f, name)->estimate,
                   analyses_expected(r, pl_arena_printf(b->a, "effects/%s", words[e])), 1e-9);
    }
    assert_true(isnan(effect_of(&f, "A", PL_SS_IN_ORDER)->f));
    assert_finding(b, "16 rows for 16 numbers to estimate");
}

/* The same as a curve. */
static void check_loose_line(bench *b, const pl_json *r, const pl_table *t)
{
    const pl_named_curve line = { "line", false };
    const pl_curve_spec spec = { .response = "y", .over = "x", .curves = &line, .ncurve = 1 };
    const pl_lack_of_fit *lof;
    pl_plateau *p = NULL;
    size_t n = 0;

    assert_ok(b, pl_fit_curves(b->a, t, &spec, &p, &n, &b->d));
    lof = &p->curves[0].lack_of_fit;
    assert_rel("F", lof->f, analyses_expected(r, "F_lof"), 1e-10);
    assert_rel("p", lof->p, analyses_expected(r, "p"), 1e-10);
    assert_rel("df", lof->df1, analyses_expected(r, "df_lack_of_fit"), 0);
    assert_rel("ss", p->curves[0].residual.ss - p->error_sd * p->error_sd * p->error_df,
               analyses_expected(r, "ss_lack_of_fit"), 1e-10);
}

/* Lack of fit: the line against the levels as a factor. */
static void test_lack_of_fit(void **state)
{
    bench *b = *state;
    const pl_json *r = analyses_record(b, "analyses:lof/bank");
    static const char *const names[] = { "x", "level", "y" };
    const char *cells[11 * 3];
    const pl_table *t;
    pl_linear_fit line, levels;

    for (size_t i = 0; i < 11; i++) {
        cells[3 * i] = cells[3 * i + 1] = cell_text(b, pl_json_at(json_value(r, "inputs/x"), i));
        cells[3 * i + 2] = cell_text(b, pl_json_at(json_value(r, "inputs/y"), i));
    }
    t = table_of(b, "bank", 11, 3, names, cells);
    line = fit_of(b, t, (wish){ .response = "y", .covariates = "x" });
    levels = fit_of(b, t, (wish){ .response = "y", .effects = "level" });
    assert_rel("b0", coef_of(&line, "intercept")->estimate, analyses_expected(r, "b0"), 1e-10);
    assert_rel("b1", coef_of(&line, "x")->estimate, analyses_expected(r, "b1"), 1e-10);
    assert_rel("sse", line.residual.ss, analyses_expected(r, "sse"), 1e-10);
    assert_rel("pure error", levels.residual.ss, analyses_expected(r, "ss_pure_error"), 1e-10);
    assert_rel("its df", levels.residual.df, analyses_expected(r, "df_pure_error"), 0);
    check_loose_line(b, r, t);
}

/* --------------------------------------------------------- cells, nesting ---- */

/* Cells of an interaction are its means: R's in tests/reference/r/warpbreaks.json. */
static void test_cells(void **state)
{
    bench *b = *state;
    const pl_json *j = reference_json(b, "r/warpbreaks"),
                  *cells = json_value(j, "results/cell_means");
    pl_linear_fit f = fit_of(
        b, reference_table(b, "r/warpbreaks"),
        (wish){ .response = "breaks", .effects = "wool; tension; wool,tension" });

    assert_int_equal(cells->count, 6);
    for (size_t i = 0; i < 6; i++) {
        const char *level = json_value(pl_json_at(cells, i), "level")->string; /* "A.L" */
        const pl_mean *m = mean_of(&f, "wool, tension",
                                   pl_arena_printf(b->a, "%c, %c", level[0], level[2]));

        assert_rel(level, m->estimate, json_number(pl_json_at(cells, i), "mean"), 1e-13);
        assert_int_equal(m->n, 9);
        assert_rel("se", m->se, f.residual.sd / 3, 1e-13);
    }
}

/* Paste strength, 10 batches x 3 casks x 2 tests (Davies & Goldsmith 1972, table 6.5): sums of
 * squares and the two F of WORKED 4.4 from data invented to have just these mean squares would
 * prove nothing; instead the rule itself on invented figures: F of the outer block is its mean
 * square over the inner's, sums of squares by hand. Two batches of two casks of two tests: 1 3 | 5
 * 7 || 9 11 | 17 19. */
static void test_nested_blocks(void **state)
{
    bench *b = *state;
    static const char *const names[] = { "batch", "cask", "y" };
    static const char *const y[] = { "1", "3", "5", "7", "9", "11", "17", "19" };
    const char *cells[24];
    const pl_effect *batch, *cask;
    pl_linear_fit f;

    for (int i = 0; i < 8; i++) {
        cells[3 * i] = i < 4 ? "one" : "two";
        cells[3 * i + 1] = i / 2 % 2 ? "b" : "a"; /* names start afresh */
        cells[3 * i + 2] = y[i];
    }
    f = fit_of(
        b, table_of(b, "paste", 8, 3, names, cells),
        (wish){ .response = "y", .blocks = "batch,cask", .nested = "cask", .inside = "batch" });
    batch = effect_of(&f, "batch", PL_SS_IN_ORDER);
    cask = effect_of(&f, "cask", PL_SS_IN_ORDER);
    assert_rel("batch ss", batch->ss, 2 * 4 * 5 * 5, 1e-14);      /* means 4, 14 */
    assert_rel("cask ss", cask->ss, 2 * (2 * 4 + 2 * 16), 1e-14); /* 2, 6; 10, 18 */
    assert_rel("residual ss", f.residual.ss, 8, 1e-14);
    assert_string_equal(batch->error, "cask");
    assert_rel("batch F", batch->f, 200. / 40, 1e-14);
    assert_rel("cask F", cask->f, 40. / 2, 1e-14);
}

/* R 4.2.2's results, in the JSON beside the data: runs as blocks, and one way. */
static void test_michelson(void **state)
{
    bench *b = *state;
    const pl_json *j = reference_json(b, "r/michelson");
    const pl_table *t = reference_table(b, "r/michelson");
    pl_linear_fit f = fit_of(b, t,
                             (wish){ .response = "Speed", .effects = "Expt", .blocks = "Run" });
    const pl_effect *e = effect_of(&f, "Expt", PL_SS_AFTER_ALL_OTHERS);

    assert_rel("Expt F", e->f, json_number(j, "results/aov_runs_as_blocks/1/F"), 1e-12);
    assert_rel("Expt p", e->p, json_number(j, "results/aov_runs_as_blocks/1/p"), 1e-10);
    e = effect_of(&f, "Run", PL_SS_IN_ORDER);
    assert_rel("Run F", e->f, json_number(j, "results/aov_runs_as_blocks/0/F"), 1e-12);
    f = fit_of(b, t, (wish){ .response = "Speed", .effects = "Expt" });
    e = effect_of(&f, "Expt", PL_SS_IN_ORDER);
    assert_rel("one way F", e->f, json_number(j, "results/aov_one_way/0/F"), 1e-12);
    assert_rel("one way p", e->p, json_number(j, "results/aov_one_way/0/p"), 1e-10);
}

/* ------------------------------------------------------- the mean alone ---- */

/* NIST StRD univariate sets; autocorrelation is not fit's. Digits that input in doubles allows:
 * NumAcc3 9.4, NumAcc4 8.2 for the sd, else 14 and more (reference notes). */
static void check_mean(bench *b, const char *set, double least_mean, double least_sd)
{
    const pl_json *j = reference_json(b, set);
    pl_linear_fit f = fit_of(b, reference_table(b, set), (wish){ .response = "y" });

    assert_int_equal(f.ncoef, 1);
    assert_digits("mean", f.coefs[0].estimate, json_number(j, "certified/mean"), least_mean);
    assert_digits("sd", f.residual.sd, json_number(j, "certified/standard_deviation"), least_sd);
}

static void test_mean_alone(void **state)
{
    check_mean(*state, "nist/NumAcc1", 14.5, 14.5);
    check_mean(*state, "nist/NumAcc2", 14.5, 14);
    check_mean(*state, "nist/NumAcc3", 14.5, 8.9);
    check_mean(*state, "nist/NumAcc4", 14.5, 7.7);
    check_mean(*state, "nist/Michelso", 14.5, 13);
}

/* ------------------------------------------------------------- refusals ---- */

static void test_contrast_refusals(void **state)
{
    bench *b = *state;
    const pl_table *t = reference_table(b, "trade/bond_ingots_rcbd");
    pl_linear_spec s = spec_of(
        b, (wish){ .response = "pressure", .effects = "metal", .blocks = "ingot" });
    const char *const good[] = { "iron", "copper" }, *const bad[] = { "iron", "cooper" };
    const double w[] = { 1, -1 }, one[] = { 1, -0.5 };
    const pl_linear_contrast c[] = { { "metall", good, w, 2 },
                                     { "metal", bad, w, 2 },
                                     { "metal", good, one, 2 } };
    pl_linear_fit f;

    s.contrasts = c;
    s.ncontrast = 3;
    assert_code(b, PL_EVALUE, pl_fit_linear(b->a, t, &s, &f, &b->d));
    assert_finding(b, "did you mean \"metal\"?");
    assert_finding(b, "level \"cooper\"");
    assert_finding(b, "add up to 0.5");
}

static void test_ledger(void **state)
{
    analyses_settle(*state, "test_linear_worked");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_one_way),
        TEST(test_polynomial_contrasts),
        TEST(test_two_samples),
        TEST(test_complete_blocks),
        TEST(test_latin_square),
        TEST(test_split_plot),
        TEST(test_incomplete_blocks),
        TEST(test_two_level_factorial),
        TEST(test_lack_of_fit),
        TEST(test_cells),
        TEST(test_nested_blocks),
        TEST(test_michelson),
        TEST(test_mean_alone),
        TEST(test_contrast_refusals),
        TEST(test_ledger),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
