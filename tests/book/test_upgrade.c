/* A book of version 1, made by the program of that version (2027-shop of the
 * command-line tests, invented: 12 joints of ash, one peak corrected, one rig
 * replaced, two fits; 164 readings in the book's own count), opened by this one. */
#define SHOP_IN_MEMORY
#include "shop.h"

#include <time.h>

static const char *old_book(bench *b)
{
    const char *path = new_book_path(b);

    copy_file(top_path(b->a, "tests/book/version-1.book"), path);
    return path;
}

/* Texts of all readings ever, in their order, from a database of either version. */
static const char *all_readings(bench *b, const char *path)
{
    sqlite3 *db = NULL;
    sqlite3_stmt *st = NULL;
    pl_text t;

    pl_text_init(&t, b->a);
    assert_int_equal(sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY, NULL), 0);
    assert_int_equal(sqlite3_prepare_v2(db,
                                        "SELECT reading, study, source, subject, id, quantity,"
                                        " text, value, unit, place, replaced_by FROM reading"
                                        " ORDER BY reading",
                                        -1, &st, NULL),
                     0);
    while (sqlite3_step(st) == SQLITE_ROW) {
        for (int i = 0; i < 11; i++) {
            const char *text = (const char *)sqlite3_column_text(st, i);

            pl_text_add(&t, "%s|", text ? text : "");
        }
        pl_text_put(&t, "\n");
    }
    sqlite3_finalize(st);
    sqlite3_close(db);
    return pl_text_done(&t);
}

static void look_inside(bench *b, pl_book *book)
{
    pl_readings got;
    const pl_study *s = NULL;
    const pl_plan *p = NULL;
    const pl_book_rig *rig = NULL;
    pl_checked checked;

    assert_ok(b, pl_book_check(book, &checked, &b->d));
    assert_int_equal(checked.entries, 2); /* the rigs, and the one study */
    assert_ok(b, pl_book_readings(b->a, book, "tread", &got, &b->d));
    assert_int_equal(got.count, ask_number(book, "SELECT count(*) FROM reading"
                                                 " WHERE ended IS NULL"));
    assert_int_equal(ask_number(book, "SELECT count(*) FROM reading"), 164);
    assert_int_equal(ask_number(book, "SELECT count(*) FROM reading WHERE replaced_by = 4"), 1);
    assert_int_equal(ask_number(book, "SELECT count(*) FROM rig WHERE ended IS NOT NULL"), 1);
    assert_int_equal(ask_number(book, "SELECT count(*) FROM fit"), 2);
    assert_ok(b, pl_book_plan(b->a, book, "tread", 0, &s, &p, &b->d));
    assert_int_equal(p->nspecimen, 12);
    assert_ok(b, pl_book_rig_get(b->a, book, "jack", &rig, &b->d));
    assert_non_null(strstr(rig->text, "7.5 bar"));
}

static void test_read(void **state)
{
    bench *b = *state;
    const char *path = old_book(b), *kept = new_book_path(b);
    const char *before = NULL, *after = NULL;
    char *bytes;
    size_t n;
    pl_book *book = NULL;

    assert_ok(b, pl_file_read(b->a, path, &bytes, &n, &b->d));
    before = pl_digest(b->a, bytes, n);
    assert_ok(b, pl_book_open(b->a, path, PL_BOOK_READ, &book, &b->d));
    look_inside(b, book);
    assert_int_not_equal(sqlite3_exec(book->db, "DELETE FROM fit", 0, 0, 0), 0);
    assert_ok(b, pl_file_read(b->a, path, &bytes, &n, &b->d));
    after = pl_digest(b->a, bytes, n);
    assert_string_equal(before, after); /* whoever reads changes nothing */
    assert_false(pl_file_exists(pl_arena_printf(b->a, "%s.version-1", path)));
    assert_ok(b, pl_book_copy(book, kept, &b->d));
    assert_string_equal(all_readings(b, kept), all_readings(b, path));
}

static void test_write(void **state)
{
    bench *b = *state;
    const char *path = old_book(b);
    const char *copy = pl_arena_printf(b->a, "%s.version-1", path);
    const char *before = all_readings(b, path);
    pl_book *book = NULL, *again = NULL;
    pl_readings r = { 0 };
    pl_source s = make_source(b, "day9.csv", "1", &r);
    pl_taken done;
    pl_checked checked;

    assert_ok(b, pl_book_open(b->a, path, PL_BOOK_WRITE, &book, &b->d));
    assert_finding(b, "a book of an older version");
    look_inside(b, book);
    assert_whole(book);
    assert_string_equal(all_readings(b, path), before);
    assert_string_equal(all_readings(b, copy), before);
    assert_int_equal(ask_number(book, "SELECT count(*) FROM sqlite_schema WHERE name LIKE 'old_%'"),
                     0);
    assert_int_equal(ask_number(book, "PRAGMA foreign_keys"), 1);
    assert_int_equal(ask_number(book, "PRAGMA user_version"), PL_BOOK_VERSION);
    /* and it is a book like any other from here on */
    add_reading(b, &r, "K1", "peak", "2.84", 2840, "kN");
    assert_ok(b, pl_book_take(book, "tread", &s, 1, false, false, &done, &b->d));
    assert_ok(b, pl_book_check(book, &checked, &b->d));
    assert_int_equal(checked.entries, 3);
    /* opened again: no second copy */
    assert_ok(b, pl_book_open(b->a, path, PL_BOOK_WRITE, &again, &b->d));
    assert_false(pl_file_exists(pl_arena_printf(b->a, "%s.version-1-2", path)));
}

/* The tables of an upgraded book are those of a new one. */
static void test_same_tables(void **state)
{
    static const char same[] =
        "SELECT count(*) FROM (SELECT name, replace(sql, '\"', '') FROM sqlite_schema EXCEPT"
        " SELECT name, replace(sql, '\"', '') FROM new.sqlite_schema)";
    bench *b = *state;
    const char *path = old_book(b), *other = new_book_path(b);
    pl_book *book = NULL, *made = NULL;

    assert_ok(b, pl_book_open(b->a, other, PL_BOOK_CREATE, &made, &b->d));
    assert_ok(b, pl_book_open(b->a, path, PL_BOOK_WRITE, &book, &b->d));
    assert_int_equal(
        sqlite3_exec(book->db, pl_arena_printf(b->a, "ATTACH '%s' AS new", other), 0, 0, 0), 0);
    assert_int_equal(ask_number(book, same), 0);
}

static void test_damaged(void **state)
{
    bench *b = *state;
    const char *path = old_book(b);
    pl_book *book = NULL;
    sqlite3 *db = NULL;

    assert_int_equal(sqlite3_open(path, &db), 0);
    assert_int_equal(sqlite3_exec(db, "UPDATE revision SET plan = plan || ' '", 0, 0, 0), 0);
    sqlite3_close(db);
    assert_code(b, PL_EBOOK, pl_book_open(b->a, path, PL_BOOK_WRITE, &book, &b->d));
    assert_finding(b, "revision 1 is not what was frozen");
    assert_int_equal(sqlite3_open(path, &db), 0);
    sqlite3_close(db);
    assert_code(b, PL_EBOOK, pl_book_open(b->a, path, PL_BOOK_READ, &book, &b->d));
}

/* Killed while it is brought over: the old book as it was, or the new one. */
static void test_killed(void **state)
{
    bench *b = *state;
    unsigned kills = getenv("PLATEN_LONG") ? 100 : 12, old = 0;

    for (unsigned i = 0; i < kills; i++) {
        const char *path = old_book(b);
        struct timespec wait = { .tv_nsec = (long)(i + 1) * 60000000 / kills };
        pl_book *book = NULL;
        sqlite3 *db = NULL;
        pl_checked checked;
        pid_t child;

        fflush(NULL);
        child = fork();
        assert_true(child >= 0);
        if (child == 0) {
            pl_arena *a = pl_arena_new(0);
            pl_diags d;

            pl_diags_init(&d, a);
            _exit(pl_book_open(a, path, PL_BOOK_WRITE, &book, &d));
        }
        nanosleep(&wait, NULL);
        kill(child, SIGKILL);
        waitpid(child, NULL, 0);
        assert_int_equal(sqlite3_open(path, &db), 0);
        sqlite3_close(db);
        assert_ok(b, pl_book_open(b->a, path, PL_BOOK_READ, &book, &b->d));
        old += book->path && sqlite3_db_filename(book->db, "main")[0] == 0;
        assert_ok(b, pl_book_check(book, &checked, &b->d));
        assert_int_equal(ask_number(book, "SELECT count(*) FROM reading"), 164);
    }
    print_message("    %u kills, %u left the old book\n", kills, old);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_read),    TEST(test_write),  TEST(test_same_tables),
        TEST(test_damaged), TEST(test_killed),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
