/* Units: specimens that share one setting are averaged before anything is judged.
 *
 * What the press sets is set once a closing; specimens of one glue-up are no
 * repeats of it. The result is a table again, one row a unit, so that every fit
 * works on units as it works on specimens. */
#ifndef PL_FIT_UNITS_H
#define PL_FIT_UNITS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/arena.h"
#include "base/diag.h"
#include "study/table.h"

#define PL_NO_UNIT SIZE_MAX

typedef struct pl_units {
    /* Same columns in the same order; row k is unit k, units in order of first appearance,
     * named by the unit. A cell is the value that the unit's rows share, else the mean of its
     * numbers (rows without one do not count), else "". */
    const pl_table *table;
    size_t nunit;
    const size_t *count;   /* nunit: rows averaged */
    const size_t *first;   /* nunit: place of the unit's first row in the table it came from */
    const size_t *unit_of; /* a row of the old table -> its unit, PL_NO_UNIT when left out */
    const bool *varies;    /* a column: not the same throughout some unit */
    size_t left_out;       /* rows without a response or without a unit's name */
    size_t most, least;    /* of count */
    double within_ss;      /* of the response about its unit's mean, unit of the response squared */
    size_t within_df;      /* rows used - nunit */
} pl_units;

/* unit: the column that names units (numbers are one unit however they are written), or
 * NULL: every row is its own. response must hold numbers; rows where it is missing are left
 * out. Rows without a unit's name are left out and counted in a remark.
 *
 * PL_EKEY, PL_EVALUE  a column is absent or holds no numbers
 * PL_EDATA            no row is left
 * PL_ENOMEM */
pl_code pl_fit_units(pl_arena *a, const pl_table *t, const char *unit, const char *response,
                     pl_units *out, pl_diags *diags);

#endif
