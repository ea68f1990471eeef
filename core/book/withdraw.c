/* Taking a file back: its readings no longer count, and what they had replaced
 * counts again. */
#include <string.h>

#include "base/text.h"
#include "book/db.h"

static const char doing[] = "withdrawing a file";

typedef struct back {
    pl_book *b;
    pl_arena *a;
    pl_diags *d;
    pl_event ev;
    int64_t study, source;
    const char *file, *reason;
    int64_t *readings; /* keys of those in force */
    size_t count, room;
    pl_withdrawn done;
} back;

/* ------------------------------------------------------------------- finding ---- */

static pl_code several(back *w, const char *name, const char *digest)
{
    return pl_fail(w->d, PL_EUSAGE, w->b->path,
                   .found = pl_arena_printf(w->a,
                                            "several files that \"%s\" may mean, such as %s "
                                            "with the digest %s",
                                            w->file, name, digest),
                   .expected = "one file",
                   .mend = "name it by the beginning of its digest: book trail and book export "
                           "show them");
}

static pl_code no_file(back *w)
{
    const char *names[64], *near;
    size_t n = 0;
    pl_query q = pl_query_start(
        w->b, "SELECT DISTINCT name FROM source WHERE study = ?1 AND ended IS NULL LIMIT 64", doing,
        w->d);

    pl_query_whole(&q, w->study);
    while (n < 64 && pl_query_row(&q))
        names[n++] = pl_column_text(&q, w->a, 0);
    if (pl_query_end(&q))
        return q.code;
    near = pl_text_nearest(w->file, names, n);
    return pl_fail(w->d, PL_EUSAGE, w->b->path, .found = pl_arena_printf(w->a, "\"%s\"", w->file),
                   .expected = n ? pl_arena_printf(w->a, "a file that was taken: %s",
                                                   pl_text_list(w->a, names, n < 6 ? n : 6, "or"))
                                 : "a file that was taken; none was",
                   .mend = near ? pl_arena_printf(w->a, "did you mean \"%s\"?", near) : "");
}

/* By name; by the beginning of its digest when that many digits cannot be chance. */
#define DIGITS_LEAST 8

static pl_code find_source(back *w)
{
    size_t n = strlen(w->file);
    pl_query q = pl_query_start(w->b,
                                "SELECT source, name, digest FROM source WHERE study = ?1 AND ended"
                                " IS NULL AND (name = ?2 OR (?3 >= ?4 AND"
                                " substr(digest, 1, ?3) = ?2)) ORDER BY source",
                                doing, w->d);

    pl_query_whole(&q, w->study);
    pl_query_text(&q, w->file);
    pl_query_whole(&q, (int64_t)n);
    pl_query_whole(&q, DIGITS_LEAST);
    while (pl_query_row(&q)) {
        const char *name = pl_column_text(&q, w->a, 1), *digest = pl_column_text(&q, w->a, 2);

        if (w->source && !q.code)
            q.code = several(w, name, digest);
        w->source = pl_column_whole(&q, 0);
        w->done.name = name;
        w->done.digest = digest;
    }
    if (pl_query_end(&q))
        return q.code;
    return w->source ? PL_OK : no_file(w);
}

static pl_code find_readings(back *w)
{
    pl_query q = pl_query_start(
        w->b, "SELECT reading FROM reading WHERE source = ?1 AND ended IS NULL ORDER BY reading",
        doing, w->d);

    pl_query_whole(&q, w->source);
    while (pl_query_row(&q)) {
        if (w->count == w->room) {
            w->room = w->room ? 2 * w->room : 256;
            w->readings = pl_arena_grow(w->a, w->readings, w->count, w->room, sizeof(int64_t));
            if (!w->readings) {
                q.code = pl_nomem(w->d);
                break;
            }
        }
        w->readings[w->count++] = pl_column_whole(&q, 0);
    }
    return pl_query_end(&q);
}

/* ------------------------------------------------------------------- writing ---- */

static pl_code end_all(back *w)
{
    const pl_cell of_source = { .kind = PL_CELL_TEXT, .text = w->reason };
    const pl_cell of_reading[] = { { PL_CELL_NULL, 0, NULL }, { PL_CELL_WHOLE, w->ev.now, NULL } };
    pl_code code = pl_row_finish(&w->ev, "source", w->source, &of_source);

    for (size_t i = 0; i < w->count && !code; i++)
        code = pl_row_finish(&w->ev, "reading", w->readings[i], of_reading);
    w->done.ended = w->count;
    return code;
}

/* The last other reading of the same quantity whose file still counts: one that this had
 * replaced, or one that said the same. */
static pl_code restore_one(back *w, pl_query *q, pl_row *row, int64_t ended)
{
    pl_query_again(q);
    pl_query_whole(q, ended);
    if (!pl_query_row(q))
        return q->code;
    pl_row_begin(row);
    pl_query_whole(&row->q, w->study);
    for (int i = 2; i <= 9; i++) { /* source to place, as they were recorded */
        if (i == 2)
            pl_query_whole(&row->q, pl_column_whole(q, i));
        else if (i == 7)
            pl_query_number(&row->q, pl_column_number(q, i));
        else
            pl_query_text(&row->q, pl_column_text(q, w->a, i));
    }
    pl_row_put(row);
    w->done.restored++;
    return q->code ? q->code : row->q.code;
}

static pl_code restore(back *w)
{
    const pl_table_of *t = pl_table_named("reading");
    pl_query q = pl_rows_start(w->b, t,
                               "JOIN reading y USING (study, subject, id, quantity)"
                               " JOIN source s ON s.source = x.source"
                               " WHERE y.reading = ?1 AND x.reading <> ?1 AND s.ended IS NULL"
                               " ORDER BY x.reading DESC LIMIT 1",
                               doing, w->d);
    pl_row row = pl_row_start(&w->ev, "reading");
    pl_code code = PL_OK, second;

    for (size_t i = 0; i < w->count && !code; i++)
        code = restore_one(w, &q, &row, w->readings[i]);
    second = pl_query_end(&q);
    code = code ? code : second;
    second = pl_row_end(&row);
    return code ? code : second;
}

pl_code pl_book_withdraw(pl_book *b, const char *study, const char *file, const char *reason,
                         pl_withdrawn *out, pl_diags *d)
{
    back w = { .b = b, .a = b->arena, .d = d, .file = file, .reason = reason };
    pl_code code = pl_event_begin(b, doing, &w.ev, d);
    const char *words;

    if (code)
        return code;
    code = pl_db_study(b, study, &w.study, d);
    if (!code)
        code = find_source(&w);
    if (!code)
        code = find_readings(&w);
    if (!code)
        code = end_all(&w);
    if (!code)
        code = restore(&w);
    words = pl_arena_printf(w.a, "%.80s (%.12s): %zu readings, %zu of before count again; %.200s",
                            w.done.name ? w.done.name : "", w.done.digest ? w.done.digest : "",
                            w.done.ended, w.done.restored, reason);
    code = pl_event_end(&w.ev, code, "withdraw", study, words);
    *out = w.done;
    return code;
}
