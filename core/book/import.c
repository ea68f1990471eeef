/* An export back into an empty book: every row as it was, then the book is held to
 * itself before anything is kept. An export may come from anybody. */
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

#include "base/fields.h"
#include "base/file.h"
#include "base/json.h"
#include "base/text.h"
#include "book/layout.h"

static const char doing[] = "taking in an export";

typedef struct in {
    pl_book *b;
    pl_arena *a;
    pl_diags *d;
    const char *folder;
    const pl_table_of *t; /* the table at hand */
    pl_fields rows;
} in;

static pl_code bad(in *x, const char *found, const char *expected)
{
    return pl_fields_bad(&x->rows, found, expected);
}

/* A file that is named by its digest, and held to it. */
static pl_code read_named(in *x, const char *folder, const char *digest, char **bytes, size_t *n)
{
    const char *path = pl_arena_printf(x->a, "%s/%s/%s", x->folder, folder, digest);

    return path ? pl_file_read_digested(x->a, path, digest, bytes, n, x->d) : pl_nomem(x->d);
}

/* --------------------------------------------------------------------- cells ---- */

static pl_code bind_cell(in *x, pl_query *q, const pl_field *c, const char *column)
{
    bool real = !strcmp(column, "value") && !strcmp(x->t->name, "reading");
    long long whole;
    double number;
    char *bytes;
    size_t n;
    pl_code code;

    if (c->quoted && pl_layout_own_file(x->t->name, column)) {
        if (!pl_is_digest(c->bytes, c->n))
            return bad(x, "no digest", "the digest of a file in texts");
        code = read_named(x, "texts", c->bytes, &bytes, &n);
        if (!code)
            pl_query_bytes(q, bytes, n);
        return code;
    }
    if (c->quoted)
        pl_query_bytes(q, c->bytes, c->n);
    else if (!c->n)
        pl_query_text(q, NULL);
    else if (real && pl_text_to_number(c->bytes, &number))
        pl_query_number(q, number);
    else if (!real && pl_text_to_whole(c->bytes, INT64_MIN, INT64_MAX, &whole))
        pl_query_whole(q, whole);
    else
        return bad(x, pl_arena_printf(x->a, "\"%.40s\"", c->bytes), "a number");
    return q->code;
}

/* -------------------------------------------------------------------- tables ---- */

static pl_code bind_packed(in *x, pl_query *q, const pl_field *digest)
{
    char *bytes = NULL;
    size_t n = 0;
    uLongf room;
    Bytef *packed;
    pl_code code;

    if (!digest->quoted || !pl_is_digest(digest->bytes, digest->n))
        return bad(x, "no digest", "the digest of a file in kept");
    code = read_named(x, "kept", digest->bytes, &bytes, &n);
    if (code)
        return code;
    room = compressBound((uLong)n);
    packed = pl_arena_get(x->a, room, 1);
    if (!packed || compress2(packed, &room, (const Bytef *)bytes, (uLong)n, 9) != Z_OK)
        return pl_nomem(x->d);
    pl_query_blob(q, packed, room);
    return q->code;
}

static char *insert_of(in *x, bool packed)
{
    pl_text sql;

    pl_text_init(&sql, x->a);
    pl_text_add(&sql, "INSERT INTO %s (", x->t->name);
    for (int i = 0; i <= x->t->nsealed; i++)
        pl_text_add(&sql, "%s, ", x->t->columns[i]);
    pl_text_add(&sql, "seal%s) VALUES (", packed ? ", packed" : "");
    for (int i = 0; i <= x->t->nsealed; i++)
        pl_text_put(&sql, "?, ");
    pl_text_add(&sql, "?%s)", packed ? ", ?" : "");
    return pl_text_done(&sql);
}

static pl_code read_header(in *x)
{
    const char *names[PL_COLUMNS_MOST + 1];

    for (int i = 0; i <= x->t->nsealed; i++)
        names[i] = x->t->columns[i];
    names[x->t->nsealed + 1] = "seal";
    return pl_fields_header(&x->rows, names, x->t->nsealed + 2);
}

static pl_code read_rows(in *x)
{
    bool packed = !strcmp(x->t->name, "kept");
    const char *sql = insert_of(x, packed);
    pl_field cells[PL_COLUMNS_MOST + 1] = { { 0 } };
    pl_code code = read_header(x);
    pl_query q;

    if (!sql)
        return pl_nomem(x->d);
    if (code)
        return code;
    q = pl_query_start(x->b, sql, doing, x->d);
    while (pl_fields_more(&x->rows) && !q.code) {
        pl_mark mark = pl_arena_mark(x->a);
        size_t findings = x->d->count;

        pl_query_again(&q);
        q.code = pl_fields_line(&x->rows, cells, x->t->nsealed + 2);
        for (int i = 0; i <= x->t->nsealed + 1 && !q.code; i++)
            q.code = bind_cell(x, &q, &cells[i], i > x->t->nsealed ? "seal" : x->t->columns[i]);
        if (!q.code && packed)
            q.code = bind_packed(x, &q, &cells[0]);
        pl_query_row(&q);
        if (!q.code && x->d->count == findings)
            pl_arena_reset(x->a, mark);
    }
    return pl_query_end(&q);
}

static pl_code read_table(in *x, const pl_table_of *t, const char *digest)
{
    char *bytes;
    const char *now;
    size_t n;
    pl_code code;

    x->t = t;
    x->rows.line = 0;
    x->rows.file = pl_arena_printf(x->a, "%s/%s.csv", x->folder, t->name);
    if (!x->rows.file)
        return pl_nomem(x->d);
    code = pl_file_read(x->a, x->rows.file, &bytes, &n, x->d);
    if (code)
        return code;
    now = pl_digest(x->a, bytes, n);
    if (!now)
        return pl_nomem(x->d);
    if (strcmp(now, digest))
        return bad(x, "other bytes than were exported", "a file that matches book.json");
    x->rows.s = bytes;
    x->rows.end = bytes + n;
    return read_rows(x);
}

/* --------------------------------------------------------------------- whole ---- */

static pl_code read_head(in *x, const pl_json **tables)
{
    const char *path = pl_arena_printf(x->a, "%s/book.json", x->folder);
    const pl_json *head = NULL, *format, *layout, *book;
    pl_code code = path ? pl_json_read(x->a, path, &head, x->d) : pl_nomem(x->d);

    if (code)
        return code;
    x->rows.file = path;
    format = pl_json_get(head, "format");
    layout = pl_json_get(head, "layout");
    book = pl_json_get(head, "book");
    *tables = pl_json_get(head, "tables");
    if (!format || format->kind != PL_JSON_STRING || strcmp(format->string, PL_LAYOUT_FORMAT) ||
        !*tables || (*tables)->kind != PL_JSON_ARRAY || (*tables)->count != pl_book_nall)
        return bad(x, "no export of a book", "a folder made by: platen book export");
    if (!layout || layout->number > PL_LAYOUT_VERSION || !book || book->number != PL_BOOK_VERSION)
        return bad(x, "an export of another version", "one made by this version of platen");
    return PL_OK;
}

static pl_code is_new(in *x)
{
    int64_t entries = 0;
    pl_code code = pl_book_last_entry(x->b, &entries, x->d);

    if (!code && entries)
        code = pl_fail(x->d, PL_ECONFLICT, x->b->path, .found = "a book that holds something",
                       .expected = "a new book", .mend = "name another one with --book");
    return code;
}

static pl_code read_all(in *x, const pl_json *tables)
{
    size_t i = 0;
    pl_checked checked;
    pl_code code = is_new(x);

    for (const pl_json *t = tables->child; t && !code; t = t->next, i++) {
        const pl_json *name = pl_json_get(t, "table"), *digest = pl_json_get(t, "digest");

        if (!name || name->kind != PL_JSON_STRING || strcmp(name->string, pl_book_all[i].name) ||
            !digest || digest->kind != PL_JSON_STRING)
            code = bad(x, "other tables", "those of a book, in their order");
        else
            code = read_table(x, &pl_book_all[i], digest->string);
    }
    return code ? code : pl_db_check(x->b, &checked, x->d);
}

pl_code pl_book_import(pl_book *b, const char *folder, pl_diags *d)
{
    in x = { .b = b, .a = b->arena, .d = d, .folder = folder };
    const pl_json *tables = NULL;
    pl_code code;

    x.rows = (pl_fields){ .a = x.a,
                          .d = d,
                          .file = folder,
                          .mend = "export the book again; the files of an export are not for "
                                  "editing" };
    code = read_head(&x, &tables);

    if (code)
        return code;
    code = pl_db_begin(b, true, doing, d);
    return code ? code : pl_db_end(b, read_all(&x, tables), doing, d);
}
