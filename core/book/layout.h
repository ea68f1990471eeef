/* How an export is laid out, for its two ends. For core/book only. */
#ifndef PL_BOOK_LAYOUT_H
#define PL_BOOK_LAYOUT_H

#include "book/db.h"

#define PL_LAYOUT_FORMAT "platen book, everything"
#define PL_LAYOUT_VERSION 1

/* True for columns whose texts lie in files of their own, in texts/, by digest. */
bool pl_layout_own_file(const char *table, const char *column);

#endif
