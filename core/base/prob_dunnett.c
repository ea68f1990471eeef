/* The largest of several studentised contrasts against one control, both tails
 * to 1e-10 relative, for correlations that are products. Formulas and accuracy:
 * docs/methods/probability.md; Dunnett 1955, JASA 50:1096; 1964, Biometrics 20:482. */
#include <math.h>

#include "base/prob.h"
#include "base/prob_inner.h"

/* T_i s = r_i X_i + lambda_i Z, r_i = sqrt(1 - lambda_i^2), X_i and Z independent
 * normals: given Z the contrasts are independent,
 *
 *   sides 1   p_i(z) = Phi((w - lambda_i z)/r_i),                        w = d s
 *   sides 2   p_i(z) = P(-w < r_i X + lambda_i z <= w)
 *
 *   P(max <= w) = integral of phi(z) prod p_i,
 *   P(max > w)  = integral of phi(z) (1 - exp(sum ln(1 - q_i))),   q_i = 1 - p_i. */

#define STEP_UPPER 0.5  /* times the least r_i, the sd of a bump; less for many, measured */
#define STEP_LOWER 0.65 /* times the sd of the peak */
#define REACH 9.0       /* phi there is 1e-18 of its peak */
#define PART_LEFT 1e-16

typedef struct many {
    double d;
    const double *lambda;
    size_t m;
    int sides;
    double least, most; /* of lambda */
    double precision;   /* of the peak of the lower tail's integrand: 1 + sum lambda^2/r^2 */
} many;

static double density(double z)
{
    return exp(-z * z / 2) / sqrt(2 * M_PI);
}

static double r_of(double lambda)
{
    return sqrt((1 - lambda) * (1 + lambda));
}

/* ln of the product of all p_i, from the q_i: exact where they are small. Equal
 * neighbours, the usual case, are worked out once. */
static double log_within(const many *M, double w, double z)
{
    double sum = 0, one = 0;

    for (size_t i = 0; i < M->m; i++) {
        double l = M->lambda[i], r = r_of(l);

        if (i == 0 || l != M->lambda[i - 1]) {
            double q = pl_normal_upper((w - l * z) / r);

            if (M->sides == 2)
                q += pl_normal_upper((w + l * z) / r);
            one = log1p(-fmin(q, 1));
        }
        sum += one;
    }
    return sum;
}

static double product_within(const many *M, double w, double z)
{
    double product = 1, one = 0;

    for (size_t i = 0; i < M->m; i++) {
        double l = M->lambda[i], r = r_of(l);

        if (i == 0 || l != M->lambda[i - 1])
            one = M->sides == 2 ? pl_normal_between(l * z / r, w / r)
                                : pl_normal_lower((w - l * z) / r);
        product *= one;
    }
    return product;
}

/* Bumps stand at lambda_i w, each of sd r_i: all nodes between the outermost are taken,
 * since there may be several. Two-sided: even in z. */
static double upper_at(void *ctx, double s)
{
    const many *M = ctx;
    double w = M->d * s, sum = 0;
    double h = STEP_UPPER * r_of(fmax(M->most, M_SQRT1_2)) / sqrt(1 + log((double)M->m) / 4);
    double low = M->sides == 2 ? 0 : fmax(-REACH, M->least * w - REACH);
    double high = fmax(M->most * w, 0) + REACH;
    int last = (int)ceil((high - low) / h);

    for (int i = 0; i <= last; i++) {
        double z = low + h * i, term = -density(z) * expm1(log_within(M, w, z));

        sum += M->sides == 2 && i > 0 ? 2 * term : term;
    }
    return h * sum;
}

/* One peak: of a log-concave function. */
static double lower_at(void *ctx, double s)
{
    const many *M = ctx;
    double w = M->d * s, h = STEP_LOWER / sqrt(M->precision), sum = 0;

    for (int way = 1; way >= -1; way -= 2) {
        double last = 0;

        for (int i = way > 0 ? 0 : 1;; i++) {
            double z = way * i * h, term = density(z) * product_within(M, w, z);

            sum += term;
            if ((term <= last && term <= PART_LEFT * sum) || fabs(z) > 5 * REACH)
                break;
            last = term;
        }
        if (M->sides == 2) /* even */
            return h * (2 * sum - density(0) * product_within(M, w, 0));
    }
    return h * sum;
}

static bool many_init(many *M, double d, const double *lambda, size_t m, double df, int sides)
{
    *M = (many){ .d = d, .lambda = lambda, .m = m, .sides = sides, .least = 1, .precision = 1 };
    if (isnan(d) || m < 1 || m > PL_RANGE_MOST || !(df > 0) || (sides != 1 && sides != 2) ||
        (sides == 2 && d < 0))
        return false;
    for (size_t i = 0; i < m; i++) {
        double l = lambda[i];

        if (!(l >= 0 && l * l <= PL_DUNNETT_MOST))
            return false;
        M->least = fmin(M->least, l);
        M->most = fmax(M->most, l);
        M->precision += l * l / ((1 - l) * (1 + l));
    }
    return true;
}

static double upper_tail(many *M, double df)
{
    double d = fmax(M->d, 0);

    return pl_over_spread(df, upper_at, M, -0.5 * log1p(d * d / df),
                          (double)M->m / 4 + 2 * log((double)M->m + 1));
}

static double lower_tail(many *M, double df)
{
    double start = M->sides == 2 && M->d < 1 ? 0.5 * log1p((double)M->m / df) : 0;

    if (M->d < 0)
        start = -0.5 * log1p(M->d * M->d / df);
    return pl_over_spread(df, lower_at, M, start, M->sides == 2 ? (double)M->m : 0);
}

static pl_real real_of(double tail)
{
    return (pl_real){ fmin(tail, 1), tail < PL_TAIL_LEAST ? 1 : PL_MAXIMA_TOL };
}

pl_code pl_dunnett(double d, const double *lambda, size_t m, double df, int sides, pl_tails *out)
{
    many M;

    if (!many_init(&M, d, lambda, m, df, sides))
        return PL_EDOM;
    if (isinf(d) || (sides == 2 && d <= 0)) {
        out->lower = (pl_real){ d > 0 ? 1 : 0, 0 };
        out->upper = (pl_real){ d > 0 ? 0 : 1, 0 };
        return PL_OK;
    }
    out->upper = real_of(upper_tail(&M, df));
    out->lower = real_of(lower_tail(&M, df));
    return PL_OK;
}

typedef struct asked {
    many M;
    double df;
    bool lower;
} asked;

static double tail_at(void *ctx, double d)
{
    asked *A = ctx;

    A->M.d = d;
    return A->lower ? lower_tail(&A->M, A->df) : upper_tail(&A->M, A->df);
}

/* Starts from Bonferroni's inequality. */
double pl_dunnett_quantile_upper(double alpha, const double *lambda, size_t m, double df, int sides)
{
    asked A = { .df = df, .lower = alpha > 0.5 };
    double start;

    if (!many_init(&A.M, 1, lambda, m, df, sides) || !(alpha > 0 && alpha < (sides == 1 ? 0.5 : 1)))
        return NAN;
    start = fmax(-pl_t_quantile(fmin(alpha, 0.5) / ((double)m * sides), df), 0.05);
    return pl_solve_log(tail_at, &A, A.lower ? 1 - alpha : alpha, start, !A.lower);
}
