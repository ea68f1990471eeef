/* Noncentral F, chi-square and t: both tails by sums of positive terms, a
 * negative side of t by an integral of one sign. Formulas and their derivation:
 * docs/methods/probability.md; Johnson, Kotz & Balakrishnan 1995, Continuous
 * Univariate Distributions 2, 2nd ed., ch. 29 to 31. */
#include "base/prob.h"

#include <float.h>
#include <math.h>

#include "base/prob_inner.h"

/* A tail below this comes as it is, or as 0, without a promise. */
#define TAIL_LEAST PL_TAIL_LEAST
#define PART_LEFT 1e-17 /* of a sum, left out at each end of it */

/* Poisson weights w_j = m^(j+s) e^-m / Gamma(j+s+1) over a ladder. */
typedef struct mixture {
    pl_ladder L;
    double m, s;
} mixture;

/* Where the weights times the ladder's T are largest, as a real number >= 0:
 * m (alpha + beta j) = (j + s + 1)(a + j + 1). */
static double peak(const mixture *M)
{
    double a = M->L.a, B = M->s + a + 2 - M->m * M->L.beta;
    double C = (M->s + 1) * (a + 1) - M->m * M->L.alpha;

    return C >= 0 ? 0 : 2 * -C / (B + sqrt(B * B - 4 * C));
}

/* Ends of the sum lie this far from its peak: 8.6 standard deviations of a
 * Poisson count, and its skewness. */
static double reach(double at, double widen)
{
    return widen * (8.6 * sqrt(at + 1) + 13);
}

static pl_real finish(double sum, pl_scaled w, double log_T, double steps)
{
    /* in two halves: the end of the sum may be far smaller than its peak */
    double half = exp((w.log + log_T) / 2), value = sum * w.factor * half * half;

    /* three roundings a step, each end's logs, the fraction; measured in
     * tests/base/test_prob.c to hold everywhere */
    return (pl_real){ value, value < TAIL_LEAST ? 1
                                                : DBL_EPSILON * (16 + 2 * steps + 2 * fabs(w.log) +
                                                                 2 * fabs(log_T)) };
}

/* Sum of w_j (1 - I_j). Begins low, where the tail is known to full accuracy, and
 * goes up, where 1 - I_(j+1) = 1 - I_j + T_j adds. What lies below the
 * beginning is at most d r/(1-r), d its first term and r the ratio there,
 * because w_j (1 - I_j) is log-concave in j. */
static pl_real mixture_upper(const mixture *M)
{
    const pl_ladder *L = &M->L;
    double m = M->m, s = M->s, top = fmax(m - s, peak(M));

    for (double widen = 1;; widen *= 2) {
        double first = fmax(0, floor(top - reach(top, widen))), j = first;
        pl_rung r = pl_ladder_upper(L, first);
        double d = r.tail, v = r.step, sum = 0, left = 0;

        for (;; j++) {
            double up = m / (j + s + 1), next = up * (d + v);

            sum += d;
            if (j == first && first > 0)
                left = d * d / (next - d);
            if (d <= PART_LEFT * sum && next < d && next * d <= PART_LEFT * sum * (d - next))
                break;
            v *= up * (L->alpha + L->beta * j) / (L->a + j + 1);
            d = next;
        }
        if (first <= 0 || (left >= 0 && left <= 10 * PART_LEFT * sum))
            return finish(sum, pl_poisson(first + s, m), r.log, j - first);
    }
}

/* Sum of w_j I_j. Begins high and goes down, where I_j = I_(j+1) + T_j adds. */
static pl_real mixture_lower(const mixture *M)
{
    const pl_ladder *L = &M->L;
    double m = M->m, s = M->s, top = fmax(0, fmin(m - s, peak(M)));

    for (double widen = 1;; widen *= 2) {
        double last = ceil(top + reach(top, widen)), j = last;
        pl_rung r = pl_ladder_lower(L, last);
        double c = r.tail, u = r.step, sum = 0, left = 0;

        for (;; j--) {
            double down = (j + s) / m, next;

            sum += c;
            if (j <= 0)
                break;
            u *= down * (L->a + j) / (L->alpha + L->beta * (j - 1));
            next = down * c + u; /* u already stands at j - 1 */
            if (j == last)
                left = c * c / (next - c);
            if (c <= PART_LEFT * sum && next < c && next * c <= PART_LEFT * sum * (c - next))
                break;
            c = next;
        }
        if (left >= 0 && left <= 10 * PART_LEFT * sum)
            return finish(sum, pl_poisson(last + s, m), r.log, last - j);
    }
}

static pl_real mixture_tail(const mixture *M, bool lower)
{
    pl_rung r;

    if (M->m > 0)
        return lower ? mixture_lower(M) : mixture_upper(M);
    r = lower ? pl_ladder_lower(&M->L, 0) : pl_ladder_upper(&M->L, 0);
    return finish(r.tail, (pl_scaled){ 1, 0 }, r.log, 0);
}

static pl_code judged(const pl_real *r)
{
    /* bound 1: below TAIL_LEAST, where nothing is promised */
    return r->bound > PL_PROB_TOL && r->bound < 1 ? PL_EPREC : PL_OK;
}

static pl_code both(const mixture *M, pl_tails *out)
{
    pl_code low, up;

    out->lower = mixture_tail(M, true);
    out->upper = mixture_tail(M, false);
    low = judged(&out->lower);
    up = judged(&out->upper);
    return low ? low : up;
}

/* Outside the support, or at infinity. */
static pl_code certain(bool lower_is_one, pl_tails *out)
{
    out->lower = (pl_real){ lower_is_one ? 1 : 0, 0 };
    out->upper = (pl_real){ lower_is_one ? 0 : 1, 0 };
    return PL_OK;
}

static bool fit_lambda(double lambda)
{
    return lambda >= 0 && lambda <= PL_NONCENTRAL_MOST;
}

/* ------------------------------------------------------- F and chi-square --- */

static void f_mixture(mixture *M, double x, double df1, double df2, double lambda)
{
    M->m = lambda / 2;
    M->s = 0;
    if (isinf(df2))
        pl_ladder_gamma(&M->L, df1 / 2, df1 * x / 2);
    else
        pl_ladder_beta(&M->L, df1 / 2, df2 / 2, df1 * x, df2);
}

static bool f_fits(double x, double df1, double df2, double lambda)
{
    return !isnan(x) && df1 > 0 && isfinite(df1) && df2 > 0 && fit_lambda(lambda);
}

pl_code pl_ncf(double x, double df1, double df2, double lambda, pl_tails *out)
{
    mixture M;

    if (!f_fits(x, df1, df2, lambda))
        return PL_EDOM;
    if (x <= 0 || isinf(x))
        return certain(x > 0, out);
    f_mixture(&M, x, df1, df2, lambda);
    return both(&M, out);
}

pl_code pl_ncf_upper(double x, double df1, double df2, double lambda, pl_real *out)
{
    mixture M;

    if (!f_fits(x, df1, df2, lambda))
        return PL_EDOM;
    if (x <= 0 || isinf(x)) {
        *out = (pl_real){ x <= 0 ? 1 : 0, 0 };
        return PL_OK;
    }
    f_mixture(&M, x, df1, df2, lambda);
    *out = mixture_tail(&M, false);
    return judged(out);
}

pl_code pl_ncchisq(double x, double df, double lambda, pl_tails *out)
{
    mixture M = { .m = lambda / 2 };

    if (isnan(x) || !(df > 0) || isinf(df) || !fit_lambda(lambda))
        return PL_EDOM;
    if (x <= 0 || isinf(x))
        return certain(x > 0, out);
    pl_ladder_gamma(&M.L, df / 2, x / 2);
    return both(&M, out);
}

/* --------------------------------------------------------------------- t --- */

/* ln Phi(-z)' = -mills(z): normal density over upper tail, z > 0. */
static double mills(double z)
{
    return z < 30 ? exp(-0.5 * z * z) / (sqrt(2 * M_PI) * pl_normal_upper(z)) : z + 1 / z;
}

/* P(T > t), t > 0, with delta = -d < 0:
 *   integral of Phi(-(t e^v + d)) g(v) dv,  v = ln of chi/sqrt(df),
 *   g(v) = 2 (k^k / Gamma(k)) exp(2 k v - k e^(2v)) = sqrt(2k/pi) exp(-stirling(k)
 *          - k (e^(2v) - 1 - 2v)),  k = df/2.
 * The integrand is positive and log-concave: the peak by Newton on the
 * derivative of its log, then the trapezoid rule, whose error falls as
 * exp(-2 pi w/h) for a function analytic in |Im v| < w; w = pi/4 here and, near
 * the peak, as exp(-2 pi^2 sd^2/h^2). */
static pl_real t_against(double t, double df, double d)
{
    const double k = df / 2;
    double v = 0, curve = 1, h, sum = 0;

    for (int i = 0; i < 60; i++) {
        double e2 = exp(2 * v), z = t * exp(v), r = mills(z + d);
        double slope = 2 * k * (1 - e2) - z * r, step;

        curve = 4 * k * e2 + z * r * (1 + z * (r - z - d));
        step = slope / curve;
        v += fmin(fmax(step, -1), 1);
        if (fabs(step) < 1e-3 / sqrt(curve))
            break;
    }
    h = fmin(0.1, 0.6 / sqrt(curve));
    for (int side = 0; side < 2; side++) {
        double term = INFINITY, floor_at = 0;

        for (int i = side; term > floor_at; i++) {
            double at = v + (side ? -h * i : h * i);

            term = pl_normal_upper(t * exp(at) + d) * exp(-k * (expm1(2 * at) - 2 * at));
            sum += term;
            floor_at = sum * PART_LEFT * h; /* left tails fall as e^(df v) only */
        }
    }
    sum *= h * sqrt(2 * k / M_PI) * exp(-pl_stirling(k));
    return (pl_real){ sum, sum < TAIL_LEAST ? 1 : 4e-13 };
}

/* Both tails for t > 0, delta >= 0: half the sums over whole and over half
 * Poisson indices (Johnson, Kotz & Balakrishnan 1995, ch. 31), and below 0 the
 * normal tail beyond delta. */
static pl_real t_series(double t, double df, double delta, bool lower)
{
    mixture even = { .m = delta * delta / 2 }, odd = { .m = delta * delta / 2, .s = 0.5 };
    pl_real e, o = { 0, 0 };
    double below = lower ? pl_normal_upper(delta) : 0;

    pl_ladder_beta(&even.L, 0.5, df / 2, t, df / t);
    pl_ladder_beta(&odd.L, 1, df / 2, t, df / t);
    e = mixture_tail(&even, lower);
    if (odd.m > 0)
        o = mixture_tail(&odd, lower);
    e.value = below + (e.value + o.value) / 2;
    e.bound = e.value < TAIL_LEAST ? 1 : fmax(fmin(e.bound, 0.5), fmin(o.bound, 0.5));
    return e;
}

pl_code pl_nct(double t, double df, double delta, pl_tails *out)
{
    pl_real *up = &out->upper, *low = &out->lower;
    double u = t, d = delta;
    pl_code a, b;

    if (isnan(t) || !(df > 0) || !fit_lambda(delta * delta))
        return PL_EDOM;
    if (isinf(t))
        return certain(t > 0, out);
    if (t < 0) { /* mirror */
        u = -t;
        d = -delta;
        up = &out->lower;
        low = &out->upper;
    }
    if (isinf(df) || u <= 0) {
        double z = isinf(df) ? u - d : -d, bound = DBL_EPSILON * (4 + z * z);

        *up = (pl_real){ pl_normal_upper(z), bound };
        *low = (pl_real){ pl_normal_lower(z), bound };
    } else if (d < 0) {
        *up = t_against(u, df, -d);
        *low = (pl_real){ 1 - up->value, up->bound };
    } else {
        *up = t_series(u, df, d, false);
        *low = t_series(u, df, d, true);
    }
    a = judged(low);
    b = judged(up);
    return a ? a : b;
}
