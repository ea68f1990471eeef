/* What to make next: where further glue-ups narrow the onset most, and what they would bring.
 *
 * Where: c-optimal design (Elfving 1952, Ann. Math. Stat. 23:255) for the onset of each curve at
 * its fitted numbers, weighted as the curves are, given what has been made (Chernoff 1953, Ann.
 * Math. Stat. 24:586: locally optimal). The further round is a block of its own. What they would
 * bring: days drawn from the fitted curves and the scatter found, each fitted with what is there
 * already by pl_fit_curves. docs/methods/next-round.md derives both. Pure. */
#ifndef PL_SIZE_NEXT_H
#define PL_SIZE_NEXT_H

#include <stdint.h>

#include "fit/plateau.h"

typedef enum pl_next_need {
    PL_NEXT_NARROW, /* the onset has both ends or one: bring them closer */
    PL_NEXT_HIGHER, /* the top is open: harder squeezes are missing */
    PL_NEXT_LOWER,  /* no rise is shown: softer squeezes are missing */
    PL_NEXT_REPEAT, /* no scatter between glue-ups of a level is known: repeats are missing */
    PL_NNEXT_NEEDS
} pl_next_need;
const char *pl_next_need_name(pl_next_need n); /* "narrow", "higher", ... */
pl_next_need pl_next_need_of(const pl_plateau *p);

/* A level as it was planned, in the table's unit; where that is no number, as it was made. */
double pl_next_level_x(const pl_level_mean *l);

typedef struct pl_next_place {
    double x;          /* in the table's unit */
    const char *level; /* name of a level that was planned; NULL: a new one */
} pl_next_place;

/* Places worth a thought, rising: the levels of all groups, a place between each two neighbours
 * that are more than PL_NEXT_RATIO_LEAST apart, one step below the lowest where some group needs
 * it, two above the highest likewise. New ones are rounded to two digits. */
#define PL_NEXT_RATIO_LEAST 1.15
pl_code pl_next_places(pl_arena *a, const pl_plateau *fits, size_t nfit, pl_next_place **out,
                       size_t *n, pl_diags *d);

/* How many of so many glue-ups to make at each place for one group; count: nplace. At least one
 * each at a level already made on the rise and on the plateau, so that the round is tied to what
 * was made before; with an open top half at the new places above.
 * PL_EUSAGE: fewer than 3 glue-ups. PL_ENOMEM. */
#define PL_NEXT_GLUE_UPS_LEAST 3
pl_code pl_next_choose(pl_arena *a, const pl_table *table, const pl_curve_spec *spec,
                       const pl_plateau *p, const pl_next_place *places, size_t nplace,
                       size_t glue_ups, size_t *count, pl_diags *d);

typedef struct pl_next_expected { /* of one group */
    size_t draws;
    size_t low_open, high_open; /* draws that leave that end open: no limit, or (high) one above
                                   the second-highest level */
    size_t reached;             /* draws whose state is reached */
    double width;               /* median of high/low over the draws with both ends (high - low
                                   where x may be 0); NAN when fewer than half have them */
    bool ratio;
} pl_next_expected;

/* Told, one thread at a time, whenever a drawn day is fitted. */
typedef struct pl_next_watch {
    void (*tell)(void *self, double done); /* done: 0 to 1 */
    void *self;
    size_t done, all; /* answers fitted; all: in the whole piece of work, the caller's to know */
} pl_next_watch;

/* watch: NULL for none. counts: nfit rows of nplace; out: nfit. Bit for bit the same for any number
 * of threads. draws at most PL_NEXT_DRAWS_MOST. The codes of pl_fit_curves; PL_EUSAGE. */
#define PL_NEXT_DRAWS_MOST 10000
pl_code pl_next_expect(pl_arena *a, const pl_table *table, const pl_curve_spec *spec,
                       const pl_plateau *fits, size_t nfit, const pl_next_place *places,
                       size_t nplace, const size_t *counts, size_t draws, uint64_t seed,
                       pl_next_watch *watch, pl_next_expected *out, pl_diags *d);

/* The choice held against its neighbours: towards up to PL_NEXT_NEIGHBOURS places nearest the onset
 * a third of the glue-ups moves, and what narrows the onset most on the same drawn days stays. The
 * curves are then weighed by what they say of the data, which the choice for each of them alone
 * does not see. count: changed in place. At most PL_NEXT_NEIGHBOURS + 1 times `draws` days. */
#define PL_NEXT_NEIGHBOURS 3
pl_code pl_next_improve(pl_arena *a, const pl_table *table, const pl_curve_spec *spec,
                        const pl_plateau *p, const pl_next_place *places, size_t nplace,
                        size_t draws, uint64_t seed, pl_next_watch *watch, size_t *count,
                        pl_diags *d);

/* Inner: the fitted curves of one group as linear models at their fitted shape numbers. */
#define PL_NEXT_FEATURES_MOST (PL_CURVE_LINEAR_MOST + PL_CURVE_SHAPES_MOST)
typedef struct pl_next_curve {
    const pl_curve_fit *fit; /* where it is a line by now: its curve is not used */
    bool line;
    double weight, sd, df;
    size_t nlinear, n; /* columns; features, the shape number's among them */
    double beta[PL_CURVE_LINEAR_MOST];
    double step; /* of the shape number: what one unit of its feature stands for */
} pl_next_curve;
/* Weights sum to 1; *n 0 when no curve can be used. */
pl_code pl_next_curves(pl_arena *a, const pl_plateau *p, pl_next_curve **out, size_t *n,
                       pl_diags *d);
/* Mean at x; f (PL_NEXT_FEATURES_MOST) may be NULL. */
double pl_next_mean(const pl_next_curve *c, double x, double *f);

#endif
