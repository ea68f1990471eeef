/* The aim as-good-as: a level is shown to hold what a named one holds, but for a margin. The
 * tests are equivalence.c's. */
#include <math.h>

#include "size/aim.h"
#include "size/equivalence.h"
#include "size/power.h"
#include "size/precision.h"

static double really(const pl_size_question *q)
{
    return isnan(q->really) ? (q->relative ? 1 : 0) : q->really;
}

/* The true value lies between the margins, else nothing can be shown. */
static bool inside(const pl_size_question *q, double margin)
{
    double off = q->relative ? really(q) - 1 : really(q);

    return off > -margin && (!q->both_sides || off < margin);
}

static void refuse(pl_diags *d, const char *found, const char *expected)
{
    (void)pl_fail(d, PL_EDOM, "size", .found = found, .expected = expected);
}

static void check(const pl_size_question *q, pl_diags *d)
{
    if (q->levels < 2 || q->levels > 10000)
        refuse(d, "fewer than 2 levels, or more than 10000",
               "a named level and one or more others");
    if (!(q->margin > 0) || isinf(q->margin))
        refuse(d, "a margin that is no number above 0",
               "a margin, as \"as good as 95 %\" leaves 5 %");
    else if (q->relative && !(q->margin < 1))
        refuse(d, "a margin as large as the named level's mean", "a smaller margin");
    else if (!inside(q, q->margin))
        refuse(d, "a level that truly lies outside the margin",
               "one inside: only that can be shown");
    if (!(q->false_alarm < 0.5))
        refuse(d, "a chance of a mistake of 1 in 2 or more", "a chance, such as 1 in 20");
}

/* Margin m: mean_i - (1 - m) mean_named above 0, as a strength mean_i - mean_named above -m. */
static double chance_of(const pl_size_question *q, unsigned n, double sd, double margin)
{
    double df = pl_size_error_df(q, n), r = pl_size_worth(q, n), se = sd * sqrt(2 / r);
    pl_shares shares = { .low = 1 - margin,
                         .high = q->both_sides ? 1 + margin : INFINITY,
                         .really = really(q),
                         .cv = sd,
                         .n = r,
                         .n_named = r };
    double below = fmin((really(q) + margin) / se, sqrt(PL_NONCENTRAL_MOST));
    pl_real p = { NAN, 0 };

    if (q->relative)
        (void)pl_power_shares(df, &shares, q->false_alarm, &p, NULL);
    else if (q->both_sides)
        (void)pl_power_equivalence(df, below, (margin - really(q)) / se, q->false_alarm, &p, NULL);
    else
        (void)pl_power_ttest(df, below, q->false_alarm, 1, &p, NULL);
    return p.value;
}

static double chance(const pl_size_question *q, unsigned n, pl_size_test test, double sd)
{
    (void)test;
    return chance_of(q, n, sd, q->margin);
}

#define MARGIN_STEPS 40 /* halvings: 1e-12 of where they begin */

static double least(const pl_size_question *q, unsigned n, pl_size_test test, double sd)
{
    double off = fabs(q->relative ? really(q) - 1 : really(q));
    double low = off, high = q->relative ? 1 - 1e-9 : off + 1000 * sd;

    (void)test;
    if (!(chance_of(q, n, sd, high) >= 1 - q->miss_at_most))
        return NAN;
    for (int i = 0; i < MARGIN_STEPS; i++) {
        double middle = (low + high) / 2;

        if (inside(q, middle) && chance_of(q, n, sd, middle) >= 1 - q->miss_at_most)
            high = middle;
        else
            low = middle;
    }
    return high;
}

static double width(const pl_size_question *q, unsigned n)
{
    double share = q->relative ? 1 - q->margin : 1, r = pl_size_worth(q, n);

    return 2 *
           pl_half_width(pl_size_error_df(q, n), (1 + share * share) / r, 1 - 2 * q->false_alarm);
}

static const char *percent(pl_text *t, double share)
{
    char *s = pl_text_number(t->arena, 100 * share, 4);

    t->failed |= !s;
    return s ? s : "";
}

static void say_question(pl_text *t, const pl_size_question *q)
{
    double off = q->relative ? really(q) - 1 : really(q);

    if (fabs(off) < 1e-12)
        pl_text_put(t, "A level that truly equals the named one");
    else if (q->relative)
        pl_text_add(t, "A level that truly holds %s %% of the named one", percent(t, really(q)));
    else
        pl_text_add(t, "A level that truly lies %s %s the named one",
                    pl_size_amount(t, q, fabs(off)), off > 0 ? "above" : "below");
    pl_text_add(t, " is to be shown, %s, to ", pl_size_asked(t, 1 - q->miss_at_most));
    if (q->relative)
        pl_text_add(t, "hold at least %s %%", percent(t, 1 - q->margin));
    else
        pl_text_add(t, "lie at most %s below", pl_size_amount(t, q, q->margin));
    if (q->both_sides && q->relative)
        pl_text_add(t, " and at most %s %%", percent(t, 1 + q->margin));
    else if (q->both_sides)
        pl_text_put(t, " or above");
    pl_text_add(t, "%s it; one that does not may be called as good %s.\n", q->relative ? " of" : "",
                pl_size_asked(t, q->false_alarm));
    if (!isnan(q->width_at_most))
        pl_text_add(t, "The limits of what lies between the two are to be at most %s apart %s.\n",
                    pl_size_amount(t, q, q->width_at_most), pl_size_asked(t, 1 - q->miss_at_most));
}

static void say_limits(pl_text *t, const pl_size_question *q, const pl_size_answer *w)
{
    const pl_size_limits *l = &w->limits;

    if (isnan(l->miss[PL_SIZE_PAIR])) {
        pl_text_add(t,
                    "With %u per level nothing can be shown: no two glue-ups are alike, so nobody "
                    "sees how much equal ones differ.\n",
                    l->glue_ups_per_level);
        return;
    }
    pl_text_add(t, "With %u per level it would fail to be shown %s (scatter %s).\n",
                l->glue_ups_per_level, pl_size_often(t, l->miss[PL_SIZE_PAIR]),
                pl_size_amount(t, q, w->sd));
    if (!isnan(l->least[PL_SIZE_PAIR]))
        pl_text_add(t, "The smallest margin for which %u per level are enough is %s.\n",
                    l->glue_ups_per_level, pl_size_amount(t, q, l->least[PL_SIZE_PAIR]));
    if (q->levels > 2)
        pl_text_put(t,
                    "Levels are tried one after the other, from the named one on, until the first "
                    "that is not shown; each count is for one of them.\n");
}

const pl_size_aim pl_size_aim_as_good = {
    .check = check,
    .error_df = pl_size_error_df,
    .chance = chance,
    .least = least,
    .width = width,
    .say_question = say_question,
    .say_limits = say_limits,
    .too_much = "allow a larger margin",
    .ntest = 1,
};
