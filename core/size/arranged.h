/* Designs in which not every combination is made: what one glue-up of each treatment shows of each
 * effect, read from the plan itself.
 *
 * The study is planned, and strengths without any scatter, with one difference in them, are fitted
 * as readings will be. The sum of squares that the fit gives to an effect is then its noncentrality
 * times sigma^2, and what is left are its degrees of freedom: exact for the plan, its blocks
 * included. Further glue-ups of each treatment count as so many such plans. Pure. */
#ifndef PL_SIZE_ARRANGED_H
#define PL_SIZE_ARRANGED_H

#include "size/size.h"

/* The seed of the plan that is read. Where boards do not hold whole sets another draw gives the
 * shorter end to other factors, which moves chances by a point or two. */
#define PL_SIZE_PLAN_SEED 1u

/* Is it one of them? Squares are not: their formulas are size.c's. */
bool pl_size_is_arranged(const pl_study *s);

/* Fills levels, runs, each_worth, other_df and the effects; block_size and the rest of *q stand.
 * Compared are two levels of one factor, the two hardest to tell apart. The codes of pl_plan_make;
 * PL_EDATA: no plan up to three of each treatment tells the effects. */
pl_code pl_size_arranged(pl_arena *a, const pl_study *s, pl_size_question *q, pl_diags *d);

#endif
