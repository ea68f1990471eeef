/* A frozen plan with a further round behind it: more glue-ups of treatments that it has already,
 * or of levels that were added to the study since.
 *
 * Pure, as plan_make.h says. Why so: docs/methods/next-round.md. */
#ifndef PL_DESIGN_PLAN_GROW_H
#define PL_DESIGN_PLAN_GROW_H

#include "design/plan_make.h"

/* The plan with n glue-ups more, in sessions of their own behind those of the plan. What was there
 * stays as it is. Wood: spare joints of the same wood first, from as many boards as there are;
 * then new boards, each for as many as one of its kind carries; with spare joints of their own
 * where the study asks for some. Where those are more boards than the study lists, health.cannot
 * says how many to get.
 *
 *   s        the study, every factor with the levels of the old plan at their old places
 *   points   of s; NULL: no rigs known
 *   old      frozen; not changed
 *   levels     n x nfactor level places: one row a glue-up
 *   replicate  n numbers that never fall: rows of one number are glued in an order drawn, before
 *              those of the next, so that every session holds what it can of each treatment
 *   seed     below 2^53; becomes the plan's
 *   issued   none of these becomes an id
 *   out      written on PL_OK only; lives in a; revision 0
 *
 * PL_EUSAGE  the seed is too large, n is 0
 * PL_EUNFIT  no board of a species that is asked for; no press for a level; a session too short
 * PL_ENOMEM */
pl_code pl_plan_grow(pl_arena *a, const pl_study *s, const pl_set_points *points,
                     const pl_plan *old, const int *levels, const size_t *replicate, size_t n,
                     uint64_t seed, const pl_issued *issued, const pl_plan **out, pl_diags *d);

/* The rows of a further round of an optimal arrangement (criterion D or I): n glue-ups chosen so
 * that they and what the plan has tell most together. What was there stays, lost glue-ups with it
 * (they are made again: plan_repair.h); all of it is one block, the round another; each wood gets
 * equally many.
 *
 *   levels   n x nfactor level places: out
 *   reached  share of what no weights on the same candidates, without blocks, can pass: out; the
 *            least of the woods
 *
 * PL_EUNFIT  the candidates do not tell what is asked; PL_ENOMEM */
pl_code pl_optimal_further(pl_arena *a, const pl_study *s, const pl_set_points *points,
                           const pl_plan *old, size_t n, int *levels, double *reached, pl_diags *d);

#endif
