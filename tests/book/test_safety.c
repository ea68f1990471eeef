/* The book when things go wrong around it: killed at any instant, two writers at
 * once, no room on the disk, no permission, a journal left behind, damage,
 * memory running out. PLATEN_LONG=1 kills 9,000 times instead of 100; at
 * every write: test_kill.c. */
#define SHOP_IN_MEMORY
#include "shop.h"

#include <sys/resource.h>
#include <time.h>

#include "base/stream.h"

#define PER_FILE 8 /* readings in one file of the kill test */

static bool long_run(void)
{
    return getenv("PLATEN_LONG") != NULL;
}

/* ------------------------------------------------------------------- killing ---- */

/* File number k holds PER_FILE readings of specimen K1, quantities "k.0".. */
static void numbered_file(bench *b, unsigned k, pl_readings *r, pl_source *s)
{
    const char *name = pl_arena_printf(b->a, "file-%u.csv", k);

    *r = (pl_readings){ 0 };
    for (unsigned i = 0; i < PER_FILE; i++) {
        pl_reading one = { .subject = PL_ON_SPECIMEN,
                           .id = "K1",
                           .quantity = pl_arena_printf(b->a, "%u.%u", k, i),
                           .text = "1",
                           .value = 1,
                           .unit = "",
                           .where = name };

        if (pl_readings_add(b->a, r, one, &b->d))
            _exit(90);
    }
    *s = make_source(b, name, "1", r);
}

/* Takes files from, from+1, ... for ever; after each, tells the parent so. */
static void take_for_ever(const char *path, unsigned from, int acknowledge)
{
    bench *b = calloc(1, sizeof *b);
    pl_book *book = NULL;

    b->a = pl_arena_new(0);
    pl_diags_init(&b->d, b->a);
    if (pl_book_open(b->a, path, PL_BOOK_WRITE, &book, &b->d))
        _exit(91);
    for (unsigned k = from;; k++) {
        pl_readings r;
        pl_source s;
        pl_taken done;

        numbered_file(b, k, &r, &s);
        if (pl_book_take(book, "stair-laps", &s, 1, false, false, &done, &b->d))
            _exit(92);
        if (write(acknowledge, &k, sizeof k) != sizeof k)
            _exit(93);
    }
}

/* Lets a child take files, kills it after a while; the number of the last file
 * that it said was taken. */
static unsigned kill_once(const char *path, unsigned from, uint32_t wait_us)
{
    struct timespec pause = { .tv_nsec = (long)wait_us * 1000 };
    unsigned last = from - 1, k;
    int ends[2], status;
    pid_t child;

    assert_int_equal(pipe(ends), 0);
    fflush(NULL);
    child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        close(ends[0]);
        take_for_ever(path, from, ends[1]);
    }
    close(ends[1]);
    nanosleep(&pause, NULL);
    assert_int_equal(kill(child, SIGKILL), 0);
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFSIGNALED(status));
    while (read(ends[0], &k, sizeof k) == sizeof k)
        last = k;
    close(ends[0]);
    return last;
}

/* Everything acknowledged is there; of the rest whole files or nothing. Gives
 * the number of files in the book. */
static unsigned look_after_kill(const char *path, unsigned acknowledged)
{
    bench *b = NULL;
    pl_book *book = NULL;
    pl_readings got;
    unsigned files;

    bench_open((void **)&b);
    assert_ok(b, pl_book_open(b->a, path, PL_BOOK_READ, &book, &b->d));
    assert_whole(book);
    assert_ok(b, pl_book_readings(b->a, book, "stair-laps", &got, &b->d));
    files = (unsigned)ask_number(book, "SELECT count(*) FROM source");
    assert_int_equal(got.count, (size_t)files * PER_FILE);
    /* one file at most was written whole but not yet acknowledged */
    assert_true(files == acknowledged || files == acknowledged + 1);
    for (unsigned k = 1; k <= files; k++)
        for (unsigned i = 0; i < PER_FILE; i += PER_FILE - 1)
            assert_non_null(
                pl_readings_find(&got, PL_ON_SPECIMEN, "K1", pl_arena_printf(b->a, "%u.%u", k, i)));
    bench_close((void **)&b);
    return files;
}

/* How often a kill met the book in the middle of a write: its journal is there. */
static void test_killed_while_taking(void **state)
{
    bench *b = *state;
    unsigned kills = long_run() ? 9000 : 100, files = 0, met = 0;
    const char *path = new_book_path(b);
    const char *journal = pl_arena_printf(b->a, "%s-journal", path);
    pl_stream waits;

    pl_stream_init(&waits, 20270301, PL_FOR_TEST, 1);
    shop_book(b, path);
    for (unsigned i = 0; i < kills; i++) {
        unsigned acknowledged = kill_once(path, files + 1, 2000 + pl_stream_below(&waits, 12000));

        met += pl_file_exists(journal);
        files = look_after_kill(path, acknowledged);
        if (files > 400) { /* keeps each look short */
            path = new_book_path(b);
            journal = pl_arena_printf(b->a, "%s-journal", path);
            shop_book(b, path);
            files = 0;
        }
    }
    print_message(
        "COUNTED: %u kills (SIGKILL) at random instants, %u of them in the middle of a write; "
        "all that was acknowledged was there\n",
        kills, met);
    assert_true(met > 0); /* else the test has tested nothing */
}

static void make_for_ever(const char *path)
{
    bench *b = calloc(1, sizeof *b);

    b->a = pl_arena_new(0);
    pl_diags_init(&b->d, b->a);
    shop_book(b, path);
    for (;;)
        pause();
}

/* A book killed while it is made is no book yet, or has its tables and maybe its study. */
static void test_killed_while_made(void **state)
{
    bench *b = *state;
    unsigned kills = long_run() ? 200 : 20;
    pl_stream waits;

    pl_stream_init(&waits, 20270302, PL_FOR_TEST, 2);
    for (unsigned i = 0; i < kills; i++) {
        const char *path = new_book_path(b);
        struct timespec wait = { .tv_nsec = (long)pl_stream_below(&waits, 6000) * 1000 };
        pid_t child;
        pl_book *book = NULL;

        fflush(NULL);
        child = fork();
        assert_true(child >= 0);
        if (child == 0)
            make_for_ever(path);
        nanosleep(&wait, NULL);
        kill(child, SIGKILL);
        assert_int_equal(waitpid(child, NULL, 0), child);
        book = shop_book(b, path); /* the same again gives revision 1 either way */
        assert_whole(book);
        assert_int_equal(ask_number(book, "SELECT count(*) FROM revision"), 1);
        assert_int_equal(ask_number(book, "SELECT count(*) FROM specimen"), 6);
    }
}

/* -------------------------------------------------------------- many writers ---- */

static int take_twelve(const char *path, unsigned from)
{
    bench *b = calloc(1, sizeof *b);
    pl_book *book = NULL;

    b->a = pl_arena_new(0);
    pl_diags_init(&b->d, b->a);
    if (pl_book_open(b->a, path, PL_BOOK_WRITE, &book, &b->d))
        return 1;
    for (unsigned k = from; k < from + 12; k++) {
        pl_readings r;
        pl_source s;
        pl_taken done;

        numbered_file(b, k, &r, &s);
        if (pl_book_take(book, "stair-laps", &s, 1, false, false, &done, &b->d))
            return 2;
        numbered_file(b, 9999, &r, &s); /* all of them bring this one */
        if (pl_book_take(book, "stair-laps", &s, 1, false, false, &done, &b->d))
            return 3;
    }
    return 0;
}

static void many_writers(bench *b, unsigned n)
{
    const char *path = new_book_path(b);
    pl_book *book = shop_book(b, path);
    pl_checked checked;
    pid_t child[8];

    fflush(NULL);
    for (unsigned i = 0; i < n; i++) {
        child[i] = fork();
        assert_true(child[i] >= 0);
        if (child[i] == 0)
            _exit(take_twelve(path, 1 + 100 * i));
    }
    for (unsigned i = 0; i < n; i++) {
        int status;

        assert_int_equal(waitpid(child[i], &status, 0), child[i]);
        assert_int_equal(status, 0);
    }
    /* nothing lost, nothing doubled; one entry of the trail for each file */
    assert_int_equal(ask_number(book, "SELECT count(*) FROM source"), 12 * n + 1);
    assert_int_equal(ask_number(book, "SELECT count(*) FROM reading"), (12 * n + 1) * PER_FILE);
    assert_whole(book);
    assert_ok(b, pl_book_check(book, &checked, &b->d));
    assert_int_equal(checked.entries, 1 + 12 * n + 1);
    print_message("COUNTED: %u writers at once: %u files, each there once\n", n, 12 * n + 1);
}

static void test_two_writers(void **state)
{
    many_writers(*state, 2);
}

static void test_eight_writers(void **state)
{
    many_writers(*state, 8);
}

static void test_busy(void **state)
{
    bench *b = *state;
    const char *path = new_book_path(b);
    pl_book *first = shop_book(b, path), *second = NULL;
    pl_readings r = { 0 };
    pl_source s = make_source(b, "day1.csv", "1", &r);
    pl_taken done;

    add_reading(b, &r, "K1", "peak", "2.84", 2840, "kN");
    assert_ok(b, pl_book_open(b->a, path, PL_BOOK_WRITE, &second, &b->d));
    sqlite3_busy_timeout(second->db, 20); /* 5 s is long for a test */
    assert_ok(b, pl_db_begin(first, true, "testing", &b->d));
    assert_code(b, PL_EBOOK, take_one(b, second, &s, false, &done));
    assert_finding(b, "another program is writing to it");
    assert_ok(b, pl_db_end(first, PL_OK, "testing", &b->d));
    assert_ok(b, take_one(b, second, &s, false, &done));
}

/* ------------------------------------------------------------------ no room ---- */

static void big_file(bench *b, pl_readings *r, pl_source *s)
{
    *r = (pl_readings){ 0 };
    for (int i = 0; i < 3000; i++)
        add_reading(b, r, pl_arena_printf(b->a, "id-%d", i), "peak", "2.84", 2840, "kN");
    *s = make_source(b, "big.csv", "1", r);
}

/* A limit on the size of files stands for the disk's end: EFBIG. */
static int take_with_limit(void *what)
{
    const char *path = what;
    struct rlimit limit = { 200 * 1024, 200 * 1024 };
    bench *b = calloc(1, sizeof *b);
    pl_book *book = NULL;
    pl_readings r;
    pl_source s;
    pl_taken done;
    pl_code code;

    b->a = pl_arena_new(0);
    pl_diags_init(&b->d, b->a);
    big_file(b, &r, &s);
    signal(SIGXFSZ, SIG_IGN);
    if (pl_book_open(b->a, path, PL_BOOK_WRITE, &book, &b->d) || setrlimit(RLIMIT_FSIZE, &limit))
        return 1;
    code = take_one(b, book, &s, false, &done);
    if (code != PL_EBOOK || b->d.count != 1 || !strstr(b->d.items[0].found, "a write failed")) {
        show_findings(b);
        return 2;
    }
    return ask_number(book, "SELECT count(*) FROM reading") == 0 ? 0 : 3;
}

static void test_no_room(void **state)
{
    bench *b = *state;
    const char *path = new_book_path(b);
    pl_book *book = shop_book(b, path);
    pl_readings r;
    pl_source s;
    pl_taken done;
    int status;
    pid_t child;

    fflush(NULL);
    child = fork();
    assert_true(child >= 0);
    if (child == 0)
        _exit(take_with_limit(pl_arena_str(b->a, path)));
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_int_equal(status, 0);
    /* SQLite's own limit stands for ENOSPC: SQLITE_FULL */
    big_file(b, &r, &s);
    ask_number(book, "PRAGMA max_page_count = 30");
    assert_code(b, PL_EBOOK, take_one(b, book, &s, false, &done));
    assert_finding(b, "no space left for it");
    assert_int_equal(ask_number(book, "SELECT count(*) FROM reading"), 0);
    assert_whole(book);
    /* with room again, the same take is taken */
    ask_number(book, "PRAGMA max_page_count = 100000");
    assert_ok(b, take_one(b, book, &s, false, &done));
    assert_int_equal(done.added, 3000);
}

/* -------------------------------------------------------------- permissions ---- */

typedef struct attempt {
    const char *path;
    pl_book_mode mode;
    const char *found; /* NULL: must work */
} attempt;

static int try_open(void *what)
{
    const attempt *t = what;
    bench *b = calloc(1, sizeof *b);
    pl_book *book = NULL;
    const pl_book_study *list = NULL;
    pl_rig rig = { .name = "jack", .text = "{}" };
    size_t n = 0;
    pl_code code;

    b->a = pl_arena_new(0);
    pl_diags_init(&b->d, b->a);
    code = pl_book_open(b->a, t->path, t->mode, &book, &b->d);
    if (!code && t->mode == PL_BOOK_READ)
        code = pl_book_studies(b->a, book, &list, &n, &b->d);
    else if (!code)
        code = pl_book_rig_add(book, &rig, false, NULL, &b->d);
    if (!t->found && !code && (t->mode != PL_BOOK_READ || n == 1))
        return 0;
    if (t->found && code == PL_EBOOK && b->d.count == 1 && strstr(b->d.items[0].found, t->found))
        return 0;
    show_findings(b);
    printf("  %s, wanted \"%s\"\n", pl_code_name(code), t->found ? t->found : "to work");
    fflush(NULL);
    return 1;
}

static void test_permissions(void **state)
{
    bench *b = *state;
    const char *path = new_book_path(b);
    const char *folder = pl_arena_strn(b->a, path, strlen(path) - strlen("/shop.book"));
    const char *absent = pl_file_join(b->a, folder, "absent.book");

    shop_book(b, path);
    /* read-only file in a read-only folder: reading works, writing does not */
    assert_int_equal(chmod(path, 0444), 0);
    assert_int_equal(chmod(folder, 0555), 0);
    as_nobody(try_open, &(attempt){ path, PL_BOOK_READ, NULL });
    as_nobody(try_open, &(attempt){ path, PL_BOOK_WRITE, "a read-only file" });
    as_nobody(try_open, &(attempt){ path, PL_BOOK_CREATE, "a read-only file" });
    as_nobody(try_open, &(attempt){ absent, PL_BOOK_CREATE, "permission denied" });
    /* a file that may be written in a folder that may not: no journal can be made */
    assert_int_equal(chmod(path, 0666), 0);
    as_nobody(try_open, &(attempt){ path, PL_BOOK_WRITE, "a read-only folder" });
    /* a file that may not even be read */
    assert_int_equal(chmod(path, 0), 0);
    as_nobody(try_open, &(attempt){ path, PL_BOOK_READ, "permission denied" });
    assert_int_equal(chmod(path, 0644), 0);
    assert_int_equal(chmod(folder, 0), 0);
    as_nobody(try_open, &(attempt){ path, PL_BOOK_READ, "permission denied" });
    assert_int_equal(chmod(folder, 0777), 0);
    assert_int_equal(chmod(path, 0666), 0);
    as_nobody(try_open, &(attempt){ path, PL_BOOK_WRITE, NULL });
}

/* A book as a run leaves it that died between its first write and its commit:
 * the file and its journal, both copied while a transaction is open that has
 * outgrown its memory. */
static const char *book_with_journal(bench *b)
{
    const char *path = new_book_path(b), *copy = new_book_path(b);
    pl_book *book = shop_book(b, path);
    char *sql = "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 4000)"
                " INSERT INTO rig (name, text, added_at, entry, seal)"
                " SELECT 'rig ' || i, hex(zeroblob(40)), 1, 1, hex(zeroblob(32)) FROM n";

    sqlite3_exec(book->db, "PRAGMA cache_size = 2", 0, 0, 0);
    assert_ok(b, pl_db_begin(book, true, "testing", &b->d));
    assert_int_equal(sqlite3_exec(book->db, sql, 0, 0, 0), 0);
    copy_file(path, copy);
    copy_file(pl_arena_printf(b->a, "%s-journal", path), pl_arena_printf(b->a, "%s-journal", copy));
    assert_code(b, PL_EDATA, pl_db_end(book, PL_EDATA, "testing", &b->d)); /* takes it back */
    return copy;
}

static void test_journal_left_behind(void **state)
{
    bench *b = *state;
    const char *path = book_with_journal(b);
    const char *journal = pl_arena_printf(b->a, "%s-journal", path);
    const char *folder = pl_arena_strn(b->a, path, strlen(path) - strlen("/shop.book"));
    pl_book *book = NULL;

    /* where it cannot be played back: refused with the reason, nothing changed */
    assert_int_equal(chmod(path, 0444), 0);
    assert_int_equal(chmod(journal, 0444), 0);
    assert_int_equal(chmod(folder, 0555), 0);
    as_nobody(try_open, &(attempt){ path, PL_BOOK_READ, "left a journal" });
    assert_true(pl_file_exists(journal));
    /* where it can: reading plays it back */
    assert_int_equal(chmod(folder, 0777), 0);
    assert_int_equal(chmod(path, 0666), 0);
    assert_int_equal(chmod(journal, 0666), 0);
    as_nobody(try_open, &(attempt){ path, PL_BOOK_READ, NULL });
    assert_false(pl_file_exists(journal));
    assert_ok(b, pl_book_open(b->a, path, PL_BOOK_READ, &book, &b->d));
    assert_whole(book);
    assert_int_equal(ask_number(book, "SELECT count(*) FROM rig"), 0);
    assert_int_equal(sqlite3_db_readonly(book->db, "main"), 1);
}

/* --------------------------------------------------------------------- damage ---- */

/* Junk over one page after the other: said, or not met; never a crash. */
static void test_damage(void **state)
{
    bench *b = *state;
    const char *path = new_book_path(b), *copy = new_book_path(b);
    pl_book *book = shop_book(b, path);
    pl_readings r;
    pl_source s;
    pl_taken done;
    int64_t pages;
    unsigned said = 0;

    big_file(b, &r, &s);
    r.count = 200;
    assert_ok(b, take_one(b, book, &s, false, &done));
    pages = ask_number(book, "PRAGMA page_count");
    for (int64_t page = 0; page < pages; page++) {
        bench *inner = NULL;
        pl_book *damaged = NULL;
        pl_readings got = { 0 };
        const pl_revision *revision = NULL;
        char junk[4096];
        int fd;
        pl_code code;

        memset(junk, 0xa5, sizeof junk);
        copy_file(path, copy);
        fd = open(copy, O_WRONLY);
        assert_int_equal(pwrite(fd, junk, sizeof junk, page * 4096), sizeof junk);
        close(fd);
        bench_open((void **)&inner);
        code = pl_book_open(inner->a, copy, PL_BOOK_READ, &damaged, &inner->d);
        if (!code)
            code = pl_book_revision(inner->a, damaged, "stair-laps", 0, &revision, &inner->d);
        if (!code)
            code = pl_book_readings(inner->a, damaged, "stair-laps", &got, &inner->d);
        if (code)
            assert_true(inner->d.count > 0);
        else
            assert_int_equal(got.count, 200);
        said += code == PL_EBOOK;
        bench_close((void **)&inner);
    }
    assert_true(said >= 4); /* first page, tables of study, revision, readings at least */
}

/* --------------------------------------------------------------------- memory ---- */

/* A short day in the shop; everything that allocates is in it. */
typedef struct day {
    pl_study study;
    pl_plan *plan;
    pl_readings readings, others;
    pl_source source, other; /* the second one is withdrawn */
} day;

static void make_day(bench *b, day *t)
{
    make_study(b, "stair-laps", &t->study);
    t->plan = make_plan(b, "K", 3, 11);
    t->readings = (pl_readings){ 0 };
    add_reading(b, &t->readings, "K1", "peak", "2.84", 2840, "kN");
    add_reading(b, &t->readings, "K2", "mode", "wood", NAN, "");
    t->source = make_source(b, "day1.csv", "1", &t->readings);
    t->source.bytes = "day1.csv 1";
    t->source.length = strlen(t->source.bytes);
    t->others = (pl_readings){ 0 };
    add_reading(b, &t->others, "K1", "peak", "2.85", 2850, "kN");
    add_reading(b, &t->others, "K3", "mode", "wood", NAN, "");
    t->other = make_source(b, "day2.csv", "1", &t->others);
}

static pl_code write_day(bench *b, pl_book *book, const day *t)
{
    pl_marking m = {
        .specimen = "K1", .kind = PL_MARK_LOST, .key = "", .value = "", .reason = "x"
    };
    pl_rig rig = { .name = "jack", .text = "{}" };
    pl_withdrawn back;
    pl_taken done;
    unsigned number;
    pl_code code = pl_book_rig_add(book, &rig, false, NULL, &b->d);

    if (!code)
        code = pl_book_freeze(book, &t->study, t->plan, &number, &b->d);
    if (!code)
        code = take_one(b, book, &t->source, false, &done);
    if (!code)
        code = add_fit(b, book, 1, "{}");
    if (!code)
        code = take_one(b, book, &t->other, true, &done);
    if (!code)
        code = pl_book_withdraw(book, "stair-laps", "day2.csv", "x", &back, &b->d);
    return code ? code : pl_book_mark(book, "stair-laps", &m, 1, &b->d);
}

static pl_code read_day(bench *b, pl_book *book)
{
    pl_readings got = { 0 };
    const pl_revision *r = NULL;
    const pl_book_rig *rigs = NULL;
    const pl_book_study *studies = NULL;
    const pl_marking *marks = NULL;
    const char *const *ids = NULL;
    size_t nrig = 0, nstudy = 0, nid = 0, nmark = 0;
    pl_checked checked;
    pl_code code = pl_book_record(b->a, book, "stair-laps", &got, &marks, &nmark, &b->d);

    if (!code)
        code = pl_book_revision(b->a, book, "stair-laps", 0, &r, &b->d);
    if (!code)
        code = pl_book_rig_list(b->a, book, &rigs, &nrig, &b->d);
    if (!code)
        code = pl_book_studies(b->a, book, &studies, &nstudy, &b->d);
    if (!code)
        code = pl_book_ids(b->a, book, &ids, &nid, &b->d);
    if (!code)
        code = pl_book_check(book, &checked, &b->d);
    if (!code)
        assert_true(got.count == 2 && r && nrig == 1 && nstudy == 1 && nid == 3 && nmark == 1 &&
                    checked.entries == 7);
    return code;
}

static pl_code short_day(bench *b, const char *path, const day *t)
{
    pl_book *book = NULL;
    pl_code code = pl_book_open(b->a, path, PL_BOOK_CREATE, &book, &b->d);

    if (!code)
        code = write_day(b, book, t);
    return code ? code : read_day(b, book);
}

/* What a day without enough memory left: a whole book, each step whole or absent. */
static void look_after_day(const char *path)
{
    bench *b = NULL;
    pl_book *book = NULL;
    pl_checked checked;
    int64_t n;

    bench_open((void **)&b);
    assert_ok(b, pl_book_open(b->a, path, PL_BOOK_CREATE, &book, &b->d));
    assert_whole(book);
    n = ask_number(book, "SELECT count(*) FROM specimen");
    assert_true(n == 3 * ask_number(book, "SELECT count(*) FROM revision"));
    n = ask_number(book, "SELECT count(*) FROM reading");
    /* and one that counts again */
    n -= ask_number(book, "SELECT count(*) FROM source WHERE ended IS NOT NULL");
    assert_true(n == 2 * ask_number(book, "SELECT count(*) FROM source"));
    assert_ok(b, pl_book_check(book, &checked, &b->d));
    bench_close((void **)&b);
}

static void test_arena_fails(void **state)
{
    bench *b = *state;
    pl_code code = PL_ENOMEM;
    unsigned long n = 0;
    day t;

    make_day(b, &t);
    while (code != PL_OK) {
        const char *path = new_book_path(b);
        bench *inner = NULL;

        bench_open((void **)&inner);
        pl_arena_fail_at(++n);
        code = short_day(inner, path, &t);
        pl_arena_fail_at(0);
        if (code)
            assert_int_equal(code, PL_ENOMEM);
        bench_close((void **)&inner);
        look_after_day(path);
    }
    print_message("    %lu allocations\n", n - 1);
    assert_true(n > 50);
}

/* The same for what SQLite takes for itself. */
static sqlite3_mem_methods real_memory;
static long memory_left; /* allocations until one fails; 0: none does */

static bool fails_now(void)
{
    return memory_left > 0 && --memory_left == 0;
}

static void *failing_malloc(int n)
{
    return fails_now() ? NULL : real_memory.xMalloc(n);
}

static void *failing_realloc(void *p, int n)
{
    return fails_now() ? NULL : real_memory.xRealloc(p, n);
}

static void test_sqlite_memory_fails(void **state)
{
    bench *b = *state;
    long n = 1, step = long_run() ? 1 : 29;
    sqlite3_mem_methods failing;
    pl_code code = PL_ENOMEM;
    day t;

    make_day(b, &t);
    sqlite3_shutdown(); /* every book of the other tests is closed */
    assert_int_equal(sqlite3_config(SQLITE_CONFIG_GETMALLOC, &real_memory), SQLITE_OK);
    failing = real_memory;
    failing.xMalloc = failing_malloc;
    failing.xRealloc = failing_realloc;
    assert_int_equal(sqlite3_config(SQLITE_CONFIG_MALLOC, &failing), SQLITE_OK);
    assert_int_equal(sqlite3_initialize(), SQLITE_OK);
    for (bool met = true; met; n += step) {
        const char *path = new_book_path(b);
        bench *inner = NULL;

        bench_open((void **)&inner);
        memory_left = n;
        code = short_day(inner, path, &t);
        met = memory_left == 0;
        memory_left = 0;
        /* some of SQLite's own failures it lives with; none is another fault */
        assert_true(code == PL_OK || code == PL_ENOMEM);
        bench_close((void **)&inner);
        look_after_day(path);
    }
    assert_int_equal(code, PL_OK);
    print_message("    about %ld allocations\n", n - step);
    sqlite3_shutdown();
    assert_int_equal(sqlite3_config(SQLITE_CONFIG_MALLOC, &real_memory), SQLITE_OK);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_killed_while_taking),
        TEST(test_killed_while_made),
        TEST(test_two_writers),
        TEST(test_eight_writers),
        TEST(test_busy),
        TEST(test_no_room),
        TEST(test_permissions),
        TEST(test_journal_left_behind),
        TEST(test_damage),
        TEST(test_arena_fails),
        TEST(test_sqlite_memory_fails),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
