/* The blocks of the model that matches a plan, and what is judged against them. Its effects are the
 * caller's.
 *
 * Blocks are what the plan was restricted by: boards, sessions, and the stretches in which
 * something hard to change is left alone. A block that says nothing beside another is left out:
 * sessions where each board lies in one, a session that is a stretch. Stretches are strata of the
 * design (and boards with them, where something comes with the board): exact where they are
 * balanced, else Kenward & Roger's answer (fit/linear.h). Boards that do not hold every
 * combination alike are random, so that what they tell between them is recovered
 * (docs/methods/random-blocks.md). */
#ifndef PL_FIT_MATCHING_H
#define PL_FIT_MATCHING_H

#include "fit/linear.h"
#include "study/plan.h"
#include "study/table.h"

#define PL_MATCHING_BLOCKS_MOST 4 /* board, session, two layers of stretches */

typedef struct pl_matching {
    const char *blocks[PL_MATCHING_BLOCKS_MOST]; /* fixed */
    size_t nblock;
    const char *randoms[PL_MATCHING_BLOCKS_MOST];
    size_t nrandom;
    bool designed; /* the random ones are strata of the design */
} pl_matching;

/* t has the columns "board", "session", "stretch", "inner_stretch" and one for each factor; what is
 * not there or the same throughout is no block. PL_ENOMEM. */
pl_code pl_match_plan(pl_arena *a, const pl_study *s, const pl_plan *p, const pl_table *t,
                      pl_matching *out, pl_diags *d);

/* Blocks for a curve along factor `over`, into the plan's smallest units that hold one level of it:
 * *unit names their column. blocks: room for PL_MATCHING_BLOCKS_MOST. PL_ENOMEM. */
pl_code pl_match_curve(pl_arena *a, const pl_study *s, const pl_table *t, size_t over,
                       const char **blocks, size_t *nblock, const char **unit, pl_diags *d);

#endif
