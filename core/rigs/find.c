/* Discovery of plugins and the checks of owner and mode. What is in a plugin
 * is no business of this file: load.c looks at that, in the child. */
#include "rigs/find.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <grp.h>
#include <limits.h>
#include <pwd.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/file.h"
#include "base/text.h"
#include "rigs/ask.h"

#ifndef PL_PREFIX
#define PL_PREFIX "/usr/local"
#endif

enum { FOLDERS_MOST = 32, NAMES_MOST = 256, GIVEN_MOST = 16 };

/* Files named one by one; first in the order. */
static struct given {
    const char *name, *path;
} given[GIVEN_MOST];
static size_t ngiven;

/* ---- trust ---- */

/* The user's own private group: named like the user and with nobody else in it.
 * A checkout under umask 002 is writable by that group and by no other person. */
static bool private_group(gid_t gid)
{
    const struct passwd *user = getpwuid(geteuid());
    const struct group *group;
    char name[LOGIN_NAME_MAX + 1]; /* the group's look-up may reuse what user points to */

    if (!user || user->pw_gid != gid ||
        snprintf(name, sizeof name, "%s", user->pw_name) >= (int)sizeof name)
        return false;
    group = getgrgid(gid);
    if (!group || strcmp(group->gr_name, name) != 0)
        return false;
    for (char **m = group->gr_mem; *m; m++)
        if (strcmp(*m, name) != 0)
            return false;
    return true;
}

/* A reason is never NULL: that would mean trust. */
static const char *said(pl_arena *a, const char *format, ...) __attribute__((format(printf, 2, 3)));
static const char *said(pl_arena *a, const char *format, ...)
{
    va_list args;
    const char *text;

    va_start(args, format);
    text = pl_arena_vprintf(a, format, args);
    va_end(args);
    return text ? text : "no memory left to look";
}

/* top: the plugin itself or its folder; else a folder above. */
static const char *distrust(pl_arena *a, const struct stat *st, const char *path, bool top)
{
    if (st->st_uid != 0 && st->st_uid != geteuid())
        return said(a, "\"%s\" belongs to another user", path);
    if (!top && (st->st_mode & S_ISVTX) && st->st_uid == 0)
        return NULL;
    if (st->st_mode & S_IWOTH)
        return said(a, "\"%s\" may be written by everyone", path);
    if ((st->st_mode & S_IWGRP) && st->st_gid != 0 && (top || !private_group(st->st_gid)))
        return said(a, "\"%s\" may be written by its group", path);
    return NULL;
}

const char *pl_find_distrust(pl_arena *a, const char *path, const char *what)
{
    char *real = pl_arena_own(a, realpath(path, NULL), free);
    struct stat st;
    const char *why;
    bool top = true;

    if (!real)
        return said(a, "\"%s\" cannot be resolved: %s", path, strerror(errno));
    if (stat(real, &st) != 0)
        return said(a, "\"%s\" cannot be looked at: %s", real, strerror(errno));
    if (!strcmp(what, "file") ? !S_ISREG(st.st_mode) : !S_ISDIR(st.st_mode))
        return said(a, "\"%s\" is no %s", real, !strcmp(what, "file") ? "regular file" : "folder");
    for (;;) {
        char *slash;

        why = distrust(a, &st, real, top);
        if (why || !strcmp(real, "/"))
            return why;
        slash = strrchr(real, '/');
        slash[slash == real] = 0;
        /* a file's own folder counts as much as the file */
        top = top && !strcmp(what, "file") && S_ISREG(st.st_mode);
        if (stat(real, &st) != 0)
            return said(a, "\"%s\" cannot be looked at: %s", real, strerror(errno));
    }
}

/* ---- folders ---- */

typedef struct folders {
    const char *at[FOLDERS_MOST];
    size_t count;
} folders;

static void add_folder(pl_arena *a, folders *f, const char *path, size_t n)
{
    if (n && path[0] == '/' && f->count < FOLDERS_MOST)
        f->at[f->count++] = pl_arena_strn(a, path, n);
}

/* A relative entry of PLATEN_PLUGINS would depend on where one stands. */
static void add_listed(pl_arena *a, folders *f, const char *list, pl_diags *d)
{
    for (const char *p = list; p && *p;) {
        size_t n = strcspn(p, ":");

        if (n && p[0] != '/')
            pl_advise(d, "PLATEN_PLUGINS", .found = pl_arena_strn(a, p, n),
                      .expected = "a path from the root", .mend = "this folder is passed over");
        add_folder(a, f, p, n);
        p += n + (p[n] == ':');
    }
}

static void add_users(pl_arena *a, folders *f)
{
    const char *data = getenv("XDG_DATA_HOME"), *home = getenv("HOME");
    char *path = NULL;

    if (data && data[0] == '/')
        path = pl_arena_printf(a, "%s/../lib/platen/plugins", data);
    else if (home && home[0] == '/')
        path = pl_arena_printf(a, "%s/.local/lib/platen/plugins", home);
    if (path)
        add_folder(a, f, path, strlen(path));
}

static void add_beside(pl_arena *a, folders *f)
{
    char exe[PATH_MAX];
    ssize_t n = readlink("/proc/self/exe", exe, sizeof exe - 1);
    char *slash, *path;

    if (n <= 0)
        return;
    exe[n] = 0;
    slash = strrchr(exe, '/');
    if (!slash)
        return;
    *slash = 0;
    path = pl_arena_printf(a, "%s/plugins", exe);
    if (path)
        add_folder(a, f, path, strlen(path));
    /* installed elsewhere than it was built for: .../bin beside .../lib */
    slash = strrchr(exe, '/');
    if (!slash || strcmp(slash, "/bin"))
        return;
    *slash = 0;
    path = pl_arena_printf(a, "%s/lib/platen/plugins", exe);
    if (path)
        add_folder(a, f, path, strlen(path));
}

static void find_folders(pl_arena *a, folders *f, pl_diags *d)
{
    f->count = 0;
    add_listed(a, f, getenv("PLATEN_PLUGINS"), d);
    add_users(a, f);
    add_folder(a, f, PL_PREFIX "/lib/platen/plugins", strlen(PL_PREFIX "/lib/platen/plugins"));
    add_beside(a, f);
}

/* ---- plugins ---- */

static void close_fd(void *handle)
{
    close(*(int *)handle);
}

static pl_code refuse(pl_diags *d, const char *path, const char *name, const char *why)
{
    pl_arena *a = d->arena;

    return pl_fail(d, PL_EPLUGIN, path,
                   .found = pl_arena_printf(a, "plugin \"%s\" is not loaded: %s", name, why),
                   .expected = "a file and folders that only you or root can write",
                   .mend = "chmod go-w, or chown, what is named");
}

/* What was opened is what is looked at, and where it truly lies: a path may lead elsewhere a
 * moment later. NULL: it may be trusted. */
static const char *distrust_open(pl_arena *a, int fd)
{
    struct stat opened, there;
    char link[32], real[PATH_MAX];
    ssize_t n;

    (void)snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    n = readlink(link, real, sizeof real - 1);
    if (fstat(fd, &opened) != 0 || n <= 0)
        return said(a, "it cannot be looked at: %s", strerror(errno));
    real[n] = 0;
    if (stat(real, &there) != 0 || there.st_dev != opened.st_dev || there.st_ino != opened.st_ino)
        return "it was moved while it was looked at";
    return pl_find_distrust(a, real, "file");
}

static pl_code open_plugin(pl_arena *a, const char *name, const char *path, pl_plugin_file *out,
                           pl_diags *d)
{
    const char *why;
    int fd, *kept = PL_NEW(a, int);

    if (!kept)
        return pl_nomem(d);
    fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);
    if (fd < 0)
        return refuse(d, path, name, strerror(errno));
    *kept = fd;
    if (!pl_arena_own(a, kept, close_fd))
        return pl_nomem(d);
    why = distrust_open(a, fd);
    if (why)
        return refuse(d, path, name, why);
    *out = (pl_plugin_file){ .name = name, .path = path, .fd = fd };
    return PL_OK;
}

static const char *given_path(const char *name)
{
    for (size_t i = 0; i < ngiven; i++)
        if (!strcmp(given[i].name, name))
            return given[i].path;
    return NULL;
}

const char *pl_find_given(void)
{
    return ngiven ? given[0].name : NULL;
}

pl_code pl_rigs_plugin(pl_arena *a, const char *path, pl_diags *d)
{
    const char *base = pl_file_base(path);
    size_t n = strlen(base);
    char *name = n > 3 && !strcmp(base + n - 3, ".so") ? pl_arena_strn(a, base, n - 3) : NULL;
    char *whole = pl_arena_own(a, realpath(path, NULL), free);

    if (!name || !pl_text_is_name(name))
        return pl_fail(d, PL_EUSAGE, path, .found = "a plugin file of that name",
                       .expected = "NAME.so, its name of a-z, 0-9 and hyphen");
    if (!whole)
        return pl_fail(d, PL_ENOFILE, path, .found = strerror(errno), .expected = "a plugin");
    if (given_path(name) || ngiven == GIVEN_MOST)
        return pl_fail(d, PL_EUSAGE, path,
                       .found = given_path(name) ? "two plugins of one name" : "too many plugins",
                       .expected = "each plugin once");
    given[ngiven++] = (struct given){ name, whole };
    return PL_OK;
}

pl_code pl_find_plugin(pl_arena *a, const char *name, pl_plugin_file *out, pl_diags *d)
{
    folders f;
    const char *own = pl_arena_str(a, name);

    if (!pl_text_is_name(name))
        return pl_fail(d, PL_EKEY, "", .found = pl_arena_printf(a, "kind of rig \"%s\"", name),
                       .expected = "a-z, 0-9 and hyphen");
    if (!own)
        return pl_nomem(d);
    if (given_path(own))
        return open_plugin(a, own, given_path(own), out, d);
    find_folders(a, &f, d);
    for (size_t i = 0; i < f.count; i++) {
        const char *path = f.at[i] ? pl_arena_printf(a, "%s/%s.so", f.at[i], name) : NULL;
        struct stat st;

        const char *why;

        if (!path)
            return pl_nomem(d);
        if (lstat(path, &st) != 0)
            continue;
        /* a link is as good as the folder that it stands in */
        why = pl_find_distrust(a, f.at[i], "folder");
        return why ? refuse(d, path, own, why) : open_plugin(a, own, path, out, d);
    }
    return pl_kind_unknown(a, name, d);
}

static int by_name(const void *x, const void *y)
{
    return strcmp(*(const char *const *)x, *(const char *const *)y);
}

/* Names of one folder, sorted, behind those already there. */
static pl_code list_folder(pl_arena *a, const char *folder, const char **names, size_t *n,
                           pl_diags *d)
{
    DIR *dir = opendir(folder);
    const struct dirent *e;
    size_t first = *n;
    const char *why;

    if (!dir)
        return PL_OK;
    why = pl_find_distrust(a, folder, "folder");
    if (why) {
        closedir(dir);
        return pl_fail(d, PL_EPLUGIN, folder,
                       .found = pl_arena_printf(a, "plugin folder is passed over: %s", why),
                       .expected = "a folder that only you or root can write",
                       .mend = "chmod go-w, or chown, what is named");
    }
    while ((e = readdir(dir)) && *n < NAMES_MOST) {
        size_t length = strlen(e->d_name);
        char *name;
        bool seen = false;

        if (length < 4 || strcmp(e->d_name + length - 3, ".so") != 0)
            continue;
        name = pl_arena_strn(a, e->d_name, length - 3);
        for (size_t i = 0; name && i < *n; i++)
            seen = seen || !strcmp(names[i], name);
        if (name && !seen && pl_text_is_name(name))
            names[(*n)++] = name;
    }
    closedir(dir);
    qsort(names + first, *n - first, sizeof *names, by_name);
    return PL_OK;
}

pl_code pl_find_names(pl_arena *a, const char *const **names, size_t *count, pl_diags *d)
{
    const char **found = PL_NEWN(a, NAMES_MOST, const char *);
    size_t n = 0, before = d->count;
    folders f;

    if (!found)
        return pl_nomem(d);
    for (; n < ngiven; n++)
        found[n] = given[n].name;
    find_folders(a, &f, d);
    for (size_t i = 0; i < f.count; i++)
        if (f.at[i])
            (void)list_folder(a, f.at[i], found, &n, d);
    *names = found;
    *count = n;
    return pl_diags_code(d, before);
}
