/* The shop's rigs as the book keeps them: texts, untouched. What a rig's
 * settings mean is the business of core/rigs. */
#include "book/db.h"

#include <string.h>

static pl_code in_use(pl_arena *a, pl_book *b, const char *name, int64_t *key,
                      const pl_book_rig **out, const char *doing, pl_diags *d)
{
    pl_query q = pl_query_start(b,
                                "SELECT rig, text, added_at FROM rig"
                                " WHERE name = ?1 AND replaced_at IS NULL",
                                doing, d);

    *out = NULL;
    pl_query_text(&q, name);
    while (pl_query_row(&q)) {
        pl_book_rig *rig = PL_NEW(a, pl_book_rig);
        char *copy = pl_arena_str(a, name);

        if (!rig || !copy) {
            q.code = pl_nomem(d);
            break;
        }
        if (key)
            *key = pl_column_whole(&q, 0);
        *rig = (pl_book_rig){ .name = copy,
                              .text = pl_column_text(&q, a, 1),
                              .added_at = pl_column_whole(&q, 2) };
        *out = rig;
    }
    return pl_query_end(&q);
}

pl_code pl_book_rig_get(pl_arena *a, pl_book *b, const char *name, const pl_book_rig **out,
                        pl_diags *d)
{
    return in_use(a, b, name, NULL, out, "looking for a rig", d);
}

static pl_code retire(pl_book *b, int64_t key, int64_t now, const char *doing, pl_diags *d)
{
    pl_query q = pl_query_start(b, "UPDATE rig SET replaced_at = ?1 WHERE rig = ?2", doing, d);

    pl_query_whole(&q, now);
    pl_query_whole(&q, key);
    pl_query_row(&q);
    return pl_query_end(&q);
}

static pl_code insert(pl_book *b, const pl_rig *rig, int64_t now, const char *doing, pl_diags *d)
{
    pl_query q = pl_query_start(b, "INSERT INTO rig (name, text, added_at) VALUES (?1, ?2, ?3)",
                                doing, d);

    pl_query_text(&q, rig->name);
    pl_query_text(&q, rig->text);
    pl_query_whole(&q, now);
    pl_query_row(&q);
    return pl_query_end(&q);
}

static pl_code conflict(pl_book *b, const pl_rig *rig, int64_t added_at, pl_diags *d)
{
    const char *date = pl_db_date(b->arena, added_at);

    return pl_fail(d, PL_ECONFLICT, b->path,
                   .found = pl_arena_printf(b->arena,
                                            "a rig \"%s\" with other settings, kept on %s",
                                            rig->name, date ? date : ""),
                   .expected = "a new name, or the same rig",
                   .mend = "give it another name, or --replace to put it in the other's place (the "
                           "old one is kept as history)");
}

pl_code pl_book_rig_add(pl_book *b, const pl_rig *rig, bool replace, bool *added, pl_diags *d)
{
    static const char doing[] = "adding a rig";
    const pl_book_rig *old = NULL;
    int64_t key = 0, now = pl_db_now();
    bool same = false;
    pl_code code = pl_db_begin(b, true, doing, d);

    if (code)
        return code;
    code = in_use(b->arena, b, rig->name, &key, &old, doing, d);
    if (!code && old) {
        same = !strcmp(old->text, rig->text);
        if (!same)
            code = replace ? retire(b, key, now, doing, d) : conflict(b, rig, old->added_at, d);
    }
    if (!code && !same)
        code = insert(b, rig, now, doing, d);
    code = pl_db_end(b, code, doing, d);
    if (!code && added)
        *added = !same;
    return code;
}

pl_code pl_book_rig_list(pl_arena *a, pl_book *b, const pl_book_rig **out, size_t *count,
                         pl_diags *d)
{
    pl_query q = pl_query_start(
        b, "SELECT name, text, added_at FROM rig WHERE replaced_at IS NULL ORDER BY name",
        "listing rigs", d);
    pl_book_rig *list = NULL;
    size_t n = 0, room = 0;

    while (pl_query_row(&q)) {
        if (n == room) {
            room = room ? 2 * room : 16;
            list = pl_arena_grow(a, list, n, room, sizeof *list);
            if (!list) {
                q.code = pl_nomem(d);
                break;
            }
        }
        list[n++] = (pl_book_rig){ .name = pl_column_text(&q, a, 0),
                                   .text = pl_column_text(&q, a, 1),
                                   .added_at = pl_column_whole(&q, 2) };
    }
    *out = list;
    *count = n;
    return pl_query_end(&q);
}
