/* The parts of joining plan and readings: what each glue-up was really pressed
 * at (applied.c), how each specimen broke (breaks.c), the table (join.c). */
#ifndef PL_CLI_JOIN_H
#define PL_CLI_JOIN_H

#include "cli/data.h"

#define PL_APPLIED_UNKNOWN "unknown" /* as what a glue-up was made, when nobody can tell */

typedef struct pl_made { /* of one glue-up */
    double applied_Pa;   /* NAN = unknown */
    double dial;         /* SI mean less no-load; NAN = none read */
    int rig;             /* place in the study's rigs, as used; -1 */
} pl_made;

typedef struct pl_broken { /* of one specimen */
    double peak_N, area_m2, wood_share;
    pl_mode mode;
    bool broke, wood, counts; /* there is a record; failed in wood; is in the table */
    bool nominal;             /* area from nominal sizes */
    /* What it held, from and to: the peak; between two marks; not broken, no end; broken in
     * handling, from nothing. Both NAN: nothing is known. */
    double least_N, most_N;
    const pl_invalid *invalid; /* the rule that makes it no result; NULL */
} pl_broken;

typedef struct pl_join_work {
    pl_run *run;
    pl_arena *a;
    const pl_loaded *l;
    const pl_study *s;
    const pl_plan *p;
    const pl_readings *r;
    const pl_marking **out; /* nspecimen: lost or excluded; NULL: it counts */
    pl_made *made;          /* nglue_up */
    pl_broken *broken;      /* nspecimen */
    const char **breakers;  /* who broke joints, nbreaker of them, in order of appearance */
    size_t nbreaker;
    pl_texts notes;
    pl_code rc;
} pl_join_work;

/* A sentence about what happened at the bench. */
void pl_join_note(pl_join_work *j, const char *words);
/* The last reading's value (NAN if none) or text ("" if none). */
double pl_join_value(const pl_join_work *j, pl_subject subject, const char *id,
                     const char *quantity);
const char *pl_join_word(const pl_join_work *j, pl_subject subject, const char *id,
                         const char *quantity);

/* Sessions and orders as the forms have them in place of those planned; says where they
 * differ. p becomes a copy, which marks may change further. */
pl_code pl_join_recorded(pl_join_work *j);
/* What was done, where somebody marked it: turns p and r into what was really made,
 * fills out, and says so. */
pl_code pl_join_marks(pl_join_work *j);
pl_code pl_join_applied(pl_join_work *j); /* fills made */
pl_code pl_join_breaks(pl_join_work *j);  /* fills broken */
/* Of broken: what each joint held from and to; needs its peak and mode. breaks_held.c */
pl_code pl_join_held(pl_join_work *j);
/* Results that a rule of the study makes invalid: found, counted by level, said. */
void pl_join_invalid(pl_join_work *j);

#endif
