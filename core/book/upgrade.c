/* An older book brought to this version: copied first, then rebuilt in one
 * transaction. Version 1 had no trail and no seals. */
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "base/file.h"
#include "base/text.h"
#include "book/db.h"

static const char doing[] = "bringing an older book to this version";

/* Columns as pl_book_all has them, without entry; then those that ended the row. */
static const struct {
    const char *table, *sql;
    int ends; /* column that says when the row ended; 0: none do */
} of_study[] = {
    { "study", "SELECT study, name FROM old_study WHERE study = ?1", 0 },
    { "revision",
      "SELECT revision, study, number, seed, text, plan, program, made_at, digest"
      " FROM old_revision WHERE study = ?1 ORDER BY revision",
      0 },
    { "specimen",
      "SELECT id, revision FROM old_specimen JOIN old_revision r USING (revision)"
      " WHERE r.study = ?1 ORDER BY id",
      0 },
    { "source",
      "SELECT source, study, revision, digest, name, kind, rig, rig_text, plugin, program, taken_at"
      " FROM old_source WHERE study = ?1 ORDER BY source",
      0 },
    { "reading",
      "SELECT reading, study, source, subject, id, quantity, text, value, unit, place, replaced_by,"
      " replaced_at FROM old_reading WHERE study = ?1 ORDER BY reading",
      11 },
    { "fit",
      "SELECT fit, study, revision, program, made_at, answer, NULL, 0"
      " FROM old_fit WHERE study = ?1 ORDER BY fit",
      0 },
};

static const char *const old_names[] = { "study",  "revision", "specimen", "rig",
                                         "source", "reading",  "fit" };

static void bind_column(pl_query *to, pl_query *from, int i, pl_arena *a)
{
    switch (sqlite3_column_type(from->statement, i)) {
    case SQLITE_NULL:
        pl_query_text(to, NULL);
        break;
    case SQLITE_INTEGER:
        pl_query_whole(to, pl_column_whole(from, i));
        break;
    case SQLITE_FLOAT:
        pl_query_number(to, pl_column_number(from, i));
        break;
    default: {
        const char *text = pl_column_text(from, a, i);

        pl_query_bytes(to, text ? text : "", pl_column_length(from, i));
    }
    }
}

static pl_code move_row(pl_event *ev, pl_row *r, pl_query *q, int ends)
{
    int n = r->t->nsealed - r->t->nending;
    bool ended = ends && sqlite3_column_type(q->statement, ends) != SQLITE_NULL;

    r->key = pl_column_whole(q, 0) - 1;
    pl_row_begin(r);
    for (int i = r->text_key ? 0 : 1; i < n; i++)
        bind_column(&r->q, q, i, ev->b->arena);
    if (!pl_row_put(r) || !ended)
        return r->q.code ? r->q.code : q->code;
    if (r->t->nending == 3) {
        const pl_cell cells[] = { { PL_CELL_WHOLE, pl_column_whole(q, ends - 1), NULL },
                                  { PL_CELL_WHOLE, pl_column_whole(q, ends), NULL } };

        return pl_row_finish(ev, r->t->name, r->key, cells);
    }
    return pl_row_finish(ev, r->t->name, r->key,
                         &(pl_cell){ PL_CELL_WHOLE, pl_column_whole(q, ends), NULL });
}

static pl_code move_rows(pl_event *ev, const char *table, const char *sql, int ends, int64_t study)
{
    pl_query q = pl_query_start(ev->b, sql, doing, ev->d);
    pl_row r = pl_row_start(ev, table);
    pl_code code = PL_OK, second;

    if (study)
        pl_query_whole(&q, study);
    while (!code && pl_query_row(&q))
        code = move_row(ev, &r, &q, ends);
    second = pl_row_end(&r);
    code = code ? code : second;
    second = pl_query_end(&q);
    return code ? code : second;
}

/* Nothing is sealed that was not whole: what version 1 could tell of itself. */
static pl_code look_at_revisions(pl_event *ev)
{
    pl_arena *a = ev->b->arena;
    pl_query q = pl_query_start(ev->b, "SELECT text, plan, digest, revision FROM revision", doing,
                                ev->d);

    while (pl_query_row(&q)) {
        const char *text = pl_column_text(&q, a, 0), *plan = pl_column_text(&q, a, 1);
        const char *digest = pl_column_text(&q, a, 2), *now = NULL;
        pl_text both;

        pl_text_init(&both, a);
        pl_text_bytes(&both, text ? text : "", pl_column_length(&q, 0));
        pl_text_bytes(&both, plan ? plan : "", pl_column_length(&q, 1));
        if (!both.failed)
            now = pl_digest(a, both.bytes ? both.bytes : "", both.length);
        if (!now || !digest)
            q.code = pl_nomem(ev->d);
        else if (strcmp(now, digest))
            q.code = pl_fail(ev->d, PL_EBOOK, ev->b->path,
                             .found = pl_arena_printf(a, "revision %lld is not what was frozen",
                                                      (long long)pl_column_whole(&q, 3)),
                             .expected = "text and plan that match their digest",
                             .mend = PL_BOOK_RESTORE);
    }
    return pl_query_end(&q);
}

static pl_code run_sql(pl_event *ev, const char *sql)
{
    int rc = sql ? sqlite3_exec(ev->b->db, sql, NULL, NULL, NULL) : SQLITE_NOMEM;

    return rc ? pl_db_fail(ev->b, rc, doing, ev->d) : PL_OK;
}

static pl_code rename_tables(pl_event *ev)
{
    static const char *const indexes[] = { "specimen_of", "rig_in_use", "reading_in_force",
                                           "reading_from", "fit_of" };
    pl_code code = PL_OK;

    for (size_t i = 0; i < sizeof indexes / sizeof *indexes && !code; i++)
        code = run_sql(ev, pl_arena_printf(ev->b->arena, "DROP INDEX %s", indexes[i]));
    for (size_t i = 0; i < sizeof old_names / sizeof *old_names && !code; i++)
        code = run_sql(ev, pl_arena_printf(ev->b->arena, "ALTER TABLE %s RENAME TO old_%s",
                                           old_names[i], old_names[i]));
    return code;
}

static pl_code drop_tables(pl_event *ev)
{
    pl_code code = PL_OK;

    for (size_t i = sizeof old_names / sizeof *old_names; i-- > 0 && !code;)
        code = run_sql(ev, pl_arena_printf(ev->b->arena, "DROP TABLE old_%s", old_names[i]));
    return code;
}

static pl_code move_studies(pl_event *ev)
{
    pl_query q = pl_query_start(ev->b, "SELECT study, name FROM old_study ORDER BY study", doing,
                                ev->d);
    pl_code code = PL_OK, second;

    while (!code && pl_query_row(&q)) {
        const char *name = pl_column_text(&q, ev->b->arena, 1);

        for (size_t i = 0; i < sizeof of_study / sizeof *of_study && !code; i++)
            code = move_rows(ev, of_study[i].table, of_study[i].sql, of_study[i].ends,
                             pl_column_whole(&q, 0));
        if (!code)
            code = pl_event_write(ev, "upgrade", name ? name : "", "from version 1");
    }
    second = pl_query_end(&q);
    return code ? code : second;
}

static pl_code rebuild(pl_event *ev)
{
    pl_code code = look_at_revisions(ev);
    int rc;

    if (!code)
        code = rename_tables(ev);
    if (code)
        return code;
    rc = pl_db_make(ev->b);
    if (rc)
        return pl_db_fail(ev->b, rc, doing, ev->d);
    code = move_rows(
        ev, "rig", "SELECT rig, name, text, added_at, replaced_at FROM old_rig ORDER BY rig", 4, 0);
    if (!code && ev->nrow)
        code = pl_event_write(ev, "upgrade", "", "rigs, from version 1");
    if (!code)
        code = move_studies(ev);
    return code ? code : drop_tables(ev);
}

/* "shop.book.version-1", or with a number behind it where that is taken. */
static pl_code keep_copy(pl_book *b, pl_diags *d)
{
    const char *to = pl_arena_printf(b->arena, "%s.version-1", b->path);
    sqlite3 *reader = NULL;
    struct stat st;
    pl_code code;
    int rc;

    for (int i = 2; to && !lstat(to, &st); i++)
        to = pl_arena_printf(b->arena, "%s.version-1-%d", b->path, i);
    if (!to)
        return pl_nomem(d);
    rc = sqlite3_open_v2(pl_db_path(b->arena, b->path), &reader, SQLITE_OPEN_READONLY, NULL);
    code = rc ? pl_db_fail(b, rc, doing, d) : pl_db_copy(b, reader, to, d);
    sqlite3_close_v2(reader);
    if (!code)
        pl_remark(
            d, b->path, .found = "a book of an older version",
            .expected = pl_arena_printf(b->arena, "version %d", PL_BOOK_VERSION),
            .mend = pl_arena_printf(b->arena, "it was brought to it; as it was it lies at %s", to));
    return code;
}

/* Two runs may both find an old book: the second one in waits and finds it new. */
pl_code pl_db_upgrade(pl_book *b, bool keep, pl_diags *d)
{
    pl_event ev = { .b = b, .d = d, .doing = doing, .entry = 1, .now = pl_db_now() };
    int old = 0;
    pl_code code = run_sql(&ev, "PRAGMA foreign_keys = OFF; PRAGMA legacy_alter_table = ON");

    if (!code)
        code = pl_db_begin(b, true, doing, d);
    if (code)
        return code;
    code = pl_db_version(b, &old, d);
    if (!code && old < PL_BOOK_VERSION && keep)
        code = keep_copy(b, d);
    if (!code && old < PL_BOOK_VERSION)
        code = rebuild(&ev);
    code = pl_db_end(b, code, doing, d);
    if (!code)
        code = run_sql(&ev, "PRAGMA foreign_keys = ON; PRAGMA legacy_alter_table = OFF");
    return code;
}
