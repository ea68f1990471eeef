/* One study out of a book and into another: the files that its readings came from, and a
 * study taken in with its plan, rigs, readings and marks. How it lies in a folder is the
 * business of cli. */
#include <string.h>

#include "book/db.h"

enum { S_REVISION = 2, S_DIGEST, S_NAME, S_KIND, S_RIG, S_RIG_TEXT, S_PLUGIN, S_PROGRAM, S_TAKEN };

/* ----------------------------------------------------------------- its files ---- */

typedef struct list {
    pl_arena *a;
    pl_book_file *files;
    int64_t *keys;
    size_t nfile, room;
    size_t *of_reading;
    size_t nreading, room_of;
} list;

static pl_code read_files(list *l, pl_book *b, int64_t study, pl_diags *d)
{
    const pl_table_of *t = pl_table_named("source");
    pl_query q = pl_rows_start(b, t,
                               "WHERE x.study = ?1 AND x.entry <= ?2 AND"
                               " (x.ended IS NULL OR x.ended > ?2) ORDER BY x.source",
                               "listing files", d);

    pl_query_whole(&q, study);
    pl_query_whole(&q, b->as_of);
    while (pl_query_row(&q) && !pl_row_check(&q, t)) {
        if (l->nfile == l->room) {
            l->room = l->room ? 2 * l->room : 16;
            l->files = pl_arena_grow(l->a, l->files, l->nfile, l->room, sizeof *l->files);
            l->keys = pl_arena_grow(l->a, l->keys, l->nfile, l->room, sizeof *l->keys);
            if (!l->files || !l->keys) {
                q.code = pl_nomem(d);
                break;
            }
        }
        l->keys[l->nfile] = pl_column_whole(&q, 0);
        l->files[l->nfile++] = (pl_book_file){ .name = pl_column_text(&q, l->a, S_NAME),
                                               .digest = pl_column_text(&q, l->a, S_DIGEST),
                                               .kind = pl_column_text(&q, l->a, S_KIND),
                                               .rig = pl_column_text(&q, l->a, S_RIG),
                                               .rig_text = pl_column_text(&q, l->a, S_RIG_TEXT),
                                               .plugin = pl_column_text(&q, l->a, S_PLUGIN),
                                               .program = pl_column_text(&q, l->a, S_PROGRAM),
                                               .taken_at = pl_column_whole(&q, S_TAKEN) };
    }
    return pl_query_end(&q);
}

/* Keys rise: the place of one by halving. */
static size_t place_of(const list *l, int64_t key)
{
    size_t low = 0, high = l->nfile;

    while (low < high) {
        size_t middle = (low + high) / 2;

        if (l->keys[middle] < key)
            low = middle + 1;
        else
            high = middle;
    }
    return low < l->nfile && l->keys[low] == key ? low : l->nfile;
}

static pl_code read_places(list *l, pl_book *b, int64_t study, pl_diags *d)
{
    pl_query q = pl_query_start(b,
                                "SELECT source FROM reading WHERE study = ?1 AND entry <= ?2 AND"
                                " (ended IS NULL OR ended > ?2) ORDER BY reading",
                                "listing files", d);

    pl_query_whole(&q, study);
    pl_query_whole(&q, b->as_of);
    while (pl_query_row(&q)) {
        if (l->nreading == l->room_of) {
            l->room_of = l->room_of ? 2 * l->room_of : 256;
            l->of_reading = pl_arena_grow(l->a, l->of_reading, l->nreading, l->room_of,
                                          sizeof *l->of_reading);
            if (!l->of_reading) {
                q.code = pl_nomem(d);
                break;
            }
        }
        l->of_reading[l->nreading] = place_of(l, pl_column_whole(&q, 0));
        if (l->of_reading[l->nreading++] == l->nfile)
            q.code = pl_db_fail(b, SQLITE_CORRUPT, "listing files", d);
    }
    return pl_query_end(&q);
}

pl_code pl_book_files(pl_arena *a, pl_book *b, const char *study, const pl_book_file **out,
                      size_t *count, const size_t **of_reading, size_t *nreading, pl_diags *d)
{
    list l = { .a = a };
    int64_t key = 0;
    pl_code code = pl_db_begin(b, false, "listing files", d);

    if (code)
        return code;
    code = pl_db_study(b, study, &key, d);
    if (!code)
        code = read_files(&l, b, key, d);
    if (!code)
        code = read_places(&l, b, key, d);
    *out = l.files;
    *count = l.nfile;
    *of_reading = l.of_reading;
    *nreading = l.nreading;
    return pl_db_end(b, code, "listing files", d);
}

/* ------------------------------------------------------------------ taking in ---- */

static pl_code put_rigs(pl_event *ev, const pl_adopted *w)
{
    pl_code code = PL_OK;
    bool added, replaced;

    for (size_t i = 0; i < w->nrig; i++) {
        pl_code one = pl_db_rig_add(ev, &w->rigs[i], false, &added, &replaced);

        code = code ? code : one;
    }
    return code;
}

static pl_code put_files(pl_event *ev, const pl_adopted *w, int64_t study, int64_t revision,
                         int64_t *keys)
{
    pl_row r = pl_row_start(ev, "source");
    bool added;

    for (size_t i = 0; i < w->nfile && r.q.code == PL_OK; i++) {
        const pl_book_file *f = &w->files[i];

        if (f->bytes)
            r.q.code = pl_db_keep(ev, f->digest, f->bytes, f->length, &added);
        pl_row_begin(&r);
        pl_query_whole(&r.q, study);
        pl_query_whole(&r.q, revision);
        pl_query_text(&r.q, f->digest);
        pl_query_text(&r.q, f->name);
        pl_query_text(&r.q, f->kind);
        pl_query_text(&r.q, f->rig);
        pl_query_text(&r.q, f->rig_text);
        pl_query_text(&r.q, f->plugin);
        pl_query_text(&r.q, f->program);
        pl_query_whole(&r.q, f->taken_at);
        pl_row_put(&r);
        keys[i] = r.key;
    }
    return pl_row_end(&r);
}

static pl_code put_readings(pl_event *ev, const pl_adopted *w, int64_t study, const int64_t *keys)
{
    pl_row r = pl_row_start(ev, "reading");

    for (size_t i = 0; i < w->readings->count && r.q.code == PL_OK; i++) {
        pl_row_begin(&r);
        pl_db_put_reading(&r, study, keys[w->of_reading[i]], &w->readings->items[i], NULL);
    }
    return pl_row_end(&r);
}

/* What it saw is in another book: it is never made again here. */
static pl_code put_answer(pl_event *ev, const pl_adopted *w, int64_t study, int64_t revision)
{
    pl_row r;

    if (!w->answer)
        return PL_OK;
    r = pl_row_start(ev, "fit");
    pl_row_begin(&r);
    pl_query_whole(&r.q, study);
    pl_query_whole(&r.q, revision);
    pl_query_text(&r.q, PL_VERSION);
    pl_query_whole(&r.q, ev->now);
    pl_query_text(&r.q, w->answer);
    pl_query_text(&r.q, NULL);
    pl_query_whole(&r.q, 0);
    pl_row_put(&r);
    return pl_row_end(&r);
}

pl_code pl_book_adopt(pl_book *b, const pl_adopted *w, pl_diags *d)
{
    int64_t study = 0, revision = 0, *keys = PL_NEWN(b->arena, w->nfile + 1, int64_t);
    const char *words = pl_arena_printf(b->arena,
                                        "revision %u, %zu specimens, %zu readings, %zu "
                                        "marks, from another book",
                                        w->plan->revision, w->plan->nspecimen, w->readings->count,
                                        w->nmark);
    pl_event ev;
    pl_code code = pl_event_begin(b, "taking in a study", &ev, d), second;

    if (code)
        return code;
    if (!keys || !words)
        return pl_db_end(b, pl_nomem(d), ev.doing, d);
    code = put_rigs(&ev, w); /* what is in its way is listed in one run */
    second = code && code != PL_ECONFLICT
                 ? code
                 : pl_db_freeze_as(&ev, w->study, w->plan, w->plan_json, &study, &revision);
    code = code ? code : second;
    if (!code)
        code = put_files(&ev, w, study, revision, keys);
    if (!code)
        code = put_readings(&ev, w, study, keys);
    if (!code)
        code = pl_db_put_marks(&ev, study, w->marks, w->nmark);
    if (!code)
        code = put_answer(&ev, w, study, revision);
    return pl_event_end(&ev, code, "add", w->study->name, words);
}
