/* The best that any weights could reach: the continuous optimum that a plan's efficiency is
 * measured against.
 *
 * Weights w on the candidates, M = sum w x x', x = (1, row of f). They are multiplied again and
 * again by d_j / q (D; Titterington 1976, Biometrika 63:113) or by the root of the gain (I and c;
 * Fellman 1974; Yu 2010, Ann. Statist. 38:1593), and what no weights can pass follows from the
 * largest gain (Kiefer & Wolfowitz 1960, Canad. J. Math. 12:363; convexity for I and c): a bound
 * that holds wherever the steps stopped. + - * / and square root only, counted steps. */
#ifndef PL_DESIGN_WEIGHTS_H
#define PL_DESIGN_WEIGHTS_H

#include "design/exchange.h"

#define PL_WEIGHTS_WORK ((size_t)60000000) /* candidates looked at, times columns squared */

typedef struct pl_weights {
    pl_region of;
    double aim;   /* stop when within this share of the bound: 1e-4, say */
    size_t work;  /* most work; 0: PL_WEIGHTS_WORK */
    double *w;    /* ncand: out, sums to 1 */
    double value; /* out. D: p-th root of the determinant; I, c: variance for one run */
    double bound; /* out: no weights reach more (D) or less (I, c) */
    size_t steps; /* out */
} pl_weights;

/* PL_ERANK, PL_EUSAGE, PL_ENOMEM as pl_exchange_search. */
pl_code pl_weights_find(pl_arena *a, pl_weights *w, pl_diags *diags);

#endif
