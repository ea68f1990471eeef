/* SHA-256 (FIPS 180-4) piece by piece, for what is digested ten thousand times
 * a second or never lies in memory as a whole. One-shot digests: file.h. */
#ifndef PL_BASE_DIGEST_H
#define PL_BASE_DIGEST_H

#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"

#define PL_DIGEST_HEX 65 /* 64 lower-case hex digits and a NUL */

/* A digest in the making. libcrypto's refusals (it found no memory) are
 * remembered until the end. */
typedef struct pl_digester pl_digester;

pl_digester *pl_digester_new(pl_arena *a); /* begun; lives in a; NULL: no memory */
void pl_digester_add(pl_digester *g, const void *bytes, size_t n);
void pl_digester_clear(pl_digester *g); /* begins anew, if it must */
/* False: no memory, hex is "". Begins anew. */
bool pl_digester_end(pl_digester *g, char hex[PL_DIGEST_HEX]);

#endif
