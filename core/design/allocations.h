/* Counting: how many assignments a plan could have drawn. Whole numbers as long as they fit in
 * 38 digits, then mantissa and power of ten, by + - * / alone. */
#ifndef PL_DESIGN_ALLOCATIONS_H
#define PL_DESIGN_ALLOCATIONS_H

#include <stdbool.h>
#include <stddef.h>

#include "study/plan.h"

/* 1. */
pl_allocations pl_allocations_one(void);
/* Times a whole number from 1 to 2^53, or divided by one that goes into it. */
void pl_allocations_times(pl_allocations *n, double by);
void pl_allocations_over(pl_allocations *n, double by);
/* Times the orders of n things of which some are alike: total! / (count[0]! count[1]! ...). */
void pl_allocations_arrange(pl_allocations *n, const size_t *count, size_t kinds);
/* Times the Latin squares of order n, 1 to 9: published (McKay & Wanless 2005, Ann. Comb. 9:335).
 * False beyond: nothing is changed. */
bool pl_allocations_latin(pl_allocations *n, size_t order);

#endif
