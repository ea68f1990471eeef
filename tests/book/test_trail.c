/* Seals, the trail, marks, kept and withdrawn files: what is changed, added or lost
 * behind the book's back is seen. */
#define SHOP_IN_MEMORY
#include "shop.h"

/* schema.c says the columns twice, as SQL and as a list: here they are held together. */
static void test_columns(void **state)
{
    bench *b = *state;
    pl_book *book = shop_book(b, new_book_path(b));

    for (size_t i = 0; i < pl_book_nall; i++) {
        const pl_table_of *t = &pl_book_all[i];
        sqlite3_stmt *st = NULL;
        bool packed = !strcmp(t->name, "kept");
        int n = 0;

        assert_int_equal(sqlite3_prepare_v2(book->db,
                                            "SELECT name FROM pragma_table_info(?1) ORDER BY cid",
                                            -1, &st, NULL),
                         0);
        sqlite3_bind_text(st, 1, t->name, -1, SQLITE_STATIC);
        while (sqlite3_step(st) == SQLITE_ROW) {
            const char *name = (const char *)sqlite3_column_text(st, 0);

            if (!strcmp(name, "seal") || (packed && !strcmp(name, "packed")))
                continue;
            assert_true(n <= t->nsealed);
            assert_string_equal(name, t->columns[n++]);
        }
        assert_int_equal(n, t->nsealed + 1);
        sqlite3_finalize(st);
    }
    assert_int_equal(ask_number(book, "SELECT count(*) FROM sqlite_schema WHERE type = 'table'"),
                     pl_book_nall);
}

/* The seal as docs/book.md says it, worked out by hand from one row:
 *   python3: t = lambda s: b't' + len(s).to_bytes(8,'big') + s
 *   i = lambda x: b'i' + x.to_bytes(8,'big'); sha256(t(b'study')+i(1)+t(b'stair-laps')+i(1)) */
static void test_seal_by_hand(void **state)
{
    bench *b = *state;
    pl_book *book = shop_book(b, new_book_path(b));

    assert_int_equal(
        ask_number(book, "SELECT count(*) FROM study WHERE seal = '"
                         "f899403ddc6b14027bceeeedf5f1796305393e3797060f1b6c1df1e646c554af'"),
        1);
}

static void test_sums(void **state)
{
    pl_sum sum = { { 0 } };
    char hex[PL_DIGEST_HEX];

    (void)state;
    /* (2^256 - 1) + 2 = 1, and a carry through every part, by hand */
    assert_true(pl_sum_add(&sum, "ffffffffffffffffffffffffffffffff"
                                 "ffffffffffffffffffffffffffffffff"));
    assert_true(pl_sum_add(&sum, "00000000000000000000000000000000"
                                 "00000000000000000000000000000002"));
    pl_sum_text(&sum, hex);
    assert_string_equal(hex, "00000000000000000000000000000000"
                             "00000000000000000000000000000001");
    assert_true(pl_sum_add(&sum, "0123456789abcdef0123456789abcdef"
                                 "fedcba9876543210fffffffffffffffe"));
    pl_sum_text(&sum, hex);
    assert_string_equal(hex, "0123456789abcdef0123456789abcdef"
                             "fedcba9876543210ffffffffffffffff");
    assert_false(pl_sum_add(&sum, "no seal"));
}

/* A day with everything in it: a rig and its successor, two files of which one
 * corrects the other and one is withdrawn, marks, a kept file, a fit. */
static pl_book *full_book(bench *b, const char *path)
{
    pl_book *book = shop_book(b, path);
    pl_readings first = { 0 }, second = { 0 }, third = { 0 };
    pl_source s1 = make_source(b, "day1.csv", "1", &first);
    pl_source s2 = make_source(b, "day2.csv", "1", &second);
    pl_source s3 = make_source(b, "day3.csv", "1", &third);
    pl_rig rig = { .name = "jack", .text = "{}" };
    pl_marking marks[] = {
        { .specimen = "K1", .kind = PL_MARK_EXCLUDED, .key = "", .value = "", .reason = "starved" },
        { .specimen = "K2", .kind = PL_MARK_NOTE, .key = "", .value = "late", .reason = "" },
    };
    pl_withdrawn back;
    pl_taken done;

    assert_ok(b, pl_book_rig_add(book, &rig, false, NULL, &b->d));
    rig.text = "{ }";
    assert_ok(b, pl_book_rig_add(book, &rig, true, NULL, &b->d));
    add_reading(b, &first, "K1", "peak", "2.4", 2400, "kN");
    add_reading(b, &first, "K2", "peak", "2.5", 2500, "kN");
    add_reading(b, &second, "K1", "peak", "2.6", 2600, "kN");
    add_reading(b, &third, "K2", "peak", "2.7", 2700, "kN");
    s1.bytes = "day1.csv 1"; /* what make_source digests */
    s1.length = strlen(s1.bytes);
    assert_ok(b, take_one(b, book, &s1, false, &done));
    assert_int_equal(done.kept, 1);
    assert_ok(b, take_one(b, book, &s2, true, &done));
    assert_ok(b, take_one(b, book, &s3, true, &done));
    assert_ok(b, pl_book_withdraw(book, "stair-laps", "day3.csv", "wrong form", &back, &b->d));
    assert_int_equal(back.ended, 1);
    assert_int_equal(back.restored, 1);
    assert_ok(b, pl_book_mark(book, "stair-laps", marks, 2, &b->d));
    assert_ok(b, add_fit(b, book, 1, "{}"));
    return book;
}

static void test_trail(void **state)
{
    static const char *const wanted[] = { "plan", "rig add",  "rig add", "take", "take",
                                          "take", "withdraw", "mark",    "fit" };
    bench *b = *state;
    const char *path = new_book_path(b);
    const pl_entry *list = NULL;
    pl_checked checked;
    pl_readings got;
    pl_book *book;
    size_t n = 0;

    setenv("PLATEN_WHO", "ada", 1);
    book = full_book(b, path);
    unsetenv("PLATEN_WHO");
    assert_ok(b, pl_book_trail(b->a, book, NULL, &list, &n, &b->d));
    assert_int_equal(n, 9);
    for (size_t i = 0; i < n; i++) {
        assert_int_equal(list[i].entry, i + 1);
        assert_string_equal(list[i].what, wanted[i]);
        assert_string_equal(list[i].who, "ada");
        assert_string_equal(list[i].study, i == 1 || i == 2 ? "" : "stair-laps");
    }
    assert_ok(b, pl_book_check(book, &checked, &b->d));
    assert_int_equal(checked.entries, 9);
    assert_int_equal(checked.kept, 1);
    /* plan 1 + 1 + 6, rigs 2, files 3, readings 2 + 1 + 1 + 1, marks 2, kept 1, fit 1 */
    assert_int_equal(checked.rows, 22);
    assert_ok(b, pl_book_readings(b->a, book, "stair-laps", &got, &b->d));
    assert_int_equal(got.count, 2);
    assert_string_equal(pl_readings_find(&got, PL_ON_SPECIMEN, "K1", "peak")->text, "2.6");
    assert_string_equal(pl_readings_find(&got, PL_ON_SPECIMEN, "K2", "peak")->text, "2.5");
    /* as it was after the first take, and before it */
    pl_book_as_of(book, 4);
    assert_ok(b, pl_book_readings(b->a, book, "stair-laps", &got, &b->d));
    assert_string_equal(pl_readings_find(&got, PL_ON_SPECIMEN, "K1", "peak")->text, "2.4");
    pl_book_as_of(book, 3);
    assert_ok(b, pl_book_readings(b->a, book, "stair-laps", &got, &b->d));
    assert_int_equal(got.count, 0);
}

/* What changes nothing leaves no entry. */
static void test_nothing_new(void **state)
{
    bench *b = *state;
    pl_book *book = full_book(b, new_book_path(b));
    pl_rig rig = { .name = "jack", .text = "{ }" };
    pl_study s;
    unsigned number;
    int64_t last, now;

    assert_ok(b, pl_book_last_entry(book, &last, &b->d));
    make_study(b, "stair-laps", &s);
    assert_ok(b, pl_book_rig_add(book, &rig, false, NULL, &b->d));
    assert_ok(b, pl_book_freeze(book, &s, make_plan(b, "K", 6, 11), &number, &b->d));
    rig.text = "{ \"other\": 1 }";
    assert_code(b, PL_ECONFLICT, pl_book_rig_add(book, &rig, false, NULL, &b->d));
    assert_ok(b, pl_book_last_entry(book, &now, &b->d));
    assert_int_equal(now, last);
}

/* Everything that somebody might do with another program. Each is seen by check,
 * and what the figures rest on also by whoever reads them. */
static void test_tampering(void **state)
{
    static const struct {
        const char *sql, *said;
        bool figures;
    } acts[] = {
        { "UPDATE reading SET value = 2401 WHERE reading = 2", "reading 2 (peak of K2)", true },
        { "UPDATE reading SET text = '2.9' WHERE reading = 3", "reading 3 (peak of K1)", true },
        { "UPDATE reading SET unit = 'N' WHERE reading = 3", "reading 3", true },
        { "UPDATE reading SET id = 'K4' WHERE reading = 3", "reading 3", true },
        { "UPDATE reading SET ended = 5, ended_at = 1 WHERE reading = 3", "reading 3", true },
        { "UPDATE reading SET id = 'K6', ended = NULL, ended_at = NULL WHERE reading = 4",
          "reading 4", true },
        { "DELETE FROM reading WHERE reading = 3", "entry 5 of the trail", true },
        { "UPDATE reading SET reading = 30 WHERE reading = 3", "reading 30", true },
        { "INSERT INTO reading SELECT 9, study, source, subject, 'K5', quantity, text, value, unit,"
          " place, entry, replaced_by, ended_at, ended, seal FROM reading WHERE reading = 3",
          "reading 9", true },
        { "UPDATE mark SET specimen = 'K3' WHERE mark = 1", "mark 1", true },
        { "DELETE FROM mark WHERE mark = 2", "entry 8 of the trail", true },
        { "UPDATE trail SET figures = (SELECT figures FROM trail WHERE entry = 4) WHERE entry = 5",
          "trail 5", true },
        { "UPDATE trail SET words = 'nothing' WHERE entry = 7", "trail 7", true },
        { "DELETE FROM trail WHERE entry = 9", "which no entry of the trail wrote", false },
        { "UPDATE trail SET before = '' WHERE entry = 3", "trail 3", false },
        { "UPDATE source SET reason = NULL, ended = NULL WHERE source = 3", "source 3", false },
        { "UPDATE source SET name = 'day9.csv' WHERE source = 1", "source 1", false },
        { "UPDATE rig SET text = '{}' WHERE rig = 2", "rig 2", false },
        { "UPDATE fit SET answer = '[]'", "fit 1", false },
        { "UPDATE study SET name = 'stairs'", "study 1", false },
        { "DELETE FROM specimen WHERE id = 'K6'", "entry 1 of the trail", false },
        { "UPDATE kept SET packed = x'789c030000000001'", "kept file", false },
        { "UPDATE kept SET length = 5000000000", "kept ", false },
    };
    bench *b = *state;
    const char *path = new_book_path(b), *copy = new_book_path(b);

    full_book(b, path);
    for (size_t i = 0; i < sizeof acts / sizeof *acts; i++) {
        bench *inner = NULL;
        pl_book *book = NULL;
        pl_checked checked;
        pl_readings got;
        sqlite3 *db = NULL;
        pl_code code;

        copy_file(path, copy);
        assert_int_equal(sqlite3_open(copy, &db), 0);
        if (sqlite3_exec(db, acts[i].sql, 0, 0, 0) || !sqlite3_changes(db))
            fail_msg("%s: %s", acts[i].sql, sqlite3_errmsg(db));
        sqlite3_close(db);
        bench_open((void **)&inner);
        assert_ok(inner, pl_book_open(inner->a, copy, PL_BOOK_READ, &book, &inner->d));
        code = pl_book_readings(inner->a, book, "stair-laps", &got, &inner->d);
        if (acts[i].figures && code != PL_EBOOK)
            fail_msg("not seen by who reads: %s", acts[i].sql);
        inner->d.count = 0;
        if (pl_book_check(book, &checked, &inner->d) != PL_EBOOK)
            fail_msg("not seen by check: %s", acts[i].sql);
        assert_finding(inner, acts[i].said);
        bench_close((void **)&inner);
    }
}

/* A trail whose every seal was made anew by somebody who knows how still differs in
 * its last seal; a row that is damaged is not sealed anew by who ends it. */
static void test_damaged_row_is_not_sealed(void **state)
{
    bench *b = *state;
    pl_book *book = full_book(b, new_book_path(b));
    pl_withdrawn back;

    assert_int_equal(
        sqlite3_exec(book->db, "UPDATE reading SET value = 1 WHERE reading = 3", 0, 0, 0), 0);
    assert_code(b, PL_EBOOK, pl_book_withdraw(book, "stair-laps", "day2.csv", "x", &back, &b->d));
    assert_finding(b, "reading 3 (peak of K1) is not what was written");
    assert_int_equal(ask_number(book, "SELECT count(*) FROM reading WHERE ended IS NULL"), 2);
}

/* -------------------------------------------------------------------- files ---- */

static void test_kept(void **state)
{
    bench *b = *state;
    pl_book *book = shop_book(b, new_book_path(b));
    size_t n = 300000, got = 0;
    char *big = PL_NEWN(b->a, n, char), *out = NULL;
    const char *const small[] = { "", "x", "\0\0\0" };
    const size_t lengths[] = { 0, 1, 3 };
    pl_marking m = { .specimen = "K1", .kind = PL_MARK_PHOTO, .key = "p.jpg", .reason = "" };

    for (size_t i = 0; i < n; i++) /* no pattern that packs well */
        big[i] = (char)((i * 2654435761u) >> 13);
    m.bytes = big;
    m.length = n;
    m.value = pl_digest(b->a, big, n);
    assert_ok(b, pl_book_mark(book, "stair-laps", &m, 1, &b->d));
    assert_ok(b, pl_book_mark(book, "stair-laps", &m, 1, &b->d)); /* kept once */
    assert_int_equal(ask_number(book, "SELECT count(*) FROM kept"), 1);
    assert_ok(b, pl_book_kept(b->a, book, m.value, &out, &got, &b->d));
    assert_int_equal(got, n);
    assert_memory_equal(out, big, n);
    for (size_t i = 0; i < 3; i++) {
        m.bytes = small[i];
        m.length = lengths[i];
        m.value = pl_digest(b->a, small[i], lengths[i]);
        assert_ok(b, pl_book_mark(book, "stair-laps", &m, 1, &b->d));
        assert_ok(b, pl_book_kept(b->a, book, m.value, &out, &got, &b->d));
        assert_int_equal(got, lengths[i]);
        assert_memory_equal(out, small[i], lengths[i]);
    }
    assert_ok(b, pl_book_kept(b->a, book, "0000", &out, &got, &b->d));
    assert_null(out);
}

/* Three files say three values of one quantity; taken back in any order, what counts
 * is the last that was not. */
static void test_withdrawn_in_any_order(void **state)
{
    static const unsigned char orders[6][3] = { { 0, 1, 2 }, { 0, 2, 1 }, { 1, 0, 2 },
                                                { 1, 2, 0 }, { 2, 0, 1 }, { 2, 1, 0 } };
    static const char *const names[] = { "day1.csv", "day2.csv", "day3.csv" };
    bench *b = *state;

    for (size_t o = 0; o < 6; o++) {
        pl_book *book = shop_book(b, new_book_path(b));
        bool counts[3] = { true, true, true };
        pl_checked checked;

        for (int i = 0; i < 3; i++) {
            pl_readings r = { 0 };
            pl_source s = make_source(b, names[i], "1", &r);
            pl_taken done;

            add_reading(b, &r, "K1", "peak", pl_arena_printf(b->a, "%d", i), i, "kN");
            assert_ok(b, take_one(b, book, &s, true, &done));
            if (i)
                assert_string_equal(done.changes[0].text, pl_arena_printf(b->a, "%d", i - 1));
        }
        for (int k = 0; k < 3; k++) {
            pl_withdrawn back;
            pl_readings got;
            int last = -1;

            assert_ok(b,
                      pl_book_withdraw(book, "stair-laps", names[orders[o][k]], "x", &back, &b->d));
            counts[orders[o][k]] = false;
            for (int i = 0; i < 3; i++)
                last = counts[i] ? i : last;
            assert_ok(b, pl_book_readings(b->a, book, "stair-laps", &got, &b->d));
            assert_int_equal(got.count, last >= 0);
            if (last >= 0)
                assert_true(got.items[0].value == last);
        }
        assert_ok(b, pl_book_check(book, &checked, &b->d));
        assert_whole(book);
    }
}

/* Two files say the same, in one take or one after the other: when one is taken back the
 * other still counts, and nothing is lost until both are. */
static void test_said_twice(void **state)
{
    static const char *const names[] = { "day1.csv", "whole.csv" };
    bench *b = *state;

    for (int at_once = 0; at_once < 2; at_once++)
        for (int first = 0; first < 2; first++) {
            pl_book *book = shop_book(b, new_book_path(b));
            pl_readings r[2] = { { 0 }, { 0 } }, got;
            pl_source s[2];
            pl_checked checked;
            pl_withdrawn back;
            pl_taken done;

            add_reading(b, &r[0], "K1", "peak", "2.4", 2400, "kN");
            add_reading(b, &r[1], "K1", "peak", "2400", 2400, "N");
            add_reading(b, &r[1], "K2", "peak", "3", 3000, "kN");
            for (int i = 0; i < 2; i++)
                s[i] = make_source(b, names[i], "1", &r[i]);
            assert_ok(b, pl_book_take(book, "stair-laps", s, at_once ? 2 : 1, false, false, &done,
                                      &b->d));
            if (!at_once)
                assert_ok(b, take_one(b, book, &s[1], false, &done));
            assert_int_equal(done.same, 1);
            assert_ok(b, take_one(b, book, &s[1], true, &done)); /* looked at again: no third row */
            assert_int_equal(ask_number(book, "SELECT count(*) FROM reading"), 3);
            assert_ok(b, pl_book_withdraw(book, "stair-laps", names[first], "x", &back, &b->d));
            assert_ok(b, pl_book_readings(b->a, book, "stair-laps", &got, &b->d));
            assert_int_equal(got.count, first ? 1 : 2);
            assert_true(pl_readings_find(&got, PL_ON_SPECIMEN, "K1", "peak")->value == 2400);
            assert_ok(b, pl_book_withdraw(book, "stair-laps", names[!first], "x", &back, &b->d));
            assert_ok(b, pl_book_readings(b->a, book, "stair-laps", &got, &b->d));
            assert_int_equal(got.count, 0);
            assert_ok(b, pl_book_check(book, &checked, &b->d));
            assert_whole(book);
        }
}

/* ---------------------------------------------------------------------- copy ---- */

/* Takes files until somebody lays a file named stop. */
static int write_until(const char *path, const char *stop)
{
    bench *b = calloc(1, sizeof *b);
    pl_book *book = NULL;

    b->a = pl_arena_new(0);
    pl_diags_init(&b->d, b->a);
    if (pl_book_open(b->a, path, PL_BOOK_WRITE, &book, &b->d))
        return 1;
    for (unsigned k = 0; access(stop, F_OK); k++) {
        pl_readings r = { 0 };
        pl_source s;
        pl_taken done;

        for (unsigned i = 0; i < 20; i++)
            add_reading(b, &r, "K1", pl_arena_printf(b->a, "%u.%u", k, i), "1", 1, "");
        s = make_source(b, pl_arena_printf(b->a, "f%u", k), "1", &r);
        if (pl_book_take(book, "stair-laps", &s, 1, false, false, &done, &b->d))
            return 2;
        usleep(3000); /* so that a copy finds its turn */
    }
    return 0;
}

static void test_copy_while_written(void **state)
{
    bench *b = *state;
    const char *path = new_book_path(b), *folder = new_folder(b);
    pl_book *book = shop_book(b, path);
    pid_t child;
    const char *stop = pl_arena_printf(b->a, "%s/stop", folder);
    int status = -1;
    unsigned copies = 0, between = 0;

    fflush(NULL);
    child = fork();
    assert_true(child >= 0);
    if (child == 0)
        _exit(write_until(path, stop));
    while (between < 4 && !waitpid(child, &status, WNOHANG)) {
        const char *to = pl_arena_printf(b->a, "%s/copy-%u", folder, copies++);
        bench *inner = NULL;
        pl_book *copy = NULL;
        pl_checked checked;
        int64_t n;

        bench_open((void **)&inner);
        assert_ok(inner, pl_book_copy(book, to, &inner->d));
        assert_ok(inner, pl_book_open(inner->a, to, PL_BOOK_READ, &copy, &inner->d));
        assert_ok(inner, pl_book_check(copy, &checked, &inner->d));
        n = ask_number(copy, "SELECT count(*) FROM reading");
        assert_int_equal(n % 20, 0);
        between += n > 0;
        bench_close((void **)&inner);
    }
    close(open(stop, O_CREAT | O_WRONLY, 0644));
    if (between >= 4)
        assert_int_equal(waitpid(child, &status, 0), child);
    assert_int_equal(status, 0);
    print_message("    %u copies, %u of them in the middle\n", copies, between);
    assert_true(between >= 4);
    assert_code(b, PL_EWRITE, pl_book_copy(book, path, &b->d));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_columns),
        TEST(test_seal_by_hand),
        TEST(test_sums),
        TEST(test_trail),
        TEST(test_nothing_new),
        TEST(test_tampering),
        TEST(test_damaged_row_is_not_sealed),
        TEST(test_kept),
        TEST(test_withdrawn_in_any_order),
        TEST(test_said_twice),
        TEST(test_copy_while_written),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
