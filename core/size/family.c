/* Two levels compared as part of a family: each level with one named beforehand,
 * or every pair. The chances without a family are in size.c. */
#include <math.h>

#include "base/prob.h"
#include "size/size.h"

double pl_size_family_point(pl_size_family f, unsigned levels, double df, double alpha)
{
    double lambda[PL_RANGE_MOST];

    if (levels < 2 || levels > PL_RANGE_MOST || !(df > 0))
        return NAN;
    if (f == PL_SIZE_ALL_PAIRS)
        return pl_range_quantile_upper(alpha, levels, df) / M_SQRT2;
    for (unsigned i = 0; i < levels; i++)
        lambda[i] = M_SQRT1_2;
    return pl_dunnett_quantile_upper(alpha, lambda, levels - 1, df, 2);
}

/* P(|T| > point), T noncentral with delta^2 = n E D^2/(2 sigma^2). */
double pl_size_family_chance(const pl_size_question *q, pl_size_family f, unsigned n)
{
    double df = pl_size_error_df(q, n), d = q->worth_noticing / pl_size_sd(q), point;
    double delta = fmin(d * sqrt(pl_size_worth(q, n) / 2), sqrt(PL_NONCENTRAL_MOST));
    pl_tails above, below;
    pl_code rc;

    point = pl_size_family_point(f, q->levels, df, q->false_alarm);
    if (isnan(point))
        return NAN;
    if ((rc = pl_nct(point, df, delta, &above)) && rc != PL_EPREC)
        return NAN;
    if ((rc = pl_nct(-point, df, delta, &below)) && rc != PL_EPREC)
        return NAN;
    return above.upper.value + below.lower.value;
}

unsigned pl_size_family_need(const pl_size_question *q, pl_size_family f)
{
    double wanted = 1 - q->miss_at_most;
    unsigned low = 1, high = q->cap;

    if (!(pl_size_family_chance(q, f, high) >= wanted))
        return 0;
    while (low < high) { /* no error to compare with counts as not enough */
        unsigned middle = low + (high - low) / 2;

        if (pl_size_family_chance(q, f, middle) >= wanted)
            high = middle;
        else
            low = middle + 1;
    }
    return pl_size_whole(q, low);
}
