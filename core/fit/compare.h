/* Many comparisons of the levels of one factor at once.
 *
 * every-pair: all differences, simultaneous limits and decisions at the chance of any false alarm
 * (Tukey 1953; with unequal numbers or blocks the exact multivariate t of the differences). each
 * against a named level: the same for those differences alone (Dunnett 1955, JASA 50:1096). each
 * against the best seen: limits of a level less the best of the others, which already know that the
 * best was picked by looking (Hsu 1984, Ann. Statist. 12:1136). as-good-as: mean less (1 - margin)
 * times the mean of a level named beforehand, tested downward from its neighbour in the order of
 * levels, each at the full chance, ending at the first that fails (Maurer, Hothorn & Lehmacher
 * 1995, in Vollmar (ed.), Biometrie in der chemisch-pharmazeutischen Industrie 6:3). Levels that
 * are no numbers have no down: each is tested at its share of the chance (Bonferroni).
 *
 * Points are exact (pl_range, pl_dunnett of base/prob.h) where all pairs of levels share one
 * covariance and all pairs are equally sure, or one level is compared with all others; else
 * sampled, to 5e-4 (pl_mvt_two_sided_point, pl_mvt_upper_point); beyond
 * PL_COMPARE_LEVELS_SAMPLED levels from the t of each difference at its share of the chance
 * (Bonferroni), which is wider. Holm's p (1979, Scand. J. Statist. 6:65) stands beside each
 * difference. */
#ifndef PL_FIT_COMPARE_H
#define PL_FIT_COMPARE_H

#include "base/arena.h"
#include "base/diag.h"
#include "fit/result.h"

#define PL_COMPARE_LEVELS_SAMPLED 12

typedef struct pl_compare {
    const char *factor;
    pl_compare_kind kind;
    const char *named; /* NULL: the highest level of a numeric factor, which is the last */
    bool less_is_better;
    double margin; /* of as-good-as: 0.05 */
    double alpha;  /* chance of any false alarm, 0 < alpha < 0.5 */
} pl_compare;

/* Adds to f->comparisons. f: fitted. PL_EVALUE: no such effect or level, or no level named for
 * names that are no numbers; PL_EDATA: no error to judge by; PL_ENOMEM. */
pl_code pl_compare_levels(pl_arena *a, pl_linear_fit *f, const pl_compare *c, pl_diags *diags);

#endif
