/* The bootstrap beside the profile: the onset found again in readings drawn from the fit.
 *
 * Parametric: each draw's units are the averaged curve at their own x, their blocks, and normal
 * scatter of the fit's size; every curve of the average is fitted to it over its whole range of
 * shape numbers, curves are weighed by AICc again, and the onset of their averaged mean is taken.
 * What is drawn are the sufficient statistics (a normal a row of curve_rows.h, a chi-square for
 * the rest), so a draw costs nothing in the number of units. Glue-ups are the units and are never
 * split; boards are effects of the model and are not drawn anew.
 *
 * Residuals, where asked for: the same with each unit's scatter drawn, with replacement, from the
 * units' own residuals from the averaged curve and blocks, centred and scaled by sqrt(units / df),
 * for residuals are shorter than the scatter they come from. From PL_BOOTSTRAP_BOARDS_LEAST boards
 * that hold the same x, also whole boards of residuals: what joints of one board share beyond its
 * own level then stays together. Fewer boards have too few ways to come out.
 *
 * Limits are the 2.5 and 97.5 %
 * points; a draw whose largest mean is not above zero has no onset, and counts as open at both
 * ends. Source: Davison & Hinkley 1997, Bootstrap Methods and their Application, sec. 2.2, 5.3.1.
 * What is drawn hangs on (seed, group, place) alone: the same bits for any number of threads.
 * The profile is the answer; this stands beside it. docs/methods/curves-and-onset.md. */
#ifndef PL_FIT_BOOTSTRAP_H
#define PL_FIT_BOOTSTRAP_H

#include "fit/plateau_group.h"
#include "fit/refit.h"

#define PL_BOOTSTRAP_DRAWS_MOST 1000000u

/* g: fitted. *out: *nout of them, in g->a; NULL (said why) when no curve is averaged, one of them
 * may turn, or there are more distinct x than PL_BOOTSTRAP_ROWS_MOST. PL_ENOMEM. */
#define PL_BOOTSTRAP_ROWS_MOST PL_REFIT_ROWS
#define PL_BOOTSTRAP_BOARDS_LEAST 20
pl_code pl_bootstrap_onset(const pl_plateau_group *g, pl_bootstrap **out, size_t *nout);

#endif
