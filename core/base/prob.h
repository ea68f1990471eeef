/* Distributions: both tails of each to 1e-12 relative, our own code on one
 * incomplete beta and one incomplete gamma function. Formulas, sources and the
 * accuracy measured: docs/methods/probability.md.
 *
 * Both tails are functions: ask for the one you need. pl_real carries a bound
 * on the relative error; a result short of PL_PROB_TOL comes with PL_EPREC. A
 * tail below 1e-290 is outside the promise: it comes as found, maybe 0, with
 * bound 1 and no code. Nothing here touches a global, and only the multivariate
 * points allocate: the rest is safe inside a parallel loop. */
#ifndef PL_BASE_PROB_H
#define PL_BASE_PROB_H

#include <stddef.h>

#include "base/arena.h"
#include "base/code.h"

#define PL_PROB_TOL 1e-12

typedef struct pl_real {
    double value, bound; /* bound on the relative error */
} pl_real;

typedef struct pl_tails {
    pl_real lower, upper; /* P(X <= x), P(X > x); each with its own relative accuracy */
} pl_tails;

/* Central ones; x outside the support gives 0 or 1. df > 0 need not be whole;
 * that of t and df2 of F may be INFINITY. An argument out of range gives NaN. */
double pl_t_upper(double t, double df);
double pl_t_lower(double t, double df);
double pl_t_quantile(double p, double df); /* lower p */
double pl_f_upper(double f, double df1, double df2);
double pl_f_lower(double f, double df1, double df2);
double pl_f_quantile_upper(double alpha, double df1, double df2);
double pl_chisq_lower(double x, double df);
double pl_chisq_upper(double x, double df);
double pl_chisq_quantile(double p, double df);
double pl_normal_lower(double z);
double pl_normal_upper(double z);
double pl_normal_quantile(double p);
/* P(at - half < Z <= at + half), half > 0, to full relative accuracy. */
double pl_normal_between(double at, double half);
/* Density of chi/sqrt(df) at s > 0: of an estimated standard deviation over the true one. */
double pl_s_density(double df, double s);

/* Largest noncentrality (lambda, or delta squared). */
#define PL_NONCENTRAL_MOST 1e8

/* Noncentral F(df1, df2, lambda), 0 <= lambda, both tails by positive-term
 * Poisson-beta series; df2 may be INFINITY. *out is written on PL_OK and
 * PL_EPREC. PL_EDOM, PL_EPREC. */
pl_code pl_ncf(double x, double df1, double df2, double lambda, pl_tails *out);
/* The upper tail alone, in half the time. */
pl_code pl_ncf_upper(double x, double df1, double df2, double lambda, pl_real *out);
/* Noncentral t(df, delta), any sign of t and delta. */
pl_code pl_nct(double t, double df, double delta, pl_tails *out);
/* Noncentral chi-square(df, lambda). */
pl_code pl_ncchisq(double x, double df, double lambda, pl_tails *out);

#define PL_MAXIMA_TOL 1e-10 /* of the two below: bound on the relative error of a tail */

/* Studentised range: largest less smallest of k standard normals, over an
 * independent s = chi/sqrt(df). Both tails, by quadrature of positive terms.
 *   q         >= 0
 *   k         2 to PL_RANGE_MOST means
 *   df        > 0, need not be whole; INFINITY gives the range itself
 * PL_EDOM. Source: Harter 1960, Ann. Math. Statist. 31:1122; the rule and its error:
 * docs/methods/probability.md. */
#define PL_RANGE_MOST 200u
pl_code pl_range(double q, unsigned k, double df, pl_tails *out);
pl_code pl_range_upper(double q, unsigned k, double df, pl_real *out); /* that tail alone */
/* q with P(Q > q) = alpha, 0 < alpha < 1. NAN out of range. */
double pl_range_quantile_upper(double alpha, unsigned k, double df);

/* Dunnett's: the largest of m studentised contrasts against one control, T_i of unit
 * variance with correlations rho_ij = lambda_i lambda_j; of |T_i| with sides 2. For
 * n_i specimens against n_0 lambda_i = sqrt(n_i/(n_i + n_0)); alike: sqrt(1/2).
 *   d         any (sides 1), >= 0 (sides 2)
 *   lambda    m of them, 0 <= lambda, lambda^2 <= PL_DUNNETT_MOST; 1 <= m <= PL_RANGE_MOST
 *   df        > 0, or INFINITY
 * PL_EDOM. Source: Dunnett 1955, JASA 50:1096; 1964, Biometrics 20:482. */
#define PL_DUNNETT_MOST 0.9999
pl_code pl_dunnett(double d, const double *lambda, size_t m, double df, int sides, pl_tails *out);
/* d with P(max > d) = alpha, 0 < alpha < 1; with sides 1 alpha < 1/2. NAN out of range. */
double pl_dunnett_quantile_upper(double alpha, const double *lambda, size_t m, double df,
                                 int sides);

/* One-sided equicoordinate upper point of a multivariate t.
 *
 * n contrasts of K independent means, K <= 41: c is n x K row-major, weight[k] the
 * variance of mean k over sigma^2 (1/n_k). Gives d with
 * P(max_i T_i <= d) = 1 - alpha for T_i the studentised contrasts on df (may be
 * INFINITY), 0 < alpha < 0.5. The correlations may be singular in any way;
 * contrasts that repeat another do no harm; they need not sum to zero.
 *
 *   tol   aim for the standard error of the point itself, > 0
 *   out   value d, bound three standard errors over d; exact ones (contrasts in
 *         one or two dimensions) 1e-12 or 1e-9
 *
 * Radius, spread and one angle are integrated exactly, the rest by Sobol
 * directions in randomly turned frames with fixed seeds: the same call gives the
 * same bits on one machine. Time grows as n^2 K. PL_EDOM, PL_ENOMEM; PL_EPREC if
 * tol is not reached (*out then holds the best). a is scratch: left as found.
 * Source: docs/methods/probability.md; for the use of such points Bretz 2006,
 * Comput. Stat. Data Anal. 50:1735. */
pl_code pl_mvt_upper_point(pl_arena *a, const double *c, const double *weight, size_t n, size_t K,
                           double df, double alpha, double tol, pl_real *out);
/* The same, two-sided: P(max |T_i| <= d) = 1 - alpha. */
pl_code pl_mvt_two_sided_point(pl_arena *a, const double *c, const double *weight, size_t n,
                               size_t K, double df, double alpha, double tol, pl_real *out);

#endif
