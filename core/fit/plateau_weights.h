/* Scatter that grows with the mean: a constant coefficient of variation.
 *
 * Each unit is weighted by 1/fitted^2, fitted the averaged curve at its own x with its block
 * effects, never a level's own scatter: with a handful of joints a level that happens to agree
 * would be believed most (Carroll & Ruppert 1988, Transformation and Weighting in Regression,
 * sec. 2.3; the weights are iterated until they stand). All curves of a group share them, so that
 * their AICc compare: it takes the determinant of the scatter with it. Level means and contrasts
 * are weighted alike. docs/methods/curves-and-onset.md. */
#ifndef PL_FIT_PLATEAU_WEIGHTS_H
#define PL_FIT_PLATEAU_WEIGHTS_H

#include "fit/plateau_group.h"

#define PL_WEIGHTS_STEPS 60

/* g: fitted with equal weights; on return with those that its own fit gives. PL_EDATA: a fitted
 * mean is not above zero. PL_ENOMEM. Not settled after PL_WEIGHTS_STEPS: advice. */
pl_code pl_plateau_in_proportion(pl_plateau_group *g);

#endif
