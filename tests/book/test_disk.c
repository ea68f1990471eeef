/* The book on a disk that loses its power, fills up, or fails: disk.h. After each
 * fault the book is whole, what was acknowledged is there, and a step is there as a
 * whole or not at all. */
#include "disk.h"

#define READINGS 40

static char *start_bytes; /* a book with one take in it, made on the real disk */
static size_t nstart;
static const char *path; /* its name; a plain file lies there for stat to see */

static pl_code take_numbered(bench *b, pl_book *book, unsigned k)
{
    pl_readings r = { 0 };
    pl_source s;
    pl_taken done;

    for (unsigned i = 0; i < READINGS; i++)
        add_reading(b, &r, "K1", pl_arena_printf(b->a, "%u.%u", k, i), "1", 1, "");
    s = make_source(b, pl_arena_printf(b->a, "file-%u", k), "1", &r);
    return take_one(b, book, &s, false, &done);
}

static void make_start(bench *b)
{
    const char *name = new_book_path(b);
    pl_book *book = shop_book(b, name);

    assert_ok(b, take_numbered(b, book, 1));
    assert_ok(b, pl_file_read(b->a, name, &start_bytes, &nstart, &b->d));
    path = new_book_path(b);
    copy_file(name, path);
}

/* Opens, takes one more file; code of what went wrong, and how far it came. */
static pl_code take_more(void)
{
    bench *b = NULL;
    pl_book *book = NULL;
    pl_code code;

    bench_open((void **)&b);
    code = pl_book_open(b->a, path, PL_BOOK_WRITE, &book, &b->d);
    if (!code)
        code = take_numbered(b, book, 2);
    if (code && code != PL_EBOOK)
        show_findings(b);
    assert_true(code == PL_OK || code == PL_EBOOK);
    bench_close((void **)&b);
    return code;
}

/* Whole, and with all of the second take or nothing of it. False: a fault struck again. */
static bool look_at_it(bool must_be_there)
{
    bench *b = NULL;
    pl_book *book = NULL;
    pl_checked checked;
    pl_readings got;
    pl_code code;

    bench_open((void **)&b);
    code = pl_book_open(b->a, path, PL_BOOK_WRITE, &book, &b->d);
    if (code && disk.off) {
        bench_close((void **)&b);
        return false;
    }
    assert_ok(b, code);
    assert_ok(b, pl_book_check(book, &checked, &b->d));
    assert_ok(b, pl_book_readings(b->a, book, "stair-laps", &got, &b->d));
    assert_true(got.count == READINGS || got.count == 2 * READINGS);
    assert_true(checked.entries == 1 + got.count / READINGS);
    if (must_be_there)
        assert_int_equal(got.count, 2 * READINGS);
    bench_close((void **)&b);
    return true;
}

static void start_again(long at, disk_fault fault, bool lasting)
{
    disk_clear();
    disk_load(path, start_bytes, nstart);
    disk.fault_at = at;
    disk.fault = fault;
    disk.lasting = lasting;
}

static long count_operations(void)
{
    start_again(0, DISK_WELL, false);
    assert_int_equal(take_more(), PL_OK);
    assert_true(look_at_it(true));
    return disk.ops;
}

/* The power goes at every operation, and in some again while the book is mended. */
static void test_power(void **state)
{
    unsigned each = getenv("PLATEN_LONG") ? 100 : 6, cuts = 0, there = 0, again = 0;
    long n;
    pl_stream chance;

    make_start(*state);
    assert_int_equal(sqlite3_vfs_register(&disk_vfs, 1), 0);
    pl_stream_init(&chance, 20270401, PL_FOR_TEST, 1);
    n = count_operations();
    for (long at = 1; at <= n + 1; at++)
        for (unsigned i = 0; i < each; i++) {
            pl_code code;

            start_again(at, DISK_POWER, true);
            code = take_more();
            power_back(&chance);
            cuts++;
            while (pl_stream_below(&chance, 2)) {
                disk.ops = 0;
                disk.fault_at = 1 + (long)pl_stream_below(&chance, 12);
                disk.fault = DISK_POWER;
                if (look_at_it(code == PL_OK))
                    break;
                power_back(&chance);
                again++;
            }
            disk.fault_at = 0;
            assert_true(look_at_it(code == PL_OK));
            there += code == PL_OK;
        }
    print_message("COUNTED: %u power cuts at %ld operations, %u in mending; %u were acknowledged\n",
                  cuts, n, again, there);
    assert_true(there > 0 && there < cuts);
    sqlite3_vfs_unregister(&disk_vfs);
    disk_clear();
}

/* Full, or a write that fails: once, or from then on until somebody sees to it. */
static void test_faults(void **state)
{
    static const disk_fault faults[] = { DISK_FULL_NOW, DISK_BAD };
    unsigned refused = 0, tries = 0;
    long n;

    make_start(*state);
    assert_int_equal(sqlite3_vfs_register(&disk_vfs, 1), 0);
    n = count_operations();
    for (int f = 0; f < 2; f++)
        for (int lasting = 0; lasting < 2; lasting++)
            for (long at = 1; at <= n; at++) {
                pl_code code;

                start_again(at, faults[f], lasting);
                code = take_more();
                refused += code == PL_EBOOK;
                tries++;
                disk.fault_at = 0;
                assert_true(look_at_it(code == PL_OK));
                if (code == PL_EBOOK)
                    assert_int_equal(take_more(), PL_OK); /* once it is mended */
                assert_true(look_at_it(true));
            }
    print_message("COUNTED: %u faults of the disk, %u refused, the others lived with\n", tries,
                  refused);
    assert_true(refused > 0);
    sqlite3_vfs_unregister(&disk_vfs);
    disk_clear();
}

/* The disk of the tests does forget: with syncs left out a power cut tears the book. */
static void test_the_test(void **state)
{
    unsigned torn = 0;
    pl_stream chance;

    make_start(*state);
    assert_int_equal(sqlite3_vfs_register(&disk_vfs, 1), 0);
    pl_stream_init(&chance, 20270401, PL_FOR_TEST, 2);
    for (unsigned i = 0; i < 40; i++) {
        bench *b = NULL;
        pl_book *book = NULL;
        pl_checked checked;

        start_again(8 + i, DISK_POWER, true);
        bench_open((void **)&b);
        assert_ok(b, pl_book_open(b->a, path, PL_BOOK_WRITE, &book, &b->d));
        assert_int_equal(sqlite3_exec(book->db, "PRAGMA synchronous = OFF", 0, 0, 0), 0);
        (void)take_numbered(b, book, 2);
        bench_close((void **)&b);
        power_back(&chance);
        bench_open((void **)&b);
        if (pl_book_open(b->a, path, PL_BOOK_WRITE, &book, &b->d) ||
            pl_book_check(book, &checked, &b->d))
            torn++;
        bench_close((void **)&b);
    }
    print_message("    without syncs %u of 40 cuts tear the book\n", torn);
    assert_true(torn > 0);
    sqlite3_vfs_unregister(&disk_vfs);
    disk_clear();
}

int main(void)
{
    const struct CMUnitTest tests[] = { TEST(test_power), TEST(test_faults), TEST(test_the_test) };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
