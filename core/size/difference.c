/* The aim difference: two of the levels lie so far apart. As one of many comparisons it is
 * family.c's; effects other than these levels are effects.c's. */
#include <math.h>

#include "size/aim.h"
#include "size/power.h"
#include "size/precision.h"

static void check(const pl_size_question *q, pl_diags *d)
{
    if (q->levels < 2 || q->levels > 10000)
        (void)pl_fail(d, PL_EDOM, "size", .found = "fewer than 2 levels, or more than 10000",
                      .expected = "2 or more levels to compare");
    if (isnan(q->worth_noticing) && !isnan(q->width_at_most))
        return;
    if (!(q->worth_noticing > 0) || isinf(q->worth_noticing))
        (void)pl_fail(d, PL_EDOM, "size",
                      .found = "a difference worth noticing that is no number above 0",
                      .expected = "a difference above 0");
}

static double df_of(const pl_size_question *q, pl_size_test test)
{
    return test == PL_SIZE_PAIR ? 1 : q->levels - 1.0;
}

/* n D^2 / (2 sigma^2), less what the blocks take. */
static double chance(const pl_size_question *q, unsigned n, pl_size_test test, double sd)
{
    double d = q->worth_noticing / sd, lambda = pl_size_worth(q, n) * d * d / 2;
    pl_real p = { NAN, 0 };

    if (!isnan(d))
        (void)pl_power_ftest(df_of(q, test), pl_size_error_df(q, n),
                             fmin(lambda, PL_NONCENTRAL_MOST), q->false_alarm, &p, NULL);
    return p.value;
}

static double least(const pl_size_question *q, unsigned n, pl_size_test test, double sd)
{
    double lambda = pl_power_lambda(df_of(q, test), pl_size_error_df(q, n), q->false_alarm,
                                    1 - q->miss_at_most);

    return sd * sqrt(2 * lambda / pl_size_worth(q, n));
}

static double width(const pl_size_question *q, unsigned n)
{
    return 2 * pl_half_width(pl_size_error_df(q, n), 2 / pl_size_worth(q, n), 1 - q->false_alarm);
}

static void say_question(pl_text *t, const pl_size_question *q)
{
    if (!isnan(q->worth_noticing)) {
        pl_text_add(t, "A difference of %s between two ", pl_size_amount(t, q, q->worth_noticing));
        if (q->each_worth > 0) /* several factors side by side */
            pl_text_put(t, "levels of any one factor");
        else
            pl_text_add(t, "of %u levels", q->levels);
        pl_text_add(t, " is to be noticed %s", pl_size_asked(t, 1 - q->miss_at_most));
        if (q->groups > 1)
            pl_text_add(t, ", in each of %u groups", q->groups);
        pl_text_add(t, ", with a false alarm %s.\n", pl_size_asked(t, q->false_alarm));
    }
    if (!isnan(q->width_at_most))
        pl_text_add(
            t,
            "The limits of the difference between two of %u levels, which hold the true one "
            "%s, are to lie at most %s apart %s.\n",
            q->levels, pl_size_asked(t, 1 - q->false_alarm), pl_size_amount(t, q, q->width_at_most),
            pl_size_asked(t, 1 - q->miss_at_most));
}

static void say_limits(pl_text *t, const pl_size_question *q, const pl_size_answer *w)
{
    const pl_size_limits *l = &w->limits;

    if (isnan(q->worth_noticing))
        return;
    if (isnan(l->miss[PL_SIZE_PAIR])) {
        pl_text_add(t,
                    "With %u per level nothing can be told: no two glue-ups are alike, so nobody "
                    "sees how much equal ones differ.\n",
                    l->glue_ups_per_level);
        return;
    }
    pl_text_add(t,
                "With %u per level you would miss a difference of %s between two named levels "
                "%s (scatter %s)",
                l->glue_ups_per_level, pl_size_amount(t, q, q->worth_noticing),
                pl_size_often(t, l->miss[PL_SIZE_PAIR]), pl_size_amount(t, q, w->sd));
    if (q->levels > 2)
        pl_text_add(t, ", and that the levels are not all alike %s",
                    pl_size_often(t, l->miss[PL_SIZE_OVERALL]));
    pl_text_put(t, ".\n");
    pl_text_add(t, "The smallest difference between two named levels that %u per level show %s",
                l->glue_ups_per_level, pl_size_asked(t, 1 - q->miss_at_most));
    pl_text_add(t, " is %s; smaller ones may be there and stay hidden.\n",
                pl_size_amount(t, q, l->least[PL_SIZE_PAIR]));
}

const pl_size_aim pl_size_aim_difference = {
    .check = check,
    .error_df = pl_size_error_df,
    .chance = chance,
    .least = least,
    .width = width,
    .say_question = say_question,
    .say_limits = say_limits,
    .too_much = "ask for a larger difference",
    .ntest = 2,
};
