/* A bare table from a CSV file, and a study's table from plan and readings. */
#ifndef PL_CLI_DATA_H
#define PL_CLI_DATA_H

#include "base/csv.h"
#include "cli/load.h"
#include "study/reading.h"
#include "study/table.h"

/* Rows of the file as they are; row names are "line 17". Only commas and
 * semicolons; places of faults are in the findings. */
pl_code pl_table_from_csv(pl_arena *a, const char *path, const pl_table **out, pl_diags *d);

/* What a study's readings come to. */
typedef struct pl_joined {
    const pl_table *table;    /* columns: see docs/forms.md "What the fit sees"; behind them those
                                 of fit/ties.h */
    const pl_table *held;     /* the same, and those of which only a bound is known */
    const pl_table *tied;     /* the same as table, and reference joints behind them */
    const char *const *notes; /* what happened at the bench, a sentence each */
    size_t nnote;
    size_t planned, broken, used; /* specimens */
    size_t tying;                 /* reference joints among tied */
    bool unknown_applied;         /* some glue-up has no applied pressure */
    size_t excluded;              /* specimens with readings that are left out for a reason given */
    size_t ncolumn;               /* of table, without what reference joints tie */
} pl_joined;

/* Joins plan and readings: applied pressure through the pressing rig, peak
 * through the breaking rig where it is a dial reading, each specimen's own
 * area. Needs loaded->study, plan, rigs, points. EDATA when nothing is broken yet. */
pl_code pl_join(pl_run *run, const pl_loaded *loaded, const pl_readings *readings, pl_joined *out);

/* Places in the plan's glue-ups of those that gave no joint that counts and never will:
 * each of their joints was lost, excluded, broken in handling or at the fixture; and none
 * that stands there makes them again already. */
pl_code pl_lost_glue_ups(pl_run *run, const pl_loaded *loaded, const pl_readings *readings,
                         size_t **out, size_t *n);

#endif
