/* Try: a battery that every rig plugin must stand, before anybody trusts it.
 *
 * Asks only what rigs.h asks, so all of it runs in children. A plugin passes when
 * no check fails; what a check found and expected is in its row. */
#ifndef PL_RIGS_TRY_H
#define PL_RIGS_TRY_H

#include "rigs/rigs.h"

typedef struct pl_trial {
    const char *name; /* "set points rise with the force" */
    bool passed;
    const char *found;    /* "" when it passed */
    const char *expected; /* "" when there is nothing to add */
} pl_trial;

typedef struct pl_trials {
    pl_trial *items;
    size_t count, room, failed;
    double us_per_row; /* of a long record; NAN when it reads none */
    size_t rows;       /* in it */
} pl_trials;

#define PL_TRY_ROWS 1000000u /* rows of the long record */

/* rig: a rig file of the kind. records: nrecord paths of what such a rig recorded,
 * each for one specimen or naming its own; none: its reading is not tried. Scratch files go
 * into a folder of its own where the system keeps such, and are removed.
 * A failed check is no error. EKEY, EPLUGIN, ...: the rig file or the plugin cannot even be
 * asked. EWRITE: no scratch folder. */
pl_code pl_rigs_try(pl_arena *a, const pl_rig *rig, const char *const *records, size_t nrecord,
                    pl_trials *out, pl_diags *d);

#endif
