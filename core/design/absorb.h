/* Blocks taken out of the counts of treatments: the work behind pl_layout_information.
 * Only core/design includes this. */
#ifndef PL_DESIGN_ABSORB_H
#define PL_DESIGN_ABSORB_H

#include "design/information.h"

/* Units sorted by the blocks of one kind: list[first[b]..first[b + 1]-1]. */
typedef struct pl_blocks {
    size_t n, nonempty;
    size_t *first, *list;
} pl_blocks;

bool pl_blocks_open(pl_arena *a, const pl_layout *l, size_t kind, pl_blocks *out);

/* Takes one kind of block out of c (treatments squared). */
pl_code pl_absorb_one(pl_arena *a, const pl_layout *l, const pl_blocks *b, double *c,
                      pl_diags *diags);

/* Takes out what the blocks of kind `few` add to those of kind `many`, which are out already;
 * *rank: how many directions that is. */
pl_code pl_absorb_second(pl_arena *a, const pl_layout *l, size_t many, size_t few,
                         const pl_blocks *of_many, const pl_blocks *of_few, double *c, size_t *rank,
                         pl_diags *diags);

#endif
