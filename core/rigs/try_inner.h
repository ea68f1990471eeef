/* What the two files of the battery share. */
#ifndef PL_RIGS_TRY_INNER_H
#define PL_RIGS_TRY_INNER_H

#include "base/text.h"
#include "rigs/try.h"

typedef struct pl_try {
    pl_arena *a;
    const pl_rig *rig;
    pl_rig_kind kind;
    pl_trials *out;
    pl_diags *d;
} pl_try;

/* found "": passed. */
pl_code pl_try_note(pl_try *t, const char *name, const char *found, const char *expected);
/* A plugin that fails is a failed check like any other: PL_EPLUGIN becomes one,
 * with what was found of it, and PL_OK; every other code comes back as it is. */
pl_code pl_try_failed(pl_try *t, pl_code code, const char *name, const pl_diags *found);
pl_code pl_try_records(pl_try *t, const char *const *records, size_t nrecord);

#endif
