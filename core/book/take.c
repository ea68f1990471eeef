/* Taking readings: compared with what the book holds, and written as a whole or
 * not at all. What a form or a trace means was settled before it comes here. */
#include "base/text.h"
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

/* A value that stands in the book, or in another file of the take, already. It is kept
 * too, ended as it is written: when the other file is taken back, this one counts. */
typedef struct said_again {
    const pl_reading *reading;
    size_t source;
    size_t first; /* place of the other file; nsource: one of before, whose key is */
    int64_t key;
} said_again;

typedef struct take {
    pl_book *b;
    pl_event ev;
    pl_arena *a;
    pl_diags *d;
    const pl_source *sources;
    size_t nsource;
    bool replace, look;
    int64_t study, revision;
    int64_t *keys; /* of the sources that were taken before, else 0 */
    bool *skip;    /* sources that change nothing */
    bool *fresh;   /* sources that are written now */
    said_again *said;
    size_t nsaid;
    incoming *items;
    size_t count;
    pl_change *changes;
    size_t room;
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
        t->said[t->nsaid++] = (said_again){ r, t->items[i].source, last->source, 0 };
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

/* What --replace will put in the place of what. */
static void change(take *t, pl_query *q, const pl_reading *r)
{
    if (t->done.nchange == t->room) {
        t->room = t->room ? 2 * t->room : 16;
        t->changes = pl_arena_grow(t->a, t->changes, t->done.nchange, t->room, sizeof *t->changes);
        if (!t->changes) {
            q->code = pl_nomem(t->d);
            return;
        }
    }
    t->changes[t->done.nchange++] = (pl_change){ .reading = r,
                                                 .text = pl_column_text(q, t->a, 1),
                                                 .unit = pl_column_text(q, t->a, 3),
                                                 .file = pl_column_text(q, t->a, 4) };
    t->done.changes = t->changes;
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
        if (text && unit && same_value(r, text, pl_column_number(q, 2), unit)) {
            in->fate = SAME;
            t->said[t->nsaid++] = (said_again){ r, in->source, t->nsource, pl_column_whole(q, 6) };
        } else if (t->replace)
            change(t, q, r);
        else
            conflict(t, q, r);
    }
}

static pl_code compare_with_book(take *t)
{
    size_t from = t->d->count;
    pl_query q = pl_query_start(
        t->b,
        "SELECT r.reading, r.text, r.value, r.unit, s.name, s.taken_at, r.source"
        " FROM reading r JOIN source s USING (source)"
        " WHERE r.study = ?1 AND r.subject = ?2 AND r.id = ?3 AND r.quantity = ?4"
        " AND r.ended IS NULL",
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

/* ",K7M3,P4QX,": the specimens whose readings came from a source; "" none. NULL: no memory. */
static const char *specimens_of(take *t, int64_t source)
{
    pl_query q = pl_query_start(t->b,
                                "SELECT id FROM reading WHERE source = ?1 AND subject = 'specimen'"
                                " GROUP BY id ORDER BY min(reading)",
                                doing, t->d);
    pl_text ids;

    pl_text_init(&ids, t->a);
    pl_query_again(&q);
    pl_query_whole(&q, source);
    while (pl_query_row(&q))
        pl_text_add(&ids, "%s%s,", ids.length ? "" : ",", pl_column_text(&q, t->a, 0));
    return pl_query_end(&q) ? NULL : ids.length ? pl_text_done(&ids) : "";
}

/* What was taken for one specimen cannot be another's: a record is of one joint. */
static pl_code taken_for_other(take *t, const pl_source *s, int64_t source)
{
    const char *ids = specimens_of(t, source);

    if (!ids)
        return pl_diags_code(t->d, 0);
    for (size_t k = 0; k < s->readings->count && ids[0]; k++) {
        const pl_reading *r = &s->readings->items[k];
        const char *id = pl_arena_printf(t->a, ",%s,", r->id);

        if (!id)
            return pl_nomem(t->d);
        if (r->subject != PL_ON_SPECIMEN || strstr(ids, id))
            continue;
        return pl_fail(t->d, PL_ECONFLICT, s->name,
                       .found = pl_arena_printf(t->a, "a file taken before for %.*s, now for %s",
                                                (int)strlen(ids) - 2, ids + 1, r->id),
                       .expected = "one and the same joint",
                       .mend = "if the joint was wrong then, take the file back first: platen "
                               "take STUDY --withdraw FILE --reason TEXT");
    }
    return PL_OK;
}

static const char *first_specimen(const pl_source *s)
{
    for (size_t k = 0; k < s->readings->count; k++)
        if (s->readings->items[k].subject == PL_ON_SPECIMEN)
            return s->readings->items[k].id;
    return "";
}

/* The same bytes under two names. */
static pl_code of_one_joint(take *t, const pl_source *x, const pl_source *y)
{
    const char *one = first_specimen(x), *other = first_specimen(y);

    if (!strcmp(one, other))
        return PL_OK;
    return pl_fail(t->d, PL_ECONFLICT, y->name,
                   .found = pl_arena_printf(t->a, "the same record for %s and for %s", one, other),
                   .expected = "a record of its own for every joint");
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
            return of_one_joint(t, &t->sources[j], s);
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
    if (t->keys[i])
        (void)taken_for_other(t, s, t->keys[i]);
    t->done.files += !t->keys[i];
    return q->code;
}

static pl_code look_up_sources(take *t)
{
    size_t from = t->d->count;
    pl_query q = pl_query_start(t->b,
                                "SELECT source, name, taken_at FROM source"
                                " WHERE study = ?1 AND digest = ?2 AND ended IS NULL",
                                doing, t->d);

    t->keys = PL_NEWN(t->a, t->nsource, int64_t);
    t->skip = PL_NEWN(t->a, t->nsource, bool);
    t->fresh = PL_NEWN(t->a, t->nsource, bool);
    if (!t->keys || !t->skip || !t->fresh)
        q.code = pl_nomem(t->d);
    for (size_t i = 0; i < t->nsource && q.code == PL_OK; i++)
        look_up_source(t, &q, i);
    return pl_query_end(&q) ? q.code : pl_diags_code(t->d, from);
}

static pl_code collect(take *t)
{
    size_t n = 0;

    for (size_t i = 0; i < t->nsource; i++)
        n += t->skip[i] ? 0 : t->sources[i].readings->count;
    t->items = PL_NEWN(t->a, n, incoming);
    t->said = PL_NEWN(t->a, n, said_again);
    if (!t->items || !t->said)
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

static pl_code write_sources(take *t)
{
    pl_row r = pl_row_start(&t->ev, "source");

    for (size_t i = 0; i < t->nsource && r.q.code == PL_OK; i++) {
        const pl_source *s = &t->sources[i];

        if (t->skip[i] || t->keys[i])
            continue;
        pl_row_begin(&r);
        pl_query_whole(&r.q, t->study);
        pl_query_whole(&r.q, t->revision);
        pl_query_text(&r.q, s->digest);
        pl_query_text(&r.q, s->name);
        pl_query_text(&r.q, s->kind);
        pl_query_text(&r.q, s->rig);
        pl_query_text(&r.q, s->rig_text);
        pl_query_text(&r.q, s->plugin);
        pl_query_text(&r.q, PL_VERSION);
        pl_query_whole(&r.q, t->ev.now);
        pl_row_put(&r);
        t->keys[i] = r.key;
        t->fresh[i] = true;
    }
    return pl_row_end(&r);
}

static pl_code write_kept(take *t)
{
    pl_code code = PL_OK;

    for (size_t i = 0; i < t->nsource && !code; i++) {
        const pl_source *s = &t->sources[i];
        bool added = false;

        if (!s->bytes)
            continue;
        code = pl_db_keep(&t->ev, s->digest, s->bytes, s->length, &added);
        t->done.kept += added;
    }
    return code;
}

static pl_code write_replaced(take *t)
{
    pl_code code = PL_OK;

    for (size_t i = 0; i < t->count && !code; i++) {
        const pl_cell cells[] = { { PL_CELL_WHOLE, t->keys[t->items[i].source], NULL },
                                  { PL_CELL_WHOLE, t->ev.now, NULL } };

        if (t->items[i].fate == REPLACE)
            code = pl_row_finish(&t->ev, "reading", t->items[i].old, cells);
    }
    return code;
}

static int by_order(const void *left, const void *right)
{
    const incoming *x = left, *y = right;

    return (x->order > y->order) - (x->order < y->order);
}

bool pl_db_put_reading(pl_row *row, int64_t study, int64_t source, const pl_reading *r,
                       const pl_cell *ended)
{
    pl_query_whole(&row->q, study);
    pl_query_whole(&row->q, source);
    pl_query_text(&row->q, pl_subject_name(r->subject));
    pl_query_text(&row->q, r->id);
    pl_query_text(&row->q, r->quantity);
    pl_query_text(&row->q, r->text);
    pl_query_number(&row->q, r->value);
    pl_query_text(&row->q, r->unit);
    pl_query_text(&row->q, r->where);
    return ended ? pl_row_put_ended(row, ended) : pl_row_put(row);
}

static pl_code write_readings(take *t)
{
    pl_row row = pl_row_start(&t->ev, "reading");

    if (t->count)
        qsort(t->items, t->count, sizeof *t->items, by_order);
    for (size_t i = 0; i < t->count && row.q.code == PL_OK; i++) {
        if (t->items[i].fate == SAME)
            continue;
        pl_row_begin(&row);
        pl_db_put_reading(&row, t->study, t->keys[t->items[i].source], t->items[i].reading, NULL);
    }
    return pl_row_end(&row);
}

static pl_code write_said_again(take *t)
{
    pl_row row = pl_row_start(&t->ev, "reading");

    for (size_t i = 0; i < t->nsaid && row.q.code == PL_OK; i++) {
        const said_again *x = &t->said[i];
        pl_cell cells[] = { { PL_CELL_WHOLE, x->key, NULL }, { PL_CELL_WHOLE, t->ev.now, NULL } };

        if (!t->fresh[x->source]) /* it said so when it was taken */
            continue;
        if (x->first < t->nsource)
            cells[0].whole = t->keys[x->first];
        pl_row_begin(&row);
        pl_db_put_reading(&row, t->study, t->keys[x->source], x->reading, cells);
    }
    return pl_row_end(&row);
}

static pl_code write_all(take *t)
{
    pl_code code = write_sources(t);

    if (!code)
        code = write_kept(t);
    if (!code)
        code = write_replaced(t);
    if (!code)
        code = write_readings(t);
    return code ? code : write_said_again(t);
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

/* "day1.csv, day2.csv and 3 more" */
static const char *files_of(take *t)
{
    const char *text = "no file";
    size_t n = 0;

    for (size_t i = 0; i < t->nsource; i++) {
        if (t->skip[i])
            continue;
        if (n < 2)
            text = n ? pl_arena_printf(t->a, "%s, %.80s", text, t->sources[i].name)
                     : pl_arena_printf(t->a, "%.80s", t->sources[i].name);
        n++;
    }
    return n > 2 ? pl_arena_printf(t->a, "%s and %zu more", text, n - 2) : text;
}

/* What was doubtful and taken all the same: the first words of it. */
static const char *doubts_of(take *t)
{
    const char *text = "";

    for (size_t i = 0; i < t->nsource; i++)
        if (!t->skip[i] && t->sources[i].doubts)
            text = pl_arena_printf(t->a, "%s; as written: %.600s", text, t->sources[i].doubts);
    return text;
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
    const char *words;
    pl_code code = look ? pl_db_begin(b, false, doing, d) : pl_event_begin(b, doing, &t.ev, d);

    if (code)
        return code;
    code = compare(&t, study);
    if (look) {
        code = pl_db_end(b, code, doing, d);
    } else {
        if (!code)
            code = write_all(&t);
        words = code ? NULL
                     : pl_arena_printf(t.a, "%s; %zu new, %zu corrected%s", files_of(&t),
                                       t.done.added, t.done.replaced, doubts_of(&t));
        code = pl_event_end(&t.ev, code, "take", study, words);
    }
    *out = t.done;
    return code;
}

/* ------------------------------------------------------------- whose it is ---- */

static pl_code one_name(pl_arena *a, pl_query *q, const char **out)
{
    *out = NULL;
    while (pl_query_row(q))
        *out = pl_column_text(q, a, 0);
    return pl_query_end(q);
}

pl_code pl_book_taken_for(pl_arena *a, pl_book *b, const char *digest, const char *but_study,
                          const char **out, pl_diags *d)
{
    pl_query q = pl_query_start(b,
                                "SELECT name FROM study WHERE name <> ?2 AND study IN (SELECT study"
                                " FROM source WHERE digest = ?1 AND ended IS NULL) LIMIT 1",
                                doing, d);

    pl_query_text(&q, digest);
    pl_query_text(&q, but_study);
    return one_name(a, &q, out);
}

pl_code pl_book_issuer(pl_arena *a, pl_book *b, const char *id, const char **out, pl_diags *d)
{
    pl_query q = pl_query_start(b,
                                "SELECT study.name FROM specimen JOIN revision USING (revision)"
                                " JOIN study USING (study) WHERE specimen.id = ?1",
                                doing, d);

    pl_query_text(&q, id);
    return one_name(a, &q, out);
}
