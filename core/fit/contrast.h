/* Level means and the contrasts that show a rise or a fall.
 *
 * A rise is claimed when the largest studentised contrast (mean of levels i+1..j less mean
 * of levels 1..i, all i < j) is above its one-sided 2.5 % multivariate-t point; a fall when the
 * mirrored one (levels i..j less levels j+1..K) is. Error: between units within levels,
 * blocks taken out. Source: Bretz 2006, Comput. Stat. Data Anal. 50:1735. docs/methods/state.md. */
#ifndef PL_FIT_CONTRAST_H
#define PL_FIT_CONTRAST_H

#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"
#include "base/diag.h"
#include "fit/curve_rows.h"
#include "fit/result.h"

#define PL_CONTRAST_ALPHA 0.025
/* Levels beyond which the contrasts (K (K - 1) / 2 each way) are not looked at: their points
 * would take seconds, and that many levels are a scatter of x rather than a plan. */
#define PL_CONTRAST_LEVELS_MOST 24

typedef struct pl_level_fit {
    size_t K;
    bool fine;            /* false: some level cannot be told from the blocks */
    const double *mean;   /* K: averaged evenly over blocks */
    const double *var;    /* K: their variances over sigma^2 */
    const double *cov;    /* K x K over sigma^2; NULL beyond PL_CONTRAST_LEVELS_MOST */
    pl_residual residual; /* between units within levels; df 0 when no level is repeated */
} pl_level_fit;

/* level: n, 0..K-1, in rising order of the levels; every level occurs. rows: units with their
 * blocks (its x is not used). PL_ENOMEM. */
pl_code pl_level_means(pl_arena *a, const pl_curve_rows *rows, const size_t *level, size_t K,
                       pl_level_fit *out, pl_diags *d);

/* The contrast of runs i and j (0 < i < j <= K, counted from 1) of K levels. A rise: levels 1..i
 * against i+1..j; a fall, the mirror: K-i+1..K against K-j+1..K-i. */
static inline pl_step pl_contrast_runs(size_t K, size_t i, size_t j, bool fall)
{
    return fall ? (pl_step){ .lower_from = K - i,
                             .lower_to = K - 1,
                             .upper_from = K - j,
                             .upper_to = K - i - 1 }
                : (pl_step){ .lower_to = i - 1, .upper_from = i, .upper_to = j - 1 };
}

typedef struct pl_contrasts {
    bool tested; /* false: no error to judge by, or too many levels */
    bool rise_shown, fall_shown;
    pl_step rise, fall;   /* the largest t each way; place 0 is the lowest level */
    double fall_excluded; /* 97.5 % simultaneous upper limit of every fall, the largest */
    double mean;          /* of the level means */
    /* When neither is shown: the largest end of the simultaneous 95 % intervals of all
     * contrasts, each way. NAN otherwise. */
    double change_excluded;
} pl_contrasts;

/* PL_ENOMEM; a critical point short of its aimed precision (PL_EPREC) is used as it is. */
pl_code pl_contrasts_test(pl_arena *a, const pl_level_fit *fit, pl_contrasts *out, pl_diags *d);

#endif
