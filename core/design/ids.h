/* Ids of specimens: short, fit for a pencil, saying nothing.
 *
 * Three random signs and a check sign out of 29: the digits 2 to 9 and the
 * letters without vowels, so that neither 0/O nor 1/I is among them and no word
 * appears. With the signs numbered 0 to 28 in that order, the check sign is
 *     c = (1 a1 + 2 a2 + 3 a3) mod 29.
 * 29 is prime and the four weights 1, 2, 3 and -1 are different and not 0, so
 * that one wrong sign, and two signs exchanged wherever they stand, always
 * break the sum. A shop that has used half of the 24,389 such ids gets four
 * signs and a check sign with the weight 4 besides: 707,281 more; then five,
 * with the weight 5: 20,511,149. (Weighted sums modulo a prime:
 * Verhoeff, Error detecting decimal codes, Mathematical Centre Tracts 29, Amsterdam 1969.) */
#ifndef PL_DESIGN_IDS_H
#define PL_DESIGN_IDS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/arena.h"
#include "base/diag.h"

#define PL_ID_SIGNS "23456789BCDFGHJKLMNPQRSTVWXYZ"
#define PL_ID_BASE 29u
#define PL_ID_LENGTH 4 /* signs with the check sign; one or two more in long ids */
#define PL_ID_COUNT ((size_t)PL_ID_BASE * PL_ID_BASE * PL_ID_BASE)
#define PL_IDS_MOST (PL_ID_COUNT * PL_ID_BASE * PL_ID_BASE / 2) /* of one plan and before it */

/* Four to six signs of the alphabet, either case, whose check sign is right. */
bool pl_id_valid(const char *id);

/* n different ids in the arena, none of those already issued (ntaken; any case;
 * what is no id among them is passed over). All are of one length: the shortest of
 * which no more than half would then be used up. PL_EUNFIT: there is none such. */
pl_code pl_ids_draw(pl_arena *a, uint64_t seed, size_t n, const char *const *taken, size_t ntaken,
                    const char ***out, pl_diags *diags);

#endif
