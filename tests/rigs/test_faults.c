/* Plugins that do wrong (tests/faults): each comes back as one finding that names
 * plugin and file, nothing it gave is taken, and no child is left over. */
#include "shop.h"

#include <errno.h>
#include <pwd.h>
#include <signal.h>
#include <sys/prctl.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <time.h>

#define LIMIT_S 0.6
#define LATE_S 2.0 /* behind the limit, at most */

typedef enum how { PRESSING, READING, ALWAYS } how;

static const struct fault {
    const char *name;
    how when;
    const char *says;
} faults[] = {
    { "crash", ALWAYS, "crashed (signal 11, Segmentation fault) while it " },
    { "aborts", ALWAYS, "crashed (signal 6, Aborted)" },
    { "endless", ALWAYS, "did not finish within 0.6 s while it " },
    { "sleeps", ALWAYS, "did not finish within 0.6 s" },
    { "leaves", PRESSING, "ended by itself (exit 0) while it was loaded" },
    { "forks", ALWAYS, "tried what no plugin may do (start a process or thread: clone)" },
    { "threads", ALWAYS, "tried what no plugin may do" }, /* libc blocks signals there */
    { "execs", ALWAYS, "tried what no plugin may do (start a program: execve)" },
    { "writes", PRESSING, "(open a file for writing: openat) while it was loaded" },
    { "removes", ALWAYS, "tried what no plugin may do (remove a file: unlink" },
    { "cuts", ALWAYS, "tried what no plugin may do (cut a file: truncate)" },
    { "kills", ALWAYS, "tried what no plugin may do (send a signal: kill)" },
    { "sockets", ALWAYS, "tried what no plugin may do (open a socket: socket)" },
    { "bomb", ALWAYS, "while it " },
    { "flood", ALWAYS, "while it " },
    { "scribbles", ALWAYS, "gave an answer that cannot be" },
    { "closes", ALWAYS, "ended by itself" },
    { "bad-force", PRESSING, "gave a force or uncertainty that cannot be from set_point" },
    { "falling", PRESSING, "a larger force at a smaller dial reading" },
    { "bad-code", PRESSING, "gave code 77 from set_point" },
    { "bad-parts", PRESSING, "gave parts that cannot be from set_point" },
    { "many-parts", PRESSING, "gave parts that cannot be from set_point" },
    { "bad-peak", READING, "peak is no number" },
    { "bad-time", READING, "time_to_peak below zero" },
    { "bad-id", READING, "a reading that cannot be read" },
    { "twice", READING, "peak of K7M3 twice" },
    { "too-many", READING, "gave more than 4096 readings from one file" },
    { "other-abi", PRESSING, "was built for abi 7, expected 1" },
    { "newer", PRESSING, "it was built for a newer program" },
    { "stride", PRESSING, "setting_size" },
    { "misnamed", PRESSING, "it calls itself \"dead-weight\", its file is \"misnamed.so\"" },
    { "nothing", PRESSING, "has no symbol platen_plugin_entry" },
    { "aims", ALWAYS, "tried what no plugin may do (send a signal: tgkill)" },
    { "handles", ALWAYS, "tried what no plugin may do (take hold of a process: pidfd_open)" },
    { "queues", ALWAYS, "tried what no plugin may do (give work to the kernel: io_uring_setup)" },
    { "unties", ALWAYS, "tried what no plugin may do (change what it is tied to: prctl)" },
    { "hides", ALWAYS, "tried what no plugin may do (make a file: memfd_create)" },
    { "pokes", ALWAYS, "tried what no plugin may do (look into a process: process_vm_writev)" },
    { "raises", ALWAYS, "tried what no plugin may do (change its limits: prlimit64)" },
    { "old-calls", ALWAYS, "tried what no plugin may do" },
    { "wide-calls", ALWAYS, "tried what no plugin may do" },
    { "stops", ALWAYS, "did not finish within 0.6 s" },
    { "deaf", ALWAYS, "tried what no plugin may do" },
    { "takes-over", ALWAYS, "tried what no plugin may do (take over a signal: rt_sigaction)" },
    { "opens", ALWAYS, "tried what no plugin may do (open a file for writing: openat)" },
    { "turns", ALWAYS, "tried what no plugin may do (change its descriptors: dup2)" },
    { "deep", ALWAYS, "crashed (signal 11, Segmentation fault) while it " },
    { "pretends", ALWAYS, "failed and did not say why" },
    { "accuses", ALWAYS, "sent a finding about what a child does not do" },
    { "half", PRESSING, "gave an answer that cannot be: fewer set points than were asked for" },
};

static pl_code press(bench *b, const char *kind)
{
    pl_rig rig = rig_of(b, pl_arena_printf(b->a, "{\"name\": \"r\", \"kind\": \"%s\"}", kind));
    const double force[] = { 100, 101 };
    pl_set_points p;
    pl_code code = pl_rigs_set_points(b->a, &rig, 1, force, 2, 1e-3, &p, &b->d);

    assert_int_equal(p.at[0].can, code == PL_OK);
    if (code)
        assert_string_equal(p.at[0].reason, "its plugin failed");
    return code;
}

static pl_code read_trace(bench *b, const char *kind, pl_readings *out)
{
    static const char text[] = "time [s],force [N]\n0,0\n1,10\n2,20\n3,1\n";
    const char *folder = temp_folder(b->a);
    const char *path = temp_file(b->a, folder, "t.csv", text, sizeof text - 1);
    pl_rig rig = rig_of(b, pl_arena_printf(b->a, "{\"name\": \"r\", \"kind\": \"%s\"}", kind));
    pl_code code = pl_rigs_read(b->a, &rig, path, "AAAA", out, &b->d);

    unlink(path);
    rmdir(folder);
    return code;
}

static double now_s(void)
{
    struct timespec t;

    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static bool child_left(void)
{
    return waitpid(-1, NULL, WNOHANG) != -1 || errno != ECHILD;
}

/* In a folder of its own, with a file that must stay as it is. */
static void provoke(bench *b, const struct fault *f, how when)
{
    pl_readings none = { 0 };
    pl_code code;
    size_t before = b->d.count, refused = 0;
    double began_s = now_s();

    code = when == PRESSING ? press(b, f->name) : read_trace(b, f->name, &none);
    if (code != PL_EPLUGIN)
        print_error("%s:\n", f->name);
    assert_code(b, PL_EPLUGIN, code);
    for (size_t i = before; i < b->d.count; i++) {
        const char *text = pl_diag_text(b->a, &b->d.items[i]);

        refused += b->d.items[i].severity == PL_REFUSED;
        if (!strstr(text, f->says) || !strstr(text, f->name) ||
            !strstr(b->d.items[i].where, pl_arena_printf(b->a, "%s.so", f->name)))
            fail_msg("%s: wanted \"%s\" in\n%s", f->name, f->says, text);
    }
    if (refused != 1) {
        show_findings(b);
        fail_msg("%s: %zu refusals", f->name, refused);
    }
    assert_int_equal(none.count, 0);
    if (now_s() > began_s + LIMIT_S + LATE_S)
        fail_msg("%s: %g s, with a limit of %g s", f->name, now_s() - began_s, LIMIT_S);
    assert_false(child_left());
}

static void provoke_all(bench *b)
{
    static const char text[] = "unharmed";
    char *folder = temp_folder(b->a), left[sizeof text] = "";
    const char *keeps = temp_file(b->a, folder, "platen.book", text, sizeof text);
    FILE *f;

    assert_int_equal(chdir(folder), 0);
    pl_rigs_limit(LIMIT_S);
    for (size_t i = 0; i < sizeof faults / sizeof *faults; i++)
        for (how when = PRESSING; when <= READING; when++)
            if (faults[i].when == when || faults[i].when == ALWAYS)
                provoke(b, &faults[i], when);
    pl_rigs_limit(0);
    assert_int_equal(chdir("/"), 0);
    f = fopen(keeps, "rb");
    assert_non_null(f);
    assert_int_equal(fread(left, 1, sizeof left, f), sizeof left);
    fclose(f);
    assert_string_equal(left, text);
    unlink(keeps);
    assert_int_equal(rmdir(folder), 0); /* nothing else was written there */
}

static void test_each_is_one_finding(void **state)
{
    provoke_all(*state);
}

/* Root may do anything: the same once more as nobody, with copies where nobody may read. */
static void test_as_an_unprivileged_user(void **state)
{
    bench *b = *state;
    const struct passwd *nobody = getpwnam("nobody");
    char *folder = temp_folder(b->a);
    int status;
    pid_t pid;

    if (geteuid() != 0)
        return; /* the test above was that */
    assert_non_null(nobody);
    assert_int_equal(system(pl_arena_printf(b->a, "cp %s/*.so %s && chmod go-w %s/*",
                                            build_path(b->a, "faults"), folder, folder)),
                     0);
    fflush(NULL);
    pid = fork();
    if (pid == 0) {
        if (setgid(nobody->pw_gid) || setuid(nobody->pw_uid) || geteuid() == 0)
            _exit(3);
        setenv("PLATEN_PLUGINS", folder, 1);
        provoke_all(b);
        _exit(0);
    }
    assert_int_equal(waitpid(pid, &status, 0), pid);
    assert_int_equal(system(pl_arena_printf(b->a, "rm -r %s", folder)), 0);
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), 0);
}

/* Several gaps are one report. */
static void test_all_gaps_at_once(void **state)
{
    bench *b = *state;

    assert_code(b, PL_EPLUGIN, press(b, "gaps"));
    assert_int_equal(b->d.count, 1);
    assert_finding(b, "no summary");
    assert_finding(b, "setting 0 has no proper name");
    assert_finding(b, "setting rod has no SI unit");
    assert_finding(b, "setting rod has no range");
    assert_finding(b, "none of set_point, back, rows, bytes");
    assert_finding(b, "dial is no SI unit");
    b->d.count = 0;
    assert_code(b, PL_EPLUGIN, press(b, "gaps-more"));
    assert_int_equal(b->d.count, 1);
    assert_finding(b, "two settings rod");
    assert_finding(b, "flag loud has a preset that is neither 0 nor 1");
    assert_finding(b, "setting bore has unknown flags");
    assert_finding(b, "columns force and load have a name in common");
    assert_finding(b, "column time has unknown flags");
}

/* An older plugin loads; what lies behind its size is not read. */
static void test_older_plugin_loads(void **state)
{
    bench *b = *state;
    pl_rig_kind k;

    assert_ok(b, press(b, "older"));
    assert_ok(b, pl_rigs_kind(b->a, "older", &k, &b->d));
    assert_true(k.presses);
    assert_false(k.reads_files);
}

/* A file that is no table goes to the plugin as it lies there, in several pieces. */
static void test_raw_bytes(void **state)
{
    bench *b = *state;
    const char *folder = temp_folder(b->a), *path;
    static char text[200000];
    pl_rig rig = rig_of(b, "{\"name\": \"r\", \"kind\": \"raw\"}");
    pl_readings r = { 0 };

    for (size_t i = 0; i < sizeof text; i++)
        text[i] = i % 4 == 1 ? 'a' : (char)(i % 251);
    for (size_t i = 0; i < sizeof text; i++)
        text[i] = i % 4 != 1 && text[i] == 'a' ? 'b' : text[i];
    path = temp_file(b->a, folder, "t.bin", text, sizeof text);
    assert_ok(b, pl_rigs_read(b->a, &rig, path, "AAAA", &r, &b->d));
    unlink(path);
    rmdir(folder);
    assert_int_equal(r.count, 1);
    assert_string_equal(r.items[0].quantity, "bytes_of_a");
    assert_rel("count", r.items[0].value, 50000, 0);
}

/* Words of a plugin cannot steer a terminal, nor pass for another finding. */
static void test_escapes_are_taken_out(void **state)
{
    bench *b = *state;
    pl_readings none = { 0 };

    assert_ok(b, read_trace(b, "escapes", &none));
    assert_int_equal(none.count, 1);
    assert_finding(b, "escapes: all ?[2Jwell?refused: ");
    for (size_t i = 0; i < b->d.count; i++) {
        const char *text = pl_diag_text(b->a, &b->d.items[i]);

        assert_null(strchr(text, '\033'));
        assert_null(strstr(text, "\xc2\x9b"));
    }
}

/* What fails without a word fails all the same. */
static void test_quiet_attempts(void **state)
{
    bench *b = *state;
    pl_readings none = { 0 };
    bool second_wall = syscall(SYS_landlock_create_ruleset, NULL, 0, 1) > 0;

    assert_ok(b, press(b, "peeks"));
    assert_code(b, PL_EDATA, read_trace(b, "peeks", &none));
    if (!second_wall)
        printf(
            "SKIPPED: this kernel has no Landlock, so that a plugin can read what its user can\n");
    for (size_t i = 0; i < b->d.count; i++) {
        const char *got = strstr(b->d.items[i].found, "got through");

        if (got && (second_wall || strcmp(got, "got through to the parent") != 0))
            fail_msg("%s", got);
    }
}

/* One bad plugin does not take the good ones with it. */
static void test_others_still_answer(void **state)
{
    bench *b = *state;
    pl_rig rigs[2];
    const double force = 100;
    pl_set_points p;

    rigs[0] = rig_of(b, "{\"name\": \"r\", \"kind\": \"crash\"}");
    rigs[1] = rig_of(b, "{\"name\": \"o\", \"kind\": \"older\"}");
    assert_code(b, PL_EPLUGIN, pl_rigs_set_points(b->a, rigs, 2, &force, 1, 1e-3, &p, &b->d));
    assert_int_equal(p.chosen[0], 1);
    assert_int_equal(b->d.count, 1);
}

static void test_list_goes_on(void **state)
{
    bench *b = *state;
    pl_rig_kinds k;

    pl_rigs_limit(LIMIT_S);
    assert_code(b, PL_EPLUGIN, pl_rigs_kinds(b->a, &k, &b->d));
    pl_rigs_limit(0);
    assert_finding(b, "plugin \"leaves\" ended by itself");
    assert_finding(b, "plugin \"other-abi\" was built for abi 7");
    assert_true(k.count > 10); /* those that do wrong only when asked to press */
}

/* A child dies with its parent. Ours by adoption then, so that we see it end. */
static void test_child_dies_with_parent(void **state)
{
    bench *b = *state;
    int status = 0;
    pid_t parent, orphan = 0;

    assert_int_equal(prctl(PR_SET_CHILD_SUBREAPER, 1, 0, 0, 0), 0);
    fflush(NULL);
    parent = fork();
    if (parent == 0) {
        pl_rigs_limit(30);
        (void)press(b, "sleeps");
        _exit(0);
    }
    usleep(400000);
    kill(parent, SIGKILL);
    assert_int_equal(waitpid(parent, &status, 0), parent);
    for (int i = 0; i < 200 && orphan == 0; i++) {
        usleep(10000);
        orphan = waitpid(-1, &status, WNOHANG);
    }
    assert_true(orphan > 0);
    assert_true(WIFSIGNALED(status) && WTERMSIG(status) == SIGKILL);
    assert_false(child_left());
    (void)prctl(PR_SET_CHILD_SUBREAPER, 0, 0, 0, 0);
}

static const struct CMUnitTest tests[] = {
    TEST(test_each_is_one_finding), TEST(test_as_an_unprivileged_user),
    TEST(test_all_gaps_at_once),    TEST(test_older_plugin_loads),
    TEST(test_raw_bytes),           TEST(test_escapes_are_taken_out),
    TEST(test_quiet_attempts),      TEST(test_others_still_answer),
    TEST(test_list_goes_on),        TEST(test_child_dies_with_parent),
};

MAIN_OF_RIGS(tests, "faults")
