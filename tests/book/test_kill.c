/* The book killed (SIGKILL) at every system call that changes a file: before it,
 * half way through it, and after it. After each the book is whole, and the step is
 * there as a whole or not at all. Random instants: test_safety.c. */
#define SHOP_IN_MEMORY
#include "shop.h"

#include "base/sanitized.h"

/* ------------------------------------------------------------ the system calls ---- */

typedef enum moment { BEFORE, HALF, AFTER } moment;

static long calls, last_call; /* counted; the one to die at, 0: none */
static moment die_when;
static sqlite3_syscall_ptr real_pwrite, real_ftruncate, real_unlink;

static void die(void)
{
    kill(getpid(), SIGKILL);
    for (;;)
        pause();
}

static bool is_last(void)
{
    calls++;
    if (calls == last_call && die_when == BEFORE)
        die();
    return calls == last_call;
}

static ssize_t dying_pwrite(int fd, const void *bytes, size_t n, off_t at)
{
    ssize_t (*real)(int, const void *, size_t,
                    off_t) = (ssize_t(*)(int, const void *, size_t, off_t))real_pwrite;
    bool last = is_last();
    ssize_t done = real(fd, bytes, last && die_when == HALF ? n / 2 : n, at);

    if (last)
        die();
    return done;
}

static int dying_ftruncate(int fd, off_t size)
{
    bool last = is_last();
    int rc = ((int (*)(int, off_t))real_ftruncate)(fd, size);

    if (last)
        die();
    return rc;
}

static int dying_unlink(const char *path)
{
    bool last = is_last();
    int rc = ((int (*)(const char *))real_unlink)(path);

    if (last)
        die();
    return rc;
}

static void replace_call(const char *name, sqlite3_syscall_ptr *real, sqlite3_syscall_ptr mine)
{
    sqlite3_vfs *vfs = sqlite3_vfs_find(NULL);

    *real = vfs->xGetSystemCall(vfs, name);
    if (*real && vfs->xSetSystemCall(vfs, name, mine))
        _exit(97);
}

/* SQLite writes by pwrite or by pwrite64, as it was built. */
static void replace_calls(void)
{
    replace_call("pwrite64", &real_pwrite, (sqlite3_syscall_ptr)dying_pwrite);
    if (!real_pwrite)
        replace_call("pwrite", &real_pwrite, (sqlite3_syscall_ptr)dying_pwrite);
    replace_call("ftruncate", &real_ftruncate, (sqlite3_syscall_ptr)dying_ftruncate);
    replace_call("unlink", &real_unlink, (sqlite3_syscall_ptr)dying_unlink);
    if (!real_pwrite || !real_ftruncate || !real_unlink)
        _exit(96);
}

/* ------------------------------------------------------------------- the steps ---- */

/* Each changes a book that shop_book and two takes have made, or makes one. */
static pl_code step_take(bench *b, pl_book *book)
{
    pl_readings r[4] = { { 0 } };
    pl_source s[4];
    pl_taken done;

    for (unsigned k = 0; k < 4; k++) { /* several files, all of them or none */
        for (unsigned i = 0; i < 15; i++)
            add_reading(b, &r[k], "K3", pl_arena_printf(b->a, "q%u.%u", k, i), "1", 1, "");
        s[k] = make_source(b, pl_arena_printf(b->a, "day3-%u.csv", k), "1", &r[k]);
        s[k].bytes = pl_arena_printf(b->a, "day3-%u.csv 1", k);
        s[k].length = strlen(s[k].bytes);
    }
    return pl_book_take(book, "stair-laps", s, 4, false, false, &done, &b->d);
}

static pl_code step_replace(bench *b, pl_book *book)
{
    pl_readings r = { 0 };
    pl_source s = make_source(b, "day4.csv", "1", &r);
    pl_taken done;

    add_reading(b, &r, "K1", "peak", "3.3", 3300, "kN");
    return take_one(b, book, &s, true, &done);
}

static pl_code step_withdraw(bench *b, pl_book *book)
{
    pl_withdrawn back;

    return pl_book_withdraw(book, "stair-laps", "day2.csv", "wrong", &back, &b->d);
}

static pl_code step_mark(bench *b, pl_book *book)
{
    pl_marking m = {
        .specimen = "K1", .kind = PL_MARK_LOST, .key = "", .value = "", .reason = "x"
    };

    return pl_book_mark(book, "stair-laps", &m, 1, &b->d);
}

static pl_code step_freeze(bench *b, pl_book *book)
{
    pl_study s;
    unsigned number;

    make_study(b, "doors", &s);
    return pl_book_freeze(book, &s, make_plan(b, "M", 40, 3), &number, &b->d);
}

static pl_code step_fit(bench *b, pl_book *book)
{
    return add_fit(b, book, 1, "{}");
}

typedef struct step {
    const char *name;
    pl_code (*run)(bench *b, pl_book *book); /* NULL: opening alone */
    const char *from;                        /* book to begin with; NULL: none */
    int stride;                              /* dies at every call of this many; 0: at each */
} step;

static void make_start(bench *b, const char *path)
{
    pl_book *book = shop_book(b, path);
    pl_readings first = { 0 }, second = { 0 };
    pl_source s1 = make_source(b, "day1.csv", "1", &first);
    pl_source s2 = make_source(b, "day2.csv", "1", &second);
    pl_taken done;

    add_reading(b, &first, "K1", "peak", "2.4", 2400, "kN");
    add_reading(b, &second, "K1", "peak", "2.6", 2600, "kN");
    assert_ok(b, take_one(b, book, &s1, false, &done));
    assert_ok(b, take_one(b, book, &s2, true, &done));
}

/* In a child. 0: done, and how many calls it took is in the pipe. */
static int run_step(const step *s, const char *path, int tell)
{
    bench *b = calloc(1, sizeof *b);
    pl_book *book = NULL;

    b->a = pl_arena_new(0);
    pl_diags_init(&b->d, b->a);
    replace_calls();
    if (pl_book_open(b->a, path, PL_BOOK_CREATE, &book, &b->d) || (s->run && s->run(b, book)))
        return 1;
    return write(tell, &calls, sizeof calls) == sizeof calls ? 0 : 2;
}

/* Runs a step in a child that dies at its n-th call; the number of calls when it lived. */
static long run_until(const step *s, const char *path, long n, moment when)
{
    int ends[2], status;
    long made = 0;
    pid_t child;

    assert_int_equal(pipe(ends), 0);
    fflush(NULL);
    child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        last_call = n;
        die_when = when;
        _exit(run_step(s, path, ends[1]));
    }
    close(ends[1]);
    assert_int_equal(waitpid(child, &status, 0), child);
    if (WIFEXITED(status))
        assert_int_equal(WEXITSTATUS(status), 0);
    else
        assert_int_equal(WTERMSIG(status), SIGKILL);
    if (read(ends[0], &made, sizeof made) != sizeof made)
        made = 0;
    close(ends[0]);
    return made;
}

/* Entries of the trail; the book is whole. -1: there is none yet (may_lack), and the
 * next run can make it. */
static int64_t entries_after(const char *path, bool may_lack)
{
    bench *b = NULL;
    pl_book *book = NULL;
    pl_checked checked = { 0 };
    int64_t entries = -1;

    bench_open((void **)&b);
    if (pl_book_open(b->a, path, PL_BOOK_READ, &book, &b->d) == PL_OK) {
        assert_ok(b, pl_book_check(book, &checked, &b->d));
        entries = (int64_t)checked.entries;
    } else {
        if (!may_lack)
            show_findings(b);
        assert_true(may_lack);
        assert_ok(b, pl_book_open(b->a, path, PL_BOOK_CREATE, &book, &b->d));
    }
    bench_close((void **)&b);
    return entries;
}

static void start_again(const step *s, const char *path)
{
    static const char *const beside[] = { "", "-journal", ".version-1", ".version-1.part",
                                          ".version-1.part-journal" };
    char name[4096];

    for (size_t i = 0; i < sizeof beside / sizeof *beside; i++) {
        snprintf(name, sizeof name, "%s%s", path, beside[i]);
        unlink(name);
    }
    if (s->from)
        copy_file(s->from, path);
}

/* From one call to the next. Under the address sanitizer a process takes some fifty times as
 * long to start and to end: there every fifth, the code being the same. */
static long pace(long stride)
{
    if (getenv("PLATEN_LONG"))
        return 1;
#ifdef PL_SANITIZED
    return 5 * (stride ? stride : 1);
#else
    return stride ? stride : 1;
#endif
}

static unsigned kill_everywhere(bench *b, const step *s)
{
    const char *path = new_book_path(b);
    unsigned kills = 0, whole = 0;
    int64_t before, after;
    long n;

    start_again(s, path);
    before = s->from ? entries_after(path, false) : -1;
    n = run_until(s, path, 0, BEFORE);
    assert_true(n > 0);
    after = entries_after(path, false);
    for (long i = 1; i <= n; i += pace(s->stride))
        for (moment when = BEFORE; when <= AFTER; when++) {
            int64_t now;

            start_again(s, path);
            assert_int_equal(run_until(s, path, i, when), 0);
            now = entries_after(path, !s->from);
            if (now != before && now != after)
                fail_msg("%s: killed at call %ld of %ld: %d entries", s->name, i, n, (int)now);
            whole += now == after;
            kills++;
        }
    print_message("    %s: %u kills at %ld calls, %u after it counted\n", s->name, kills, n, whole);
    return kills;
}

static void test_every_call(void **state)
{
    bench *b = *state;
    const char *start = new_book_path(b), *old = top_path(b->a, "tests/book/version-1.book");
    const step steps[] = {
        { "making a book", NULL, NULL, 0 },         { "freezing a plan", step_freeze, start, 0 },
        { "taking", step_take, start, 0 },          { "replacing", step_replace, start, 0 },
        { "withdrawing", step_withdraw, start, 0 }, { "marking", step_mark, start, 0 },
        { "keeping a fit", step_fit, start, 0 },    { "bringing an old book over", NULL, old, 3 },
    };
    unsigned kills = 0;

    make_start(b, start);
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++)
        kills += kill_everywhere(b, &steps[i]);
    print_message(
        "COUNTED: %u kills (SIGKILL) before, within and after every call that writes; the book "
        "was whole after each\n",
        kills);
}

int main(void)
{
    const struct CMUnitTest tests[] = { TEST(test_every_call) };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
