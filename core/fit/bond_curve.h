/* The plateau question asked of the glue line: the curves of fit/plateau.h fitted to readings some
 * of which are only bounds.
 *
 * As for the joint, with these differences. Every joint is a reading by itself (bounds cannot be
 * averaged over a glue-up). A curve's likelihood (censored_curve.h) stands where its residual sum
 * of squares stood: AICc counts the readings that are no bounds; r(t) of the onset's interval is
 * sqrt(df (exp(2 (l - l(t))/n) - 1)), n those readings, which is the joint's where there is no
 * bound. Rise and fall: each contrast of levels by the same root of its likelihood ratio against 0,
 * against the points that the levels would have if every reading were exact. A level without one
 * glue-line break has no upper limit; contrasts with it still have their likelihood. Random
 * blocks count as fixed. Of the default set those that go one way; the end of the range and a loss
 * are left to the joint. docs/methods/joint-and-bond.md. */
#ifndef PL_FIT_BOND_CURVE_H
#define PL_FIT_BOND_CURVE_H

#include "fit/bond.h"
#include "fit/plateau.h"

/* One pl_plateau a group, answer "bond"; link: PL_LINK_BOND, or PL_LINK_UNHANDLED (a
 * group without such joints: answer NULL). *out lives in a.
 * table: with the columns of both specs. Reasons beside those of plateau.h: undecided
 * "glue-line-breaks-too-few" (fewer than levels and blocks need).
 *
 * PL_EKEY, PL_EVALUE, PL_ENOMEM; a group for which nothing can be had is undecided, and no error.
 */
pl_code pl_bond_curves(pl_arena *a, const pl_table *table, const pl_bond_spec *bond, pl_link link,
                       const pl_curve_spec *spec, pl_plateau **out, size_t *nout, pl_diags *d);

#endif
