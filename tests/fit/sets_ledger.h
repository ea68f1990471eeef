/* Who checks what of the sets of tests/reference/r, curves, censored and (read in place) ceramic:
 * every member of `results` and `high_precision` is named here, with the program whose source
 * speaks of it, or with the reason why nothing of ours gives it. Members that are neither fail. */
#ifndef TESTS_FIT_SETS_LEDGER_H
#define TESTS_FIT_SETS_LEDGER_H

#include "base/file.h"
#include "reference.h"

typedef struct sets_line {
    const char *set, *member, *program, *why;
} sets_line;

#define NOT_RANKS "ranks: readings are compared as they are"
#define NOT_ML "variances are found by restricted likelihood only"
#define NOT_UNEQUAL "one scatter for all levels"
#define NOT_LAW "normal, lognormal and Weibull only"

static const sets_line sets_lines[] = {
    { "r/PlantGrowth", "aov", "test_linear", NULL },
    { "r/PlantGrowth", "lm", "test_linear", NULL },
    { "r/PlantGrowth", "group_means", "test_linear", NULL },
    { "r/PlantGrowth", "tukey", "test_compare", NULL },
    { "r/PlantGrowth", "bartlett", "test_reference_sets", NULL },
    { "r/PlantGrowth", "pairwise_t_p_none", NULL, "p for one pair alone is not told" },
    { "r/PlantGrowth", "pairwise_t_p_bonferroni", NULL, "Holm's is never larger" },
    { "r/PlantGrowth", "pairwise_t_p_holm", NULL, "beside limits, every pair by Tukey alone" },
    { "r/PlantGrowth", "welch_oneway", NULL, NOT_UNEQUAL },
    { "r/PlantGrowth", "kruskal_wallis", NULL, NOT_RANKS },
    { "r/PlantGrowth", "shapiro_wilk_residuals", NULL, "a picture of normal scores instead" },
    { "r/Rail", "aov", "test_reference_sets", NULL },
    { "r/Rail", "lme_REML", "test_mixed", NULL },
    { "r/Rail", "lme_ML", NULL, NOT_ML },
    { "r/Rail", "closed_form_balanced", "test_reference_sets", NULL },
    { "r/immer", "aov_mean_of_years_blocks", "test_linear", NULL },
    { "r/immer", "variety_means", "test_linear", NULL },
    { "r/immer", "tukey_Var", "test_reference_sets", NULL },
    { "r/immer", "aov_long_Loc_by_Year_plus_Var", "test_reference_sets", NULL },
    { "r/immer", "lme_mean_of_years_random_Loc_REML", "test_reference_sets", NULL },
    { "r/immer", "friedman", NULL, NOT_RANKS },
    { "r/michelson", "aov_runs_as_blocks", "test_linear_worked", NULL },
    { "r/michelson", "aov_one_way", "test_linear_worked", NULL },
    { "r/michelson", "experiment_means", "test_reference_sets", NULL },
    { "r/michelson", "tukey_one_way", "test_compare", NULL },
    { "r/michelson", "bartlett_over_experiments", "test_reference_sets", NULL },
    { "r/michelson", "kruskal_wallis", NULL, NOT_RANKS },
    { "r/npk", "aov_block_fixed", "test_linear", NULL },
    { "r/npk", "aov_error_strata", "test_linear", NULL },
    { "r/npk", "effects_high_minus_low", "test_linear", NULL },
    { "r/npk", "lm_two_factor_interactions", NULL, "aov_block_fixed in R's coding" },
    { "r/npk", "aliased_with_blocks", NULL, "a name: test_linear holds it to the block's error" },
    { "r/npk", "lme_random_block_REML", "test_mixed", NULL },
    { "r/warpbreaks", "aov_interaction", "test_linear", NULL },
    { "r/warpbreaks", "lm_interaction", "test_linear", NULL },
    { "r/warpbreaks", "aov_additive", "test_linear", NULL },
    { "r/warpbreaks", "tukey_additive", "test_compare", NULL },
    { "r/warpbreaks", "tukey_interaction_cells", "test_reference_sets", NULL },
    { "r/warpbreaks", "aov_log_response", "test_reference_sets", NULL },
    { "r/warpbreaks", "cell_means", "test_linear_worked", NULL },
    { "r/warpbreaks", "bartlett_over_cells", "test_reference_sets", NULL },
    { "r/DNase", "logistic_run_1", "test_reference_sets", NULL },
    { "r/DNase", "logistic_all_runs_pooled", "test_reference_sets", NULL },
    { "r/DNase", "four_parameter_logistic_all_runs_pooled", "test_reference_sets", NULL },
    { "curves/Puromycin", "michaelis_menten_treated", "test_curve_reference", NULL },
    { "curves/Puromycin", "michaelis_menten_untreated", "test_reference_sets", NULL },
    { "curves/Puromycin", "exponential_rise_treated", "test_curve_reference", NULL },
    { "curves/Puromycin", "common_K", "test_reference_sets", NULL },
    { "curves/Puromycin", "separate_K", "test_reference_sets", NULL },
    { "curves/Puromycin", "F_test_common_versus_separate_K", "test_reference_sets", NULL },
    { "censored/nist_weibull20", "weibull", "test_censored", NULL },
    { "censored/nist_weibull20", "weibull_quantiles", NULL, "in weibull, with more digits" },
    { "censored/nist_weibull20", "lognormal", "test_censored", NULL },
    { "censored/nist_weibull20", "exponential", NULL, NOT_LAW },
    { "censored/motors", "weibull_arrhenius", "test_censored", NULL },
    { "censored/motors", "lognormal_arrhenius", "test_censored", NULL },
    { "censored/motors", "weibull_temp", "test_reference_sets", NULL },
    { "censored/motors", "lognormal_arrhenius_without_150", "test_reference_sets", NULL },
    { "ceramic/JAHANMI2", "summary_all", "test_reference_sets", NULL },
    { "ceramic/JAHANMI2", "batch_t_test_pooled", "test_reference_sets", NULL },
    { "ceramic/JAHANMI2", "batch_t_test_welch", NULL, NOT_UNEQUAL },
    { "ceramic/JAHANMI2", "batch_F_test_of_variances", NULL, "Bartlett's for two levels" },
    { "ceramic/JAHANMI2", "lab_one_way", "test_linear", NULL },
    { "ceramic/JAHANMI2", "lab_means", "test_linear", NULL },
    { "ceramic/JAHANMI2", "treatment_means", "test_reference_sets", NULL },
    { "ceramic/JAHANMI2", "by_batch", NULL, "batch_by_factors in two halves" },
    { "ceramic/JAHANMI2", "batch_as_block", "test_linear", NULL },
    { "ceramic/JAHANMI2", "batch_by_factors", NULL,
      "the model of batch_as_block with joint effects "
      "of the block, which is no factor here" },
    { "ceramic/JAHANMI2", "lab_and_batch_as_fixed_blocks", "test_linear", NULL },
    { "ceramic/JAHANMI2", "aliased_when_lab_is_a_fixed_block", NULL, "a name: test_linear" },
    { "ceramic/JAHANMI2", "within_lab_treatment_pairs", NULL, "facts of the layout" },
    { "ceramic/JAHANMI2", "lme_random_lab_REML", "test_reference_sets", NULL },
};
#define NSETS_LINES (sizeof sets_lines / sizeof *sets_lines)

/* The program's source speaks of the set and of the member. */
static inline bool sets_spoken_of(bench *b, const sets_line *l)
{
    const char *path = top_path(b->a, pl_arena_printf(b->a, "tests/fit/%s.c", l->program));
    const char *name = strchr(l->set, '/') + 1;
    char *text = NULL;
    size_t n = 0;

    if (pl_file_read(b->a, path, &text, &n, &b->d))
        return false;
    return memmem(text, n, name, strlen(name)) && memmem(text, n, l->member, strlen(l->member));
}

static inline size_t sets_members(const char *set, const pl_json *object)
{
    size_t open = 0;

    for (const pl_json *v = object ? object->child : NULL; v; v = v->next) {
        size_t i = 0;

        while (i < NSETS_LINES &&
               (strcmp(sets_lines[i].set, set) != 0 || strcmp(sets_lines[i].member, v->key) != 0))
            i++;
        if (i == NSETS_LINES && strcmp(v->key, "how") != 0) {
            print_error("  nothing answers for %s, %s\n", set, v->key);
            open++;
        }
    }
    return open;
}

static inline void sets_settle(bench *b)
{
    const char *last = "";
    size_t open = 0;

    for (size_t i = 0; i < NSETS_LINES; i++) {
        const sets_line *l = &sets_lines[i];
        const pl_json *j = NULL;
        bool beside = !strncmp(l->set, "ceramic/", 8);
        const char *json = pl_arena_printf(b->a, "%s.json", l->set);

        if (!l->program == !l->why)
            fail_msg("%s, %s: a program or a reason", l->set, l->member);
        if (l->program && !sets_spoken_of(b, l)) {
            print_error("  %s does not speak of %s, %s\n", l->program, l->set, l->member);
            open++;
        }
        if (!strcmp(l->set, last))
            continue;
        last = l->set;
        json = beside ? shared_path(b->a, json)
                      : top_path(b->a, pl_arena_printf(b->a, "tests/reference/%s", json));
        if (!json)
            continue;
        assert_ok(b, pl_json_read(b->a, json, &j, &b->d));
        open += sets_members(l->set, pl_json_get(j, "results"));
        open += sets_members(l->set, pl_json_get(j, "high_precision"));
    }
    if (open)
        fail_msg("%zu results that no test answers for", open);
}

#endif
