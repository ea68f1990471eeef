/* What the aim low-tail says beside its table: the same where strengths are Weibull's. */
#ifndef PL_SIZE_LOW_TAIL_H
#define PL_SIZE_LOW_TAIL_H

#include "size/size.h"

typedef struct pl_low_tail_weibull_answer {
    unsigned need;        /* 0: not within the cap */
    double chance, mc_se; /* at need, simulated; NAN: not asked (no shortfall, no share) */
    double shape;         /* that goes with the scatter */
} pl_low_tail_weibull_answer;

/* Simulated with fixed seeds, 20,000 fits a number: the same bits on one machine. The scatter
 * must be a share of the strength. PL_ENOMEM. */
pl_code pl_low_tail_weibull(pl_arena *a, const pl_size_question *q, pl_low_tail_weibull_answer *out,
                            pl_diags *d);

#endif
