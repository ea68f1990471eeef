/* Distributions. GSL where its tails hold (central t, F, chi-square, normal);
 * our own where they do not.
 *
 * Both tails are functions: ask for the one you need. pl_real carries a bound
 * on the relative error; a result short of PL_PROB_TOL comes with PL_EPREC. */
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

/* Central ones; x outside the support gives 0 or 1. df need not be whole, may
 * be INFINITY. */
double pl_t_upper(double t, double df);
double pl_t_lower(double t, double df);
double pl_t_quantile(double p, double df); /* lower p */
double pl_f_upper(double f, double df1, double df2);
double pl_f_quantile_upper(double alpha, double df1, double df2);
double pl_chisq_lower(double x, double df);
double pl_chisq_upper(double x, double df);
double pl_chisq_quantile(double p, double df);
double pl_normal_lower(double z);
double pl_normal_upper(double z);
double pl_normal_quantile(double p);

/* Noncentral F(df1, df2, lambda), lambda >= 0, both tails by positive-term
 * Poisson-beta series. PL_EDOM, PL_EPREC. */
pl_code pl_ncf(double x, double df1, double df2, double lambda, pl_tails *out);
/* Noncentral t(df, delta), any sign of t and delta. */
pl_code pl_nct(double t, double df, double delta, pl_tails *out);
/* Noncentral chi-square(df, lambda). */
pl_code pl_ncchisq(double x, double df, double lambda, pl_tails *out);

/* One-sided equicoordinate upper point of a multivariate t.
 *
 * n contrasts of K independent means: c is n x K row-major, weight[k] the
 * variance of mean k over sigma^2 (1/n_k). Gives d with
 * P(max_i T_i <= d) = 1 - alpha for T_i the studentised contrasts on df.
 * Deterministic: randomly shifted lattice with a fixed seed, in blocks, until
 * the standard error of the point is below tol (PL_EPREC if not reached; *out
 * still holds the best). Source: Genz & Bretz 2009, Computation of
 * Multivariate Normal and t Probabilities; for contrast tests Bretz 2006,
 * Comput. Stat. Data Anal. 50:1735. */
pl_code pl_mvt_upper_point(pl_arena *a, const double *c, const double *weight, size_t n, size_t K,
                           double df, double alpha, double tol, pl_real *out);
/* The same, two-sided: P(max |T_i| <= d) = 1 - alpha. */
pl_code pl_mvt_two_sided_point(pl_arena *a, const double *c, const double *weight, size_t n,
                               size_t K, double df, double alpha, double tol, pl_real *out);

#endif
