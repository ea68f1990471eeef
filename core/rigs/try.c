/* The battery's frame: what a plugin declares, and which parts of the battery it is for.
 * Forces are try_press.c's, records try_records.c's, rigs made up try_rig.c's. */
#include "rigs/try.h"

#include <dirent.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/file.h"
#include "rigs/ask.h"
#include "rigs/try_inner.h"

pl_code pl_try_note(pl_try *t, pl_try_check check, const char *found)
{
    pl_trials *out = t->out;

    if (!check.name || !found)
        return pl_nomem(t->d);
    if (out->count == out->room) {
        size_t room = out->room ? 2 * out->room : 32;
        pl_trial *items = pl_arena_grow(t->a, out->items, out->count, room, sizeof *items);

        if (!items)
            return pl_nomem(t->d);
        out->items = items;
        out->room = room;
    }
    out->items[out->count++] = found[0] ? (pl_trial){ check.name, false, found, check.expected,
                                                      check.mend }
                                        : (pl_trial){ check.name, true, "", "", "" };
    out->failed += found[0] != '\0';
    return PL_OK;
}

const char *pl_try_what(const pl_diags *found)
{
    const char *what = "the plugin failed";

    for (size_t i = 0; i < found->count; i++)
        if (found->items[i].code == PL_EPLUGIN)
            what = found->items[i].found;
    return what;
}

pl_code pl_try_failed(pl_try *t, pl_code code, pl_try_check check, const pl_diags *found)
{
    return code == PL_EPLUGIN ? pl_try_note(t, check, pl_try_what(found)) : code;
}

bool pl_try_same_bits(double x, double y)
{
    uint64_t u, v;

    memcpy(&u, &x, sizeof u);
    memcpy(&v, &y, sizeof v);
    return u == v;
}

/* ---- loading ---- */

static const pl_try_check loads = { "the plugin loads and follows its header",
                                    "platen/plugin.h, sections 1 to 6",
                                    "mend what is named; all gaps stand in one report" };

/* *loaded false: it does not, which is noted. */
static pl_code load(pl_try *t, const char *name, bool *loaded)
{
    pl_plugin_file file;
    pl_diags quiet;
    pl_code rc = pl_find_plugin(t->a, name, &file, t->d);

    *loaded = false;
    if (rc)
        return rc;
    pl_diags_init(&quiet, t->a);
    rc = pl_rigs_kind(t->a, name, &t->kind, &quiet);
    if (rc && rc != PL_EPLUGIN)
        return rc == PL_ENOMEM ? pl_nomem(t->d) : rc;
    *loaded = !rc;
    rc = pl_try_note(t, loads, rc ? pl_try_what(&quiet) : "");
    return rc;
}

/* ---- the rig that is asked ---- */

/* Beside the plugin: "bench-vice.json" beside "bench-vice.so". *found false: none. */
static pl_code rig_beside(pl_try *t, bool *found)
{
    size_t n = strlen(t->kind.file);
    char *path = pl_arena_printf(t->a, "%.*s.json", (int)(n > 3 ? n - 3 : n), t->kind.file);
    const pl_json *object;
    pl_code rc;

    if (!path)
        return pl_nomem(t->d);
    *found = pl_file_exists(path);
    if (!*found)
        return PL_OK;
    rc = pl_json_read(t->a, path, &object, t->d);
    return rc ? rc : pl_rig_from_json(t->a, object, &t->rig, t->d);
}

static pl_code choose_rig(pl_try *t, const pl_trying *what)
{
    bool found = what->rig != NULL;
    pl_diags quiet;
    pl_code rc = PL_OK;

    if (found)
        t->rig = *what->rig;
    else
        rc = rig_beside(t, &found);
    t->out->rig = found ? t->rig.name : "";
    if (rc || found)
        return rc;
    pl_diags_init(&quiet, t->a);
    rc = pl_try_made_up(t, t->kind.nsetting, PL_TRY_MIDDLE, &t->rig, &quiet);
    if (!rc)
        rc = pl_rigs_check(t->a, &t->rig, &quiet);
    if (rc && rc != PL_ENOMEM && rc != PL_EPLUGIN)
        return pl_fail(t->d, rc, t->kind.name, .found = "settings of which no rig can be made up",
                       .expected = "a rig file of that kind",
                       .mend = pl_arena_printf(t->a,
                                               "put %s.json beside the plugin, or: platen "
                                               "rig try FILE.json",
                                               t->kind.name));
    return rc == PL_ENOMEM ? pl_nomem(t->d) : PL_OK;
}

/* A rig file that does not fit is its writer's; a plugin that fails over it is not. */
static pl_code try_rig_file(pl_try *t, bool *fits)
{
    pl_diags found;
    pl_code rc;

    pl_diags_init(&found, t->a);
    rc = pl_rigs_check(t->a, &t->rig, &found);
    *fits = !rc;
    for (size_t i = 0; rc && rc != PL_EPLUGIN && i < found.count; i++)
        (void)pl_diags_add(t->d, found.items[i]);
    return pl_try_failed(t, rc, loads, &found);
}

static pl_code try_reading(pl_try *t, const pl_trying *what)
{
    const char *const *records = what->records;
    size_t n = what->nrecord;
    const char *slash = strrchr(t->kind.file, '/');
    char *folder = pl_arena_printf(t->a, "%.*s/recordings", slash ? (int)(slash - t->kind.file) : 1,
                                   slash ? t->kind.file : ".");
    pl_code rc = folder ? PL_OK : pl_nomem(t->d);

    if (!rc && !n && pl_file_exists(folder))
        rc = pl_try_folder(t->a, folder, &records, &n, t->d);
    return rc ? rc : pl_try_records(t, records, n);
}

static pl_code try_all(pl_try *t, const pl_trying *what)
{
    bool good = false;
    pl_code rc = choose_rig(t, what);

    if (!rc)
        rc = try_rig_file(t, &good);
    if (rc || !good)
        return rc;
    if (t->kind.presses)
        rc = pl_try_pressing(t);
    if (!rc && t->kind.reads_back)
        rc = pl_try_way_back(t);
    if (!rc && t->kind.nsetting)
        rc = pl_try_settings(t);
    return !rc && t->kind.reads_files ? try_reading(t, what) : rc;
}

/* Records are written where the system keeps such things, in a folder of their own. */
static pl_code with_scratch(pl_try *t, const pl_trying *what)
{
    const char *base = getenv("TMPDIR");
    char *folder = pl_arena_printf(t->a,
                                   "%s/platen-try-"
                                   "XX"
                                   "XX"
                                   "XX",
                                   base && base[0] ? base : P_tmpdir);
    pl_code rc;

    if (!folder)
        return pl_nomem(t->d);
    if (!mkdtemp(folder))
        return pl_fail(t->d, PL_EWRITE, folder, .found = "no scratch folder can be made here",
                       .expected = "a folder that can be written", .mend = "set TMPDIR");
    t->file = pl_file_join(t->a, folder, "record.csv");
    rc = t->file ? try_all(t, what) : pl_nomem(t->d);
    if (t->file)
        (void)unlink(t->file);
    (void)rmdir(folder);
    return rc;
}

pl_code pl_rigs_try(pl_arena *a, const pl_trying *what, pl_trials *out, pl_diags *d)
{
    pl_try t = { .a = a, .out = out, .d = d };
    bool good = false;
    pl_code rc;

    *out = (pl_trials){ .kind = what->rig ? what->rig->kind : what->kind,
                        .rig = "",
                        .least_N = NAN,
                        .most_N = NAN,
                        .us_per_row = NAN,
                        .bytes_per_row = NAN };
    rc = load(&t, out->kind, &good);
    if (rc || !good)
        return rc;
    out->reads = t.kind.reads_files;
    if (what->nrecord && !out->reads)
        return pl_fail(d, PL_EUSAGE, what->records[0],
                       .found = pl_arena_printf(a, "a record, for a %s", out->kind),
                       .expected = "a kind of rig that records");
    out->curve = !strcmp(t.kind.role, "curve");
    if (out->curve)
        return pl_try_curve(&t);
    return with_scratch(&t, what);
}

/* ---- a folder of recordings ---- */

static int by_path(const void *x, const void *y)
{
    return strcmp(*(const char *const *)x, *(const char *const *)y);
}

pl_code pl_try_folder(pl_arena *a, const char *folder, const char *const **out, size_t *n,
                      pl_diags *d)
{
    enum { MOST = 64 };
    const char **paths = PL_NEWN(a, MOST, const char *);
    DIR *dir = folder ? opendir(folder) : NULL;
    const struct dirent *e;

    *n = 0;
    *out = paths;
    if (!dir)
        return pl_fail(d, PL_ENOFILE, folder, .found = "no folder that can be read",
                       .expected = "a folder of recordings");
    while (paths && (e = readdir(dir)) && *n < MOST) {
        char *path = pl_file_join(a, folder, e->d_name);
        struct stat st;

        if (path && e->d_name[0] != '.' && stat(path, &st) == 0 && S_ISREG(st.st_mode))
            paths[(*n)++] = path;
    }
    closedir(dir);
    if (!paths)
        return pl_nomem(d);
    qsort(paths, *n, sizeof *paths, by_path);
    return PL_OK;
}
