/* The columns of the forms: one table for writing, reading and docs/forms.md.
 * For core/bench and its tests only. */
#ifndef PL_BENCH_COLUMNS_H
#define PL_BENCH_COLUMNS_H

#include "bench/forms.h"

typedef enum pl_cell_kind {
    PL_CELL_KEY,     /* whose row it is */
    PL_CELL_TEXT,    /* words, kept as they are */
    PL_CELL_SPECIES, /* as the plan has it */
    PL_CELL_RIG,     /* a rig of the study */
    PL_CELL_SESSION, /* a session of the plan */
    PL_CELL_DATE,    /* 2027-03-01 */
    PL_CELL_TIME,    /* 2027-03-01 14:05, or 14:05 */
    PL_CELL_MODE,    /* how it broke */
    PL_CELL_NUMBER,  /* in the header's unit */
    PL_CELL_PERCENT, /* 0 to 100 */
    PL_CELL_DIAL,    /* a pressure, a force or a torque */
    PL_CELL_PEAK,    /* a force, or a pressure on the breaking rig's dial; "2.4..2.6" */
    PL_CELL_SIZE     /* one of the joint kind's two sizes */
} pl_cell_kind;

typedef struct pl_form_column {
    pl_form form;
    const char *name; /* of a size: its place, "0" or "1", until it is resolved */
    pl_cell_kind cell;
    pl_quantity_kind kind; /* of numbers */
    const char *unit;      /* written in the header; "" if none */
    double low, high;      /* allowed, SI or fraction; both 0: no limits */
    bool of_rig;           /* sessions: belongs to the row's rig */
    const char *words;     /* for docs/forms.md */
} pl_form_column;

#define PL_FORM_COLUMNS_MOST 24 /* of a form, responses among them */

/* The columns of one form for a study: names and units resolved; returns how
 * many. peak_unit and dial_unit may be NULL: kN, bar. */
size_t pl_form_columns(const pl_study *s, pl_form form, const char *peak_unit,
                       const char *dial_unit, pl_form_column out[PL_FORM_COLUMNS_MOST]);

/* Places in plan->glue_ups in glue order, of one session or (0) of all, and
 * places in plan->specimens in break order; spares left out. NULL: no memory. */
size_t *pl_glue_order(pl_arena *a, const pl_plan *p, unsigned session, size_t *count);
size_t *pl_break_order(pl_arena *a, const pl_plan *p, size_t *count);

/* A time as written: a bare time has no date. */
typedef struct pl_clock {
    bool has_date, has_time, has_offset;
    int year, month, day, hour, minute, second, offset_s;
} pl_clock;

/* "2027-03-01", "2027-03-01 14:05", "2027-03-01T14:05:30+01:00", "9:05"; false
 * when it is none of them or no such day or time exists. */
bool pl_clock_read(const char *text, pl_clock *out);
/* Seconds since 1970 UTC, in the machine's zone unless it has an offset of its
 * own, and that offset as "+01:00". days: added to the date. False when the
 * local time does not exist (clocks put forward). Needs a date. */
bool pl_clock_utc(const pl_clock *c, int days, double *seconds, char offset[8]);

#endif
