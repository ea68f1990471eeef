/* How many glue-ups per level are enough for an aim, and what a given number cannot show.
 * Pure: no printing, no files.
 *
 * Three aims share one question and one answer (aim.h has what each does of its own): a
 * difference is noticed, a level is shown to be as good as a named one, a low percentile is
 * bounded close enough. With width_at_most the interval must be narrow enough too, or that
 * alone is asked.
 *
 * Counted in glue-ups: one closing of the press is one unit for what the press
 * sets; the specimens of one glue-up are subsamples and only make its mean
 * steadier. `levels` levels are compared, two of them `worth_noticing` apart and
 * all others midway: the least favourable case for that distance (Bratcher,
 * Moran & Zimmer 1970; Kutner et al., table B.12), with noncentrality
 * n D^2 / (2 sigma^2) for the overall test and for the two named levels alike. */
#ifndef PL_SIZE_SIZE_H
#define PL_SIZE_SIZE_H

#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"
#include "base/diag.h"
#include "base/units.h"
#include "study/plan.h"
#include "study/study.h"

#define PL_SIZE_CAP 200u       /* glue-ups per level: beyond it nobody goes to the bench */
#define PL_SIZE_TAIL_CAP 1000u /* of one kind of joint, to bound its low tail */

/* How sure the scatter is. */
typedef enum pl_scatter_from {
    PL_SCATTER_KNOWN,   /* taken as exact: nobody said where it came from */
    PL_SCATTER_PILOT,   /* from a pilot, on sd_df degrees of freedom */
    PL_SCATTER_GUESSED, /* nobody knows: a range of the trade stands in, sd to sd_high */
    PL_NSCATTER_FROM
} pl_scatter_from;

/* Distances and scatter are either shares of the strength (relative) or in one
 * SI unit; which does not matter to any chance. */
/* One effect of a layout with several factors, asked for by itself. */
typedef enum pl_size_effect_kind {
    PL_SIZE_MAIN,    /* two levels of a factor, all else averaged over */
    PL_SIZE_TREND,   /* a straight line along its levels, from the first to the last */
    PL_SIZE_MEETING, /* a difference of two levels that is another at another factor's level */
    PL_SIZE_BEND     /* the middle of a measured factor off the line between its ends */
} pl_size_effect_kind;

typedef struct pl_size_effect {
    const char *name; /* "pressure", "pressure with species" */
    pl_size_effect_kind kind;
    unsigned levels[2]; /* of the factor, and of the other of a meeting */
    const double *at;   /* trend: places of the levels; NULL: equal steps */
    bool whole;         /* compared between blocks: a whole plot, a board, has one level only */
    bool outer;         /* compared between the outer blocks that hold the blocks */
    /* Read from a plan: noncentrality of one glue-up of each treatment for worth_noticing = sigma,
     * its df, and the two levels that are hardest to tell apart; 0: by the formulas for complete
     * layouts. */
    double per_replicate, df1;
    unsigned hardest[2];
} pl_size_effect;

typedef struct pl_size_effect_row {
    double df1, df2;
    double sd;     /* that it is judged by: of a glue-up, or of the mean of a block */
    double power;  /* with so many per treatment, the sd as given; NAN: cannot be told */
    unsigned need; /* per treatment; 0: not within the cap */
} pl_size_effect_row;

typedef struct pl_size_question {
    unsigned levels;     /* compared with each other, >= 2 */
    unsigned groups;     /* sets of such levels that share one error (species); 1 */
    unsigned block_size; /* glue-ups of one group in a block (a board); 0: no blocks.
                          * Fewer than `levels`: incomplete, the best there can be */
    double worth_noticing;
    bool relative;
    pl_quantity_kind kind; /* to speak in, unless relative */
    const char *unit;      /* "N/mm2"; NULL when relative */
    double sd;             /* of single glue-ups; of a guess the middle; NAN: from parts */
    unsigned across;       /* glue-ups of a level in one replicate of a group; 1 */
    unsigned columns;      /* sessions that cross the blocks in squares of so many; 0: none */
    double other_df;       /* of what else is fitted beside levels, groups and blocks; 0 */
    unsigned shared;       /* groups that lie in the same blocks; 0: 1, each has its own */
    unsigned step;     /* numbers per level that the design can have are multiples of it; 0: 1 */
    unsigned runs;     /* glue-ups of one replicate of a group; 0: levels x across */
    double each_worth; /* glue-ups of a level, without blocks, that a replicate is worth; 0:
                          across x efficiency */
    const pl_size_effect *effects; /* asked for by themselves */
    size_t neffect;
    double between_glue_ups, within; /* parts of the scatter, or NAN */
    double between_blocks;           /* from board to board, or of whole plots; NAN: not known */
    unsigned outer;                  /* settings that an outer block has one of, blocks of so many
                                      * groups over these in each; 0: blocks lie in no others */
    double between_outer;            /* from one outer block to the next; NAN: not known */
    double between_stretches;        /* of the innermost stretches of what is hard to change */
    double between_sessions;         /* counts where levels are not compared within blocks */
    unsigned specimens_per_glue_up;  /* 1 */
    pl_scatter_from from;
    double sd_df;                           /* pilot: glue-ups it came from less 1 */
    unsigned pilot_boards, pilot_specimens; /* of those glue-ups; 0: not said */
    double sd_low, sd_high;                 /* guess: its ends */
    const char *guess_words;                /* guess: what the range stands on */
    double miss_at_most, false_alarm;       /* chances, in (0, 1); 1/10, 1/20 */
    unsigned glue_ups_per_level;            /* asked about; 0: none */
    unsigned cap;                           /* most glue-ups per level looked at */
    double upper_confidence;                /* of the scatter's upper limit; 0.8 */
    pl_aim aim;                             /* PL_AIM_DIFFERENCE */
    /* Whole width of the interval of what is asked, in the measure of the scatter; NAN: not
     * asked. With worth_noticing NAN it is asked alone. */
    double width_at_most;
    /* as-good-as: margin in the measure of the scatter. A share m stands for the contrast
     * mean_i - (1 - m) mean_named, a strength for a difference. `really` is what the level
     * truly does: a share of the named one (1), or a difference to it (0). */
    double margin, really;
    bool both_sides; /* neither worse nor better by more than the margin */
    /* low-tail: the percentile (0.05) and how sure its lower limit is to be (0.95);
     * worth_noticing is how far the limit may fall short of the true value */
    double percentile, confidence;
    /* Asked while what a pilot leaves open is weighed, which may take seconds; NULL: nobody is. */
    bool (*watch)(void *self, double done); /* done: 0 to 1; true: leave the rest of that out */
    void *self;
} pl_size_question;

/* One question with the defaults above; levels, worth_noticing and sd are missing. */
void pl_size_question_init(pl_size_question *q);

typedef enum pl_size_test {
    PL_SIZE_OVERALL, /* the levels are not all alike: F */
    PL_SIZE_PAIR,    /* the two named levels differ: t on the pooled error */
    PL_NSIZE_TESTS
} pl_size_test;

/* The scatter that a chance is worked out for. */
typedef enum pl_size_basis {
    PL_SIZE_AS_GIVEN, /* the sd as it stands: "power" */
    PL_SIZE_AT_UPPER, /* its upper limit, or the high end of a guess */
    PL_SIZE_ASSURED,  /* mean over what the pilot leaves open: "assurance" */
    PL_NSIZE_BASES
} pl_size_basis;

typedef struct pl_size_row {
    unsigned glue_ups_per_level, specimens_per_glue_up;
    size_t glue_ups, specimens; /* in all: levels and groups together */
    double error_df;
    /* NAN where a basis does not apply (a known scatter has no upper limit, a
     * guess no assurance) */
    double chance[PL_NSIZE_TESTS][PL_NSIZE_BASES];
    double width;                        /* mean of the interval's whole width */
    double width_chance[PL_NSIZE_BASES]; /* that it is at most width_at_most; NAN: not asked */
    double factor;                       /* low-tail: k of mean - k s; else NAN */
    double mc_se;                        /* 0: exact */
} pl_size_row;

/* What so many cannot show. */
typedef struct pl_size_limits {
    unsigned glue_ups_per_level;
    double miss[PL_NSIZE_TESTS];  /* chance of missing what is asked, sd as given */
    double least[PL_NSIZE_TESTS]; /* smallest distance, margin or shortfall missed no oftener
                                   * than asked; NAN: none */
} pl_size_limits;

typedef struct pl_size_answer {
    double sd;       /* of the mean of one glue-up */
    double sd_upper; /* NAN for a known scatter */
    bool stopped;    /* by the watch: what a pilot leaves open is not weighed in */
    pl_size_row *table;
    size_t nrow;
    /* smallest number per level that is enough, for the width too where it is asked; 0: not
     * within the cap */
    unsigned need_at[PL_NSIZE_TESTS][PL_NSIZE_BASES];
    const pl_size_row *need;    /* row of need_at[OVERALL][AS_GIVEN]; NULL: none */
    const pl_size_row *advised; /* the upper limit's row where the scatter is not known
                                 * for sure, need otherwise; NULL: none */
    pl_size_limits limits;      /* of the number asked about, else of need, else of the cap */
} pl_size_answer;

/* *out lives in a. PL_EDOM with a finding for each argument out of range;
 * PL_EUNFIT when no number of glue-ups leaves an error to compare with, or blocks
 * of one; PL_ENOMEM. A need that is not reached is an answer, not an error. */
pl_code pl_size_find(pl_arena *a, const pl_size_question *q, const pl_size_answer **out,
                     pl_diags *diags);
/* What n per level cannot show, alone: pl_size_find's limits without its table. */
pl_code pl_size_limits_at(const pl_size_question *q, unsigned n, pl_size_limits *out,
                          pl_diags *diags);

/* The chance of what is asked (the narrower interval too, where it is) for every number of
 * glue-ups per level up to a half more than is needed, or than are made; *out NULL where no chance
 * is asked about. The codes of pl_size_find. */
pl_code pl_size_chances(pl_arena *a, const pl_size_question *q, unsigned made,
                        const pl_chances **out, pl_diags *d);
/* What is asked, a sentence a line; the scatter and where it comes from. NULL without memory. */
char *pl_size_asks(pl_arena *a, const pl_size_question *q);
char *pl_size_scatter_words(pl_arena *a, const pl_size_question *q);

/* Two levels compared as one of many comparisons in their group, two-sided, the false
 * alarm being that of all of them together: the critical point of the studentised range
 * (every pair) or Dunnett's (each level with one named beforehand) in place of t's.
 * Exact for complete layouts and blocks that are balanced. */
typedef enum pl_size_family {
    PL_SIZE_AGAINST_ONE,
    PL_SIZE_ALL_PAIRS,
    PL_NSIZE_FAMILIES
} pl_size_family;
/* Point that |t| must pass. NAN outside levels 2 to 200, df > 0. */
double pl_size_family_point(pl_size_family f, unsigned levels, double df, double alpha);
/* Chance of noticing two levels worth_noticing apart with n per level, the sd as given; NAN
 * when there is no error to compare with. q is one that pl_size_find accepts. */
double pl_size_family_chance(const pl_size_question *q, pl_size_family f, unsigned n);
/* Smallest n that is enough; 0: not within the cap. */
unsigned pl_size_family_need(const pl_size_question *q, pl_size_family f);

/* An effect with n glue-ups of each treatment. Of a meeting worth_noticing is how far the
 * difference of two levels changes. */
pl_size_effect_row pl_size_effect_at(const pl_size_question *q, const pl_size_effect *e,
                                     unsigned n);
/* One sentence an effect, in shop words, at n; "" with fewer than two effects. NULL without
 * memory. */
char *pl_size_effect_words(pl_arena *a, const pl_size_question *q, unsigned n);

/* Smallest n (as given) with m specimens from each glue-up; m 0: as many as one likes. 0 when
 * the parts of the scatter are not known, or not within the cap. */
unsigned pl_size_need_with(pl_arena *a, const pl_size_question *q, unsigned m, pl_diags *d);
/* What more of them buy, in shop words; "" for a single specimen of unknown parts. */
char *pl_size_specimen_words(pl_arena *a, const pl_size_question *q, pl_diags *d);

/* Degrees of freedom of the error with n per level; 0 or less: none. */
double pl_size_error_df(const pl_size_question *q, unsigned n);
/* Share of the comparisons that the blocks leave, 0 to 1. For blocks smaller
 * than the number of levels that of the best ones there can be:
 * v (k - 1) / (k (v - 1)) (Kempthorne 1956, Ann. Math. Statist. 27:846). */
double pl_size_efficiency(const pl_size_question *q);
/* n, or the next larger number that the design can have; 0 of 0 and beyond the cap. */
unsigned pl_size_whole(const pl_size_question *q, unsigned n);
/* Blocks of all groups with n of each treatment, and sets of groups that share none. */
double pl_size_blocks(const pl_size_question *q, unsigned n);
double pl_size_sets(const pl_size_question *q);
/* Glue-ups of one replicate of a group. */
unsigned pl_size_replicate(const pl_size_question *q);
/* Glue-ups without blocks that n of a level are worth: n x across x efficiency. */
double pl_size_worth(const pl_size_question *q, unsigned n);
/* sd of the mean of one glue-up: sqrt(between^2 + within^2 / m) when the parts are
 * given, sd otherwise, whatever m; without blocks those between boards and sessions are in
 * it. */
double pl_size_sd(const pl_size_question *q);

/* A question from a study: levels of `over` (all treatments but for_each's when
 * there is none), the other factors as groups, boards as blocks when a board
 * holds two glue-ups or more and the arrangement allows. A strength and a share
 * are brought together by breaking.expected_strength. Texts in *out are the
 * study's. PL_EUNFIT: nothing said what is worth noticing, or the two cannot be
 * brought together; PL_ENOMEM. */
pl_code pl_size_from_study(pl_arena *a, const pl_study *s, pl_size_question *out, pl_diags *diags);

#define PL_PILOT_MOST 1000u /* glue-ups: nobody makes a larger pilot */
/* Glue-ups of the smallest pilot, its sd as now, after which n per level are success as often as
 * asked, all that it leaves open weighed in; 0: none, for not even a scatter known for sure
 * would do. */
unsigned pl_size_pilot_for(const pl_size_question *q, unsigned n);
/* For a guessed scatter: glue-ups of the smallest pilot that saves more than it takes, if it finds
 * the middle of the guess and its upper limit is then taken in place of the guess's high end; 0:
 * none pays. */
unsigned pl_size_pilot_that_pays(pl_arena *a, const pl_size_question *q, pl_diags *d);
/* Either of the two in shop words, most being what the budget allows per level; "" where there
 * is nothing to say. NULL without memory. */
char *pl_size_pilot_words(pl_arena *a, const pl_size_question *q, const pl_size_answer *w,
                          unsigned most, pl_diags *d);

/* The answer in shop words: a paragraph, one sentence a line. NULL without memory. */
char *pl_size_words(pl_arena *a, const pl_size_question *q, const pl_size_answer *answer);
/* What comparing every level asks for beside the named two, in shop words; "" with two
 * levels, or more than PL_RANGE_MOST. NULL without memory. */
char *pl_size_family_words(pl_arena *a, const pl_size_question *q);
/* "about 6 times in 10" */
char *pl_size_how_often(pl_arena *a, double chance);

const char *pl_size_test_name(pl_size_test t);   /* "overall", "named-levels" */
const char *pl_size_basis_name(pl_size_basis b); /* "power", "power_at_upper", "assurance" */

#endif
