/* One way to ask SQLite, and its refusals in our own words. Which tables there
 * are is the business of schema.c; opening a book that of open.c. */
#include "book/db.h"

#include <errno.h>
#include <inttypes.h>
#include <math.h>
#include <string.h>
#include <time.h>

#include "base/text.h"

typedef struct refusal {
    int rc; /* extended code first, then its family */
    const char *found, *expected, *mend;
} refusal;

static const refusal refusals[] = {
    { SQLITE_READONLY_ROLLBACK, "a run was killed in the middle of writing and left a journal",
      "a place where the journal can be played back",
      "this medium or folder is read-only: copy the book together with its -journal file to where "
      "you may write, and open it there" },
    { SQLITE_READONLY_DIRECTORY, "a read-only folder", "a folder that can be written",
      "give yourself leave to write in the folder; the journal is made there" },
    { SQLITE_READONLY_DBMOVED, "a book that was moved or deleted while it was open",
      "a book that stays", "look where it went, and run again" },
    { SQLITE_READONLY, "a read-only file", "a book that can be written",
      "give yourself leave to write the file and its folder, or name another book" },
    { SQLITE_PERM, "permission denied", "a book that can be opened", "" },
    { SQLITE_BUSY, "another program is writing to it", "a book that comes free within 5 seconds",
      "wait until the other run has ended, then run again; nothing was written" },
    { SQLITE_LOCKED, "another program is writing to it", "a book that comes free within 5 seconds",
      "wait until the other run has ended, then run again; nothing was written" },
    { SQLITE_FULL, "no space left for it", "room on its disk",
      "make room and run again; nothing of this run was written" },
    { SQLITE_IOERR_WRITE, "a write failed", "room for it, and a disk that works",
      "see to the disk (full, at a limit of size, or faulty) and run again; nothing of this run "
      "was written" },
    { SQLITE_NOTADB, "a file that is no book", "a file made by platen",
      "name another file with --book; if it was a book, its beginning is damaged: put back a copy "
      "of "
      "it (platen book copy makes one)" },
    { SQLITE_CORRUPT, "a damaged book", "a whole book",
      "put back a copy of it (platen book copy makes one); keep the damaged file, much may still "
      "be "
      "read from it" },
    { SQLITE_TOOBIG, "a text is too long for it", "at most 1 GB", "" },
};

/* "disk I/O error" alone helps nobody: what the system said is added. */
static const char *system_words(pl_book *b, int rc)
{
    int error = sqlite3_system_errno(b->db);

    if (error == EACCES || error == EPERM)
        return "permission denied";
    if (error && ((rc & 0xff) == SQLITE_IOERR || (rc & 0xff) == SQLITE_CANTOPEN))
        return strerror(error);
    return sqlite3_errstr(rc);
}

pl_code pl_db_fail(pl_book *b, int rc, const char *doing, pl_diags *d)
{
    const char *where = pl_arena_printf(b->arena, "%s: %s", b->path, doing);
    const char *said;

    if (rc == SQLITE_NOMEM || rc == SQLITE_IOERR_NOMEM || !where)
        return pl_nomem(d);
    for (size_t i = 0; i < sizeof refusals / sizeof *refusals; i++) {
        const refusal *r = &refusals[i];

        if (rc == r->rc || (rc & 0xff) == r->rc)
            return pl_fail(d, PL_EBOOK, where, .found = r->found, .expected = r->expected,
                           .mend = r->mend);
    }
    if ((rc & 0xff) == SQLITE_IOERR || (rc & 0xff) == SQLITE_CANTOPEN)
        return pl_fail(d, PL_EBOOK, where, .found = system_words(b, rc),
                       .expected = "a disk that can be read and written",
                       .mend = "see to the disk, then run again; what was acknowledged before is "
                               "in the book");
    said = sqlite3_errmsg(b->db);
    return pl_fail(d, PL_EBOOK, where, .found = said ? said : sqlite3_errstr(rc),
                   .expected = "tables of a book",
                   .mend = "the book may be damaged, or was changed by another program");
}

/* ------------------------------------------------------------------ queries ---- */

static void refuse(pl_query *q, int rc)
{
    if (q->code == PL_OK)
        q->code = pl_db_fail(q->book, rc, q->doing, q->diags);
}

pl_query pl_query_start(pl_book *b, const char *sql, const char *doing, pl_diags *d)
{
    pl_query q = { .book = b, .diags = d, .doing = doing };
    int rc = sqlite3_prepare_v2(b->db, sql, -1, &q.statement, NULL);

    if (rc)
        refuse(&q, rc);
    return q;
}

static void bound(pl_query *q, int rc)
{
    if (rc)
        refuse(q, rc);
}

/* Texts are the caller's and stay until the query ends: SQLITE_STATIC. */
void pl_query_text(pl_query *q, const char *s)
{
    pl_query_bytes(q, s, s ? strlen(s) : 0);
}

void pl_query_bytes(pl_query *q, const char *s, size_t n)
{
    q->bound++;
    if (q->code)
        return;
    if (q->sealing && s)
        pl_seal_bytes(q->book->digester, s, n);
    else if (q->sealing)
        pl_seal_null(q->book->digester);
    bound(q, s ? sqlite3_bind_text64(q->statement, q->bound, s, n, SQLITE_STATIC, SQLITE_UTF8)
               : sqlite3_bind_null(q->statement, q->bound));
}

void pl_query_whole(pl_query *q, int64_t x)
{
    q->bound++;
    if (q->code)
        return;
    if (q->sealing)
        pl_seal_whole(q->book->digester, x);
    bound(q, sqlite3_bind_int64(q->statement, q->bound, x));
}

void pl_query_number(pl_query *q, double x)
{
    q->bound++;
    if (q->code)
        return;
    if (q->sealing && isnan(x))
        pl_seal_null(q->book->digester);
    else if (q->sealing)
        pl_seal_number(q->book->digester, x);
    bound(q, isnan(x) ? sqlite3_bind_null(q->statement, q->bound)
                      : sqlite3_bind_double(q->statement, q->bound, x));
}

void pl_query_blob(pl_query *q, const void *bytes, size_t n)
{
    q->bound++;
    if (q->code == PL_OK)
        bound(q, sqlite3_bind_blob64(q->statement, q->bound, bytes, n, SQLITE_STATIC));
}

bool pl_query_row(pl_query *q)
{
    int rc;

    if (q->code)
        return false;
    rc = sqlite3_step(q->statement);
    if (rc != SQLITE_ROW && rc != SQLITE_DONE)
        refuse(q, rc);
    return rc == SQLITE_ROW;
}

void pl_query_again(pl_query *q)
{
    q->bound = 0;
    if (q->code == PL_OK)
        sqlite3_reset(q->statement);
}

pl_code pl_query_end(pl_query *q)
{
    sqlite3_finalize(q->statement); /* its result is that of the last step */
    q->statement = NULL;
    return q->code;
}

int64_t pl_column_whole(pl_query *q, int column)
{
    return sqlite3_column_int64(q->statement, column);
}

double pl_column_number(pl_query *q, int column)
{
    if (sqlite3_column_type(q->statement, column) == SQLITE_NULL)
        return NAN;
    return sqlite3_column_double(q->statement, column);
}

const char *pl_column_text(pl_query *q, pl_arena *a, int column)
{
    const char *s = (const char *)sqlite3_column_text(q->statement, column);
    const char *copy = s ? pl_arena_strn(a, s, pl_column_length(q, column)) : NULL;

    if (!copy && q->code == PL_OK) /* no column asked for as a text can be null */
        q->code = sqlite3_column_type(q->statement, column) == SQLITE_NULL
                      ? pl_db_fail(q->book, SQLITE_CORRUPT, q->doing, q->diags)
                      : pl_nomem(q->diags);
    return copy;
}

size_t pl_column_length(pl_query *q, int column)
{
    return (size_t)sqlite3_column_bytes(q->statement, column);
}

/* ------------------------------------------------------------- transactions ---- */

static pl_code run(pl_book *b, const char *sql, const char *doing, pl_diags *d)
{
    pl_query q = pl_query_start(b, sql, doing, d);

    while (pl_query_row(&q))
        ;
    return pl_query_end(&q);
}

pl_code pl_db_begin(pl_book *b, bool write, const char *doing, pl_diags *d)
{
    return run(b, write ? "BEGIN IMMEDIATE" : "BEGIN", doing, d);
}

pl_code pl_db_end(pl_book *b, pl_code code, const char *doing, pl_diags *d)
{
    if (code == PL_OK)
        code = run(b, "COMMIT", doing, d);
    /* After a failed commit, and after some errors SQLite has rolled back by
     * itself: only what is still open is taken back. No memory is needed. */
    if (code && !sqlite3_get_autocommit(b->db))
        sqlite3_exec(b->db, "ROLLBACK", NULL, NULL, NULL);
    return code;
}

int64_t pl_db_now(void)
{
    return (int64_t)time(NULL);
}

char *pl_db_date(pl_arena *a, int64_t at)
{
    time_t t = (time_t)at;
    struct tm tm;
    char text[32] = "an unknown date";

    if (gmtime_r(&t, &tm))
        strftime(text, sizeof text, "%Y-%m-%d %H:%M UTC", &tm);
    return pl_arena_str(a, text);
}
