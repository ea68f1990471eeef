/* Many Philox blocks at once, for stream.c alone. */
#ifndef PL_BASE_PHILOX_H
#define PL_BASE_PHILOX_H

#include <stddef.h>
#include <stdint.h>

#define PL_PHILOX_WIDE 16u /* blocks of a group */

/* Salmon, Moraes, Dror & Shaw 2011, SC '11, "Parallel random numbers: as easy as 1, 2, 3",
 * section 3.3; the increments of the key are the golden ratio and sqrt(3) - 1, in 32 bits. */
#define PL_PHILOX_M0 0xD2511F53u
#define PL_PHILOX_M1 0xCD9E8D57u
#define PL_PHILOX_W0 0x9E3779B9u
#define PL_PHILOX_W1 0xBB67AE85u
#define PL_PHILOX_ROUNDS 10

/* counter[3] counts on, n a multiple of 16. Words 0 and 1 of a block as one number of 64 bits (word
 * 0 high), then words 2 and 3: out holds, group by group, sixteen of the first kind and sixteen of
 * the second. */
void pl_philox_blocks(const uint32_t counter[4], const uint32_t key[2], uint64_t *out, size_t n);

#endif
