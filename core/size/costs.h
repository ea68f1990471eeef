/* What a number per level costs, and what else the same budget buys. */
#ifndef PL_SIZE_COSTS_H
#define PL_SIZE_COSTS_H

#include "size/size.h"

typedef struct pl_size_costs {
    size_t glue_ups, specimens, boards; /* boards 0: not known */
    double press_s;                     /* clamping, all stations added up; NAN: not known */
    double days;                        /* sittings at least; NAN: not known */
    double money;                       /* NAN: no prices */
    bool over;                          /* more than the budget has */
} pl_size_costs;

/* Of n glue-ups of each treatment, spares not counted. */
void pl_size_cost(const pl_study *s, unsigned n, pl_size_costs *out);

/* Most glue-ups per level that the study's budget has press hours, specimens and money for;
 * UINT_MAX without a budget. */
unsigned pl_size_within_budget(const pl_study *s);

/* The same number of glue-ups on fewer levels: a row each from all of them down to 2. */
typedef struct pl_size_trade {
    unsigned levels, glue_ups_per_level;
    double chance[PL_NSIZE_TESTS]; /* the sd as given */
} pl_size_trade;
/* For the aim difference without squares or fractions; *n 0 otherwise. out: room for q->levels. */
void pl_size_trades(const pl_size_question *q, unsigned glue_ups_per_level, pl_size_trade *out,
                    size_t *n);

/* Specimens from a glue-up that make the steadiest mean for the money, one of them and one
 * glue-up costing so much (Snedecor & Cochran, Statistical Methods, sampling in two stages):
 * sqrt(c_glue_up / c_specimen) within / between. NAN when the parts are not known. */
double pl_size_best_specimens(const pl_study *s);

/* In shop words; "" where nothing is known. NULL without memory. */
char *pl_size_cost_words(pl_arena *a, const pl_study *s, const pl_size_question *q, unsigned n);

#endif
