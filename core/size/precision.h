/* How wide an interval comes out, and how surely: the alternative to a chance of noticing.
 * Pure; an argument out of range gives NAN.
 *
 * An interval of a mean, or of a contrast of means, is estimate +- t s sqrt(v): v = 1/n for a
 * mean, 2/n for a difference, s on df degrees of freedom. All in units of sigma. */
#ifndef PL_SIZE_PRECISION_H
#define PL_SIZE_PRECISION_H

/* Half of its width with s = sigma: t sqrt(v), `confidence` two-sided. */
double pl_half_width(double df, double v, double confidence);
/* Mean of s / sigma: sqrt(2/df) Gamma((df+1)/2) / Gamma(df/2). */
double pl_mean_s(double df);
/* Chance that s / sigma is at most `ratio`. */
double pl_s_chance(double df, double ratio);
/* Chance that half of the interval is at most h sigma (Kupper & Hafner 1989, Amer. Statist.
 * 43:101). */
double pl_half_width_chance(double df, double v, double confidence, double h);
/* Chance that s lies within a share of sigma on either side (Greenwood & Sandomire 1950, JASA
 * 45:257): how well a pilot on df degrees of freedom tells the scatter. */
double pl_sd_within(double df, double share);
/* Fewest degrees of freedom for which that chance is enough; 0 beyond a million. */
unsigned pl_sd_within_df(double share, double confidence);

/* (z_alpha/sides + z_power)^2: what n d^2 comes to in large numbers (Snedecor & Cochran
 * table 6.14.1); searches begin there. sides 1 or 2. */
double pl_normal_multiplier(double alpha, int sides, double power);

/* Least whole n from `low` to `high` at which f(ctx, n) is at least `wanted`, f growing with
 * n (NAN: not enough); 0: none is. */
typedef double pl_of_n(const void *ctx, unsigned n);
unsigned pl_least_n(pl_of_n *f, const void *ctx, double wanted, unsigned low, unsigned high);

#endif
