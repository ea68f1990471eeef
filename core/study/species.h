/* Species: what the wood itself bears, near 12 % moisture. Compiled in from
 * datasets/species/species.csv, which holds the sources; a test compares.
 *
 * Figures are means of clear wood: enough to doubt a plan, nothing to design by. */
#ifndef PL_STUDY_SPECIES_H
#define PL_STUDY_SPECIES_H

#include <stdbool.h>
#include <stddef.h>

typedef struct pl_species {
    const char *name;   /* "beech, American" */
    double shear_psi;   /* along the grain */
    double crush_psi;   /* compression across the grain, proportional limit */
    bool confirmed;     /* read in its source; else from memory, unconfirmed */
    const char *source; /* as in the data set */
} pl_species;

extern const pl_species pl_species_table[];
extern const size_t pl_species_count;

/* The next row at or after `from` that all words of `typed` are in ("beech" and
 * "American beech" find "beech, American"; case does not matter), or NULL. */
const pl_species *pl_species_find(const char *typed, size_t from);

#endif
