/* Seeded random streams: Philox 4x32-10, whole numbers, units, normals, shuffles.
 * Which draw belongs to what is the caller's business (pl_purpose). */
#include "base/stream.h"

#include <errno.h>
#include <math.h>
#include <string.h>
#include <sys/random.h>
#include <time.h>
#include <unistd.h>

#include "base/clones.h"

/* Multipliers and key increments: Salmon, Moraes, Dror & Shaw 2011, SC '11,
 * "Parallel random numbers: as easy as 1, 2, 3", section 3.3; the increments are
 * the golden ratio and sqrt(3) - 1, in 32 bits. */
#define PHILOX_M0 0xD2511F53u
#define PHILOX_M1 0xCD9E8D57u
#define PHILOX_W0 0x9E3779B9u
#define PHILOX_W1 0xBB67AE85u
#define PHILOX_ROUNDS 10

void pl_philox4x32(const uint32_t counter[4], const uint32_t key[2], uint32_t out[4])
{
    uint32_t c0 = counter[0], c1 = counter[1], c2 = counter[2], c3 = counter[3];
    uint32_t k0 = key[0], k1 = key[1];

    for (int round = 0; round < PHILOX_ROUNDS; round++) {
        uint64_t p0 = (uint64_t)PHILOX_M0 * c0, p1 = (uint64_t)PHILOX_M1 * c2;

        c0 = (uint32_t)(p1 >> 32) ^ c1 ^ k0;
        c2 = (uint32_t)(p0 >> 32) ^ c3 ^ k1;
        c1 = (uint32_t)p1;
        c3 = (uint32_t)p0;
        k0 += PHILOX_W0;
        k1 += PHILOX_W1;
    }
    out[0] = c0;
    out[1] = c1;
    out[2] = c2;
    out[3] = c3;
}

void pl_stream_init(pl_stream *s, uint64_t seed, pl_purpose purpose, uint64_t draw)
{
    memset(s, 0, sizeof *s);
    s->key[0] = (uint32_t)seed;
    s->key[1] = (uint32_t)(seed >> 32);
    s->counter[0] = (uint32_t)draw;
    s->counter[1] = (uint32_t)(draw >> 32);
    s->counter[2] = (uint32_t)purpose;
    s->used = 4; /* nothing in store yet */
}

uint32_t pl_stream_word(pl_stream *s)
{
    if (s->used == 4) {
        pl_philox4x32(s->counter, s->key, s->words);
        s->counter[3]++;
        s->used = 0;
    }
    return s->words[s->used++];
}

/* Lane by lane what pl_philox4x32 does; the compiler makes one step of each inner loop. */
PL_CLONES __attribute__((optimize("O3"))) void pl_stream_words(uint64_t seed, pl_purpose purpose,
                                                               uint64_t draw, uint32_t first,
                                                               uint32_t *out, size_t n)
{
    enum { WIDE = 16 };

    for (size_t from = 0; from < n; from += WIDE) {
        uint32_t c0[WIDE], c1[WIDE], c2[WIDE], c3[WIDE];
        uint32_t k0 = (uint32_t)seed, k1 = (uint32_t)(seed >> 32);

        for (uint32_t i = 0; i < WIDE; i++) {
            c0[i] = (uint32_t)draw;
            c1[i] = (uint32_t)(draw >> 32);
            c2[i] = (uint32_t)purpose;
            c3[i] = first + (uint32_t)from + i;
        }
        for (int round = 0; round < PHILOX_ROUNDS; round++) {
            for (int i = 0; i < WIDE; i++) {
                uint64_t p0 = (uint64_t)PHILOX_M0 * c0[i], p1 = (uint64_t)PHILOX_M1 * c2[i];

                c0[i] = (uint32_t)(p1 >> 32) ^ c1[i] ^ k0;
                c2[i] = (uint32_t)(p0 >> 32) ^ c3[i] ^ k1;
                c1[i] = (uint32_t)p1;
                c3[i] = (uint32_t)p0;
            }
            k0 += PHILOX_W0;
            k1 += PHILOX_W1;
        }
        for (int i = 0; i < WIDE; i++) {
            uint32_t *w = out + 4 * (from + (size_t)i);

            w[0] = c0[i];
            w[1] = c1[i];
            w[2] = c2[i];
            w[3] = c3[i];
        }
    }
}

/* As many low bits as n - 1 has, drawn again until below n: every value equally
 * likely, no division. */
uint32_t pl_stream_below(pl_stream *s, uint32_t n)
{
    uint32_t mask = n - 1, w;

    for (unsigned shift = 1; shift < 32; shift *= 2)
        mask |= mask >> shift;
    do
        w = pl_stream_word(s) & mask;
    while (w >= n);
    return w;
}

double pl_stream_unit(pl_stream *s)
{
    uint64_t high = pl_stream_word(s), low = pl_stream_word(s);
    uint64_t bits = (high << 32 | low) >> 12; /* 52 of them: half a step more still fits */

    return ((double)bits + 0.5) * 0x1p-52;
}

/* Box & Muller 1958, Ann. Math. Statist. 29:610. The second of the pair is left,
 * so that a normal always costs four words. */
double pl_stream_normal(pl_stream *s)
{
    double u = pl_stream_unit(s), v = pl_stream_unit(s);

    return sqrt(-2 * log(u)) * cos(2 * M_PI * v);
}

void pl_stream_shuffle(pl_stream *s, uint32_t *items, size_t n)
{
    for (size_t i = n; i > 1; i--) {
        uint32_t j = pl_stream_below(s, (uint32_t)i), t = items[j];

        items[j] = items[i - 1];
        items[i - 1] = t;
    }
}

/* ---------------------------------------------------------- GSL's face ---- */

static void face_set(void *state, unsigned long seed)
{
    pl_stream_init(state, (uint64_t)seed % PL_SEED_LIMIT, PL_FOR_TEST, 0);
}

static unsigned long face_get(void *state)
{
    return pl_stream_word(state);
}

static double face_get_double(void *state)
{
    return pl_stream_unit(state);
}

static const gsl_rng_type face = {
    .name = "philox4x32-10",
    .max = 0xffffffffUL,
    .min = 0,
    .size = sizeof(pl_stream),
    .set = face_set,
    .get = face_get,
    .get_double = face_get_double,
};
const gsl_rng_type *pl_stream_gsl = &face;

gsl_rng *pl_stream_gsl_new(uint64_t seed, pl_purpose purpose, uint64_t draw)
{
    gsl_rng *r = gsl_rng_alloc(pl_stream_gsl);

    if (r)
        pl_stream_init(gsl_rng_state(r), seed, purpose, draw);
    return r;
}

uint64_t pl_seed_from_system(void)
{
    uint64_t seed = 0;
    ssize_t n;

    do
        n = getrandom(&seed, sizeof seed, 0);
    while (n < 0 && errno == EINTR);
    if (n != (ssize_t)sizeof seed) { /* a kernel without it: clock and process, mixed */
        struct timespec now = { 0 };
        uint32_t mixed[4];

        clock_gettime(CLOCK_REALTIME, &now);
        pl_philox4x32(
            (uint32_t[4]){ (uint32_t)now.tv_nsec, (uint32_t)now.tv_sec, (uint32_t)getpid(), 0 },
            (uint32_t[2]){ 0, 0 }, mixed);
        seed = (uint64_t)mixed[0] << 32 | mixed[1];
    }
    return seed % PL_SEED_LIMIT; /* a power of two: no bias */
}
