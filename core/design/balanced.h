/* Balanced incomplete blocks: v treatments, b blocks of k < v of them, no treatment twice in
 * a block, every two together in the same number lambda of blocks.
 *
 * Yates 1936, Ann. Eugen. 7:121; Bose 1939, Ann. Eugen. 9:353. r = b k / v blocks hold a
 * treatment and lambda = r (k - 1) / (v - 1). */
#ifndef PL_DESIGN_BALANCED_H
#define PL_DESIGN_BALANCED_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/arena.h"

#define PL_BALANCED_TREATMENTS_MOST 128u

/* Why there is none of these parameters, in words; NULL when no reason known here forbids
 * it. Reasons: r or lambda is not whole; b < v (Fisher 1940, Ann. Eugen. 10:52); b = v and
 * the equation z^2 = (k - lambda) x^2 +- lambda y^2 has no whole solution but 0 (Bruck &
 * Ryser 1949, Canad. J. Math. 1:88; Chowla & Ryser 1950, 2:93); r = k + lambda with lambda 1
 * or 2 and the symmetric design that it would be part of is forbidden so (Hall & Connor
 * 1954, Canad. J. Math. 6:35); or every case was gone through by computer: 22 in eights (33
 * blocks: Bilous and others 2007) and the plane of order 10 (Lam, Thiel & Swiercz 1989). */
const char *pl_balanced_refusal(unsigned v, unsigned b, unsigned k);

typedef enum pl_balanced_found {
    PL_BALANCED_BUILT,
    PL_BALANCED_NOT_FOUND, /* no reason against it, but neither built nor found here */
    PL_BALANCED_NONE,      /* pl_balanced_refusal says why */
    PL_BALANCED_NO_MEMORY
} pl_balanced_found;

/* block: b x k treatments, block by block. Built from all subsets, repeats, complements,
 * lines and hyperplanes over finite fields, or base blocks found by a search in counted
 * moves that groups acting on the treatments shorten (orbits.h). v at most the limit above;
 * 2 <= k < v. */
pl_balanced_found pl_balanced(pl_arena *a, unsigned v, unsigned b, unsigned k, uint32_t *block);

#endif
