/* Taking readings: compared with what the book holds, and written as a whole or
 * not at all. What a form or a trace means was settled before it comes here. */
#include "book/db.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const char doing[] = "taking readings";

typedef enum fate { ADD, SAME, REPLACE } fate;

typedef struct incoming {
    const pl_reading *reading;
    size_t source; /* place in the caller's list */
    size_t order;  /* as they came */
    int64_t old;   /* key of the reading in force; 0: none */
    fate fate;
} incoming;

typedef struct take {
    pl_book *b;
    pl_arena *a;
    pl_diags *d;
    const pl_source *sources;
    size_t nsource;
    bool replace, look;
    int64_t study, revision;
    int64_t *keys; /* of the sources that were taken before, else 0 */
    bool *skip;    /* sources that change nothing */
    incoming *items;
    size_t count;
    pl_taken done;
} take;

/* ------------------------------------------------------------------- compare ---- */

/* The same quantity written in two ways ("2.40", "2.4"; 2.4 kN, 2400 N) is no
 * conflict: values within a few units of the last of 17 digits. */
#define SAME_VALUE 4e-15

static bool same_value(const pl_reading *r, const char *text, double value, const char *unit)
{
    if (!strcmp(r->text, text) && !strcmp(r->unit, unit))
        return true;
    if (strstr(r->text, "..") || strstr(text, "..") || isnan(r->value) || isnan(value))
        return false;
    return fabs(r->value - value) <= SAME_VALUE * fabs(value);
}

static const char *shown(pl_arena *a, const char *text, const char *unit)
{
    return pl_arena_printf(a, unit[0] ? "%.60s %.20s" : "\"%.60s\"", text, unit);
}

static const char *subject_words(pl_arena *a, const pl_reading *r)
{
    return pl_arena_printf(a, "%s of %s %s", r->quantity, pl_subject_name(r->subject), r->id);
}

static int by_key(const void *left, const void *right)
{
    const incoming *x = left, *y = right;
    int c = (int)x->reading->subject - (int)y->reading->subject;

    if (!c)
        c = strcmp(x->reading->id, y->reading->id);
    if (!c)
        c = strcmp(x->reading->quantity, y->reading->quantity);
    return c ? c : (x->order > y->order) - (x->order < y->order);
}

static bool same_key(const incoming *x, const incoming *y)
{
    return x->reading->subject == y->reading->subject && !strcmp(x->reading->id, y->reading->id) &&
           !strcmp(x->reading->quantity, y->reading->quantity);
}

static void contradiction(take *t, const pl_reading *first, const pl_reading *second)
{
    pl_arena *a = t->a;

    pl_fail(t->d, PL_ECONFLICT, second->where,
            .found = pl_arena_printf(a, "%s is %s", subject_words(a, second),
                                     shown(a, second->text, second->unit)),
            .expected = pl_arena_printf(a, "%s, as in %s", shown(a, first->text, first->unit),
                                        first->where),
            .mend = "the files of this run contradict each other: correct one, then take again");
}

/* Within one take: the first stands for all that say the same. */
static pl_code compare_among_themselves(take *t)
{
    size_t kept = 0;
    size_t from = t->d->count;

    if (t->count)
        qsort(t->items, t->count, sizeof *t->items, by_key);
    for (size_t i = 0; i < t->count; i++) {
        incoming *last = kept ? &t->items[kept - 1] : NULL;
        const pl_reading *r = t->items[i].reading;

        if (!last || !same_key(last, &t->items[i])) {
            t->items[kept++] = t->items[i];
            continue;
        }
        t->done.same++;
        if (!same_value(r, last->reading->text, last->reading->value, last->reading->unit))
            contradiction(t, last->reading, r);
    }
    t->count = kept;
    return pl_diags_code(t->d, from);
}

static void conflict(take *t, pl_query *q, const pl_reading *r)
{
    pl_arena *a = t->a;
    const char *text = pl_column_text(q, a, 1), *unit = pl_column_text(q, a, 3);
    const char *file = pl_column_text(q, a, 4), *date = pl_db_date(a, pl_column_whole(q, 5));

    if (!text || !unit || !file)
        return;
    pl_fail(
        t->d, PL_ECONFLICT, r->where,
        .found = pl_arena_printf(a, "%s is %s", subject_words(a, r), shown(a, r->text, r->unit)),
        .expected = pl_arena_printf(a, "%s, taken from %s on %s", shown(a, text, unit), file,
                                    date ? date : ""),
        .mend = "correct the form; or --replace if the recorded value is wrong (it is kept, "
                "marked as replaced)");
}

static void compare_one(take *t, pl_query *q, incoming *in)
{
    const pl_reading *r = in->reading;

    pl_query_again(q);
    pl_query_whole(q, t->study);
    pl_query_text(q, pl_subject_name(r->subject));
    pl_query_text(q, r->id);
    pl_query_text(q, r->quantity);
    while (pl_query_row(q)) {
        const char *text = (const char *)sqlite3_column_text(q->statement, 1);
        const char *unit = (const char *)sqlite3_column_text(q->statement, 3);

        in->old = pl_column_whole(q, 0);
        in->fate = REPLACE;
        if (text && unit && same_value(r, text, pl_column_number(q, 2), unit))
            in->fate = SAME;
        else if (!t->replace)
            conflict(t, q, r);
    }
}

static pl_code compare_with_book(take *t)
{
    size_t from = t->d->count;
    pl_query q = pl_query_start(
        t->b,
        "SELECT r.reading, r.text, r.value, r.unit, s.name, s.taken_at"
        " FROM reading r JOIN source s USING (source)"
        " WHERE r.study = ?1 AND r.subject = ?2 AND r.id = ?3 AND r.quantity = ?4"
        " AND r.replaced_by IS NULL",
        doing, t->d);

    for (size_t i = 0; i < t->count && q.code == PL_OK; i++)
        compare_one(t, &q, &t->items[i]);
    if (pl_query_end(&q))
        return q.code;
    for (size_t i = 0; i < t->count; i++) {
        t->done.added += t->items[i].fate == ADD;
        t->done.same += t->items[i].fate == SAME;
        t->done.replaced += t->items[i].fate == REPLACE;
    }
    return pl_diags_code(t->d, from);
}

/* ------------------------------------------------------------------- sources ---- */

static void taken_before(take *t, const pl_source *s, const char *name, int64_t at)
{
    const char *date = pl_db_date(t->a, at);

    pl_remark(
        t->d, s->name,
        .found = pl_arena_printf(t->a, "a file taken before, as %s on %s", name, date ? date : ""),
        .mend = t->replace ? "" : "nothing is changed");
}

static pl_code look_up_source(take *t, pl_query *q, size_t i)
{
    const pl_source *s = &t->sources[i];

    for (size_t j = 0; j < i; j++)
        if (!strcmp(t->sources[j].digest, s->digest)) {
            t->skip[i] = true;
            t->done.known_files++;
            pl_remark(t->d, s->name,
                      .found = pl_arena_printf(t->a, "the same file as %s", t->sources[j].name),
                      .expected = "it counts once");
            return PL_OK;
        }
    pl_query_again(q);
    pl_query_whole(q, t->study);
    pl_query_text(q, s->digest);
    while (pl_query_row(q)) {
        const char *name = pl_column_text(q, t->a, 1);

        t->keys[i] = pl_column_whole(q, 0);
        t->skip[i] = !t->replace;
        t->done.known_files++;
        if (name)
            taken_before(t, s, name, pl_column_whole(q, 2));
    }
    t->done.files += !t->keys[i];
    return q->code;
}

static pl_code look_up_sources(take *t)
{
    pl_query q = pl_query_start(
        t->b, "SELECT source, name, taken_at FROM source WHERE study = ?1 AND digest = ?2", doing,
        t->d);

    t->keys = PL_NEWN(t->a, t->nsource, int64_t);
    t->skip = PL_NEWN(t->a, t->nsource, bool);
    if (!t->keys || !t->skip)
        q.code = pl_nomem(t->d);
    for (size_t i = 0; i < t->nsource && q.code == PL_OK; i++)
        look_up_source(t, &q, i);
    return pl_query_end(&q);
}

static pl_code collect(take *t)
{
    size_t n = 0;

    for (size_t i = 0; i < t->nsource; i++)
        n += t->skip[i] ? 0 : t->sources[i].readings->count;
    t->items = PL_NEWN(t->a, n, incoming);
    if (!t->items)
        return pl_nomem(t->d);
    for (size_t i = 0; i < t->nsource; i++)
        for (size_t j = 0; !t->skip[i] && j < t->sources[i].readings->count; j++) {
            t->items[t->count] = (incoming){ .reading = &t->sources[i].readings->items[j],
                                             .source = i,
                                             .order = t->count };
            t->count++;
        }
    return PL_OK;
}

/* ------------------------------------------------------------------- writing ---- */

static pl_code write_sources(take *t, int64_t now)
{
    pl_query q = pl_query_start(t->b,
                                "INSERT INTO source (study, revision, digest, name, kind, rig,"
                                " rig_text, plugin, program, taken_at)"
                                " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
                                doing, t->d);

    for (size_t i = 0; i < t->nsource && q.code == PL_OK; i++) {
        const pl_source *s = &t->sources[i];

        if (t->skip[i] || t->keys[i])
            continue;
        pl_query_again(&q);
        pl_query_whole(&q, t->study);
        pl_query_whole(&q, t->revision);
        pl_query_text(&q, s->digest);
        pl_query_text(&q, s->name);
        pl_query_text(&q, s->kind);
        pl_query_text(&q, s->rig);
        pl_query_text(&q, s->rig_text);
        pl_query_text(&q, s->plugin);
        pl_query_text(&q, PL_VERSION);
        pl_query_whole(&q, now);
        pl_query_row(&q);
        t->keys[i] = sqlite3_last_insert_rowid(t->b->db);
    }
    return pl_query_end(&q);
}

static pl_code write_replaced(take *t, int64_t now)
{
    pl_query q = pl_query_start(
        t->b, "UPDATE reading SET replaced_by = ?1, replaced_at = ?2 WHERE reading = ?3", doing,
        t->d);

    for (size_t i = 0; i < t->count && q.code == PL_OK; i++) {
        if (t->items[i].fate != REPLACE)
            continue;
        pl_query_again(&q);
        pl_query_whole(&q, t->keys[t->items[i].source]);
        pl_query_whole(&q, now);
        pl_query_whole(&q, t->items[i].old);
        pl_query_row(&q);
    }
    return pl_query_end(&q);
}

static int by_order(const void *left, const void *right)
{
    const incoming *x = left, *y = right;

    return (x->order > y->order) - (x->order < y->order);
}

static pl_code write_readings(take *t)
{
    pl_query q = pl_query_start(t->b,
                                "INSERT INTO reading (study, source, subject, id, quantity, text,"
                                " value, unit, place) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
                                doing, t->d);

    if (t->count)
        qsort(t->items, t->count, sizeof *t->items, by_order);
    for (size_t i = 0; i < t->count && q.code == PL_OK; i++) {
        const pl_reading *r = t->items[i].reading;

        if (t->items[i].fate == SAME)
            continue;
        pl_query_again(&q);
        pl_query_whole(&q, t->study);
        pl_query_whole(&q, t->keys[t->items[i].source]);
        pl_query_text(&q, pl_subject_name(r->subject));
        pl_query_text(&q, r->id);
        pl_query_text(&q, r->quantity);
        pl_query_text(&q, r->text);
        pl_query_number(&q, r->value);
        pl_query_text(&q, r->unit);
        pl_query_text(&q, r->where);
        pl_query_row(&q);
    }
    return pl_query_end(&q);
}

static pl_code write_all(take *t)
{
    int64_t now = pl_db_now();
    pl_code code = write_sources(t, now);

    if (!code)
        code = write_replaced(t, now);
    return code ? code : write_readings(t);
}

static pl_code compare(take *t, const char *study)
{
    unsigned number;
    pl_code code = pl_db_study(t->b, study, &t->study, t->d);
    pl_code second;

    if (!code)
        code = pl_db_latest(t->b, t->study, &t->revision, &number, t->d);
    if (!code)
        code = look_up_sources(t);
    if (!code)
        code = collect(t);
    if (code)
        return code;
    /* Both comparisons run, so that all conflicts are found in one run. */
    code = compare_among_themselves(t);
    second = code == PL_OK || code == PL_ECONFLICT ? compare_with_book(t) : PL_OK;
    return code ? code : second;
}

pl_code pl_book_take(pl_book *b, const char *study, const pl_source *sources, size_t count,
                     bool replace, bool look, pl_taken *out, pl_diags *d)
{
    take t = { .b = b,
               .a = b->arena,
               .d = d,
               .sources = sources,
               .nsource = count,
               .replace = replace,
               .look = look };
    pl_code code = pl_db_begin(b, !look, doing, d);

    if (code)
        return code;
    code = compare(&t, study);
    if (!code && !look)
        code = write_all(&t);
    code = pl_db_end(b, code, doing, d);
    *out = t.done;
    return code;
}

/* ------------------------------------------------------------------- reading ---- */

static bool subject_of(const char *name, pl_subject *out)
{
    for (int s = 0; s < PL_NSUBJECTS; s++)
        if (!strcmp(name, pl_subject_name((pl_subject)s))) {
            *out = (pl_subject)s;
            return true;
        }
    return false;
}

pl_code pl_book_readings(pl_arena *a, pl_book *b, const char *study, pl_readings *out, pl_diags *d)
{
    int64_t key;
    pl_code code = pl_db_study(b, study, &key, d);
    pl_query q;

    *out = (pl_readings){ 0 };
    if (code)
        return code;
    q = pl_query_start(b,
                       "SELECT subject, id, quantity, text, value, unit, place FROM reading"
                       " WHERE study = ?1 AND replaced_by IS NULL ORDER BY reading",
                       "reading readings", d);
    pl_query_whole(&q, key);
    while (pl_query_row(&q)) {
        pl_reading r = { .id = pl_column_text(&q, a, 1),
                         .quantity = pl_column_text(&q, a, 2),
                         .text = pl_column_text(&q, a, 3),
                         .value = pl_column_number(&q, 4),
                         .unit = pl_column_text(&q, a, 5),
                         .where = pl_column_text(&q, a, 6) };
        const char *subject = (const char *)sqlite3_column_text(q.statement, 0);

        if (!subject || !subject_of(subject, &r.subject))
            q.code = q.code ? q.code : pl_db_fail(b, SQLITE_CORRUPT, "reading readings", d);
        if (q.code == PL_OK)
            q.code = pl_readings_add(a, out, r, d);
    }
    return pl_query_end(&q);
}

static pl_code insert_fit(pl_book *b, const char *study, unsigned revision, const char *answer,
                          pl_diags *d)
{
    pl_query q = pl_query_start(b,
                                "INSERT INTO fit (study, revision, program, made_at, answer)"
                                " SELECT study, revision, ?1, ?2, ?3 FROM study"
                                " JOIN revision USING (study) WHERE name = ?4 AND number = ?5",
                                "keeping a fit", d);

    pl_query_text(&q, PL_VERSION);
    pl_query_whole(&q, pl_db_now());
    pl_query_text(&q, answer);
    pl_query_text(&q, study);
    pl_query_whole(&q, revision);
    pl_query_row(&q);
    if (q.code == PL_OK && sqlite3_changes(b->db) == 0)
        q.code = pl_fail(
            d, PL_EUSAGE, b->path,
            .found = pl_arena_printf(b->arena, "revision %u of \"%s\"", revision, study),
            .expected = "a revision of this book");
    return pl_query_end(&q);
}

pl_code pl_book_fit_add(pl_book *b, const char *study, unsigned revision, const char *answer,
                        pl_diags *d)
{
    pl_code code = pl_db_begin(b, true, "keeping a fit", d);

    return code ? code
                : pl_db_end(b, insert_fit(b, study, revision, answer, d), "keeping a fit", d);
}
