/* The aims as-good-as and low-tail, and widths in each: whole questions against records,
 * formulas by hand, refusals, words. */
#include "asked.h"

#include <gsl/gsl_errno.h>

#include "base/prob.h"
#include "base/tolerance.h"
#include "reference/worked/worked.h"
#include "size/equivalence.h"
#include "size/low_tail.h"
#include "size/precision.h"
#include "size/size.h"

static pl_size_question asked(pl_aim aim, unsigned levels, double sd)
{
    pl_size_question q;

    pl_size_question_init(&q);
    q.aim = aim;
    q.levels = levels;
    q.sd = sd;
    return q;
}

/* Records ni-parallel and tost-parallel: numbers and chances of whole questions. */
static void test_margins(void **state)
{
    bench *b = *state;
    const pl_json *list = worked_list(b, "power.json");
    size_t n = 0;

    for (const pl_json *r = list->child; r; r = r->next) {
        bool one = worked_in(r, "ni-parallel");
        pl_size_question q = asked(PL_AIM_AS_GOOD_AS, 2, 0.1);
        const pl_size_answer *w;

        if (!one && !worked_in(r, "tost-parallel"))
            continue;
        q.margin = one ? 0.1 * worked_in_value(r, "margin_over_sigma")
                       : worked_in_value(r, "margin");
        q.really = one ? 0 : worked_in_value(r, "true_difference");
        q.both_sides = !one;
        q.false_alarm = worked_in_value(r, one ? "alpha_one_sided" : "alpha");
        q.miss_at_most = 1 - worked_in_value(r, "power");
        w = answer(b, &q);
        assert_int_equal(w->need->glue_ups_per_level, (unsigned)worked_expected(r, "n_per_group"));
        assert_abs(worked_id(r), w->need->chance[PL_SIZE_PAIR][PL_SIZE_AS_GIVEN],
                   worked_expected(r, "power_at_n"), 1e-10);
        n++;
    }
    assert_int_equal(n, 5);
}

/* As a share the margin moves with the named mean: contrast mean_i - 0.9 mean_named, by hand
 * (1 - 0.9)/(0.12 sqrt((1 + 0.81)/24)) on 46 df; the margin found is missed as often as asked. */
static void test_shares(void **state)
{
    bench *b = *state;
    pl_size_question q = asked(PL_AIM_AS_GOOD_AS, 2, 0.12);
    const pl_size_answer *w;
    pl_tails t;

    q.relative = true;
    q.margin = 0.1;
    w = answer(b, &q);
    assert_int_equal(w->need->glue_ups_per_level, 24);
    assert_int_equal(pl_nct(-pl_t_quantile(0.05, 46), 46, 0.1 / (0.12 * sqrt(1.81 / 24)), &t),
                     PL_OK);
    assert_abs("24", w->need->chance[PL_SIZE_PAIR][PL_SIZE_AS_GIVEN], t.upper.value, 1e-12);
    q.margin = w->limits.least[PL_SIZE_PAIR];
    assert_true(q.margin < 0.1);
    q.glue_ups_per_level = 24;
    assert_abs("least", answer(b, &q)->limits.miss[PL_SIZE_PAIR], 0.1, 1e-9);
    /* a pilot of few asks for more; a level that is truly worse too */
    q.margin = 0.1;
    q.from = PL_SCATTER_PILOT;
    q.sd_df = 7;
    w = answer(b, &q);
    assert_true(w->advised->glue_ups_per_level > 24);
    assert_true(w->need_at[PL_SIZE_PAIR][PL_SIZE_ASSURED] > 24);
    q.really = 0.97;
    assert_true(answer(b, &q)->need->glue_ups_per_level > 40);
}

/* D2915 and every table: the weakest of 59, of 28 at 75 %; with a shortfall the chance is
 * noncentral t's. */
static void test_low_tail(void **state)
{
    bench *b = *state;
    pl_size_question q = asked(PL_AIM_LOW_TAIL, 1, 0.12);
    const pl_size_answer *w;
    double k;

    q.relative = true;
    q.cap = PL_SIZE_TAIL_CAP;
    assert_int_equal(answer(b, &q)->need->glue_ups_per_level, 59);
    q.confidence = 0.75;
    assert_int_equal(answer(b, &q)->need->glue_ups_per_level, 28);
    q.worth_noticing = 0.05;
    w = answer(b, &q);
    k = pl_tolerance_lower(59, 58, 0.95, 0.75);
    assert_int_equal(w->need->glue_ups_per_level, 59);
    assert_rel("k", w->need->factor, k, 1e-12);
    assert_abs("chance", w->need->chance[PL_SIZE_PAIR][PL_SIZE_AS_GIVEN],
               pl_tolerance_above(59, 58, k, 1.6448536269514722 + 0.05 / 0.12), 1e-12);
    q.worth_noticing = w->limits.least[PL_SIZE_PAIR];
    q.glue_ups_per_level = 59;
    assert_abs("least", answer(b, &q)->limits.miss[PL_SIZE_PAIR], 0.1, 1e-9);
}

/* Simulated with its error: at the number found the chance is what was asked, within the error
 * and the step of one; less scatter takes fewer; without a share there is none. */
static void test_weibull(void **state)
{
    bench *b = *state;
    pl_size_question q = asked(PL_AIM_LOW_TAIL, 1, 0.12);
    pl_low_tail_weibull_answer w, less;

    q.relative = true;
    q.confidence = 0.75;
    q.worth_noticing = 0.08;
    assert_ok(b, pl_low_tail_weibull(b->a, &q, &w, &b->d));
    assert_true(w.need > 10 && w.need < 200);
    assert_abs("chance", w.chance, 0.9, 0.01 + 4 * w.mc_se);
    assert_abs("error", w.mc_se, sqrt(0.9 * 0.1 / 10000), 5e-4);
    q.sd = 0.08;
    assert_ok(b, pl_low_tail_weibull(b->a, &q, &less, &b->d));
    assert_true(less.need < w.need && less.shape > w.shape);
    q.relative = false;
    assert_ok(b, pl_low_tail_weibull(b->a, &q, &w, &b->d));
    assert_true(isnan(w.chance));
}

/* Widths: alone, they decide; beside a difference both must come out. Mean of the width by
 * hand: 2 t sqrt(2/n) c4 sigma. */
static void test_widths(void **state)
{
    bench *b = *state;
    pl_size_question q = asked(PL_AIM_DIFFERENCE, 4, 0.12);
    const pl_size_answer *w;
    unsigned alone;
    double h;

    q.relative = true;
    q.width_at_most = 0.15;
    w = answer(b, &q);
    alone = w->need->glue_ups_per_level;
    h = pl_t_quantile(0.975, 4 * (alone - 1.0)) * sqrt(2.0 / alone);
    assert_abs("mean", w->need->width, 2 * h * pl_mean_s(4 * (alone - 1.0)) * 0.12, 1e-12);
    assert_abs("chance", w->need->width_chance[PL_SIZE_AS_GIVEN],
               pl_chisq_lower(4 * (alone - 1.0) * pow(0.075 / (h * 0.12), 2), 4 * (alone - 1.0)),
               1e-12);
    assert_true(w->need->width_chance[PL_SIZE_AS_GIVEN] >= 0.9);
    q.worth_noticing = 0.5;
    assert_int_equal(answer(b, &q)->need->glue_ups_per_level, alone);
    q.worth_noticing = 0.05;
    assert_true(answer(b, &q)->need->glue_ups_per_level > alone);
    q = asked(PL_AIM_AS_GOOD_AS, 2, 0.12);
    q.margin = 0.3;
    q.width_at_most = 0.1;
    assert_true(answer(b, &q)->need->width < 0.1);
    q = asked(PL_AIM_LOW_TAIL, 1, 0.12);
    q.width_at_most = 0.05;
    assert_true(answer(b, &q)->need->width < 0.05);
}

static void test_refusals(void **state)
{
    bench *b = *state;
    pl_size_question q = asked(PL_AIM_AS_GOOD_AS, 1, 0.1);
    const pl_size_answer *w;

    q.relative = true;
    q.margin = 1.2;
    q.false_alarm = 0.5;
    q.miss_at_most = 0.4;
    assert_code(b, PL_EDOM, pl_size_find(b->a, &q, &w, &b->d));
    assert_finding(b, "a named level and one or more others");
    assert_finding(b, "as large as the named level's mean");
    assert_finding(b, "1 in 2 or more");
    q = asked(PL_AIM_AS_GOOD_AS, 2, 0.1);
    q.margin = 0.1;
    q.really = -0.1;
    assert_code(b, PL_EDOM, pl_size_find(b->a, &q, &w, &b->d));
    assert_finding(b, "truly lies outside the margin");
    q = asked(PL_AIM_LOW_TAIL, 1, 0.1);
    q.percentile = 0.6;
    q.confidence = 0.3;
    q.worth_noticing = -1;
    q.width_at_most = 0;
    assert_code(b, PL_EDOM, pl_size_find(b->a, &q, &w, &b->d));
    assert_finding(b, "a percentile outside");
    assert_finding(b, "a confidence outside");
    assert_finding(b, "a shortfall that is no number");
    assert_finding(b, "a width that is no number");
}

static void test_no_memory(void **state)
{
    bench *b = *state;
    pl_size_question q = asked(PL_AIM_LOW_TAIL, 1, 0.12);
    pl_low_tail_weibull_answer w;
    const pl_size_answer *found;

    q.relative = true;
    q.worth_noticing = 0.2;
    for (unsigned long n = 1; n <= 2; n++) {
        pl_arena_fail_at(n);
        assert_int_equal(pl_low_tail_weibull(b->a, &q, &w, &b->d), PL_ENOMEM);
    }
    for (unsigned long n = 1; n <= 4; n++) {
        pl_arena_fail_at(n);
        assert_int_equal(pl_size_find(b->a, &q, &found, &b->d), PL_ENOMEM);
    }
    pl_arena_fail_at(0);
}

static void test_words(void **state)
{
    bench *b = *state;
    pl_size_question q = asked(PL_AIM_AS_GOOD_AS, 4, 0.12);
    const char *words;

    q.relative = true;
    q.margin = 0.1;
    q.both_sides = true;
    words = pl_size_words(b->a, &q, answer(b, &q));
    assert_non_null(strstr(words,
                           "is to be shown, 9 times in 10, to hold at least 90 % and at most "
                           "110 % of it"));
    assert_non_null(strstr(words, "The smallest margin for which"));
    assert_non_null(strstr(words, "one after the other"));
    q.both_sides = false;
    q.really = 0.98;
    assert_non_null(strstr(pl_size_words(b->a, &q, answer(b, &q)), "truly holds 98 %"));
    q.margin = 0.001;
    q.really = 1;
    assert_non_null(strstr(pl_size_words(b->a, &q, answer(b, &q)), "allow a larger margin"));
    q.glue_ups_per_level = 1;
    q.margin = 0.1;
    assert_non_null(strstr(pl_size_words(b->a, &q, answer(b, &q)), "nothing can be shown"));
    q = asked(PL_AIM_LOW_TAIL, 1, 0.12);
    words = pl_size_words(b->a, &q, answer(b, &q));
    assert_non_null(strstr(words, "95 % of the joints of a kind pass"));
    assert_non_null(strstr(words, "the weakest of 59 joints"));
}

/* A study asks as the flags do. */
static const pl_study *study(bench *b, const char *question)
{
    const char *text = pl_arena_printf(
        b->a,
        "{\"study\": \"s\", \"question\": {%s},"
        " \"factors\": [{\"name\": \"surface\", \"levels\": [\"planed\", \"sanded\", \"sawn\"]}],"
        " \"joint\": {\"kind\": \"lap\", \"width\": \"40 mm\", \"overlap\": \"30 mm\"},"
        " \"breaking\": {\"expected_strength\": \"10 N/mm2\"},"
        " \"scatter\": {\"cv\": \"12 %%\", \"glue_ups\": 8}}",
        question);
    const pl_study *s = NULL;

    assert_ok(b, pl_study_parse(b->a, "s.json", text, strlen(text), &s, &b->d));
    return s;
}

static void test_from_study(void **state)
{
    bench *b = *state;
    pl_size_question q;

    assert_ok(
        b, pl_size_from_study(b->a,
                              study(b, "\"aim\": \"as-good-as\", \"compare_with\": \"planed\", "
                                       "\"as_good_as\": \"90 %\", \"width_at_most\": \"2 N/mm2\""),
                              &q, &b->d));
    assert_int_equal(q.aim, PL_AIM_AS_GOOD_AS);
    assert_int_equal(q.levels, 3);
    assert_true(q.relative && q.sd == 0.12 && q.sd_df == 7);
    assert_rel("margin", q.margin, 0.1, 1e-12);
    assert_rel("width", q.width_at_most, 0.2, 1e-12);
    assert_ok(b,
              pl_size_from_study(b->a,
                                 study(b, "\"aim\": \"as-good-as\", \"compare_with\": \"sawn\", "
                                          "\"as_good_as\": \"0.8 N/mm2\", \"as_good\": \"neither "
                                          "worse nor better\""),
                                 &q, &b->d));
    assert_true(!q.relative && q.both_sides);
    assert_rel("margin", q.margin, 0.8e6, 1e-12);
    assert_rel("sd", q.sd, 1.2e6, 1e-12);
    assert_ok(b, pl_size_from_study(b->a,
                                    study(b, "\"aim\": \"low-tail\", \"confidence\": \"75 %\", "
                                             "\"worth_noticing\": \"5 %\""),
                                    &q, &b->d));
    assert_int_equal(q.aim, PL_AIM_LOW_TAIL);
    assert_true(q.levels == 3 && q.percentile == 0.05 && q.confidence == 0.75);
    assert_int_equal(answer(b, &q)->need->glue_ups_per_level, 59);
    assert_ok(b, pl_size_from_study(b->a,
                                    study(b, "\"aim\": \"difference\", \"width_at_most\": "
                                             "\"15 %\""),
                                    &q, &b->d));
    assert_true(isnan(q.worth_noticing) && q.width_at_most == 0.15);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_margins),   TEST(test_shares), TEST(test_low_tail),
        TEST(test_weibull),   TEST(test_widths), TEST(test_refusals),
        TEST(test_no_memory), TEST(test_words),  TEST(test_from_study),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
