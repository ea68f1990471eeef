/* Whether the figures of a fit can be trusted: spread from level to level, and single units far
 * off. Each says what it sees and takes nothing out. Pure. */
#ifndef PL_FIT_TRUST_H
#define PL_FIT_TRUST_H

#include <stddef.h>

#include "base/arena.h"
#include "base/diag.h"

/* Are the levels equally scattered? v: n values, block effects taken out; level: 0 to K - 1 each.
 *
 * bartlett: chi-square on levels - 1 df (Bartlett 1937, Proc. R. Soc. A 160:268, with his
 * correction); of the levels made twice or more. levene: F of the absolute distances from each
 * level's median (Brown & Forsythe 1974, JASA 69:364), from PL_LEVENE_LEAST a level on, since with
 * few the middle value's own distance of 0 spoils it. NAN: not to be had. Where blocks were taken
 * out both are approximate. */
#define PL_LEVENE_LEAST 10
typedef struct pl_spread {
    double bartlett, bartlett_df, bartlett_p;
    double levene, levene_df1, levene_df2, levene_p;
    size_t least, most; /* the levels of least and most scatter */
    double least_sd, most_sd;
} pl_spread;
pl_code pl_trust_spread(pl_arena *a, const double *v, const size_t *level, size_t n, size_t K,
                        pl_spread *out, pl_diags *d);

/* The unit furthest off. residual: n, of a fit that leaves df degrees of freedom; every unit is
 * taken to be fitted equally closely. t: the residual against a scatter found without that unit; p:
 * chance that the largest of n is as large, at most (Bonferroni; Cook & Weisberg 1982, Residuals
 * and Influence in Regression, 2.2.2). at n: not to be had (df of 1 or less, no scatter). */
typedef struct pl_far_off {
    size_t at;
    double t, p;
} pl_far_off;
pl_far_off pl_trust_far_off(const double *residual, size_t n, double df);

/* Normal scores of values, in their order: the quantile of (rank - 3/8) / (n + 1/4) (Blom 1958,
 * Statistical Estimates and Transformed Beta-Variables); equal values share the mean rank. */
pl_code pl_trust_scores(pl_arena *a, const double *v, size_t n, const double **out, pl_diags *d);

#endif
