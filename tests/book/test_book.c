/* The book in use: opening, rigs, plans, readings, fits. What happens to it when
 * things go wrong around it: test_safety.c. */
#define SHOP_IN_MEMORY
#include "shop.h"

/* ------------------------------------------------------------------- opening ---- */

static void test_create(void **state)
{
    bench *b = *state;
    const char *path = new_book_path(b);
    pl_book *book = NULL, *again = NULL;

    assert_code(b, PL_EBOOK, pl_book_open(b->a, path, PL_BOOK_READ, &book, &b->d));
    assert_finding(b, "no such book");
    assert_code(b, PL_EBOOK, pl_book_open(b->a, path, PL_BOOK_WRITE, &book, &b->d));
    assert_false(pl_file_exists(path));
    assert_ok(b, pl_book_open(b->a, path, PL_BOOK_CREATE, &book, &b->d));
    assert_true(pl_book_created(book));
    assert_string_equal(pl_book_path(book), path);
    assert_ok(b, pl_book_open(b->a, path, PL_BOOK_CREATE, &again, &b->d));
    assert_false(pl_book_created(again));
    assert_whole(again);
}

/* The settings of DESIGN that can be asked back. Values: sqlite.org/pragma.html. */
static void test_settings(void **state)
{
    bench *b = *state;
    pl_book *book = shop_book(b, new_book_path(b));
    int on = 0;

    assert_int_equal(ask_number(book, "PRAGMA application_id"), 0x504C424B);
    assert_int_equal(ask_number(book, "PRAGMA user_version"), 2);
    assert_int_equal(ask_number(book, "PRAGMA synchronous"), 3); /* EXTRA */
    assert_int_equal(ask_number(book, "PRAGMA foreign_keys"), 1);
    assert_int_equal(ask_number(book, "PRAGMA trusted_schema"), 0);
    assert_int_equal(ask_number(book, "PRAGMA busy_timeout"), 5000);
    sqlite3_db_config(book->db, SQLITE_DBCONFIG_DEFENSIVE, -1, &on);
    assert_int_equal(on, 1);
    assert_int_equal(ask_number(book, "SELECT count(*) FROM pragma_journal_mode"
                                      " WHERE journal_mode = 'delete'"),
                     1);
    /* every table is strict, and refuses what its checks refuse */
    assert_int_equal(ask_number(book, "SELECT count(*) FROM pragma_table_list WHERE strict = 0"
                                      " AND schema = 'main' AND name NOT LIKE 'sqlite%'"),
                     0);
    assert_int_not_equal(
        sqlite3_exec(book->db,
                     "INSERT INTO study (name, entry, seal) VALUES ('', 1, hex(zeroblob(32)))", 0,
                     0, 0),
        0);
    assert_int_not_equal(sqlite3_exec(book->db,
                                      "INSERT INTO specimen (id, revision, entry, seal) VALUES "
                                      "('X', 77, 1, hex(zeroblob(32)))",
                                      0, 0, 0),
                         0);
}

static void write_text(const char *path, const char *bytes, size_t n)
{
    FILE *f = fopen(path, "w");

    assert_non_null(f);
    assert_int_equal(fwrite(bytes, 1, n, f), n);
    fclose(f);
}

static void test_no_book(void **state)
{
    bench *b = *state;
    const char *folder = new_folder(b);
    const char *text = pl_file_join(b->a, folder, "note.txt");
    const char *empty = pl_file_join(b->a, folder, "empty.book");
    const char *other = pl_file_join(b->a, folder, "other.db");
    const char *pipe_name = pl_file_join(b->a, folder, "pipe");
    pl_book *book = NULL;
    sqlite3 *db = NULL;

    write_text(text,
               "a page that is long enough to be looked at as a database, but is none: "
               "a list of what the shop needs, and nothing else at all",
               126);
    assert_code(b, PL_EBOOK, pl_book_open(b->a, text, PL_BOOK_READ, &book, &b->d));
    assert_finding(b, "is no book");
    assert_code(b, PL_EBOOK, pl_book_open(b->a, text, PL_BOOK_CREATE, &book, &b->d));
    assert_code(b, PL_EBOOK, pl_book_open(b->a, folder, PL_BOOK_CREATE, &book, &b->d));
    assert_finding(b, "found a folder");
    write_text(empty, "", 0);
    assert_code(b, PL_EBOOK, pl_book_open(b->a, empty, PL_BOOK_WRITE, &book, &b->d));
    assert_finding(b, "an empty file");
    assert_int_equal(mkfifo(pipe_name, 0644), 0);
    assert_code(b, PL_EBOOK, pl_book_open(b->a, pipe_name, PL_BOOK_READ, &book, &b->d));
    assert_finding(b, "no regular file");
    assert_code(b, PL_EBOOK, pl_book_open(b->a, "", PL_BOOK_READ, &book, &b->d));
    /* somebody else's database is left alone */
    assert_int_equal(sqlite3_open(other, &db), 0);
    assert_int_equal(sqlite3_exec(db, "CREATE TABLE t (x)", 0, 0, 0), 0);
    sqlite3_close(db);
    assert_code(b, PL_EBOOK, pl_book_open(b->a, other, PL_BOOK_CREATE, &book, &b->d));
    assert_null(book);
    /* an empty file may become one */
    assert_ok(b, pl_book_open(b->a, empty, PL_BOOK_CREATE, &book, &b->d));
}

static void test_newer(void **state)
{
    bench *b = *state;
    const char *path = new_book_path(b);
    pl_book *book = shop_book(b, path), *again = NULL;

    assert_int_equal(sqlite3_exec(book->db, "PRAGMA user_version = 3", 0, 0, 0), 0);
    for (int mode = PL_BOOK_READ; mode <= PL_BOOK_CREATE; mode++)
        assert_code(b, PL_EBOOK, pl_book_open(b->a, path, (pl_book_mode)mode, &again, &b->d));
    assert_finding(b, "a book of version 3");
    assert_finding(b, "newer platen");
}

/* Names that SQLite would take for something else are plain file names. */
static void test_odd_file_names(void **state)
{
    static const char *const names[] = { ":memory:", "file:x?mode=memory", "a'b;--.book",
                                         "\xe2\x80\xae.book" };
    bench *b = *state;
    const char *folder = new_folder(b);
    char here[4096];

    assert_non_null(getcwd(here, sizeof here));
    assert_int_equal(chdir(folder), 0);
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        pl_book *book = NULL;

        assert_ok(b, pl_book_open(b->a, names[i], PL_BOOK_CREATE, &book, &b->d));
        assert_true(pl_file_exists(names[i]));
    }
    assert_int_equal(chdir(here), 0);
}

/* ---------------------------------------------------------------------- rigs ---- */

static void test_rigs(void **state)
{
    bench *b = *state;
    const char *path = new_book_path(b);
    pl_book *book = NULL, *reader = NULL;
    pl_rig jack = { .name = "jack", .kind = "piston-press", .text = "{ \"bore\": \"50 mm\" }\n" };
    pl_rig weights = { .name = "anvil", .kind = "dead-weight", .text = "{}" };
    const pl_book_rig *list = NULL, *one = NULL;
    size_t n = 0;
    bool added = false;

    assert_ok(b, pl_book_open(b->a, path, PL_BOOK_CREATE, &book, &b->d));
    assert_ok(b, pl_book_rig_add(book, &jack, false, &added, &b->d));
    assert_true(added);
    assert_ok(b, pl_book_rig_add(book, &jack, false, &added, &b->d));
    assert_false(added);
    assert_ok(b, pl_book_rig_add(book, &weights, false, NULL, &b->d));
    jack.text = "{ \"bore\": \"63 mm\" }";
    assert_code(b, PL_ECONFLICT, pl_book_rig_add(book, &jack, false, &added, &b->d));
    assert_finding(b, "a rig \"jack\" with other settings");
    assert_ok(b, pl_book_open(b->a, path, PL_BOOK_READ, &reader, &b->d));
    assert_ok(b, pl_book_rig_get(b->a, reader, "jack", &one, &b->d));
    assert_string_equal(one->text, "{ \"bore\": \"50 mm\" }\n");
    assert_ok(b, pl_book_rig_add(book, &jack, true, &added, &b->d));
    assert_true(added);
    assert_ok(b, pl_book_rig_list(b->a, reader, &list, &n, &b->d));
    assert_int_equal(n, 2);
    assert_string_equal(list[0].name, "anvil");
    assert_string_equal(list[1].text, jack.text);
    assert_true(list[1].added_at > 1700000000);
    assert_int_equal(ask_number(book, "SELECT count(*) FROM rig WHERE name = 'jack'"), 2);
    assert_ok(b, pl_book_rig_get(b->a, reader, "crane", &one, &b->d));
    assert_null(one);
    /* a book opened for reading is not written */
    jack.text = "{ \"bore\": \"80 mm\" }";
    assert_code(b, PL_EBOOK, pl_book_rig_add(reader, &jack, true, &added, &b->d));
}

/* --------------------------------------------------------------------- plans ---- */

static void test_freeze(void **state)
{
    bench *b = *state;
    pl_book *book = shop_book(b, new_book_path(b));
    const pl_revision *r = NULL;
    const pl_book_study *list = NULL;
    const char *const *ids = NULL;
    pl_study s;
    unsigned number = 0;
    size_t n = 0;

    make_study(b, "stair-laps", &s);
    assert_ok(b, pl_book_freeze(book, &s, make_plan(b, "K", 6, 11), &number, &b->d));
    assert_int_equal(number, 1); /* the same again: nothing changed */
    assert_int_equal(ask_number(book, "SELECT count(*) FROM revision"), 1);
    assert_ok(b, pl_book_freeze(book, &s, make_plan(b, "M", 4, 12), &number, &b->d));
    assert_int_equal(number, 2);
    assert_ok(b, pl_book_revision(b->a, book, "stair-laps", 0, &r, &b->d));
    assert_int_equal(r->number, 2);
    assert_int_equal(r->seed, 12);
    assert_string_equal(r->text, shop_study_text);
    assert_int_equal(r->length, sizeof shop_study_text - 1);
    assert_non_null(strstr(r->plan_json, "\"M4\""));
    assert_ok(b, pl_book_revision(b->a, book, "stair-laps", 1, &r, &b->d));
    assert_int_equal(r->seed, 11);
    assert_string_equal(r->program, PL_VERSION);
    assert_non_null(strstr(r->plan_json, "\"revision\":1"));
    assert_ok(b, pl_book_studies(b->a, book, &list, &n, &b->d));
    assert_int_equal(n, 1);
    assert_string_equal(list[0].name, "stair-laps");
    assert_int_equal(list[0].revision, 2);
    assert_int_equal(list[0].specimens, 10);
    assert_int_equal(list[0].readings, 0);
    assert_ok(b, pl_book_ids(b->a, book, &ids, &n, &b->d));
    assert_int_equal(n, 10);
    assert_string_equal(ids[0], "K1");
    assert_true(pl_book_has(book, "stair-laps", &b->d));
    assert_false(pl_book_has(book, "stair", &b->d));
}

/* Study and plan come out of the book as they went in. The study is invented:
 * two woods, one press. */
static void test_plan_back(void **state)
{
    static const char text[] =
        "{ \"study\": \"stair-laps\",\n"
        "  \"question\": { \"aim\": \"difference\", \"over\": \"pressure\",\n"
        "    \"worth_noticing\": \"15 %\" },\n"
        "  \"factors\": [ { \"name\": \"pressure\", \"set_by\": \"press\",\n"
        "    \"levels\": [\"0.3 N/mm2\", \"1.1 N/mm2\"] } ],\n"
        "  \"joint\": { \"kind\": \"lap\", \"width\": \"40 mm\", \"overlap\": \"30 mm\" } }\n";
    bench *b = *state;
    const char *path = new_book_path(b);
    const pl_study *s = NULL, *got_study = NULL;
    const pl_plan *got = NULL;
    pl_plan *p = make_plan(b, "K", 4, 5);
    pl_book *book = NULL;
    unsigned number = 0;

    assert_ok(b, pl_study_parse(b->a, "stair.json", text, sizeof text - 1, &s, &b->d));
    assert_ok(b, pl_book_open(b->a, path, PL_BOOK_CREATE, &book, &b->d));
    assert_ok(b, pl_book_freeze(book, s, p, &number, &b->d));
    assert_ok(b, pl_book_open(b->a, path, PL_BOOK_READ, &book, &b->d));
    assert_ok(b, pl_book_plan(b->a, book, "stair-laps", 0, &got_study, &got, &b->d));
    assert_string_equal(got_study->text, text);
    assert_int_equal(got->revision, 1);
    assert_int_equal(got->seed, 5);
    assert_int_equal(got->nspecimen, 4);
    for (size_t i = 0; i < 4; i++) {
        assert_string_equal(got->specimens[i].id, p->specimens[i].id);
        assert_int_equal(got->specimens[i].break_order, p->specimens[i].break_order);
        assert_int_equal(got->glue_ups[i].treatment, p->glue_ups[i].treatment);
    }
}

static void test_no_such_study(void **state)
{
    bench *b = *state;
    pl_book *book = shop_book(b, new_book_path(b));
    const pl_revision *r = NULL;
    pl_readings readings;

    assert_code(b, PL_EUSAGE, pl_book_revision(b->a, book, "stair-lap", 0, &r, &b->d));
    assert_finding(b, "did you mean \"stair-laps\"?");
    assert_code(b, PL_EUSAGE, pl_book_revision(b->a, book, "stair-laps", 2, &r, &b->d));
    assert_finding(b, "revision 2 of \"stair-laps\"");
    assert_code(b, PL_EUSAGE, pl_book_readings(b->a, book, "doors", &readings, &b->d));
    assert_code(b, PL_EUSAGE, add_fit(b, book, 5, "{}"));
    assert_null(r);
}

/* An id is never issued twice, in no study, and the whole plan is refused. */
static void test_ids_once(void **state)
{
    bench *b = *state;
    pl_book *book = shop_book(b, new_book_path(b));
    pl_plan *p = make_plan(b, "N", 6, 13);
    pl_study s;
    unsigned number = 0;

    make_study(b, "door-laps", &s);
    p->specimens[2].id = "K3";
    p->specimens[4].id = "K5";
    assert_code(b, PL_ECONFLICT, pl_book_freeze(book, &s, p, &number, &b->d));
    assert_finding(b, "specimen id \"K3\" of revision 1 of \"stair-laps\"");
    assert_finding(b, "specimen id \"K5\"");
    assert_int_equal(ask_number(book, "SELECT count(*) FROM study"), 1);
    assert_int_equal(ask_number(book, "SELECT count(*) FROM specimen"), 6);
    assert_int_equal(number, 0);
}

/* Once readings are in, its labels keep their meaning. */
static void test_freeze_after_readings(void **state)
{
    bench *b = *state;
    pl_book *book = shop_book(b, new_book_path(b));
    pl_readings r = { 0 };
    pl_source source = make_source(b, "day1.csv", "1", &r);
    pl_taken done;
    pl_study s;
    unsigned number = 0;

    add_reading(b, &r, "K1", "peak", "2.84", 2840, "kN");
    assert_ok(b, take_one(b, book, &source, false, &done));
    make_study(b, "stair-laps", &s);
    assert_code(b, PL_ECONFLICT,
                pl_book_freeze(book, &s, make_plan(b, "M", 4, 12), &number, &b->d));
    assert_finding(b, "1 readings taken for revision 1");
    assert_ok(b, pl_book_freeze(book, &s, make_plan(b, "K", 6, 11), &number, &b->d));
    assert_int_equal(number, 1);
}

static void test_changed_by_hand(void **state)
{
    bench *b = *state;
    pl_book *book = shop_book(b, new_book_path(b));
    const pl_revision *r = NULL;

    assert_int_equal(
        sqlite3_exec(book->db, "UPDATE revision SET plan = replace(plan, 'K1', 'K9')", 0, 0, 0), 0);
    assert_code(b, PL_EBOOK, pl_book_revision(b->a, book, "stair-laps", 0, &r, &b->d));
    assert_finding(b, "revision 1 is not what was written");
    assert_null(r);
}

/* ------------------------------------------------------------------ readings ---- */

static void test_take(void **state)
{
    bench *b = *state;
    pl_book *book = shop_book(b, new_book_path(b));
    pl_readings peaks = { 0 }, woods = { 0 }, got;
    pl_source sources[2];
    pl_taken done;

    add_reading(b, &peaks, "K1", "peak", "2.84", 2840, "kN");
    add_reading(b, &peaks, "K2", "peak", "3.10", 3100, "kN");
    add_reading(b, &woods, "K1", "wood_failure", "80", 0.8, "%");
    add_reading(b, &woods, "K1", "mode", "wood", NAN, "");
    sources[0] = make_source(b, "day1.csv", "1", &peaks);
    sources[1] = make_source(b, "judge.csv", "1", &woods);
    assert_ok(b, pl_book_take(book, "stair-laps", sources, 2, false, false, &done, &b->d));
    assert_int_equal(done.files, 2);
    assert_int_equal(done.added, 4);
    assert_int_equal(done.same, 0);
    assert_ok(b, pl_book_readings(b->a, book, "stair-laps", &got, &b->d));
    assert_int_equal(got.count, 4);
    assert_string_equal(got.items[1].text, "3.10");
    assert_string_equal(got.items[1].unit, "kN");
    assert_string_equal(got.items[1].where, "day1.csv:3:3");
    assert_true(got.items[1].value == 3100);
    assert_true(isnan(pl_readings_find(&got, PL_ON_SPECIMEN, "K1", "mode")->value));
    /* the same files again */
    assert_ok(b, pl_book_take(book, "stair-laps", sources, 2, false, false, &done, &b->d));
    assert_int_equal(done.files, 0);
    assert_int_equal(done.known_files, 2);
    assert_int_equal(done.added + done.same + done.replaced, 0);
    assert_finding(b, "taken before, as day1.csv on ");
    assert_int_equal(ask_number(book, "SELECT count(*) FROM reading"), 4);
    assert_int_equal(ask_number(book, "SELECT count(*) FROM source"), 2);
}

/* Another file that says the same, in another unit or spelling, is no conflict. */
static void test_same_values(void **state)
{
    bench *b = *state;
    pl_book *book = shop_book(b, new_book_path(b));
    pl_readings first = { 0 }, second = { 0 };
    pl_source s1 = make_source(b, "day1.csv", "1", &first);
    pl_source s2 = make_source(b, "day1b.csv", "1", &second);
    pl_taken done;

    add_reading(b, &first, "K1", "peak", "2.4", 2400, "kN");
    add_reading(b, &second, "K1", "peak", "2400.0", 2400, "N");
    add_reading(b, &second, "K2", "peak", "2500", 2500, "N");
    assert_ok(b, take_one(b, book, &s1, false, &done));
    assert_ok(b, take_one(b, book, &s2, false, &done));
    assert_int_equal(done.same, 1);
    assert_int_equal(done.added, 1);
}

static void test_conflict(void **state)
{
    bench *b = *state;
    pl_book *book = shop_book(b, new_book_path(b));
    pl_readings first = { 0 }, second = { 0 }, got;
    pl_source s1 = make_source(b, "day1.csv", "1", &first);
    pl_source s2 = make_source(b, "day1.csv", "corrected", &second);
    pl_taken done;

    add_reading(b, &first, "K1", "peak", "2.4", 2400, "kN");
    add_reading(b, &first, "K2", "mode", "wood", NAN, "");
    add_reading(b, &second, "K1", "peak", "4.2", 4200, "kN");
    add_reading(b, &second, "K2", "mode", "mixed", NAN, "");
    add_reading(b, &second, "K3", "peak", "2.5", 2500, "kN");
    assert_ok(b, take_one(b, book, &s1, false, &done));
    assert_code(b, PL_ECONFLICT, take_one(b, book, &s2, false, &done));
    assert_finding(b, "day1.csv:2:3: found peak of specimen K1 is 4.2 kN, expected 2.4 kN");
    assert_finding(b, "mode of specimen K2 is \"mixed\"");
    assert_int_equal(ask_number(book, "SELECT count(*) FROM reading"), 2);
    assert_int_equal(ask_number(book, "SELECT count(*) FROM source"), 1);
    /* look says the same and writes as little, even in a book open for reading */
    assert_code(b, PL_ECONFLICT,
                pl_book_take(book, "stair-laps", &s2, 1, false, true, &done, &b->d));
    assert_ok(b, pl_book_take(book, "stair-laps", &s2, 1, true, true, &done, &b->d));
    assert_int_equal(done.replaced, 2);
    assert_int_equal(ask_number(book, "SELECT count(*) FROM reading"), 2);
    /* replace: the new value is in force, the old one stays */
    assert_ok(b, take_one(b, book, &s2, true, &done));
    assert_int_equal(done.added, 1);
    assert_int_equal(done.replaced, 2);
    assert_ok(b, pl_book_readings(b->a, book, "stair-laps", &got, &b->d));
    assert_int_equal(got.count, 3);
    assert_true(pl_readings_find(&got, PL_ON_SPECIMEN, "K1", "peak")->value == 4200);
    assert_int_equal(ask_number(book, "SELECT count(*) FROM reading"), 5);
    assert_int_equal(ask_number(book, "SELECT count(*) FROM reading r JOIN source s ON"
                                      " r.replaced_by = s.source WHERE r.text = '2.4'"),
                     1);
    /* the first file again, without and with replace */
    assert_ok(b, take_one(b, book, &s1, false, &done));
    assert_int_equal(done.known_files, 1);
    assert_ok(b, take_one(b, book, &s1, true, &done));
    assert_int_equal(done.replaced, 2);
    assert_whole(book);
}

static void test_contradiction_in_one_take(void **state)
{
    bench *b = *state;
    pl_book *book = shop_book(b, new_book_path(b));
    pl_readings first = { 0 }, second = { 0 };
    pl_source sources[3];
    pl_taken done;

    add_reading(b, &first, "K1", "peak", "2.4", 2400, "kN");
    add_reading(b, &second, "K1", "peak", "2.6", 2600, "kN");
    sources[0] = make_source(b, "day1.csv", "1", &first);
    sources[1] = make_source(b, "day2.csv", "1", &second);
    for (int replace = 0; replace < 2; replace++)
        assert_code(b, PL_ECONFLICT,
                    pl_book_take(book, "stair-laps", sources, 2, replace, false, &done, &b->d));
    assert_finding(b, "peak of specimen K1 is 2.6 kN, expected 2.4 kN, as in day1.csv:2:3");
    assert_int_equal(ask_number(book, "SELECT count(*) FROM reading"), 0);
    /* the same file named twice counts once */
    sources[1] = sources[0];
    assert_ok(b, pl_book_take(book, "stair-laps", sources, 2, false, false, &done, &b->d));
    assert_int_equal(done.files, 1);
    assert_int_equal(done.known_files, 1);
    assert_int_equal(done.added, 1);
    /* an interval is only ever the same as itself */
    first.count = second.count = 0;
    add_reading(b, &first, "K2", "peak", "2.4..2.6", 2500, "kN");
    add_reading(b, &second, "K2", "peak", "2.5", 2500, "kN");
    sources[0] = make_source(b, "day3.csv", "1", &first);
    sources[1] = make_source(b, "day4.csv", "1", &second);
    assert_code(b, PL_ECONFLICT,
                pl_book_take(book, "stair-laps", sources, 2, false, false, &done, &b->d));
}

static void test_fits(void **state)
{
    bench *b = *state;
    pl_book *book = shop_book(b, new_book_path(b));
    const pl_book_study *list = NULL;
    size_t n;

    assert_ok(b, add_fit(b, book, 1, "{\"format\": 1}"));
    assert_ok(b, pl_book_studies(b->a, book, &list, &n, &b->d));
    assert_int_equal(list[0].fits, 1);
    assert_int_equal(ask_number(book, "SELECT count(*) FROM fit WHERE answer = '{\"format\": 1}'"),
                     1);
}

/* ------------------------------------------------------------- hostile names ---- */

static void test_hostile_texts(void **state)
{
    bench *b = *state;
    char *long_name = PL_NEWN(b->a, 10241, char);
    const char *names[] = { "oak'); DROP TABLE reading;--",
                            "\"quoted\" `ticks` [brackets]",
                            "\xe2\x80\xae"
                            "txet\xe2\x80\xac",
                            "../../etc/passwd",
                            "%s%n?1:x@y$z",
                            "caf\xc3\xa9\tline\nbreak",
                            long_name,
                            "\xff\xfe not utf-8" };
    size_t n = sizeof names / sizeof *names;
    pl_book *book = shop_book(b, new_book_path(b));
    pl_readings r = { 0 }, got;
    pl_taken done;
    pl_study s;
    pl_rig rig = { .kind = "piston-press" };
    const pl_book_rig *kept = NULL;
    const pl_revision *revision = NULL;
    unsigned number;

    memset(long_name, 'x', 10240);
    for (size_t i = 0; i < n; i++) {
        char prefix[2] = { (char)('P' + i), 0 };
        pl_source source;

        rig.name = rig.text = names[i];
        assert_ok(b, pl_book_rig_add(book, &rig, false, NULL, &b->d));
        assert_ok(b, pl_book_rig_get(b->a, book, names[i], &kept, &b->d));
        assert_string_equal(kept->text, names[i]);
        make_study(b, names[i], &s);
        s.text = names[i];
        s.length = strlen(names[i]);
        assert_ok(b, pl_book_freeze(book, &s, make_plan(b, prefix, 2, 1), &number, &b->d));
        assert_ok(b, pl_book_revision(b->a, book, names[i], 1, &revision, &b->d));
        assert_string_equal(revision->text, names[i]);
        r.count = 0;
        add_reading(b, &r, names[i], names[i], names[i], NAN, names[i]);
        source = make_source(b, names[i], "1", &r);
        assert_ok(b, pl_book_take(book, names[i], &source, 1, false, false, &done, &b->d));
        assert_ok(b, pl_book_readings(b->a, book, names[i], &got, &b->d));
        assert_int_equal(got.count, 1);
        assert_string_equal(got.items[0].id, names[i]);
        assert_string_equal(got.items[0].quantity, names[i]);
        assert_string_equal(got.items[0].text, names[i]);
        assert_string_equal(got.items[0].unit, names[i]);
    }
    assert_whole(book);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_create),
        TEST(test_settings),
        TEST(test_no_book),
        TEST(test_newer),
        TEST(test_odd_file_names),
        TEST(test_rigs),
        TEST(test_freeze),
        TEST(test_plan_back),
        TEST(test_no_such_study),
        TEST(test_ids_once),
        TEST(test_freeze_after_readings),
        TEST(test_changed_by_hand),
        TEST(test_take),
        TEST(test_same_values),
        TEST(test_conflict),
        TEST(test_contradiction_in_one_take),
        TEST(test_fits),
        TEST(test_hostile_texts),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
