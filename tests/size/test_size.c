/* Numbers per level: whole questions against tables, properties, words, studies. */
#include "asked.h"

#include <gsl/gsl_errno.h>
#include <limits.h>

#include "reference/worked/worked.h"
#include "size/costs.h"
#include "size/power.h"
#include "size/size.h"

static const pl_size_row *row(const pl_size_answer *w, unsigned n)
{
    for (size_t i = 0; i < w->nrow; i++)
        if (w->table[i].glue_ups_per_level == n)
            return &w->table[i];
    fail_msg("no row for %u", n);
    return NULL;
}

/* Least favourable case of a range: layout of Kutner et al. table B.12, Bratcher,
 * Moran & Zimmer 1970 (records anova-range-grid). Scaled by an odd sd, so that
 * distance and scatter must meet. */
static void test_range_grid(void **state)
{
    bench *b = *state;
    const pl_json *list = worked_list(b, "power.json");
    size_t n = 0;

    for (const pl_json *r = list->child; r; r = r->next) {
        const double sd = 0.137;
        pl_size_question q;
        const pl_size_answer *w;

        if (!worked_in(r, "anova-range-grid"))
            continue;
        q = plain((unsigned)worked_in_value(r, "groups"),
                  sd * worked_in_value(r, "range_over_sigma"), sd);
        q.false_alarm = worked_in_value(r, "alpha");
        q.miss_at_most = 1 - worked_in_value(r, "power");
        w = answer(b, &q);
        assert_int_equal(w->need_at[PL_SIZE_OVERALL][PL_SIZE_AS_GIVEN],
                         (unsigned)worked_expected(r, "n"));
        assert_abs(worked_id(r), w->need->chance[PL_SIZE_OVERALL][PL_SIZE_AS_GIVEN],
                   worked_expected(r, "power_at_n"), 1e-10);
        n++;
    }
    assert_int_equal(n, 74);
}

/* Two groups: overall test and named levels are one and the same t test. */
static void test_two_groups(void **state)
{
    bench *b = *state;
    const pl_json *list = worked_list(b, "power.json");
    size_t n = 0;

    for (const pl_json *r = list->child; r; r = r->next) {
        pl_size_question q;
        const pl_size_answer *w;

        if ((!worked_in(r, "t2-cohen") && !worked_in(r, "t2-julious") &&
             !worked_in(r, "t2-davies")) ||
            worked_in_value(r, "sides") < 1.5)
            continue;
        q = plain(2, worked_in_value(r, "d"), 1);
        q.false_alarm = worked_in_value(r, "alpha");
        q.miss_at_most = 1 - worked_in_value(r, "power");
        q.cap = 10000;
        w = answer(b, &q);
        for (int t = 0; t < PL_NSIZE_TESTS; t++)
            assert_int_equal(w->need_at[t][PL_SIZE_AS_GIVEN],
                             (unsigned)worked_expected(r, "n_per_group"));
        n++;
    }
    assert_true(n > 30);
}

/* WORKED.md 4.6: CV 12 %, a difference of 10 %, 5 % two-sided, 80 %: 23 by the normal
 * approximation, 24 by t. */
static void test_anchor(void **state)
{
    bench *b = *state;
    pl_size_question q = plain(2, 0.10, 0.12);

    q.miss_at_most = 0.2;
    assert_int_equal(answer(b, &q)->need->glue_ups_per_level, 24);
    /* standard error of a mean of m specimens in each of g glue-ups: 0.4817 for g = 4,
     * m = 5 and 0.3688 for g = 10, m = 2, parts 0.8 and 1.2 */
    q.between_glue_ups = 0.8;
    q.within = 1.2;
    q.specimens_per_glue_up = 5;
    assert_abs("g 4, m 5", pl_size_sd(&q) / sqrt(4), 0.4817, 5e-5);
    q.specimens_per_glue_up = 2;
    assert_abs("g 10, m 2", pl_size_sd(&q) / sqrt(10), 0.3688, 5e-5);
}

/* Blocks: records rcbd and bibd. The distance is chosen so that n D^2/(2 sigma^2) is
 * the record's b k f^2. */
static void test_blocks(void **state)
{
    bench *b = *state;
    const pl_json *list = worked_list(b, "power.json");
    size_t n = 0;

    for (const pl_json *r = list->child; r; r = r->next) {
        bool complete = worked_in(r, "rcbd");
        double k, f = worked_in_value(r, "f");
        pl_size_question q;
        unsigned reps;

        if (!complete && !worked_in(r, "bibd"))
            continue;
        k = worked_in_value(r, complete ? "treatments" : "v");
        reps = (unsigned)worked_in_value(r, complete ? "blocks" : "r");
        q = plain((unsigned)k, f * sqrt(2 * k), 1);
        q.false_alarm = worked_in_value(r, "alpha");
        q.block_size = complete ? q.levels : (unsigned)worked_in_value(r, "k");
        q.glue_ups_per_level = reps;
        if (!complete) {
            assert_rel("E", pl_size_efficiency(&q), worked_expected(r, "E"), 1e-12);
            assert_true(pl_size_error_df(&q, reps) == worked_expected(r, "df2"));
        }
        assert_abs(worked_id(r),
                   row(answer(b, &q), reps)->chance[PL_SIZE_OVERALL][PL_SIZE_AS_GIVEN],
                   worked_expected(r, "power"), 1e-10);
        n++;
    }
    assert_int_equal(n, 10);
}

/* Browne 1995: n for the upper limit of a pilot's sd (records assurance). */
static void test_pilot_upper_limit(void **state)
{
    bench *b = *state;
    const pl_json *list = worked_list(b, "power.json");
    size_t n = 0;

    for (const pl_json *r = list->child; r; r = r->next) {
        pl_size_question q;
        const pl_size_answer *w;

        if (!worked_in(r, "assurance"))
            continue;
        q = plain(2, worked_in_value(r, "delta"), worked_in_value(r, "pilot_sd"));
        q.from = PL_SCATTER_PILOT;
        q.sd_df = worked_in_value(r, "pilot_n") - 1;
        q.upper_confidence = worked_in_value(r, "confidence");
        q.false_alarm = worked_in_value(r, "alpha");
        q.miss_at_most = 1 - worked_in_value(r, "power");
        w = answer(b, &q);
        assert_rel(worked_id(r), w->sd_upper, worked_expected(r, "sigma_ucl"), 1e-10);
        assert_int_equal(w->need_at[PL_SIZE_OVERALL][PL_SIZE_AT_UPPER],
                         (unsigned)worked_expected(r, "n_per_group"));
        assert_abs(worked_id(r), w->advised->chance[PL_SIZE_OVERALL][PL_SIZE_AT_UPPER],
                   worked_expected(r, "power_at_n"), 1e-10);
        n++;
    }
    assert_int_equal(n, 3);
}

/* More glue-ups, larger differences, smaller scatter: noticed more often; a pilot of
 * few asks for more than one of many; rows carry the counts. */
static void test_properties(void **state)
{
    bench *b = *state;
    pl_size_question q = plain(6, 0.15, 0.12);
    const pl_size_answer *w = answer(b, &q);
    unsigned before = UINT_MAX;

    for (size_t i = 0; i < w->nrow; i++) {
        const pl_size_row *r = &w->table[i];

        assert_int_equal(r->glue_ups, 6 * r->glue_ups_per_level);
        assert_true(r->mc_se == 0);
        assert_true(isnan(r->chance[PL_SIZE_OVERALL][PL_SIZE_ASSURED]));
        for (int t = 0; i && t < PL_NSIZE_TESTS; t++)
            assert_true(r->chance[t][PL_SIZE_AS_GIVEN] > r[-1].chance[t][PL_SIZE_AS_GIVEN]);
        assert_true(r->chance[PL_SIZE_PAIR][PL_SIZE_AS_GIVEN] >
                    r->chance[PL_SIZE_OVERALL][PL_SIZE_AS_GIVEN]);
    }
    for (double d = 0.1; d < 0.5; d *= 1.3) {
        q.worth_noticing = d;
        w = answer(b, &q);
        assert_true(w->need->glue_ups_per_level < before);
        before = w->need->glue_ups_per_level;
    }
    q.worth_noticing = 0.15;
    q.from = PL_SCATTER_PILOT;
    before = UINT_MAX;
    for (q.sd_df = 5; q.sd_df < 1e5; q.sd_df *= 3) {
        w = answer(b, &q);
        assert_true(w->need_at[PL_SIZE_OVERALL][PL_SIZE_ASSURED] <= before);
        assert_true(w->need_at[PL_SIZE_OVERALL][PL_SIZE_ASSURED] >= w->need->glue_ups_per_level);
        before = w->need_at[PL_SIZE_OVERALL][PL_SIZE_ASSURED];
    }
    assert_int_equal(before, w->need->glue_ups_per_level);
}

/* The chance in a table row is that of the numbers it states, here by hand: 3 levels
 * in 2 groups, 4 each: lambda = 4 (0.2/0.1)^2/2 = 8 on 2 and 2*3*(4-1) = 18 df. */
static void test_row_by_hand(void **state)
{
    bench *b = *state;
    pl_size_question q = plain(3, 0.2, 0.1);
    const pl_size_row *r;
    pl_real p;

    q.groups = 2;
    q.specimens_per_glue_up = 5;
    q.glue_ups_per_level = 4;
    r = row(answer(b, &q), 4);
    assert_int_equal(r->glue_ups, 24);
    assert_int_equal(r->specimens, 120);
    assert_true(r->error_df == 18);
    assert_ok(b, pl_power_ftest(2, 18, 8, 0.05, &p, &b->d));
    assert_rel("overall", r->chance[PL_SIZE_OVERALL][PL_SIZE_AS_GIVEN], p.value, 1e-13);
    assert_ok(b, pl_power_ttest(18, sqrt(8), 0.05, 2, &p, &b->d));
    assert_rel("pair", r->chance[PL_SIZE_PAIR][PL_SIZE_AS_GIVEN], p.value, 1e-13);
}

/* The smallest difference shown is noticed exactly as often as asked. */
static void test_limits(void **state)
{
    bench *b = *state;
    pl_size_question q = plain(8, 0.15, 0.10);
    const pl_size_answer *w;
    pl_size_limits l;

    q.glue_ups_per_level = 3;
    l = answer(b, &q)->limits;
    assert_int_equal(l.glue_ups_per_level, 3);
    for (int t = 0; t < PL_NSIZE_TESTS; t++) {
        q.worth_noticing = l.least[t];
        w = answer(b, &q);
        assert_abs("noticed", row(w, 3)->chance[t][PL_SIZE_AS_GIVEN], 0.9, 1e-9);
    }
}

static void test_out_of_reach(void **state)
{
    bench *b = *state;
    pl_size_question q = plain(6, 0.01, 0.15);
    const pl_size_answer *w;
    const char *words;

    q.from = PL_SCATTER_PILOT;
    q.sd_df = 3;
    w = answer(b, &q);
    assert_null(w->need);
    assert_null(w->advised);
    assert_int_equal(w->need_at[PL_SIZE_OVERALL][PL_SIZE_ASSURED], 0);
    assert_int_equal(w->limits.glue_ups_per_level, PL_SIZE_CAP);
    assert_int_equal(w->table[w->nrow - 1].glue_ups_per_level, PL_SIZE_CAP);
    words = pl_size_words(b->a, &q, w);
    assert_non_null(strstr(words, "Not even 200 glue-ups per level would do"));
    assert_non_null(strstr(words, "takes more than 200 per level"));
}

static void test_refusals(void **state)
{
    bench *b = *state;
    pl_size_question q = plain(1, -1, 0);
    const pl_size_answer *w;

    q.miss_at_most = 1.5;
    assert_code(b, PL_EDOM, pl_size_find(b->a, &q, &w, &b->d));
    assert_finding(b, "2 or more levels");
    assert_finding(b, "a difference above 0");
    assert_finding(b, "how much equal glue-ups differ");
    assert_finding(b, "a chance, such as 1 in 10");
    q = plain(3, 0.1, 0.1);
    q.from = PL_SCATTER_PILOT;
    q.sd_df = 0;
    assert_code(b, PL_EDOM, pl_size_find(b->a, &q, &w, &b->d));
    assert_finding(b, "fewer than 2 glue-ups");
    q = plain(3, 0.1, 0.1);
    q.block_size = 1;
    assert_code(b, PL_EUNFIT, pl_size_find(b->a, &q, &w, &b->d));
    assert_finding(b, "blocks of one glue-up each");
    q.block_size = 0;
    q.miss_at_most = 0.96;
    assert_code(b, PL_EDOM, pl_size_find(b->a, &q, &w, &b->d));
    assert_finding(b, "no joint is needed");
}

static void test_no_memory(void **state)
{
    bench *b = *state;
    pl_size_question q = plain(3, 0.1, 0.1);
    const pl_size_answer *w = answer(b, &q);

    for (unsigned long n = 1; n <= 2; n++) {
        pl_arena_fail_at(n);
        assert_int_equal(pl_size_find(b->a, &q, &w, &b->d), PL_ENOMEM);
    }
    w = answer(b, &q);
    for (unsigned long n = 1; n <= 6; n++) {
        pl_arena_fail_at(n);
        assert_null(pl_size_words(b->a, &q, w));
    }
    pl_arena_fail_at(0);
}

/* ---------------------------------------------------------------- words --- */

/* Words that belong under Details. */
static void only_shop_words(const char *text)
{
    static const char *const not_here[] = { "power",      "variance",  "alpha",      "sigma",
                                            "hypothesis", "p-value",   "degrees",    "deviation",
                                            "confidence", "assurance", "noncentral", "null",
                                            "significan", "statistic", "nan",        "inf" };

    for (size_t i = 0; i < sizeof not_here / sizeof *not_here; i++)
        if (strstr(text, not_here[i]))
            fail_msg("\"%s\" in: %s", not_here[i], text);
}

/* STUDY section 5 gives the sentence: 3 per level, 15 %, scatter 10 %, 6 times in 10;
 * 16 error df as with eight levels. */
static void test_words(void **state)
{
    bench *b = *state;
    pl_size_question q = plain(8, 0.15, 0.10);
    const char *words;

    q.glue_ups_per_level = 3;
    words = pl_size_words(b->a, &q, answer(b, &q));
    only_shop_words(words);
    assert_non_null(strstr(words, "With 3 per level you would miss a difference of 15 % between "
                                  "two named levels about 6 times in 10 (scatter 10 %)"));
    assert_non_null(
        strstr(words, "is to be noticed 9 times in 10, with a false alarm 1 time in 20"));
    q.from = PL_SCATTER_PILOT;
    q.sd_df = 7;
    words = pl_size_words(b->a, &q, answer(b, &q));
    only_shop_words(words);
    assert_non_null(strstr(words, "It comes from 8 glue-ups"));
    assert_non_null(strstr(words, "if the scatter is as stated"));
    q.glue_ups_per_level = 1;
    words = pl_size_words(b->a, &q, answer(b, &q));
    only_shop_words(words);
    assert_non_null(strstr(words, "With 1 per level nothing can be told"));
    q = plain(3, 1.2e6, 0.9e6);
    q.relative = false;
    q.kind = PL_Q_PRESSURE;
    q.unit = "N/mm2";
    words = pl_size_words(b->a, &q, answer(b, &q));
    only_shop_words(words);
    assert_non_null(strstr(words, "1.2 N/mm2"));
    assert_non_null(strstr(words, "0.9 N/mm2"));
}

static void test_how_often(void **state)
{
    bench *b = *state;

    assert_string_equal(pl_size_how_often(b->a, 0.6123), "about 6 times in 10");
    assert_string_equal(pl_size_how_often(b->a, 0.1), "about 1 time in 10");
    assert_string_equal(pl_size_how_often(b->a, 0.0312), "about 3 times in 100");
    assert_string_equal(pl_size_how_often(b->a, 0.0001), "less than 1 time in 200");
    assert_string_equal(pl_size_how_often(b->a, 0.93), "about 93 times in 100");
    assert_string_equal(pl_size_how_often(b->a, 0.999), "nearly always");
}

/* -------------------------------------------------------------- studies --- */

static const pl_study *design(bench *b, const char *name)
{
    const pl_study *s = NULL;
    const char *path = pl_arena_printf(b->a, "designs/%s.json", name);

    assert_ok(b, pl_study_read(b->a, top_path(b->a, path), &s, &b->d));
    return s;
}

static void test_from_plateau_study(void **state)
{
    bench *b = *state;
    const pl_study *s = design(b, "stair-lap");
    pl_size_question q;

    assert_ok(b, pl_size_from_study(b->a, s, &q, &b->d));
    assert_int_equal(q.levels, s->factors[s->question.over].nlevel);
    assert_int_equal(q.levels * q.groups, pl_study_treatments(s));
    assert_true(q.relative && q.worth_noticing == s->question.worth_noticing.value);
    assert_true(q.sd == s->scatter.cv && q.from == PL_SCATTER_PILOT);
    assert_true(q.sd_df == s->scatter.glue_ups - 1.0);
    assert_int_equal(q.glue_ups_per_level, s->glue_ups_per_level);
    /* a board holds 7, and the plan puts each of 6 pressures on it once */
    assert_int_equal(s->boards[0].specimens, 7);
    assert_int_equal(q.block_size, 6);
    only_shop_words(pl_size_words(b->a, &q, answer(b, &q)));
    /* what the budget allows, and not one more */
    {
        size_t n = pl_size_within_budget(s), all = pl_study_treatments(s);

        assert_true(pl_study_press_s(s, n * all) <= s->budget.press_s);
        assert_true(n * all <= s->budget.specimens);
        assert_true(pl_study_press_s(s, (n + 1) * all) > s->budget.press_s ||
                    (n + 1) * all > s->budget.specimens);
    }
}

/* Strengths in N/mm2, no curve; sizes of the answer are in pascals. */
static void test_from_difference_study(void **state)
{
    bench *b = *state;
    const pl_study *s = design(b, "strength-difference");
    pl_size_question q;

    assert_ok(b, pl_size_from_study(b->a, s, &q, &b->d));
    assert_int_equal(q.levels, 3);
    assert_int_equal(q.groups, 1);
    assert_false(q.relative);
    assert_rel("D", q.worth_noticing, 1.2e6, 1e-12);
    assert_rel("sd", q.sd, 0.9e6, 1e-12);
    assert_string_equal(q.unit, "N/mm2");
    assert_int_equal(pl_size_within_budget(s), UINT_MAX);
    only_shop_words(pl_size_words(b->a, &q, answer(b, &q)));
}

static const pl_study *changed(bench *b, const char *worth, const char *scatter,
                               const char *strength)
{
    const char *text = pl_arena_printf(
        b->a,
        "{\"study\": \"s\", \"question\": {\"aim\": \"difference\"%s},"
        " \"factors\": [{\"name\": \"surface\", \"levels\": [\"planed\", \"sanded\"]}],"
        " \"joint\": {\"kind\": \"lap\", \"width\": \"40 mm\", \"overlap\": \"30 mm\"},"
        " \"breaking\": {%s}%s}",
        worth, strength, scatter);
    const pl_study *s = NULL;

    assert_ok(b, pl_study_parse(b->a, "s.json", text, strlen(text), &s, &b->d));
    return s;
}

static void test_worth_and_scatter_meet(void **state)
{
    bench *b = *state;
    pl_size_question q;
    const char *share = ", \"worth_noticing\": \"10 %\"";
    const char *strength = ", \"worth_noticing\": \"1 N/mm2\"";
    const char *cv = ", \"scatter\": {\"cv\": \"12 %\", \"glue_ups\": 8}";
    const char *sd = ", \"scatter\": {\"sd\": \"1.6 N/mm2\"}";
    const char *ten = "\"expected_strength\": \"10 N/mm2\"";

    assert_ok(b, pl_size_from_study(b->a, changed(b, strength, cv, ten), &q, &b->d));
    assert_rel("cv to strength", q.sd, 1.2e6, 1e-12);
    assert_false(q.relative);
    assert_ok(b, pl_size_from_study(b->a, changed(b, share, sd, ten), &q, &b->d));
    assert_rel("strength to share", q.sd, 0.16, 1e-12);
    assert_true(q.relative && q.from == PL_SCATTER_KNOWN);
    /* nobody knows: the trade's range for mixed boards, said so */
    assert_ok(b, pl_size_from_study(b->a, changed(b, share, "", ""), &q, &b->d));
    assert_int_equal(q.from, PL_SCATTER_GUESSED);
    assert_true(q.sd_low == 0.10 && q.sd_high == 0.20);
    {
        const char *words = pl_size_words(b->a, &q, answer(b, &q));

        only_shop_words(words);
        assert_non_null(strstr(words, "commonly differ by 10 to 20 %"));
        assert_non_null(strstr(words, "At the high end, 20 %, it takes"));
    }
    assert_code(b, PL_EUNFIT, pl_size_from_study(b->a, changed(b, strength, cv, ""), &q, &b->d));
    assert_finding(b, "state expected_strength under breaking");
    assert_code(b, PL_EUNFIT, pl_size_from_study(b->a, changed(b, "", cv, ""), &q, &b->d));
    assert_finding(b, "no worth_noticing");
    assert_finding(b, "s.json:1");
}

/* Chances against numbers: the limits of a scatter found on 8 glue-ups are its 80 % upper and
 * lower one, s sqrt(7 / qchisq(.2, 7)) and s sqrt(7 / qchisq(.8, 7)). The chances: mpmath at 30
 * digits, quantiles by findroot on betainc and gammainc, tail of F(3, 20, 6 * .15^2 / (2 s^2)) as
 * the Poisson sum of regularised incomplete betas. */
static void test_chances(void **state)
{
    bench *b = *state;
    pl_size_question q = plain(4, 0.15, 0.12);
    const pl_size_answer *w;
    const pl_chances *c;
    size_t at = 0;

    q.from = PL_SCATTER_PILOT;
    q.sd_df = 7;
    w = answer(b, &q);
    assert_ok(b, pl_size_chances(b->a, &q, 6, &c, &b->d));
    while (c->per_level[at] < 6)
        at++;
    assert_rel("as given", c->chance[at], 0.34777190906890309, 1e-12);
    assert_rel("upper limit", c->low[at], 0.20176871993991312, 1e-12);
    assert_rel("lower limit", c->high[at], 0.47321825234663641, 1e-12);
    for (size_t i = 0; i < c->n; i++) {
        assert_true(c->low[i] < c->chance[i] && c->chance[i] < c->high[i]);
        assert_true(!i ||
                    (c->per_level[i] > c->per_level[i - 1] && c->chance[i] > c->chance[i - 1]));
    }
    assert_true(c->per_level[c->n - 1] > w->need->glue_ups_per_level);
    assert_string_equal(c->scatter, "12 %, found on 8 glue-ups");
    only_shop_words(c->asked);
    /* a number that the steps would leave out is among them; a scatter that is known has no limits
     */
    q.from = PL_SCATTER_KNOWN;
    q.worth_noticing = 0.05;
    assert_ok(b, pl_size_chances(b->a, &q, 31, &c, &b->d));
    for (at = 0; at < c->n && c->per_level[at] < 31;)
        at++;
    assert_true(at < c->n && c->per_level[at] == 31);
    assert_true(isnan(c->low[at]) && isnan(c->high[at]));
    assert_true(c->n <= 62);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_range_grid),
        TEST(test_two_groups),
        TEST(test_anchor),
        TEST(test_blocks),
        TEST(test_pilot_upper_limit),
        TEST(test_properties),
        TEST(test_row_by_hand),
        TEST(test_limits),
        TEST(test_chances),
        TEST(test_out_of_reach),
        TEST(test_refusals),
        TEST(test_no_memory),
        TEST(test_words),
        TEST(test_how_often),
        TEST(test_from_plateau_study),
        TEST(test_from_difference_study),
        TEST(test_worth_and_scatter_meet),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
