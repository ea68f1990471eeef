/* Twofold numbers: a value as the unevaluated sum of two doubles, about 106 bits.
 *
 * For sums that must not lose digits: block centring, orthogonal factors, sums
 * of squares of readings with many leading digits in common. The same on every
 * machine with IEEE doubles and no contraction (-ffp-contract=off). No overflow
 * care: callers scale, see lsq.c; |values| below 1e290 are safe.
 * Sources: Dekker 1971, Numer. Math. 18:224 (product without a fused step);
 * Knuth, TAOCP 2, 4.2.2 (sum); Hida, Li & Bailey 2001, 15th IEEE Symposium on
 * Computer Arithmetic (sum and product of pairs, quotient, root). */
#ifndef PL_FIT_DD_H
#define PL_FIT_DD_H

#include <math.h>

typedef struct pl_dd {
    double hi, lo; /* |lo| at most half a unit in the last place of hi */
} pl_dd;

static inline pl_dd pl_dd_of(double x)
{
    return (pl_dd){ x, 0 };
}

static inline double pl_dd_value(pl_dd a)
{
    return a.hi + a.lo;
}

static inline pl_dd pl_dd_two_sum(double a, double b)
{
    double s = a + b, bb = s - a;

    return (pl_dd){ s, (a - (s - bb)) + (b - bb) };
}

/* |a| >= |b|, or a = 0 */
static inline pl_dd pl_dd_quick_sum(double a, double b)
{
    double s = a + b;

    return (pl_dd){ s, b - (s - a) };
}

static inline pl_dd pl_dd_two_product(double a, double b)
{
    const double split = 134217729.0; /* 2^27 + 1: halves of a 53-bit mantissa */
    double p = a * b, ta = split * a, tb = split * b;
    double ah = ta - (ta - a), al = a - ah, bh = tb - (tb - b), bl = b - bh;

    return (pl_dd){ p, ((ah * bh - p) + ah * bl + al * bh) + al * bl };
}

static inline pl_dd pl_dd_add(pl_dd a, pl_dd b)
{
    pl_dd s = pl_dd_two_sum(a.hi, b.hi), t = pl_dd_two_sum(a.lo, b.lo);

    s = pl_dd_quick_sum(s.hi, s.lo + t.hi);
    return pl_dd_quick_sum(s.hi, s.lo + t.lo);
}

static inline pl_dd pl_dd_neg(pl_dd a)
{
    return (pl_dd){ -a.hi, -a.lo };
}

static inline pl_dd pl_dd_sub(pl_dd a, pl_dd b)
{
    return pl_dd_add(a, pl_dd_neg(b));
}

static inline pl_dd pl_dd_mul(pl_dd a, pl_dd b)
{
    pl_dd p = pl_dd_two_product(a.hi, b.hi);

    return pl_dd_quick_sum(p.hi, p.lo + (a.hi * b.lo + a.lo * b.hi));
}

static inline pl_dd pl_dd_scale(pl_dd a, double s)
{
    pl_dd p = pl_dd_two_product(a.hi, s);

    return pl_dd_quick_sum(p.hi, p.lo + a.lo * s);
}

/* a times a power of two: exact */
static inline pl_dd pl_dd_ldexp(pl_dd a, int e)
{
    return (pl_dd){ ldexp(a.hi, e), ldexp(a.lo, e) };
}

static inline pl_dd pl_dd_div(pl_dd a, pl_dd b)
{
    double q1 = a.hi / b.hi;
    pl_dd r = pl_dd_sub(a, pl_dd_scale(b, q1));
    double q2 = r.hi / b.hi, q3;

    r = pl_dd_sub(r, pl_dd_scale(b, q2));
    q3 = r.hi / b.hi;
    return pl_dd_add(pl_dd_quick_sum(q1, q2), pl_dd_of(q3));
}

/* a >= 0 */
static inline pl_dd pl_dd_sqrt(pl_dd a)
{
    double x;
    pl_dd r;

    if (!(a.hi > 0))
        return pl_dd_of(0);
    x = sqrt(a.hi);
    r = pl_dd_sub(a, pl_dd_two_product(x, x));
    return pl_dd_quick_sum(x, r.hi / (2 * x));
}

/* s + a b */
static inline pl_dd pl_dd_mac(pl_dd s, pl_dd a, pl_dd b)
{
    return pl_dd_add(s, pl_dd_mul(a, b));
}

#endif
