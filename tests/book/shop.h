/* A small shop for the tests of the book: a study and plan made by hand, files
 * with readings, folders that go away, children that die. */
#ifndef TESTS_BOOK_SHOP_H
#define TESTS_BOOK_SHOP_H

#include "support.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <grp.h>
#include <signal.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "base/file.h"
#include "book/book.h"
#include "book/db.h"

/* ---- folders ---- */

static inline void drop_folder(void *name)
{
    DIR *dir = opendir(name);
    struct dirent *e;

    chmod(name, 0755);
    while (dir && (e = readdir(dir))) {
        char *path = NULL;

        if (!strcmp(e->d_name, ".") || !strcmp(e->d_name, ".."))
            continue;
        if (asprintf(&path, "%s/%s", (char *)name, e->d_name) < 0)
            continue;
        if (unlink(path))
            drop_folder(path);
        free(path);
    }
    if (dir)
        closedir(dir);
    rmdir(name);
}

/* A killed process loses nothing that the system took from it, on a disk or in memory: tests
 * that kill often or write little define SHOP_IN_MEMORY and do not wait for a disk. NULL: the
 * usual place. */
static inline const char *folder_top(void)
{
    const char *top = getenv("TMPDIR");

#ifdef SHOP_IN_MEMORY
    if (!top && !access("/dev/shm", W_OK))
        return "/dev/shm";
#endif
    return top;
}

/* A new folder that anyone may enter; gone when the test's arena goes. Books in
 * it are closed first: what joined an arena later leaves it earlier. */
static inline const char *new_folder(bench *b)
{
    const char *top = folder_top();
    char *name = pl_arena_printf(b->a, "%s/platen-book-XXXXXX", top ? top : "/tmp");

    assert_non_null(mkdtemp(name));
    assert_int_equal(chmod(name, 0755), 0);
    return pl_arena_own(b->a, name, drop_folder);
}

static inline const char *new_book_path(bench *b)
{
    return pl_arena_printf(b->a, "%s/shop.book", new_folder(b));
}

static inline void copy_file(const char *from, const char *to)
{
    char bytes[65536];
    int in = open(from, O_RDONLY), out = open(to, O_WRONLY | O_CREAT | O_TRUNC, 0644);
    ssize_t n;

    assert_true(in >= 0 && out >= 0);
    while ((n = read(in, bytes, sizeof bytes)) > 0)
        assert_int_equal(write(out, bytes, (size_t)n), n);
    close(in);
    close(out);
}

/* ---- a study and its plan ---- */

static const char shop_study_text[] =
    "{\"study\": \"stair-laps\", \"note\": \"invented for the tests\"}\n";

/* One factor by hand with two levels; n specimens, one to a glue-up. */
static inline void make_study(bench *b, const char *name, pl_study *s)
{
    static pl_level levels[] = { { "beech", NAN }, { "larch", NAN } };
    static pl_factor factors[1];

    factors[0] = (pl_factor){ .name = "species", .levels = levels, .nlevel = 2, .unit = "" };
    *s = (pl_study){ .name = name,
                     .title = "",
                     .factors = factors,
                     .nfactor = 1,
                     .text = pl_arena_str(b->a, shop_study_text),
                     .length = sizeof shop_study_text - 1 };
}

static inline pl_plan *make_plan(bench *b, const char *prefix, size_t n, uint64_t seed)
{
    static const int treatments[] = { 0, 1 };
    pl_plan *p = PL_NEW(b->a, pl_plan);

    *p = (pl_plan){ .seed = seed,
                    .chosen = "two woods, by hand",
                    .ntreatment = 2,
                    .treatments = treatments,
                    .nfactor = 1,
                    .nsession = 1,
                    .nglue_up = n,
                    .nspecimen = n,
                    .glue_ups = PL_NEWN(b->a, n, pl_glue_up),
                    .specimens = PL_NEWN(b->a, n, pl_specimen) };
    for (size_t i = 0; i < n; i++) {
        const char *id = pl_arena_printf(b->a, "%s%zu", prefix, i + 1);

        p->glue_ups[i] = (pl_glue_up){ .label = pl_arena_printf(b->a, "G%zu", i + 1),
                                       .treatment = i % 2,
                                       .board = -1,
                                       .session = 1,
                                       .press = -1,
                                       .station = 1,
                                       .rig = -1,
                                       .glue_order = (unsigned)i + 1 };
        p->specimens[i] = (pl_specimen){ .id = id,
                                         .glue_up = i,
                                         .adherends = { pl_arena_printf(b->a, "%s-a", id),
                                                        pl_arena_printf(b->a, "%s-b", id) },
                                         .break_order = (unsigned)i + 1 };
    }
    return p;
}

/* A book with "stair-laps" frozen in it, open for writing. */
static inline pl_book *shop_book(bench *b, const char *path)
{
    pl_book *book = NULL;
    pl_study s;
    unsigned number = 0;

    make_study(b, "stair-laps", &s);
    assert_ok(b, pl_book_open(b->a, path, PL_BOOK_CREATE, &book, &b->d));
    assert_ok(b, pl_book_freeze(book, &s, make_plan(b, "K", 6, 11), &number, &b->d));
    assert_int_equal(number, 1);
    return book;
}

/* ---- files with readings ---- */

static inline void add_reading(bench *b, pl_readings *r, const char *id, const char *quantity,
                               const char *text, double value, const char *unit)
{
    pl_reading one = { .subject = PL_ON_SPECIMEN,
                       .id = id,
                       .quantity = quantity,
                       .text = text,
                       .value = value,
                       .unit = unit,
                       .where = pl_arena_printf(b->a, "day1.csv:%zu:3", r->count + 2) };

    assert_ok(b, pl_readings_add(b->a, r, one, &b->d));
}

/* A source whose digest is that of its name and salt: stands for a file's bytes. */
static inline pl_source make_source(bench *b, const char *name, const char *salt,
                                    const pl_readings *r)
{
    const char *bytes = pl_arena_printf(b->a, "%s %s", name, salt);

    return (pl_source){ .name = name,
                        .digest = pl_digest(b->a, bytes, strlen(bytes)),
                        .kind = "breaks",
                        .rig = "",
                        .rig_text = "",
                        .plugin = "",
                        .readings = r };
}

static inline pl_code take_one(bench *b, pl_book *book, const pl_source *s, bool replace,
                               pl_taken *done)
{
    return pl_book_take(book, "stair-laps", s, 1, replace, false, done, &b->d);
}

static inline pl_code add_fit(bench *b, pl_book *book, unsigned revision, const char *answer)
{
    pl_book_fit fit = { .study = "stair-laps", .revision = revision, .answer = answer };

    return pl_book_fit_add(book, &fit, &b->d);
}

/* One number from a plain query; for looking behind the scenes. */
static inline int64_t ask_number(pl_book *book, const char *sql)
{
    sqlite3_stmt *st = NULL;
    int64_t x;

    assert_int_equal(sqlite3_prepare_v2(book->db, sql, -1, &st, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(st), SQLITE_ROW);
    x = sqlite3_column_int64(st, 0);
    sqlite3_finalize(st);
    return x;
}

static inline void assert_whole(pl_book *book)
{
    sqlite3_stmt *st = NULL;

    assert_int_equal(sqlite3_prepare_v2(book->db, "PRAGMA integrity_check", -1, &st, NULL), 0);
    assert_int_equal(sqlite3_step(st), SQLITE_ROW);
    assert_string_equal((const char *)sqlite3_column_text(st, 0), "ok");
    sqlite3_finalize(st);
    assert_int_equal(sqlite3_prepare_v2(book->db, "PRAGMA foreign_key_check", -1, &st, NULL), 0);
    assert_int_equal(sqlite3_step(st), SQLITE_DONE);
    sqlite3_finalize(st);
}

/* ---- children ---- */

/* Runs body in a child that may do nothing that others may not: root becomes
 * nobody, and it is an error if that does not work. The child must not use
 * cmocka's asserts: it says what went wrong and returns other than 0. */
static inline void as_nobody(int (*body)(void *), void *what)
{
    pid_t child;
    int status = 0;

    fflush(NULL);
    child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        if (geteuid() == 0 && (setgroups(0, NULL) || setgid(65534) || setuid(65534)))
            _exit(99);
        if (geteuid() == 0 || setuid(0) == 0)
            _exit(98);
        _exit(body(what));
    }
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFEXITED(status));
    if (WEXITSTATUS(status) >= 98)
        fail_msg("cannot become an unprivileged user");
    assert_int_equal(WEXITSTATUS(status), 0);
}

#endif
