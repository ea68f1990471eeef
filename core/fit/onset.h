/* Onset and end of the range with model-averaged intervals.
 *
 * A(t) = sum over curves of weight * T_df(r(t)), r(t) = sign(place - t) *
 * sqrt((SS(t) - SS)/s^2), SS(t) the least residual sum of squares with the onset (or the end)
 * held at t. Limits at A = 0.975 and 0.025, outermost crossings over the open range between
 * the lowest and the highest level; the point at 0.5. No crossing: that end is open.
 * Source: Fletcher & Turek 2012, J. Agric. Biol. Environ. Stat. 17:38 (profile form); Turek &
 * Fletcher 2012, Comput. Stat. Data Anal. 56:2809 (Wald form, used for means).
 * docs/methods/curves-and-onset.md. */
#ifndef PL_FIT_ONSET_H
#define PL_FIT_ONSET_H

#include "fit/curve.h"

/* What a rig's own error does to the places it makes: near `at` (in x) every press of the rig is
 * off by one unknown share of itself, of this relative standard uncertainty. */
typedef struct pl_rig_doubt {
    double at, relative;
    const char *rig;
} pl_rig_doubt;

/* models: those averaged, weights summing to 1. levels: K distinct places in rising order, the
 * first and last of them the range. PL_ENOMEM. */
pl_code pl_onset_interval(pl_arena *a, pl_curve_model *const *models, size_t n, pl_curve_held held,
                          const double *levels, size_t K, pl_bounded *out, pl_diags *d);

/* The same where the rigs' own error is carried on into the place: set points are Berkson errors
 * (Berkson 1950, JASA 45:164). What differs from glue-up to glue-up is in their scatter already;
 * what a rig does to all of its glue-ups no number of them averages out, and it moves the place
 * after the fit: A(t) is averaged over t / (1 + u z), z normal, u of the doubt nearest to t (A from
 * its looks, straight between them). Doubts without one (0 of them, or relative 0): as above.
 * Onsets above zero only; PL_ENOMEM. */
pl_code pl_onset_with_rigs(pl_arena *a, pl_curve_model *const *models, size_t n, pl_curve_held held,
                           const double *levels, size_t K, const pl_rig_doubt *doubts,
                           size_t ndoubt, pl_bounded *out, pl_diags *d);
/* A doubt moves no best guess, and narrows no range. */
void pl_onset_widen(pl_bounded *with, const pl_bounded *without);
/* The doubt nearest to t by ratio; NULL without any. */
const pl_rig_doubt *pl_rig_doubt_at(const pl_rig_doubt *doubts, size_t n, double t);

/* The same of any A(t) that falls from 1 to 0 as t passes the place: what reads A is the caller's.
 * looks: how many of them over the range, about. */
typedef double (*pl_onset_tail)(void *self, double t);
pl_code pl_onset_of_tail(pl_arena *a, pl_onset_tail tail, void *self, size_t looks,
                         const double *levels, size_t K, const pl_rig_doubt *doubts, size_t ndoubt,
                         pl_bounded *out, pl_diags *d);

/* Averaged value with its averaged-tail-area limits from one estimate, standard error and df a
 * model: sum of weight * T_df((value - y)/se) = 0.975 and 0.025. */
void pl_average_limits(const double *value, const double *se, const double *df,
                       const double *weight, size_t n, double *mean, double *low, double *high);

#endif
