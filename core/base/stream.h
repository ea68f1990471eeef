/* Seeded random streams: Philox 4x32-10 (Salmon et al. 2011, SC '11).
 *
 * One definition: the words of a stream depend on (seed, purpose, draw, word)
 * only, so results do not depend on threads or on what was drawn before.
 * Counter words: draw low, draw high, purpose, block index; key: seed low,
 * seed high. Seeds are whole numbers below 2^53. One draw holds 2^34 words, far
 * more than any of them is asked for. */
#ifndef PL_BASE_STREAM_H
#define PL_BASE_STREAM_H

#include <gsl/gsl_rng.h>
#include <stddef.h>
#include <stdint.h>

#define PL_SEED_LIMIT ((uint64_t)1 << 53)

/* What a stream is for; numbers are part of plans already frozen, never reuse. */
typedef enum pl_purpose {
    PL_FOR_PLACES = 1, /* which place of which board */
    PL_FOR_GLUE_ORDER = 2,
    PL_FOR_BREAK_ORDER = 3,
    PL_FOR_IDS = 4,
    PL_FOR_SPARES = 5,
    PL_FOR_PROBABILITY = 6, /* lattice shifts of multivariate t */
    PL_FOR_DEMO = 7,
    PL_FOR_TEST = 8,
    PL_FOR_EXTRAS = 10,    /* closings of bridging pairs */
    PL_FOR_NEXT = 20,      /* days tried out before they are made */
    PL_FOR_BOOTSTRAP = 21, /* readings drawn from a fitted curve */
    PL_FOR_RANDOMISE = 22, /* treatments drawn again within blocks */
    PL_FOR_LOW_TAIL = 30,  /* strengths to bound the low tail of */
    PL_FOR_SCATTER = 31,   /* parts of the scatter that a pilot leaves open */
    PL_FOR_PLATEAU = 40,   /* studies of a plateau */
    PL_FOR_DIFFERENCE = 41 /* studies of a difference between levels */
} pl_purpose;

typedef struct pl_stream {
    uint32_t key[2], counter[4], words[4];
    unsigned used; /* of the four words */
} pl_stream;

void pl_philox4x32(const uint32_t counter[4], const uint32_t key[2], uint32_t out[4]);
void pl_stream_init(pl_stream *s, uint64_t seed, pl_purpose purpose, uint64_t draw);
uint32_t pl_stream_word(pl_stream *s);
/* Many at once: words 4 first .. 4 (first + n) - 1 of the stream; n a multiple of 16. */
void pl_stream_words(uint64_t seed, pl_purpose purpose, uint64_t draw, uint32_t first,
                     uint32_t *out, size_t n);
/* Many variates of one draw at once, for hot loops; n a multiple of 64, the same bits on every
 * machine (base/lanes.h).
 * normals: four of each block, from blocks first .. first + n/4 - 1, both of a Box-Muller pair from
 * two words of 32 bits: none beyond 6.8, which hides 1 in 10^11. Of sixteen blocks the cosines of
 * the first pair, its sines, those of the second.
 * units: both of each block, from blocks first .. first + n/2 - 1, sixteen and sixteen by turns.
 * chisqs: on df > 0, from blocks first .. first + n - 1 (Marsaglia & Tsang 2000, ACM Trans. Math.
 * Softw. 26:363); what is rejected is drawn again from block 2^31 + 256 (first + i) on, so
 * first + n < 2^23. */
void pl_stream_normals(uint64_t seed, pl_purpose purpose, uint64_t draw, uint32_t first,
                       double *out, size_t n);
void pl_stream_units(uint64_t seed, pl_purpose purpose, uint64_t draw, uint32_t first, double *out,
                     size_t n);
void pl_stream_chisqs(uint64_t seed, pl_purpose purpose, uint64_t draw, uint32_t first, double df,
                      double *out, size_t n);
uint32_t pl_stream_below(pl_stream *s, uint32_t n); /* 0..n-1, by rejection; n >= 1 */
double pl_stream_unit(pl_stream *s);   /* in (0, 1): odd multiples of 2^-53, never 0 or 1 */
double pl_stream_normal(pl_stream *s); /* Box-Muller, one of each pair */
double pl_stream_chisq(pl_stream *s, double df);                 /* as chisqs */
void pl_stream_shuffle(pl_stream *s, uint32_t *items, size_t n); /* Fisher-Yates */

/* The same words behind GSL's generator face, for its rare variates.
 * gsl_rng_set on it takes draw 0 of PL_FOR_TEST; pl_stream_gsl_new (gsl_rng_free
 * ends it; NULL without memory) takes any. */
extern const gsl_rng_type *pl_stream_gsl;
gsl_rng *pl_stream_gsl_new(uint64_t seed, pl_purpose purpose, uint64_t draw);

/* From the system (getrandom), below PL_SEED_LIMIT. */
uint64_t pl_seed_from_system(void);

#endif
