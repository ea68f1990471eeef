/* The aim low-tail: a strength that all but a few joints of one kind pass, proven from n of
 * them, and not much below the true one. Factors are base/tolerance.h's. */
#include <math.h>
#include <stdlib.h>

#include "base/prob.h"
#include "base/stream.h"
#include "base/tolerance.h"
#include "size/aim.h"
#include "size/low_tail.h"
#include "size/precision.h"
#include "size/weibull.h"

static double point(const pl_size_question *q)
{
    return pl_normal_quantile(1 - q->percentile);
}

/* Each kind of joint by itself: its own scatter. */
static double error_df(const pl_size_question *q, unsigned n)
{
    (void)q;
    return n - 1.0;
}

static double factor(const pl_size_question *q, unsigned n)
{
    return pl_tolerance_lower(n, n - 1.0, 1 - q->percentile, q->confidence);
}

static void check(const pl_size_question *q, pl_diags *d)
{
    if (q->levels < 1 || q->levels > 10000)
        (void)pl_fail(d, PL_EDOM, "size", .found = "no level, or more than 10000",
                      .expected = "1 or more");
    if (!(q->percentile > 0 && q->percentile <= 0.5))
        (void)pl_fail(d, PL_EDOM, "size", .found = "a percentile outside 0 to 50 %",
                      .expected = "a low one, such as 5 %");
    if (!(q->confidence >= 0.5 && q->confidence < 1))
        (void)pl_fail(d, PL_EDOM, "size", .found = "a confidence outside 50 to 100 %",
                      .expected = "how sure the limit is to be, such as 95 %");
    if (!isnan(q->worth_noticing) && (!(q->worth_noticing > 0) || isinf(q->worth_noticing)))
        (void)pl_fail(d, PL_EDOM, "size", .found = "a shortfall that is no number above 0",
                      .expected = "how far the limit may lie below the true value");
}

/* Without a shortfall or width the limit need only be there whatever form the strengths have:
 * the weakest of n is one, or it is not. */
static double chance(const pl_size_question *q, unsigned n, pl_size_test test, double sd)
{
    (void)test;
    if (!isnan(q->worth_noticing))
        return pl_tolerance_above(n, n - 1.0, factor(q, n), point(q) + q->worth_noticing / sd);
    return isnan(q->width_at_most) ? pl_order_confidence(n, 1, q->percentile) >= q->confidence
                                   : NAN;
}

#define STEPS 60 /* halvings */

static double least(const pl_size_question *q, unsigned n, pl_size_test test, double sd)
{
    double k = factor(q, n), low = 0, high = 1;

    (void)test;
    while (pl_tolerance_above(n, n - 1.0, k, point(q) + high) < 1 - q->miss_at_most && high < 1e6)
        high *= 2;
    for (int i = 0; i < STEPS; i++) {
        double middle = (low + high) / 2;

        if (pl_tolerance_above(n, n - 1.0, k, point(q) + middle) < 1 - q->miss_at_most)
            low = middle;
        else
            high = middle;
    }
    return high * sd;
}

/* From the estimate of the percentile down to its limit. */
static double width(const pl_size_question *q, unsigned n)
{
    return factor(q, n) - point(q);
}

/* ---------------------------------------------------------------- Weibull --- */

#define DRAWS 20000u

/* With logs of standard Weibull values y: u and 1/b their fit, w the log of the true
 * percentile. (u + w/b - w) b has one distribution whatever shape and scale (Thoman, Bain &
 * Antle 1970, Technometrics 12:363): its point c from the first half of the draws makes the
 * limit u + (w - c)/b, the second half tells how often that comes near enough. */
typedef struct weibull {
    unsigned n;
    double w, confidence, near_enough; /* log of limit over true value, times the shape */
    double *y, *pivot;                 /* n; DRAWS / 2 */
} weibull;

static bool fit_draw(const weibull *W, unsigned draw, pl_weibull *fit)
{
    pl_stream s;

    pl_stream_init(&s, W->n, PL_FOR_LOW_TAIL, draw);
    for (unsigned i = 0; i < W->n; i++)
        W->y[i] = log(-log(pl_stream_unit(&s)));
    return pl_weibull_fit(W->y, NULL, W->n, fit);
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;

    return (x > y) - (x < y);
}

static double weibull_chance(const void *ctx, unsigned n)
{
    weibull W = *(const weibull *)ctx;
    unsigned hits = 0;
    double c;

    W.n = n;
    for (unsigned i = 0; i < DRAWS / 2; i++) {
        pl_weibull f = { 1, 1, 0 };

        (void)fit_draw(&W, i, &f);
        W.pivot[i] = (log(f.scale) + W.w / f.shape - W.w) * f.shape;
    }
    qsort(W.pivot, DRAWS / 2, sizeof *W.pivot, by_size);
    c = W.pivot[(unsigned)(W.confidence * (DRAWS / 2))];
    for (unsigned i = DRAWS / 2; i < DRAWS; i++) {
        pl_weibull f = { 1, 1, 0 };

        (void)fit_draw(&W, i, &f);
        hits += log(f.scale) + (W.w - c) / f.shape - W.w >= W.near_enough;
    }
    return hits / (DRAWS / 2.0);
}

pl_code pl_low_tail_weibull(pl_arena *a, const pl_size_question *q, pl_low_tail_weibull_answer *out,
                            pl_diags *d)
{
    double b = q->relative ? pl_weibull_shape_of(pl_size_sd(q)) : NAN, p = q->percentile;
    /* a share of the mean, scale Gamma(1 + 1/b), as one of the percentile's value */
    double share = q->worth_noticing * tgamma(1 + 1 / b) / pow(-log1p(-p), 1 / b);
    weibull W = { .w = log(-log1p(-p)), .confidence = q->confidence };
    unsigned cap = q->cap < PL_SIZE_CAP ? q->cap : PL_SIZE_CAP;

    *out = (pl_low_tail_weibull_answer){ .chance = NAN, .mc_se = NAN, .shape = b };
    if (isnan(b) || isnan(q->worth_noticing))
        return PL_OK;
    W.near_enough = share < 1 ? b * log1p(-share) : -INFINITY;
    W.y = PL_NEWN(a, cap, double);
    W.pivot = PL_NEWN(a, DRAWS / 2, double);
    if (!W.y || !W.pivot)
        return pl_nomem(d);
    out->need = pl_least_n(weibull_chance, &W, 1 - q->miss_at_most, 3, cap);
    out->chance = weibull_chance(&W, out->need ? out->need : cap);
    out->mc_se = sqrt(out->chance * (1 - out->chance) / (DRAWS / 2.0));
    return PL_OK;
}

/* ------------------------------------------------------------------ words --- */

static const char *number(pl_text *t, double x, int digits)
{
    char *s = pl_text_number(t->arena, x, digits);

    t->failed |= !s;
    return s ? s : "";
}

static void say_question(pl_text *t, const pl_size_question *q)
{
    pl_text_add(t,
                "A strength is to be proven that %s %% of the joints of a kind pass; such a proof "
                "is to be right %s.\n",
                number(t, 100 * (1 - q->percentile), 4), pl_size_asked(t, q->confidence));
    if (!isnan(q->worth_noticing))
        pl_text_add(t, "It is to lie no more than %s below the true one %s.\n",
                    pl_size_amount(t, q, q->worth_noticing), pl_size_asked(t, 1 - q->miss_at_most));
    if (!isnan(q->width_at_most))
        pl_text_add(t, "It is to lie no more than %s below the best estimate %s.\n",
                    pl_size_amount(t, q, q->width_at_most), pl_size_asked(t, 1 - q->miss_at_most));
}

static void say_limits(pl_text *t, const pl_size_question *q, const pl_size_answer *w)
{
    unsigned n = w->limits.glue_ups_per_level, first, second;

    if (n >= 2) {
        pl_text_add(t,
                    "With %u per level the proven strength is the mean less %s times the scatter "
                    "seen; the true one lies %s times the true scatter below.\n",
                    n, number(t, factor(q, n), 3), number(t, point(q), 3));
        pl_text_add(t, "It then lies no more than %s below the true one %s.\n",
                    pl_size_amount(t, q, w->limits.least[PL_SIZE_PAIR]),
                    pl_size_asked(t, 1 - q->miss_at_most));
    }
    first = pl_order_least(1, q->percentile, q->confidence);
    second = pl_order_least(2, q->percentile, q->confidence);
    pl_text_add(t,
                "That holds for strengths that scatter like the bell curve. Whatever their form, "
                "the weakest of %u joints is such a strength, or the second weakest of %u.\n",
                first, second);
}

const pl_size_aim pl_size_aim_low_tail = {
    .check = check,
    .error_df = error_df,
    .chance = chance,
    .least = least,
    .width = width,
    .factor = factor,
    .say_question = say_question,
    .say_limits = say_limits,
    .too_much = "let it lie further below",
    .ntest = 1,
};
