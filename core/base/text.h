/* Building text, numbers as text, and small questions about strings. */
#ifndef PL_BASE_TEXT_H
#define PL_BASE_TEXT_H

#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"

/* A growing text in an arena. Memory that its arena refused since pl_text_init,
 * to it or to whoever made its parts, is remembered: pl_text_done then gives
 * NULL, and nothing in between needs a check. */
typedef struct pl_text {
    pl_arena *arena;
    char *bytes; /* always ends with a NUL once something was added */
    size_t length, room;
    size_t refusals; /* of the arena before */
    bool failed;
} pl_text;

void pl_text_init(pl_text *t, pl_arena *a);
void pl_text_add(pl_text *t, const char *format, ...) __attribute__((format(printf, 2, 3)));
/* As it is; n bytes, NULs allowed. Nothing where a text should be (NULL): its
 * maker found no memory, and t has failed. */
void pl_text_put(pl_text *t, const char *s);
void pl_text_bytes(pl_text *t, const char *s, size_t n);
void pl_text_room(pl_text *t, size_t more); /* that will be added: memory for it at once */
char *pl_text_done(pl_text *t); /* "" when nothing was added; NULL when memory ran out */

/* What a terminal might obey (control characters, C1 ones too) becomes "?"; line ends and
 * tabs stay. In place, and no longer than it was. */
void pl_text_harmless(char *s);
/* A copy for a line of a list: line ends and tabs are blanks, the rest is harmless. */
char *pl_text_one_line(pl_arena *a, const char *s);

/* x with `digits` significant digits, in plain notation where that is short:
 * "0.0123", "1400", "1.2e-07"; trailing zeros after the point are dropped.
 * digits 1 to 17. Never depends on the locale. "unknown" for NaN. */
char *pl_text_number(pl_arena *a, double x, int digits);

/* All of s is one decimal number as strtod reads it in the C locale, finite,
 * no hexadecimal, no "inf"/"nan", no blanks around. */
bool pl_text_to_number(const char *s, double *out);

/* Whole number in [low, high]; only digits, with a sign if low < 0. */
bool pl_text_to_whole(const char *s, long long low, long long high, long long *out);

/* First invalid byte of a UTF-8 text (overlong forms, surrogates and values
 * beyond U+10FFFF are invalid), or n when all is well. */
size_t pl_text_utf8_fault(const char *s, size_t n);

/* Columns a text takes in a terminal; UTF-8 continuation bytes count 0. */
size_t pl_text_width(const char *s);

/* The name in names[0..n-1] nearest to `typed` by edits (letters inserted,
 * removed, changed, swapped), or NULL when none is within a third of its
 * length, at least one edit. Ties: the first. */
const char *pl_text_nearest(const char *typed, const char *const *names, size_t n);

/* "beech, larch and oak"; "" for n = 0. */
char *pl_text_list(pl_arena *a, const char *const *names, size_t n, const char *last_word);

/* Lower-case a-z, 0-9 and hyphen, starting with a letter or digit, 1 to 64. */
bool pl_text_is_name(const char *s);

#endif
