/* Sanitized: whether this build has the address sanitizer in it (gcc and clang say it
 * in two ways), and what it is told about memory that nobody may touch now. Without it
 * both macros do nothing. */
#ifndef PL_BASE_SANITIZED_H
#define PL_BASE_SANITIZED_H

#if defined(__has_feature)
#if __has_feature(address_sanitizer)
#define PL_SANITIZED 1
#endif
#endif
#if defined(__SANITIZE_ADDRESS__)
#define PL_SANITIZED 1
#endif

#ifdef PL_SANITIZED
#include <sanitizer/asan_interface.h>
#define PL_HIDE(p, n) ASAN_POISON_MEMORY_REGION((p), (n))
#define PL_SHOW(p, n) ASAN_UNPOISON_MEMORY_REGION((p), (n))
#else
#define PL_HIDE(p, n) ((void)(p), (void)(n))
#define PL_SHOW(p, n) ((void)(p), (void)(n))
#endif

#endif
