/* From a table to the units, levels and blocks of one group. */
#ifndef PL_FIT_PLATEAU_DATA_H
#define PL_FIT_PLATEAU_DATA_H

#include "fit/curve_rows.h"
#include "fit/plateau.h"

typedef struct pl_plateau_data {
    const char *where; /* table, for findings */
    const pl_column *response, *over;
    size_t n;                  /* units that have a response, a level and their blocks;
                                  reference joints behind the others */
    const double *y, *x;       /* n; x NAN when unknown */
    const size_t *level, *row; /* n: 0..K-1; a row of the table */
    size_t K;
    pl_level_mean *levels; /* K, rising; mean and se not yet filled in */
    size_t specimens, unknown_applied;
    /* rows of the group with their units, for blocks */
    size_t nrow;
    const size_t *unit_of; /* nrow: 0..n-1 or PL_NO_UNIT */
    const int *const *block_code;
    size_t nblock;
    const bool *reference; /* n: reference joints, which only tie blocks; NULL: none */
    size_t nreference;
} pl_plateau_data;

/* The rows of the table listed in rows[]. */
pl_code pl_plateau_gather(pl_arena *a, const pl_table *table, const pl_curve_spec *spec,
                          const size_t *rows, size_t nrow, pl_plateau_data *out, pl_diags *d);

/* Independent columns of the first nblock blocks for units picked by place: nunit x *q, row-major.
 */
pl_code pl_plateau_columns(pl_arena *a, const pl_plateau_data *data, const size_t *units,
                           size_t nunit, size_t nblock, const double **out, size_t *q, pl_diags *d);

/* Units picked by place (nunit of them, rising) as rows of a fit, the effects of the first nblock
 * blocks taken out; x[] are used as they are. scatter: of the picked units, or NULL. */
pl_code pl_plateau_rows(pl_arena *a, const pl_plateau_data *data, const size_t *units, size_t nunit,
                        const double *x, size_t nblock, const pl_curve_scatter *scatter,
                        pl_curve_rows *out, pl_diags *d);

#endif
