/* What the files of the battery share. */
#ifndef PL_RIGS_TRY_INNER_H
#define PL_RIGS_TRY_INNER_H

#include "base/text.h"
#include "rigs/try.h"

typedef struct pl_try {
    pl_arena *a;
    pl_rig rig;
    pl_rig_kind kind;
    const char *file; /* scratch, where it reads records */
    pl_trials *out;
    pl_diags *d;
} pl_try;

/* One check, and what to say when it fails. */
typedef struct pl_try_check {
    const char *name, *expected, *mend;
} pl_try_check;

/* found "": passed. */
pl_code pl_try_note(pl_try *t, pl_try_check check, const char *found);
/* A plugin that fails is a failed check like any other: PL_EPLUGIN becomes one,
 * with what was found of it, and PL_OK; every other code comes back as it is. */
pl_code pl_try_failed(pl_try *t, pl_code code, pl_try_check check, const pl_diags *found);
/* What was found of a plugin that failed. */
const char *pl_try_what(const pl_diags *found);
bool pl_try_same_bits(double x, double y);

/* try_rig.c: rigs that nobody owns, made up of what the kind declares. */
typedef enum pl_try_end { PL_TRY_LOW, PL_TRY_MIDDLE, PL_TRY_HIGH } pl_try_end;
/* Every setting in the middle of its range or at its preset; setting number `which` (or all, when
 * it is nsetting) at that end. A choice has its first and its last at the ends. Codes of a rig
 * that the kind's declaration cannot make. */
pl_code pl_try_made_up(pl_try *t, size_t which, pl_try_end end, pl_rig *out, pl_diags *d);
/* The rig without marks, class, calibrations and limits: its settings and its dial's unit alone. */
pl_code pl_try_bare(pl_try *t, pl_rig *out, pl_diags *d);
/* Every setting at its ends: pressing, the way back, and a record made up. */
pl_code pl_try_settings(pl_try *t);

/* try_press.c */
pl_code pl_try_pressing(pl_try *t);
pl_code pl_try_way_back(pl_try *t);

/* try_dress.c: a record taken apart, and put together again in other clothes. */
typedef struct pl_lines {
    const char **text; /* without their ends; empty ones too */
    size_t n;
    size_t first; /* first row of data; n when there is none */
    char between; /* ',' ';' or tab */
    bool commas;  /* decimal commas */
} pl_lines;
pl_code pl_lines_of(pl_arena *a, const char *bytes, size_t n, pl_lines *out, pl_diags *d);
/* At most `most` rows of data, evenly spread. */
pl_lines pl_lines_thin(pl_arena *a, const pl_lines *l, size_t most);
/* The cells of a line, at most `room`; quotes stay. */
#define PL_CELLS_MOST 64
size_t pl_line_cells(pl_arena *a, const char *line, char between, const char **cells);
bool pl_cell_number(const char *cell, bool commas, double *x);

typedef struct pl_dress {
    const char *name; /* "with tabs" */
    bool plain_only;  /* only for a recording of commas and decimal points without quotes */
    void (*put_on)(const pl_lines *l, pl_text *out);
} pl_dress;
extern const pl_dress pl_dresses[];
extern const size_t pl_ndresses;
bool pl_lines_plain(const pl_lines *l);

/* try_records.c: one recording at a time, in a scratch file. */
typedef struct pl_try_record {
    pl_try *t;
    const char *name; /* of the recording at hand */
    pl_lines lines;
    bool rows; /* it has rows of numbers, which can be taken apart */
    char *bytes;
    size_t length;
    pl_readings plain; /* what it gave as it is */
    pl_cost cost;      /* of the last that was read */
    const char *broke; /* how the plugin failed at the last; "" */
} pl_try_record;
pl_code pl_try_records(pl_try *t, const char *const *records, size_t nrecord);
/* Reads bytes through the plugin of a rig. Codes of a record refused come back; of a plugin that
 * failed, r->broke says how. pl_try_ends_all: of a code that ends the whole battery. */
pl_code pl_try_read(pl_try_record *r, const pl_rig *rig, const char *path, pl_readings *out);
pl_code pl_try_read_bytes(pl_try_record *r, const char *bytes, size_t n, pl_readings *out);
bool pl_try_ends_all(pl_code rc);
/* A check of a record: "pull.csv of a million rows". */
pl_code pl_try_note_record(pl_try_record *r, const char *what, const char *expected,
                           const char *mend, const char *found);
extern const char pl_try_no_fail[], pl_try_look[];

/* try_made.c: records made up of the columns that the kind declares. */
pl_code pl_try_made_records(pl_try_record *r);
/* The plugin fails over none of these rigs' records: "" or what it did. A pull with every column.
 */
pl_code pl_try_made_pull(pl_try_record *r, const pl_rig *rig, const char **found);

/* try_curve.c: a curve instead of a rig. */
pl_code pl_try_curve(pl_try *t);

/* try_long.c */
pl_code pl_try_long(pl_try_record *r);

#endif
