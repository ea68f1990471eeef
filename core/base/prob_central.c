/* Normal, t, F and chi-square: tails and quantiles. Tails of t, F and
 * chi-square stand on prob_ladder.c; the normal ones on libm's erfc. */
#include "base/prob.h"

#include <float.h>
#include <gsl/gsl_cdf.h>
#include <math.h>

#include "base/prob_inner.h"

/* ---------------------------------------------------------------- normal --- */

double pl_normal_upper(double z)
{
    return 0.5 * erfc(z * M_SQRT1_2);
}

double pl_normal_lower(double z)
{
    return pl_normal_upper(-z);
}

double pl_normal_quantile(double p)
{
    if (!(p >= 0 && p <= 1))
        return NAN;
    return gsl_cdf_ugaussian_Pinv(p);
}

/* ----------------------------------------------------------------- tails --- */

static double ladder_tail(const pl_ladder *L, bool lower)
{
    pl_rung r = lower ? pl_ladder_lower(L, 0) : pl_ladder_upper(L, 0);

    return r.tail * exp(r.log);
}

static double chisq_tail(double x, double df, bool lower)
{
    pl_ladder L;

    if (isnan(x) || !(df > 0) || isinf(df))
        return NAN;
    if (x <= 0 || isinf(x))
        return (x <= 0) == lower ? 0 : 1;
    pl_ladder_gamma(&L, df / 2, x / 2);
    return ladder_tail(&L, lower);
}

double pl_chisq_lower(double x, double df)
{
    return chisq_tail(x, df, true);
}

double pl_chisq_upper(double x, double df)
{
    return chisq_tail(x, df, false);
}

/* x = df1 f / (df1 f + df2); an infinite df2 leaves chi-square over df1. */
static double f_tail(double f, double df1, double df2, bool lower)
{
    pl_ladder L;

    if (isnan(f) || !(df1 > 0) || !(df2 > 0) || isinf(df1))
        return NAN;
    if (f <= 0 || isinf(f))
        return (f <= 0) == lower ? 0 : 1;
    if (isinf(df2))
        return chisq_tail(df1 * f, df1, lower);
    pl_ladder_beta(&L, df1 / 2, df2 / 2, df1 * f, df2);
    return ladder_tail(&L, lower);
}

double pl_f_upper(double f, double df1, double df2)
{
    return f_tail(f, df1, df2, false);
}

double pl_f_lower(double f, double df1, double df2)
{
    return f_tail(f, df1, df2, true);
}

/* Upper tail for t >= 0, half of F(1, df) at t^2; odds t^2/df as t : df/t, which
 * cannot overflow. */
static double t_upper_positive(double t, double df)
{
    pl_ladder L;

    if (t <= 0 || isinf(t))
        return t <= 0 ? 0.5 : 0;
    if (isinf(df))
        return pl_normal_upper(t);
    pl_ladder_beta(&L, 0.5, df / 2, t, df / t);
    return 0.5 * ladder_tail(&L, false);
}

double pl_t_upper(double t, double df)
{
    if (isnan(t) || !(df > 0))
        return NAN;
    return t >= 0 ? t_upper_positive(t, df) : 1 - t_upper_positive(-t, df);
}

double pl_t_lower(double t, double df)
{
    return pl_t_upper(-t, df);
}

/* ------------------------------------------------------------- quantiles --- */

/* The odds p/q of a beta ladder, or z of a gamma one, at which a tail is
 * `target`: Newton on the log of the tail over the log of the argument, held in
 * a bracket. d tail / d ln(argument) = +-a T for both kinds. The start only has
 * to be positive. */
static double solve_tail(pl_ladder L, bool lower, double target, double start)
{
    double v = start, low = 0, high = INFINITY;

    for (int i = 0; i < 200; i++) {
        pl_rung r;
        double excess, step, before = v;

        if (L.gamma)
            pl_ladder_gamma(&L, L.a, v);
        else
            pl_ladder_beta(&L, L.a, L.b, v, 1);
        r = lower ? pl_ladder_lower(&L, 0) : pl_ladder_upper(&L, 0);
        excess = log(r.tail) + r.log - log(target);
        if (lower ? excess > 0 : excess < 0)
            high = v;
        else
            low = v;
        step = excess * (r.tail / (L.a * r.step));
        v *= exp(fmin(fmax(lower ? -step : step, -30), 30));
        if (!(v > low && v < high)) /* also when the tail ran out of range */
            v = isinf(high) ? before * 4 : low > 0 ? sqrt(low) * sqrt(high) : high / 16;
        if (fabs(v - before) <= 4 * DBL_EPSILON * v || v == 0)
            break;
    }
    return v;
}

/* Start for the gamma ladder: Wilson & Hilferty 1931, PNAS 17:684. */
static double gamma_start(double a, double tail, bool lower)
{
    double z = gsl_cdf_ugaussian_Pinv(tail), c = 1 / (9 * a);
    double w = 1 - c + (lower ? z : -z) * sqrt(c);

    return w > 0.05 ? a * w * w * w : a * 1e-3;
}

/* The smaller tail is solved for; `lower` says which one `tail` is. */
static double chisq_quantile_of(double tail, double df, bool lower)
{
    pl_ladder L;

    if (!(tail >= 0 && tail <= 1) || !(df > 0) || isinf(df))
        return NAN;
    if (tail <= 0 || tail >= 1)
        return (tail <= 0) == lower ? 0 : INFINITY;
    pl_ladder_gamma(&L, df / 2, 1);
    return 2 * solve_tail(L, lower, tail, gamma_start(df / 2, tail, lower));
}

double pl_chisq_quantile(double p, double df)
{
    return p <= 0.5 ? chisq_quantile_of(p, df, true) : chisq_quantile_of(1 - p, df, false);
}

/* Start for the beta ladder: the gamma start on df1, scaled as if the
 * denominator stood at its mean. */
static double f_odds(double a, double b, double tail, bool lower)
{
    pl_ladder L;

    pl_ladder_beta(&L, a, b, 1, 1);
    return solve_tail(L, lower, tail, gamma_start(a, tail, lower) / b);
}

double pl_f_quantile_upper(double alpha, double df1, double df2)
{
    if (!(alpha >= 0 && alpha <= 1) || !(df1 > 0) || !(df2 > 0) || isinf(df1))
        return NAN;
    if (alpha <= 0 || alpha >= 1)
        return alpha <= 0 ? INFINITY : 0;
    if (isinf(df2))
        return chisq_quantile_of(alpha, df1, false) / df1;
    return f_odds(df1 / 2, df2 / 2, alpha, false) * (df2 / df1);
}

/* |t| has F(1, df) at its square; 1 - 2p is exact near the middle, where the
 * lower tail of F is the small one. */
double pl_t_quantile(double p, double df)
{
    double tail = p < 0.5 ? p : 1 - p, size;

    if (!(p >= 0 && p <= 1) || !(df > 0))
        return NAN;
    if (tail <= 0 || tail >= 0.5) /* both ends and the middle */
        return tail > 0 ? 0 : p < 0.5 ? -INFINITY : INFINITY;
    if (isinf(df))
        return pl_normal_quantile(p);
    size = tail < 0.25 ? f_odds(0.5, df / 2, 2 * tail, false)
                       : f_odds(0.5, df / 2, fabs(1 - 2 * p), true);
    size = sqrt(size) * sqrt(df);
    return p < 0.5 ? -size : size;
}
