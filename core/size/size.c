/* From a question to a table of chances and the smallest number that is enough.
 * The chances themselves are in power.c, the words in words.c. */
#include "size/size.h"

#include <math.h>

#include "size/power.h"

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
                             .upper_confidence = 0.8 };
}

/* ------------------------------------------------------------- the layout --- */

double pl_size_error_df(const pl_size_question *q, unsigned n)
{
    double units = (double)n * q->levels, blocks = 1;

    if (q->block_size)
        blocks = ceil(units / q->block_size);
    return q->groups * (units - blocks - (q->levels - 1.0));
}

double pl_size_efficiency(const pl_size_question *q)
{
    double v = q->levels, k = q->block_size;

    return !q->block_size || k >= v ? 1 : v * (k - 1) / (k * (v - 1));
}

double pl_size_sd(const pl_size_question *q)
{
    double b = q->between_glue_ups, w = q->within;

    return isnan(b) || isnan(w) ? q->sd : sqrt(b * b + w * w / q->specimens_per_glue_up);
}

/* ------------------------------------------------------------ the question --- */

static pl_code refuse(pl_diags *d, const char *what, const char *expected)
{
    return pl_fail(d, PL_EDOM, "size", .found = what, .expected = expected);
}

static void check_scatter(const pl_size_question *q, pl_diags *d)
{
    if (!(pl_size_sd(q) > 0) || isinf(pl_size_sd(q)))
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
    size_t before = d->count;
    bool out_before = d->out_of_memory;

    if (q->levels < 2 || q->levels > 10000)
        refuse(d, "fewer than 2 levels, or more than 10000", "2 or more levels to compare");
    if (q->groups < 1)
        refuse(d, "no group", "1 or more groups of levels");
    if (q->specimens_per_glue_up < 1)
        refuse(d, "no specimen in a glue-up", "1 or more");
    if (!(q->worth_noticing > 0) || isinf(q->worth_noticing))
        refuse(d, "a difference worth noticing that is no number above 0", "a difference above 0");
    if (!(q->miss_at_most > 0 && q->miss_at_most < 1))
        refuse(d, "a chance of missing outside 0 to 1", "a chance, such as 1 in 10");
    if (!(q->false_alarm > 0 && q->false_alarm < 1))
        refuse(d, "a chance of a false alarm outside 0 to 1", "a chance, such as 1 in 20");
    else if (q->miss_at_most > 0 && q->miss_at_most >= 1 - q->false_alarm)
        refuse(d, "a chance of missing that needs no specimen", "less than 1 - false alarm");
    if (q->cap < 2 || q->cap > 1000000)
        refuse(d, "a cap outside 2 to 1000000", "2 or more glue-ups per level");
    check_scatter(q, d);
    if (d->out_of_memory && !out_before)
        return PL_ENOMEM;
    if (d->count > before)
        return PL_EDOM;
    if (!(pl_size_efficiency(q) > 0))
        return pl_fail(d, PL_EUNFIT, "size", .found = "blocks of one glue-up each",
                       .expected = "2 or more in a block",
                       .mend = "levels can only be compared within a block that holds several");
    if (!(pl_size_error_df(q, q->cap) > 0))
        return pl_fail(d, PL_EUNFIT, "size", .found = "no repeats within the cap",
                       .expected = "enough glue-ups to see how much equal ones differ");
    return PL_OK;
}

/* --------------------------------------------------------------- chances --- */

typedef struct sizing {
    const pl_size_question *q;
    double sd, sd_upper;
} sizing;

static double df_of(const sizing *z, pl_size_test test)
{
    return test == PL_SIZE_PAIR ? 1 : z->q->levels - 1.0;
}

/* n D^2 / (2 sigma^2), less what the blocks take. */
static double lambda_of(const sizing *z, unsigned n, double sd)
{
    double d = z->q->worth_noticing / sd;

    return fmin(n * pl_size_efficiency(z->q) * d * d / 2, PL_NONCENTRAL_MOST);
}

static double chance(const sizing *z, unsigned n, pl_size_test test, pl_size_basis basis)
{
    const pl_size_question *q = z->q;
    double df1 = df_of(z, test), df2 = pl_size_error_df(q, n), sd = z->sd, mean = NAN;
    pl_real p = { NAN, 0 };

    if (!(df2 > 0))
        return NAN;
    if (basis == PL_SIZE_ASSURED) {
        if (q->from == PL_SCATTER_PILOT)
            pl_assurance_ftest(df1, df2, lambda_of(z, n, sd), q->false_alarm, q->sd_df, &mean,
                               NULL);
        return mean;
    }
    if (basis == PL_SIZE_AT_UPPER)
        sd = z->sd_upper;
    if (isnan(sd))
        return NAN;
    pl_power_ftest(df1, df2, lambda_of(z, n, sd), q->false_alarm, &p, NULL);
    return p.value;
}

static pl_size_row row_of(const sizing *z, unsigned n)
{
    const pl_size_question *q = z->q;
    pl_size_row r = { .glue_ups_per_level = n, .specimens_per_glue_up = q->specimens_per_glue_up };

    r.glue_ups = (size_t)n * q->levels * q->groups;
    r.specimens = r.glue_ups * q->specimens_per_glue_up;
    r.error_df = pl_size_error_df(q, n);
    for (int t = 0; t < PL_NSIZE_TESTS; t++)
        for (int b = 0; b < PL_NSIZE_BASES; b++)
            r.chance[t][b] = chance(z, n, (pl_size_test)t, (pl_size_basis)b);
    return r;
}

/* Smallest number with an error to compare with. */
static unsigned least_n(const pl_size_question *q)
{
    unsigned n = 2;

    while (n < q->cap && !(pl_size_error_df(q, n) > 0))
        n++;
    return n;
}

/* Chances grow with n: bisection. 0 when the cap is not enough. */
static unsigned smallest_enough(const sizing *z, pl_size_test test, pl_size_basis basis)
{
    double wanted = 1 - z->q->miss_at_most;
    unsigned low = least_n(z->q), high = z->q->cap;

    if (!(chance(z, high, test, basis) >= wanted))
        return 0;
    while (low < high) {
        unsigned middle = low + (high - low) / 2;

        if (chance(z, middle, test, basis) >= wanted)
            high = middle;
        else
            low = middle + 1;
    }
    return low;
}

static pl_size_limits limits_of(const sizing *z, unsigned n)
{
    pl_size_limits l = { .glue_ups_per_level = n };
    double df2 = pl_size_error_df(z->q, n);

    for (int t = 0; t < PL_NSIZE_TESTS; t++) {
        double lambda = pl_power_lambda(df_of(z, (pl_size_test)t), df2, z->q->false_alarm,
                                        1 - z->q->miss_at_most);

        l.miss[t] = 1 - chance(z, n, (pl_size_test)t, PL_SIZE_AS_GIVEN);
        l.least[t] = z->sd * sqrt(2 * lambda / (n * pl_size_efficiency(z->q)));
    }
    return l;
}

/* ---------------------------------------------------------------- the table --- */

static bool wanted_row(const pl_size_question *q, const pl_size_answer *w, unsigned n)
{
    if (n <= 12 || n == q->glue_ups_per_level)
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
    unsigned first = least_n(q), last = q->glue_ups_per_level > 12 ? q->glue_ups_per_level : 12;

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

static sizing sizing_of(const pl_size_question *q)
{
    sizing z = { .q = q, .sd = pl_size_sd(q), .sd_upper = NAN };

    if (q->from == PL_SCATTER_PILOT)
        z.sd_upper = pl_sd_upper_limit(z.sd, q->sd_df, q->upper_confidence);
    else if (q->from == PL_SCATTER_GUESSED)
        z.sd_upper = z.sd * (q->sd_high / q->sd);
    return z;
}

pl_code pl_size_limits_at(const pl_size_question *q, unsigned n, pl_size_limits *out,
                          pl_diags *diags)
{
    pl_code rc = check(q, diags);
    sizing z = sizing_of(q);

    if (!rc)
        *out = limits_of(&z, n);
    return rc;
}

pl_code pl_size_difference(pl_arena *a, const pl_size_question *q, const pl_size_answer **out,
                           pl_diags *diags)
{
    pl_code rc = check(q, diags);
    sizing z = sizing_of(q);
    pl_size_answer *w;
    unsigned asked, *need;

    if (rc)
        return rc;
    if (!(w = PL_NEW(a, pl_size_answer)))
        return pl_nomem(diags);
    w->sd = z.sd;
    w->sd_upper = z.sd_upper;
    for (int t = 0; t < PL_NSIZE_TESTS; t++)
        for (int b = 0; b < PL_NSIZE_BASES; b++)
            w->need_at[t][b] = smallest_enough(&z, (pl_size_test)t, (pl_size_basis)b);
    if ((rc = fill_table(a, &z, w, diags)))
        return rc;
    need = w->need_at[PL_SIZE_OVERALL];
    w->need = find_row(w, need[PL_SIZE_AS_GIVEN]);
    w->advised = q->from == PL_SCATTER_KNOWN ? w->need : find_row(w, need[PL_SIZE_AT_UPPER]);
    asked = q->glue_ups_per_level ? q->glue_ups_per_level : need[PL_SIZE_AS_GIVEN];
    w->limits = limits_of(&z, asked ? asked : q->cap);
    *out = w;
    return PL_OK;
}
