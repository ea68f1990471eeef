/* Glue-ups added to a frozen plan: what remaking lost ones (plan_repair.c) and a further round
 * (plan_grow.c) share. Only core/design includes this.
 *
 * What was there stays as it is: labels, ids, treatments, orders. What is added stands behind it,
 * in sessions of its own, each glue-up in the first closing from the beginning that its press has.
 */
#ifndef PL_DESIGN_ADDED_H
#define PL_DESIGN_ADDED_H

#include "design/draft.h"

#define PL_ADDED_NEW_WOOD SIZE_MAX

typedef struct pl_added_unit {
    size_t treatment;     /* row of the new plan's treatments */
    size_t spare;         /* place in old->glue_ups of the spare that it is made from, or
                             PL_ADDED_NEW_WOOD */
    int board;            /* of new wood: place in the new plan's boards; -1 if none */
    bool keep;            /* of new wood: a spare joint, made only when it is needed */
    const char *instead;  /* label of the glue-up that this makes again; NULL */
    size_t session, slot; /* pl_added_write fills them in; session from 0 */
} pl_added_unit;

typedef struct pl_added {
    pl_draft f; /* presses and closings, as for a new plan */
    const pl_plan *old;
    pl_plan *p; /* the new plan: a copy of old to begin with */
    pl_added_unit *units;
    size_t n;
    const char **cannot; /* the old plan's and more */
    size_t ncannot;
} pl_added;

/* Sets up x for so many units at most and so many sentences more. f.scratch is a new arena, to be
 * freed by the caller whatever comes back. PL_EUSAGE: the seed is too large; PL_ENOMEM. */
pl_code pl_added_start(pl_added *x, pl_arena *a, const pl_study *s, const pl_set_points *points,
                       const pl_plan *old, size_t most, size_t sentences, uint64_t seed,
                       pl_diags *d);

/* Closings for the units in the order they stand, then the plan's glue-ups, specimens, break order
 * of the new ones and number of sessions. x->p->treatments and boards are the caller's to set.
 * PL_EUNFIT: a session too short for one glue-up, no press for a level; PL_ENOMEM. */
pl_code pl_added_write(pl_added *x, const struct pl_issued *issued);

/* The sentences into the plan's health. */
void pl_added_say(pl_added *x, const char *sentence); /* NULL: memory ran out, seen at the end */
pl_code pl_added_finish(pl_added *x);

/* What the wood of a glue-up is, "" if nothing is known of it. */
const char *pl_added_species(const pl_plan *p, const pl_glue_up *g);

#endif
