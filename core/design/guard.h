/* The guard of an order: which orders of glueing are taken, and which are drawn again.
 *
 * An order is refused when a factor's levels follow the time: their rank correlation with the
 * place in the order exceeds a bound, or a session as a whole rises or falls through the levels
 * of the pressed factor. Plans and the randomisation test ask the same functions, so that the
 * test redraws under the plan's own rule (docs/methods/designs.md, "Orders"). */
#ifndef PL_DESIGN_GUARD_H
#define PL_DESIGN_GUARD_H

#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"
#include "base/diag.h"
#include "study/study.h"

typedef struct pl_guard {
    size_t nrank;    /* rank vectors; 0: every order is taken */
    const int *rank; /* nrank x ntreatment: from 0 */
    const int *of;   /* nrank: the factor of each */
    size_t ntreatment;
    int factor;           /* whose levels no session rises or falls through; -1 none. Its ranks
                             come first */
    double bound_squared; /* most rank correlation, squared */
} pl_guard;

typedef struct pl_guard_seen {
    size_t rising;  /* sessions that rise or fall throughout */
    double squared; /* largest squared rank correlation */
} pl_guard_seen;

/* levels: ntreatment x s->nfactor. nunit: glue-ups in the order. Watched by default: the pressed
 * factor, else the numeric one asked about, at 0.3 or 1/sqrt(nunit - 1) if that is larger. With
 * arrangement.order_limit: every factor but what comes with the board, at that; of words, each
 * level against all others. A limit of 1 takes every order. PL_ENOMEM. */
pl_code pl_guard_open(pl_arena *a, const pl_study *s, const int *levels, size_t ntreatment,
                      size_t nunit, pl_guard *out, pl_diags *d);

/* Squared rank correlation (midranks) of place in order with rank, n units. One and the same for
 * n treatments in order. */
double pl_guard_correlation(const int *rank, const size_t *treatment, size_t n);

/* Does a session, n ranks in order, rise or fall throughout? All of it for three levels; any
 * stretch of it for more, where chance rarely does that. Ranks below 1000. */
bool pl_guard_runs(const int *rank, size_t n);

/* A whole order: treatment and session of n glue-ups, in order. rank_room: n ints. */
void pl_guard_look(const pl_guard *g, const size_t *treatment, const size_t *session, size_t n,
                   int *rank_room, pl_guard_seen *out);

static inline bool pl_guard_takes(const pl_guard *g, const pl_guard_seen *seen)
{
    return !seen->rising && seen->squared <= g->bound_squared;
}

/* Nearer to being taken? */
static inline bool pl_guard_nearer(const pl_guard_seen *a, const pl_guard_seen *b)
{
    return a->rising < b->rising || (a->rising == b->rising && a->squared < b->squared);
}

/* Rank of a treatment's level of a factor among its levels: by size where it is numeric, else
 * by place in the list. */
int pl_guard_rank(const pl_study *s, size_t factor, const int *levels);

#endif
