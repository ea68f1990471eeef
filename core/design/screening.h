/* Screening designs: N runs, up to N - 1 factors of two levels, all columns orthogonal.
 *
 * Plackett & Burman 1946, Biometrika 33:305. Where q = N - 1 is a prime that leaves 3 when
 * divided by 4, the first row has + at 0 and at the squares modulo q, the others shift it by
 * one place, and a row of minus signs closes (N = 4, 8, 12, 20, 24, ...). N = 16 shifts the
 * sequence s(n+4) = s(n) + s(n+3) modulo 2. Others come from orthogonal matrices of signs
 * over a field of q = N - 1 or q = N/2 - 1 elements (Paley 1933, J. Math. Phys. 12:311) and
 * by doubling smaller ones (Sylvester 1867). */
#ifndef PL_DESIGN_SCREENING_H
#define PL_DESIGN_SCREENING_H

#include <stdbool.h>
#include <stdint.h>

#include "base/arena.h"

#define PL_SCREENING_RUNS_MOST 128u

/* Is there one of so many runs here? N = 92 and 116 are known, but not built here. */
bool pl_screening_exists(unsigned runs);
/* Fewest runs at least `least` that there is one of; 0: none up to the most. */
unsigned pl_screening_next(unsigned least);
/* runs x (runs - 1) signs, +1 or -1, row by row, in a; every column sums to 0 and any two
 * are orthogonal. NULL: none of so many runs, or no memory. */
int8_t *pl_screening(pl_arena *a, unsigned runs);

#endif
