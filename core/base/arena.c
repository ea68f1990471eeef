/* Arenas. Only this file calls malloc for core; checks of count times size
 * live here and nowhere else. */
#include "base/arena.h"

#include <stdalign.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/sanitized.h"

/* Large enough that a small verb needs one block, small enough that start-up
 * does not notice. */
#define BLOCK_BYTES ((size_t)64 * 1024)
#define ALIGN (alignof(max_align_t))

/* Bytes behind each piece that a sanitizer keeps anybody from touching; without one, none. */
#ifdef PL_SANITIZED
#define GUARD ALIGN
#else
#define GUARD ((size_t)0)
#endif

typedef struct block {
    struct block *previous;
    size_t used, size;
    alignas(max_align_t) unsigned char bytes[];
} block;

typedef struct owned {
    struct owned *previous;
    void *handle;
    void (*drop)(void *);
} owned;

struct pl_arena {
    block *top;
    owned *owned;
    size_t held, budget, refusals;
};

static unsigned long fail_at; /* test hook; 0 = off */

void pl_arena_fail_at(unsigned long n)
{
    fail_at = n;
}

pl_arena *pl_arena_new(size_t budget)
{
    pl_arena *a = calloc(1, sizeof *a);

    if (a)
        a->budget = budget ? budget : PL_ARENA_BUDGET;
    return a;
}

static void drop_owned(pl_arena *a, const owned *until)
{
    while (a->owned != until) {
        owned *o = a->owned;

        a->owned = o->previous;
        o->drop(o->handle);
    }
}

static void drop_blocks(pl_arena *a, const block *until)
{
    while (a->top != until) {
        block *b = a->top;

        a->top = b->previous;
        a->held -= b->size;
        PL_SHOW(b->bytes, b->size);
        free(b);
    }
}

void pl_arena_free(pl_arena *a)
{
    if (!a)
        return;
    drop_owned(a, NULL);
    drop_blocks(a, NULL);
    free(a);
}

static block *block_new(pl_arena *a, size_t bytes)
{
    size_t size = bytes > BLOCK_BYTES ? bytes : BLOCK_BYTES;
    block *b;

    if (size > a->budget - a->held) {
        size = bytes; /* the last, smaller block may still fit */
        if (size > a->budget - a->held)
            return NULL;
    }
    if (size > SIZE_MAX - sizeof *b)
        return NULL;
    b = malloc(sizeof *b + size);
    if (!b)
        return NULL;
    b->previous = a->top;
    b->used = 0;
    b->size = size;
    PL_HIDE(b->bytes, size);
    a->held += size;
    a->top = b;
    return b;
}

static void *get(pl_arena *a, size_t count, size_t size)
{
    size_t bytes;
    block *b = a->top;
    void *p;

    if (fail_at && --fail_at == 0)
        return NULL;
    if (size && count > (SIZE_MAX - ALIGN - GUARD) / size)
        return NULL;
    bytes = (count * size + ALIGN - 1) / ALIGN * ALIGN + GUARD;
    if (!b || bytes > b->size - b->used) {
        b = block_new(a, bytes);
        if (!b)
            return NULL;
    }
    p = b->bytes + b->used;
    b->used += bytes;
    PL_SHOW(p, count * size);
    return memset(p, 0, count * size);
}

void *pl_arena_get(pl_arena *a, size_t count, size_t size)
{
    void *p = get(a, count, size);

    a->refusals += !p;
    return p;
}

void *pl_arena_grow(pl_arena *a, const void *old, size_t old_count, size_t new_count, size_t size)
{
    void *p = pl_arena_get(a, new_count, size);

    if (p && old && old_count)
        memcpy(p, old, (old_count < new_count ? old_count : new_count) * size);
    return p;
}

char *pl_arena_strn(pl_arena *a, const char *s, size_t n)
{
    char *p = n < SIZE_MAX ? pl_arena_get(a, n + 1, 1) : NULL;

    if (p && n)
        memcpy(p, s, n);
    return p;
}

char *pl_arena_str(pl_arena *a, const char *s)
{
    return s ? pl_arena_strn(a, s, strlen(s)) : NULL;
}

char *pl_arena_vprintf(pl_arena *a, const char *format, va_list args)
{
    va_list again;
    char *p = NULL;
    int n;

    va_copy(again, args);
    n = vsnprintf(NULL, 0, format, args);
    if (n >= 0)
        p = pl_arena_get(a, (size_t)n + 1, 1);
    if (p)
        vsnprintf(p, (size_t)n + 1, format, again);
    va_end(again);
    return p;
}

char *pl_arena_printf(pl_arena *a, const char *format, ...)
{
    va_list args;
    char *p;

    va_start(args, format);
    p = pl_arena_vprintf(a, format, args);
    va_end(args);
    return p;
}

void *pl_arena_own(pl_arena *a, void *handle, void (*drop)(void *))
{
    owned *o;

    if (!handle)
        return NULL;
    o = PL_NEW(a, owned);
    if (!o) {
        drop(handle);
        return NULL;
    }
    o->previous = a->owned;
    o->handle = handle;
    o->drop = drop;
    a->owned = o;
    return handle;
}

pl_mark pl_arena_mark(const pl_arena *a)
{
    pl_mark m = { a->top, a->top ? a->top->used : 0, a->owned };

    return m;
}

void pl_arena_reset(pl_arena *a, pl_mark mark)
{
    drop_owned(a, mark.owned);
    drop_blocks(a, mark.block);
    if (a->top) {
        a->top->used = mark.used;
        PL_HIDE(a->top->bytes + mark.used, a->top->size - mark.used);
    }
}

size_t pl_arena_bytes(const pl_arena *a)
{
    return a->held;
}

size_t pl_arena_refusals(const pl_arena *a)
{
    return a->refusals;
}
