/* Fuzz: one function a target, called with bytes that mean harm. Built twice: with
 * clang's libFuzzer (make fuzz), which invents the bytes, and with any compiler beside
 * replay.c (make check), which reads them from tests/fuzz/seeds and tests/fuzz/finds. */
#ifndef TESTS_FUZZ_FUZZ_H
#define TESTS_FUZZ_FUZZ_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/diag.h"

/* libFuzzer's name for it. Returns 0. */
int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* What must be so whatever the bytes are. */
#define HOLDS(truth)                                                                   \
    do {                                                                               \
        if (!(truth)) {                                                                \
            fprintf(stderr, "%s:%d: does not hold: %s\n", __FILE__, __LINE__, #truth); \
            abort();                                                                   \
        }                                                                              \
    } while (0)

/* A code and its findings tell the same. */
static inline void same_story(pl_code code, const pl_diags *d)
{
    HOLDS(code < PL_NCODES);
    HOLDS((code == PL_OK) == (pl_diags_code(d, 0) == PL_OK));
    for (size_t i = 0; i < d->count; i++)
        for (const char *s = pl_diag_text(d->arena, &d->items[i]); s && *s; s++)
            HOLDS((unsigned char)*s >= ' ' || *s == '\n');
}

#endif
