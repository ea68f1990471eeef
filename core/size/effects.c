/* Effects of a layout with several factors, each by itself: which scatter it is judged by, how
 * sure, in words; and what more specimens from a glue-up buy. */
#include <math.h>

#include "base/prob.h"
#include "size/aim.h"
#include "size/power.h"
#include "size/precision.h"

/* Sum of squares of the places about their mean, over the square of their span. */
static double spread_of(const pl_size_effect *e)
{
    double mean = 0, low = INFINITY, high = -INFINITY, sum = 0;

    for (unsigned i = 0; i < e->levels[0]; i++) {
        double x = e->at ? e->at[i] : i;

        mean += x / e->levels[0];
        low = fmin(low, x);
        high = fmax(high, x);
    }
    for (unsigned i = 0; i < e->levels[0]; i++)
        sum += pow((e->at ? e->at[i] : i) - mean, 2);
    return sum / ((high - low) * (high - low));
}

/* Noncentrality for D = sigma: r/2 for two of the levels so far apart and the others midway
 * (Bratcher, Moran & Zimmer 1970), r spread for a line, m/4 for four cells whose difference of
 * differences is D, the others least favourable. */
static double noncentrality(const pl_size_effect *e, double units)
{
    double r = units / e->levels[0];

    return e->kind == PL_SIZE_TREND     ? r * spread_of(e)
           : e->kind == PL_SIZE_MEETING ? r / e->levels[1] / 4
                                        : r / 2;
}

/* Stretches of what is changed least often: in each a block of every group that shares its
 * setting. */
static double outer_of(const pl_size_question *q, unsigned n)
{
    return pl_size_blocks(q, n) * q->outer / q->groups;
}

static void judge_outer(const pl_size_question *q, const pl_size_effect *e, unsigned n,
                        pl_size_effect_row *r, double *per_D2)
{
    double all = (double)n * pl_size_replicate(q) * q->groups, outer = outer_of(q, n);
    double sd = pl_size_sd(q), b = q->between_blocks;

    r->df2 = outer - q->outer;
    r->sd = sqrt(q->between_outer * q->between_outer + b * b * outer / pl_size_blocks(q, n) +
                 sd * sd * outer / all);
    *per_D2 = noncentrality(e, outer);
}

/* Between blocks a block's mean is one unit; each level has its own blocks. */
static void judge_between(const pl_size_question *q, const pl_size_effect *e, unsigned n,
                          pl_size_effect_row *r, double *per_D2)
{
    double all = (double)n * pl_size_replicate(q) * q->groups, blocks = pl_size_blocks(q, n);
    double sd = pl_size_sd(q);

    r->df2 = blocks - pl_size_sets(q);
    if (q->outer) /* compared within outer ones */
        r->df2 -= outer_of(q, n) - q->outer;
    r->sd = sqrt(q->between_blocks * q->between_blocks + sd * sd * blocks / all);
    *per_D2 = noncentrality(e, blocks);
}

static double chance_at(const pl_size_question *q, const pl_size_effect *e, unsigned n,
                        pl_size_effect_row *r)
{
    double units = (double)n * pl_size_replicate(q) * q->groups, per_D2, lambda;
    pl_real p = { NAN, 0 };

    r->df1 = e->kind == PL_SIZE_TREND     ? 1
             : e->kind == PL_SIZE_MEETING ? (e->levels[0] - 1.0) * (e->levels[1] - 1.0)
                                          : e->levels[0] - 1.0;
    r->df2 = pl_size_error_df(q, n);
    r->sd = pl_size_sd(q);
    per_D2 = noncentrality(e, units) * pl_size_efficiency(q);
    if (e->df1 > 0) {
        r->df1 = e->df1;
        per_D2 = n * e->per_replicate;
    }
    if (e->outer)
        judge_outer(q, e, n, r, &per_D2);
    else if (e->whole)
        judge_between(q, e, n, r, &per_D2);
    lambda = per_D2 * pow(q->worth_noticing / r->sd, 2);
    if (r->df2 > 0 && !isnan(lambda))
        (void)pl_power_ftest(r->df1, r->df2, fmin(lambda, PL_NONCENTRAL_MOST), q->false_alarm, &p,
                             NULL);
    return p.value;
}

typedef struct asked {
    const pl_size_question *q;
    const pl_size_effect *e;
} asked;

static double searched(const void *ctx, unsigned n)
{
    const asked *s = ctx;
    pl_size_effect_row r;

    return chance_at(s->q, s->e, n, &r);
}

pl_size_effect_row pl_size_effect_at(const pl_size_question *q, const pl_size_effect *e, unsigned n)
{
    asked s = { q, e };
    pl_size_effect_row r = { 0 };

    r.power = chance_at(q, e, n, &r);
    r.need = pl_size_whole(q, pl_least_n(searched, &s, 1 - q->miss_at_most, 1, q->cap));
    return r;
}

/* ------------------------------------------------------------------ words --- */

static void say_effect(pl_text *t, const pl_size_question *q, const pl_size_effect *e, unsigned n)
{
    static const char *const what[] = { "its levels are not alike",
                                        "a straight line along it, end to end",
                                        "a difference here that is none there",
                                        "its middle off the line between its ends" };
    pl_size_effect_row r = pl_size_effect_at(q, e, n);

    pl_text_add(t, "- %s (%s): ", e->name, what[e->kind]);
    if (((e->whole || e->outer) && isnan(q->between_blocks)) ||
        (e->outer && isnan(q->between_outer))) {
        pl_text_put(t, "compared between blocks (boards, stretches without a change), and nobody "
                       "has said how much these differ\n");
        return;
    }
    if (r.need)
        pl_text_add(t, "%u per treatment", r.need);
    else
        pl_text_add(t, "more than %u per treatment", q->cap);
    if (e->whole || e->outer)
        pl_text_put(t, ", for it is compared between blocks");
    if (isnan(r.power))
        pl_text_add(t, "; with %u nothing can be told\n", n);
    else
        pl_text_add(t, "; with %u it is noticed %s\n", n, pl_size_often(t, r.power));
}

char *pl_size_effect_words(pl_arena *a, const pl_size_question *q, unsigned n)
{
    pl_text t;

    pl_text_init(&t, a);
    if (q->neffect > 1) {
        pl_text_add(&t, "Each effect by itself, %s to be noticed %s:\n",
                    pl_size_amount(&t, q, q->worth_noticing),
                    pl_size_asked(&t, 1 - q->miss_at_most));
        for (size_t i = 0; i < q->neffect; i++)
            say_effect(&t, q, &q->effects[i], n);
    }
    return pl_text_done(&t);
}

#define ANY_NUMBER 1000000u /* of specimens: what lies between them no longer shows */

unsigned pl_size_need_with(pl_arena *a, const pl_size_question *q, unsigned m, pl_diags *d)
{
    pl_size_question with = *q;
    pl_mark mark = pl_arena_mark(a);
    const pl_size_answer *w;
    unsigned need = 0;

    if (isnan(q->between_glue_ups) || isnan(q->within))
        return 0;
    with.specimens_per_glue_up = m ? m : ANY_NUMBER;
    with.from = PL_SCATTER_KNOWN;
    if (pl_size_sd(&with) > 0 && !pl_size_find(a, &with, &w, d))
        need = w->need_at[PL_SIZE_OVERALL][PL_SIZE_AS_GIVEN];
    pl_arena_reset(a, mark);
    return need;
}

char *pl_size_specimen_words(pl_arena *a, const pl_size_question *q, pl_diags *d)
{
    unsigned need[3] = { pl_size_need_with(a, q, 1, d), pl_size_need_with(a, q, 3, d),
                         pl_size_need_with(a, q, 0, d) };
    pl_text t;

    pl_text_init(&t, a);
    if (need[0] && need[2])
        pl_text_add(
            &t,
            "With one specimen from each glue-up it takes %u glue-ups per level, with three "
            "%u; no number of specimens makes fewer than %u do, for they share what "
            "happened in the press.\n",
            need[0], need[1], need[2]);
    else if (q->specimens_per_glue_up > 1 && isnan(q->within))
        pl_text_add(&t,
                    "What %u specimens from a glue-up buy cannot be told: nobody has said how much "
                    "they differ within it and how much glue-ups differ. A pilot of several "
                    "glue-ups with several specimens each would.\n",
                    q->specimens_per_glue_up);
    return pl_text_done(&t);
}
