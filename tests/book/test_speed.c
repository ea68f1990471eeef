/* 100,000 readings taken in one transaction, beside a bare loop of prepared inserts
 * of the same rows with the same digests. Processor time, so that other work on the
 * machine does not count; the best of three. */
#include "shop.h"

#include <sys/resource.h>

#define MANY 100000
#define MOST 3.0 /* times the bare loop */

static double used_s(void)
{
    struct rusage r;

    getrusage(RUSAGE_SELF, &r);
    return (double)(r.ru_utime.tv_sec + r.ru_stime.tv_sec) +
           1e-6 * (double)(r.ru_utime.tv_usec + r.ru_stime.tv_usec);
}

static void many_readings(bench *b, pl_readings *r)
{
    for (unsigned i = 0; i < MANY; i++)
        add_reading(b, r, pl_arena_printf(b->a, "S%u", i / 10),
                    pl_arena_printf(b->a, "q%u", i % 10), pl_arena_printf(b->a, "%u.25", i),
                    i + 0.25, "kN");
}

static double take_them(bench *b, const pl_readings *r)
{
    pl_book *book = shop_book(b, new_book_path(b));
    pl_source s = make_source(b, "log.csv", "1", r);
    pl_taken done;
    double from = used_s();

    assert_ok(b, take_one(b, book, &s, false, &done));
    assert_int_equal(done.added, MANY);
    return used_s() - from;
}

/* Into the same table with its keys and checks, but no references looked at. */
static double bare_loop(bench *b, const pl_readings *r)
{
    const char *path = new_book_path(b);
    sqlite3 *db = NULL;
    sqlite3_stmt *st = NULL;
    pl_digester *g = pl_digester_new(b->a);
    const pl_table_of *t = pl_table_named("reading");
    double from;

    shop_book(b, path);
    assert_int_equal(sqlite3_open(path, &db), 0);
    from = used_s();
    assert_int_equal(sqlite3_exec(db, "BEGIN", 0, 0, 0), 0);
    assert_int_equal(sqlite3_prepare_v2(db,
                                        "INSERT INTO reading VALUES (?, 1, 1, 'specimen', ?, ?, ?,"
                                        " ?, ?, ?, 2, NULL, NULL, NULL, ?)",
                                        -1, &st, NULL),
                     0);
    for (size_t i = 0; i < r->count; i++) {
        const pl_reading *x = &r->items[i];
        const char *const texts[] = { x->id, x->quantity, x->text, x->unit, x->where };
        static const int places[] = { 2, 3, 4, 6, 7 };
        char hex[PL_DIGEST_HEX];

        pl_seal_begin(g, t);
        sqlite3_reset(st);
        sqlite3_bind_int64(st, 1, (sqlite3_int64)i + 1);
        sqlite3_bind_double(st, 5, x->value);
        pl_seal_whole(g, (int64_t)i + 1);
        pl_seal_number(g, x->value);
        for (int k = 0; k < 5; k++) {
            sqlite3_bind_text(st, places[k], texts[k], -1, SQLITE_STATIC);
            pl_seal_bytes(g, texts[k], strlen(texts[k]));
        }
        pl_digester_end(g, hex);
        sqlite3_bind_text(st, 8, hex, -1, SQLITE_STATIC);
        assert_int_equal(sqlite3_step(st), SQLITE_DONE);
    }
    sqlite3_finalize(st);
    assert_int_equal(sqlite3_exec(db, "COMMIT", 0, 0, 0), 0);
    from = used_s() - from;
    sqlite3_close(db);
    return from;
}

static void test_speed(void **state)
{
    bench *b = *state;
    double take = HUGE_VAL, bare = HUGE_VAL, read = HUGE_VAL;
    pl_readings r = { 0 };

    many_readings(b, &r);
    for (int i = 0; i < 3; i++) {
        take = fmin(take, take_them(b, &r));
        bare = fmin(bare, bare_loop(b, &r));
    }
    {
        pl_book *book = shop_book(b, new_book_path(b));
        pl_source s = make_source(b, "log.csv", "1", &r);
        pl_readings got;
        pl_taken done;

        assert_ok(b, take_one(b, book, &s, false, &done));
        read = used_s();
        assert_ok(b, pl_book_readings(b->a, book, "stair-laps", &got, &b->d));
        read = used_s() - read;
        assert_int_equal(got.count, MANY);
    }
    print_message(
        "COUNTED: %d readings: taken in %.3f s, %.2f times a bare loop (%.3f s); read and "
        "checked in %.3f s\n",
        MANY, take, take / bare, bare, read);
    assert_true(take <= MOST * bare);
}

int main(void)
{
    const struct CMUnitTest tests[] = { TEST(test_speed) };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
