/* Build: the raw structs of a study file tied together into a pl_study. Each
 * step reports what contradicts; none stops another. Internal to core/study. */
#ifndef PL_STUDY_BUILD_H
#define PL_STUDY_BUILD_H

#include "study/fill.h"

typedef struct pl_build {
    pl_fill f;
    const pl_json *root;
    const pl_raw *raw;
    pl_study *s;
} pl_build;

void pl_build_factors(pl_build *b);             /* read_factors.c */
void pl_build_question(pl_build *b);            /* needs the factors */
void pl_build_aim(pl_build *b, pl_question *q); /* read_aim.c; what an aim has of its own */
void pl_build_places(pl_build *b);              /* levels for the aim; needs the question */
void pl_build_together(pl_build *b);            /* read_together.c; needs the factors */
void pl_build_joint(pl_build *b);               /* read_joint.c; needs the presses */
void pl_build_boards(pl_build *b);              /* needs factors and joint */
void pl_build_rigs(pl_build *b);                /* read_shop.c */
void pl_build_presses(pl_build *b);             /* needs the rigs */
void pl_build_arrangement(pl_build *b);         /* read_arrangement.c; needs factors and boards */
void pl_build_extras(pl_build *b);              /* read_extras.c; needs factors, rigs */
void pl_build_budget(pl_build *b);              /* read_budget.c */
void pl_build_hours(pl_build *b);               /* read_hours.c; needs times */
void pl_build_responses(pl_build *b);           /* read_responses.c; needs the factors */
void pl_build_rest(pl_build *b); /* adhesive, breaking, times, scatter, budget, model */

void pl_build_choice(pl_build *b); /* choose_arrangement.c; what is built when none is named */
/* read_arrangement.c. Fewest runs of a fraction of that resolution, 0: none within the limits. */
unsigned pl_build_fewest_runs(size_t nfactor, unsigned resolution);
/* Columns that an optimal design tells apart, the mean and what comes with the board left out. */
size_t pl_build_columns(const pl_study *s, pl_asks asks);
pl_asks pl_build_asks(const pl_study *s); /* where the file does not say */

/* The member at the end of a path, or NULL: pl_build_at(b, "question", "over"). */
const pl_json *pl_build_at(const pl_build *b, const char *object, const char *key);
/* "did you mean "x"?" or "". */
const char *pl_build_near(pl_build *b, const char *typed, const char *const *names, size_t n);
/* All its levels were read; else a fault among them has been said. */
bool pl_build_levels_whole(const pl_factor *f);
void *pl_build_new(pl_build *b, size_t n, size_t size); /* NULL: ENOMEM is noted */

/* Of a central composite design: how far the points on the axes lie, the corners' place being 1;
 * and runs in the middle (with blocks: in each). */
double pl_build_axial(const pl_build *b);
unsigned pl_build_middle(const pl_build *b);

#endif
