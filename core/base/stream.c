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
#include "base/lanes.h"
#include "base/philox.h"

#define WIDE PL_PHILOX_WIDE

void pl_philox4x32(const uint32_t counter[4], const uint32_t key[2], uint32_t out[4])
{
    uint32_t c0 = counter[0], c1 = counter[1], c2 = counter[2], c3 = counter[3];
    uint32_t k0 = key[0], k1 = key[1];

    for (int round = 0; round < PL_PHILOX_ROUNDS; round++) {
        uint64_t p0 = (uint64_t)PL_PHILOX_M0 * c0, p1 = (uint64_t)PL_PHILOX_M1 * c2;

        c0 = (uint32_t)(p1 >> 32) ^ c1 ^ k0;
        c2 = (uint32_t)(p0 >> 32) ^ c3 ^ k1;
        c1 = (uint32_t)p1;
        c3 = (uint32_t)p0;
        k0 += PL_PHILOX_W0;
        k1 += PL_PHILOX_W1;
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

#define BLOCKS 128u /* at once */

/* n blocks from `first` on, as pl_philox_blocks leaves them. */
static void blocks_from(uint64_t seed, pl_purpose purpose, uint64_t draw, uint32_t first,
                        uint64_t *out, size_t n)
{
    const uint32_t counter[4] = { (uint32_t)draw, (uint32_t)(draw >> 32), (uint32_t)purpose,
                                  first };

    pl_philox_blocks(counter, (const uint32_t[2]){ (uint32_t)seed, (uint32_t)(seed >> 32) }, out,
                     n);
}

void pl_stream_words(uint64_t seed, pl_purpose purpose, uint64_t draw, uint32_t first,
                     uint32_t *out, size_t n)
{
    uint64_t b[2 * BLOCKS];

    for (size_t from = 0; from < n; from += BLOCKS) {
        const size_t many = n - from < BLOCKS ? n - from : BLOCKS;

        blocks_from(seed, purpose, draw, first + (uint32_t)from, b, many);
        for (size_t i = 0; i < many; i++) {
            const uint64_t *at = b + i / WIDE * 2 * WIDE + i % WIDE;
            uint32_t *w = out + 4 * (from + i);

            w[0] = (uint32_t)(at[0] >> 32);
            w[1] = (uint32_t)at[0];
            w[2] = (uint32_t)(at[WIDE] >> 32);
            w[3] = (uint32_t)at[WIDE];
        }
    }
}

/* pl_stream_unit of eight. */
PL_INLINE void units_of(const uint64_t *bits, pl_lanes *out)
{
    pl_lane_bits b;

    memcpy(&b, bits, sizeof b);
    b = ((b >> 12) & 0x000FFFFFFFFFFFFF) | 0x3FF0000000000000;
    *out = ((pl_lanes)b - 1.0) + 0x1p-53;
}

PL_CLONES static void to_units(const uint64_t *bits, double *out, size_t n)
{
    for (size_t i = 0; i < n; i += PL_LANES)
        units_of(bits + i, (pl_lanes *)(void *)(out + i));
}

/* Box & Muller 1958, Ann. Math. Statist. 29:610, both of each pair: the length from the high half
 * of each number, the turn from the low one. */
PL_CLONES __attribute__((optimize("O3"))) static void to_normals(const uint64_t *bits, double *out,
                                                                 size_t n)
{
    for (size_t i = 0; i < n; i += 2 * PL_LANES) {
        double *to = out + i / (2 * WIDE) * 2 * WIDE + i % (2 * WIDE) / 2;
        pl_lane_bits b, high, low;
        pl_lanes r, sine, cosine, turn;

        memcpy(&b, bits + i / 2, sizeof b);
        high = ((b >> 12) & 0x000FFFFFFFF00000) | 0x3FF0000000000000;
        low = ((b << 20) & 0x000FFFFFFFF00000) | 0x3FF0000000000000;
        r = ((pl_lanes)high - 1.0) + 0x1p-33;
        turn = ((pl_lanes)low - 1.0) + 0x1p-33;
        pl_lanes_log(&r, &r);
        r *= -2.0;
        pl_lanes_root(&r, &r);
        pl_lanes_turn(&turn, &sine, &cosine);
        *(pl_lanes *)(void *)to = r * cosine;
        *(pl_lanes *)(void *)(to + WIDE) = r * sine;
    }
}

void pl_stream_units(uint64_t seed, pl_purpose purpose, uint64_t draw, uint32_t first, double *out,
                     size_t n)
{
    uint64_t b[2 * BLOCKS];

    for (size_t at = 0; at < n; at += 2 * BLOCKS) {
        const size_t many = n - at < 2 * BLOCKS ? n - at : 2 * BLOCKS;

        blocks_from(seed, purpose, draw, first + (uint32_t)at / 2, b, many / 2);
        to_units(b, out + at, many);
    }
}

void pl_stream_normals(uint64_t seed, pl_purpose purpose, uint64_t draw, uint32_t first,
                       double *out, size_t n)
{
    uint64_t b[2 * BLOCKS];

    for (size_t at = 0; at < n; at += 4 * BLOCKS) {
        const size_t many = n - at < 4 * BLOCKS ? n - at : 4 * BLOCKS;

        blocks_from(seed, purpose, draw, first + (uint32_t)at / 4, b, many / 4);
        to_normals(b, out + at, many);
    }
}

/* Marsaglia & Tsang's d and c: d v, v = (1 + c z)^3, is a gamma of shape d + 1/3 >= 1 where
 * ln u < z^2/2 + d - d v + d ln v. */
static void gamma_of(double df, double *d, double *c)
{
    *d = (df < 2 ? df / 2 + 1 : df / 2) - 1.0 / 3;
    *c = 1 / sqrt(9 * *d);
}

/* out: normals on entry, then the chi-squares, NAN where rejected. */
PL_CLONES __attribute__((optimize("O3"))) static void accept(double d, double c, const double *unit,
                                                             double *out, size_t n)
{
    for (size_t i = 0; i < n; i += PL_LANES) {
        pl_lanes z = *(const pl_lanes *)(const void *)(out + i), u, v = z * c + 1.0, lv, most;
        const pl_lanes none = z * 0.0 + NAN, least = z * 0.0 + 0x1p-300;
        pl_lane_bits small, fits;

        pl_lanes_less(&v, &least, &small); /* so that the cube has a logarithm */
        pl_lanes_choose(&small, &least, &v, &lv);
        v = lv * lv * lv;
        pl_lanes_log(&v, &lv);
        pl_lanes_log((const pl_lanes *)(const void *)(unit + i), &u);
        most = z * z * 0.5 + d - v * d + lv * d;
        pl_lanes_less(&u, &most, &fits);
        fits &= ~small;
        v *= 2 * d;
        pl_lanes_choose(&fits, &v, &none, (pl_lanes *)(void *)(out + i));
    }
}

double pl_stream_chisq(pl_stream *s, double df)
{
    double lift = 1, d, c;

    gamma_of(df, &d, &c);
    if (df < 2) /* shape below 1: that of one more, times a power of a unit */
        lift = pow(pl_stream_unit(s), 2 / df);
    for (;;) {
        double z = pl_stream_normal(s), v = 1 + c * z;

        if (v <= 0)
            continue;
        v = v * v * v;
        if (log(pl_stream_unit(s)) < 0.5 * z * z + d - d * v + d * log(v))
            return 2 * d * v * lift;
    }
}

#define AGAIN_FROM 0x80000000u
#define AGAIN_EACH 256u
#define CHISQS 256

void pl_stream_chisqs(uint64_t seed, pl_purpose purpose, uint64_t draw, uint32_t first, double df,
                      double *out, size_t n)
{
    double unit[CHISQS], d, c;

    gamma_of(df, &d, &c);
    for (size_t at = 0; at < n; at += CHISQS) {
        const size_t many = n - at < CHISQS ? n - at : CHISQS;
        const uint32_t here = first + (uint32_t)at;

        if (df == 1) {
            pl_stream_normals(seed, purpose, draw, here, out + at, many);
            for (size_t i = 0; i < many; i++)
                out[at + i] *= out[at + i];
        } else if (df < 2) {
            for (size_t i = 0; i < many; i++)
                out[at + i] = NAN;
        } else {
            pl_stream_normals(seed, purpose, draw, here, out + at, many);
            pl_stream_units(seed, purpose, draw, here + (uint32_t)many / 2, unit, many);
            accept(d, c, unit, out + at, many);
        }
        for (size_t i = 0; i < many; i++) {
            pl_stream s;

            if (!isnan(out[at + i]))
                continue;
            pl_stream_init(&s, seed, purpose, draw);
            s.counter[3] = AGAIN_FROM + AGAIN_EACH * (here + (uint32_t)i);
            out[at + i] = pl_stream_chisq(&s, df);
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
