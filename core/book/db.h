/* What the files of this room share: the open book and one way to ask it.
 * For core/book and its tests only. */
#ifndef PL_BOOK_DB_H
#define PL_BOOK_DB_H

#include <sqlite3.h>

#include "base/digest.h"
#include "book/book.h"

struct pl_book {
    pl_arena *arena;
    sqlite3 *db;
    const char *path, *who;
    bool created;
    int64_t as_of;         /* entries after this one are not seen */
    pl_digester *digester; /* for seals */
};

/* ---- tables (schema.c) ---- */

extern const char *const pl_book_tables; /* the SQL that makes a new book's tables */

#define PL_COLUMNS_MOST 14
typedef struct pl_table_of {
    const char *name;
    const char *columns[PL_COLUMNS_MOST]; /* key first */
    int nsealed;                          /* columns after the key that are sealed with it */
    int nending;                          /* of these the last, set when the row ends */
} pl_table_of;
extern const pl_table_of pl_book_all[];
extern const size_t pl_book_nall;
const pl_table_of *pl_table_named(const char *name);

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
    bool sealing; /* what is bound goes into the book's digester too */
} pl_query;

pl_query pl_query_start(pl_book *b, const char *sql, const char *doing, pl_diags *d);
void pl_query_text(pl_query *q, const char *s); /* binds the next parameter; NULL is null */
void pl_query_bytes(pl_query *q, const char *s, size_t n);
void pl_query_whole(pl_query *q, int64_t x);
void pl_query_number(pl_query *q, double x);                  /* NaN is null */
void pl_query_blob(pl_query *q, const void *bytes, size_t n); /* never sealed */
bool pl_query_row(pl_query *q);                               /* true while there is a row */
void pl_query_again(pl_query *q);                             /* to bind and run once more */
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

/* ---- seals and events (seal.c, trail.c) ---- */

/* A sum of seals, modulo 2^256: of any rows in any order, so that it can be
 * checked along whatever way the rows come. */
typedef struct pl_sum {
    uint64_t part[4]; /* lowest first */
} pl_sum;
bool pl_sum_add(pl_sum *sum, const char *seal); /* false: no 64 hex digits */
void pl_sum_text(const pl_sum *sum, char hex[PL_DIGEST_HEX]);

#define PL_BOOK_RESTORE                                                                          \
    "the book is damaged or was changed by hand: put back a copy of it (platen book copy makes " \
    "one)"

/* A value as it goes into a seal: kind and content, so that no two rows look alike. */
void pl_seal_null(pl_digester *g);
void pl_seal_whole(pl_digester *g, int64_t x);
void pl_seal_number(pl_digester *g, double x);
void pl_seal_bytes(pl_digester *g, const char *s, size_t n);
void pl_seal_begin(pl_digester *g, const pl_table_of *t);
void pl_seal_column(pl_query *q, int column); /* of the row at hand */

/* SELECT of a table's key, sealed columns and seal, with what follows FROM. */
pl_query pl_rows_start(pl_book *b, const pl_table_of *t, const char *rest, const char *doing,
                       pl_diags *d);
/* The seal of the row at hand of such a query; as_new: as it was before it ended. */
bool pl_row_seal(pl_query *q, const pl_table_of *t, bool as_new, char hex[PL_DIGEST_HEX]);
/* Holds the row at hand to its seal: a refusal that names it (also in q->code). */
pl_code pl_row_check(pl_query *q, const pl_table_of *t);
const char *pl_row_name(pl_query *q, const pl_table_of *t, pl_arena *a); /* "reading 17" */

/* One change of the book: a transaction and, if a row was written or ended, an
 * entry of the trail. */
typedef struct pl_event {
    pl_book *b;
    pl_diags *d;
    const char *doing;
    int64_t entry, now; /* its number */
    char before[PL_DIGEST_HEX];
    pl_sum rows, figures;
    size_t nrow;
} pl_event;
pl_code pl_event_begin(pl_book *b, const char *doing, pl_event *ev, pl_diags *d);
/* Ends the transaction; with code PL_OK and rows written, writes the entry. */
pl_code pl_event_end(pl_event *ev, pl_code code, const char *what, const char *study,
                     const char *words);
/* The entry alone, where one transaction holds several. */
pl_code pl_event_write(pl_event *ev, const char *what, const char *study, const char *words);

struct pl_cell;
/* Writing sealed rows: start, then for each row begin, bind what stands between the
 * key and the entry (a text key too), put. */
typedef struct pl_row {
    pl_event *ev;
    const pl_table_of *t;
    pl_query q;
    int64_t key; /* of the row at hand; 0 where the key is a text */
    const void *extra;
    size_t nextra; /* the column behind the seal, if there is one */
    bool text_key;
    char seal[PL_DIGEST_HEX];
} pl_row;
pl_row pl_row_start(pl_event *ev, const char *table);
void pl_row_begin(pl_row *r);
bool pl_row_put(pl_row *r); /* false: r->q.code */
/* The same of a row that is ended as it is written: see pl_row_finish. Not where the key is
 * a text. */
bool pl_row_put_ended(pl_row *r, const struct pl_cell *cells);
pl_code pl_row_end(pl_row *r);
void pl_event_count(pl_event *ev, const pl_table_of *t, const char *seal);

/* Ends a row: its last columns get these values (nending - 1 of them; ended itself is
 * the entry). A row that does not match its seal is refused, not sealed anew. */
typedef struct pl_cell {
    enum { PL_CELL_NULL, PL_CELL_WHOLE, PL_CELL_TEXT } kind;
    int64_t whole;
    const char *text;
} pl_cell;
pl_code pl_row_finish(pl_event *ev, const char *table, int64_t key, const pl_cell *cells);

int64_t pl_db_now(void);
char *pl_db_date(pl_arena *a, int64_t at); /* "2027-03-01 14:05 UTC" */

/* ---- the file (open.c, copy.c, upgrade.c) ---- */

const char *pl_db_path(pl_arena *a, const char *path);    /* as SQLite takes it for a file */
pl_code pl_db_version(pl_book *b, int *old, pl_diags *d); /* 0: nothing is in it yet */
int pl_db_make(pl_book *b);                               /* the tables; SQLite's code */
/* All pages of one into the other, in one look. */
pl_code pl_db_backup(pl_book *b, sqlite3 *from, sqlite3 *to, pl_diags *d);
/* Into a new file, whole or not at all. */
pl_code pl_db_copy(pl_book *b, sqlite3 *from, const char *to, pl_diags *d);
/* From version 1 to this one in one transaction; keep: a copy first, beside it. */
pl_code pl_db_upgrade(pl_book *b, bool keep, pl_diags *d);

/* pl_book_check within the transaction that is open. */
pl_code pl_db_check(pl_book *b, pl_checked *out, pl_diags *d);

/* Keeps a file as it was, unless it is kept already. */
pl_code pl_db_keep(pl_event *ev, const char *digest, const char *bytes, size_t length, bool *added);
/* The reading that pl_row_begin has begun; ended: as pl_row_put_ended, else NULL. */
bool pl_db_put_reading(pl_row *row, int64_t study, int64_t source, const pl_reading *r,
                       const pl_cell *ended);

/* Within an event: a rig, refused where another has its name unless replace; a study with its
 * plan and the plan's own revision number, refused where it or one of its ids is there. */
pl_code pl_db_rig_add(pl_event *ev, const pl_rig *rig, bool replace, bool *added, bool *replaced);
pl_code pl_db_freeze_as(pl_event *ev, const pl_study *s, const pl_plan *p, const char *plan,
                        int64_t *study, int64_t *revision);
/* Marks as they are; made_at 0 is now. */
pl_code pl_db_put_marks(pl_event *ev, int64_t study, const pl_marking *list, size_t count);

/* Key of a study by name; PL_EUSAGE with the nearest name. */
pl_code pl_db_study(pl_book *b, const char *name, int64_t *study, pl_diags *d);
/* Key and number of its latest revision; number 0 when there is none. */
pl_code pl_db_latest(pl_book *b, int64_t study, int64_t *revision, unsigned *number, pl_diags *d);

#endif
