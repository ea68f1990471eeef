/* Rigs and levels: whether what the rigs do to strength can be told from what the levels do.
 *
 * Rigs are bridged when each can be reached from each other one by levels that two of them made,
 * within every group by itself. Then a rig is a block like a board: its offset is estimated from
 * those levels and taken out. Else the offset is taken as nothing, which has to be said. */
#ifndef PL_FIT_BRIDGED_H
#define PL_FIT_BRIDGED_H

#include "base/arena.h"
#include "base/diag.h"
#include "study/table.h"

typedef enum pl_bridged {
    PL_ONE_RIG, /* or none known */
    PL_RIGS_BRIDGED,
    PL_RIGS_APART
} pl_bridged;

/* rig, level: columns of t; group: a column, or NULL. Rows without a rig or a level do not count.
 * tie: a column of numbers, or NULL: where it is not 0 the row is a reference joint, which is one
 * more level that rigs of every group may have in common.
 * *apart (may be NULL): two rigs that no chain of levels joins, in words; set with PL_RIGS_APART.
 * PL_EKEY: no such column; PL_ENOMEM. */
pl_code pl_rigs_bridged(pl_arena *a, const pl_table *t, const char *rig, const char *level,
                        const char *group, const char *tie, pl_bridged *out, const char **apart,
                        pl_diags *d);

#endif
