/* Eight doubles side by side, and the few functions of them that hot loops need: exp, log and
 * their kin, good to 2e-15 relative, sine and cosine of whole turns to 4e-16. Plain sums and
 * products in a fixed order: the same bits for any width of register (base/clones.h), and on any
 * machine, since no libm enters.
 *
 * Pointers throughout: what holds a wide vector by value has no fixed way to be passed. Series and
 * reductions are the usual ones (Muller, Elementary Functions, 2nd ed. 2006, ch. 3 and 11, from
 * memory); tests/base/test_lanes.c measures them against libm. */
#ifndef PL_BASE_LANES_H
#define PL_BASE_LANES_H

#include <stdint.h>
#include <string.h>

#define PL_LANES 8

typedef double pl_lanes __attribute__((vector_size(8 * PL_LANES), aligned(8)));
typedef int64_t pl_lane_bits __attribute__((vector_size(8 * PL_LANES), aligned(8)));

#define PL_INLINE static inline __attribute__((always_inline))

#define PL_LN2_HIGH 0x1.62e42fefa0000p-1 /* 33 bits: times a whole number below 2^20 exact */
#define PL_LN2_LOW 0x1.cf79abc9e3b39p-40
#define PL_TO_WHOLE 0x1.8p52 /* added and taken off again: the nearest whole number */

/* yes where the bits are all ones, no where they are zero. */
PL_INLINE void pl_lanes_choose(const pl_lane_bits *when, const pl_lanes *yes, const pl_lanes *no,
                               pl_lanes *out)
{
    *out = (pl_lanes)((*when & (pl_lane_bits)*yes) | (~*when & (pl_lane_bits)*no));
}

/* All ones where a < b (-0 counts as below 0); not both infinite. By the sign of the difference:
 * what compares wide registers leaves a mask of another form on every machine. */
PL_INLINE void pl_lanes_less(const pl_lanes *a, const pl_lanes *b, pl_lane_bits *out)
{
    pl_lanes d = *a - *b;

    /* gcc and clang shift the sign in, and say so */
    /* cppcheck-suppress shiftTooManyBitsSigned */
    *out = (pl_lane_bits)d >> 63;
}

/* x > 0, neither infinite nor denormal. x = m 2^e, m from 0.707 to 1.414;
 * ln m = 2 (t + t^3/3 + ...), t = (m - 1)/(m + 1). */
PL_INLINE void pl_lanes_log(const pl_lanes *x, pl_lanes *out)
{
    const int64_t root = 0x3FE6A09E667F3BCD; /* sqrt(1/2) */
    pl_lane_bits b = (pl_lane_bits)*x - root;
    pl_lane_bits whole = ((b >> 52) + 1024) | 0x4330000000000000; /* 2^52 + e + 1024 */
    pl_lane_bits part = (b & 0x000FFFFFFFFFFFFF) + root;
    pl_lanes e = (pl_lanes)whole - (0x1p52 + 1024), m = (pl_lanes)part;
    pl_lanes t = (m - 1.0) / (m + 1.0), z = t * t, s = z * (2.0 / 21) + 2.0 / 19;

    s = s * z + 2.0 / 17;
    s = s * z + 2.0 / 15;
    s = s * z + 2.0 / 13;
    s = s * z + 2.0 / 11;
    s = s * z + 2.0 / 9;
    s = s * z + 2.0 / 7;
    s = s * z + 2.0 / 5;
    s = s * z + 2.0 / 3;
    *out = e * PL_LN2_HIGH + (e * PL_LN2_LOW + (t * 2.0 + t * z * s));
}

/* x > -1: what is lost in 1 + x is put back. */
PL_INLINE void pl_lanes_log1p(const pl_lanes *x, pl_lanes *out)
{
    pl_lanes u = 1.0 + *x, lost = (u - 1.0) - *x, l;

    pl_lanes_log(&u, &l);
    *out = l - lost / u;
}

/* *rest = e^r - 1 and *power = 2^k, x = k ln 2 + r; |x| < 708. */
PL_INLINE void pl_lanes_exp_parts(const pl_lanes *x, pl_lanes *rest, pl_lanes *power)
{
    pl_lanes k = (*x * 0x1.71547652b82fep0 + PL_TO_WHOLE) - PL_TO_WHOLE;
    pl_lanes r = (*x - k * PL_LN2_HIGH) - k * PL_LN2_LOW,
             s = r * (1.0 / 6227020800) + 1.0 / 479001600;
    pl_lane_bits raised = (pl_lane_bits)(k + (PL_TO_WHOLE + 1023));

    s = s * r + 1.0 / 39916800;
    s = s * r + 1.0 / 3628800;
    s = s * r + 1.0 / 362880;
    s = s * r + 1.0 / 40320;
    s = s * r + 1.0 / 5040;
    s = s * r + 1.0 / 720;
    s = s * r + 1.0 / 120;
    s = s * r + 1.0 / 24;
    s = s * r + 1.0 / 6;
    s = s * r + 0.5;
    *rest = r + r * r * s;
    *power = (pl_lanes)(raised << 52);
}

PL_INLINE void pl_lanes_exp(const pl_lanes *x, pl_lanes *out)
{
    pl_lanes rest, power;

    pl_lanes_exp_parts(x, &rest, &power);
    *out = power + power * rest;
}

PL_INLINE void pl_lanes_expm1(const pl_lanes *x, pl_lanes *out)
{
    pl_lanes rest, power;

    pl_lanes_exp_parts(x, &rest, &power);
    *out = power * rest + (power - 1.0);
}

/* Of 2 pi u, 0 <= u < 1: quarter turns, and Taylor's series in what is left (45 degrees at most).
 */
PL_INLINE void pl_lanes_turn(const pl_lanes *u, pl_lanes *sine, pl_lanes *cosine)
{
    const pl_lane_bits one = { 1, 1, 1, 1, 1, 1, 1, 1 }, top = one * INT64_MIN;
    pl_lanes f = *u * 4.0 + PL_TO_WHOLE;
    pl_lanes r = (*u * 4.0 - (f - PL_TO_WHOLE)) * 0x1.921fb54442d18p0, z = r * r;
    pl_lane_bits quarter = (pl_lane_bits)f, swap = -(quarter & one);
    pl_lanes s = z * (-1.0 / 1307674368000) + 1.0 / 6227020800;
    pl_lanes c = z * (1.0 / 20922789888000) - 1.0 / 87178291200, sn, cs;

    s = s * z - 1.0 / 39916800;
    s = s * z + 1.0 / 362880;
    s = s * z - 1.0 / 5040;
    s = s * z + 1.0 / 120;
    s = s * z - 1.0 / 6;
    s = r + r * z * s;
    c = c * z + 1.0 / 479001600;
    c = c * z - 1.0 / 3628800;
    c = c * z + 1.0 / 40320;
    c = c * z - 1.0 / 720;
    c = c * z + 1.0 / 24;
    c = c * z - 0.5;
    c = 1.0 + z * c;
    pl_lanes_choose(&swap, &c, &s, &sn);
    pl_lanes_choose(&swap, &s, &c, &cs);
    *sine = (pl_lanes)((pl_lane_bits)sn ^ ((quarter << 62) & top));
    *cosine = (pl_lanes)((pl_lane_bits)cs ^ (((quarter + one) << 62) & top));
}

PL_INLINE void pl_lanes_root(const pl_lanes *x, pl_lanes *out)
{
    double v[PL_LANES];

    memcpy(v, x, sizeof v);
    for (int i = 0; i < PL_LANES; i++)
        v[i] = __builtin_sqrt(v[i]);
    memcpy(out, v, sizeof v);
}

#endif
