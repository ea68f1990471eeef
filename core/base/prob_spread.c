/* What studentised maxima have in common: the mean of a tail over the estimated
 * standard deviation, the chance between two normal points, and the root of a
 * tail. The maxima themselves are in prob_range.c and prob_dunnett.c. */
#include <float.h>
#include <math.h>

#include "base/prob.h"
#include "base/prob_inner.h"

#define PART_LEFT 1e-15  /* of the sum, where it is cut */
#define STEP_LOSS 32.0   /* trapezoid error e^-32 = 1e-14 */
#define NODES_EMPTY 100  /* the start is nearer to the peak than this */
#define NODES_MOST 20000 /* far more than df = 0.1 takes */

/* The density of v = ln(chi/sqrt(df)) is sqrt(2k/pi) e^(-stirling(k)) times
 * exp(-k (e^(2v) - 1 - 2v)), k = df/2. Its Fourier transform at 2y is Gamma(k + iy)/Gamma(k)
 * but for a phase, so the trapezoid rule with step pi/y errs by e^-E,
 * E = y atan(y/k) - (k - 1/2)/2 ln(1 + y^2/k^2); dE/dy is nearly atan(y/k). */
static double step_for(double k)
{
    double y = 8 * sqrt(k) + 16;

    for (int i = 0; i < 6; i++) {
        double u = y / k;

        y -= (y * atan(u) - (k - 0.5) / 2 * log1p(u * u) - STEP_LOSS) / atan(u);
    }
    return M_PI / y;
}

double pl_s_density(double df, double s)
{
    const double k = df / 2, v = log(s);

    return sqrt(2 * k / M_PI) * exp(-pl_stirling(k) - k * (expm1(2 * v) - 2 * v)) / s;
}

/* Times a tail of the kinds met here the density has one peak, and falls off on both
 * sides at least as e^(df v). */
double pl_over_spread(double df, pl_spread_f *f, void *ctx, double start, double extra)
{
    const double k = df / 2, h = isinf(df) ? 0 : step_for(k + extra / 2);
    double sum = 0;

    if (isinf(df))
        return f(ctx, 1);
    for (int side = 0; side < 2; side++) {
        double last = -1, term = 0;

        for (int i = side; i < NODES_MOST; i++) {
            double v = start + (side ? -h * i : h * i);

            term = f(ctx, exp(v)) * exp(-k * (expm1(2 * v) - 2 * v));
            sum += term;
            /* what follows is at most term r/(1 - r), r = term/last */
            if (term < last && term * term <= PART_LEFT * sum * (last - term))
                break;
            if (term <= 0 &&
                (sum > 0 || i > NODES_EMPTY)) /* underflow beyond the peak, or all over */
                break;
            last = term;
        }
    }
    return sum * h * sqrt(2 * k / M_PI) * exp(-pl_stirling(k));
}

/* Gauss-Legendre, 10 points on (-1, 1): positive nodes and weights (DLMF 3.5). */
static const double gl_at[5] = { 0.14887433898163121088, 0.43339539412924719080,
                                 0.67940956829902440623, 0.86506336668898451073,
                                 0.97390652851717172008 },
                    gl_weight[5] = { 0.29552422471475287017, 0.26926671930999635509,
                                     0.21908636251598204400, 0.14945134915058059315,
                                     0.06667134430868813759 };
#define NARROW 0.6 /* below it a difference of two tails loses digits */

double pl_normal_between(double at, double half)
{
    double u = fabs(at), sum = 0;

    if (2 * half > NARROW)
        return u < half ? 1 - pl_normal_upper(half - u) - pl_normal_upper(half + u)
                        : pl_normal_upper(u - half) - pl_normal_upper(u + half);
    for (int i = 0; i < 5; i++) {
        double x = half * gl_at[i];

        sum += gl_weight[i] * exp(-x * x / 2) * cosh(u * x);
    }
    return sum * 2 * half * exp(-u * u / 2) / sqrt(2 * M_PI);
}

double pl_solve_log(pl_tail_f *f, void *ctx, double target, double start, bool falling)
{
    double low = 0, high = INFINITY, x = start, before = NAN, excess_before = NAN;

    for (int i = 0; i < 200; i++) {
        double excess = log(f(ctx, x)) - log(target), slope, next;

        if (falling ? excess > 0 : excess < 0)
            low = x;
        else
            high = x;
        slope = (excess - excess_before) / (log(x) - log(before));
        next = x * exp(-excess / slope);
        if (isnan(next) || !(falling ? slope < 0 : slope > 0)) /* the first step, or a flat one */
            next = x * (1 + (((excess > 0) == falling) ? 0.02 : -0.02));
        if (!(next > low && next < high))
            next = isinf(high) ? 2 * x : low > 0 ? sqrt(low * high) : high / 4;
        before = x;
        excess_before = excess;
        x = next;
        if (fabs(x - before) <= 1e-13 * x)
            break;
    }
    return x;
}
