/* What the files of the linear model share; nobody else includes this. */
#ifndef PL_FIT_LINEAR_INNER_H
#define PL_FIT_LINEAR_INNER_H

#include <stdint.h>

#include "fit/linear.h"
#include "fit/linear_absorb.h"
#include "fit/lsq.h"
#include "model/terms.h"

#define PL_LIN_RESIDUAL SIZE_MAX /* stratum of what varies within blocks */

typedef struct pl_lin_term {
    const char *name;
    const pl_term *effect; /* NULL: a covariate */
    size_t first, ncol;    /* its columns among all */
    double mean;           /* of a covariate */
    size_t stratum;        /* block it is constant within, or PL_LIN_RESIDUAL */
} pl_lin_term;

typedef struct pl_lin_block {
    const char *name;
    pl_absorb_factor factor;
    bool *finer; /* nblock: that block lies inside this one, and is not the same */
    bool *same;  /* nblock: the same partition, and earlier */
    bool random;
    bool even;     /* all levels hold equally many rows */
    size_t judged; /* block inside this one that it is judged against, or PL_LIN_RESIDUAL */
} pl_lin_block;

/* A model made ready: rows used, columns coded, blocks and strata known. */
typedef struct pl_lin {
    const pl_table *t; /* rows used only */
    size_t n, ncol, nterm, nblock;
    const double *y;
    const bool *reference; /* n: reference joints; NULL: none */
    size_t tie;            /* block that tells them from the others; SIZE_MAX: none */
    pl_lin_term *terms;    /* covariates, then effects */
    double *x;             /* ncol columns of n */
    double *length;        /* ncol */
    pl_lin_block *blocks;
    size_t *order; /* blocks, coarse ones before those inside them */
    bool through_zero;
    bool designed;                 /* random blocks are strata of the design */
    pl_dd *work_x, *work_y, *room; /* scratch of the steps: ncol x n, n, levels */
    pl_dd **columns;               /* ncol */
} pl_lin;

/* One least squares fit with some blocks absorbed and some terms as columns. */
typedef struct pl_lin_step {
    const pl_absorb *absorbed;
    bool *present; /* nterm: asked for and not swallowed by the blocks */
    size_t *at;    /* nterm: its first column in lsq */
    pl_lsq lsq;
    size_t rank;   /* of blocks and columns together */
    pl_dd tss;     /* of y after the blocks */
    pl_dd *centre; /* of each column of lsq: the blocks' average of it */
    pl_dd y_centre;
} pl_lin_step;

/* in[block], terms[term]: what takes part. */
pl_code pl_lin_step_fit(pl_arena *a, const pl_lin *m, const bool *in, const bool *terms,
                        pl_lin_step *out, pl_diags *diags);

/* Sets stratum of every term, even, judged, weights and order. */
pl_code pl_lin_strata(pl_arena *a, pl_lin *m, pl_diags *diags);

/* Sum of squares of a term given everything else in the step: b' (C_bb)^-1 b. */
pl_code pl_lin_term_ss(pl_arena *a, const pl_lin *m, const pl_lin_step *s, size_t term, double *out,
                       pl_diags *diags);

/* Adds to h the columns of cell `cell` of term t, covariates at their mean; room: ncol. */
void pl_lin_code_cell(const pl_lin *m, size_t t, size_t cell, double *h, double *room);

/* Random blocks: fills variance, log_likelihood, beside and what leads. balanced: every stratum's F
 * is exact; between_df: fewest left between levels of a random block. */
pl_code pl_lin_mixed(pl_arena *a, const pl_lin *m, bool balanced, double between_df,
                     pl_linear_fit *out, pl_diags *diags);

/* Fills contrasts of *out from its levels. */
pl_code pl_lin_contrasts(pl_arena *a, const pl_table *t, const pl_linear_spec *spec,
                         pl_linear_fit *out, pl_diags *diags);

/* Fills effects, coefficients, means, levels, residual, r_squared of *out. */
pl_code pl_lin_tables(pl_arena *a, const pl_lin *m, pl_linear_fit *out, pl_diags *diags);

#endif
