/* Linear models against certified, published and recomputed results. */
#include <gsl/gsl_errno.h>

#include "linear_support.h"

/* ------------------------------------------------------------ NIST StRD ---- */

/* Certified values in tests/reference/nist/SET.json. */
static void check_regression(bench *b, const char *set, const char *covariates, double least)
{
    const pl_json *j = reference_json(b, set);
    pl_linear_fit f = fit_of(b, reference_table(b, set),
                             (wish){ .response = "y", .covariates = covariates });

    if (getenv("PLATEN_DIGITS"))
        printf("  %s\n", set);
    for (size_t k = 0; k < f.ncoef; k++) {
        const char *at = pl_arena_printf(b->a, "certified/parameters/%zu", k);

        assert_digits(f.coefs[k].name, f.coefs[k].estimate,
                      json_number(j, pl_arena_printf(b->a, "%s/estimate", at)), least);
        assert_digits("standard error", f.coefs[k].se,
                      json_number(j, pl_arena_printf(b->a, "%s/standard_deviation", at)), least);
    }
    assert_rel("df", f.residual.df, json_number(j, "certified/df"), 0);
    assert_digits("residual sd", f.residual.sd, json_number(j, "certified/residual_sd"), least);
    assert_digits("R squared", f.r_squared, json_number(j, "certified/r_squared"), least);
    assert_digits("F", f.whole.f, json_number(j, "certified/F"), least);
    assert_digits("regression ss", f.whole.ss,
                  json_number(j, "certified/anova/regression/sum_of_squares"), least);
}

static void test_norris_and_longley(void **state)
{
    /* decimals of Norris as doubles hold 13.7 digits; Longley is whole numbers and decimals */
    check_regression(*state, "nist/Norris", "x", 13);
    check_regression(*state, "nist/Longley", "x1,x2,x3,x4,x5,x6", 13.5);
}

/* Limits of the input as doubles: AtmWtAg 10.2, SiRstv 13.1, SmLs01 15, SmLs04 10.1, SmLs07 4.0
 * digits (reference notes of NIST's sets recomputed exactly from the rounded input); each
 * bound is one digit or less below. */
static void check_one_way(bench *b, const char *set, const char *factor, double least)
{
    const pl_json *j = reference_json(b, set);
    pl_linear_fit f = fit_of(b, reference_table(b, set),
                             (wish){ .response = "y", .effects = factor });
    const pl_effect *e = effect_of(&f, factor, PL_SS_IN_ORDER);

    if (getenv("PLATEN_DIGITS"))
        printf("  %s\n", set);
    assert_digits("F", e->f, json_number(j, "certified/F"), least);
    assert_digits("between ss", e->ss, json_number(j, "certified/anova/between/sum_of_squares"),
                  least);
    assert_digits("within ss", f.residual.ss, json_number(j, "certified/residual_sum_of_squares"),
                  least);
    assert_digits("residual sd", f.residual.sd, json_number(j, "certified/residual_sd"), least);
    assert_digits("R squared", f.r_squared, json_number(j, "certified/r_squared"), least);
    assert_rel("df", e->df, json_number(j, "certified/anova/between/df"), 0);
    e = effect_of(&f, factor, PL_SS_AFTER_ALL_OTHERS);
    assert_digits("F after all others", e->f, json_number(j, "certified/F"), least);
}

static void test_one_way(void **state)
{
    check_one_way(*state, "nist/AtmWtAg", "instrument", 9.7);
    check_one_way(*state, "nist/SiRstv", "instrument", 12.6);
    check_one_way(*state, "nist/SmLs01", "treatment", 14);
    check_one_way(*state, "nist/SmLs04", "treatment", 9.6);
    check_one_way(*state, "nist/SmLs07", "treatment", 3.6);
}

/* ------------------------------------------------------ bonds, published ---- */

/* Mendenhall, Wackerly & Scheaffer 1990, exercise 13.36, printed figures as collected with the
 * data: half a unit of the last printed digit. */
static void test_bond_ingots(void **state)
{
    bench *b = *state;
    const pl_table *t = reference_table(b, "trade/bond_ingots_rcbd");
    pl_linear_fit f = fit_of(
        b, t, (wish){ .response = "pressure", .effects = "metal", .blocks = "ingot" });
    const pl_effect *metal = effect_of(&f, "metal", PL_SS_AFTER_ALL_OTHERS);
    const pl_effect *ingot = effect_of(&f, "ingot", PL_SS_IN_ORDER);
    const pl_mean *iron = mean_of(&f, "metal", "iron");

    assert_abs("ingot ss", ingot->ss, 268.29, 0.005);
    assert_rel("ingot df", ingot->df, 6, 0);
    assert_abs("ingot F", ingot->f, 4.311, 0.0005);
    assert_abs("ingot p", ingot->p, 0.0151, 0.00005);
    assert_abs("metal ss", metal->ss, 131.90, 0.005);
    assert_abs("metal F", metal->f, 6.359, 0.0005);
    assert_abs("metal p", metal->p, 0.0131, 0.00005);
    assert_string_equal(metal->error, "residual");
    assert_rel("error df", metal->error_df, 12, 0);
    assert_abs("residual ss", f.residual.ss, 124.46, 0.005);
    assert_abs("residual ms", metal->error_ms, 10.372, 0.0005);
    assert_abs("copper", mean_of(&f, "metal", "copper")->estimate, 70.1857, 0.00005);
    assert_abs("iron", iron->estimate, 75.9, 0.00005);
    assert_abs("nickel", mean_of(&f, "metal", "nickel")->estimate, 71.1, 0.00005);
    /* b = 7 blocks: sqrt(10.372 / 7); t(0.975, 12) = 2.178813 from any table of t */
    assert_abs("se", iron->se, sqrt(10.372 / 7), 0.0001);
    assert_abs("upper limit", iron->high, 75.9 + 2.178813 * sqrt(10.372 / 7), 0.0005);
    assert_int_equal(iron->n, 7);
    /* relative efficiency of blocking, recomputed with the collection as 1.993 */
    assert_abs("efficiency", (6 * ingot->ms + 14 * metal->error_ms) / (20 * metal->error_ms), 1.993,
               0.0005);
    assert_abs("iron - copper", iron->estimate - mean_of(&f, "metal", "copper")->estimate, 5.714,
               0.0005);
}

/* Montgomery 2017, problem 15.15; figures recomputed with the collection. */
static void test_glue_thickness(void **state)
{
    bench *b = *state;
    const pl_table *t = reference_table(b, "trade/glue_thickness_ancova");
    pl_linear_fit plain = fit_of(b, t, (wish){ .response = "strength", .effects = "glue" });
    pl_linear_fit f = fit_of(
        b, t, (wish){ .response = "strength", .effects = "glue", .covariates = "thickness" });
    const double raw[4] = { 46.52, 48.30, 48.16, 47.08 };
    const double adjusted[4] = { 47.075, 47.644, 47.908, 47.433 };
    const pl_effect *glue = effect_of(&plain, "glue", PL_SS_IN_ORDER);

    assert_abs("F ignoring thickness", glue->f, 0.732, 0.0005);
    assert_abs("p ignoring thickness", glue->p, 0.548, 0.0005);
    assert_abs("ms ignoring thickness", glue->error_ms, 5.033, 0.0005);
    assert_abs("slope", coef_of(&f, "thickness")->estimate, -1.0099, 0.00005);
    assert_abs("thickness F", effect_of(&f, "thickness", PL_SS_AFTER_ALL_OTHERS)->f, 42.62, 0.005);
    assert_abs("thickness p", effect_of(&f, "thickness", PL_SS_AFTER_ALL_OTHERS)->p, 9.5e-6, 5e-8);
    glue = effect_of(&f, "glue", PL_SS_AFTER_ALL_OTHERS);
    assert_abs("glue F", glue->f, 0.422, 0.0005);
    assert_abs("glue p", glue->p, 0.740, 0.0005);
    assert_rel("df", glue->error_df, 15, 0);
    assert_abs("ms", glue->error_ms, 1.397, 0.0005);
    assert_abs("s", f.residual.sd, 1.182, 0.0005);
    for (int g = 0; g < 4; g++) {
        const char *level = (const char *const[]){ "1", "2", "3", "4" }[g];

        assert_abs("raw mean", mean_of(&plain, "glue", level)->estimate, raw[g], 0.00005);
        assert_abs("adjusted mean", mean_of(&f, "glue", level)->estimate, adjusted[g], 0.0005);
    }
}

/* Montgomery, table 2.1, values as in the collection of worked cases: they reproduce the
 * printed variances. F = t^2; t -2.187, p 0.0422, s 0.28425, means 16.764 and 17.042, limits of
 * the difference -0.5451 and -0.0109 (difference = 2 x the sum-to-zero coefficient). */
static void test_mortar(void **state)
{
    bench *b = *state;
    const char *const names[2] = { "mortar", "strength" };
    const char *const y[20] = { "16.85", "16.40", "17.21", "16.35", "16.52", "17.04", "16.96",
                                "17.15", "16.59", "16.57", "16.62", "16.75", "17.37", "17.12",
                                "16.98", "16.87", "17.34", "17.02", "17.08", "17.27" };
    const char *cells[40];
    pl_linear_fit f;
    const pl_coef *c;
    const pl_effect *e;

    for (int i = 0; i < 20; i++) {
        cells[2 * i] = i < 10 ? "modified" : "unmodified";
        cells[2 * i + 1] = y[i];
    }
    f = fit_of(b, table_of(b, "mortar", 20, 2, names, cells),
               (wish){ .response = "strength", .effects = "mortar" });
    c = coef_of(&f, "mortar=modified");
    e = effect_of(&f, "mortar", PL_SS_IN_ORDER);
    assert_abs("modified", mean_of(&f, "mortar", "modified")->estimate, 16.764, 0.0005);
    assert_abs("unmodified", mean_of(&f, "mortar", "unmodified")->estimate, 17.042, 0.0005);
    assert_abs("pooled s", f.residual.sd, 0.28425, 0.000005);
    assert_abs("t", c->estimate / c->se, -2.187, 0.0005);
    assert_abs("t by F", sqrt(e->f), 2.187, 0.0005);
    assert_abs("p", e->p, 0.0422, 0.00005);
    assert_abs("low", 2 * c->low, -0.5451, 0.00005);
    assert_abs("high", 2 * c->high, -0.0109, 0.00005);
    assert_rel("df", c->df, 18, 0);
}

/* -------------------------------------------------------------- R's sets ---- */

static void check_line(bench *b, const pl_effect *e, const pl_json *j, const char *path)
{
    assert_rel("df", e->df, json_number(j, pl_arena_printf(b->a, "%s/df", path)), 0);
    assert_rel("ss", e->ss, json_number(j, pl_arena_printf(b->a, "%s/sum_of_squares", path)),
               1e-12);
    assert_rel("F", e->f, json_number(j, pl_arena_printf(b->a, "%s/F", path)), 1e-12);
    assert_rel("p", e->p, json_number(j, pl_arena_printf(b->a, "%s/p", path)), 1e-10);
}

/* Results computed with R 4.2.2, in tests/reference/r/SET.json, good to 13 digits there. */
static void test_warpbreaks(void **state)
{
    bench *b = *state;
    const pl_json *j = reference_json(b, "r/warpbreaks");
    const pl_table *t = reference_table(b, "r/warpbreaks");
    pl_linear_fit f = fit_of(
        b, t, (wish){ .response = "breaks", .effects = "wool; tension; wool,tension" });

    for (int kind = 0; kind < PL_SS_NKINDS; kind++) { /* balanced: both kinds agree */
        check_line(b, effect_of(&f, "wool", kind), j, "results/aov_interaction/0");
        check_line(b, effect_of(&f, "tension", kind), j, "results/aov_interaction/1");
        check_line(b, effect_of(&f, "wool, tension", kind), j, "results/aov_interaction/2");
    }
    assert_rel("R squared", f.r_squared, json_number(j, "results/lm_interaction/r_squared"), 1e-13);
    assert_rel("F", f.whole.f, json_number(j, "results/lm_interaction/F"), 1e-13);
    assert_rel("sd", f.residual.sd, json_number(j, "results/lm_interaction/residual_sd"), 1e-13);
    /* a cell's mean is intercept + wool + tension + interaction */
    assert_rel("cell A, L",
               coef_of(&f, "intercept")->estimate + coef_of(&f, "wool=A")->estimate +
                   coef_of(&f, "tension=L")->estimate + coef_of(&f, "wool=A, tension=L")->estimate,
               json_number(j, "results/cell_means/0/mean"), 1e-13);
    f = fit_of(b, t, (wish){ .response = "breaks", .effects = "wool; tension" });
    check_line(b, effect_of(&f, "tension", PL_SS_IN_ORDER), j, "results/aov_additive/1");
}

static void test_npk(void **state)
{
    bench *b = *state;
    const pl_json *j = reference_json(b, "r/npk");
    const pl_table *t = reference_table(b, "r/npk");
    const char *const names[] = { "block", "N", "P", "K", "N, P", "N, K", "P, K" };
    pl_linear_fit f = fit_of(
        b, t,
        (wish){ .response = "yield", .effects = "N; P; K; N,P; N,K; P,K", .blocks = "block" });

    for (int k = 0; k < 7; k++)
        check_line(b, effect_of(&f, names[k], PL_SS_IN_ORDER), j,
                   pl_arena_printf(b->a, "results/aov_block_fixed/%d", k));
    /* intercept: R's lme gives the same contrasts; N goes from -1/2 to 1/2 of 5.6167 */
    assert_rel("N", 2 * coef_of(&f, "N=1")->estimate,
               json_number(j, "results/effects_high_minus_low/N"), 1e-13);
    assert_rel("se", 2 * coef_of(&f, "N=1")->se,
               json_number(j, "results/effects_high_minus_low/standard_error"), 1e-13);
    /* N:P:K lies between blocks and is judged there: R's aov with an Error stratum */
    f = fit_of(b, t,
               (wish){ .response = "yield",
                       .effects = "N; P; K; N,P; N,K; P,K; N,P,K",
                       .blocks = "block" });
    check_line(b, effect_of(&f, "N, P, K", PL_SS_IN_ORDER), j,
               "results/aov_error_strata/stratum block/0");
    check_line(b, effect_of(&f, "N, P, K", PL_SS_AFTER_ALL_OTHERS), j,
               "results/aov_error_strata/stratum block/0");
    assert_string_equal(effect_of(&f, "N, P, K", PL_SS_IN_ORDER)->error, "block");
    assert_rel("block ss", effect_of(&f, "block", PL_SS_IN_ORDER)->ss,
               json_number(j, "results/aov_error_strata/stratum block/1/sum_of_squares"), 1e-12);
    check_line(b, effect_of(&f, "K", PL_SS_AFTER_ALL_OTHERS), j,
               "results/aov_error_strata/stratum Within/2");
    assert_int_equal(b->d.count, 0); /* balanced: nothing to advise */
}

/* Yields of both years averaged: the response is made here as R made it. */
static void test_immer(void **state)
{
    bench *b = *state;
    const pl_json *j = reference_json(b, "r/immer");
    const pl_table *t = reference_table(b, "r/immer");
    const char **cells = PL_NEWN(b->a, t->nrow * 3, const char *);
    const char *const names[3] = { "Loc", "Var", "Y" };
    pl_linear_fit f;

    for (size_t i = 0; i < t->nrow; i++) {
        cells[3 * i] = pl_table_find(t, "Loc")->text[i];
        cells[3 * i + 1] = pl_table_find(t, "Var")->text[i];
        cells[3 * i + 2] = pl_arena_printf(
            b->a, "%.17g",
            (pl_table_find(t, "Y1")->number[i] + pl_table_find(t, "Y2")->number[i]) / 2);
    }
    f = fit_of(b, table_of(b, "immer", t->nrow, 3, names, cells),
               (wish){ .response = "Y", .effects = "Var", .blocks = "Loc" });
    check_line(b, effect_of(&f, "Loc", PL_SS_IN_ORDER), j, "results/aov_mean_of_years_blocks/0");
    check_line(b, effect_of(&f, "Var", PL_SS_IN_ORDER), j, "results/aov_mean_of_years_blocks/1");
    for (int k = 0; k < 5; k++) {
        const char *at = pl_arena_printf(b->a, "results/variety_means/%d", k);
        const char *level = json_value(j, pl_arena_printf(b->a, "%s/level", at))->string;

        assert_rel("variety", mean_of(&f, "Var", level)->estimate,
                   json_number(j, pl_arena_printf(b->a, "%s/mean", at)), 1e-13);
    }
}

static void test_plant_growth(void **state)
{
    bench *b = *state;
    const pl_json *j = reference_json(b, "r/PlantGrowth");
    pl_linear_fit f = fit_of(b, reference_table(b, "r/PlantGrowth"),
                             (wish){ .response = "weight", .effects = "group" });

    check_line(b, effect_of(&f, "group", PL_SS_IN_ORDER), j, "results/aov/0");
    assert_rel("sd", f.residual.sd, json_number(j, "results/lm/residual_sd"), 1e-13);
    assert_rel("ctrl", mean_of(&f, "group", "ctrl")->estimate,
               json_number(j, "results/group_means/0/mean"), 1e-13);
    assert_rel("se of ctrl", mean_of(&f, "group", "ctrl")->se,
               json_number(j, "results/lm/coefficients/0/standard_error"), 1e-13);
}

/* Invented data; R's aov with boards as Error stratum (linear_cases.R beside the data). Board
 * numbers start afresh in each species. */
static void test_boards_inside_species(void **state)
{
    bench *b = *state;
    const pl_json *j = reference_json(b, "r/linear_boards");
    pl_linear_fit f = fit_of(b, reference_table(b, "r/linear_boards"),
                             (wish){ .response = "strength",
                                     .effects = "species; pressure; species,pressure",
                                     .nested = "board",
                                     .inside = "species" });

    for (int kind = 0; kind < PL_SS_NKINDS; kind++)
        for (int k = 0; k < 3; k++) {
            const char *at = pl_arena_printf(b->a, "terms/%d", k);
            const char *name = json_value(j, pl_arena_printf(b->a, "%s/term", at))->string;
            const pl_effect *e = effect_of(&f, name, kind);

            assert_rel("df", e->df, json_number(j, pl_arena_printf(b->a, "%s/df", at)), 0);
            assert_rel("ss", e->ss, json_number(j, pl_arena_printf(b->a, "%s/ss", at)), 1e-13);
            assert_rel("F", e->f, json_number(j, pl_arena_printf(b->a, "%s/f", at)), 1e-12);
            assert_rel("p", e->p, json_number(j, pl_arena_printf(b->a, "%s/p", at)), 1e-10);
            assert_rel("error df", e->error_df,
                       json_number(j, pl_arena_printf(b->a, "%s/error_df", at)), 0);
            assert_rel("error ms", e->error_ms,
                       json_number(j, pl_arena_printf(b->a, "%s/error_ms", at)), 1e-12);
            assert_string_equal(e->error, k ? "residual" : "board");
        }
    assert_rel("board ss", effect_of(&f, "board", PL_SS_IN_ORDER)->ss, json_number(j, "board/ss"),
               1e-13);
    assert_rel("beech", mean_of(&f, "species", "beech")->estimate, json_number(j, "species/0/mean"),
               1e-13);
    assert_rel("se between boards", mean_of(&f, "species", "larch")->se,
               json_number(j, "species/1/se"), 1e-12);
    assert_rel("df between boards", mean_of(&f, "species", "larch")->df, 6, 0);
    assert_rel("pressure 1.1", mean_of(&f, "pressure", "1.1")->estimate,
               json_number(j, "pressure/2/mean"), 1e-13);
    assert_rel("se within boards", mean_of(&f, "pressure", "1.1")->se,
               json_number(j, "pressure/2/se"), 1e-12);
    assert_int_equal(b->d.count, 0);
}

/* Invented data, unbalanced throughout, two crossed block factors; R's lm with drop1, and means
 * over the grid (linear_cases.R). */
static void test_unbalanced(void **state)
{
    bench *b = *state;
    const pl_json *j = reference_json(b, "r/linear_uneven");
    pl_linear_fit f = fit_of(b, reference_table(b, "r/linear_uneven"),
                             (wish){ .response = "strength",
                                     .effects = "wood; glue; wood,glue",
                                     .covariates = "thickness",
                                     .blocks = "session,press" });
    const char *const factors[2] = { "wood", "glue" };
    const char *const levels[2][3] = { { "ash", "beech", "larch" }, { "hide", "white", NULL } };

    for (int k = 0; k < 6; k++) {
        const char *at = pl_arena_printf(b->a, "terms/%d", k);
        const char *name = json_value(j, pl_arena_printf(b->a, "%s/term", at))->string;
        const pl_effect *first = effect_of(&f, name, PL_SS_IN_ORDER);
        const pl_effect *last = effect_of(&f, name, PL_SS_AFTER_ALL_OTHERS);

        assert_rel("df", first->df, json_number(j, pl_arena_printf(b->a, "%s/df", at)), 0);
        assert_rel("in order", first->ss, json_number(j, pl_arena_printf(b->a, "%s/in_order", at)),
                   1e-12);
        assert_rel("after", last->ss, json_number(j, pl_arena_printf(b->a, "%s/after", at)), 1e-12);
        assert_rel("F", last->f, json_number(j, pl_arena_printf(b->a, "%s/f", at)), 1e-12);
        assert_rel("p", last->p, json_number(j, pl_arena_printf(b->a, "%s/p", at)), 1e-10);
    }
    for (int k = 0; k < 6; k++) {
        const char *at = pl_arena_printf(b->a, "coefficients/%d", k);
        const pl_coef *c = coef_of(&f, json_value(j, pl_arena_printf(b->a, "%s/name", at))->string);

        assert_rel(c->name, c->estimate, json_number(j, pl_arena_printf(b->a, "%s/estimate", at)),
                   1e-11);
        assert_rel(c->name, c->se, json_number(j, pl_arena_printf(b->a, "%s/se", at)), 1e-12);
    }
    for (int k = 0; k < 2; k++)
        for (int l = 0; l < 3 && levels[k][l]; l++) {
            const char *at = pl_arena_printf(b->a, "%s/%d", factors[k], l);
            const pl_mean *m = mean_of(&f, factors[k], levels[k][l]);

            assert_rel("mean", m->estimate, json_number(j, pl_arena_printf(b->a, "%s/mean", at)),
                       1e-12);
            assert_rel("se", m->se, json_number(j, pl_arena_printf(b->a, "%s/se", at)), 1e-12);
        }
    assert_rel("R squared", f.r_squared, json_number(j, "r_squared"), 1e-13);
    assert_rel("sd", f.residual.sd, json_number(j, "residual/sd"), 1e-13);
}

/* NIST/SEMATECH e-Handbook 1.4.2.10, read in place: batch as block, and labs one way; printed
 * handbook figures (mean 650.07731, sd 74.63826) and R's results beside the data. */
static void test_ceramic(void **state)
{
    bench *b = *state;
    const char *csv = shared_path(b->a, "ceramic/JAHANMI2.csv");
    const pl_json *j = NULL;
    const pl_table *t;
    const char *const names[] = { "batch", "x1_table_speed", "x2_down_feed", "x3_wheel_grit" };
    pl_linear_fit f;
    const char *json;

    if (!csv)
        return;
    json = shared_path(b->a, "ceramic/JAHANMI2.json");
    t = table_at(b, csv);
    assert_ok(b, pl_json_read(b->a, json, &j, &b->d));
    f = fit_of(b, t, (wish){ .response = "strength", .effects = "lab" });
    check_line(b, effect_of(&f, "lab", PL_SS_IN_ORDER), j, "results/lab_one_way/0");
    assert_abs("grand mean", coef_of(&f, "intercept")->estimate, 650.07731, 0.000005);
    assert_abs("sd of all", sqrt(f.total_ss / 479), 74.63826, 0.000005);
    assert_rel("lab 5", mean_of(&f, "lab", "5")->estimate,
               json_number(j, "results/lab_means/4/mean"), 1e-13);
    f = fit_of(b, t,
               (wish){ .response = "strength",
                       .effects = "x1_table_speed; x2_down_feed; x3_wheel_grit; "
                                  "x1_table_speed,x2_down_feed; x1_table_speed,x3_wheel_grit; "
                                  "x2_down_feed,x3_wheel_grit; "
                                  "x1_table_speed,x2_down_feed,x3_wheel_grit",
                       .blocks = "batch" });
    for (int k = 0; k < 4; k++)
        check_line(b, effect_of(&f, names[k], PL_SS_IN_ORDER), j,
                   pl_arena_printf(b->a, "results/batch_as_block/%d", k));
    check_line(b, effect_of(&f, "x1_table_speed, x3_wheel_grit", PL_SS_AFTER_ALL_OTHERS), j,
               "results/batch_as_block/5");
    check_line(b,
               effect_of(&f, "x1_table_speed, x2_down_feed, x3_wheel_grit", PL_SS_AFTER_ALL_OTHERS),
               j, "results/batch_as_block/7");
    f = fit_of(b, t,
               (wish){ .response = "strength",
                       .effects = "x1_table_speed; x2_down_feed; x3_wheel_grit; "
                                  "x1_table_speed,x2_down_feed; x1_table_speed,x3_wheel_grit; "
                                  "x2_down_feed,x3_wheel_grit",
                       .blocks = "lab,batch" });
    check_line(b, effect_of(&f, "lab", PL_SS_IN_ORDER), j,
               "results/lab_and_batch_as_fixed_blocks/0");
    check_line(b, effect_of(&f, "batch", PL_SS_IN_ORDER), j,
               "results/lab_and_batch_as_fixed_blocks/1");
    check_line(b, effect_of(&f, "x1_table_speed", PL_SS_IN_ORDER), j,
               "results/lab_and_batch_as_fixed_blocks/2");
    check_line(b, effect_of(&f, "x2_down_feed, x3_wheel_grit", PL_SS_AFTER_ALL_OTHERS), j,
               "results/lab_and_batch_as_fixed_blocks/7");
    /* labs split {1,4,6,7} and {2,3,5,8}: the threefold interaction lies between them */
    f = fit_of(b, t,
               (wish){ .response = "strength",
                       .effects = "x1_table_speed; x2_down_feed; x3_wheel_grit; "
                                  "x1_table_speed,x2_down_feed; x1_table_speed,x3_wheel_grit; "
                                  "x2_down_feed,x3_wheel_grit; "
                                  "x1_table_speed,x2_down_feed,x3_wheel_grit",
                       .blocks = "lab,batch" });
    assert_string_equal(
        effect_of(&f, "x1_table_speed, x2_down_feed, x3_wheel_grit", PL_SS_AFTER_ALL_OTHERS)->error,
        "lab");
    assert_rel("labs left", effect_of(&f, "lab", PL_SS_IN_ORDER)->df, 6, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_norris_and_longley),
        TEST(test_one_way),
        TEST(test_bond_ingots),
        TEST(test_glue_thickness),
        TEST(test_mortar),
        TEST(test_warpbreaks),
        TEST(test_npk),
        TEST(test_immer),
        TEST(test_plant_growth),
        TEST(test_boards_inside_species),
        TEST(test_unbalanced),
        TEST(test_ceramic),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests_name("fit/linear", tests, NULL, NULL);
}
