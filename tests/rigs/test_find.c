/* Where plugins are looked for, and what is refused there: owner, mode, links,
 * names. Modes are looked at, so that it makes no difference that root may do
 * anything. */
#include "shop.h"

#include <pwd.h>
#include <signal.h>
#include <sys/wait.h>

#include "rigs/find.h"

/* A copy of a plugin, written by us alone. */
static const char *put_plugin(bench *b, const char *folder, const char *name)
{
    const char *from = build_path(b->a, "plugins/load-cell.so");
    const char *to = pl_arena_printf(b->a, "%s/%s", folder, name);

    assert_int_equal(system(pl_arena_printf(b->a, "cp %s %s && chmod 644 %s", from, to, to)), 0);
    return to;
}

static void drop(bench *b, const char *folder)
{
    assert_int_equal(system(pl_arena_printf(b->a, "rm -r %s", folder)), 0);
}

static pl_code look(bench *b, const char *folders, const char *name, pl_plugin_file *out)
{
    setenv("PLATEN_PLUGINS", folders, 1);
    return pl_find_plugin(b->a, name, out, &b->d);
}

static void test_found_in_order(void **state)
{
    bench *b = *state;
    const char *one = temp_folder(b->a), *two = temp_folder(b->a);
    pl_plugin_file f;

    put_plugin(b, two, "load-cell.so");
    assert_ok(b, look(b, pl_arena_printf(b->a, "%s:%s", one, two), "load-cell", &f));
    assert_string_equal(f.path, pl_arena_printf(b->a, "%s/load-cell.so", two));
    put_plugin(b, one, "load-cell.so");
    assert_ok(b, look(b, pl_arena_printf(b->a, "%s:%s", one, two), "load-cell", &f));
    assert_string_equal(f.path, pl_arena_printf(b->a, "%s/load-cell.so", one));
    assert_ok(b, look(b, pl_arena_printf(b->a, "here:%s", one), "load-cell", &f));
    assert_finding(b, "PLATEN_PLUGINS: advice: found here, expected a path from the root");
    drop(b, one);
    drop(b, two);
}

static void test_users_folder(void **state)
{
    bench *b = *state;
    const char *home = temp_folder(b->a);
    const char *folder = pl_arena_printf(b->a, "%s/.local/lib/platen/plugins", home);
    pl_plugin_file f;

    assert_int_equal(system(pl_arena_printf(b->a, "umask 022; mkdir -p %s", folder)), 0);
    put_plugin(b, folder, "mine.so");
    setenv("HOME", home, 1);
    unsetenv("XDG_DATA_HOME");
    assert_ok(b, look(b, "", "mine", &f));
    assert_string_equal(f.path, pl_arena_printf(b->a, "%s/mine.so", folder));
    drop(b, home);
}

static void refused(bench *b, const char *folder, const char *why)
{
    pl_plugin_file f;
    size_t before = b->d.count;

    assert_code(b, PL_EPLUGIN, look(b, folder, "load-cell", &f));
    assert_int_equal(b->d.count, before + 1);
    if (!strstr(b->d.items[before].found, why))
        fail_msg("wanted \"%s\" in %s", why, b->d.items[before].found);
}

static void test_what_others_may_write_is_refused(void **state)
{
    bench *b = *state;
    const char *folder = temp_folder(b->a), *file = put_plugin(b, folder, "load-cell.so");
    pl_plugin_file f;

    assert_ok(b, look(b, folder, "load-cell", &f));
    chmod(file, 0646);
    refused(b, folder, "load-cell.so\" may be written by everyone");
    chmod(file, 0644);
    chmod(folder, 0757);
    refused(b, folder, "may be written by everyone");
    chmod(folder, 0755);
    assert_true(chown(file, (uid_t)-1, 12345) == 0 || geteuid() != 0);
    chmod(file, 0664);
    refused(b, folder, "may be written by its group");
    drop(b, folder);
}

static void test_sticky_own_folder_is_refused(void **state)
{
    bench *b = *state;
    const char *folder = temp_folder(b->a);

    put_plugin(b, folder, "load-cell.so");
    chmod(folder, 01777);
    refused(b, folder, "may be written by everyone");
    drop(b, folder);
}

static void test_folder_above_is_looked_at(void **state)
{
    bench *b = *state;
    const char *top = temp_folder(b->a), *folder = pl_arena_printf(b->a, "%s/in", top);

    assert_int_equal(mkdir(folder, 0755), 0);
    put_plugin(b, folder, "load-cell.so");
    chmod(top, 0777);
    refused(b, folder, "may be written by everyone");
    drop(b, top);
}

static void test_link_target_is_looked_at(void **state)
{
    bench *b = *state;
    const char *folder = temp_folder(b->a), *open_to_all = temp_folder(b->a);
    const char *file = put_plugin(b, open_to_all, "other.so");
    pl_plugin_file f;

    assert_int_equal(symlink(file, pl_arena_printf(b->a, "%s/load-cell.so", folder)), 0);
    assert_ok(b, look(b, folder, "load-cell", &f));
    chmod(open_to_all, 0777);
    refused(b, folder, "may be written by everyone");
    /* and so is the folder of the link */
    chmod(open_to_all, 0755);
    assert_ok(b, look(b, folder, "load-cell", &f));
    chmod(folder, 0777);
    refused(b, folder, "may be written by everyone");
    drop(b, folder);
    drop(b, open_to_all);
}

/* A folder of plugins may be a link itself; what counts is where it leads. */
static void test_folder_that_is_a_link(void **state)
{
    bench *b = *state;
    const char *folder = temp_folder(b->a), *link = pl_arena_printf(b->a, "%s-link", folder);
    pl_plugin_file f;

    put_plugin(b, folder, "load-cell.so");
    assert_int_equal(symlink(folder, link), 0);
    assert_ok(b, look(b, link, "load-cell", &f));
    chmod(folder, 0777);
    refused(b, link, "may be written by everyone");
    unlink(link);
    drop(b, folder);
}

/* The file that was looked at is the one that is loaded, whatever its path leads to later. */
static void test_swap_after_the_look(void **state)
{
    bench *b = *state;
    const char *folder = temp_folder(b->a), *file = put_plugin(b, folder, "load-cell.so");
    const char *other = put_plugin(b, folder, "other.so");
    struct stat before, after;
    pl_plugin_file f;

    assert_int_equal(stat(file, &before), 0);
    assert_ok(b, look(b, folder, "load-cell", &f));
    assert_int_equal(rename(other, file), 0);
    assert_int_equal(fstat(f.fd, &after), 0);
    assert_int_equal(before.st_ino, after.st_ino);
    drop(b, folder);
}

/* Links swapped to and fro while it is looked for: whatever is opened can be trusted. */
static void test_race_of_links(void **state)
{
    bench *b = *state;
    const char *folder = temp_folder(b->a), *open_to_all = temp_folder(b->a);
    const char *good = put_plugin(b, folder, "good.so"),
               *bad = put_plugin(b, open_to_all, "bad.so");
    const char *link = pl_arena_printf(b->a, "%s/load-cell.so", folder);
    const char *fresh = pl_arena_printf(b->a, "%s/fresh", folder);
    size_t opened = 0, tries = 0;
    struct stat want, got;
    pid_t pid, parent = getpid();

    assert_int_equal(symlink(good, link), 0);
    assert_int_equal(stat(good, &want), 0);
    chmod(open_to_all, 0777);
    setenv("PLATEN_PLUGINS", folder, 1);
    fflush(NULL);
    pid = fork();
    for (int i = 0; pid == 0 && getppid() == parent; i++) /* until it is killed */
        if (symlink(i % 2 ? good : bad, fresh) != 0 || rename(fresh, link) != 0)
            unlink(fresh);
    if (pid == 0)
        _exit(0);
    /* on a busy machine the other process may come late: until both were met */
    for (; tries < 2000 || ((!opened || opened == tries) && tries < 2000000); tries++) {
        pl_arena *a = pl_arena_new(0);
        pl_plugin_file f;
        pl_diags d;

        pl_diags_init(&d, a);
        if (pl_find_plugin(a, "load-cell", &f, &d) == PL_OK) {
            opened++;
            assert_int_equal(fstat(f.fd, &got), 0);
            assert_int_equal(got.st_ino, want.st_ino);
        }
        pl_arena_free(a);
    }
    kill(pid, SIGKILL);
    assert_int_equal(waitpid(pid, NULL, 0), pid);
    assert_in_range(opened, 1, tries - 1); /* both were met */
    drop(b, folder);
    drop(b, open_to_all);
}

static void test_another_users_file_is_refused(void **state)
{
    bench *b = *state;
    const struct passwd *nobody = getpwnam("nobody");
    const char *folder = temp_folder(b->a), *file = put_plugin(b, folder, "load-cell.so");

    if (geteuid() != 0 || !nobody) {
        printf("SKIPPED: only root can give a file away\n");
        drop(b, folder);
        return;
    }
    assert_int_equal(chown(file, nobody->pw_uid, nobody->pw_gid), 0);
    refused(b, folder, "belongs to another user");
    drop(b, folder);
}

static void test_no_regular_file(void **state)
{
    bench *b = *state;
    const char *folder = temp_folder(b->a);

    assert_int_equal(mkfifo(pl_arena_printf(b->a, "%s/load-cell.so", folder), 0600), 0);
    refused(b, folder, "is no regular file");
    drop(b, folder);
}

static void test_names_cannot_escape(void **state)
{
    bench *b = *state;
    static const char *const names[] = { "../load-cell", "a/b", "", ".", "..", "Load", "a.so" };
    const char *folder = temp_folder(b->a), *in = pl_arena_printf(b->a, "%s/in", folder);
    pl_plugin_file f;

    put_plugin(b, folder, "load-cell.so");
    assert_int_equal(mkdir(in, 0755), 0);
    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        assert_code(b, PL_EKEY, look(b, in, names[i], &f));
    drop(b, folder);
}

/* A plugin given by its file comes before all folders, under the same rules; no other way
 * leads out of them. */
static void test_given_by_its_file(void **state)
{
    static pl_arena *lasting; /* what is given stays given until the program ends */
    bench *b = *state;
    const char *folder = temp_folder(b->a), *file = put_plugin(b, folder, "bench-one.so");
    const char *const *names;
    pl_plugin_file f;
    size_t n;

    lasting = pl_arena_new(0);
    assert_code(b, PL_ENOFILE, pl_rigs_plugin(lasting, "no/such-file.so", &b->d));
    assert_code(b, PL_EUSAGE, pl_rigs_plugin(lasting, "no/such-file", &b->d));
    assert_code(b, PL_EUSAGE, pl_rigs_plugin(lasting, "no/Such.so", &b->d));
    assert_code(b, PL_EKEY, look(b, "", "bench-one", &f));
    assert_ok(b, pl_rigs_plugin(lasting, file, &b->d));
    assert_ok(b, look(b, "", "bench-one", &f));
    assert_string_equal(f.path, file);
    assert_code(b, PL_EUSAGE, pl_rigs_plugin(lasting, file, &b->d));
    assert_ok(b, pl_find_names(b->a, &names, &n, &b->d));
    assert_string_equal(names[0], "bench-one");
    chmod(file, 0666);
    assert_code(b, PL_EPLUGIN, look(b, "", "bench-one", &f));
    assert_finding(b, "may be written by everyone");
    drop(b, folder);
}

static void test_list_passes_over_a_bad_folder(void **state)
{
    bench *b = *state;
    const char *good = temp_folder(b->a), *bad = temp_folder(b->a);
    const char *const *names;
    size_t n;
    bool found = false;

    put_plugin(b, good, "zeta.so");
    put_plugin(b, bad, "beta.so");
    put_plugin(b, good, "Not-A-Name.so");
    chmod(bad, 0777);
    setenv("PLATEN_PLUGINS", pl_arena_printf(b->a, "%s:%s", bad, good), 1);
    assert_code(b, PL_EPLUGIN, pl_find_names(b->a, &names, &n, &b->d));
    assert_finding(b, "plugin folder is passed over");
    for (size_t i = 0; i < n; i++) {
        found = found || !strcmp(names[i], "zeta");
        assert_string_not_equal(names[i], "beta");
        assert_string_not_equal(names[i], "Not-A-Name");
    }
    assert_true(found);
    drop(b, good);
    drop(b, bad);
}

static const struct CMUnitTest tests[] = {
    TEST(test_found_in_order),
    TEST(test_users_folder),
    TEST(test_what_others_may_write_is_refused),
    TEST(test_sticky_own_folder_is_refused),
    TEST(test_folder_above_is_looked_at),
    TEST(test_link_target_is_looked_at),
    TEST(test_folder_that_is_a_link),
    TEST(test_swap_after_the_look),
    TEST(test_race_of_links),
    TEST(test_another_users_file_is_refused),
    TEST(test_no_regular_file),
    TEST(test_names_cannot_escape),
    TEST(test_list_passes_over_a_bad_folder),
    TEST(test_given_by_its_file),
};

MAIN_OF_RIGS(tests, "plugins")
