/* Opening a book: what may be opened, how it is set, and making a new one. */
#include "book/db.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/file.h"

static const char opening[] = "opening the book";

static void drop(void *db)
{
    sqlite3_close_v2(db);
}

static pl_code refuse(const char *path, pl_diags *d, const char *found, const char *expected,
                      const char *mend)
{
    return pl_fail(d, PL_EBOOK, path, .found = found, .expected = expected, .mend = mend);
}

/* A new book needs a folder that may be written. */
static pl_code look_at_folder(pl_arena *a, const char *path, pl_diags *d)
{
    size_t n = (size_t)(pl_file_base(path) - path);
    const char *folder = n ? pl_arena_strn(a, path, n) : ".";

    if (!folder)
        return pl_nomem(d);
    if (!access(folder, W_OK | X_OK))
        return PL_OK;
    if (errno == ENOENT)
        return refuse(path, d, "no such folder", "a folder that is there", "make it first");
    return refuse(path, d, errno == EACCES ? "permission denied" : strerror(errno),
                  "a folder that you may write in", "");
}

/* SQLite would open a folder's, a pipe's or an absent file's name in ways of its own. */
static pl_code look_at_file(pl_arena *a, const char *path, pl_book_mode mode, pl_diags *d)
{
    struct stat st;

    if (!path[0])
        return refuse(path, d, "an empty name", "the name of a book", "");
    if (stat(path, &st)) {
        if (errno == ENOENT && mode == PL_BOOK_CREATE)
            return look_at_folder(a, path, d);
        if (errno == ENOENT)
            return refuse(path, d, "no such book", "a book made by plan or rig add",
                          "name the book with --book, or run where platen.book lies");
        return refuse(path, d, errno == EACCES ? "permission denied" : strerror(errno),
                      "a book that can be opened", "");
    }
    if (S_ISDIR(st.st_mode))
        return refuse(path, d, "a folder", "a file", "name the book in it");
    if (!S_ISREG(st.st_mode))
        return refuse(path, d, "no regular file", "a file", "");
    if (st.st_size == 0 && mode != PL_BOOK_CREATE)
        return refuse(path, d, "an empty file", "a book made by plan or rig add", "");
    return PL_OK;
}

/* A name is never a URI or ":memory:" once it begins with a folder. */
const char *pl_db_path(pl_arena *a, const char *path)
{
    return path[0] == '/' ? path : pl_arena_printf(a, "./%s", path);
}

static pl_code pragma(pl_book *b, const char *sql, const char *wanted, pl_diags *d)
{
    pl_query q = pl_query_start(b, sql, opening, d);
    bool right = !wanted;

    while (pl_query_row(&q))
        if (wanted && sqlite3_column_text(q.statement, 0))
            right = !strcmp((const char *)sqlite3_column_text(q.statement, 0), wanted);
    if (q.code == PL_OK && !right)
        q.code = pl_fail(d, PL_EBOOK, b->path, .found = "its way of journalling was changed",
                         .expected = "a rollback journal",
                         .mend = "another program may hold it open; close that first");
    return pl_query_end(&q);
}

static pl_code guard(pl_book *b, pl_diags *d)
{
    static const struct {
        int option, on;
    } options[] = { { SQLITE_DBCONFIG_DEFENSIVE, 1 },   { SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0 },
                    { SQLITE_DBCONFIG_ENABLE_FKEY, 1 }, { SQLITE_DBCONFIG_ENABLE_TRIGGER, 0 },
                    { SQLITE_DBCONFIG_ENABLE_VIEW, 0 }, { SQLITE_DBCONFIG_DQS_DML, 0 },
                    { SQLITE_DBCONFIG_DQS_DDL, 0 } };

    sqlite3_extended_result_codes(b->db, 1);
    sqlite3_busy_timeout(b->db, PL_BOOK_BUSY_MS);
    for (size_t i = 0; i < sizeof options / sizeof *options; i++) {
        int rc = sqlite3_db_config(b->db, options[i].option, options[i].on, NULL);

        if (rc)
            return pl_db_fail(b, rc, opening, d);
    }
    return PL_OK;
}

static pl_code number_of(pl_book *b, const char *sql, int64_t *out, pl_diags *d)
{
    pl_query q = pl_query_start(b, sql, opening, d);

    *out = 0;
    while (pl_query_row(&q))
        *out = pl_column_whole(&q, 0);
    return pl_query_end(&q);
}

static pl_code connect_to(pl_book *b, const char *path, int flags, pl_diags *d)
{
    int rc;

    if (!path)
        return pl_nomem(d);
    b->db = NULL;
    rc = sqlite3_open_v2(path, &b->db, flags | SQLITE_OPEN_NOMUTEX, NULL);
    if (!b->db || rc == SQLITE_NOMEM) {
        sqlite3_close_v2(b->db);
        return pl_nomem(d);
    }
    if (!pl_arena_own(b->arena, b->db, drop))
        return pl_nomem(d);
    if (rc)
        return pl_db_fail(b, sqlite3_extended_errcode(b->db), opening, d);
    return guard(b, d);
}

static pl_code connect(pl_book *b, int flags, pl_diags *d)
{
    return connect_to(b, pl_db_path(b->arena, b->path), flags, d);
}

/* Reads the first page, which plays back a journal that a killed run left. */
static int touch(pl_book *b)
{
    return sqlite3_exec(b->db, "SELECT count(*) FROM sqlite_schema", NULL, NULL, NULL);
}

/* A read-only connection may not play back a journal: one that writes does it
 * first, where the folder allows. */
static pl_code connect_to_read(pl_book *b, pl_diags *d)
{
    pl_code code = connect(b, SQLITE_OPEN_READONLY, d);
    int rc;

    if (code)
        return code;
    rc = touch(b);
    if (rc != SQLITE_READONLY_ROLLBACK)
        return rc ? pl_db_fail(b, rc, opening, d) : PL_OK;
    code = connect(b, SQLITE_OPEN_READWRITE, d);
    if (code)
        return code;
    rc = touch(b);
    if (rc) /* the folder cannot be written: there the journal stays */
        return pl_db_fail(b, (rc & 0xff) == SQLITE_BUSY ? rc : SQLITE_READONLY_ROLLBACK, opening,
                          d);
    return connect(b, SQLITE_OPEN_READONLY, d);
}

static pl_code connect_to_write(pl_book *b, bool create, pl_diags *d)
{
    pl_code code = connect(b, SQLITE_OPEN_READWRITE | (create ? SQLITE_OPEN_CREATE : 0), d);
    int rc;

    if (code)
        return code;
    rc = touch(b);
    if (rc)
        return pl_db_fail(b, rc, opening, d);
    if (sqlite3_db_readonly(b->db, "main") == 1)
        return pl_db_fail(b, SQLITE_READONLY, opening, d);
    return PL_OK;
}

/* Application and version, or PL_OK with *old 0 when nothing is in the file. */
pl_code pl_db_version(pl_book *b, int *old, pl_diags *d)
{
    int64_t application, version, tables;
    pl_code code = number_of(b, "PRAGMA application_id", &application, d);

    if (!code)
        code = number_of(b, "PRAGMA user_version", &version, d);
    if (!code)
        code = number_of(b, "SELECT count(*) FROM sqlite_schema", &tables, d);
    if (code)
        return code;
    *old = 0;
    if (!application && !version && !tables)
        return PL_OK;
    if (application != PL_BOOK_APPLICATION || version < 1)
        return pl_db_fail(b, SQLITE_NOTADB, opening, d);
    if (version > PL_BOOK_VERSION)
        return pl_fail(
            d, PL_EBOOK, b->path,
            .found = pl_arena_printf(b->arena, "a book of version %d", (int)version),
            .expected = pl_arena_printf(b->arena, "version %d or older", PL_BOOK_VERSION),
            .mend = "it was made by a newer platen: use that one");
    *old = (int)version;
    return PL_OK;
}

int pl_db_make(pl_book *b)
{
    char head[96];
    int rc = sqlite3_exec(b->db, pl_book_tables, NULL, NULL, NULL);

    sqlite3_snprintf((int)sizeof head, head, "PRAGMA application_id = %d; PRAGMA user_version = %d",
                     PL_BOOK_APPLICATION, PL_BOOK_VERSION);
    return rc ? rc : sqlite3_exec(b->db, head, NULL, NULL, NULL);
}

/* Two runs may both find no book: the second one in waits and finds it made. */
static pl_code make_tables(pl_book *b, pl_diags *d)
{
    static const char doing[] = "making the book";
    int old = 0;
    pl_code code = pl_db_begin(b, true, doing, d);

    if (code)
        return code;
    code = pl_db_version(b, &old, d);
    if (!code && !old) {
        int rc = pl_db_make(b);

        if (rc)
            code = pl_db_fail(b, rc, doing, d);
    }
    code = pl_db_end(b, code, doing, d);
    b->created = !code && !old;
    return code;
}

/* A book of an older version is read as if it were of this one; its file stays as
 * it is: its medium may be read-only, and whoever only reads changes nothing. */
static pl_code read_older(pl_book *b, pl_diags *d)
{
    sqlite3 *file = b->db;
    pl_code code = connect_to(b, ":memory:", SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, d);

    if (!code)
        code = pl_db_backup(b, file, b->db, d);
    if (!code)
        code = pl_db_upgrade(b, false, d);
    if (!code)
        code = pragma(b, "PRAGMA query_only = 1", NULL, d);
    return code;
}

static pl_code settle(pl_book *b, pl_book_mode mode, pl_diags *d)
{
    int old = 0;
    pl_code code = pl_db_version(b, &old, d);

    if (!code && !old && mode != PL_BOOK_CREATE)
        code = pl_db_fail(b, SQLITE_NOTADB, opening, d);
    if (code)
        return code;
    if (mode == PL_BOOK_READ)
        return old < PL_BOOK_VERSION ? read_older(b, d) : PL_OK;
    code = pragma(b, "PRAGMA journal_mode = DELETE", "delete", d);
    if (!code)
        code = pragma(b, "PRAGMA synchronous = EXTRA", NULL, d);
    if (!code && !old)
        code = make_tables(b, d);
    else if (!code && old < PL_BOOK_VERSION)
        code = pl_db_upgrade(b, true, d);
    return code;
}

pl_code pl_book_open(pl_arena *a, const char *path, pl_book_mode mode, pl_book **out, pl_diags *d)
{
    pl_book *b = PL_NEW(a, pl_book);
    pl_code code = look_at_file(a, path, mode, d);
    const char *who = getenv("PLATEN_WHO");

    if (!b)
        return pl_nomem(d);
    if (code)
        return code;
    b->arena = a;
    b->path = pl_arena_str(a, path);
    b->who = pl_arena_str(a, who ? who : "");
    b->digester = pl_digester_new(a);
    b->as_of = INT64_MAX;
    if (!b->path || !b->who || !b->digester)
        return pl_nomem(d);
    code = mode == PL_BOOK_READ ? connect_to_read(b, d)
                                : connect_to_write(b, mode == PL_BOOK_CREATE, d);
    if (!code)
        code = settle(b, mode, d);
    if (!code)
        *out = b;
    return code;
}

void pl_book_as_of(pl_book *b, int64_t entry)
{
    b->as_of = entry > 0 ? entry : INT64_MAX;
}

pl_code pl_book_last_entry(pl_book *b, int64_t *out, pl_diags *d)
{
    return number_of(b, "SELECT max(entry) FROM trail", out, d);
}

const char *pl_book_path(const pl_book *b)
{
    return b->path;
}

bool pl_book_created(const pl_book *b)
{
    return b->created;
}
