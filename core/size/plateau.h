/* The chance that a study finds where strength stops rising, by simulation. Pure: no printing,
 * no files.
 *
 * A study succeeds when its state is `reached` and its point lies within a stated ratio of the
 * true onset; every other end is a failure, counted by kind. Each draw makes what a study of n
 * glue-ups per level leaves of itself, its level means and the scatter between glue-ups, and
 * judges it by the rules of fit (docs/methods/state.md, curves-and-onset.md) on projections worked
 * out beforehand; docs/methods/size.md says where that is short of fit itself.
 *
 * Draws come in blocks of PL_PLATEAU_BLOCK. Counts are whole numbers and a stop falls on a block
 * border, so the answer is the same bit for bit for any number of threads. */
#ifndef PL_SIZE_PLATEAU_H
#define PL_SIZE_PLATEAU_H

#include <stdint.h>

#include "size/size.h"

#define PL_PLATEAU_BLOCK 500u
#define PL_PLATEAU_DRAWS_MOST 1000000000u
#define PL_PLATEAU_LEVELS_MOST 24u
#define PL_PLATEAU_GUESSES_MOST 20u
#define PL_PLATEAU_GLUE_UPS_MOST 100u /* the largest number looked at */
#define PL_PLATEAU_WITHIN 1.5         /* where a study does not say what is near enough */

/* What the curve may be like; the strength at the highest level is 1. */
typedef struct pl_plateau_guess {
    const char *curve; /* that rises: "linear-plateau", ... */
    bool log_x;
    double floor;  /* where the curve starts (x at 0, log x at the lowest level), as a share of the
                    * strength at the highest level */
    double onset;  /* where share of the highest is reached, in x */
    double weight; /* > 0; they need not sum to 1 */
} pl_plateau_guess;

typedef struct pl_plateau_question {
    const double *levels; /* K, rising */
    size_t K;
    pl_quantity_kind kind; /* of the levels, to speak in */
    const char *unit;      /* NULL: none */
    double share;          /* of the highest strength, at which the rise counts as done */
    double within;         /* ratio, > 1 */
    const pl_plateau_guess *guesses;
    size_t nguess;
    /* Scatter, blocks, chances: levels, groups 1, sd in shares of the highest strength. relative:
     * each level scatters by that share of its own mean; else all alike. */
    pl_size_question size;
    /* The breaking rig stops there, a share of the highest strength: a stronger joint counts as
     * that much, as fit counts it; 0: none. Blocks then only take degrees of freedom. */
    double limit;
    bool asked_only;   /* no other layouts */
    bool advised_only; /* the scatter that advice stands on alone (pl_plateau_advised) */
    uint64_t seed;
    uint64_t from, to; /* draws; to > from, on block borders unless `to` is the end */
    bool whole_range;  /* all of them at every number; else stops once sure */
    double sure_to;    /* standard error of a chance at which it stops */
} pl_plateau_question;

/* How a study ends. */
typedef enum pl_plateau_end {
    PL_END_FOUND,       /* reached, and near enough */
    PL_END_FAR,         /* reached, the point too far off */
    PL_END_TOP_OPEN,    /* a rise, but whether it ends is not known */
    PL_END_NOT_REACHED, /* says that it rises to the last but one level at least */
    PL_END_NO_RISE,     /* no rise seen, nor a fall */
    PL_END_FALLING,
    PL_NPLATEAU_ENDS
} pl_plateau_end;
const char *pl_plateau_end_name(pl_plateau_end e); /* "found", "too-far", ... */

typedef enum pl_plateau_layout {
    PL_LAYOUT_ASKED,
    PL_LAYOUT_RATIO,  /* constant ratio from the lowest to the highest level asked */
    PL_LAYOUT_STEPS,  /* equal steps */
    PL_LAYOUT_PLACED, /* chosen for the guesses by design (pl_onset_levels) */
    PL_NPLATEAU_LAYOUTS
} pl_plateau_layout;
const char *pl_plateau_layout_name(pl_plateau_layout l); /* "asked", "constant-ratio",
                                                            "equal-steps", "placed-for-guess" */

/* One number of glue-ups on one layout under one scatter. */
typedef struct pl_plateau_cell {
    uint64_t draws;
    uint64_t ends[PL_NPLATEAU_ENDS];
} pl_plateau_cell;

typedef struct pl_plateau_row {
    pl_plateau_layout layout;
    unsigned glue_ups_per_level;
    pl_plateau_cell cell[PL_NSIZE_BASES]; /* draws 0: the basis does not apply */
} pl_plateau_row;

typedef struct pl_plateau_answer {
    pl_plateau_row *rows; /* by layout, then by number; those worked out */
    size_t nrow;
    double sd_upper; /* NAN: scatter known */
    double places[PL_NPLATEAU_LAYOUTS][PL_PLATEAU_LEVELS_MOST];
    bool has[PL_NPLATEAU_LAYOUTS]; /* false: the same as asked, or not to be had */
    bool stopped;                  /* by the caller: what is there is what is known */
    unsigned need[PL_NPLATEAU_LAYOUTS][PL_NSIZE_BASES]; /* 0: none of those looked at */
} pl_plateau_answer;

/* Called between blocks on the calling thread, with the share of the work that is surely behind.
 * True: stop with what is known. */
typedef bool (*pl_plateau_watch)(void *self, double done);

/* *out lives in a. PL_EDOM with a finding for each argument out of range; PL_EUNFIT when a guess
 * cannot be drawn (its curve cannot have such an onset), or nothing is left to judge by;
 * PL_ENOMEM. */
pl_code pl_plateau_size(pl_arena *a, const pl_plateau_question *q, pl_plateau_watch watch,
                        void *self, pl_plateau_answer **out, pl_diags *d);
/* need[] from the rows; pl_plateau_size has done it, whoever adds counts does it anew. */
void pl_plateau_needs(const pl_plateau_question *q, pl_plateau_answer *w);

/* The chances that are advised by: those which weigh in that the scatter is not sure. */
pl_size_basis pl_plateau_advised(const pl_plateau_question *q);
double pl_plateau_chance(const pl_plateau_cell *c); /* NAN without draws */
double pl_plateau_mc_se(const pl_plateau_cell *c);  /* of that; with one success and one
                                                     * failure added, so that it is never 0 */

/* A plateau question with `within` and `guess`, from a study; seed and draws are the caller's. Of a
 * scatter in strength, all levels scatter alike. PL_EUNFIT, PL_ENOMEM. */
pl_code pl_plateau_from_study(pl_arena *a, const pl_study *s, pl_plateau_question *out,
                              pl_diags *d);

/* In shop words, a sentence a line. NULL without memory. */
char *pl_plateau_words(pl_arena *a, const pl_plateau_question *q, const pl_plateau_answer *w);

/* ---- inner: one study judged on projections (plateau_judge.c) ---- */

typedef struct pl_judge_layout pl_judge_layout;
typedef struct pl_judge pl_judge;

/* What hangs on the levels alone; *out lives in a and is not written again. PL_ENOMEM. */
pl_code pl_judge_lay_out(pl_arena *a, const double *levels, size_t K, double share,
                         pl_judge_layout **out, pl_diags *d);
/* n glue-ups at each level, `blocks` of their degrees of freedom gone to blocks, `efficiency` the
 * share of the comparisons that these leave. PL_EUNFIT: no error left. */
pl_code pl_judge_make(pl_arena *a, const pl_judge_layout *l, unsigned n, double blocks,
                      double efficiency, pl_judge **out, pl_diags *d);
/* Scratch of one thread. */
double *pl_judge_scratch(pl_arena *a, const pl_judge *j);
/* mean: K level means; ss: sum of squares between glue-ups within levels, blocks taken out.
 * *point: the onset, in x, with PL_END_FOUND (then meaning reached, near or far); NAN otherwise. */
pl_plateau_end pl_judge_study(const pl_judge *j, const double *mean, double ss, double *scratch,
                              double *point);
double pl_judge_error_df(const pl_judge *j);

#endif
