/* Chances of noticing, exact: F test, t test of one contrast, and the mean of
 * either over what a pilot leaves open about the scatter. Pure. */
#ifndef PL_SIZE_POWER_H
#define PL_SIZE_POWER_H

#include <stdbool.h>

#include "base/diag.h"
#include "base/prob.h"

/* Power of the F test that a set of contrasts is zero, when it is not.
 *
 * Probability that a noncentral F(df1, df2, lambda) variate exceeds the central
 * upper alpha point. Found as an upper tail, never as 1 minus the lower one.
 *
 *   df1, df2  degrees of freedom, > 0, need not be whole; df2 may be INFINITY
 *   lambda    noncentrality, sum of n_i d_i^2 / sigma^2, 0 to PL_NONCENTRAL_MOST; no
 *             unit, so d_i and sigma are in one unit before they get here
 *   alpha     size of the test, 0 < alpha < 1
 *   out       written on PL_OK and PL_EPREC only: value in [alpha, 1], bound on
 *             its relative error
 *
 * PL_EDOM   an argument is out of range; the finding names it and the range
 * PL_EPREC  bound > PL_PROB_TOL (1e-12); out still holds the best value found
 * Allocates nothing but findings, touches no global. diags may be NULL.
 * Source: Johnson, Kotz & Balakrishnan, Continuous Univariate Distributions 2,
 * 2nd ed. (1995), ch. 30. Checked in tests/size/test_power.c. */
pl_code pl_power_ftest(double df1, double df2, double lambda, double alpha, pl_real *out,
                       pl_diags *diags);

/* The t test of one contrast L = sum c_k mu_k: delta = L / (sigma sqrt(sum c_k^2/n_k)),
 * sides 1 (upper) or 2. Two-sided counts rejections on both sides. Same codes. */
pl_code pl_power_ttest(double df, double delta, double alpha, int sides, pl_real *out,
                       pl_diags *diags);

/* What a pilot's sd on pilot_df degrees of freedom leaves open: sigma / s at the nodes of a rule
 * for the mean of a smooth function of it (docs/methods/size.md), and their weights, which sum
 * to 1; at most PL_PILOT_NODES of them, returned how many. 0.5 <= pilot_df, finite. fine: the
 * mean of a chance errs by less than 1e-9; else by less than 1e-5, in a quarter of the nodes. */
#define PL_PILOT_NODES 800
size_t pl_pilot_nodes(double pilot_df, bool fine, double ratio[], double weight[]);

/* Mean of pl_power_ftest over sigma^2 = df s^2 / chi-square(df), s the pilot's sd on
 * pilot_df degrees of freedom; lambda_at_s is lambda with sigma = s, the effect
 * stays as it is. Absolute error below 1e-9 (the trapezoid rule in log sigma).
 * pilot_df INFINITY gives the power itself. Source: the mean of power over what
 * is known of its arguments is O'Hagan, Stevens & Campbell's assurance (2005,
 * Pharm. Stat. 4:187); sigma's distribution is that of s^2 turned around. */
pl_code pl_assurance_ftest(double df1, double df2, double lambda_at_s, double alpha,
                           double pilot_df, double *out, pl_diags *diags);

/* Noncentrality at which pl_power_ftest is `power`, alpha < power < 1; to 1e-10
 * relative. NAN when none up to PL_NONCENTRAL_MOST does. */
double pl_power_lambda(double df1, double df2, double alpha, double power);

/* s sqrt(df / chi-square quantile at 1 - confidence): upper limit of sigma, one-sided
 * (Browne 1995, Statist. Med. 14:1933). NAN outside df > 0, 0 < confidence < 1. */
double pl_sd_upper_limit(double s, double df, double confidence);

#endif
