/* A disk of our own below SQLite: files in memory that forget what was not synced
 * when the power goes, and that fail when told to. One thread, one connection.
 *
 * Every write, truncation, sync, making and deleting of a file is one operation.
 * At a power cut each write since the file's last sync is kept, lost or torn at its
 * sectors of 512 bytes, each by itself, so that later ones may be there and earlier
 * ones not; so are making and deleting, until the folder was synced (SQLite asks for
 * that when it deletes with syncDir, and with the first sync of a journal). */
#ifndef TESTS_BOOK_DISK_H
#define TESTS_BOOK_DISK_H

#include "shop.h"

#include "base/stream.h"

#define DISK_FILES 8
#define DISK_SECTOR 512

typedef struct disk_write { /* since the last sync; bytes NULL: truncated to `at` */
    sqlite3_int64 at;
    int n;
    char *bytes;
} disk_write;

typedef struct disk_file {
    char name[512];
    bool there, was_there; /* now; after a power cut, if the folder forgets */
    char *now, *safe;      /* contents: as seen, and as last synced */
    sqlite3_int64 n, nsafe;
    disk_write *writes;
    size_t nwrite;
} disk_file;

typedef enum disk_fault { DISK_WELL, DISK_POWER, DISK_FULL_NOW, DISK_BAD } disk_fault;

static struct disk {
    disk_file files[DISK_FILES];
    long ops, fault_at; /* counted; the one at which the fault begins, 0: none */
    disk_fault fault;
    bool lasting; /* the fault stays; else it is that one operation's */
    bool off;     /* the power is gone: nothing works any more */
} disk;

/* ---- files ---- */

static void *grown(void *old, sqlite3_int64 n)
{
    void *p = realloc(old, (size_t)(n ? n : 1));

    if (!p)
        abort();
    return p;
}

static void set_size(char **bytes, sqlite3_int64 *n, sqlite3_int64 size)
{
    *bytes = grown(*bytes, size);
    if (size > *n)
        memset(*bytes + *n, 0, (size_t)(size - *n));
    *n = size;
}

static disk_file *file_named(const char *name, bool make)
{
    disk_file *spare = NULL;

    for (int i = 0; i < DISK_FILES; i++) {
        if (!strcmp(disk.files[i].name, name))
            return &disk.files[i];
        if (!spare && !disk.files[i].name[0])
            spare = &disk.files[i];
    }
    if (make && spare)
        snprintf(spare->name, sizeof spare->name, "%s", name);
    return make ? spare : NULL;
}

/* SQLITE_OK, or what this operation fails with. */
static int operation(int bad)
{
    bool now;

    if (disk.off)
        return bad;
    disk.ops++;
    now = disk.fault_at &&
          (disk.ops == disk.fault_at || (disk.lasting && disk.ops > disk.fault_at));
    if (!now)
        return SQLITE_OK;
    if (disk.fault == DISK_POWER)
        disk.off = true;
    return disk.fault == DISK_FULL_NOW ? SQLITE_FULL : bad;
}

static void remember(disk_file *f, sqlite3_int64 at, const void *bytes, int n)
{
    disk_write *w;

    f->writes = grown(f->writes, (sqlite3_int64)((f->nwrite + 1) * sizeof *w));
    w = &f->writes[f->nwrite++];
    *w = (disk_write){ .at = at, .n = n };
    if (bytes)
        w->bytes = memcpy(grown(NULL, n), bytes, (size_t)n);
}

static void forget_writes(disk_file *f)
{
    for (size_t i = 0; i < f->nwrite; i++)
        free(f->writes[i].bytes);
    f->nwrite = 0;
}

static void put_bytes(char **to, sqlite3_int64 *n, sqlite3_int64 at, const char *bytes, int count)
{
    if (at + count > *n)
        set_size(to, n, at + count);
    memcpy(*to + at, bytes, (size_t)count);
}

/* What is on the disk when the power comes back. */
static void power_back(pl_stream *chance)
{
    for (int i = 0; i < DISK_FILES; i++) {
        disk_file *f = &disk.files[i];

        if (!f->name[0])
            continue;
        for (size_t k = 0; k < f->nwrite; k++) {
            disk_write *w = &f->writes[k];

            if (!w->bytes && pl_stream_below(chance, 2))
                set_size(&f->safe, &f->nsafe, w->at);
            for (int at = 0; w->bytes && at < w->n;) {
                int left = DISK_SECTOR - (int)((w->at + at) % DISK_SECTOR);
                int n = left < w->n - at ? left : w->n - at;

                if (pl_stream_below(chance, 2))
                    put_bytes(&f->safe, &f->nsafe, w->at + at, w->bytes + at, n);
                at += n;
            }
        }
        forget_writes(f);
        if (f->there != f->was_there && pl_stream_below(chance, 2))
            f->there = f->was_there;
        f->was_there = f->there;
        f->now = grown(f->now, f->nsafe);
        if (f->nsafe)
            memcpy(f->now, f->safe, (size_t)f->nsafe);
        f->n = f->nsafe;
    }
    disk.off = false;
    disk.fault_at = 0;
}

/* ---- SQLite's side ---- */

typedef struct handle {
    sqlite3_file base;
    disk_file *file;
    bool scratch; /* a temporary file */
} handle;

static int d_close(sqlite3_file *h)
{
    (void)h;
    return SQLITE_OK;
}

static int d_read(sqlite3_file *h, void *to, int n, sqlite3_int64 at)
{
    disk_file *f = ((handle *)h)->file;
    sqlite3_int64 have = f->n > at ? f->n - at : 0;

    if (disk.off)
        return SQLITE_IOERR_READ;
    memset(to, 0, (size_t)n);
    if (have >= n) {
        memcpy(to, f->now + at, (size_t)n);
        return SQLITE_OK;
    }
    if (have)
        memcpy(to, f->now + at, (size_t)have);
    return SQLITE_IOERR_SHORT_READ;
}

static int d_write(sqlite3_file *h, const void *from, int n, sqlite3_int64 at)
{
    disk_file *f = ((handle *)h)->file;
    bool was_on = !disk.off;
    int rc = operation(SQLITE_IOERR_WRITE);

    /* the write during which the power goes may get anywhere */
    if (rc == SQLITE_OK || (disk.off && was_on))
        remember(f, at, from, n);
    if (rc == SQLITE_OK)
        put_bytes(&f->now, &f->n, at, from, n);
    return rc;
}

static int d_truncate(sqlite3_file *h, sqlite3_int64 size)
{
    disk_file *f = ((handle *)h)->file;
    int rc = operation(SQLITE_IOERR_TRUNCATE);

    if (rc)
        return rc;
    remember(f, size, NULL, 0);
    set_size(&f->now, &f->n, size);
    return SQLITE_OK;
}

static int d_sync(sqlite3_file *h, int flags)
{
    disk_file *f = ((handle *)h)->file;
    int rc = operation(SQLITE_IOERR_FSYNC);

    (void)flags;
    if (rc)
        return rc;
    forget_writes(f);
    f->safe = grown(f->safe, f->n);
    if (f->n)
        memcpy(f->safe, f->now, (size_t)f->n);
    f->nsafe = f->n;
    f->was_there = f->there; /* the unix layer syncs the folder with it */
    return SQLITE_OK;
}

static int d_size(sqlite3_file *h, sqlite3_int64 *size)
{
    *size = ((handle *)h)->file->n;
    return disk.off ? SQLITE_IOERR_FSTAT : SQLITE_OK;
}

static int d_lock(sqlite3_file *h, int level)
{
    (void)h;
    (void)level;
    return SQLITE_OK;
}

static int d_reserved(sqlite3_file *h, int *out)
{
    (void)h;
    *out = 0;
    return SQLITE_OK;
}

static int d_control(sqlite3_file *h, int op, void *arg)
{
    (void)h;
    (void)op;
    (void)arg;
    return SQLITE_NOTFOUND;
}

static int d_sector(sqlite3_file *h)
{
    (void)h;
    return DISK_SECTOR;
}

static int d_traits(sqlite3_file *h)
{
    (void)h;
    return 0; /* promises nothing */
}

static const sqlite3_io_methods disk_methods = { .iVersion = 1,
                                                 .xClose = d_close,
                                                 .xRead = d_read,
                                                 .xWrite = d_write,
                                                 .xTruncate = d_truncate,
                                                 .xSync = d_sync,
                                                 .xFileSize = d_size,
                                                 .xLock = d_lock,
                                                 .xUnlock = d_lock,
                                                 .xCheckReservedLock = d_reserved,
                                                 .xFileControl = d_control,
                                                 .xSectorSize = d_sector,
                                                 .xDeviceCharacteristics = d_traits };

static int d_open(sqlite3_vfs *v, const char *name, sqlite3_file *out, int flags, int *gave)
{
    handle *h = (handle *)out;
    disk_file *f = file_named(name ? name : "(scratch)", true);

    (void)v;
    h->base.pMethods = NULL;
    if (!f || disk.off || (!f->there && !(flags & SQLITE_OPEN_CREATE)))
        return SQLITE_CANTOPEN;
    if (!f->there) {
        if (operation(SQLITE_CANTOPEN))
            return SQLITE_CANTOPEN;
        f->there = true;
        f->n = f->nsafe = 0;
        forget_writes(f);
    }
    h->file = f;
    h->base.pMethods = &disk_methods;
    if (gave)
        *gave = flags;
    return SQLITE_OK;
}

static int d_delete(sqlite3_vfs *v, const char *name, int sync_folder)
{
    disk_file *f = file_named(name, false);
    int rc;

    (void)v;
    if (!f || !f->there)
        return SQLITE_IOERR_DELETE_NOENT;
    rc = operation(SQLITE_IOERR_DELETE);
    if (rc)
        return rc;
    f->there = false;
    if (sync_folder)
        f->was_there = false;
    return SQLITE_OK;
}

static int d_access(sqlite3_vfs *v, const char *name, int flags, int *out)
{
    disk_file *f = file_named(name, false);

    (void)v;
    (void)flags;
    *out = f && f->there;
    return disk.off ? SQLITE_IOERR_ACCESS : SQLITE_OK;
}

static int d_full_name(sqlite3_vfs *v, const char *name, int n, char *out)
{
    (void)v;
    snprintf(out, (size_t)n, "%s", name);
    return SQLITE_OK;
}

static int d_random(sqlite3_vfs *v, int n, char *out)
{
    (void)v;
    memset(out, 7, (size_t)n);
    return n;
}

static int d_sleep(sqlite3_vfs *v, int us)
{
    (void)v;
    return us;
}

static int d_time(sqlite3_vfs *v, sqlite3_int64 *ms)
{
    (void)v;
    *ms = 210866760000000; /* 1970, in SQLite's milliseconds */
    return SQLITE_OK;
}

static int d_error(sqlite3_vfs *v, int n, char *out)
{
    (void)v;
    (void)n;
    (void)out;
    return 0;
}

static sqlite3_vfs disk_vfs = { .iVersion = 2,
                                .szOsFile = sizeof(handle),
                                .mxPathname = 500,
                                .zName = "disk-of-the-tests",
                                .xOpen = d_open,
                                .xDelete = d_delete,
                                .xAccess = d_access,
                                .xFullPathname = d_full_name,
                                .xRandomness = d_random,
                                .xSleep = d_sleep,
                                .xGetLastError = d_error,
                                .xCurrentTimeInt64 = d_time };

/* A file on the disk as it is on the real one, synced. */
static void disk_load(const char *name, const char *bytes, size_t n)
{
    disk_file *f = file_named(name, true);

    f->there = f->was_there = true;
    set_size(&f->now, &f->n, (sqlite3_int64)n);
    set_size(&f->safe, &f->nsafe, (sqlite3_int64)n);
    memcpy(f->now, bytes, n);
    memcpy(f->safe, bytes, n);
    forget_writes(f);
}

static void disk_clear(void)
{
    for (int i = 0; i < DISK_FILES; i++) {
        forget_writes(&disk.files[i]);
        free(disk.files[i].writes);
        free(disk.files[i].now);
        free(disk.files[i].safe);
    }
    memset(&disk, 0, sizeof disk);
}

#endif
