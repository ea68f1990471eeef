/* Fractions of two-level factorials.
 *
 * 2^q runs for k > q factors: q of them are basic, each other one follows the product of
 * some basic ones. The products that are + in every run are the defining words; how many
 * have 3, 4, ... letters is the word-length pattern (Box & Hunter 1961, Technometrics 3:311
 * and 449). The shortest word is the resolution; of two fractions the better has fewer of
 * the shortest words, then fewer of the next: minimum aberration (Fries & Hunter 1980,
 * Technometrics 22:601). */
#ifndef PL_DESIGN_FRACTION_H
#define PL_DESIGN_FRACTION_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define PL_FRACTION_FACTORS_MOST 20u
#define PL_FRACTION_BASIC_MOST 10u
#define PL_FRACTION_GENERATED_MOST 15u

/* Defining words looked at in one search, which stops when they are spent: a counted
 * amount of work, about a tenth of a second. All fractions of up to 11 factors in up to 64
 * runs are gone through within it. */
#define PL_FRACTION_WORK ((size_t)40000000)

typedef struct pl_fraction {
    unsigned nfactor, nbasic;                   /* 2^nbasic runs */
    uint32_t product[PL_FRACTION_FACTORS_MOST]; /* of basic factors: bit i for factor basic[i] */
    unsigned basic[PL_FRACTION_BASIC_MOST];     /* places of the basic factors */
    uint32_t word[1u << PL_FRACTION_GENERATED_MOST]; /* defining words: bit f for factor f */
    size_t nword;                                    /* 2^(nfactor - nbasic) - 1 */
    unsigned length[PL_FRACTION_FACTORS_MOST + 1];   /* words of so many letters */
    unsigned resolution;                             /* shortest word; 0: no words, all of them */
    bool gone_through;                               /* the search looked at every fraction */
} pl_fraction;

/* The first nbasic factors are basic; minimum aberration of those that the search reached.
 * 2 <= nbasic <= nfactor < 2^nbasic; at most the limits above; false otherwise. */
bool pl_fraction_search(pl_fraction *f, unsigned nfactor, unsigned nbasic);

/* generated[f]: 0 for a basic factor, else the factors whose product it follows (bits by
 * factor, basic ones only, two at least). False when a limit is passed, a product is of
 * others, or two factors would follow one another (resolution 2). */
bool pl_fraction_from(pl_fraction *f, unsigned nfactor, const uint32_t *generated);

/* Level of a factor in a run, -1 or +1; run below 2^nbasic. */
int pl_fraction_level(const pl_fraction *f, unsigned run, unsigned factor);

/* Fewest runs in which so many factors have this resolution, 3 to 5: 2^q > k for 3, 2^(q-1)
 * >= k for 4 (Box & Hunter 1961); for 5 the most factors are 5, 6, 8, 11, 17 in 16, 32, 64,
 * 128, 256 runs (Draper & Lin 1990, Technometrics 32:87; checked by search up to 64). 0: not
 * within the limits. */
unsigned pl_fraction_runs(unsigned nfactor, unsigned resolution);

#endif
