/* Files read with reasons and written whole or not at all; digests. */
#include "support.h"

#include <dirent.h>
#include <fcntl.h>
#include <signal.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "base/file.h"

static char folder[] = P_tmpdir "/platen-file-XXXXXX";

static int make_folder(void **state)
{
    (void)state;
    return mkdtemp(folder) ? 0 : -1;
}

static int remove_folder(void **state)
{
    char command[sizeof folder + 16];

    (void)state;
    snprintf(command, sizeof command, "rm -rf %s", folder);
    return system(command);
}

static char *in_folder(bench *b, const char *name)
{
    return pl_file_join(b->a, folder, name);
}

static size_t files_in(const char *path)
{
    DIR *dir = opendir(path);
    size_t n = 0;

    while (readdir(dir))
        n++;
    closedir(dir);
    return n - 2;
}

static void test_write_read(void **state)
{
    bench *b = *state;
    char *path = in_folder(b, "a.txt"), *bytes;
    size_t n;
    struct stat st;
    mode_t mask = umask(0);

    umask(mask);
    assert_ok(b, pl_file_write(path, "x\0y", 3, false, &b->d));
    assert_ok(b, pl_file_read(b->a, path, &bytes, &n, &b->d));
    assert_int_equal(n, 3);
    assert_memory_equal(bytes, "x\0y", 4);
    assert_int_equal(stat(path, &st), 0);
    assert_int_equal(st.st_mode & 0777, 0666 & ~mask);

    assert_code(b, PL_EWRITE, pl_file_write(path, "z", 1, false, &b->d));
    assert_finding(b, "a.txt: found a file that is there already, expected a new name\n"
                      "  mend: give another name, or --replace to write over it");
    assert_ok(b, pl_file_read(b->a, path, &bytes, &n, &b->d));
    assert_int_equal(n, 3);

    chmod(path, 0640);
    assert_ok(b, pl_file_write(path, "", 0, true, &b->d));
    assert_ok(b, pl_file_read(b->a, path, &bytes, &n, &b->d));
    assert_int_equal(n, 0);
    assert_string_equal(bytes, "");
    stat(path, &st);
    assert_int_equal(st.st_mode & 0777, 0640); /* kept */
    assert_true(pl_file_exists(path));
    assert_false(pl_file_exists(in_folder(b, "b.txt")));
}

static void test_read_refusals(void **state)
{
    bench *b = *state;
    char *bytes = NULL;
    size_t n;

    assert_code(b, PL_ENOFILE, pl_file_read(b->a, in_folder(b, "none"), &bytes, &n, &b->d));
    assert_finding(b, "none: found no such file, expected a file that can be read");
    assert_code(b, PL_ENOFILE, pl_file_read(b->a, folder, &bytes, &n, &b->d));
    assert_finding(b, "found a folder");
    assert_code(b, PL_ENOFILE, pl_file_read(b->a, "/dev/zero", &bytes, &n, &b->d));
    assert_finding(b, "/dev/zero: found neither a file nor a pipe");
    assert_ok(b, pl_file_write(in_folder(b, "plain"), "", 0, false, &b->d));
    assert_code(b, PL_ENOFILE, pl_file_read(b->a, in_folder(b, "plain/x"), &bytes, &n, &b->d));
    assert_finding(b, "plain/x: found a part of the path that is no folder");
    assert_int_equal(truncate(in_folder(b, "plain"), (off_t)PL_FILE_MOST + 1), 0); /* sparse */
    assert_code(b, PL_ENOFILE, pl_file_read(b->a, in_folder(b, "plain"), &bytes, &n, &b->d));
    assert_finding(b, "plain: found larger than 256 MiB, expected at most 256 MiB");
    assert_null(bytes);
}

static void test_pipe(void **state)
{
    bench *b = *state;
    char *path = in_folder(b, "pipe"), *bytes;
    const size_t length = 200000;
    size_t n;
    int status;
    pid_t child;

    assert_int_equal(mkfifo(path, 0600), 0);
    child = fork();
    if (child == 0) {
        int fd = open(path, O_WRONLY);
        bool fine = true;

        for (size_t i = 0; i < length / 8; i++)
            fine = write(fd, "12345678", 8) == 8 && fine;
        _exit(fine ? 0 : 1);
    }
    assert_ok(b, pl_file_read(b->a, path, &bytes, &n, &b->d));
    waitpid(child, &status, 0);
    assert_int_equal(status, 0);
    assert_int_equal(n, length);
    assert_int_equal(strspn(bytes, "12345678"), length);
}

/* Root may do anything: the test of permissions runs as somebody else. */
static int as_nobody(int (*body)(const char *), const char *path)
{
    int status = 0;
    pid_t child = fork();

    if (child == 0) {
        if (geteuid() == 0 && (setgid(65534) || setuid(65534)))
            _exit(9);
        _exit(body(path));
    }
    waitpid(child, &status, 0);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

static bool says(const pl_diags *d, const char *part)
{
    return d->count == 1 && strstr(d->items[0].found, part);
}

static int denied(const char *path)
{
    pl_arena *a = pl_arena_new(0);
    char *bytes;
    size_t n;
    pl_diags d;

    pl_diags_init(&d, a);
    if (pl_file_read(a, pl_file_join(a, path, "secret"), &bytes, &n, &d) != PL_ENOFILE ||
        !says(&d, "permission denied"))
        return 1;
    pl_diags_init(&d, a);
    if (pl_file_write(pl_file_join(a, path, "new"), "x", 1, false, &d) != PL_EWRITE ||
        !says(&d, "permission denied"))
        return 2;
    pl_diags_init(&d, a);
    if (pl_file_folder(pl_file_join(a, path, "new/er"), &d) != PL_EWRITE ||
        !says(&d, "permission denied"))
        return 3;
    return 0;
}

static void test_permissions(void **state)
{
    bench *b = *state;
    char *closed = in_folder(b, "closed");

    chmod(folder, 0755);
    assert_int_equal(mkdir(closed, 0755), 0);
    assert_ok(b, pl_file_write(pl_file_join(b->a, closed, "secret"), "x", 1, false, &b->d));
    chmod(pl_file_join(b->a, closed, "secret"), 0);
    chmod(closed, 0555);
    assert_int_equal(as_nobody(denied, closed), 0);
    chmod(closed, 0755);
}

/* A full disk, played by a limit on the size of files: the old file stays whole
 * and nothing is left beside it. */
static int full(const char *path)
{
    static char large[1 << 16];
    const struct rlimit little = { 4096, 4096 };
    pl_arena *a = pl_arena_new(0);
    pl_diags d;

    pl_diags_init(&d, a);
    signal(SIGXFSZ, SIG_IGN);
    setrlimit(RLIMIT_FSIZE, &little);
    if (pl_file_write(path, large, sizeof large, true, &d) != PL_EWRITE)
        return 1;
    return says(&d, "larger than files may be here") ? 0 : 2;
}

static void test_full_disk(void **state)
{
    bench *b = *state;
    char *own = in_folder(b, "own"), *path = pl_file_join(b->a, own, "page.html"), *bytes;
    size_t n;

    assert_int_equal(mkdir(own, 0777), 0);
    chmod(own, 0777);
    assert_ok(b, pl_file_write(path, "old", 3, false, &b->d));
    assert_int_equal(as_nobody(full, path), 0);
    assert_ok(b, pl_file_read(b->a, path, &bytes, &n, &b->d));
    assert_string_equal(bytes, "old");
    assert_int_equal(files_in(own), 1);
}

static void test_write_refusals(void **state)
{
    bench *b = *state;
    char *link_path = in_folder(b, "link");

    assert_code(b, PL_EWRITE, pl_file_write(folder, "", 0, true, &b->d));
    assert_finding(b, "found a folder, expected a plain file or a new name");
    assert_int_equal(symlink("/dev/null", link_path), 0);
    assert_code(b, PL_EWRITE, pl_file_write(link_path, "", 0, true, &b->d));
    assert_finding(b, "link: found no plain file");
    assert_code(b, PL_EWRITE, pl_file_write(in_folder(b, "no/x"), "", 0, false, &b->d));
    assert_finding(b, "no/x: found no such file, expected a file that can be written");
}

static void test_folder(void **state)
{
    bench *b = *state;
    char *deep = in_folder(b, "one/two//three/");

    assert_ok(b, pl_file_folder(deep, &b->d));
    assert_ok(b, pl_file_folder(deep, &b->d));
    assert_ok(b, pl_file_write(pl_file_join(b->a, deep, "x"), "", 0, false, &b->d));
    assert_ok(b, pl_file_folder(".", &b->d));
    assert_code(b, PL_EWRITE, pl_file_folder(pl_file_join(b->a, deep, "x"), &b->d));
    assert_finding(b, "found is a file, expected a folder");
    assert_code(b, PL_EWRITE, pl_file_folder(pl_file_join(b->a, deep, "x/y"), &b->d));
    assert_code(b, PL_EWRITE, pl_file_folder("", &b->d));
}

static void test_names(void **state)
{
    bench *b = *state;

    assert_string_equal(pl_file_base("a/b.json"), "b.json");
    assert_string_equal(pl_file_base("b.json"), "b.json");
    assert_string_equal(pl_file_join(b->a, "a", "b"), "a/b");
    assert_string_equal(pl_file_join(b->a, "a/", "b"), "a/b");
    assert_string_equal(pl_file_join(b->a, "", "b"), "b");
}

/* FIPS 180-4 examples (NIST, "SHA256.pdf" of the example values): "abc" and the
 * 448-bit message; the empty message from RFC 6234's test vectors is recomputed
 * with sha256sum of GNU coreutils 9.1. */
static void test_digest(void **state)
{
    bench *b = *state;
    const char *long_text = "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq";
    char *path = in_folder(b, "d"), *hex, first;
    int fd, ends[2];

    assert_string_equal(pl_digest(b->a, "", 0),
                        "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
    assert_string_equal(pl_digest(b->a, "abc", 3),
                        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    assert_ok(b, pl_file_write(path, long_text, strlen(long_text), false, &b->d));
    fd = open(path, O_RDONLY);
    assert_int_equal(read(fd, &first, 1), 1);
    assert_ok(b, pl_digest_fd(b->a, fd, &hex, &b->d));
    assert_string_equal(hex, "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
    assert_int_equal(read(fd, &first, 1), 1);
    assert_int_equal(first, 'a'); /* from the start again */
    close(fd);
    assert_int_equal(pipe(ends), 0);
    assert_code(b, PL_ENOFILE, pl_digest_fd(b->a, ends[0], &hex, &b->d));
    assert_finding(b, "found a pipe");
    close(ends[0]);
    close(ends[1]);
}

static void test_no_memory(void **state)
{
    bench *shared = *state;
    char *path = in_folder(shared, "m");
    pl_code read_code, write_code;
    unsigned long n = 0;

    assert_ok(shared, pl_file_write(path, "text", 4, false, &shared->d));
    do {
        bench b;
        char *bytes, *hex;
        size_t length;

        b.a = pl_arena_new(0);
        pl_diags_init(&b.d, b.a);
        pl_arena_fail_at(++n);
        read_code = pl_file_read(b.a, path, &bytes, &length, &b.d);
        pl_arena_fail_at(n);
        write_code = pl_file_write(path, "text", 4, true, &b.d);
        pl_arena_fail_at(n);
        hex = pl_digest(b.a, "x", 1);
        pl_arena_fail_at(0);
        assert_true(read_code == PL_OK || read_code == PL_ENOMEM);
        assert_true(write_code == PL_OK || write_code == PL_ENOMEM);
        assert_true(n > 1 || !hex);
        pl_arena_free(b.a);
    } while (n < 10 && (read_code || write_code));
    assert_true(n == 3); /* folder and part of a write */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_write_read), TEST(test_read_refusals),  TEST(test_pipe),   TEST(test_permissions),
        TEST(test_full_disk),  TEST(test_write_refusals), TEST(test_folder), TEST(test_names),
        TEST(test_digest),     TEST(test_no_memory),
    };

    return cmocka_run_group_tests_name("file", tests, make_folder, remove_folder);
}
