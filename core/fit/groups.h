/* Groups beside each other: do they need different pressure, and may one shape serve them all?
 *
 * The ratio of two onsets is profiled as an onset is (onset.h): for each curve that both groups
 * have, SS(rho) is the least sum of both groups' residual sums of squares with
 * onset_a = rho onset_b, scatter pooled over the two; curves are averaged by the AICc of the pair.
 * An onset at the end of a group's range stands for all beyond it, so a ratio is open where the
 * onsets leave it open. Offered where both ranges lie above zero.
 *
 * With one shape number for all groups the floors and tops stay with each group (boards lie inside
 * species, so a group's level is its own): the residual sums of squares add up for a given shape,
 * and the shape is searched and polished on the sum. docs/methods/curves-and-onset.md. */
#ifndef PL_FIT_GROUPS_H
#define PL_FIT_GROUPS_H

#include "fit/plateau_group.h"

/* Beyond so many groups each is compared with the first alone. */
#define PL_GROUPS_ALL_PAIRS 5

/* g: n >= 2 groups, fitted; p: their answers, which get ->between. PL_ENOMEM. */
pl_code pl_groups_compare(pl_arena *a, pl_plateau_group *g, size_t n, pl_plateau *p, pl_diags *d);

/* Inner: curves with one shape number for all (groups_shape.c); fills b->shared. */
pl_code pl_groups_shape(pl_arena *a, const pl_plateau_group *g, size_t n, pl_between *b,
                        pl_diags *d);

#endif
