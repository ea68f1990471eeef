/* Taking blocks out of a column without ever writing them as columns.
 *
 * What is left of v after the blocks is v - Z g, with N g = Z'v and N = Z'Z a
 * table of counts. One block factor: subtract each block's mean. Several: the
 * factor with most levels is eliminated so, the others by LDL' of what then
 * remains of N, as large as their levels together squared and never as long as
 * the table. In twofold numbers, so that squaring costs no digits that matter.
 * No block at all is one block that holds every row: its level is the intercept. */
#ifndef PL_FIT_LINEAR_ABSORB_H
#define PL_FIT_LINEAR_ABSORB_H

#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"
#include "fit/dd.h"

/* A block factor: code[row] in 0..nlevel-1, every level met; weight: nlevel shares that sum to
 * 1, how levels count in an average over this factor. */
typedef struct pl_absorb_factor {
    const int *code;
    size_t nlevel;
    const double *weight;
} pl_absorb_factor;

typedef struct pl_absorb {
    size_t n, rank; /* independent block columns, the intercept among them; 0: nothing absorbed */
    size_t nfactor;
    const pl_absorb_factor **factors; /* the one eliminated first leads */
    size_t *offset;                   /* of factor k's levels among all levels */
    size_t nlevel;                    /* all levels together */
    pl_dd *count;                     /* of the leading factor's levels */
    size_t nrest;
    pl_dd *ldl;             /* nrest x nrest, row-major, lower: unit L and D on the diagonal */
    bool *dropped;          /* nrest */
    bool connected;         /* averages over all blocks can be told */
    pl_dd average_variance; /* of the averaged block constant, over sigma^2 */
} pl_absorb;

/* NULL when memory is out. Everything lives in a; factors are kept by reference. nfactor 0 with
 * intercept: the mean; without: nothing is taken out. */
pl_absorb *pl_absorb_new(pl_arena *a, const pl_absorb_factor *const *factors, size_t nfactor,
                         size_t n, bool intercept);

/* v (n) loses its block part; the weighted average of what it lost comes back (the
 * "intercept" of v). room: nlevel numbers of scratch. */
pl_dd pl_absorb_take(const pl_absorb *b, pl_dd *v, pl_dd *room);

#endif
