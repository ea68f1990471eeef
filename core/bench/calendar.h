/* Calendar: when each session is glued, each clamp may come off, and each joint is
 * broken, from presses, stations, working hours and the times that were taken.
 *
 * Times are seconds since 1970 UTC; local hours and days are those of the TZ that
 * is set (the caller sets the study's zone), so that a clamp time is as long over
 * a night when the clocks change as over any other. What was taken into the book
 * stands as it was; what is left follows from it. */
#ifndef PL_BENCH_CALENDAR_H
#define PL_BENCH_CALENDAR_H

#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"
#include "base/diag.h"
#include "study/plan.h"
#include "study/reading.h"
#include "study/study.h"

/* One closing. NAN where there is no clamp time and nothing was taken. */
typedef struct pl_slot {
    double begin, pressed; /* hands-on from begin to pressed */
    double until;          /* the clamp time is over */
    double open;           /* somebody opens it: until, or the next working hour */
    bool begun, opened;    /* taken so */
    bool mix;              /* the adhesive is mixed (anew) before it */
} pl_slot;

typedef struct pl_break_slot {
    double ready, deadline; /* cured at least, at most; deadline INFINITY if none */
    double begin, end;      /* at the breaking rig */
    bool broken, late;      /* taken so; planned beyond its deadline */
    bool gone;              /* lost: never broken */
} pl_break_slot;

typedef enum pl_task_kind { PL_TASK_GLUE, PL_TASK_OPEN, PL_TASK_BREAK, PL_NTASKS } pl_task_kind;

typedef struct pl_task {
    pl_task_kind kind;
    const char *id;    /* "session-2", "open-G7", "break-1": the same in every calendar */
    const char *words; /* "glue session 2: G7 to G12" */
    double from, to;
    double by; /* overdue after it; INFINITY: never */
    bool done, begun;
    unsigned session; /* glue: which */
    size_t glue_up;   /* open: place in plan->glue_ups */
    size_t joints;    /* break: how many are left of it */
} pl_task;

typedef struct pl_calendar {
    pl_slot *slots;        /* plan->nglue_up; spares: all NAN */
    pl_break_slot *breaks; /* plan->nspecimen; spares: gone */
    pl_task *tasks;        /* by time */
    size_t ntask;
    const char *const *notes; /* sentences: what was taken as given, what does not fit */
    size_t nnote;
} pl_calendar;

typedef struct pl_calendar_spec {
    const pl_study *study;
    const pl_plan *plan;
    const pl_readings *readings; /* NULL: nothing was taken yet */
    const bool *gone;            /* plan->nspecimen: lost at the bench; NULL: none */
    double now;                  /* nothing that is left to do lies before it */
} pl_calendar_spec;

/* PL_ENOMEM. PL_EUNFIT: no day in ten years has working hours. */
pl_code pl_calendar_make(pl_arena *a, const pl_calendar_spec *spec, pl_calendar *out, pl_diags *d);

/* "Mon 1 Mar 14:05" in local time; with_day false: "14:05". */
char *pl_calendar_time(pl_arena *a, double t, bool with_day);

/* The tasks as an iCalendar file (RFC 5545), lines folded, with an alarm for what is
 * not done. sequence must rise from one calendar of a study to the next; stamp: when
 * it was made. An event keeps its UID for the study's plan's seed and its task's id. */
char *pl_calendar_ics(pl_arena *a, const pl_study *s, const pl_plan *p, const pl_calendar *c,
                      long long sequence, double stamp);

#endif
