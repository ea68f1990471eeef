/* PL_CLONES before a function compiles it for several widths of register; the program takes the
 * widest that the machine has. Empty where the compiler or a sanitizer does not go along. Results
 * are the same bits: nothing is contracted or reordered (-ffp-contract=off, no -ffast-math). */
#ifndef PL_BASE_CLONES_H
#define PL_BASE_CLONES_H

#include "base/sanitized.h"

#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__) && !defined(PL_SANITIZED)
#define PL_CLONES __attribute__((target_clones("avx512f", "avx2", "default")))
#else
#define PL_CLONES
#endif

#endif
