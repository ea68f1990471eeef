/* Sharing runs out over blocks so that contrasts are kept free of them.
 *
 * Each unit has a row of contrasts and lies in a block. What is made small is the sum over
 * blocks and contrasts of weight x (sum of the contrast in the block)^2: 0 when every
 * contrast is orthogonal to the blocks, and a design of 2^q runs in 2^p equal blocks reaches
 * that where its effects allow (Box & Hunter 1961, Technometrics 3:449). */
#ifndef PL_DESIGN_SPREAD_H
#define PL_DESIGN_SPREAD_H

#include <stddef.h>
#include <stdint.h>

#include "base/arena.h"
#include "base/diag.h"

#define PL_SPREAD_WORK ((size_t)20000000) /* interchanges looked at, times contrasts */

typedef struct pl_spread {
    size_t nunit, nblock, nx;
    const double *x;        /* rows x nx, whole numbers */
    const double *x_weight; /* nx */
    uint32_t *row;          /* nunit, changed: row of x */
    const uint32_t *block;  /* nunit */
    const double *weight;   /* nblock: 1 / size, times any constant */
    const uint32_t *pen;    /* nunit: only units of one pen change rows; NULL: all may */
    const uint32_t *kind;   /* of each row: only rows of one kind change places; NULL: all may */
    size_t starts;          /* at least 1: the first as given, others shuffle the pens */
    uint64_t start_seed;
    size_t work;      /* most work; 0: PL_SPREAD_WORK */
    double criterion; /* out */
} pl_spread;

/* Interchange of two units, first found first taken, by index, until none gains more than
 * 1e-9; the best start is kept, the earlier of equals. PL_ENOMEM. */
pl_code pl_spread_improve(pl_arena *a, pl_spread *s, pl_diags *diags);

#endif
