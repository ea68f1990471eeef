/* Between randomise.c and the fast way for complete blocks. */
#ifndef PL_FIT_RANDOMISE_INNER_H
#define PL_FIT_RANDOMISE_INNER_H

#include <stdbool.h>

#include "fit/randomise.h"

/* Is every level once in every block, with 2 to 8 of them? Then *far counts the draws that lie at
 * least as far apart as what was made. Readings are put on a grid of whole numbers: their own
 * decimals where these fit, else steps of 2^-24 of the sum of the blocks' ranges. */
pl_code pl_randomise_complete(pl_arena *a, const pl_arranged *x, uint64_t draws, uint64_t seed,
                              bool *complete, uint64_t *far, pl_diags *d);

#endif
