/* A copy of the book in which everything fits together, also while it is written. */
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/file.h"
#include "book/db.h"

static const char doing[] = "copying the book";

pl_code pl_db_backup(pl_book *b, sqlite3 *from, sqlite3 *to, pl_diags *d)
{
    sqlite3_backup *backup = sqlite3_backup_init(to, "main", from, "main");
    int rc, last;

    if (!backup)
        return pl_db_fail(b, sqlite3_errcode(to), doing, d);
    rc = sqlite3_backup_step(backup, -1);
    last = sqlite3_backup_finish(backup);
    if (rc == SQLITE_DONE)
        rc = last;
    return rc ? pl_db_fail(b, rc, doing, d) : PL_OK;
}

static pl_code write_fault(pl_diags *d, const char *path, int error)
{
    return pl_fail(d, PL_EWRITE, path, .found = strerror(error),
                   .expected = "a file that can be written");
}

/* The name counts once the folder is on the disk too. */
static int sync_folder(pl_arena *a, const char *path)
{
    const char *folder = pl_arena_strn(a, path, (size_t)(pl_file_base(path) - path));
    int fd, rc;

    if (!folder)
        return ENOMEM;
    fd = open(folder[0] ? folder : ".", O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (fd < 0)
        return errno;
    rc = fsync(fd) && errno != EINVAL ? errno : 0;
    close(fd);
    return rc;
}

static pl_code fill(pl_book *b, sqlite3 *from, const char *part, pl_diags *d)
{
    sqlite3 *to = NULL;
    pl_code code;
    int rc = sqlite3_open_v2(pl_db_path(b->arena, part), &to,
                             SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, NULL);

    if (rc) {
        code = rc == SQLITE_NOMEM ? pl_nomem(d)
                                  : write_fault(d, part, to ? sqlite3_system_errno(to) : EIO);
        sqlite3_close_v2(to);
        return code;
    }
    code = pl_db_backup(b, from, to, d);
    sqlite3_close_v2(to);
    return code;
}

pl_code pl_db_copy(pl_book *b, sqlite3 *from, const char *to, pl_diags *d)
{
    const char *part = pl_arena_printf(b->arena, "%s.part", to);
    struct stat st;
    pl_code code;
    int error;

    if (!part)
        return pl_nomem(d);
    if (!lstat(to, &st))
        return pl_fail(d, PL_EWRITE, to, .found = "a file of that name is there",
                       .expected = "a new name");
    unlink(part); /* of a run that was killed */
    code = fill(b, from, part, d);
    if (!code && rename(part, to))
        code = write_fault(d, to, errno);
    if (code) {
        unlink(part);
        return code;
    }
    error = sync_folder(b->arena, to);
    return error ? write_fault(d, to, error) : PL_OK;
}

pl_code pl_book_copy(pl_book *b, const char *to, pl_diags *d)
{
    return pl_db_copy(b, b->db, to, d);
}
