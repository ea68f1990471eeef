/* Tolerance limits: a bound on the value that a share of all pieces keeps, from n of them,
 * with confidence. Pure, no memory. Formulas and sources: docs/methods/low-tail.md.
 *
 * content is the share of all pieces that the limit is meant for (0.95 for a lower 5th
 * percentile), confidence how often limits worked out so are right. An argument out of
 * range gives NAN, or 0 where a number is counted. */
#ifndef PL_BASE_TOLERANCE_H
#define PL_BASE_TOLERANCE_H

/* k of the limit mean - k s of normal figures, s on df degrees of freedom, the mean worth n
 * of them (n need not be whole: boards that differ make it fewer); exact by noncentral t
 * (Owen 1963; Mee & Owen 1983 for n and df apart). 0.5 <= content < 1, 0.5 <= confidence < 1,
 * n > 0, df > 0. Relative error below 1e-11. */
double pl_tolerance_lower(double n, double df, double content, double confidence);
/* Chance that mean - k s does not pass mu - z sigma, z any number: 1 - confidence at k. */
double pl_tolerance_above(double n, double df, double k, double z);

/* k of mean +- k s: both sides hold content of all pieces (Odeh & Owen 1980), by quadrature.
 * n > 1. Relative error below 1e-10. */
double pl_tolerance_two_sided(double n, double df, double content, double confidence);
/* Its approximations: Howe 1969, where the exact search begins, and Weissberg & Beatty 1960. */
double pl_tolerance_howe(double n, double df, double content, double confidence);
double pl_tolerance_weissberg(double n, double df, double content, double confidence);

/* Short formulas in print for the one-sided factor, said beside the exact one: of
 * Natrella's handbook (1963); of EN 14358 for the 5th percentile with 75 % confidence; of
 * the composites handbook for its B (90 %) and A (99 %) values with 95 % confidence. */
double pl_tolerance_natrella(double n, double content, double confidence);
double pl_tolerance_en14358(double n);
double pl_tolerance_basis(double n, double content);

/* Without any form of the distribution: chance that the rank-th smallest of n lies at or
 * below the percentile; that is how sure one may be that it is a lower limit. Between the
 * least and the largest of n lies `content` with the chance at rank 2, percentile 1 - content
 * (Wilks 1942). */
double pl_order_confidence(unsigned n, unsigned rank, double percentile);
/* Least n for which that is enough; 0 beyond a million. */
unsigned pl_order_least(unsigned rank, double percentile, double confidence);

#endif
