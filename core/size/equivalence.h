/* Chances that a level is shown to be as good as a named one: not worse by more than a
 * margin (one side), or neither worse nor better by more (both sides, two one-sided tests:
 * Schuirmann 1987, J. Pharmacokin. Biopharm. 15:657). Exact with sigma unknown. Pure. */
#ifndef PL_SIZE_EQUIVALENCE_H
#define PL_SIZE_EQUIVALENCE_H

#include "base/diag.h"
#include "base/prob.h"

/* Both sides, for a difference whose standard error is se = s sqrt(v): with theta the true
 * difference and L < theta < U the margins,
 *
 *   below  (theta - L) / (sigma sqrt v)      above  (U - theta) / (sigma sqrt v)
 *   df     of s, > 0, may be INFINITY        alpha  of each test, 0 < alpha < 0.5
 *
 * Chance that d - t s sqrt v > L and d + t s sqrt v < U, t the upper alpha point. Absolute
 * error below 1e-12. PL_EDOM; diags may be NULL. Source: Owen 1965, Biometrika 52:437, as one
 * integral over s. */
pl_code pl_power_equivalence(double df, double below, double above, double alpha, pl_real *out,
                             pl_diags *diags);

/* Margins as shares of the named level's mean M: mean_i - low M and mean_i - high M, each by
 * its own t (Sasabuchi 1988; Hauschke, Kieser, Diletti & Burke 1999, Statist. Med. 18:93).
 * Absolute error below 1e-10. */
typedef struct pl_shares {
    double low, high;  /* 0 < low < high; high INFINITY: one side only, by noncentral t */
    double really;     /* what mean_i truly is of M, low < really < high */
    double cv;         /* sigma / M, > 0 */
    double n, n_named; /* glue-ups behind the two means, after what blocks take */
} pl_shares;
pl_code pl_power_shares(double df, const pl_shares *s, double alpha, pl_real *out, pl_diags *diags);

#endif
