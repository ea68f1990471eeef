/* Try: a battery that every plugin must stand, before anybody trusts it.
 *
 * Asks only what rigs.h asks, so all of it runs in children. A plugin passes when
 * no check fails; what a check found, expected and what would mend it is in its row. */
#ifndef PL_RIGS_TRY_H
#define PL_RIGS_TRY_H

#include "rigs/rigs.h"

typedef struct pl_trial {
    const char *name; /* "set points rise with the force" */
    bool passed;
    const char *found, *expected, *mend; /* "" when it passed */
} pl_trial;

typedef struct pl_trials {
    const char *kind;
    bool curve;      /* no kind of rig */
    const char *rig; /* name of the rig that was asked for; "" when one was made up */
    pl_trial *items;
    size_t count, room, failed;
    double least_N, most_N; /* range that the rig presses; NAN when it does not */
    size_t settings;        /* rigs made up with settings at the ends of their ranges */
    bool reads;             /* records at all */
    size_t records;         /* recordings of its own that were tried */
    /* Of one recording stretched to `rows` rows: processor time of the child, and how much more
     * memory it held at its most than with the recording as it is. rows 0, NAN: not tried. */
    size_t rows;
    double us_per_row, bytes_per_row;
} pl_trials;

#define PL_TRY_ROWS 1000000u /* rows of the long record, at least */

/* What is tried. rig: a rig file of the kind, or NULL: then NAME.json beside the plugin, or else
 * one is made up of what the kind declares, every setting in the middle of its range. records:
 * paths of what such a rig recorded, each for one specimen or naming its own; none: what lies in
 * a folder `recordings` beside the plugin, if there is one. */
typedef struct pl_trying {
    const char *kind; /* when rig is NULL */
    const pl_rig *rig;
    const char *const *records;
    size_t nrecord;
} pl_trying;

/* Scratch files go into a folder of its own where the system keeps such, and are removed. A
 * failed check is no error. EKEY: no such kind; EUSAGE: records for a kind that reads none; codes
 * of a rig file that does not fit the kind; ENOFILE: a record is not there; EWRITE: no scratch
 * folder. */
pl_code pl_rigs_try(pl_arena *a, const pl_trying *what, pl_trials *out, pl_diags *d);

/* The regular files of a folder, sorted. ENOFILE: no such folder. */
pl_code pl_try_folder(pl_arena *a, const char *folder, const char *const **out, size_t *n,
                      pl_diags *d);

#endif
