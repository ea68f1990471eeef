/* Incomplete beta and gamma functions, each tail with its own relative
 * accuracy, and the recursion terms that go with them. Distributions by name
 * are in prob_central.c and prob_noncentral.c. */
#include "base/prob_inner.h"

#include <float.h>
#include <math.h>

/* ------------------------------------------------------ log-free pieces --- */

/* Remainders at z = 1/2, 1, 3/2 ... 8, where the series below is too short:
 * loggamma(z) - ((z - 1/2) ln z - z + ln(2 pi)/2) at 40 digits with mpmath. */
static const double stirling_half[17] = {
    0,
    0.15342640972002734529,
    0.08106146679532725822,
    0.054814121051917653896,
    0.041340695955409294094,
    0.033162873519936287485,
    0.027677925684998339149,
    0.023746163656297495971,
    0.020790672103765093112,
    0.018488450532673185231,
    0.016644691189821192163,
    0.015134973221917378874,
    0.013876128823070747999,
    0.012810465242920226924,
    0.011896709945891770095,
    0.011104559758206917327,
    0.010411265261972096497,
};

/* DLMF 5.11.1: B_2k / (2k (2k-1) z^(2k-1)). At z = 8 the first term left out is
 * 8e-17. Below, z is raised by one until it is there. */
double pl_stirling(double z)
{
    double shifted = 0, w;

    if (z <= 8 && 2 * z == floor(2 * z))
        return stirling_half[(int)(2 * z)];
    while (z < 8) {
        shifted += (z + 0.5) * log1p(1 / z) - 1;
        z += 1;
    }
    w = 1 / (z * z);
    return shifted +
           (1.0 / 12 +
            w * (-1.0 / 360 +
                 w * (1.0 / 1260 +
                      w * (-1.0 / 1680 +
                           w * (1.0 / 1188 + w * (-691.0 / 360360 +
                                                  w * (1.0 / 156 - w * (3617.0 / 122400)))))))) /
               z;
}

/* Near M = mu by ln(M/mu) = 2 atanh(v), v = (M - mu)/(M + mu), which leaves
 * diff v + 2 M (v^3/3 + v^5/5 + ...) without cancellation. The idea of keeping
 * this difference whole is Loader's (2000, "Fast and accurate computation of
 * binomial probabilities"). */
double pl_deviance(double M, double mu, double diff)
{
    if (M <= 0)
        return mu;
    if (fabs(diff) < 0.1 * (M + mu)) {
        double v = diff / (M + mu), v2 = v * v, power = v * v2, sum = 0, before;
        int k = 3;

        do {
            before = sum;
            sum += power / k;
            power *= v2;
            k += 2;
        } while (sum != before);
        return diff * v + 2 * M * sum;
    }
    return M * log(M / mu) - diff;
}

pl_scaled pl_poisson(double k, double m)
{
    if (k <= 0)
        return (pl_scaled){ 1, -m };
    return (pl_scaled){ 1 / sqrt(2 * M_PI * k), -pl_stirling(k) - pl_deviance(k, m, k - m) };
}

/* -------------------------------------------------------------- ladders --- */

void pl_ladder_beta(pl_ladder *L, double a, double b, double p, double q)
{
    double sum = p + q;

    *L = (pl_ladder){ .a = a, .b = b, .p = p, .q = q, .x = p / sum, .y = q / sum };
    L->alpha = L->x * (a + b);
    L->beta = L->x;
}

void pl_ladder_gamma(pl_ladder *L, double a, double z)
{
    *L = (pl_ladder){ .gamma = true, .a = a, .z = z, .alpha = z };
}

pl_scaled pl_ladder_step(const pl_ladder *L, double j)
{
    double a = L->a + j, b = L->b, n = a + b, diff;

    if (L->gamma)
        return (pl_scaled){ 1 / sqrt(2 * M_PI * a),
                            -pl_stirling(a) - pl_deviance(a, L->z, a - L->z) };
    diff = a * L->y - b * L->x; /* a - n x = n y - b */
    return (pl_scaled){ sqrt(b / (2 * M_PI * a * n)),
                        pl_stirling(n) - pl_stirling(a) - pl_stirling(b) -
                            pl_deviance(a, n * L->x, diff) - pl_deviance(b, n * L->y, -diff) };
}

/* The fraction of gamma by Lentz's forward rule, that of beta by its convergents; a pivot of 0 is
 * moved by as little as changes nothing else (Thompson & Barnett 1986, J. Comput. Phys. 64:490). */
#define TINY_PIVOT 1e-290
#define LARGE 0x1p256
#define FRACTION_MOST 100000 /* grows as sqrt(a); reached at a near 1e9 */

static double pivot(double v)
{
    return fabs(v) < TINY_PIVOT ? TINY_PIVOT : v;
}

/* I_x(a, b) / T, x not above the mean: even part of DLMF 8.17.22, two of its
 * steps in one,
 *   a / (e_1 + d_2/(e_2 + d_3/(e_3 + ...))),
 *   d_(m+1) = (a+m-1)(a+b+m-1) m (b-m) x^2 / (a+2m-1)^2
 *   e_(m+1) = m + m (b-m) x/(a+2m-1) + (a+m)(a - (a+b)x + 1 + m(1+y))/(a+2m+1). */
static double beta_fraction(double a, double b, double x, double y)
{
    /* its convergents f = A/B by their own recursion: products only, but for one division a step
     * that waits for nothing */
    double diff = a * y - b * x, r = 1 / (a + 1);
    double A = a * (diff + 1) * r, B = 1, A1 = 1, B1 = 0;

    for (int m = 1; m < FRACTION_MOST; m++) {
        double u = x * r, mb = m * (b - m), d = (a + m - 1) * (a + b + m - 1) * mb * u * u, e, A2,
               B2;

        r = 1 / (a + 2 * m + 1);
        e = m + mb * u + (a + m) * (diff + 1 + m * (1 + y)) * r;
        A2 = e * A + d * A1;
        B2 = e * B + d * B1;
        if (fabs(A2 * B - A * B2) < 2 * DBL_EPSILON * fabs(A * B2)) {
            A = A2;
            B = B2;
            break;
        }
        A1 = A;
        B1 = B;
        A = A2;
        B = B2;
        if (fabs(A) > LARGE) { /* A B stays in range, and what is left of both matters only */
            A /= LARGE;
            B /= LARGE;
            A1 /= LARGE;
            B1 /= LARGE;
        }
    }
    return a * B / A;
}

/* P(a, z) / T for z < a + 1: DLMF 8.7.1, positive terms. */
static double gamma_series(double a, double z)
{
    double term = 1, sum = 1;

    for (int i = 1; term > sum * DBL_EPSILON / 4; i++) {
        term *= z / (a + i);
        sum += term;
    }
    return sum;
}

/* Q(a, z) / T for z >= a + 1: DLMF 8.9.2, even part. */
static double gamma_fraction(double a, double z)
{
    double e = z + 1 - a, f = pivot(e), C = f, D = 0;

    for (int m = 1; m < FRACTION_MOST; m++) {
        double d = m * (a - m), ratio;

        e += 2;
        D = 1 / pivot(e + d * D);
        C = pivot(e + d / C);
        ratio = C * D;
        f *= ratio;
        if (fabs(ratio - 1) < 2 * DBL_EPSILON)
            break;
    }
    return a / f;
}

/* The smaller tail comes as a multiple of T; the larger one as 1 less it. */
static bool lower_is_small(const pl_ladder *L, double a)
{
    return L->gamma ? L->z < a + 1 : L->x * (a + L->b + 2) < a + 1;
}

static double small_tail(const pl_ladder *L, double a, bool lower)
{
    if (L->gamma)
        return lower ? gamma_series(a, L->z) : gamma_fraction(a, L->z);
    /* the upper one is I_y(b, a), whose own T is a/b times ours */
    return lower ? beta_fraction(a, L->b, L->x, L->y)
                 : a / L->b * beta_fraction(L->b, a, L->y, L->x);
}

static pl_rung rung(const pl_ladder *L, double j, bool lower)
{
    double a = L->a + j;
    bool low_small = lower_is_small(L, a);
    double tail = small_tail(L, a, low_small);
    pl_scaled T = pl_ladder_step(L, j);

    if (low_small == lower)
        return (pl_rung){ T.factor * tail, T.factor, T.log };
    T.factor *= exp(T.log);
    return (pl_rung){ 1 - T.factor * tail, T.factor, 0 };
}

pl_rung pl_ladder_lower(const pl_ladder *L, double j)
{
    return rung(L, j, true);
}

pl_rung pl_ladder_upper(const pl_ladder *L, double j)
{
    return rung(L, j, false);
}
