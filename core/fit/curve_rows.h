/* Rows of a curve fit: units with their block effects taken out.
 *
 * Blocks (boards, sessions) are fixed effects coded sum-to-zero. Householder factors of
 * the block columns turn the n units into n - q rows that no block effect reaches; every
 * fit then works on those rows, and a mean found there is the mean averaged evenly over
 * blocks. A unit whose specimens come from several boards carries the average of their
 * block columns. */
#ifndef PL_FIT_CURVE_ROWS_H
#define PL_FIT_CURVE_ROWS_H

#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"
#include "base/diag.h"

/* Independent block columns of units. factor f has nlevel[f] levels; code[f][row] is the
 * level of a row, -1 when unknown; unit_of[row] in 0..nunit-1, or PL_NO_UNIT to skip the row.
 * A column that depends on the constant and the columns before it is left out, so the constant
 * never lies in their span. A level that stands apart has a column of its own beside the others'
 * sum-to-zero coding. out: nunit x *ncol, row-major. */
typedef struct pl_block_factor {
    size_t nlevel;
    const int *code;   /* nrow */
    const bool *apart; /* nlevel: not in the even average; NULL: all are */
} pl_block_factor;
pl_code pl_curve_blocks(pl_arena *a, const pl_block_factor *factors, size_t nfactor,
                        const size_t *unit_of, size_t nrow, size_t nunit, const double **out,
                        size_t *ncol, pl_diags *d);

/* Units that do not scatter alike, or whose blocks are a sample of many (random): all rows, columns
 * and readings are divided by a root of their covariance first. One of the three; log_det is the
 * logarithm of the covariance's determinant. NULL: alike and independent. */
typedef struct pl_curve_scatter {
    const long double *sd; /* n: of each unit, over the residual's */
    /* one random block: its level of each unit, levels, (1 - 1/sqrt(1 + m ratio))/m of each, m its
     * units */
    const int *block;
    size_t nblock;
    const long double *shrink;
    const long double *root; /* n x n, lower triangle: covariance = root root' */
    double log_det;
} pl_curve_scatter;

typedef struct pl_curve_rows {
    size_t n;                /* units */
    const double *x, *y;     /* n; borrowed */
    size_t q;                /* independent block columns */
    size_t left;             /* n - q */
    long double *reflectors; /* q vectors of n */
    long double *y_left;     /* left */
    size_t m;                /* distinct x */
    double *distinct;        /* m, rising */
    size_t *place;           /* n: unit -> distinct x */
    /* The same problem in plain double for searches: rows x m matrix T with z, so that the
     * residual sum of squares of a mean c (m values) is |z - T c|^2 + rest. */
    size_t rows;
    double *weight;  /* m: T is diagonal, no blocks; else NULL */
    double *T;       /* rows x m, zero below the diagonal; NULL when weight is used or m is large */
    double *quick;   /* reflectors in double, used when neither is there */
    double *z, *one; /* rows: z, and T times ones */
    long double *turns; /* m columns of n: the reflectors that made T; NULL without T */
    double rest;
    double *scratch; /* n */
    const pl_curve_scatter *scatter;
    long double *room; /* scatter->nblock */
} pl_curve_rows;

/* x, y (n finite values) and scatter are kept by reference. block: n x q independent columns,
 * row-major (may be NULL when q = 0). PL_EDATA when n <= q; PL_ENOMEM. */
pl_code pl_curve_rows_make(pl_arena *a, const double *x, const double *y, size_t n,
                           const double *block, size_t q, const pl_curve_scatter *scatter,
                           pl_curve_rows *out, pl_diags *d);

/* What blocks leave of a column: v holds n values and is overwritten; its last `left` values
 * are the result. One thread at a time where blocks are random. */
void pl_curve_rows_leave(const pl_curve_rows *r, long double *v);

/* v: n values that are over the root of the scatter already, overwritten: first their q parts along
 * the blocks. z: rows, what the searches see of them. */
void pl_curve_rows_turn(const pl_curve_rows *r, long double *v, double *z);

/* Replaces v (n) by its part in the span of the block columns: the block effects of v, unit by
 * unit. Not with random blocks. */
void pl_curve_rows_block_part(const pl_curve_rows *r, long double *v);

/* out = T c. Uses r->scratch: one thread at a time. */
void pl_curve_rows_map(const pl_curve_rows *r, const double *c, double *out);

/* Least squares in long double by Householder factors. X: p columns of n, one after the other;
 * X and y are overwritten. beta: p; inverse: p x p or NULL, (X'X)^-1; residual: n or NULL. false
 * when a column depends on those before it to within 1e-15 of its length, or n < p. */
bool pl_long_lsq(long double *X, long double *y, size_t n, size_t p, long double *beta,
                 long double *inverse, long double *residual, long double *rss);

#endif
