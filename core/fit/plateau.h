/* The plateau question: curves over a numeric factor, the onset of the plateau, the end of the
 * range, and whether a plateau was reached at all. Rules: docs/methods/curves-and-onset.md and
 * docs/methods/state.md. */
#ifndef PL_FIT_PLATEAU_H
#define PL_FIT_PLATEAU_H

#include "base/arena.h"
#include "base/diag.h"
#include "fit/result.h"
#include "model/curve.h"
#include "study/study.h"
#include "study/table.h"

/* Where a search may begin: a parameter by its name. What is linear is worked out and needs none;
 * a curve of one shape number is looked through from end to end whatever is said. */
typedef struct pl_curve_start {
    const char *name;
    double value;
} pl_curve_start;

typedef struct pl_curve_spec {
    const char *response;      /* numbers */
    const char *over;          /* numbers: the applied value of each row; missing = unknown */
    const char *planned;       /* the planned level of each row; NULL: over itself */
    const char *unit;          /* names the glue-up of each row; NULL: every row by itself */
    const char *const *blocks; /* columns of fixed block effects (boards, sessions) */
    size_t nblock;
    const char *const *randoms; /* columns of blocks that are a sample of many, at most
                                   PL_REML_FACTORS_MOST */
    size_t nrandom;
    bool in_proportion; /* scatter grows with the mean: weights 1/fitted^2; not with randoms */
    /* Column of numbers, or NULL: where it is not 0 the row is a reference joint: of every group,
     * without a level, x or mean of its own; it says only how blocks differ. Not with randoms, nor
     * with scatter in proportion. */
    const char *tie;
    const char *for_each;         /* one answer per level of this column; NULL: one for all */
    const pl_named_curve *curves; /* none: the default set, averaged */
    size_t ncurve;
    const pl_curve *const
        *brought; /* curves from outside, found by name before the built-in ones */
    size_t nbrought;
    const pl_curve_start *starts; /* nstart of them: places more to look from, of named curves */
    size_t nstart;
    bool floor_fixed; /* rises in x start from this mean at x = 0; a log curve that is named, at
                         the lowest x; log curves of the default set keep their own */
    double floor;
    double share;                      /* of the largest mean; 0: 0.95 */
    const struct pl_rig_doubt *doubts; /* ndoubt of them: how surely rigs make x (onset.h) */
    size_t ndoubt;
    size_t bootstrap; /* draws, at most PL_BOOTSTRAP_DRAWS_MOST (bootstrap.h); 0: none */
    uint64_t seed;    /* of them, below PL_SEED_LIMIT */
    bool residuals; /* beside them as many draws of the units' own residuals, and of whole boards */
    const char *wood; /* numbers: a row counts as a wood break when not 0; NULL: not counted */
    bool brief;       /* onset, state and contrasts only: no curves' numbers, bands or unit values;
                         what many fits in a row need */
} pl_curve_spec;

/* The default set, `flat` first: that one is shown and not averaged. */
#define PL_CURVES_DEFAULT 9
extern const pl_named_curve pl_curves_default[PL_CURVES_DEFAULT];

#define PL_SHARE_DEFAULT 0.95

/* One pl_plateau per group, in the order of the groups' levels; *out lives in a. The answer is
 * labelled "joint": wood breaks are plain values.
 *
 * Left out and said: rows without a response, a unit, a planned level, a group or a block; rows
 * without an applied value count for the level means but not for the curves. Curves that
 * cannot be had are said and left out: log curves with an x at or below zero, a hyperbola or a
 * fixed floor with an x below zero, a curve with no fewer mean parameters than there are levels.
 *
 * Reasons beside those of DESIGN: with state reached "fall-not-followed" (a fall is shown and no
 * curve can follow it: nothing is advised) and "range-not-clear" (the upper limit of the onset lies
 * above the lower limit of the range's end: nothing is advised); undecided "levels-not-repeated"
 * (no scatter between units of a level), "levels-within-blocks" (a level cannot be told from the
 * blocks), "too-many-levels" (over PL_CONTRAST_LEVELS_MOST).
 *
 * Random blocks: two answers, one with these blocks fixed, one that recovers what blocks tell
 * between them; the latter leads from PL_RECOVERED_FROM degrees of freedom left between the levels
 * of each (plateau_random.h). In proportion: plateau_weights.h.
 *
 * PL_EKEY    a column or curve does not exist; a start of no parameter of the named curves
 * PL_EVALUE  a column holds no numbers; share not in (0, 1)
 * PL_ECONFLICT scatter in proportion and random blocks at once
 * PL_EDATA   fewer than two levels or three units; a unit planned at two levels; none of the named
 *            curves can be had
 * PL_ERANK   a curve's columns cannot be told from the blocks
 * PL_ENOMEM */
pl_code pl_fit_curves(pl_arena *a, const pl_table *table, const pl_curve_spec *spec,
                      pl_plateau **out, size_t *nout, pl_diags *d);

#endif
