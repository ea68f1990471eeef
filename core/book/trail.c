/* Events: each change of the book is one transaction, its rows are sealed, and
 * an entry of the trail says what it was and is chained to the one before. */
#include <string.h>

#include "base/text.h"
#include "book/db.h"

static const pl_table_of *trail(void)
{
    return &pl_book_all[0];
}

pl_code pl_event_begin(pl_book *b, const char *doing, pl_event *ev, pl_diags *d)
{
    pl_query q;
    pl_code code = pl_db_begin(b, true, doing, d);

    *ev = (pl_event){ .b = b, .d = d, .doing = doing, .entry = 1, .now = pl_db_now() };
    if (code)
        return code;
    q = pl_rows_start(b, trail(), "ORDER BY entry DESC LIMIT 1", doing, d);
    while (pl_query_row(&q)) {
        const char *seal = (const char *)sqlite3_column_text(q.statement, trail()->nsealed + 1);

        if (pl_row_check(&q, trail()))
            break;
        ev->entry = pl_column_whole(&q, 0) + 1;
        memcpy(ev->before, seal, PL_DIGEST_HEX - 1);
    }
    code = pl_query_end(&q);
    return code ? pl_db_end(b, code, doing, d) : PL_OK;
}

pl_code pl_event_write(pl_event *ev, const char *what, const char *study, const char *words)
{
    char rows[PL_DIGEST_HEX], figures[PL_DIGEST_HEX];
    pl_row r = pl_row_start(ev, "trail");

    pl_sum_text(&ev->rows, rows);
    pl_sum_text(&ev->figures, figures);
    if (!words)
        r.q.code = pl_nomem(ev->d);
    r.q.sealing = true;
    pl_seal_begin(ev->b->digester, trail());
    pl_query_whole(&r.q, ev->entry);
    pl_query_whole(&r.q, ev->now);
    pl_query_text(&r.q, what);
    pl_query_text(&r.q, study);
    pl_query_text(&r.q, words);
    pl_query_text(&r.q, ev->b->who);
    pl_query_text(&r.q, PL_VERSION);
    pl_query_text(&r.q, rows);
    pl_query_text(&r.q, figures);
    pl_query_text(&r.q, ev->before);
    r.q.sealing = false;
    if (!pl_digester_end(ev->b->digester, r.seal) && r.q.code == PL_OK)
        r.q.code = pl_nomem(ev->d);
    pl_query_text(&r.q, r.seal);
    pl_query_row(&r.q);
    memcpy(ev->before, r.seal, PL_DIGEST_HEX);
    ev->entry++;
    ev->nrow = 0;
    ev->rows = ev->figures = (pl_sum){ { 0 } };
    return pl_row_end(&r);
}

pl_code pl_event_end(pl_event *ev, pl_code code, const char *what, const char *study,
                     const char *words)
{
    if (!code && ev->nrow)
        code = pl_event_write(ev, what, study, words);
    return pl_db_end(ev->b, code, ev->doing, ev->d);
}

void pl_event_count(pl_event *ev, const pl_table_of *t, const char *seal)
{
    ev->nrow++;
    pl_sum_add(&ev->rows, seal);
    if (!strcmp(t->name, "reading") || !strcmp(t->name, "mark"))
        pl_sum_add(&ev->figures, seal);
}

/* --------------------------------------------------------------------- rows ---- */

static int64_t last_key(pl_event *ev, const pl_table_of *t, pl_code *code)
{
    const char *sql = pl_arena_printf(ev->b->arena, "SELECT max(%s) FROM %s", t->columns[0],
                                      t->name);
    int64_t last = 0;
    pl_query q;

    if (!sql) {
        *code = pl_nomem(ev->d);
        return 0;
    }
    q = pl_query_start(ev->b, sql, ev->doing, ev->d);
    while (pl_query_row(&q))
        last = pl_column_whole(&q, 0);
    *code = pl_query_end(&q);
    return last;
}

static char *insert_of(pl_arena *a, const pl_table_of *t)
{
    const char *extra = t->nsealed + 1 < PL_COLUMNS_MOST ? t->columns[t->nsealed + 1] : NULL;
    pl_text sql;

    pl_text_init(&sql, a);
    pl_text_add(&sql, "INSERT INTO %s (", t->name);
    for (int i = 0; i <= t->nsealed; i++)
        pl_text_add(&sql, "%s, ", t->columns[i]);
    pl_text_add(&sql, "seal%s%s) VALUES (", extra ? ", " : "", extra ? extra : "");
    for (int i = 0; i <= t->nsealed; i++)
        pl_text_put(&sql, "?, ");
    pl_text_add(&sql, "?%s)", extra ? ", ?" : "");
    return pl_text_done(&sql);
}

pl_row pl_row_start(pl_event *ev, const char *table)
{
    pl_row r = { .ev = ev, .t = pl_table_named(table) };
    const char *sql = insert_of(ev->b->arena, r.t);
    pl_code code = PL_OK;

    r.text_key = !strcmp(table, "specimen") || !strcmp(table, "kept");
    if (!sql) {
        r.q = (pl_query){ .book = ev->b, .diags = ev->d, .code = pl_nomem(ev->d) };
        return r;
    }
    r.q = pl_query_start(ev->b, sql, ev->doing, ev->d);
    if (!r.text_key && strcmp(table, "trail"))
        r.key = last_key(ev, r.t, &code);
    if (code && r.q.code == PL_OK)
        r.q.code = code;
    return r;
}

void pl_row_begin(pl_row *r)
{
    pl_query_again(&r->q);
    r->q.sealing = true;
    pl_seal_begin(r->ev->b->digester, r->t);
    if (!r->text_key)
        pl_query_whole(&r->q, ++r->key);
}

bool pl_row_put(pl_row *r)
{
    pl_query_whole(&r->q, r->ev->entry);
    for (int i = 0; i < r->t->nending; i++)
        pl_query_text(&r->q, NULL);
    r->q.sealing = false;
    if (!pl_digester_end(r->ev->b->digester, r->seal) && r->q.code == PL_OK)
        r->q.code = pl_nomem(r->ev->d);
    pl_query_text(&r->q, r->seal);
    if (r->extra)
        pl_query_blob(&r->q, r->extra, r->nextra);
    pl_query_row(&r->q);
    if (r->q.code == PL_OK)
        pl_event_count(r->ev, r->t, r->seal);
    return r->q.code == PL_OK;
}

/* An ended row counts twice: as it was new, and as it is. */
static void count_both(pl_row *r)
{
    const char *rest = pl_arena_printf(r->ev->b->arena, "WHERE x.%s = ?1", r->t->columns[0]);
    char as_new[PL_DIGEST_HEX];
    pl_query q;

    if (!rest) {
        r->q.code = pl_nomem(r->ev->d);
        return;
    }
    q = pl_rows_start(r->ev->b, r->t, rest, r->ev->doing, r->ev->d);
    pl_query_whole(&q, r->key);
    if (pl_query_row(&q) && pl_row_seal(&q, r->t, true, as_new)) {
        pl_event_count(r->ev, r->t, as_new);
        pl_event_count(r->ev, r->t, r->seal);
    } else if (!q.code) {
        q.code = pl_nomem(r->ev->d);
    }
    r->q.code = pl_query_end(&q);
}

static void bind_cell(pl_query *q, const pl_cell *c)
{
    if (c->kind == PL_CELL_WHOLE)
        pl_query_whole(q, c->whole);
    else
        pl_query_text(q, c->kind == PL_CELL_TEXT ? c->text : NULL);
}

bool pl_row_put_ended(pl_row *r, const pl_cell *cells)
{
    pl_query_whole(&r->q, r->ev->entry);
    for (int i = 0; i < r->t->nending - 1; i++)
        bind_cell(&r->q, &cells[i]);
    pl_query_whole(&r->q, r->ev->entry);
    r->q.sealing = false;
    if (!pl_digester_end(r->ev->b->digester, r->seal) && r->q.code == PL_OK)
        r->q.code = pl_nomem(r->ev->d);
    pl_query_text(&r->q, r->seal);
    pl_query_row(&r->q);
    if (r->q.code == PL_OK)
        count_both(r);
    return r->q.code == PL_OK;
}

pl_code pl_row_end(pl_row *r)
{
    return pl_query_end(&r->q);
}

/* ------------------------------------------------------------------- ending ---- */

/* Into the seal as columns of the row at hand, then as the new cells. */
static bool seal_ended(pl_query *row, const pl_table_of *t, const pl_cell *cells, int64_t entry,
                       char hex[PL_DIGEST_HEX])
{
    pl_digester *g = row->book->digester;

    pl_seal_begin(g, t);
    for (int i = 0; i <= t->nsealed - t->nending; i++)
        pl_seal_column(row, i);
    for (int i = 0; i < t->nending - 1; i++)
        if (cells[i].kind == PL_CELL_WHOLE)
            pl_seal_whole(g, cells[i].whole);
        else if (cells[i].kind == PL_CELL_TEXT)
            pl_seal_bytes(g, cells[i].text, strlen(cells[i].text));
        else
            pl_seal_null(g);
    pl_seal_whole(g, entry);
    return pl_digester_end(g, hex);
}

static char *update_of(pl_arena *a, const pl_table_of *t)
{
    pl_text sql;

    pl_text_init(&sql, a);
    pl_text_add(&sql, "UPDATE %s SET ", t->name);
    for (int i = t->nsealed - t->nending + 1; i <= t->nsealed; i++)
        pl_text_add(&sql, "%s = ?, ", t->columns[i]);
    pl_text_add(&sql, "seal = ? WHERE %s = ?", t->columns[0]);
    return pl_text_done(&sql);
}

pl_code pl_row_finish(pl_event *ev, const char *table, int64_t key, const pl_cell *cells)
{
    const pl_table_of *t = pl_table_named(table);
    pl_arena *a = ev->b->arena;
    const char *rest = pl_arena_printf(a, "WHERE x.%s = ?1", t->columns[0]);
    const char *sql = update_of(a, t);
    char hex[PL_DIGEST_HEX];
    pl_query row, q;
    pl_code code;

    if (!rest || !sql)
        return pl_nomem(ev->d);
    row = pl_rows_start(ev->b, t, rest, ev->doing, ev->d);
    pl_query_whole(&row, key);
    hex[0] = 0;
    if (pl_query_row(&row) && !pl_row_check(&row, t) && !seal_ended(&row, t, cells, ev->entry, hex))
        row.code = pl_nomem(ev->d);
    code = pl_query_end(&row);
    if (!code && !hex[0])
        code = pl_db_fail(ev->b, SQLITE_CORRUPT, ev->doing, ev->d);
    if (code)
        return code;
    q = pl_query_start(ev->b, sql, ev->doing, ev->d);
    for (int i = 0; i < t->nending - 1; i++)
        bind_cell(&q, &cells[i]);
    pl_query_whole(&q, ev->entry);
    pl_query_text(&q, hex);
    pl_query_whole(&q, key);
    pl_query_row(&q);
    if (q.code == PL_OK)
        pl_event_count(ev, t, hex);
    return pl_query_end(&q);
}
