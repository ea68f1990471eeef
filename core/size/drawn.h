/* The chance of noticing a difference where theory has no number: joints whose scatter grows with
 * their strength, or that break like chains. Every experiment is drawn and judged as fit judges
 * it, by the F test of the levels and by that of the two named ones. Pure.
 *
 * The levels lie as size.h has them: two of them worth_noticing apart, the others midway. Without
 * blocks what is drawn of normal scatter is what a study leaves of itself, level means and sums of
 * squares; with complete blocks, and of chains, every joint is.
 *
 * Experiments come in blocks of PL_DRAWN_BATCH, each a stream of its own, and counts are whole
 * numbers: the same answer bit for bit for any number of threads. */
#ifndef PL_SIZE_DRAWN_H
#define PL_SIZE_DRAWN_H

#include <stdint.h>

#include "size/size.h"

#define PL_DRAWN_BATCH 64u
#define PL_DRAWN_DRAWS_MOST 10000000u
#define PL_DRAWN_LEVELS_MOST 64u

typedef enum pl_drawn_scatter {
    PL_DRAWN_ALIKE,         /* normal, every level's the same: what theory has, beside it */
    PL_DRAWN_IN_PROPORTION, /* normal, each level's a share of its own mean */
    PL_DRAWN_WEAKEST_LINK,  /* Weibull, its shape from the scatter as a share */
    PL_NDRAWN_SCATTERS
} pl_drawn_scatter;
const char *pl_drawn_scatter_name(pl_drawn_scatter s); /* "alike", "in-proportion", ... */
bool pl_drawn_scatter_find(const char *name, pl_drawn_scatter *out);

typedef struct pl_drawn_question {
    const pl_size_question *size; /* accepted by pl_size_find */
    pl_drawn_scatter scatter;
    bool each_joint; /* draw every joint even where its sums would do: for tests */
    uint64_t draws, seed;
} pl_drawn_question;

typedef struct pl_drawn_row {
    unsigned glue_ups_per_level;
    uint64_t draws, seen[PL_NSIZE_TESTS];
    double exact[PL_NSIZE_TESTS]; /* of scatter alike, by theory */
} pl_drawn_row;

typedef struct pl_drawn_answer {
    pl_drawn_row *rows; /* those of the table of *w, as far as worked out */
    size_t nrow;
    bool stopped; /* by the caller */
} pl_drawn_answer;

/* Called between numbers, with the share of the work behind. True: stop with what is known. */
typedef bool (*pl_drawn_watch)(void *self, double done);

/* One row for each number of w's table. *out lives in a. PL_EUNFIT with a finding: another aim than
 * a difference; several groups or factors, incomplete blocks, sessions across them, more than
 * PL_DRAWN_LEVELS_MOST levels; scatter in proportion to a strength that is not known; a level
 * without strength. PL_ENOMEM. */
pl_code pl_drawn_size(pl_arena *a, const pl_drawn_question *q, const pl_size_answer *w,
                      pl_drawn_watch watch, void *self, pl_drawn_answer **out, pl_diags *d);

double pl_drawn_chance(const pl_drawn_row *r, pl_size_test t);
/* Of that, with one success and one failure added, so that it is never 0. */
double pl_drawn_mc_se(const pl_drawn_row *r, pl_size_test t);

/* A sentence or two in shop words about the number that w's limits are for; "" when that was not
 * drawn. NULL without memory. */
char *pl_size_drawn_words(pl_arena *a, const pl_drawn_question *q, const pl_size_answer *w,
                          const pl_drawn_answer *drawn);

#endif
