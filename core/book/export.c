/* Everything in the book as files, byte for byte. How they are laid out: docs/book.md;
 * the way back: import.c. */
#include <dirent.h>
#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/file.h"
#include "base/json.h"
#include "base/text.h"
#include "book/layout.h"

static const char doing[] = "exporting the book";

bool pl_layout_own_file(const char *table, const char *column)
{
    static const char *const own[][2] = { { "revision", "text" }, { "revision", "plan" },
                                          { "rig", "text" },      { "source", "rig_text" },
                                          { "fit", "answer" },    { "fit", "asked" } };

    for (size_t i = 0; i < sizeof own / sizeof *own; i++)
        if (!strcmp(own[i][0], table) && !strcmp(own[i][1], column))
            return true;
    return false;
}

typedef struct out {
    pl_book *b;
    pl_arena *a;
    pl_diags *d;
    const char *part; /* the folder in the making */
    pl_jval *tables;
} out;

static pl_code write_file(out *o, const char *folder, const char *name, const char *bytes, size_t n)
{
    const char *path = pl_arena_printf(o->a, "%s/%s%s", o->part, folder, name);

    if (!path)
        return pl_nomem(o->d);
    if (folder[0] && pl_file_exists(path)) /* the same text once more: its name says so */
        return PL_OK;
    return pl_file_write(path, bytes, n, false, o->d);
}

/* --------------------------------------------------------------------- cells ---- */

static void put_quoted(pl_text *t, const char *s, size_t n)
{
    pl_text_put(t, "\"");
    for (size_t from = 0; from < n;) {
        const char *quote = memchr(s + from, '"', n - from);
        size_t to = quote ? (size_t)(quote - s) + 1 : n;

        pl_text_bytes(t, s + from, to - from);
        if (quote)
            pl_text_put(t, "\"");
        from = to;
    }
    pl_text_put(t, "\"");
}

/* A long text goes into a file of its own; the cell then holds its digest. */
static pl_code put_text(out *o, pl_text *t, pl_query *q, const pl_table_of *of, int i)
{
    const char *text = (const char *)sqlite3_column_text(q->statement, i);
    size_t n = pl_column_length(q, i);
    const char *digest;

    if (!text)
        return pl_nomem(o->d);
    if (i > of->nsealed || !pl_layout_own_file(of->name, of->columns[i])) {
        put_quoted(t, text, n);
        return PL_OK;
    }
    digest = pl_digest(o->a, text, n);
    if (!digest)
        return pl_nomem(o->d);
    put_quoted(t, digest, strlen(digest));
    return write_file(o, "texts/", digest, text, n);
}

static pl_code put_cell(out *o, pl_text *t, pl_query *q, const pl_table_of *of, int i)
{
    switch (sqlite3_column_type(q->statement, i)) {
    case SQLITE_NULL:
        return PL_OK;
    case SQLITE_INTEGER:
        pl_text_add(t, "%" PRId64, pl_column_whole(q, i));
        return PL_OK;
    case SQLITE_FLOAT: {
        char number[40];

        snprintf(number, sizeof number, "%.17g", pl_column_number(q, i));
        pl_text_put(t, number);
        return PL_OK;
    }
    default:
        return put_text(o, t, q, of, i);
    }
}

/* -------------------------------------------------------------------- tables ---- */

static pl_code fill(out *o, const pl_table_of *of, pl_text *t, size_t *rows)
{
    const char *order = pl_arena_printf(o->a, "ORDER BY x.%s", of->columns[0]);
    pl_query q;

    if (!order)
        return pl_nomem(o->d);
    for (int i = 0; i <= of->nsealed; i++)
        pl_text_add(t, "%s,", of->columns[i]);
    pl_text_put(t, "seal\n");
    q = pl_rows_start(o->b, of, order, doing, o->d);
    while (pl_query_row(&q) && !pl_row_check(&q, of)) {
        for (int i = 0; i <= of->nsealed + 1 && !q.code; i++) {
            if (i)
                pl_text_put(t, ",");
            q.code = put_cell(o, t, &q, of, i);
        }
        pl_text_put(t, "\n");
        ++*rows;
    }
    return pl_query_end(&q);
}

static pl_code write_table(out *o, const pl_table_of *of)
{
    const char *name = pl_arena_printf(o->a, "%s.csv", of->name), *digest;
    pl_jval *entry;
    size_t rows = 0;
    pl_text t;
    pl_code code;

    pl_text_init(&t, o->a);
    code = fill(o, of, &t, &rows);
    if (code)
        return code;
    if (!name || !pl_text_done(&t))
        return pl_nomem(o->d);
    digest = pl_digest(o->a, t.bytes, t.length);
    entry = pl_jadd_object(o->tables, NULL);
    pl_jadd_text(entry, "table", of->name);
    pl_jadd_text(entry, "file", name);
    pl_jadd_whole(entry, "rows", (long long)rows);
    pl_jadd_text(entry, "digest", digest);
    return write_file(o, "", name, t.bytes, t.length);
}

static pl_code write_kept(out *o)
{
    pl_query q = pl_query_start(o->b, "SELECT digest FROM kept ORDER BY digest", doing, o->d);

    while (pl_query_row(&q)) {
        pl_mark mark = pl_arena_mark(o->a);
        const char *digest = pl_column_text(&q, o->a, 0);
        char *bytes;
        size_t n;

        if (!q.code)
            q.code = pl_book_kept(o->a, o->b, digest, &bytes, &n, o->d);
        if (!q.code)
            q.code = write_file(o, "kept/", digest, bytes, n);
        if (!q.code) /* findings live in the arena too */
            pl_arena_reset(o->a, mark);
    }
    return pl_query_end(&q);
}

static pl_code write_all(out *o)
{
    pl_jval *head = pl_jobject(o->a);
    const char *text;
    pl_code code = PL_OK;

    pl_jadd_text(head, "format", PL_LAYOUT_FORMAT);
    pl_jadd_whole(head, "layout", PL_LAYOUT_VERSION);
    pl_jadd_whole(head, "book", PL_BOOK_VERSION);
    o->tables = pl_jadd_array(head, "tables");
    for (size_t i = 0; i < pl_book_nall && !code; i++)
        code = write_table(o, &pl_book_all[i]);
    if (!code)
        code = write_kept(o);
    if (code)
        return code;
    text = pl_jtext(o->a, head);
    return text ? write_file(o, "", "book.json", text, strlen(text)) : pl_nomem(o->d);
}

/* ------------------------------------------------------------------- folders ---- */

static bool is_empty(const char *path)
{
    DIR *dir = opendir(path);
    struct dirent *e;
    bool empty = true;

    if (!dir)
        return errno == ENOENT;
    while (empty && (e = readdir(dir)))
        empty = !strcmp(e->d_name, ".") || !strcmp(e->d_name, "..");
    closedir(dir);
    return empty;
}

static pl_code make_folders(out *o)
{
    static const char *const names[] = { "", "/texts", "/kept" };
    pl_code code = PL_OK;

    for (size_t i = 0; i < sizeof names / sizeof *names && !code; i++) {
        const char *path = pl_arena_printf(o->a, "%s%s", o->part, names[i]);

        code = path ? pl_file_folder(path, o->d) : pl_nomem(o->d);
    }
    return code;
}

pl_code pl_book_export(pl_book *b, const char *folder, pl_diags *d)
{
    size_t n = strlen(folder);
    out o = { .b = b, .a = b->arena, .d = d };
    pl_code code;

    while (n > 1 && folder[n - 1] == '/')
        n--;
    o.part = pl_arena_printf(b->arena, "%.*s.part", (int)n, folder);
    if (!o.part)
        return pl_nomem(d);
    if (!is_empty(folder))
        return pl_fail(d, PL_EWRITE, folder, .found = "something of that name is there",
                       .expected = "a new folder, or an empty one");
    if (!is_empty(o.part))
        return pl_fail(d, PL_EWRITE, o.part, .found = "what an export left that was not finished",
                       .expected = "a new name", .mend = "delete it, then run again");
    code = make_folders(&o);
    if (!code)
        code = pl_db_begin(b, false, doing, d);
    if (code)
        return code;
    code = pl_db_end(b, write_all(&o), doing, d);
    if (!code && rename(o.part, folder)) /* whole or absent */
        code = pl_fail(d, PL_EWRITE, folder, .found = strerror(errno),
                       .expected = "a folder that can be written");
    return code;
}
