/* Terms: a factor, or the interaction of several, as columns of a model.
 *
 * Coded sum-to-zero: a factor with L levels has L - 1 columns; level l < L - 1
 * has 1 in column l, the last level has -1 in all. Columns of an interaction are
 * the products. So coefficients are deviations from the even average over all
 * levels, and an effect can be judged while interactions that contain it stay
 * (Yates 1934, J. Amer. Statist. Assoc. 29:51: weighted squares of means). */
#ifndef PL_MODEL_TERMS_H
#define PL_MODEL_TERMS_H

#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"
#include "base/diag.h"
#include "study/table.h"

#define PL_TERM_FACTORS_MOST 8

typedef struct pl_term {
    const char *name; /* "species", "species, pressure" */
    size_t nfactor;
    const pl_factor_codes *factors[PL_TERM_FACTORS_MOST];
    size_t ncol;  /* product of (levels - 1) */
    size_t ncell; /* product of levels */
} pl_term;

/* factors stay the caller's. PL_EDATA: a factor with fewer than two levels; PL_EUSAGE: none or
 * more than PL_TERM_FACTORS_MOST factors, or one of them twice; PL_ENOMEM. */
pl_code pl_term_make(pl_arena *a, const pl_factor_codes *const *factors, size_t nfactor,
                     pl_term *out, pl_diags *diags);

/* Levels of cell c (0..ncell-1), the last factor running fastest. */
void pl_term_cell(const pl_term *t, size_t c, size_t *levels);

/* The cell a row of the table stands in; ncell when a factor is missing there. */
size_t pl_term_cell_of_row(const pl_term *t, size_t row);

/* The ncol coded values of a cell, each -1, 0 or 1. */
void pl_term_code(const pl_term *t, size_t cell, double *out);

/* "species=beech, pressure=0.8"; NULL when memory is out. */
char *pl_term_cell_name(pl_arena *a, const pl_term *t, size_t cell);

#endif
