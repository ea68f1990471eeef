/* Files kept as they were, packed with zlib and known by their digest; and fits,
 * which are kept as the answers that they gave. */
#include <string.h>
#include <zlib.h>

#include "base/file.h"
#include "book/db.h"

/* --------------------------------------------------------------------- files ---- */

static pl_code is_kept(pl_event *ev, const char *digest, bool *out)
{
    pl_query q = pl_query_start(ev->b, "SELECT count(*) FROM kept WHERE digest = ?1", ev->doing,
                                ev->d);

    pl_query_text(&q, digest);
    while (pl_query_row(&q))
        *out = pl_column_whole(&q, 0) != 0;
    return pl_query_end(&q);
}

pl_code pl_db_keep(pl_event *ev, const char *digest, const char *bytes, size_t length, bool *added)
{
    uLongf room = compressBound((uLong)length);
    Bytef *packed = pl_arena_get(ev->b->arena, room, 1);
    bool kept = false;
    pl_row r;
    pl_code code = is_kept(ev, digest, &kept);

    *added = false;
    if (code || kept)
        return code;
    if (!packed || compress2(packed, &room, (const Bytef *)bytes, (uLong)length, 9) != Z_OK)
        return pl_nomem(ev->d);
    r = pl_row_start(ev, "kept");
    r.extra = packed;
    r.nextra = room;
    pl_row_begin(&r);
    pl_query_text(&r.q, digest);
    pl_query_whole(&r.q, (int64_t)length);
    *added = pl_row_put(&r);
    return pl_row_end(&r);
}

static pl_code unpack(pl_arena *a, pl_query *q, const char *digest, char **out, size_t *length)
{
    int64_t stated = pl_column_whole(q, 0);
    const Bytef *packed = sqlite3_column_blob(q->statement, 1);
    uLong npacked = (uLong)sqlite3_column_bytes(q->statement, 1);
    uLongf n = (uLongf)stated;
    char *bytes, *now;

    /* zlib packs at most 1032:1 (zlib.net/zlib_tech.html): no lie about the length
     * makes us ask for more */
    if (stated < 0 || (uint64_t)stated > (uint64_t)npacked * 1032 + 64)
        return pl_db_fail(q->book, SQLITE_CORRUPT, q->doing, q->diags);
    bytes = pl_arena_get(a, (size_t)stated + 1, 1);
    if (!bytes)
        return pl_nomem(q->diags);
    if (uncompress((Bytef *)bytes, &n, packed, npacked) != Z_OK || n != (uLongf)stated)
        n = 0;
    now = pl_digest(a, bytes, n);
    if (!now)
        return pl_nomem(q->diags);
    if (n != (uLongf)stated || strcmp(now, digest))
        return pl_fail(q->diags, PL_EBOOK, q->book->path,
                       .found = pl_arena_printf(a, "kept file %.12s is not what was taken", digest),
                       .expected = "bytes that match their digest", .mend = PL_BOOK_RESTORE);
    *out = bytes;
    *length = n;
    return PL_OK;
}

pl_code pl_book_kept(pl_arena *a, pl_book *b, const char *digest, char **out, size_t *length,
                     pl_diags *d)
{
    pl_query q = pl_query_start(b, "SELECT length, packed FROM kept WHERE digest = ?1",
                                "reading a kept file", d);

    *out = NULL;
    *length = 0;
    pl_query_text(&q, digest);
    while (pl_query_row(&q))
        q.code = unpack(a, &q, digest, out, length);
    return pl_query_end(&q);
}

/* ---------------------------------------------------------------------- fits ---- */

static pl_code revision_key(pl_event *ev, const pl_book_fit *f, int64_t *study, int64_t *revision)
{
    pl_query q = pl_query_start(ev->b,
                                "SELECT study, revision FROM study JOIN revision USING (study)"
                                " WHERE name = ?1 AND number = ?2",
                                ev->doing, ev->d);

    *study = *revision = 0;
    pl_query_text(&q, f->study);
    pl_query_whole(&q, f->revision);
    while (pl_query_row(&q)) {
        *study = pl_column_whole(&q, 0);
        *revision = pl_column_whole(&q, 1);
    }
    if (q.code == PL_OK && !*revision)
        q.code = pl_fail(
            ev->d, PL_EUSAGE, ev->b->path,
            .found = pl_arena_printf(ev->b->arena, "revision %u of \"%s\"", f->revision, f->study),
            .expected = "a revision of this book");
    return pl_query_end(&q);
}

pl_code pl_book_fit_add(pl_book *b, const pl_book_fit *f, pl_diags *d)
{
    int64_t study, revision;
    pl_event ev;
    pl_row r;
    pl_code code = pl_event_begin(b, "keeping a fit", &ev, d);

    if (code)
        return code;
    code = revision_key(&ev, f, &study, &revision);
    if (!code) {
        r = pl_row_start(&ev, "fit");
        pl_row_begin(&r);
        pl_query_whole(&r.q, study);
        pl_query_whole(&r.q, revision);
        pl_query_text(&r.q, PL_VERSION);
        pl_query_whole(&r.q, ev.now);
        pl_query_text(&r.q, f->answer);
        pl_query_text(&r.q, f->asked);
        pl_query_whole(&r.q, f->seen);
        pl_row_put(&r);
        code = pl_row_end(&r);
    }
    return pl_event_end(&ev, code, "fit", f->study,
                        pl_arena_printf(b->arena, "of revision %u", f->revision));
}

enum { F_STUDY = 1, F_REVISION, F_PROGRAM, F_MADE_AT, F_ANSWER, F_ASKED, F_SEEN };

static pl_code names_of_fit(pl_arena *a, pl_book *b, int64_t revision, pl_book_fit *f, pl_diags *d)
{
    pl_query q = pl_query_start(b,
                                "SELECT name, number FROM revision JOIN study USING (study)"
                                " WHERE revision = ?1",
                                "reading fits", d);

    pl_query_whole(&q, revision);
    while (pl_query_row(&q)) {
        f->study = pl_column_text(&q, a, 0);
        f->revision = (unsigned)pl_column_whole(&q, 1);
    }
    if (!q.code && !f->study)
        q.code = pl_db_fail(b, SQLITE_CORRUPT, "reading fits", d);
    return pl_query_end(&q);
}

pl_code pl_book_fits(pl_arena *a, pl_book *b, const pl_book_fit **out, size_t *count, pl_diags *d)
{
    const pl_table_of *t = pl_table_named("fit");
    pl_query q = pl_rows_start(b, t, "ORDER BY x.fit", "reading fits", d);
    pl_book_fit *list = NULL;
    size_t n = 0, room = 0;

    while (pl_query_row(&q) && !pl_row_check(&q, t)) {
        bool asked = sqlite3_column_type(q.statement, F_ASKED) != SQLITE_NULL;

        if (n == room) {
            room = room ? 2 * room : 16;
            list = pl_arena_grow(a, list, n, room, sizeof *list);
            if (!list) {
                q.code = pl_nomem(d);
                break;
            }
        }
        list[n] = (pl_book_fit){ .key = pl_column_whole(&q, 0),
                                 .program = pl_column_text(&q, a, F_PROGRAM),
                                 .made_at = pl_column_whole(&q, F_MADE_AT),
                                 .answer = pl_column_text(&q, a, F_ANSWER),
                                 .asked = asked ? pl_column_text(&q, a, F_ASKED) : NULL,
                                 .seen = pl_column_whole(&q, F_SEEN) };
        if (!q.code)
            q.code = names_of_fit(a, b, pl_column_whole(&q, F_REVISION), &list[n++], d);
    }
    *out = list;
    *count = n;
    return pl_query_end(&q);
}
