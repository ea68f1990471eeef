/* Weibull strengths by maximum likelihood, and what a lower limit of their percentile is
 * worth with so many of them: the chain of ever smaller faults breaks at its weakest link. */
#ifndef PL_SIZE_WEIBULL_H
#define PL_SIZE_WEIBULL_H

#include <stdbool.h>
#include <stddef.h>

typedef struct pl_weibull {
    double shape, scale; /* scale in the unit of the values */
    double log_likelihood;
} pl_weibull;

/* log_x: natural logarithms of n values, of which censored[i] (NULL: none) are known to be
 * larger only. False when fewer than two different values broke: nothing tells the shape.
 * Safe inside a parallel loop. Source: Lawless 1982, Statistical Models and Methods for
 * Lifetime Data, ch. 4. Checked by records weibull/... */
bool pl_weibull_fit(const double *log_x, const bool *censored, size_t n, pl_weibull *out);

/* Value that a share p of all pieces does not reach. */
double pl_weibull_quantile(const pl_weibull *w, double p);
/* Shape whose coefficient of variation is cv, 0 < cv < 10; NAN outside. */
double pl_weibull_shape_of(double cv);

#endif
