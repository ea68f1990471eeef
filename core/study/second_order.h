/* Designs for a curved surface in k measured factors: where levels lie, how many runs.
 *
 * Central composite (Box & Wilson 1951, J. R. Statist. Soc. B 13:1): F corners (all 2^k, from
 * five factors on the half in which the last follows the product of the others), 2k points on
 * the axes at +-alpha, and centre points. Box-Behnken (Box & Behnken 1960, Technometrics
 * 2:455): corners of few factors at a time, the others in the middle. */
#ifndef PL_STUDY_SECOND_ORDER_H
#define PL_STUDY_SECOND_ORDER_H

#include "study/study.h"

#define PL_SECOND_ORDER_MOST 7u /* factors */

/* Corners: 2^k, or half of them for k >= 5. */
unsigned pl_central_corners(unsigned k);

/* Distance of the points on the axes, the corners' being 1. rotatable: F^(1/4) (Box & Hunter
 * 1957, Ann. Math. Statist. 28:195); face-centred: 1; orthogonal: alpha^2 = (sqrt(F N) -
 * F)/2, N = F + 2k + centre runs in all. Square roots only. */
double pl_central_axial(unsigned k, unsigned corners, pl_axial how, unsigned centre);

/* The same in blocks that drop out of slopes, squares and products alike: `blocks` blocks of
 * corners with `middle` centre runs in each, and one of the points on the axes with middle_axes.
 * alpha^2 = k (1 + middle_axes / 2k) / (1 + middle blocks / corners): Box & Hunter 1957. */
double pl_central_blocked(unsigned k, unsigned corners, unsigned blocks, unsigned middle,
                          unsigned middle_axes);
/* Blocks that the corners fall into without any product of two factors going with them: 2 for 3, 4,
 * 6 and 7 factors (by a product of three, of four for 4), else 1. */
unsigned pl_central_corner_blocks(unsigned k);
/* Bits of the factors whose product tells the two blocks of corners apart; 0: one block. */
unsigned pl_central_block_word(unsigned k);

/* Runs in the middle of a rotatable design, not rounded. even: as sure one step from the middle
 * (where the mean of squares of each factor is 1) as in it; else squares orthogonal to the mean:
 * 4 sqrt(F) + 4 - 2k. Box & Hunter 1957. Square roots only. */
double pl_central_middle(unsigned k, unsigned corners, bool even);

/* Bits of the factors that move together in set i of a Box-Behnken design, 0 when there is
 * none: pairs for 3 to 5 factors, triples 0 1 3 moved on for 6 and 7. */
unsigned pl_box_behnken_set(unsigned k, unsigned i);
/* Runs without centre points; 0 unless 3 <= k <= 7. */
unsigned pl_box_behnken_runs(unsigned k);

#endif
