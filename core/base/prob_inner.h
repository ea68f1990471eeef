/* What the files of prob share: incomplete beta and gamma functions along a
 * ladder of their first parameter. Not for other rooms.
 *
 * One ladder serves both. With I_j the lower tail at parameter a + j,
 *
 *   beta    I_j = I_x(a + j, b)       T_j = x^(a+j) y^b / ((a+j) B(a+j, b)),  y = 1 - x
 *   gamma   I_j = P(a + j, z)         T_j = z^(a+j) e^-z / Gamma(a + j + 1)
 *
 *   I_(j+1) = I_j - T_j               T_(j+1) / T_j = (alpha + beta j) / (a + j + 1)
 *
 * (DLMF 8.17.20 and 8.8.5); alpha = x (a + b), beta = x, or alpha = z, beta = 0. */
#ifndef PL_BASE_PROB_INNER_H
#define PL_BASE_PROB_INNER_H

#include <stdbool.h>

typedef struct pl_ladder {
    bool gamma;
    double a, b;        /* a at j = 0 */
    double p, q, x, y;  /* beta: x = p/(p+q), y = q/(p+q), both to full accuracy */
    double z;           /* gamma */
    double alpha, beta; /* of the ratio above */
} pl_ladder;

void pl_ladder_beta(pl_ladder *L, double a, double b, double p, double q);
void pl_ladder_gamma(pl_ladder *L, double a, double z);

/* A positive number as factor * exp(log), so that neither runs out of range. */
typedef struct pl_scaled {
    double factor, log;
} pl_scaled;

pl_scaled pl_ladder_step(const pl_ladder *L, double j); /* T_j */
pl_scaled pl_poisson(double k, double m);               /* m^k e^-m / Gamma(k+1), m > 0 */

/* A tail and T_j in one scale: tail * exp(log) and T * exp(log). */
typedef struct pl_rung {
    double tail, step, log;
} pl_rung;
pl_rung pl_ladder_lower(const pl_ladder *L, double j); /* I_j */
pl_rung pl_ladder_upper(const pl_ladder *L, double j); /* 1 - I_j */

/* Gamma(z) = sqrt(2 pi / z) (z/e)^z exp(pl_stirling(z)), z > 0. */
double pl_stirling(double z);
/* M ln(M/mu) - (M - mu) >= 0 with diff = M - mu known better than M - mu shows. */
double pl_deviance(double M, double mu, double diff);

/* Mean of f(ctx, s) over s = chi/sqrt(df): f one tail of a studentised maximum at
 * s, positive, of one peak when taken times the density. `start` is any ln s, best
 * near that peak; `extra` the power of s with which f vanishes at 0, or what else sharpens
 * the peak. df INFINITY gives f at 1. Relative error below 1e-13 beside f's own. */
typedef double pl_spread_f(void *ctx, double s);
double pl_over_spread(double df, pl_spread_f *f, void *ctx, double start, double extra);

/* The positive x at which a tail that falls or rises steadily is `target`: secant
 * steps on the logs of both, in a bracket. */
typedef double pl_tail_f(void *ctx, double x);
double pl_solve_log(pl_tail_f *f, void *ctx, double target, double start, bool falling);

#define PL_TAIL_LEAST 1e-290 /* below it a tail comes as it is, without a promise */

#endif
