/* Widths of intervals on Student's t and chi-square. Which interval a study needs is said in
 * the files of the aims. */
#include "size/precision.h"

#include <math.h>

#include "base/prob.h"

double pl_half_width(double df, double v, double confidence)
{
    if (!(df > 0) || !(v > 0) || !(confidence > 0 && confidence < 1))
        return NAN;
    return -pl_t_quantile((1 - confidence) / 2, df) * sqrt(v);
}

double pl_mean_s(double df)
{
    if (!(df > 0))
        return NAN;
    return isinf(df) ? 1 : sqrt(2 / df) * exp(lgamma((df + 1) / 2) - lgamma(df / 2));
}

double pl_s_chance(double df, double ratio)
{
    if (!(df > 0) || isnan(ratio))
        return NAN;
    if (isinf(df))
        return ratio >= 1;
    return ratio > 0 ? pl_chisq_lower(df * ratio * ratio, df) : 0;
}

double pl_half_width_chance(double df, double v, double confidence, double h)
{
    return pl_s_chance(df, h / pl_half_width(df, v, confidence));
}

double pl_sd_within(double df, double share)
{
    return share > 0 ? pl_s_chance(df, 1 + share) - pl_s_chance(df, 1 - share) : NAN;
}

static double within_at(const void *ctx, unsigned df)
{
    return pl_sd_within(df, *(const double *)ctx);
}

unsigned pl_sd_within_df(double share, double confidence)
{
    return pl_least_n(within_at, &share, confidence, 1, 1000000);
}

double pl_normal_multiplier(double alpha, int sides, double power)
{
    double z = pl_normal_quantile(1 - alpha / sides) + pl_normal_quantile(power);

    return z * z;
}

unsigned pl_least_n(pl_of_n *f, const void *ctx, double wanted, unsigned low, unsigned high)
{
    unsigned step = 1, top = low;

    while (!(f(ctx, top) >= wanted)) {
        if (top >= high)
            return 0;
        low = top + 1;
        top = high - top < step ? high : top + step;
        step *= 2;
    }
    while (low < top) {
        unsigned middle = low + (top - low) / 2;

        if (f(ctx, middle) >= wanted)
            top = middle;
        else
            low = middle + 1;
    }
    return low;
}
