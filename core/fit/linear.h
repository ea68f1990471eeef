/* Linear models on a table: effects, interactions, covariates, blocks, strata.
 *
 * docs/methods/linear-models.md has the formulas and their sources. In short:
 * effects are coded sum-to-zero (model/terms.h); blocks are fixed and taken out
 * by centring and elimination (linear_absorb.h), never written as columns; all
 * arithmetic is twofold (dd.h), so the digits of the answer are those of the data.
 *
 * Order of the sums of squares `in-order`: for each block (a coarse one before
 * those inside it) first the terms that are constant within it, then the block;
 * last covariates and effects that vary within blocks, in the order given. No term at all is the
 * mean alone.
 * `after-all-others`: each term with every other one in the model, interactions
 * that contain it included. A block stands there without the blocks inside it.
 *
 * Strata: a term that is constant within every block of a factor (species within
 * boards) is judged against that block factor, the coarsest if there are several;
 * all others, and blocks with none inside them, against the residual. Exact when
 * blocks are of equal size and treatments are balanced over them; advice says so
 * when not. Means of such a term and its coefficients carry that error too.
 * Source: Nelder 1965, Proc. R. Soc. A 283:147 and 163. */
#ifndef PL_FIT_LINEAR_H
#define PL_FIT_LINEAR_H

#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"
#include "base/diag.h"
#include "fit/result.h"
#include "study/table.h"

typedef struct pl_linear_effect {
    const char *const *factors; /* one column: main effect; several: their interaction */
    size_t nfactor;
} pl_linear_effect;

/* Names of `block` start afresh inside each level of `inside`: board 1 of beech is not board 1
 * of larch. Without it a block name means the same block everywhere, which is right for boards
 * that carry their own names. block need not stand among the blocks too. */
typedef struct pl_linear_nested {
    const char *block, *inside;
} pl_linear_nested;

/* A contrast of the levels of one effect: weights that add up to 0. A level of an interaction is
 * named "A, L". */
typedef struct pl_linear_contrast {
    const char *factor;
    const char *const *levels;
    const double *weights;
    size_t n;
} pl_linear_contrast;

typedef struct pl_linear_spec {
    const char *response;
    const pl_linear_effect *effects;
    size_t neffect;
    const char *const *covariates;
    size_t ncovariate;
    const char *const *blocks;
    size_t nblock;
    const char *const *randoms; /* blocks whose levels are a sample of many: by REML (reml.h) */
    size_t nrandom;
    /* The random ones are strata of the design: where they are balanced the exact answer of the
     * strata stands alone, else Kenward & Roger's leads, however few they are. */
    bool designed;
    const pl_linear_nested *nested;
    size_t nnested;
    /* Column that names glue-ups, or NULL. If factors and blocks are constant within each, its
     * specimens are averaged first (fit/units.h); else it joins as a block factor, and what is
     * constant within glue-ups is judged against it. */
    const char *unit;
    /* Column of numbers, or NULL: where it is not 0 the row is a reference joint. Such rows are a
     * treatment of their own that shares the blocks: their factors and covariates may be missing,
     * effects stand at 0 there, and all they say is how blocks differ. A term that blocks would
     * swallow but for them is then judged within blocks. No level mean counts them. */
    const char *tie;
    bool through_zero; /* no intercept; covariates only */
    const pl_linear_contrast *contrasts;
    size_t ncontrast;
} pl_linear_spec;

/* *out lives in a; names in it are the table's. Rows with a missing cell in a column that is used
 * are left out and counted in a remark. R squared is 1 - rss / sum (y - mean)^2; through zero, as
 * is usual there, 1 - rss / sum y^2.
 *
 * PL_EKEY       a column is absent (the nearest is named)
 * PL_EVALUE     response or covariate holds no numbers, or one beyond 1e100
 * PL_ECONFLICT  one column in two roles; effects or blocks through zero
 * PL_EVALUE     a contrast names an effect or level that is not there, or its weights do not add
 *               up to 0
 * PL_EUSAGE     an effect without factors; nothing at all through zero
 * PL_EDATA      no rows, fewer rows than numbers to estimate, a factor with one level, an empty
 *               cell of an interaction, a constant response or covariate
 * PL_ERANK      a term cannot be told apart from the others or from the blocks: named
 *               also random blocks that cannot be told apart, or with one row a level
 * PL_ENOMEM
 * With no degrees of freedom left for an error, f, p, se and limits are NAN and a remark says so.
 */
pl_code pl_fit_linear(pl_arena *a, const pl_table *t, const pl_linear_spec *spec,
                      pl_linear_fit *out, pl_diags *diags);

/* A weighted sum of levels with its standard error, limits and test; weight: l->n. Weights that
 * add up to 0 give a contrast, others a sum of means. name and ss are left to the caller.
 * PL_ENOMEM. */
pl_code pl_levels_contrast(pl_arena *a, const pl_levels *l, const double *weight, pl_contrast *out,
                           pl_diags *diags);

#endif
