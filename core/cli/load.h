/* Getting at studies, plans and rigs: what nearly every verb starts with. */
#ifndef PL_CLI_LOAD_H
#define PL_CLI_LOAD_H

#include "book/book.h"
#include "cli/verb.h"
#include "study/plan.h"
#include "study/rig.h"
#include "study/set_points.h"
#include "study/study.h"

typedef struct pl_draws { /* beside a fit's answer; 0: none */
    size_t bootstrap;     /* from each curve (fit/bootstrap.h) */
    bool residuals;       /* as many with the units' own */
    uint64_t randomised;  /* of the plan, for each factor (fit/randomise.h) */
    uint64_t seed;        /* of both */
} pl_draws;

typedef struct pl_loaded {
    const pl_study *study;   /* the file given; or the frozen revision's when a name was given */
    const pl_study *frozen;  /* of the latest revision; NULL when nothing is frozen */
    const pl_plan *plan;     /* latest revision; NULL when nothing is frozen */
    const pl_study *asked;   /* the file given, where it differs from the frozen one; else NULL */
    pl_book *book;           /* open for reading, as it was when opened; NULL when there is none */
    int64_t seen;            /* the last entry of its trail then */
    const pl_marking *marks; /* of the study, nmark of them; for pl_join */
    size_t nmark;
    pl_draws draws;
    bool with_excluded;    /* pl_join lets excluded specimens count */
    pl_rig *rigs;          /* study->rigs resolved, study->nrig of them; NULL when some are not */
    pl_set_points *points; /* NULL when rigs are not known or no factor is pressed */
} pl_loaded;

enum pl_load {
    PL_LOAD_STUDY = 0,
    PL_LOAD_RIGS = 1,      /* resolve rigs; missing ones are advice only */
    PL_LOAD_POINTS = 2,    /* and set points */
    PL_LOAD_PLAN = 4,      /* the latest revision is needed: EDATA without one */
    PL_LOAD_NEED_RIGS = 8, /* missing rigs are refused */
    PL_LOAD_ASKED = 16,    /* the file as it stands, also where the book has a frozen one */
    PL_LOAD_UNSAID = 64,   /* study and revision do not go into the answer */
    PL_LOAD_DRAWN = 32,    /* a plan goes into the JSON answer and brings its own revision */
};

/* STUDY is a file, or a name in the book. Adds study and revision to the JSON
 * answer. Local times are those of the study's zone from here on, or of the
 * machine's where it names none. */
pl_code pl_load(pl_run *run, const char *study, unsigned what, pl_loaded *out);

/* The pressed factor's levels as set points of the study's rigs, s->nrig of them; *out NULL when
 * rigs is, or no factor is pressed. */
pl_code pl_load_points(pl_run *run, const pl_study *s, const pl_rig *rigs, pl_set_points **out);

#endif
