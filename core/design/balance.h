/* Sharing treatments out over blocks that cannot hold them all.
 *
 * Counts of treatments and sizes of blocks are given; what is sought is the
 * arrangement whose pairs of treatments meet as equally often as can be. With
 * N the counts (treatments x blocks) and W = 1 / sizes, the sum of all squares
 * of N W N' is made small: among arrangements with the largest information
 * that is the second half of the (M,S) rule of Shah 1960, Ann. Math. Statist.
 * 31:791, and Eccleston & Hedayat 1974, Ann. Statist. 2:1238; a balanced design
 * reaches the least possible. */
#ifndef PL_DESIGN_BALANCE_H
#define PL_DESIGN_BALANCE_H

#include <stddef.h>
#include <stdint.h>

#include "base/arena.h"
#include "base/diag.h"

/* Interchanges looked at in one search, times treatments: the search stops
 * after a counted amount of work, about a tenth of a second, never after a time. */
#define PL_BALANCE_WORK ((size_t)30000000)

typedef struct pl_share_out {
    size_t nunit, v, nblock;
    uint32_t *treatment;       /* nunit, changed: below v */
    const uint32_t *block;     /* nunit: below nblock */
    const double *weight;      /* nblock: 1 / size, times any constant */
    const uint32_t *pen;       /* nunit: only units of one pen change treatments; NULL: all may */
    const uint32_t *kind;      /* v: only treatments of one kind change places; NULL: all may */
    size_t starts;             /* at least 1: the first is as given, others shuffle the pens */
    uint64_t start_seed;       /* of the shuffles */
    size_t work;               /* most work; 0: PL_BALANCE_WORK */
    double least;              /* stop early at this criterion; 0: never */
    double criterion;          /* out: sum of squares reached */
    size_t moves, starts_done; /* out */
} pl_share_out;

/* Improves by interchange of two units, first found first taken, by index,
 * until none improves by more than 1e-9; keeps the best start. With several starts
 * those of equal criterion are told apart by their efficiency (information.h),
 * equal ones of these by number: the earlier stays. PL_ENOMEM. */
pl_code pl_share_out_improve(pl_arena *a, pl_share_out *s, pl_diags *diags);

/* The least criterion that blocks of these sizes allow (every pair meets
 * equally often); reached by balanced designs only. weight as above; own: units
 * of each block. */
double pl_share_out_least(size_t v, size_t nblock, const size_t *own, const double *weight);

#endif
