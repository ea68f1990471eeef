/* From a question to a table of chances and the smallest number that is enough. What each
 * aim asks is in its own file, the distributions in power.c, the words in words.c. */
#include "size/size.h"

#include <math.h>

#include "size/aim.h"
#include "size/power.h"
#include "size/precision.h"

const char *pl_size_test_name(pl_size_test t)
{
    return t == PL_SIZE_OVERALL ? "overall" : "named-levels";
}

const char *pl_size_basis_name(pl_size_basis b)
{
    static const char *const names[] = { "power", "power_at_upper", "assurance" };

    return names[b];
}

void pl_size_question_init(pl_size_question *q)
{
    *q = (pl_size_question){ .groups = 1,
                             .across = 1,
                             .between_blocks = NAN,
                             .between_outer = NAN,
                             .between_sessions = NAN,
                             .between_stretches = NAN,
                             .worth_noticing = NAN,
                             .kind = PL_Q_NONE,
                             .sd = NAN,
                             .between_glue_ups = NAN,
                             .within = NAN,
                             .specimens_per_glue_up = 1,
                             .sd_df = NAN,
                             .sd_low = NAN,
                             .sd_high = NAN,
                             .miss_at_most = 0.1,
                             .false_alarm = 0.05,
                             .cap = PL_SIZE_CAP,
                             .upper_confidence = 0.8,
                             .aim = PL_AIM_DIFFERENCE,
                             .width_at_most = NAN,
                             .margin = NAN,
                             .really = NAN,
                             .percentile = 0.05,
                             .confidence = 0.95 };
}

/* ------------------------------------------------------------- the layout --- */

unsigned pl_size_whole(const pl_size_question *q, unsigned n)
{
    unsigned step = q->step ? q->step : 1;

    n = (n + step - 1) / step * step;
    return n <= q->cap ? n : 0;
}

unsigned pl_size_replicate(const pl_size_question *q)
{
    return q->runs ? q->runs : q->levels * q->across;
}

double pl_size_sets(const pl_size_question *q)
{
    return (double)q->groups / (q->shared ? q->shared : 1);
}

double pl_size_blocks(const pl_size_question *q, unsigned n)
{
    double sets = pl_size_sets(q), units = (double)n * pl_size_replicate(q) * q->groups / sets;

    return sets * (q->block_size ? ceil(units / q->block_size) : 1);
}

double pl_size_error_df(const pl_size_question *q, unsigned n)
{
    double sets = pl_size_sets(q), units = (double)n * pl_size_replicate(q) * q->groups,
           k = q->columns,
           df = units - pl_size_blocks(q, n) - (q->levels * (double)q->groups - sets) - q->other_df;

    return q->columns ? df - ceil(units / (k * k)) * (k - 1) : df;
}

double pl_size_efficiency(const pl_size_question *q)
{
    double v = q->levels, k = q->block_size;

    return !q->block_size || k >= v ? 1 : v * (k - 1) / (k * (v - 1));
}

double pl_size_worth(const pl_size_question *q, unsigned n)
{
    return n * (q->each_worth > 0 ? q->each_worth : q->across * pl_size_efficiency(q));
}

static double squared(double part)
{
    return isnan(part) ? 0 : part * part;
}

double pl_size_sd(const pl_size_question *q)
{
    double b = q->between_glue_ups, w = q->within, glue_up = q->sd;

    if (!isnan(b) && !isnan(w))
        glue_up = sqrt(b * b + w * w / q->specimens_per_glue_up);
    if (q->block_size)
        return glue_up;
    return sqrt(glue_up * glue_up + squared(q->between_blocks) + squared(q->between_sessions));
}

/* ------------------------------------------------------------ the question --- */

static pl_code refuse(pl_diags *d, const char *what, const char *expected)
{
    return pl_fail(d, PL_EDOM, "size", .found = what, .expected = expected);
}

static void check_scatter(const pl_size_question *q, pl_diags *d)
{
    bool parts = !isnan(q->between_glue_ups) && !isnan(q->within);

    if (!(pl_size_sd(q) > 0) || isinf(pl_size_sd(q)) || (!parts && !(q->sd > 0)) ||
        q->between_glue_ups < 0 || q->within < 0 || q->between_blocks < 0 || q->between_outer < 0 ||
        q->between_sessions < 0)
        refuse(d, "scatter that is no number above 0", "how much equal glue-ups differ");
    if (q->from == PL_SCATTER_PILOT && !(q->sd_df > 0))
        refuse(d, "scatter from fewer than 2 glue-ups", "2 or more: one alone shows no scatter");
    if (q->from == PL_SCATTER_GUESSED && !(q->sd_high >= q->sd))
        refuse(d, "a guess whose high end lies below its middle", "low, middle and high in order");
    if (!(q->upper_confidence > 0 && q->upper_confidence < 1))
        refuse(d, "upper_confidence outside 0 to 1", "a chance, such as 0.8");
}

static pl_code check(const pl_size_question *q, pl_diags *d)
{
    const pl_size_aim *aim = pl_size_aim_of(q);
    size_t before = d->count;
    bool out_before = d->out_of_memory;

    if (q->groups < 1)
        refuse(d, "no group", "1 or more groups of levels");
    if (q->specimens_per_glue_up < 1)
        refuse(d, "no specimen in a glue-up", "1 or more");
    if (!(q->miss_at_most > 0 && q->miss_at_most < 1))
        refuse(d, "a chance of missing outside 0 to 1", "a chance, such as 1 in 10");
    if (!(q->false_alarm > 0 && q->false_alarm < 1))
        refuse(d, "a chance of a false alarm outside 0 to 1", "a chance, such as 1 in 20");
    else if (q->miss_at_most > 0 && q->miss_at_most >= 1 - q->false_alarm)
        refuse(d,
               "a chance of missing so large that false alarms alone keep it: no joint is needed",
               "a chance of missing below 1 less the chance of a false alarm");
    if (!isnan(q->width_at_most) && (!(q->width_at_most > 0) || isinf(q->width_at_most)))
        refuse(d, "a width that is no number above 0", "a width above 0");
    if (q->cap < 2 || q->cap > 1000000)
        refuse(d, "a cap outside 2 to 1000000", "2 or more glue-ups per level");
    check_scatter(q, d);
    aim->check(q, d);
    if (d->out_of_memory && !out_before)
        return PL_ENOMEM;
    if (d->count > before)
        return PL_EDOM;
    if (q->glue_ups_per_level && pl_size_whole(q, q->glue_ups_per_level) != q->glue_ups_per_level)
        return pl_fail(
            d, PL_EUNFIT, "size",
            .found = pl_arena_printf(d->arena, "%u glue-ups per level", q->glue_ups_per_level),
            .expected = pl_arena_printf(
                d->arena, "a multiple of %u, %u at most: the design is whole only then",
                q->step ? q->step : 1, q->cap));
    if (!(pl_size_efficiency(q) > 0))
        return pl_fail(d, PL_EUNFIT, "size", .found = "blocks of one glue-up each",
                       .expected = "2 or more in a block",
                       .mend = "levels can only be compared within a block that holds several");
    if (!(aim->error_df(q, q->cap) > 0))
        return pl_fail(d, PL_EUNFIT, "size", .found = "no repeats within the cap",
                       .expected = "enough glue-ups to see how much equal ones differ");
    return PL_OK;
}

const pl_size_aim *pl_size_aim_of(const pl_size_question *q)
{
    return q->aim == PL_AIM_AS_GOOD_AS ? &pl_size_aim_as_good
           : q->aim == PL_AIM_LOW_TAIL ? &pl_size_aim_low_tail
                                       : &pl_size_aim_difference;
}

/* --------------------------------------------------------------- chances --- */

typedef struct sizing {
    const pl_size_question *q;
    const pl_size_aim *aim;
    double sd;
    pl_size_doubt doubt;
    struct weighing *weighing;
} sizing;

/* How much of what a pilot leaves open has been weighed: numbers looked at, of about so many. */
typedef struct weighing {
    double looked, of;
    bool stopped;
} weighing;
#define LOOKS 44 /* a search by halving, and the rows of a table */

/* Chance that both what is asked comes out and the interval is narrow enough, each as far as
 * it is asked. */
typedef struct outcome {
    double chance, width;
} outcome;

static outcome at_sd(const sizing *z, unsigned n, pl_size_test test, double sd)
{
    const pl_size_question *q = z->q;
    double df = z->aim->error_df(q, n);
    outcome o = { NAN, NAN };

    if (!(df > 0) || isnan(sd))
        return o;
    o.chance = z->aim->chance(q, n, test, sd);
    if (!isnan(q->width_at_most))
        o.width = pl_s_chance(df, q->width_at_most / (z->aim->width(q, n) * sd));
    return o;
}

static bool stopped(const sizing *z)
{
    weighing *w = z->weighing;

    if (w && !w->stopped && z->q->watch) {
        w->of = fmax(w->of, w->looked + 1);
        w->stopped = z->q->watch(z->q->self, w->looked / w->of);
        w->looked++;
    }
    return w && w->stopped;
}

static outcome found(const sizing *z, unsigned n, pl_size_test test, pl_size_basis basis)
{
    outcome sum = { 0, 0 };

    if (basis == PL_SIZE_AS_GIVEN)
        return at_sd(z, n, test, z->sd);
    if (basis == PL_SIZE_AT_UPPER)
        return at_sd(z, n, test, z->doubt.upper);
    if (z->doubt.n < 2 || stopped(z))
        return (outcome){ NAN, NAN };
    for (size_t i = 0; i < z->doubt.n; i++) {
        outcome o = at_sd(z, n, test, z->doubt.sd[i]);

        sum.chance += z->doubt.weight[i] * o.chance;
        sum.width += z->doubt.weight[i] * o.width;
    }
    return sum;
}

/* The smaller of what is asked. */
static double smaller(const sizing *z, outcome o)
{
    if (isnan(z->q->width_at_most))
        return o.chance;
    return isnan(o.chance) ? o.width : fmin(o.chance, o.width);
}

static double enough_for(const sizing *z, unsigned n, pl_size_test test, pl_size_basis basis)
{
    return smaller(z, found(z, n, test, basis));
}

static pl_size_row row_of(const sizing *z, unsigned n)
{
    const pl_size_question *q = z->q;
    pl_size_row r = { .glue_ups_per_level = n, .specimens_per_glue_up = q->specimens_per_glue_up };

    r.glue_ups = (size_t)n * q->groups * pl_size_replicate(q);
    r.specimens = r.glue_ups * q->specimens_per_glue_up;
    r.error_df = z->aim->error_df(q, n);
    for (int b = 0; b < PL_NSIZE_BASES; b++) {
        outcome o = found(z, n, PL_SIZE_PAIR, (pl_size_basis)b);

        r.chance[PL_SIZE_PAIR][b] = r.chance[PL_SIZE_OVERALL][b] = o.chance;
        r.width_chance[b] = o.width;
        if (z->aim->ntest > 1)
            r.chance[PL_SIZE_OVERALL][b] = found(z, n, PL_SIZE_OVERALL, (pl_size_basis)b).chance;
    }
    r.width = r.error_df > 0 ? z->aim->width(q, n) * pl_mean_s(r.error_df) * z->sd : NAN;
    r.factor = z->aim->factor ? z->aim->factor(q, n) : NAN;
    return r;
}

/* Smallest number with an error to compare with. */
static unsigned least_n(const sizing *z)
{
    unsigned n = pl_size_replicate(z->q) > z->q->levels ? 1 : 2;

    while (n < z->q->cap && (!(z->aim->error_df(z->q, n) > 0) || pl_size_whole(z->q, n) != n))
        n++;
    return n;
}

typedef struct search {
    const sizing *z;
    pl_size_test test;
    pl_size_basis basis;
} search;

static double searched(const void *ctx, unsigned n)
{
    const search *s = ctx;

    return enough_for(s->z, n, s->test, s->basis);
}

static unsigned smallest_enough(const sizing *z, pl_size_test test, pl_size_basis basis)
{
    search s = { z, test, basis };
    unsigned n;

    if ((basis == PL_SIZE_AT_UPPER && isnan(z->doubt.upper)) ||
        (basis == PL_SIZE_ASSURED && z->doubt.n < 2))
        return 0;
    n = pl_least_n(searched, &s, 1 - z->q->miss_at_most, least_n(z), z->q->cap);
    if (basis == PL_SIZE_ASSURED && z->weighing && z->weighing->stopped)
        return 0;
    return pl_size_whole(z->q, n);
}

static pl_size_limits limits_of(const sizing *z, unsigned n)
{
    pl_size_limits l = { .glue_ups_per_level = n };

    for (int t = 0; t < PL_NSIZE_TESTS; t++) {
        pl_size_test test = z->aim->ntest > 1 ? (pl_size_test)t : PL_SIZE_PAIR;

        l.miss[t] = 1 - found(z, n, test, PL_SIZE_AS_GIVEN).chance;
        l.least[t] = z->aim->error_df(z->q, n) > 0 ? z->aim->least(z->q, n, test, z->sd) : NAN;
    }
    return l;
}

/* ---------------------------------------------------------------- the table --- */

static bool wanted_row(const pl_size_question *q, const pl_size_answer *w, unsigned n)
{
    unsigned step = q->step ? q->step : 1;

    if (n % step)
        return false;
    if (n / step <= 12 || n == q->glue_ups_per_level)
        return true;
    for (int t = 0; t < PL_NSIZE_TESTS; t++)
        for (int b = 0; b < PL_NSIZE_BASES; b++)
            if (n == w->need_at[t][b])
                return true;
    return n % (n <= 30 ? 2 : n <= 100 ? 10 : n <= 1000 ? 50 : 1000) == 0;
}

/* Every number to 12, then wider steps, each need and the number asked about;
 * up to the largest of them, or the cap when some need lies beyond it. */
static pl_code fill_table(pl_arena *a, const sizing *z, pl_size_answer *w, pl_diags *d)
{
    const pl_size_question *q = z->q;
    unsigned first = least_n(z), last = pl_size_whole(q, 12);

    last = q->glue_ups_per_level > last ? q->glue_ups_per_level : last;

    for (int b = 0; b < PL_NSIZE_BASES; b++) {
        unsigned n = w->need_at[PL_SIZE_OVERALL][b], m = w->need_at[PL_SIZE_PAIR][b];

        last = n > last ? n : last;
        last = m > last ? m : last;
    }
    if (!w->need_at[PL_SIZE_OVERALL][PL_SIZE_AS_GIVEN])
        last = q->cap > last ? q->cap : last;
    for (unsigned n = first; n <= last; n++)
        w->nrow += wanted_row(q, w, n);
    w->table = PL_NEWN(a, w->nrow, pl_size_row);
    if (!w->table)
        return pl_nomem(d);
    for (unsigned n = first, i = 0; n <= last; n++)
        if (wanted_row(q, w, n))
            w->table[i++] = row_of(z, n);
    return PL_OK;
}

static const pl_size_row *find_row(const pl_size_answer *w, unsigned n)
{
    for (size_t i = 0; n && i < w->nrow; i++)
        if (w->table[i].glue_ups_per_level == n)
            return &w->table[i];
    return NULL;
}

/* Limits need no doubt about the scatter. */
static sizing plain_sizing(const pl_size_question *q)
{
    return (sizing){ .q = q,
                     .aim = pl_size_aim_of(q),
                     .sd = pl_size_sd(q),
                     .doubt = { .upper = NAN, .lower = NAN } };
}

pl_code pl_size_limits_at(const pl_size_question *q, unsigned n, pl_size_limits *out,
                          pl_diags *diags)
{
    pl_code rc = check(q, diags);
    sizing z = plain_sizing(q);

    if (!rc)
        *out = limits_of(&z, n);
    return rc;
}

static void find_needs(const sizing *z, pl_size_answer *w)
{
    for (int b = 0; b < PL_NSIZE_BASES; b++) {
        unsigned pair = smallest_enough(z, PL_SIZE_PAIR, (pl_size_basis)b);

        w->need_at[PL_SIZE_PAIR][b] = w->need_at[PL_SIZE_OVERALL][b] = pair;
        if (z->aim->ntest > 1)
            w->need_at[PL_SIZE_OVERALL][b] = smallest_enough(z, PL_SIZE_OVERALL, (pl_size_basis)b);
    }
}

/* ------------------------------------------------------- the whole course --- */

#define POINTS 60u /* of a course, at most, beside the number that is made */

/* As far as is worth looking: past what is enough, and what is made. */
static unsigned course_end(const sizing *z, unsigned made)
{
    unsigned need = smallest_enough(z, PL_SIZE_OVERALL, PL_SIZE_AS_GIVEN);
    unsigned most = need > made ? need : made, end = most + most / 2;

    if (!need)
        end = end > 30 ? end : 30;
    end = end < 10 ? 10 : end;
    return end < z->q->cap ? end : z->q->cap;
}

static void add_point(const sizing *z, unsigned n, pl_chances *c)
{
    c->per_level[c->n] = n;
    c->chance[c->n] = smaller(z, at_sd(z, n, PL_SIZE_OVERALL, z->sd));
    c->low[c->n] = smaller(z, at_sd(z, n, PL_SIZE_OVERALL, z->doubt.upper));
    c->high[c->n] = smaller(z, at_sd(z, n, PL_SIZE_OVERALL, z->doubt.lower));
    c->n += isfinite(c->chance[c->n]);
}

pl_code pl_size_chances(pl_arena *a, const pl_size_question *q, unsigned made,
                        const pl_chances **out, pl_diags *d)
{
    pl_code rc = check(q, d);
    sizing z = plain_sizing(q);
    unsigned first, last, step;
    pl_chances *c;

    *out = NULL;
    if (!rc)
        rc = pl_size_doubt_of(a, q, &z.doubt, d);
    if (rc)
        return rc;
    if (!(c = PL_NEW(a, pl_chances)))
        return pl_nomem(d);
    first = least_n(&z);
    last = course_end(&z, made);
    step = (last - first) / POINTS + 1;
    c->asked = pl_size_asks(a, q);
    c->scatter = pl_size_scatter_words(a, q);
    c->glue_ups_per_level = made;
    c->enough = 1 - q->miss_at_most;
    c->per_level = PL_NEWN(a, POINTS + 2, double);
    c->chance = PL_NEWN(a, POINTS + 2, double);
    c->low = PL_NEWN(a, POINTS + 2, double);
    c->high = PL_NEWN(a, POINTS + 2, double);
    if (!c->asked || !c->scatter || !c->per_level || !c->chance || !c->low || !c->high)
        return pl_nomem(d);
    for (unsigned n = first; n <= last; n += step) {
        add_point(&z, n, c);
        if (n < made && made < n + step && made <= last)
            add_point(&z, made, c);
    }
    *out = c->n ? c : NULL;
    return PL_OK;
}

pl_code pl_size_find(pl_arena *a, const pl_size_question *q, const pl_size_answer **out,
                     pl_diags *diags)
{
    pl_code rc = check(q, diags);
    sizing z = plain_sizing(q);
    weighing weighed = { .of = LOOKS };
    pl_size_answer *w;
    unsigned asked, *need;

    if (!rc)
        rc = pl_size_doubt_of(a, q, &z.doubt, diags);
    if (rc)
        return rc;
    z.weighing = &weighed;
    if (!(w = PL_NEW(a, pl_size_answer)))
        return pl_nomem(diags);
    w->sd = z.sd;
    w->sd_upper = z.doubt.upper;
    find_needs(&z, w);
    if ((rc = fill_table(a, &z, w, diags)))
        return rc;
    need = w->need_at[PL_SIZE_OVERALL];
    w->need = find_row(w, need[PL_SIZE_AS_GIVEN]);
    w->advised = q->from == PL_SCATTER_KNOWN ? w->need : find_row(w, need[PL_SIZE_AT_UPPER]);
    asked = q->glue_ups_per_level ? q->glue_ups_per_level : need[PL_SIZE_AS_GIVEN];
    w->limits = limits_of(&z, asked ? asked : q->cap);
    w->stopped = weighed.stopped;
    *out = w;
    return PL_OK;
}
