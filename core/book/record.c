/* What a study's figures are made from: readings and marks, held to their seals
 * and to the sums in the trail, so that none is changed, added or lost unseen. */
#include <stdlib.h>
#include <string.h>

#include "book/db.h"

static const char doing[] = "reading readings";

static const char *const mark_names[] = { "lost",    "excluded", "restored", "swapped-with",
                                          "made-as", "applied",  "note",     "photo" };

const char *pl_mark_name(pl_mark_kind k)
{
    return mark_names[k];
}

/* ------------------------------------------------------------------ the sums ---- */

/* What the trail says that an entry wrote, less what was found of it. */
typedef struct balance {
    int64_t entry;
    pl_sum wanted, found;
} balance;

typedef struct record {
    pl_arena *a;
    pl_book *b;
    pl_diags *d;
    const char *study;
    int64_t key;
    balance *entries;
    size_t nentry, room;
} record;

static pl_code load_entries(record *r)
{
    const pl_table_of *t = pl_table_named("trail");
    pl_query q = pl_rows_start(r->b, t, "WHERE x.study = ?1 ORDER BY x.entry", doing, r->d);

    pl_query_text(&q, r->study);
    while (pl_query_row(&q)) {
        const char *figures = (const char *)sqlite3_column_text(q.statement, 8);

        if (pl_row_check(&q, t))
            break;
        if (r->nentry == r->room) {
            r->room = r->room ? 2 * r->room : 64;
            r->entries = pl_arena_grow(r->a, r->entries, r->nentry, r->room, sizeof *r->entries);
            if (!r->entries) {
                q.code = pl_nomem(r->d);
                break;
            }
        }
        r->entries[r->nentry] = (balance){ .entry = pl_column_whole(&q, 0) };
        if (!figures || !pl_sum_add(&r->entries[r->nentry++].wanted, figures))
            q.code = pl_db_fail(r->b, SQLITE_CORRUPT, doing, r->d);
    }
    return pl_query_end(&q);
}

static int by_entry(const void *key, const void *item)
{
    int64_t x = *(const int64_t *)key, y = ((const balance *)item)->entry;

    return (x > y) - (x < y);
}

static void count_for(record *r, pl_query *q, const pl_table_of *t, int64_t entry, const char *seal)
{
    balance *e = r->nentry ? bsearch(&entry, r->entries, r->nentry, sizeof *e, by_entry) : NULL;

    if (e && pl_sum_add(&e->found, seal))
        return;
    q->code = pl_fail(r->d, PL_EBOOK, r->b->path,
                      .found = pl_arena_printf(r->a, "%s, which no entry of the trail wrote",
                                               pl_row_name(q, t, r->a)),
                      .expected = "rows that the trail tells of", .mend = PL_BOOK_RESTORE);
}

/* Seal and sums of the row at hand. */
static bool count_row(record *r, pl_query *q, const pl_table_of *t)
{
    int at_entry = t->nsealed - t->nending;
    char as_new[PL_DIGEST_HEX];
    const char *seal = (const char *)sqlite3_column_text(q->statement, t->nsealed + 1);
    bool ended = t->nending && sqlite3_column_type(q->statement, t->nsealed) != SQLITE_NULL;

    if (pl_row_check(q, t))
        return false;
    if (ended && !pl_row_seal(q, t, true, as_new)) {
        q->code = pl_nomem(r->d);
        return false;
    }
    count_for(r, q, t, pl_column_whole(q, at_entry), ended ? as_new : seal);
    if (ended && !q->code)
        count_for(r, q, t, pl_column_whole(q, t->nsealed), seal);
    return !q->code;
}

static pl_code balance_entries(record *r)
{
    size_t from = r->d->count;

    for (size_t i = 0; i < r->nentry; i++)
        if (memcmp(&r->entries[i].wanted, &r->entries[i].found, sizeof(pl_sum)))
            pl_fail(
                r->d, PL_EBOOK, r->b->path,
                .found = pl_arena_printf(r->a,
                                         "readings or marks of \"%s\" are missing: not all that "
                                         "entry %lld of the trail wrote is there",
                                         r->study, (long long)r->entries[i].entry),
                .expected = "all that the trail tells of", .mend = PL_BOOK_RESTORE);
    return pl_diags_code(r->d, from);
}

/* ------------------------------------------------------------------- reading ---- */

enum { R_SUBJECT = 3, R_ID, R_QUANTITY, R_TEXT, R_VALUE, R_UNIT, R_PLACE, R_ENTRY, R_ENDED = 13 };
enum { M_SPECIMEN = 2, M_KIND, M_KEY, M_VALUE, M_REASON, M_HAPPENED, M_MADE, M_ENTRY };

static bool subject_of(const char *name, pl_subject *out)
{
    for (int s = 0; name && s < PL_NSUBJECTS; s++)
        if (!strcmp(name, pl_subject_name((pl_subject)s))) {
            *out = (pl_subject)s;
            return true;
        }
    return false;
}

static bool seen(const record *r, pl_query *q, int entry, int ended)
{
    int64_t since = pl_column_whole(q, entry);

    if (since > r->b->as_of)
        return false;
    return ended < 0 || sqlite3_column_type(q->statement, ended) == SQLITE_NULL ||
           pl_column_whole(q, ended) > r->b->as_of;
}

static pl_code read_readings(record *r, pl_readings *out)
{
    const pl_table_of *t = pl_table_named("reading");
    pl_query q = pl_rows_start(r->b, t, "WHERE +x.study = ?1 ORDER BY x.reading", doing, r->d);

    pl_query_whole(&q, r->key);
    while (pl_query_row(&q) && count_row(r, &q, t)) {
        pl_reading one;

        if (!out || !seen(r, &q, R_ENTRY, R_ENDED))
            continue;
        one = (pl_reading){ .id = pl_column_text(&q, r->a, R_ID),
                            .quantity = pl_column_text(&q, r->a, R_QUANTITY),
                            .text = pl_column_text(&q, r->a, R_TEXT),
                            .value = pl_column_number(&q, R_VALUE),
                            .unit = pl_column_text(&q, r->a, R_UNIT),
                            .where = pl_column_text(&q, r->a, R_PLACE) };
        if (!subject_of((const char *)sqlite3_column_text(q.statement, R_SUBJECT), &one.subject))
            q.code = q.code ? q.code : pl_db_fail(r->b, SQLITE_CORRUPT, doing, r->d);
        if (q.code == PL_OK)
            q.code = pl_readings_add(r->a, out, one, r->d);
    }
    return pl_query_end(&q);
}

static bool kind_of(const char *name, pl_mark_kind *out)
{
    for (int k = 0; name && k < PL_NMARKS; k++)
        if (!strcmp(name, mark_names[k])) {
            *out = (pl_mark_kind)k;
            return true;
        }
    return false;
}

typedef struct marks {
    pl_marking *items;
    size_t count, room;
} marks;

static pl_code read_marks(record *r, marks *out)
{
    const pl_table_of *t = pl_table_named("mark");
    pl_query q = pl_rows_start(r->b, t, "WHERE +x.study = ?1 ORDER BY x.mark", doing, r->d);

    pl_query_whole(&q, r->key);
    while (pl_query_row(&q) && count_row(r, &q, t)) {
        pl_marking one;

        if (!out || !seen(r, &q, M_ENTRY, -1))
            continue;
        one = (pl_marking){ .specimen = pl_column_text(&q, r->a, M_SPECIMEN),
                            .key = pl_column_text(&q, r->a, M_KEY),
                            .value = pl_column_text(&q, r->a, M_VALUE),
                            .reason = pl_column_text(&q, r->a, M_REASON),
                            .happened_at = pl_column_whole(&q, M_HAPPENED),
                            .made_at = pl_column_whole(&q, M_MADE) };
        if (!kind_of((const char *)sqlite3_column_text(q.statement, M_KIND), &one.kind))
            q.code = q.code ? q.code : pl_db_fail(r->b, SQLITE_CORRUPT, doing, r->d);
        if (out->count == out->room) {
            out->room = out->room ? 2 * out->room : 16;
            out->items = pl_arena_grow(r->a, out->items, out->count, out->room, sizeof one);
        }
        if (!out->items)
            q.code = pl_nomem(r->d);
        else
            out->items[out->count++] = one;
    }
    return pl_query_end(&q);
}

/* All of it in one look at the book; what is not asked for is checked all the same. */
static pl_code read_all(record *r, pl_readings *readings, marks *m)
{
    pl_code code = pl_db_begin(r->b, false, doing, r->d);

    if (code)
        return code;
    code = pl_db_study(r->b, r->study, &r->key, r->d);
    if (!code)
        code = load_entries(r);
    if (!code)
        code = read_readings(r, readings);
    if (!code)
        code = read_marks(r, m);
    if (!code)
        code = balance_entries(r);
    return pl_db_end(r->b, code, doing, r->d);
}

pl_code pl_book_readings(pl_arena *a, pl_book *b, const char *study, pl_readings *out, pl_diags *d)
{
    record r = { .a = a, .b = b, .d = d, .study = study };

    *out = (pl_readings){ 0 };
    return read_all(&r, out, NULL);
}

pl_code pl_book_record(pl_arena *a, pl_book *b, const char *study, pl_readings *readings,
                       const pl_marking **list, size_t *nmark, pl_diags *d)
{
    record r = { .a = a, .b = b, .d = d, .study = study };
    marks m = { 0 };
    pl_code code;

    *readings = (pl_readings){ 0 };
    code = read_all(&r, readings, &m);
    *list = m.items;
    *nmark = code ? 0 : m.count;
    return code;
}

/* ------------------------------------------------------------------- marking ---- */

pl_code pl_db_put_marks(pl_event *ev, int64_t study, const pl_marking *list, size_t count)
{
    pl_row r = pl_row_start(ev, "mark");
    bool added;

    for (size_t i = 0; i < count && r.q.code == PL_OK; i++)
        if (list[i].bytes)
            r.q.code = pl_db_keep(ev, list[i].value, list[i].bytes, list[i].length, &added);
    for (size_t i = 0; i < count && r.q.code == PL_OK; i++) {
        pl_row_begin(&r);
        pl_query_whole(&r.q, study);
        pl_query_text(&r.q, list[i].specimen);
        pl_query_text(&r.q, mark_names[list[i].kind]);
        pl_query_text(&r.q, list[i].key);
        pl_query_text(&r.q, list[i].value);
        pl_query_text(&r.q, list[i].reason);
        pl_query_whole(&r.q, list[i].happened_at);
        pl_query_whole(&r.q, list[i].made_at ? list[i].made_at : ev->now);
        pl_row_put(&r);
    }
    return pl_row_end(&r);
}

pl_code pl_book_mark(pl_book *b, const char *study, const pl_marking *list, size_t count,
                     pl_diags *d)
{
    const char *words = count ? pl_arena_printf(b->arena, "%s %s%s", list[0].specimen,
                                                mark_names[list[0].kind],
                                                count > 1 ? ", and more" : "")
                              : "";
    int64_t key = 0;
    pl_event ev;
    pl_code code = pl_event_begin(b, "marking", &ev, d);

    if (code)
        return code;
    code = pl_db_study(b, study, &key, d);
    if (!code)
        code = pl_db_put_marks(&ev, key, list, count);
    return pl_event_end(&ev, code, "mark", study, words);
}
