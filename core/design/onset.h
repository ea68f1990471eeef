/* A guess of where a rise ends, as columns and an aim for the search of designs.
 *
 * A guessed curve m(u) = floor + height g(u; s), 1 at the highest level, has its shape number s
 * found so that m at the guessed onset is `share` of that. The onset t follows from mean,
 * height and shape by h = m(t) - share m(highest) = 0; its derivatives are -dh / m'(t), divided
 * by t where the curve runs in x: the aim is the variance of log t (c-optimality: Elfving
 * 1952, Ann. Math. Statist. 23:255; Silvey, Optimal Design, 1980, ch. 3; several guesses with
 * weights: Chaloner & Larntz 1989, J. Statist. Plann. Inference 21:191).
 *
 * The only place in design where exp and log are used, before the search and outside of it:
 * what comes out is rounded to 9 decimals, all of it being of the order of 1, so that a last
 * digit that differs between machines does not reach the search. */
#ifndef PL_DESIGN_ONSET_H
#define PL_DESIGN_ONSET_H

#include "base/arena.h"
#include "base/diag.h"
#include "study/study.h"

#define PL_ONSET_COLUMNS 2 /* g, and height s dg/ds */

/* x: n places, SI; low, high: the range of the levels. f: n x 2, aim: 3 (mean, g, shape). False:
 * no curve of this form ends its rise there. */
bool pl_onset_view(const pl_guess *guess, double share, double low, double high, const double *x,
                   size_t n, double *f, double *aim);

/* Places levels "for the aim" (pl_study_place_levels_by): x: nlevel numbers in the factor's unit,
 * the first and last given, those between chosen from the preferred numbers of the E12 or E24
 * series (IEC 60063), or from numbers of two digits where these are too few. The guesses count as
 * out by a factor of up to 2 either way. False: no guess fits, or no memory: the levels stay as
 * they are. */
bool pl_onset_levels(pl_arena *a, const pl_study *s, size_t factor, double *x);

#endif
