/* Latin squares, and pairs of them in which every pair of letters occurs once.
 *
 * Graeco-Latin squares of order n: by the field for a prime power, as products for n that
 * is not 2 more than a multiple of 4 (MacNeish 1922, Ann. Math. 23:221), and for n = 3m + 1,
 * m odd with a pair of its own, from differences modulo 2m + 1 (Bose, Shrikhande & Parker
 * 1960, Canad. J. Math. 12:189): 10 and 22. Order 2 and 6 have none (Tarry 1900); 14, 18 and
 * 26 have, but none is built here. */
#ifndef PL_DESIGN_SQUARES_H
#define PL_DESIGN_SQUARES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/arena.h"
#include "base/stream.h"

#define PL_SQUARE_MOST 25u

bool pl_graeco_exists(unsigned order); /* one is built here */
/* Two squares of order x order letters 0..order-1, row by row. False: none, or no memory. */
bool pl_graeco(pl_arena *a, unsigned order, uint32_t *latin, uint32_t *greek);

/* A square drawn at random: the cyclic one, after 4 order^3 proper squares of the walk of
 * Jacobson & Matthews 1996, J. Combin. Des. 4:405, whose limit is the same chance for every
 * square, and a shuffle of rows, columns and letters. False: no memory. */
bool pl_latin_draw(pl_arena *a, unsigned order, pl_stream *stream, uint32_t *latin);

/* The same shuffle of rows, columns and both sets of letters for a pair. */
bool pl_graeco_draw(pl_arena *a, unsigned order, pl_stream *stream, uint32_t *latin,
                    uint32_t *greek);

#endif
