/* A frozen plan made whole again: glue-ups that were lost, made anew from spare joints.
 *
 * Pure, as plan_make.h says. Why so, and what it costs: docs/methods/designs.md. */
#ifndef PL_DESIGN_PLAN_REPAIR_H
#define PL_DESIGN_PLAN_REPAIR_H

#include "design/plan_make.h"

/* The plan with every lost glue-up that wood is left for made once more: from a spare
 * joint of its own board, else of another board of the same species, in random order in
 * sessions of their own behind those of the plan. What was there stays as it is: labels,
 * ids, treatments, orders. The spare's label and ids are used, so nothing is issued anew;
 * `instead` of its glue-up names the lost one.
 *
 *   old   frozen; not changed
 *   lost  places in old->glue_ups, n of them; none is spare, none is named twice
 *   seed  below 2^53; becomes the plan's
 *   out   written on PL_OK only; lives in a; revision 0. What could not be remade, and
 *         what the new sessions cost, stands in health.cannot.
 *
 * PL_EUSAGE  the seed is too large
 * PL_EUNFIT  no spare joint is left for any of them; a session too short for one
 * PL_ENOMEM */
pl_code pl_plan_repair(pl_arena *a, const pl_study *s, const pl_plan *old, const size_t *lost,
                       size_t n, uint64_t seed, const pl_plan **out, pl_diags *d);

#endif
