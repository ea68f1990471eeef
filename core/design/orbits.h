/* Balanced blocks with a group that moves them: the search goes over base blocks only.
 *
 * A group of m elements acts on v = copies * m + fixed points: point (i, x) goes to (i, x +
 * g), a fixed one stays. Base blocks make m blocks each; the design is balanced when every
 * difference between two copies, and every copy with the fixed point, occurs lambda times
 * (difference families: Bose 1939, Ann. Eugen. 9:353; Abel & Buratti in the Handbook of
 * Combinatorial Designs, 2nd ed. 2007, ch. VI.16). m = 1 is the search without a group. */
#ifndef PL_DESIGN_ORBITS_H
#define PL_DESIGN_ORBITS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/arena.h"

typedef struct pl_orbits {
    unsigned v, b, k;
    unsigned m;        /* elements of the group */
    bool field;        /* sums of the field of m elements; else modulo m */
    unsigned fixed;    /* 0 or 1: the last point */
    unsigned short_of; /* 0, or s: the cosets of the subgroup of s elements are blocks too,
                          with the fixed point where k = s + 1; only with one copy */
    unsigned whole;    /* blocks that the group leaves where they are: copies as a whole, one each
                          from the first on, or, of one such block, as many as it holds; with the
                          fixed point where the size leaves one */
    size_t moves_most; /* moves tried; whole and counted, so that every machine stops alike */
    uint64_t seed;
    size_t moves; /* out */
} pl_orbits;

/* Can base blocks of these make b blocks at all? */
bool pl_orbits_fit(const pl_orbits *o);
/* Fills block (b x k). False: not found within the moves, or no memory. */
bool pl_orbits_search(pl_arena *a, pl_orbits *o, uint32_t *block);

#endif
