/* Making a plan: treatments, boards, sessions, orders, ids, health.
 *
 * Pure: no printing, no files, no clock; whole numbers drawn from seeded
 * streams; + - * / and square root only. The same study, set points, count, seed
 * and ids issued before give the same plan on every machine. How each step works, and where it
 * comes from: docs/methods/designs.md. */
#ifndef PL_DESIGN_PLAN_MAKE_H
#define PL_DESIGN_PLAN_MAKE_H

#include <stdint.h>

#include "base/arena.h"
#include "base/diag.h"
#include "study/plan.h"
#include "study/set_points.h"
#include "study/study.h"

/* The health holds a table of treatments by treatments. */
#define PL_PLAN_TREATMENTS_MOST ((size_t)400)

/* At most so many orders are drawn in search of one that is balanced. */
#define PL_PLAN_ORDER_DRAWS_MOST 1000u

/* Ids that labels in the shop carry already. */
typedef struct pl_issued {
    const char *const *ids;
    size_t count;
} pl_issued;

/* A plan for a study.
 *
 *   points              which rig makes which level of the pressed factor; NULL:
 *                       no rigs known, every glue-up has rig -1. The plan's own
 *                       `points` share its arrays.
 *   glue_ups_per_level  glue-ups of every combination of levels, at least 1: a
 *                       level of the factor asked about gets so many in each
 *                       group (each species, each further factor's level)
 *   seed                below 2^53
 *   issued              none of these becomes an id again; NULL: none yet
 *   out                 written on PL_OK only; lives in a; revision 0
 *
 * Glue-ups stand in glue order, spare ones behind them; specimens likewise. A
 * spare glue-up has session, station and glue_order 0, press and rig -1, start_s
 * NAN; its treatment names its species only: it is the first treatment of that
 * species, and nobody has chosen it. start_s is when hands-on work on a glue-up
 * begins (it closes hands_on_s later); NAN when no clamp time is known.
 *
 * PL_EUSAGE  glue_ups_per_level is 0, or the seed is too large
 * PL_EUNFIT  boards too few or too short, no press for a level, a session too
 *            short for one glue-up, the arrangement asked for does not fit, more
 *            treatments than the limit above, or more joints than there are ids
 *            (pl_ids_most); the finding says the mend
 * PL_ENOMEM */
pl_code pl_plan_make(pl_arena *a, const pl_study *s, const pl_set_points *points,
                     unsigned glue_ups_per_level, uint64_t seed, const pl_issued *issued,
                     const pl_plan **out, pl_diags *diags);

/* Time that the plan's glue-ups keep press stations, spare ones left out:
 * pl_study_press_s of their number. NAN when no clamp time is known. */
double pl_plan_press_s(const pl_study *s, const pl_plan *p);

#endif
