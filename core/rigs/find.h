/* Find: where plugins lie, and whether they may be trusted enough to be loaded
 * at all. Runs in the parent; loads nothing (what kinds there are, where there is no such
 * plugin, is asked in children: kinds.c). */
#ifndef PL_RIGS_FIND_H
#define PL_RIGS_FIND_H

#include "base/arena.h"
#include "base/diag.h"

typedef struct pl_plugin_file {
    const char *name; /* "piston-press" */
    const char *path; /* as found, for findings */
    int fd;           /* open for reading, close-on-exec; checked after opening */
} pl_plugin_file;

/* The first NAME.so in the order of discovery (rigs.h). The file is opened and
 * what was opened is what was checked, so that a swap afterwards changes
 * nothing; fd is closed with the arena. EKEY: no such plugin, or a name that is
 * none (it cannot leave the folder); EPLUGIN: found and refused. */
pl_code pl_find_plugin(pl_arena *a, const char *name, pl_plugin_file *out, pl_diags *d);

/* Every name in the order of discovery, each once, sorted within a folder. A
 * refused folder is a finding (EPLUGIN) and is passed over. */
pl_code pl_find_names(pl_arena *a, const char *const **names, size_t *count, pl_diags *d);

/* The name of the first plugin that was given by its file (pl_rigs_plugin); NULL when none was. */
const char *pl_find_given(void);

/* Is this path, after links, and every folder above it, out of others' reach?
 * NULL when it is, else the reason in words. what: "file" or "folder". A sticky
 * folder of root (such as the system's temporary one) may stand above. */
const char *pl_find_distrust(pl_arena *a, const char *path, const char *what);

#endif
