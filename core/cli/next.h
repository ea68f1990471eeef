/* What to make next: for `next`, which says it, and `plan --next`, which freezes it. */
#ifndef PL_CLI_NEXT_H
#define PL_CLI_NEXT_H

#include "cli/load.h"
#include "cli/progress.h"
#include "report/answer.h"
#include "size/next.h"

typedef struct pl_next_round {
    pl_loaded l;
    pl_fit_answer fit;
    pl_next_place *places;
    size_t nplace;
    size_t *counts; /* groups x places */
    size_t glue_ups;
    const pl_study *study; /* with the new levels */
    pl_set_points *points; /* of it; NULL: no rigs known */
    size_t *level_of;      /* nplace: place among its levels; of those that are made */
} pl_next_round;

/* How much is to be made: both 0 for as much as the plan's longest session. */
typedef struct pl_next_asked {
    long long glue_ups;
    double press_s;
    size_t draws;         /* that the caller will have expected; 0: none */
    pl_progress progress; /* of both */
    pl_next_watch watch;
} pl_next_asked;

/* Fits what has been read and chooses the round. EDATA: the study asks for no plateau, or nothing
 * is read yet; EUSAGE: too few glue-ups; the codes of a fit. */
pl_code pl_next_of(pl_run *run, const char *study, pl_next_asked *asked, pl_next_round *out);

/* How many glue-ups are asked for: by number, by press hours, or the plan's longest session. */
pl_code pl_next_glue_ups(pl_run *run, const pl_next_asked *asked, const pl_loaded *l, size_t *n);

/* Its level, "0.57 N/mm2", as it would be typed. */
const char *pl_next_level(pl_run *run, const pl_next_round *r, size_t place);
/* The table of what is to be made, for the text, and as JSON. */
pl_code pl_next_say(pl_run *run, const pl_next_round *r);
void pl_next_json(pl_jval *answer, const pl_next_round *r);

/* As rows of level places and their replicates, for pl_plan_grow. */
pl_code pl_next_rows(pl_run *run, const pl_next_round *r, int **levels, size_t **replicate,
                     size_t *n);

/* "6 h" */
pl_code pl_next_take_hours(pl_run *run, const char *arg, double *press_s);

#endif
