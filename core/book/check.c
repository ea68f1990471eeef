/* The whole book held to itself: SQLite's own check, references, every seal, the
 * sums that the trail keeps of what each entry wrote, its chain, kept files. */
#include <stdlib.h>
#include <string.h>

#include "book/db.h"

static const char doing[] = "checking the book";

typedef struct look {
    pl_book *b;
    pl_arena *a;
    pl_diags *d;
    pl_checked done;
    pl_sum *wanted, *found; /* of the entries 1 to done.entries */
} look;

static void fault(look *k, const char *found, const char *expected)
{
    pl_fail(k->d, PL_EBOOK, k->b->path, .found = found, .expected = expected,
            .mend = PL_BOOK_RESTORE);
}

/* ------------------------------------------------------------- SQLite's checks ---- */

static pl_code integrity(look *k)
{
    pl_query q = pl_query_start(k->b, "PRAGMA integrity_check", doing, k->d);

    while (pl_query_row(&q)) {
        const char *said = pl_column_text(&q, k->a, 0);

        if (said && strcmp(said, "ok"))
            fault(k, pl_arena_printf(k->a, "%.200s", said), "a file as SQLite writes it");
    }
    return pl_query_end(&q);
}

static pl_code references(look *k)
{
    pl_query q = pl_query_start(k->b, "PRAGMA foreign_key_check", doing, k->d);

    while (pl_query_row(&q))
        fault(k,
              pl_arena_printf(k->a, "%s %lld points at a row of %s that is not there",
                              pl_column_text(&q, k->a, 0), (long long)pl_column_whole(&q, 1),
                              pl_column_text(&q, k->a, 2)),
              "rows whose references are there");
    return pl_query_end(&q);
}

/* ------------------------------------------------------------------- the trail ---- */

static pl_code count_entries(look *k)
{
    pl_query q = pl_query_start(k->b, "SELECT count(*) FROM trail", doing, k->d);

    while (pl_query_row(&q))
        k->done.entries = (size_t)pl_column_whole(&q, 0);
    k->wanted = PL_NEWN(k->a, k->done.entries + 1, pl_sum);
    k->found = PL_NEWN(k->a, k->done.entries + 1, pl_sum);
    if (!k->wanted || !k->found)
        q.code = q.code ? q.code : pl_nomem(k->d);
    return pl_query_end(&q);
}

/* A row that does not match is a finding; the look goes on. */
static bool sealed(pl_query *q, const pl_table_of *t)
{
    pl_code code = pl_row_check(q, t);

    if (code == PL_EBOOK)
        q->code = PL_OK;
    return code == PL_OK;
}

static pl_code chain(look *k)
{
    const pl_table_of *t = pl_table_named("trail");
    pl_query q = pl_rows_start(k->b, t, "ORDER BY x.entry", doing, k->d);
    char before[PL_DIGEST_HEX] = "";
    int64_t last = 0;

    while (pl_query_row(&q)) {
        int64_t entry = pl_column_whole(&q, 0);
        const char *linked = pl_column_text(&q, k->a, 9), *seal = pl_column_text(&q, k->a, 10);
        const char *rows = pl_column_text(&q, k->a, 7);

        if (!linked || !seal || !rows)
            break;
        if (entry != last + 1)
            fault(k,
                  pl_arena_printf(k->a, "entry %lld of the trail follows entry %lld",
                                  (long long)entry, (long long)last),
                  "entries without a gap");
        if (sealed(&q, t) && strcmp(linked, before))
            fault(k,
                  pl_arena_printf(k->a, "entry %lld of the trail does not follow from entry %lld",
                                  (long long)entry, (long long)last),
                  "a chain of seals");
        last = entry;
        if (entry >= 1 && entry <= (int64_t)k->done.entries)
            pl_sum_add(&k->wanted[entry], rows);
        memcpy(before, seal, strlen(seal) < PL_DIGEST_HEX ? strlen(seal) + 1 : 1);
    }
    return pl_query_end(&q);
}

/* -------------------------------------------------------------------- the rows ---- */

static void count_for(look *k, pl_query *q, const pl_table_of *t, int64_t entry, const char *seal)
{
    if (entry < 1 || entry > (int64_t)k->done.entries)
        fault(
            k,
            pl_arena_printf(k->a, "%s, which no entry of the trail wrote", pl_row_name(q, t, k->a)),
            "rows that the trail tells of");
    else
        pl_sum_add(&k->found[entry], seal);
}

static pl_code rows_of(look *k, const pl_table_of *t)
{
    pl_query q = pl_rows_start(k->b, t, "", doing, k->d);
    int at_entry = t->nsealed - t->nending;

    while (pl_query_row(&q)) {
        bool ended = t->nending && sqlite3_column_type(q.statement, t->nsealed) != SQLITE_NULL;
        char as_new[PL_DIGEST_HEX];
        const char *seal;

        k->done.rows++;
        if (!sealed(&q, t))
            continue; /* said; its entry's sum will be off too, and names it once more */
        seal = (const char *)sqlite3_column_text(q.statement, t->nsealed + 1);
        if (!seal || (ended && !pl_row_seal(&q, t, true, as_new))) {
            q.code = pl_nomem(k->d);
            break;
        }
        count_for(k, &q, t, pl_column_whole(&q, at_entry), ended ? as_new : seal);
        if (ended)
            count_for(k, &q, t, pl_column_whole(&q, t->nsealed), seal);
    }
    return pl_query_end(&q);
}

static pl_code all_rows(look *k)
{
    pl_code code = PL_OK;

    for (size_t i = 1; i < pl_book_nall && !code; i++)
        code = rows_of(k, &pl_book_all[i]);
    for (size_t i = 1; i <= k->done.entries && !code; i++)
        if (memcmp(&k->wanted[i], &k->found[i], sizeof(pl_sum)))
            fault(k,
                  pl_arena_printf(k->a,
                                  "what entry %zu of the trail wrote is not all there as it "
                                  "was written",
                                  i),
                  "all that the trail tells of");
    return code;
}

static pl_code kept_files(look *k)
{
    pl_query q = pl_query_start(k->b, "SELECT digest FROM kept", doing, k->d);
    size_t from = k->d->count;
    pl_code code = PL_OK;

    while (pl_query_row(&q) && code != PL_ENOMEM) {
        pl_mark mark = pl_arena_mark(k->a);
        const char *digest = pl_column_text(&q, k->a, 0);
        char *bytes;
        size_t n;

        k->done.kept++;
        if (digest)
            code = pl_book_kept(k->a, k->b, digest, &bytes, &n, k->d);
        if (k->d->count == from) /* findings live in an arena that may be this one */
            pl_arena_reset(k->a, mark);
    }
    return pl_query_end(&q);
}

pl_code pl_db_check(pl_book *b, pl_checked *out, pl_diags *d)
{
    static pl_code (*const looks[])(look *) = { integrity, references, count_entries,
                                                chain,     all_rows,   kept_files };
    look k = { .b = b, .a = b->arena, .d = d };
    size_t from = d->count;
    pl_code code = PL_OK;

    for (size_t i = 0; i < sizeof looks / sizeof *looks && !code; i++)
        code = looks[i](&k);
    *out = k.done;
    return code ? code : pl_diags_code(d, from);
}

pl_code pl_book_check(pl_book *b, pl_checked *out, pl_diags *d)
{
    pl_code code = pl_db_begin(b, false, doing, d);

    return code ? code : pl_db_end(b, pl_db_check(b, out, d), doing, d);
}

/* ------------------------------------------------------------------ the listing ---- */

pl_code pl_book_trail(pl_arena *a, pl_book *b, const char *study, const pl_entry **out,
                      size_t *count, pl_diags *d)
{
    const pl_table_of *t = pl_table_named("trail");
    pl_query q = pl_rows_start(b, t, "WHERE ?1 IS NULL OR x.study = ?1 ORDER BY x.entry",
                               "reading the trail", d);
    pl_entry *list = NULL;
    size_t n = 0, room = 0;

    pl_query_text(&q, study);
    while (pl_query_row(&q) && !pl_row_check(&q, t)) {
        if (n == room) {
            room = room ? 2 * room : 64;
            list = pl_arena_grow(a, list, n, room, sizeof *list);
            if (!list) {
                q.code = pl_nomem(d);
                break;
            }
        }
        list[n++] = (pl_entry){ .entry = pl_column_whole(&q, 0),
                                .at = pl_column_whole(&q, 1),
                                .what = pl_column_text(&q, a, 2),
                                .study = pl_column_text(&q, a, 3),
                                .words = pl_column_text(&q, a, 4),
                                .who = pl_column_text(&q, a, 5),
                                .program = pl_column_text(&q, a, 6),
                                .seal = pl_column_text(&q, a, 10) };
    }
    *out = list;
    *count = n;
    return pl_query_end(&q);
}
