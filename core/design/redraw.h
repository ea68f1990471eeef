/* Drawing a plan's treatments anew, exactly as the plan drew them: for the randomisation test,
 * and for counting what could have been drawn.
 *
 * What stays: every glue-up with its board, session, press, closing and place in the order, and
 * whatever was measured on it. What is drawn: which treatment it gets. Boards hold the sets they
 * held (other labels, other boards of that size), replicates stay whole on theirs, sessions that
 * cut boards up are balanced by the same search, squares are drawn as squares, and orders that
 * the guard refuses are refused (design/guard.h).
 *
 * Where presses differ in what they can make, treatments change places only among those that
 * the same presses can make: the draw is then that of the plan given where those lie. Glue-ups
 * that the plan's own draw does not explain (a plan of an earlier version, a further round)
 * change treatments within board, session and press. A glue-up made again goes with the one it
 * stands in for; spare ones, reference joints and bridging pairs keep theirs.
 *
 * Exact, save for one case: where sessions cut boards up and hold three levels and more, the
 * plan drew each session's order until it was no run, and here whole assignments are drawn until
 * none of their sessions is one; assignments whose sessions hold more runs are then a little
 * rarer here than there. docs/methods/designs.md, "Drawing again". */
#ifndef PL_DESIGN_REDRAW_H
#define PL_DESIGN_REDRAW_H

#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"
#include "base/diag.h"
#include "base/stream.h"
#include "study/plan.h"
#include "study/study.h"

typedef struct pl_redraw pl_redraw;

/* s: the study as frozen with the plan. Both are kept, not copied; all else lives in a.
 * PL_ENOMEM. One pl_redraw is for one thread. */
pl_code pl_redraw_open(pl_arena *a, const pl_study *s, const pl_plan *p, pl_redraw **out,
                       pl_diags *d);

/* treatment: p->nglue_up rows of p->treatments, one a glue-up as the plan lists them. The
 * caller's stream says which assignment. Takes about as long as one order of the plan, times
 * the draws its guard needed. */
pl_code pl_redraw_draw(pl_redraw *r, pl_stream *stream, size_t *treatment, pl_diags *d);

/* Is each treatment that a glue-up may get made by every re-draw with the chance the plan gave
 * it (the plan's own draw was followed), or is this the narrower draw within board, session and
 * press? */
bool pl_redraw_follows(const pl_redraw *r);

/* From here on only `factor` (place in s->factors) is drawn: of each glue-up every other factor
 * keeps its level. Of one plan's draws these are those that agree with it in all else, each as
 * likely as it was, so a test that uses them speaks of this factor alone. A factor that is hard to
 * change moves by whole stretches; any other within what pl_redraw_draw shuffles last (board and
 * session, or the innermost stretch), among glue-ups that are alike in all other factors. Where it
 * is the only one that is drawn, and not hard to change, all stays as it was.
 * *why: NULL, or why it cannot be: it comes with the board, it shares its stretches with another
 * factor, its presses differ, or no two glue-ups may change places. PL_ENOMEM. */
pl_code pl_redraw_alone(pl_redraw *r, size_t factor, const char **why, pl_diags *d);

/* Every assignment once, in a fixed order, when they can be listed: plans of whole replicates, or
 * the narrower draw, or one factor alone, with at most `most` assignments before the guard. visit
 * returns false to stop. *listed false: nothing was visited. *taken: how many the guard takes,
 * visited or not. */
typedef bool (*pl_redraw_visit)(void *context, const size_t *treatment);
pl_code pl_redraw_each(pl_redraw *r, size_t most, pl_redraw_visit visit, void *context,
                       bool *listed, size_t *taken, pl_diags *d);

/* How many assignments there are, before the guard. */
pl_allocations pl_redraw_count(const pl_redraw *r);

#endif
