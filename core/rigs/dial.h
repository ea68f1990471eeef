/* Dial: what a rig file says of the gauge and of the rated limit, and the
 * arithmetic of reading a gauge. Used by the child to find set points and by the
 * parent to check that none lies above a limit. */
#ifndef PL_RIGS_DIAL_H
#define PL_RIGS_DIAL_H

#include <stdbool.h>

#include "base/arena.h"
#include "base/diag.h"
#include "base/json.h"
#include "base/units.h"

typedef struct pl_dial {
    bool there;            /* the rig file has "dial" */
    const char *unit;      /* "bar"; "" when not there */
    pl_quantity_kind kind; /* of unit; PL_Q_NONE when not there */
    double scale, offset;  /* SI = scale * reading + offset */
    double to;             /* SI end of the dial; HUGE_VAL when not stated */
    double mark;           /* SI between marks; 0 when not stated */
    double class_of[3];    /* error limit as a fraction of span: lower quarter, middle half,
                              upper quarter; 0 when not stated */
    bool drag;             /* pointer: "drag" (holds the highest reading) */
    const char *rated;     /* as written; "" when not stated */
    double rated_dial;     /* SI; HUGE_VAL unless rated is in the dial's quantity */
    double rated_force_N;  /* HUGE_VAL unless rated is a force */
} pl_dial;

/* wanted: SI unit that the kind declares for its dial, NULL for no dial, "" when
 * that is not known here (the parent). All faults in one run. EKEY, EVALUE,
 * EUNIT. */
pl_code pl_dial_read(pl_arena *a, const pl_json *rig, const char *wanted, pl_dial *out,
                     pl_diags *d);
/* What is missing and what that costs, as advice. */
void pl_dial_advise(const pl_json *rig, const pl_dial *dial, pl_diags *d);

/* Highest reading that may be set, SI: end of the dial or rated limit. */
double pl_dial_most(const pl_dial *dial);
/* Limit of error of the gauge at an SI reading, SI: class times span. */
double pl_dial_error(const pl_dial *dial, double reading);
/* Nearest reading that the dial can show: half marks, step of them up or down from it;
 * never above pl_dial_most. *shown is it in the dial's unit, exact to the mark. */
double pl_dial_round(const pl_dial *dial, double reading, double *shown);
/* Half-width within which a person reads it: a quarter of a mark. */
double pl_dial_reading_error(const pl_dial *dial);
/* Readings, in the dial's unit, within which a level counts as made. */
#define PL_DIAL_ACCEPT 0.05 /* of the reading; half a mark at least. Common practice, no source */
void pl_dial_accept(const pl_dial *dial, double reading, double *low, double *high);

/* Kind of quantity of a header's SI unit, "1" included; PL_Q_COUNT when none. */
pl_quantity_kind pl_dial_si_kind(pl_arena *a, const char *unit);

#endif
