/* Arenas: all memory of one run has one owner and one way out.
 *
 * Blocks are zeroed. Nothing is freed singly: a run ends with pl_arena_free.
 * Handles of foreign libraries join with pl_arena_own and are dropped in
 * reverse order. An arena is not shared between threads. */
#ifndef PL_BASE_ARENA_H
#define PL_BASE_ARENA_H

#include <stdarg.h>
#include <stddef.h>

typedef struct pl_arena pl_arena;

/* budget: most bytes this arena may hold; 0 = PL_ARENA_BUDGET. NULL when the
 * system has no memory left. */
#define PL_ARENA_BUDGET ((size_t)1 << 30)
pl_arena *pl_arena_new(size_t budget);
void pl_arena_free(pl_arena *a); /* NULL is fine */

/* count * size bytes, zeroed, aligned for any type. NULL when the product
 * overflows, the budget is spent or the system refuses. count or size 0 gives
 * a valid pointer to nothing. */
void *pl_arena_get(pl_arena *a, size_t count, size_t size);
#define PL_NEW(a, type) ((type *)pl_arena_get((a), 1, sizeof(type)))
#define PL_NEWN(a, n, type) ((type *)pl_arena_get((a), (size_t)(n), sizeof(type)))

/* A copy that is used for growing arrays: new_count elements, the first
 * old_count copied from old. The old block stays until the arena goes. */
void *pl_arena_grow(pl_arena *a, const void *old, size_t old_count, size_t new_count, size_t size);

/* Copies; NULL when memory is out, and pl_arena_str(a, NULL) is NULL. */
char *pl_arena_str(pl_arena *a, const char *s);
char *pl_arena_strn(pl_arena *a, const char *s, size_t n);
char *pl_arena_printf(pl_arena *a, const char *format, ...) __attribute__((format(printf, 2, 3)));
char *pl_arena_vprintf(pl_arena *a, const char *format, va_list args)
    __attribute__((format(printf, 2, 0)));

/* Takes over handle: drop(handle) is called when the arena is freed. Returns
 * handle; when handle is NULL, or the note of it cannot be kept, the handle is
 * dropped at once and NULL comes back. */
void *pl_arena_own(pl_arena *a, void *handle, void (*drop)(void *));

/* Scratch: everything got after the mark is given back by the reset, owned
 * handles included. Marks nest. */
typedef struct pl_mark {
    void *block;
    size_t used;
    void *owned;
} pl_mark;
pl_mark pl_arena_mark(const pl_arena *a);
void pl_arena_reset(pl_arena *a, pl_mark mark);

size_t pl_arena_bytes(const pl_arena *a); /* held from the system now */

/* How often this arena has refused memory, so that who makes something of many
 * parts can tell at its end whether one of them is missing. */
size_t pl_arena_refusals(const pl_arena *a);

/* For tests: the n-th allocation from now (1 = next) of any arena in this
 * process fails, once; 0 switches it off. */
void pl_arena_fail_at(unsigned long n);

#endif
