/* Scaffold: the files of a new rig plugin, which builds and stands `rig try`
 * before the first edit. */
#ifndef PL_RIGS_SCAFFOLD_H
#define PL_RIGS_SCAFFOLD_H

#include <stddef.h>

#include "base/arena.h"
#include "base/diag.h"

#define PL_SCAFFOLD_FILES 7

typedef struct pl_scaffold {
    const char *folder;                   /* DIR/NAME */
    const char *files[PL_SCAFFOLD_FILES]; /* paths written */
} pl_scaffold;

/* Writes DIR/NAME/: NAME.c, Makefile, exports.map, NAME.json, recordings/pull.csv,
 * test.sh and README.md. name: a-z, 0-9 and hyphen, so that it cannot leave dir. PL_EUSAGE: another
 * name; PL_EWRITE: the folder is there already, or cannot be written. */
pl_code pl_rigs_scaffold(pl_arena *a, const char *dir, const char *name, pl_scaffold *out,
                         pl_diags *d);

#endif
