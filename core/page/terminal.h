/* Text as a terminal wants it: long lines folded at words, the answer bright.
 * Whether there is a terminal, and how wide it is, the caller knows. */
#ifndef PL_PAGE_TERMINAL_H
#define PL_PAGE_TERMINAL_H

#include <stdbool.h>

#include "base/text.h"

/* Around what is to stand out: bytes that no UTF-8 text holds. A text that has them goes
 * through pl_terminal_text. */
#define PL_BRIGHT_ON "\376"
#define PL_BRIGHT_OFF "\377"

/* Adds words with the first sentence of each of its first n paragraphs bright. */
void pl_bright_sentences(pl_text *t, const char *words, size_t n);

/* width: columns, 0 = lines stay as they are. A folded line goes on below the first
 * word of its last column: behind its indent, its "- ", or the last two blanks or more
 * that part columns in it. A row of a table (columns that begin beyond the middle) is
 * left whole. bright: the marks become what a terminal understands; else they vanish.
 * NULL when memory ran out. */
char *pl_terminal_text(pl_arena *a, const char *text, size_t width, bool bright);

#endif
