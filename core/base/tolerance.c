/* Tolerance limits on noncentral t, chi-square and the binomial. What a limit is good for is
 * the business of size and fit. */
#include "base/tolerance.h"

#include <math.h>
#include <stdbool.h>

#include "base/prob.h"
#include "base/prob_inner.h"

static bool fits(double n, double df, double content, double confidence)
{
    return n > 0 && df > 0 && content >= 0.5 && content < 1 && confidence >= 0.5 && confidence < 1;
}

/* ------------------------------------------------------------ one-sided ----- */

/* (mean - (mu - z sigma)) / (s / sqrt n) is noncentral t with delta = z sqrt n, and the limit
 * mean - k s stays below mu - z sigma when it does not pass k sqrt n. */
double pl_tolerance_above(double n, double df, double k, double z)
{
    double r = sqrt(n), delta = z * r;
    pl_tails t;
    pl_code rc;

    if (!(n > 0) || !(df > 0) || isnan(k) || isnan(z))
        return NAN;
    if (fabs(delta) > sqrt(PL_NONCENTRAL_MOST))
        delta = copysign(sqrt(PL_NONCENTRAL_MOST), delta);
    rc = pl_nct(k * r, df, delta, &t);
    return rc && rc != PL_EPREC ? NAN : t.upper.value;
}

typedef struct one_sided {
    double df, delta;
} one_sided;

static double t_above(void *ctx, double t)
{
    const one_sided *o = ctx;
    pl_tails tails;

    (void)pl_nct(t, o->df, o->delta, &tails);
    return tails.upper.value;
}

double pl_tolerance_lower(double n, double df, double content, double confidence)
{
    double r = sqrt(n), start;
    one_sided o = { .df = df };

    if (!fits(n, df, content, confidence))
        return NAN;
    o.delta = pl_normal_quantile(content) * r;
    if (o.delta * o.delta > PL_NONCENTRAL_MOST)
        return NAN;
    if (isinf(df))
        return (o.delta + pl_normal_quantile(confidence)) / r;
    if (confidence <= 0.5 && o.delta <= 0) /* the median of a central t */
        return 0;
    start = (o.delta + pl_normal_quantile(confidence)) *
            sqrt(df / pl_chisq_quantile(1 - confidence, df));
    return pl_solve_log(t_above, &o, 1 - confidence, fmax(start, 0.1), true) / r;
}

double pl_tolerance_natrella(double n, double content, double confidence)
{
    double z = pl_normal_quantile(content), g = pl_normal_quantile(confidence);
    double a = 1 - g * g / (2 * (n - 1)), b = z * z - g * g / n;

    return fits(n, n - 1, content, confidence) ? (z + sqrt(z * z - a * b)) / a : NAN;
}

double pl_tolerance_en14358(double n)
{
    return n > 1 ? (6.5 * n + 6) / (3.7 * n - 3) : NAN;
}

double pl_tolerance_basis(double n, double content)
{
    if (!(n > 1))
        return NAN;
    if (fabs(content - 0.90) < 1e-9)
        return 1.282 + exp(0.958 - 0.520 * log(n) + 3.19 / n);
    if (fabs(content - 0.99) < 1e-9)
        return 2.326 + exp(1.34 - 0.522 * log(n) + 3.87 / n);
    return NAN;
}

/* ------------------------------------------------------------ two-sided ----- */

/* r with Phi(x + r) - Phi(x - r) = content: Newton from outside, where the function is
 * concave and no step can pass the root. */
static double reach_of(double x, double content)
{
    double r = fabs(x) + pl_normal_quantile((1 + content) / 2);

    for (int i = 0; i < 60; i++) {
        double off = pl_normal_between(x, r) - content;
        double slope = (exp(-(x + r) * (x + r) / 2) + exp(-(x - r) * (x - r) / 2)) / sqrt(2 * M_PI);
        double step = off / slope;

        r -= step;
        if (fabs(step) < 1e-15 * r)
            break;
    }
    return r;
}

double pl_tolerance_howe(double n, double df, double content, double confidence)
{
    double c;

    if (!fits(n, df, content, confidence))
        return NAN;
    c = isinf(df) ? 1 : sqrt(df / pl_chisq_quantile(1 - confidence, df));
    return pl_normal_quantile((1 + content) / 2) * sqrt(1 + 1 / n) * c;
}

double pl_tolerance_weissberg(double n, double df, double content, double confidence)
{
    double c;

    if (!fits(n, df, content, confidence))
        return NAN;
    c = isinf(df) ? 1 : sqrt(df / pl_chisq_quantile(1 - confidence, df));
    return reach_of(1 / sqrt(n), content) * c;
}

/* Over the mean's place x = z/sqrt n the limits hold enough when s >= r(x) sigma / k. The
 * integrand is even and analytic: the trapezoid rule with 0.15 over |z| < 9 is exact to 1e-15. */
#define NODES 61
#define STEP 0.15

typedef struct two_sided {
    double df, reach[NODES], weight[NODES];
} two_sided;

static double not_held(void *ctx, double k)
{
    const two_sided *w = ctx;
    double sum = 0, all = 0;

    for (int i = 0; i < NODES; i++) {
        double r = w->reach[i] / k;

        sum += w->weight[i] * (isinf(w->df) ? r >= 1 : pl_chisq_lower(w->df * r * r, w->df));
        all += w->weight[i];
    }
    return sum / all;
}

double pl_tolerance_two_sided(double n, double df, double content, double confidence)
{
    two_sided w = { .df = df };

    if (!fits(n, df, content, confidence) || !(n > 1) || isinf(df))
        return NAN;
    for (int i = 0; i < NODES; i++) {
        double z = i * STEP;

        w.reach[i] = reach_of(z / sqrt(n), content);
        w.weight[i] = (i ? 2 : 1) * exp(-z * z / 2);
    }
    return pl_solve_log(not_held, &w, 1 - confidence, pl_tolerance_howe(n, df, content, confidence),
                        true);
}

/* ---------------------------------------------------------- by rank alone ----- */

/* P(at least `rank` of n lie at or below it) = I_p(rank, n - rank + 1), an F tail (DLMF 8.17). */
double pl_order_confidence(unsigned n, unsigned rank, double percentile)
{
    double a = rank, b = (double)n - rank + 1;

    if (!rank || !(percentile > 0 && percentile < 1))
        return NAN;
    if (rank > n)
        return 0;
    return pl_f_lower(percentile * b / ((1 - percentile) * a), 2 * a, 2 * b);
}

unsigned pl_order_least(unsigned rank, double percentile, double confidence)
{
    unsigned low = rank, high = rank;

    if (!rank || !(percentile > 0 && percentile < 1) || !(confidence > 0 && confidence < 1))
        return 0;
    while (pl_order_confidence(high, rank, percentile) < confidence) {
        if (high > 1000000)
            return 0;
        low = high + 1;
        high *= 2;
    }
    while (low < high) {
        unsigned middle = low + (high - low) / 2;

        if (pl_order_confidence(middle, rank, percentile) >= confidence)
            high = middle;
        else
            low = middle + 1;
    }
    return low;
}
