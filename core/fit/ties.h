/* What could differ beside the levels: sessions, presses, breaking rigs and who broke the joints.
 *
 * Whether the levels of such a kind can be told from those of a factor: they can when each is
 * reached from each other one by levels that two of them made, or by reference joints that both
 * hold (bridged.h). Then the kind is a block whose offsets are estimated; else an offset is fitted
 * as zero, which has to be said. docs/methods/reference-joints.md. */
#ifndef PL_FIT_TIES_H
#define PL_FIT_TIES_H

#include "base/arena.h"
#include "base/diag.h"
#include "study/table.h"

/* Columns of a table beside "rig" and "session". */
#define PL_TIE_PRESS "press"
#define PL_TIE_BREAKING_RIG "breaking_rig"
#define PL_TIE_BROKEN_BY "broken_by"
#define PL_TIE_REFERENCE "reference" /* numbers: 1 for a reference joint */

#define PL_TIES_MOST 5 /* kinds that are looked at */

typedef struct pl_ties {
    const char *blocks[PL_TIES_MOST]; /* kinds to be taken as blocks beside the others */
    size_t nblock;
    const char *zeros[PL_TIES_MOST]; /* a sentence for each kind whose offset is fitted as zero */
    const char
        *said[PL_TIES_MOST]; /* the kind of each; of two that part the joints alike one is said */
    size_t nzero;
} pl_ties;

/* Looks at every kind for one factor, adding to *out what is not there yet.
 *
 *   t       the columns "session" and "glue_up" and those named above; of rows that are no
 *           reference joint also `factor` and `group`
 *   tied    reference joints are there, and take part
 *   rigs    rigs that the factor's levels alone bridge are a block too; else only what reference
 *           joints tie
 *   have    nhave blocks of the fit already: what lies whole in each of them needs nothing more
 *   factor  whose levels may be mixed up with a kind; group: within each level of it; NULL: none
 *
 * PL_EKEY: a column is absent; PL_ENOMEM. */
pl_code pl_ties_find(pl_arena *a, const pl_table *t, bool tied, bool rigs, const char *const *have,
                     size_t nhave, const char *factor, const char *group, pl_ties *out,
                     pl_diags *d);

#endif
