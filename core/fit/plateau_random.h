/* Curves whose blocks (boards, sessions) are a sample of many.
 *
 * Given the ratios of the blocks' variances to the residual's, units have a known covariance but
 * for one factor, and all of the curve fit goes on as it does with fixed blocks once rows are
 * divided by a root of it. Shape number and AICc are those of the largest likelihood over ratios
 * and curve together; at that shape the variances are found by restricted likelihood (reml.h) with
 * one column a fitted number, the shape's slope among them, and coefficients, limits and profiles
 * stand on these. Degrees of freedom are those of the same curve with fixed blocks. In balanced
 * complete blocks all that lies within blocks is then just as with fixed ones. Sources: Lindstrom &
 * Bates 1990, Biometrics 46:673 (a curve in fixed and random numbers, its restricted likelihood by
 * its slopes); Patterson & Thompson 1971, Biometrika 58:545. docs/methods/curves-and-onset.md. */
#ifndef PL_FIT_PLATEAU_RANDOM_H
#define PL_FIT_PLATEAU_RANDOM_H

#include "fit/plateau_group.h"

/* The recovered answer leads from so many degrees of freedom between the levels of each block. */
#define PL_RECOVERED_FROM 10
/* With several random blocks their covariance is a full square. */
#define PL_RANDOM_UNITS_MOST 400

/* g: fitted and answered with all blocks fixed, *p. Puts the other answer beside it, or in front.
 * What keeps it from being had is said and *p stays: a glue-up of two boards, variances that cannot
 * be told apart, no curve that serves (rise-and-fall and curves from outside are left out).
 * PL_ENOMEM.
 */
pl_code pl_plateau_recover(pl_plateau_group *g, pl_plateau *p);

#endif
