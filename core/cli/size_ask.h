/* The parts of the verb size: what is asked by flags, and how an answer is said. */
#ifndef PL_CLI_SIZE_ASK_H
#define PL_CLI_SIZE_ASK_H

#include "cli/verb.h"
#include "size/drawn.h"
#include "size/size.h"

#define PL_SIZE_FACTORS_MOST 6 /* without a study */

typedef struct pl_size_options { /* as typed; NULL or 0: not given */
    const char *scatter, *worth, *miss, *alarm, *as_good, *truly, *percentile, *confidence, *width;
    const char *between; /* of blocks, boards, whole plots */
    long long levels[PL_SIZE_FACTORS_MOST], scatter_from, glue_ups, per_block;
    size_t nfactor; /* of levels[] */
    bool both_sides, hard;
    /* the plateau aim, simulated: size_plateau.c */
    double limit;       /* of the study's breaking rig; 0: none known */
    const char *breaks; /* where it stops, said beside */
    const char *within, *from, *to, *onset, *floor, *draws, *sure_to;
    const char *drawn; /* kind of scatter that a difference is tried out on: size_drawn.c */
    pl_texts merge;
    long long seed;
    bool seeded;
} pl_size_options;

/* Flags that take the place of a study: the question. EUSAGE. */
pl_code pl_size_from_flags(pl_run *run, const pl_size_options *o, pl_size_question *q);
/* The first of them that is given, or NULL. */
const char *pl_size_stands_in(const pl_size_options *o);
/* A chance as typed; NULL leaves *out. */
pl_code pl_size_read_chance(pl_run *run, const char *option, const char *text, double *out);

/* The plateau aim: from a study that has guesses, or (s NULL) from flags. Asks, simulates or
 * merges, and says. */
pl_code pl_size_plateau(pl_run *run, const pl_size_options *o, const pl_study *s);
/* The first option given that only the plateau aim has, or NULL. */
const char *pl_size_simulates(const pl_size_options *o);
/* A share of the strength or a dimension, as --scatter takes it. EUSAGE. */
pl_code pl_size_read_share(pl_run *run, const char *option, const char *text, double *out);

/* --drawn: the numbers of the answer tried out on drawn joints; NULL without it. */
typedef struct pl_size_tried {
    pl_drawn_question q;
    pl_drawn_answer *answer;
} pl_size_tried;
pl_code pl_size_try(pl_run *run, const pl_size_options *o, const pl_size_question *q,
                    const pl_size_answer *answer, pl_size_tried **out);
/* Of it as JSON. */
void pl_size_add_tried(pl_run *run, const pl_size_tried *t);

/* The answer as words, table and JSON. s: what it was asked for, NULL without a study. */
pl_code pl_size_say(pl_run *run, const pl_study *s, const pl_size_question *q,
                    const pl_size_answer *answer, const pl_size_tried *tried);

#endif
