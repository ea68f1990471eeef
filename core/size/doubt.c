/* What is left open about the scatter, as values of the sd and their weights. Which chance
 * is averaged over them is size.c's. */
#include <math.h>

#include "size/aim.h"
#include "size/power.h"

pl_code pl_size_doubt_of(pl_arena *a, const pl_size_question *q, pl_size_doubt *out, pl_diags *d)
{
    double sd = pl_size_sd(q);

    *out = (pl_size_doubt){ .n = 1, .upper = NAN };
    out->sd = PL_NEWN(a, PL_PILOT_NODES, double);
    out->weight = PL_NEWN(a, PL_PILOT_NODES, double);
    if (!out->sd || !out->weight)
        return pl_nomem(d);
    out->sd[0] = sd;
    out->weight[0] = 1;
    if (q->from == PL_SCATTER_GUESSED)
        out->upper = sd * (q->sd_high / q->sd);
    if (q->from != PL_SCATTER_PILOT)
        return PL_OK;
    out->upper = pl_sd_upper_limit(sd, q->sd_df, q->upper_confidence);
    /* shares on both sides take an integral of two dimensions each */
    out->n = pl_pilot_nodes(q->sd_df, !(q->both_sides && q->relative), out->sd, out->weight);
    for (size_t i = 0; i < out->n; i++)
        out->sd[i] *= sd;
    return PL_OK;
}
