/* Ask: what the questions of rigs.h share on the parent's side. */
#ifndef PL_RIGS_ASK_H
#define PL_RIGS_ASK_H

#include "rigs/child.h"
#include "rigs/rigs.h"

#define PL_ASK_MOST 65536u /* numbers of one question: more is a mistake */

/* Packs a rig. Its whole document goes along, so that findings have their true line. */
void pl_ask_rig(pl_text *t, const pl_rig *rig);
/* The plugin of a rig; an unknown kind is said at its place in the rig file. EKEY, EPLUGIN. */
pl_code pl_ask_find(pl_arena *a, const pl_rig *rig, pl_plugin_file *file, pl_diags *d);
/* No plugin has this name: EKEY, with the kinds of rig that there are. */
pl_code pl_kind_unknown(pl_arena *a, const char *name, pl_diags *d);
/* The plugin gave an answer that cannot be: one EPLUGIN finding. */
pl_code pl_ask_lie(pl_diags *d, const pl_plugin_file *file, const char *what);
/* One reading of a child's answer into out. NULL, or what about it cannot be. */
const char *pl_ask_reading(pl_arena *a, pl_unpack *u, const char *path, const char *specimen_id,
                           pl_readings *out, pl_diags *d);

#endif
