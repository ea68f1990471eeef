/* Seals: the digest of all that stands in a row, so that nothing changes unseen.
 * Which columns there are is the business of schema.c. */
#include <string.h>

#include "base/text.h"
#include "book/db.h"

/* ------------------------------------------------------------------- values ---- */

void pl_seal_null(pl_digester *g)
{
    pl_digester_add(g, "n", 1);
}

static void with_kind(pl_digester *g, char kind, uint64_t x)
{
    unsigned char bytes[9] = { (unsigned char)kind };

    for (int i = 0; i < 8; i++)
        bytes[1 + i] = (unsigned char)(x >> (56 - 8 * i));
    pl_digester_add(g, bytes, sizeof bytes);
}

void pl_seal_whole(pl_digester *g, int64_t x)
{
    with_kind(g, 'i', (uint64_t)x);
}

/* Its IEEE 754 bits. SQLite gives -0 back as 0. */
void pl_seal_number(pl_digester *g, double x)
{
    uint64_t bits;

    if (!(x < 0 || x > 0))
        x = 0;
    memcpy(&bits, &x, sizeof bits);
    with_kind(g, 'r', bits);
}

void pl_seal_bytes(pl_digester *g, const char *s, size_t n)
{
    with_kind(g, 't', n);
    pl_digester_add(g, s, n);
}

void pl_seal_begin(pl_digester *g, const pl_table_of *t)
{
    pl_digester_clear(g);
    pl_seal_bytes(g, t->name, strlen(t->name));
}

/* --------------------------------------------------------------------- sums ---- */

static int digit_of(char c)
{
    return c >= '0' && c <= '9' ? c - '0' : c >= 'a' && c <= 'f' ? c - 'a' + 10 : -1;
}

bool pl_sum_add(pl_sum *sum, const char *seal)
{
    uint64_t part[4] = { 0 };
    unsigned carry = 0;

    for (int i = 0; i < 64; i++) {
        int digit = digit_of(seal[i]);

        if (digit < 0)
            return false;
        part[3 - i / 16] = part[3 - i / 16] << 4 | (unsigned)digit;
    }
    for (int i = 0; i < 4; i++) {
        uint64_t x = sum->part[i] + part[i];
        unsigned over = x < part[i];

        sum->part[i] = x + carry;
        carry = over | (sum->part[i] < x);
    }
    return seal[64] == 0;
}

void pl_sum_text(const pl_sum *sum, char hex[PL_DIGEST_HEX])
{
    static const char digits[] = "0123456789abcdef";

    for (int i = 0; i < 64; i++)
        hex[i] = digits[sum->part[3 - i / 16] >> (60 - 4 * (i % 16)) & 15];
    hex[64] = 0;
}

/* --------------------------------------------------------------------- rows ---- */

pl_query pl_rows_start(pl_book *b, const pl_table_of *t, const char *rest, const char *doing,
                       pl_diags *d)
{
    pl_text sql;
    const char *done;

    pl_text_init(&sql, b->arena);
    pl_text_put(&sql, "SELECT ");
    for (int i = 0; i <= t->nsealed; i++)
        pl_text_add(&sql, "x.%s, ", t->columns[i]);
    pl_text_add(&sql, "x.seal FROM %s x %s", t->name, rest);
    done = pl_text_done(&sql);
    if (!done)
        return (pl_query){ .book = b, .diags = d, .doing = doing, .code = pl_nomem(d) };
    return pl_query_start(b, done, doing, d);
}

void pl_seal_column(pl_query *q, int column)
{
    pl_digester *g = q->book->digester;
    sqlite3_stmt *s = q->statement;

    switch (sqlite3_column_type(s, column)) {
    case SQLITE_NULL:
        pl_seal_null(g);
        break;
    case SQLITE_INTEGER:
        pl_seal_whole(g, sqlite3_column_int64(s, column));
        break;
    case SQLITE_FLOAT:
        pl_seal_number(g, sqlite3_column_double(s, column));
        break;
    default: {
        const char *text = (const char *)sqlite3_column_text(s, column);

        pl_seal_bytes(g, text ? text : "", (size_t)sqlite3_column_bytes(s, column));
    }
    }
}

bool pl_row_seal(pl_query *q, const pl_table_of *t, bool as_new, char hex[PL_DIGEST_HEX])
{
    pl_digester *g = q->book->digester;
    int kept = t->nsealed - (as_new ? t->nending : 0);

    pl_seal_begin(g, t);
    for (int i = 0; i <= kept; i++)
        pl_seal_column(q, i);
    for (int i = kept; i < t->nsealed; i++)
        pl_seal_null(g);
    return pl_digester_end(g, hex);
}

const char *pl_row_name(pl_query *q, const pl_table_of *t, pl_arena *a)
{
    const char *key = (const char *)sqlite3_column_text(q->statement, 0);
    const char *more = "";

    if (!strcmp(t->name, "reading"))
        more = pl_arena_printf(a, " (%s of %s)", (const char *)sqlite3_column_text(q->statement, 5),
                               (const char *)sqlite3_column_text(q->statement, 4));
    return pl_arena_printf(a, "%s %.80s%.160s", t->name, key ? key : "", more ? more : "");
}

pl_code pl_row_check(pl_query *q, const pl_table_of *t)
{
    char hex[PL_DIGEST_HEX];
    const char *seal = (const char *)sqlite3_column_text(q->statement, t->nsealed + 1);
    pl_arena *a = q->book->arena;
    pl_code code;

    if (q->code)
        return q->code;
    if (!seal && sqlite3_column_type(q->statement, t->nsealed + 1) == SQLITE_NULL)
        return q->code = pl_db_fail(q->book, SQLITE_CORRUPT, q->doing, q->diags);
    if (!pl_row_seal(q, t, false, hex) || !seal)
        return q->code = pl_nomem(q->diags);
    if (!strcmp(hex, seal))
        return PL_OK;
    code = pl_fail(q->diags, PL_EBOOK, q->book->path,
                   .found = pl_arena_printf(a, "%s is not what was written", pl_row_name(q, t, a)),
                   .expected = "a row that matches its seal", .mend = PL_BOOK_RESTORE);
    return q->code = code;
}
