/* What the files of this room share: the open book and one way to ask it.
 * For core/book and its tests only. */
#ifndef PL_BOOK_DB_H
#define PL_BOOK_DB_H

#include <sqlite3.h>

#include "book/book.h"

struct pl_book {
    pl_arena *arena;
    sqlite3 *db;
    const char *path;
    bool created;
};

extern const char *const pl_book_tables; /* schema.c: the SQL that makes a new book's tables */

/* What SQLite refused, as a finding. doing: "taking readings". PL_EBOOK or PL_ENOMEM. */
pl_code pl_db_fail(pl_book *b, int rc, const char *doing, pl_diags *d);

/* One query. Start, bind and step report what goes wrong; the first fault is
 * kept in code and everything after it does nothing, so that one look at the end
 * will do. Must be ended. */
typedef struct pl_query {
    pl_book *book;
    pl_diags *diags;
    sqlite3_stmt *statement;
    pl_code code;
    const char *doing;
    int bound;
} pl_query;

pl_query pl_query_start(pl_book *b, const char *sql, const char *doing, pl_diags *d);
void pl_query_text(pl_query *q, const char *s); /* binds the next parameter; NULL is null */
void pl_query_bytes(pl_query *q, const char *s, size_t n);
void pl_query_whole(pl_query *q, int64_t x);
void pl_query_number(pl_query *q, double x); /* NaN is null */
bool pl_query_row(pl_query *q);              /* true while there is a row */
void pl_query_again(pl_query *q);            /* to bind and run once more */
pl_code pl_query_end(pl_query *q);

int64_t pl_column_whole(pl_query *q, int column);
double pl_column_number(pl_query *q, int column);                 /* null is NaN */
const char *pl_column_text(pl_query *q, pl_arena *a, int column); /* a copy; NULL: q->code */
size_t pl_column_length(pl_query *q, int column);

/* Begins a transaction that writes (waits for other writers) or one that only
 * reads; ends it: commits when code is PL_OK, else takes everything back. Gives
 * code, or what went wrong at the end. */
pl_code pl_db_begin(pl_book *b, bool write, const char *doing, pl_diags *d);
pl_code pl_db_end(pl_book *b, pl_code code, const char *doing, pl_diags *d);

int64_t pl_db_now(void);
char *pl_db_date(pl_arena *a, int64_t at); /* "2027-03-01 14:05 UTC" */

/* Key of a study by name; PL_EUSAGE with the nearest name. */
pl_code pl_db_study(pl_book *b, const char *name, int64_t *study, pl_diags *d);
/* Key and number of its latest revision; number 0 when there is none. */
pl_code pl_db_latest(pl_book *b, int64_t study, int64_t *revision, unsigned *number, pl_diags *d);

#endif
