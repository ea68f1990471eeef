/* What the files of `platen rig` share. */
#ifndef PL_CLI_RIG_H
#define PL_CLI_RIG_H

#include "cli/load.h"

typedef struct pl_rig_options {
    const char *pressure, *area, *reading;            /* dial */
    const char *date, *against, *against_uncertainty; /* calibrate */
    const char *to;                                   /* new */
    const char *recordings;                           /* try: a folder */
    bool replace;                                     /* add */
} pl_rig_options;

/* A rig of the shop from the book; found false when there is none. */
pl_code pl_shop_rig(pl_run *run, const char *name, pl_rig *rig, bool *found);
/* The same; EKEY when there is none. */
pl_code pl_need_shop_rig(pl_run *run, const char *name, pl_rig *rig);

/* What is to be said of its calibration today, as advice. */
pl_code pl_say_calibration(pl_run *run, const pl_rig *rig);
pl_code pl_rig_calibrate(pl_run *run, const char *name, const char *path);
pl_code pl_rig_new(pl_run *run, const char *name);
/* name NULL: the plugin given by its file. Records: the arguments behind it. */
pl_code pl_rig_try(pl_run *run, const char *name);

#endif
