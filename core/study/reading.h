/* Reading: one quantity of one subject, as a form or a rig gave it. A
 * specimen's record is put together from many of them. */
#ifndef PL_STUDY_READING_H
#define PL_STUDY_READING_H

#include <stddef.h>

#include "base/arena.h"
#include "base/diag.h"
#include "base/units.h"

typedef enum pl_subject {
    PL_ON_SPECIMEN,
    PL_ON_GLUE_UP,
    PL_ON_SESSION,
    PL_ON_BOARD,
    PL_NSUBJECTS
} pl_subject;
const char *pl_subject_name(pl_subject s); /* "specimen", "glue-up", ... */

typedef struct pl_reading {
    pl_subject subject;
    const char *id;       /* specimen id, glue-up label "G7", session "2", board "B1" */
    const char *quantity; /* "peak", "wood_failure", "mode", "closed_at", ... */
    const char *text;     /* as written: "2.84", "14:05", "wood" */
    double value;         /* SI where the quantity has a unit, a fraction for percents, seconds
                             since 1970 UTC for times; NAN for words */
    const char *unit;     /* as written in the header: "kN"; "" if none */
    const char *where;    /* "day1.csv:7:12" */
} pl_reading;

typedef struct pl_readings {
    pl_reading *items;
    size_t count, room;
    size_t *first, *before; /* inner: chains by subject and quantity, places from 1 */
} pl_readings;

/* Appends; the reading's texts must live in a. Of a list and a copy of it only one may grow. */
pl_code pl_readings_add(pl_arena *a, pl_readings *r, pl_reading reading, pl_diags *d);
/* The last reading of this quantity of this subject, or NULL. */
const pl_reading *pl_readings_find(const pl_readings *r, pl_subject subject, const char *id,
                                   const char *quantity);

/* How a break counts. */
typedef enum pl_mode {
    PL_MODE_UNKNOWN,
    PL_MODE_ADHESIVE,
    PL_MODE_COHESIVE,
    PL_MODE_WOOD,
    PL_MODE_MIXED,
    PL_MODE_FIXTURE,
    PL_MODE_HANDLING,
    PL_MODE_NOT_BROKEN,
    PL_NMODES
} pl_mode;
const char *pl_mode_name(pl_mode m);  /* "adhesive", ...; "" for unknown */
pl_mode pl_mode_of(const char *text); /* PL_NMODES when it is no mode */

#endif
