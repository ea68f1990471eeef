/* Inside: what the files that run in the child share. Only they include this
 * and the plugin header. */
#ifndef PL_RIGS_INSIDE_H
#define PL_RIGS_INSIDE_H

#include <platen/plugin.h>

#include "rigs/calibration.h"
#include "rigs/dial.h"
#include "rigs/wire.h"

/* The child's one visit. */
typedef struct pl_inside {
    pl_arena *a;
    pl_arena *lent; /* what host->alloc gave; emptied after each call */
    pl_mark lent_empty;
    pl_diags d;
    pl_text answer; /* messages not yet written */
    pl_unpack work; /* of the request, head taken off */
    const char *name, *path;
    platen_plugin p;
    platen_host host;
    const struct pl_rig_inside *rig; /* the one that is being asked */
    const char *record;              /* file name, for findings of rows */
    const struct pl_sniffed *found;  /* what kind of table it is, once its header is read */
    struct pl_traces *traces;
} pl_inside;

/* One rig file against what its kind declares. */
typedef struct pl_rig_inside {
    const pl_json *at;
    platen_value *values; /* one a setting */
    const char **units;   /* one a setting: as written, else its SI unit */
    pl_dial dial;
    pl_calibration calibration;
    platen_limits limits;
} pl_rig_inside;

void pl_inside_stage(pl_inside *in, pl_stage stage);
/* One PL_EPLUGIN finding of the plugin. */
pl_code pl_inside_blame(pl_inside *in, const char *did);

/* load.c: dlopen and all checks; fills in->p. EPLUGIN, one finding. */
pl_code pl_inside_load(pl_inside *in);
/* settings.c: takes the next rig from the work and reads its settings. */
pl_code pl_inside_rig(pl_inside *in, pl_rig_inside *out);
void pl_inside_assumed(pl_inside *in, const pl_rig_inside *rig);
/* press.c, record.c: one kind of work each. */
pl_code pl_inside_press(pl_inside *in);
pl_code pl_inside_back(pl_inside *in);
pl_code pl_inside_read(pl_inside *in);
/* curve_inside.c: the curve service with the plugin's curve. */
pl_code pl_inside_curve(pl_inside *in);
/* The plugin's curve, every number that it gives looked at. What cannot be is remembered and
 * blamed on the plugin by pl_inside_curve_end, which else returns code. */
typedef struct pl_brought {
    pl_inside *in;
    char lie[120]; /* the first thing that cannot be, "" while all is well; kept here, for who
                      asks may reset the arena behind itself */
    struct pl_curve *curve;
    size_t before; /* findings */
} pl_brought;
pl_code pl_inside_curve_begin(pl_inside *in, pl_brought **out);
pl_code pl_inside_curve_end(pl_brought *b, pl_code code);
/* curve_try.c: the child's side of the battery for curves. */
pl_code pl_inside_curve_try(pl_inside *in);

/* host.c: services that every call may use; PL_ENOMEM. */
pl_code pl_inside_host(pl_inside *in);
/* After every call into the plugin: takes back what was lent for it. */
void pl_inside_returned(pl_inside *in);

#endif
