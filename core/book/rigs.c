/* The shop's rigs as the book keeps them: texts, untouched. What a rig's
 * settings mean is the business of core/rigs. */
#include "book/db.h"

#include <string.h>

enum { R_NAME = 1, R_TEXT, R_ADDED_AT };

/* Damage to an index must not hide a rig: the table itself is walked, it is small. */
static const char in_force[] = " AND x.entry <= ?1 AND (x.ended IS NULL OR x.ended > ?1)";

/* Nor may one be gone: each entry of the trail that added a rig still has it. */
static pl_code all_there(pl_book *b, const char *doing, pl_diags *d)
{
    pl_query q = pl_query_start(b,
                                "SELECT t.entry, t.words FROM trail t NOT INDEXED WHERE t.what ="
                                " 'rig add' AND t.entry NOT IN (SELECT entry FROM rig NOT INDEXED)",
                                doing, d);

    while (pl_query_row(&q)) {
        const char *words = pl_column_text(&q, b->arena, 1);

        if (words)
            q.code = pl_fail(d, PL_EBOOK, b->path,
                             .found = pl_arena_printf(b->arena,
                                                      "rig %s is missing: what entry %lld of the "
                                                      "trail wrote is not there",
                                                      words, (long long)pl_column_whole(&q, 0)),
                             .expected = "all that the trail tells of", .mend = PL_BOOK_RESTORE);
    }
    return pl_query_end(&q);
}

static pl_code in_use(pl_arena *a, pl_book *b, const char *name, int64_t *key,
                      const pl_book_rig **out, const char *doing, pl_diags *d)
{
    const pl_table_of *t = pl_table_named("rig");
    const char *rest = pl_arena_printf(b->arena, "NOT INDEXED WHERE x.name = ?2%s", in_force);
    pl_code code;
    pl_query q;

    *out = NULL;
    if (!rest)
        return pl_nomem(d);
    code = all_there(b, doing, d);
    if (code)
        return code;
    q = pl_rows_start(b, t, rest, doing, d);
    pl_query_whole(&q, b->as_of);
    pl_query_text(&q, name);
    while (pl_query_row(&q)) {
        pl_book_rig *rig = PL_NEW(a, pl_book_rig);
        char *copy = pl_arena_str(a, name);

        if (pl_row_check(&q, t))
            break;
        if (!rig || !copy) {
            q.code = pl_nomem(d);
            break;
        }
        if (key)
            *key = pl_column_whole(&q, 0);
        *rig = (pl_book_rig){ .name = copy,
                              .text = pl_column_text(&q, a, R_TEXT),
                              .added_at = pl_column_whole(&q, R_ADDED_AT) };
        *out = rig;
    }
    return pl_query_end(&q);
}

pl_code pl_book_rig_get(pl_arena *a, pl_book *b, const char *name, const pl_book_rig **out,
                        pl_diags *d)
{
    return in_use(a, b, name, NULL, out, "looking for a rig", d);
}

static pl_code retire(pl_event *ev, int64_t key)
{
    return pl_row_finish(ev, "rig", key, &(pl_cell){ .kind = PL_CELL_WHOLE, .whole = ev->now });
}

static pl_code insert(pl_event *ev, const pl_rig *rig)
{
    pl_row r = pl_row_start(ev, "rig");

    pl_row_begin(&r);
    pl_query_text(&r.q, rig->name);
    pl_query_text(&r.q, rig->text);
    pl_query_whole(&r.q, ev->now);
    pl_row_put(&r);
    return pl_row_end(&r);
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

pl_code pl_db_rig_add(pl_event *ev, const pl_rig *rig, bool replace, bool *added, bool *replaced)
{
    pl_book *b = ev->b;
    const pl_book_rig *old = NULL;
    int64_t key = 0;
    bool same = false;
    pl_code code = in_use(b->arena, b, rig->name, &key, &old, ev->doing, ev->d);

    if (!code && old) {
        same = !strcmp(old->text, rig->text);
        if (!same)
            code = replace ? retire(ev, key) : conflict(b, rig, old->added_at, ev->d);
    }
    if (!code && !same)
        code = insert(ev, rig);
    *added = !code && !same;
    *replaced = *added && old;
    return code;
}

pl_code pl_book_rig_add(pl_book *b, const pl_rig *rig, bool replace, bool *added, pl_diags *d)
{
    bool is_new = false, replaced = false;
    pl_event ev;
    pl_code code = pl_event_begin(b, "adding a rig", &ev, d);

    if (code)
        return code;
    code = pl_db_rig_add(&ev, rig, replace, &is_new, &replaced);
    code = pl_event_end(&ev, code, "rig add", "",
                        pl_arena_printf(b->arena, "%s%s", rig->name,
                                        replaced ? ", in place of the one before" : ""));
    if (!code && added)
        *added = is_new;
    return code;
}

pl_code pl_book_rig_list(pl_arena *a, pl_book *b, const pl_book_rig **out, size_t *count,
                         pl_diags *d)
{
    const pl_table_of *t = pl_table_named("rig");
    const char *rest = pl_arena_printf(b->arena, "NOT INDEXED WHERE true%s ORDER BY x.name",
                                       in_force);
    pl_query q = pl_rows_start(b, t, rest ? rest : "", "listing rigs", d);
    pl_book_rig *list = NULL;
    size_t n = 0, room = 0;

    if (!rest)
        q.code = pl_nomem(d);
    if (q.code == PL_OK)
        q.code = all_there(b, "listing rigs", d);
    pl_query_whole(&q, b->as_of);
    while (pl_query_row(&q)) {
        if (pl_row_check(&q, t))
            break;
        if (n == room) {
            room = room ? 2 * room : 16;
            list = pl_arena_grow(a, list, n, room, sizeof *list);
            if (!list) {
                q.code = pl_nomem(d);
                break;
            }
        }
        list[n++] = (pl_book_rig){ .name = pl_column_text(&q, a, R_NAME),
                                   .text = pl_column_text(&q, a, R_TEXT),
                                   .added_at = pl_column_whole(&q, R_ADDED_AT) };
    }
    *out = list;
    *count = n;
    return pl_query_end(&q);
}
