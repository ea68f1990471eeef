/* Files as a whole, safe writing, and digests. What stands in a file is the
 * business of json.c and csv.c. */
#include "base/file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <openssl/evp.h>

#include "base/text.h"

#define CHUNK ((size_t)64 * 1024)

static const char *reason(int error)
{
    switch (error) {
    case ENOENT:
        return "no such file";
    case EISDIR:
        return "a folder";
    case ENOTDIR:
        return "a part of the path that is no folder";
    case EACCES:
    case EPERM:
        return "permission denied";
    case ENOSPC:
    case EDQUOT:
        return "no space left";
    case EFBIG:
        return "larger than files may be here";
    case EROFS:
        return "a read-only file system";
    case EEXIST:
        return "a file that is there already";
    default:
        return strerror(error);
    }
}

static pl_code unreadable(pl_diags *d, const char *path, const char *why)
{
    return pl_fail(d, PL_ENOFILE, path, .found = why, .expected = "a file that can be read");
}

static ssize_t read_some(int fd, char *to, size_t n)
{
    ssize_t got;

    do
        got = read(fd, to, n);
    while (got < 0 && errno == EINTR);
    return got;
}

/* Everything from fd to its end; expected is a guess of its length. */
static pl_code read_all(pl_arena *a, int fd, const char *path, size_t expected, char **bytes,
                        size_t *length, pl_diags *d)
{
    size_t room = expected + 2, used = 0; /* a byte to meet the end, one for the NUL */
    char *buffer = pl_arena_get(a, room, 1);

    for (;;) {
        ssize_t got;

        if (!buffer)
            return pl_nomem(d);
        got = read_some(fd, buffer + used, room - 1 - used);
        if (got < 0)
            return unreadable(d, path, reason(errno));
        if (got == 0)
            break;
        used += (size_t)got;
        if (used > PL_FILE_MOST)
            return pl_fail(d, PL_ENOFILE, path, .found = "larger than 256 MiB",
                           .expected = "at most 256 MiB");
        if (used == room - 1) {
            size_t more = 2 * room < CHUNK ? CHUNK : 2 * room;

            buffer = pl_arena_grow(a, buffer, used, more, 1);
            room = more;
        }
    }
    buffer[used] = '\0';
    *bytes = buffer;
    *length = used;
    return PL_OK;
}

pl_code pl_file_read(pl_arena *a, const char *path, char **bytes, size_t *length, pl_diags *d)
{
    struct stat st;
    pl_code code;
    int fd;

    /* Looked at before it is opened: opening a device or a directory may do
     * things of its own. */
    if (stat(path, &st))
        return unreadable(d, path, reason(errno));
    if (S_ISDIR(st.st_mode))
        return unreadable(d, path, reason(EISDIR));
    if (!S_ISREG(st.st_mode) && !S_ISFIFO(st.st_mode))
        return unreadable(d, path, "neither a file nor a pipe");
    if (S_ISREG(st.st_mode) && (uintmax_t)st.st_size > PL_FILE_MOST)
        return pl_fail(d, PL_ENOFILE, path, .found = "larger than 256 MiB",
                       .expected = "at most 256 MiB");
    fd = open(path, O_RDONLY | O_CLOEXEC);
    if (fd < 0)
        return unreadable(d, path, reason(errno));
    code = read_all(a, fd, path, S_ISREG(st.st_mode) ? (size_t)st.st_size : 0, bytes, length, d);
    close(fd);
    return code;
}

static pl_code unwritable(pl_diags *d, const char *path, int error)
{
    if (error == EEXIST)
        return pl_fail(d, PL_EWRITE, path, .found = "a file that is there already",
                       .expected = "a new name",
                       .mend = "give another name, or --replace to write over it");
    return pl_fail(d, PL_EWRITE, path, .found = reason(error),
                   .expected = "a file that can be written");
}

static char *folder_of(pl_arena *a, const char *path)
{
    const char *base = pl_file_base(path);

    if (base == path)
        return pl_arena_str(a, ".");
    if (base == path + 1)
        return pl_arena_str(a, "/");
    return pl_arena_strn(a, path, (size_t)(base - path) - 1);
}

static int write_all(int fd, const char *bytes, size_t length)
{
    while (length) {
        ssize_t n = write(fd, bytes, length < (1 << 30) ? length : (1 << 30));

        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0)
            return n < 0 ? errno : EIO;
        bytes += n;
        length -= (size_t)n;
    }
    return 0;
}

/* A new file beside the target that nobody else has; its mode follows the
 * umask, which mkstemp's would not. */
static int open_beside(pl_arena *a, const char *folder, const char *base, char **name)
{
    for (unsigned tries = 0; tries < 100; tries++) {
        int fd;

        *name = pl_arena_printf(a, "%s/.%.200s.%ld-%u.part", folder, base, (long)getpid(), tries);
        if (!*name)
            return -ENOMEM;
        fd = open(*name, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
        if (fd >= 0 || errno != EEXIST)
            return fd >= 0 ? fd : -errno;
    }
    return -EEXIST;
}

static int put_in_place(const char *from, const char *to, bool replace)
{
    if (replace)
        return rename(from, to) ? errno : 0;
    if (renameat2(AT_FDCWD, from, AT_FDCWD, to, RENAME_NOREPLACE) == 0)
        return 0;
    if (errno != EINVAL && errno != ENOSYS)
        return errno;
    /* A file system that knows no such rename; a hard link refuses as well. */
    if (link(from, to))
        return errno;
    unlink(from);
    return 0;
}

/* The new name is durable only once the folder is. File systems that cannot
 * sync a folder say EINVAL. */
static int sync_folder(const char *folder)
{
    int fd = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    int error = 0;

    if (fd < 0)
        return errno == EACCES ? 0 : errno; /* a folder one may write but not read */
    if (fsync(fd) && errno != EINVAL)
        error = errno;
    close(fd);
    return error;
}

static int write_beside(int fd, const struct stat *old, const char *bytes, size_t length)
{
    int error = write_all(fd, bytes, length);

    if (!error && old && fchmod(fd, old->st_mode & 07777))
        error = errno;
    if (!error && fsync(fd))
        error = errno;
    if (close(fd) && !error)
        error = errno;
    return error;
}

pl_code pl_file_write(const char *path, const char *bytes, size_t length, bool replace, pl_diags *d)
{
    char *folder = folder_of(d->arena, path), *part = NULL;
    struct stat st;
    bool there = lstat(path, &st) == 0;
    int fd, error;

    if (!folder)
        return pl_nomem(d);
    if (there && !replace)
        return unwritable(d, path, EEXIST);
    if (there && !S_ISREG(st.st_mode))
        return pl_fail(d, PL_EWRITE, path,
                       .found = S_ISDIR(st.st_mode) ? "a folder" : "no plain file",
                       .expected = "a plain file or a new name");
    fd = open_beside(d->arena, folder, pl_file_base(path), &part);
    if (fd == -ENOMEM && !part)
        return pl_nomem(d);
    if (fd < 0)
        return unwritable(d, path, -fd);
    error = write_beside(fd, there ? &st : NULL, bytes, length);
    if (!error)
        error = put_in_place(part, path, replace);
    if (error) {
        unlink(part);
        return unwritable(d, path, error);
    }
    error = sync_folder(folder);
    return error ? unwritable(d, path, error) : PL_OK;
}

/* 0 when path is a folder afterwards, else the reason. */
static int make_folder(const char *path)
{
    int error = mkdir(path, 0777) ? errno : 0;
    struct stat st;

    if (error && stat(path, &st) == 0)
        error = S_ISDIR(st.st_mode) ? 0 : ENOTDIR;
    return error;
}

pl_code pl_file_folder(const char *path, pl_diags *d)
{
    char *copy = pl_arena_str(d->arena, path);
    int error = 0;

    if (!copy)
        return pl_nomem(d);
    for (char *p = copy; !error && *p; p++)
        if (*p == '/' && p > copy) {
            *p = '\0';
            error = make_folder(copy);
            *p = '/';
        }
    if (!error)
        error = make_folder(path);
    if (!error)
        return PL_OK;
    return pl_fail(d, PL_EWRITE, path, .found = error == ENOTDIR ? "is a file" : reason(error),
                   .expected = "a folder that can be written");
}

bool pl_file_exists(const char *path)
{
    struct stat st;

    return lstat(path, &st) == 0;
}

const char *pl_file_base(const char *path)
{
    const char *slash = strrchr(path, '/');

    return slash ? slash + 1 : path;
}

char *pl_file_join(pl_arena *a, const char *folder, const char *name)
{
    size_t n = strlen(folder);

    if (!n)
        return pl_arena_str(a, name);
    return pl_arena_printf(a, "%s%s%s", folder, folder[n - 1] == '/' ? "" : "/", name);
}

static char *hex_of(pl_arena *a, const unsigned char *digest, unsigned n)
{
    char *hex = pl_arena_get(a, 2 * (size_t)n + 1, 1);

    for (unsigned i = 0; hex && i < n; i++)
        snprintf(hex + 2 * (size_t)i, 3, "%02x", digest[i]);
    return hex;
}

char *pl_digest(pl_arena *a, const void *bytes, size_t n)
{
    unsigned char digest[EVP_MAX_MD_SIZE];
    unsigned length = 0;

    if (!EVP_Digest(bytes, n, digest, &length, EVP_sha256(), NULL))
        return NULL;
    return hex_of(a, digest, length);
}

bool pl_is_digest(const char *s, size_t n)
{
    return n == 64 && strspn(s, "0123456789abcdef") >= 64;
}

pl_code pl_file_read_digested(pl_arena *a, const char *path, const char *digest, char **bytes,
                              size_t *n, pl_diags *d)
{
    pl_code code = pl_file_read(a, path, bytes, n, d);
    const char *now = code ? NULL : pl_digest(a, *bytes, *n);

    if (code)
        return code;
    if (!now)
        return pl_nomem(d);
    return strcmp(now, digest)
               ? pl_fail(d, PL_ESYNTAX, path, .found = "other bytes than its name says",
                         .expected = "a file that matches its digest")
               : PL_OK;
}

static pl_code digest_rest(pl_arena *a, int fd, EVP_MD_CTX *ctx, char **hex, pl_diags *d)
{
    unsigned char digest[EVP_MAX_MD_SIZE];
    unsigned length = 0;
    char *buffer = pl_arena_get(a, CHUNK, 1);
    ssize_t got;

    if (!buffer || !EVP_DigestInit_ex(ctx, EVP_sha256(), NULL))
        return pl_nomem(d);
    while ((got = read_some(fd, buffer, CHUNK)) > 0)
        if (!EVP_DigestUpdate(ctx, buffer, (size_t)got))
            return pl_nomem(d);
    if (got < 0 || lseek(fd, 0, SEEK_SET) < 0)
        return unreadable(d, "", reason(errno));
    if (!EVP_DigestFinal_ex(ctx, digest, &length))
        return pl_nomem(d);
    *hex = hex_of(a, digest, length);
    return *hex ? PL_OK : pl_nomem(d);
}

pl_code pl_digest_fd(pl_arena *a, int fd, char **hex, pl_diags *d)
{
    EVP_MD_CTX *ctx;
    pl_code code;

    if (lseek(fd, 0, SEEK_SET) < 0)
        return unreadable(d, "", errno == ESPIPE ? "a pipe" : reason(errno));
    ctx = EVP_MD_CTX_new();
    if (!ctx)
        return pl_nomem(d);
    code = digest_rest(a, fd, ctx, hex, d);
    EVP_MD_CTX_free(ctx);
    return code;
}
