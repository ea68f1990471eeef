/* On which scale a linear model fits best: the power of the response (Box & Cox 1964, J. R.
 * Statist. Soc. B 26:211).
 *
 * z = (y^lambda - 1) / (lambda g^(lambda - 1)) with g the geometric mean of y, ln y times g at 0:
 * the residual sum of squares of z, block effects taken out as fixed, is comparable between powers,
 * and L(lambda) = -n/2 ln RSS(lambda) is the log-likelihood but for a constant. The power is where
 * L is greatest; the 95 % interval is where L lies within chi-square(0.95, 1) / 2 of that. */
#ifndef PL_FIT_BOXCOX_H
#define PL_FIT_BOXCOX_H

#include "fit/linear.h"

#define PL_BOXCOX_MOST 5.0 /* powers from -5 to 5 are looked at */

typedef struct pl_boxcox {
    double power, low, high; /* low, high NAN where open: beyond what is looked at */
    bool low_open, high_open;
    size_t units;
} pl_boxcox;

/* The power for spec's response and effects; random blocks count as fixed. Specimens of one glue-up
 * (spec->unit) are averaged first: a unit has one value. *fitted false, and PL_OK, where no power
 * can be had: a value at or below zero, nothing left over for an error, or a fit that is refused.
 * PL_ENOMEM. */
pl_code pl_boxcox_fit(pl_arena *a, const pl_table *t, const pl_linear_spec *spec, pl_boxcox *out,
                      bool *fitted, pl_diags *diags);

/* L as above for one power, with its constants dropped; NAN when the model cannot be fitted. */
double pl_boxcox_likelihood(pl_arena *a, const pl_table *t, const pl_linear_spec *spec,
                            double power);

#endif
