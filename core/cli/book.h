/* The verbs of the book that are more than a listing. */
#ifndef PL_CLI_BOOK_H
#define PL_CLI_BOOK_H

#include "cli/load.h"

/* Everything that the book can tell of itself: pl_book_check, and every kept fit
 * made again from what was in the book when it was made. */
pl_code pl_run_book_check(pl_run *run);
/* Scatter of past studies, pooled. */
pl_code pl_run_book_history(pl_run *run);
/* One study into a new folder. with_names: operators too. */
pl_code pl_run_book_export_study(pl_run *run, const char *study, const char *folder,
                                 bool with_names);

/* Such a folder into a book. */
pl_code pl_run_book_adopt(pl_run *run, pl_book *book, const char *folder);

#endif
