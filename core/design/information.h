/* What blocks leave of the comparisons between treatments.
 *
 * Units have one treatment and lie in blocks of one or more kinds (a board, a
 * session). The information on the treatments of one group is what is left of
 * their counts once all blocks, and the treatments of other groups, are taken
 * out. Whole counts go in, and + - * / alone follow, so that the figures do not
 * depend on the machine. Blocks are taken out one by one, never as a table of all
 * blocks by all blocks: time and memory grow with the units. */
#ifndef PL_DESIGN_INFORMATION_H
#define PL_DESIGN_INFORMATION_H

#include <stddef.h>

#include "base/arena.h"
#include "base/diag.h"

/* A pivot below this share of its diagonal counts as 0. Rounding stays near 1e-13 of
 * the counts; true pivots of such designs are fractions of counts, far above. */
#define PL_INFORMATION_ZERO 1e-9

typedef struct pl_layout {
    size_t nunit;
    size_t ngroup, v;        /* v treatments in each group */
    const size_t *treatment; /* nunit: group * v + place in its group */
    size_t nkind;            /* kinds of blocks, 1 to 4; no blocks: one that holds all */
    const size_t *block[4];  /* nunit: block of each kind, from 0 */
    size_t nblock[4];
} pl_layout;

typedef struct pl_information {
    size_t ngroup, v;
    double *c;     /* all treatments (ngroup v) squared: what blocks leave of their counts */
    double *count; /* ngroup v: units of each */
    size_t nunit;
    size_t rank; /* of the blocks */
} pl_information;

/* What blocks leave of all treatments, in a. Of two kinds of block one that lies whole within
 * the other is taken alone. Otherwise the kind of more blocks is taken out at once, and the other
 * in each part of the layout that hangs together: by elimination up to PL_INFORMATION_DENSE
 * blocks, by conjugate gradients (Hestenes & Stiefel 1952, J. Res. NBS 49:409) beyond. */
#define PL_INFORMATION_DENSE ((size_t)300)
pl_code pl_layout_information(pl_arena *a, const pl_layout *l, pl_information *out,
                              pl_diags *diags);

/* Efficiency of group g: average variance of all differences of two of its
 * treatments without blocks (2 sigma^2/n, n glue-ups each) over that within the
 * blocks; 0 when some difference cannot be had at all; NAN when v < 2. n: units
 * of each treatment of the group. Harmonic mean of the canonical efficiency
 * factors: James & Wilkinson 1971, Biometrika 58:279. */
pl_code pl_information_efficiency(pl_arena *a, const pl_information *in, size_t g, double n,
                                  double *out, pl_diags *diags);

/* Units less the rank of treatments and blocks together. */
pl_code pl_information_df(pl_arena *a, const pl_information *in, size_t *out, pl_diags *diags);

/* No arrangement of group g in blocks of these sizes has a greater efficiency:
 * the harmonic mean of the canonical factors is at most their mean, which is
 * largest when each block holds its treatments as equally often as can be. For
 * blocks of one size k <= v it is v(k - 1) / (k(v - 1)): Kempthorne 1956, Ann.
 * Math. Statist. 27:846. At most 1; over several kinds of block the least. NAN
 * when v < 2. */
pl_code pl_layout_bound(pl_arena *a, const pl_layout *l, size_t g, double n, double *out,
                        pl_diags *diags);

#endif
