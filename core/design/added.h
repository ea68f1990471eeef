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
#define PL_ADDED_PAIRS_MOST ((size_t)200) /* bridging pairs of one round */

typedef struct pl_added_unit {
    size_t treatment;     /* row of the new plan's treatments */
    size_t spare;         /* place in old->glue_ups of the spare that it is made from, or
                             PL_ADDED_NEW_WOOD */
    int board;            /* of new wood: place in the new plan's boards; -1 if none */
    bool keep;            /* of new wood: a spare joint, made only when it is needed */
    bool reference;       /* the reference joint of its session */
    unsigned pair;        /* from 1: of a bridging pair, the other one beside it; 0: of none */
    int rig;              /* of a pair: place in study->rigs */
    const char *instead;  /* label of the glue-up that this makes again; NULL */
    size_t session, slot; /* pl_added_write fills them in; session from 0 */
} pl_added_unit;

typedef struct pl_added pl_added;
struct pl_added {
    pl_draft f; /* presses and closings, as for a new plan */
    const pl_plan *old;
    pl_plan *p; /* the new plan: a copy of old to begin with */
    pl_added_unit *units;
    size_t n;
    const char **cannot; /* the old plan's and more */
    size_t ncannot;
    /* Wood for a reference joint or one of a pair: sets spare and board of u. like: a unit whose
     * board is best, or NULL. False: there is none. */
    bool (*wood)(pl_added *x, pl_added_unit *u, const pl_added_unit *like);
    void *who;                        /* whoever finds the wood */
    size_t nreference, npair, untied; /* sessions without room or wood for their reference joint */
};

/* Sets up x for so many units at most and so many sentences more. f.scratch is a new arena, to be
 * freed by the caller whatever comes back. PL_EUSAGE: the seed is too large; PL_ENOMEM. */
pl_code pl_added_start(pl_added *x, pl_arena *a, const pl_study *s, const pl_set_points *points,
                       const pl_plan *old, size_t most, size_t sentences, uint64_t seed,
                       pl_diags *d);

/* added_closings.c: closings for the units in the order they stand, those of pairs in twos behind
 * the others. Every session gets the study's reference joints near its middle, as far as there is
 * wood for them. bridge: two rigs that the added levels rest on get a pair, or as many as are still
 * needed. PL_EUNFIT as below; PL_ENOMEM. */
pl_code pl_added_closings(pl_added *x, bool bridge);
/* Takes units that need no change of what is hard to change one after the other. */
void pl_added_together(pl_added *x);
bool pl_added_same_setting(const pl_added *x, size_t a, size_t b, unsigned layer);

/* Closings, then the plan's glue-ups, specimens, break order
 * of the new ones and number of sessions. x->p->treatments and boards are the caller's to set.
 * PL_EUNFIT: a session too short for one glue-up, no press for a level; PL_ENOMEM. */
pl_code pl_added_write(pl_added *x, bool bridge, const struct pl_issued *issued);

/* "; beside them 2 reference joints and 1 pair that bridges two rigs"; "" where there are none;
 * NULL: no memory. */
char *pl_added_beside(const pl_added *x);
/* True where every new session has its reference joints, after saying so; also says where not. */
bool pl_added_say_tied(pl_added *x);
/* The sentences into the plan's health. */
void pl_added_say(pl_added *x, const char *sentence); /* NULL: memory ran out, seen at the end */
pl_code pl_added_finish(pl_added *x);

/* What the wood of a glue-up is, "" if nothing is known of it. */
const char *pl_added_species(const pl_plan *p, const pl_glue_up *g);

#endif
