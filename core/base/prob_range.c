/* The studentised range, both tails to 1e-10 relative. Formulas and accuracy:
 * docs/methods/probability.md; Harter 1960, Ann. Math. Statist. 31:1122. */
#include <math.h>
#include <string.h>

#include "base/prob.h"
#include "base/prob_inner.h"

/* With z the largest of k normals and Phi = P(Z <= z),
 *
 *   P(W <= w) = k integral of phi(z) (Phi(z) - Phi(z - w))^(k-1) dz
 *   P(W > w)  = k integral of phi(z) (a^(k-1) - b^(k-1)) dz,
 *               a = Phi(z), b = a - Phi(z - w),
 *
 * both of one sign: a^n - b^n = (a - b) (a^(n-1) + a^(n-2) b + ... + b^(n-1)). The
 * trapezoid rule in z; its error falls as exp(-2 pi^2 sd^2/h^2). */

#define STEP 0.3       /* upper tail of 8 means; less for more, measured */
#define STEP_SD 0.75   /* lower tail: times 1/sqrt(k), the sd of the peak as w -> 0 */
#define Z_LEAST (-9.0) /* phi there is 1e-18 of its peak */
#define Z_MOST 36.0    /* half the widest range above PL_TAIL_LEAST, and 9 */
#define NODES 450      /* from Z_LEAST to Z_MOST with the finest step */
#define PART_LEFT 1e-16
#define SERIES_MOST 64u /* powers up to here term by term, beyond through logs */

typedef struct range {
    double q;
    unsigned k;
    double h, up;                     /* steps of the lower and the upper tail */
    double phi[NODES], Phi_at[NODES]; /* at Z_LEAST + up i; Phi_at < 0: not yet there */
} range;

static double density(double z)
{
    return exp(-z * z / 2) / sqrt(2 * M_PI);
}

static double power(double x, unsigned n)
{
    double p = 1;

    for (; n; n >>= 1, x *= x)
        if (n & 1)
            p *= x;
    return p;
}

/* a^n - (a - c)^n, 0 <= c <= a. */
static double power_lost(double a, double c, unsigned n)
{
    double b = a - c, sum = 1, from_a = 1;

    if (n > SERIES_MOST)
        return c < a ? -power(a, n) * expm1(n * log1p(-c / a)) : power(a, n);
    for (unsigned i = 1; i < n; i++) {
        from_a *= a;
        sum = sum * b + from_a;
    }
    return c * sum;
}

static double upper_term(range *R, int i, double w)
{
    double z = Z_LEAST + R->up * i;

    if (R->Phi_at[i] < 0) {
        R->Phi_at[i] = pl_normal_lower(z);
        R->phi[i] = density(z);
    }
    return R->phi[i] * power_lost(R->Phi_at[i], pl_normal_lower(z - w), R->k - 1);
}

/* One peak, at the largest of k normals for a small w, at w/2 for a large one. */
static double upper_at(void *ctx, double s)
{
    range *R = ctx;
    double w = R->q * s, sum = 0;
    int first = (int)((fmin(fmax(w / 2, 1), 27) - Z_LEAST) / R->up);

    for (int way = 1; way >= -1; way -= 2) {
        double last = 0;

        for (int i = way > 0 ? first : first - 1; i >= 0 && i < NODES; i += way) {
            double term = upper_term(R, i, w);

            sum += term;
            if (term <= last && term <= PART_LEFT * sum)
                break;
            last = term;
        }
    }
    return R->k * R->up * sum;
}

static double lower_at(void *ctx, double s)
{
    range *R = ctx;
    double w = R->q * s, sum = 0, start = fmin(w / 2, 2);

    for (int way = 1; way >= -1; way -= 2) {
        double last = 0, term = 0;

        for (int i = way > 0 ? 0 : 1;; i++) {
            double z = start + way * i * R->h;

            term = density(z) * power(pl_normal_between(z - w / 2, w / 2), R->k - 1);
            sum += term;
            if ((term <= last && term <= PART_LEFT * sum) || fabs(z) > 2 * Z_MOST)
                break;
            last = term;
        }
    }
    return R->k * R->h * sum;
}

static void range_init(range *R, double q, unsigned k)
{
    R->q = q;
    R->k = k;
    R->h = fmin(STEP, STEP_SD / sqrt(k));
    R->up = k > 8 ? STEP / (1 + 0.6 * log(k / 8.0)) : STEP;
    for (int i = 0; i < NODES; i++)
        R->Phi_at[i] = -1;
}

/* Peaks in ln s: of the upper tail where (df/2 + q^2/4) e^(2v) = df/2, of a low
 * lower one where df e^(2v) = df + k - 1. */
static double upper_tail(range *R, double df)
{
    return pl_over_spread(df, upper_at, R, -0.5 * log1p(R->q * R->q / (2 * df)),
                          R->k / 4.0 + 2 * log(R->k));
}

static double lower_tail(range *R, double df)
{
    double start = R->q < 1 ? 0.5 * log1p((R->k - 1) / df) : 0;

    return pl_over_spread(df, lower_at, R, start, R->k - 1.0);
}

static bool fits(double q, unsigned k, double df)
{
    return q >= 0 && k >= 2 && k <= PL_RANGE_MOST && df > 0;
}

static pl_real real_of(double tail)
{
    return (pl_real){ fmin(tail, 1), tail < PL_TAIL_LEAST ? 1 : PL_MAXIMA_TOL };
}

pl_code pl_range_upper(double q, unsigned k, double df, pl_real *out)
{
    range R;

    if (!fits(q, k, df))
        return PL_EDOM;
    if (q <= 0 || isinf(q)) {
        *out = (pl_real){ q <= 0 ? 1 : 0, 0 };
        return PL_OK;
    }
    range_init(&R, q, k);
    *out = real_of(upper_tail(&R, df));
    return PL_OK;
}

pl_code pl_range(double q, unsigned k, double df, pl_tails *out)
{
    pl_code rc = pl_range_upper(q, k, df, &out->upper);
    range R;

    if (rc)
        return rc;
    if (q <= 0 || isinf(q)) {
        out->lower = (pl_real){ q <= 0 ? 0 : 1, 0 };
        return PL_OK;
    }
    range_init(&R, q, k);
    out->lower = real_of(lower_tail(&R, df));
    return PL_OK;
}

typedef struct asked {
    unsigned k;
    double df;
    bool lower;
} asked;

static double tail_at(void *ctx, double q)
{
    const asked *A = ctx;
    range R;

    range_init(&R, q, A->k);
    return A->lower ? lower_tail(&R, A->df) : upper_tail(&R, A->df);
}

/* Starts from Bonferroni's inequality over the k (k - 1)/2 pairs. */
double pl_range_quantile_upper(double alpha, unsigned k, double df)
{
    asked A = { k, df, alpha > 0.5 };
    double pairs = 0.5 * k * (k - 1.0), start;

    if (!(alpha > 0 && alpha < 1) || !fits(1, k, df))
        return NAN;
    start = fmax(-M_SQRT2 * pl_t_quantile(fmin(alpha, 0.5) / (2 * pairs), df), 0.05);
    return pl_solve_log(tail_at, &A, A.lower ? 1 - alpha : alpha, start, !A.lower);
}
