/* Rig: one machine of the shop, as the book keeps it and a study may write it. */
#ifndef PL_STUDY_RIG_H
#define PL_STUDY_RIG_H

#include "base/json.h"

typedef struct pl_rig {
    const char *name;       /* "jack" */
    const char *kind;       /* a plugin's name: "piston-press" */
    const char *text;       /* its JSON object, byte for byte */
    const pl_json *written; /* parsed: name, kind, settings, rated, dial, note */
} pl_rig;

/* Checks what does not need the plugin: name, kind, shape of the object, unknown keys.
 * Settings are checked by rigs, which asks the plugin what it declares. */
pl_code pl_rig_from_json(pl_arena *a, const pl_json *object, pl_rig *out, pl_diags *d);

#endif
