/* Balanced incomplete blocks: reasons against them, and ways to build them. Which boards
 * they lie on is decided elsewhere. */
#include "design/balanced.h"

#include <string.h>

#include "design/field.h"
#include "design/orbits.h"

/* ------------------------------------------------------- reasons against -- */

/* Hilbert symbol (a, b) at the odd prime p: +1 when z^2 = a x^2 + b y^2 has a solution in
 * p-adic numbers (Serre, A Course in Arithmetic, 1973, ch. III). */
static int legendre(long a, long p)
{
    long r = 1, x = ((a % p) + p) % p, e = (p - 1) / 2;

    for (; e; e /= 2, x = x * x % p)
        if (e % 2)
            r = r * x % p;
    return r == 1 ? 1 : -1;
}

static int power_out(long *a, long p)
{
    int n = 0;

    for (; *a % p == 0; *a /= p)
        n++;
    return n;
}

static int hilbert_odd(long a, long b, long p)
{
    int i = power_out(&a, p), j = power_out(&b, p), sign = 1;

    if (i % 2 && j % 2 && p % 4 == 3)
        sign = -sign;
    if (j % 2)
        sign *= legendre(a, p);
    if (i % 2)
        sign *= legendre(b, p);
    return sign;
}

static bool solvable(long a, long b)
{
    long rest = a < 0 ? -a : a, other = b < 0 ? -b : b;

    if (a < 0 && b < 0)
        return false;
    for (long p = 3; p <= rest || p <= other; p += 2) {
        bool divides = rest % p == 0 || other % p == 0;

        while (rest % p == 0)
            rest /= p;
        while (other % p == 0)
            other /= p;
        if (divides && hilbert_odd(a, b, p) < 0)
            return false;
    }
    return true; /* the symbol at 2 follows from the others and the sign: their product is 1 */
}

static bool is_square(unsigned x)
{
    unsigned r = 0;

    while (r * r < x)
        r++;
    return r * r == x;
}

/* Bruck, Ryser and Chowla: can a symmetric design be? */
static bool symmetric_may_be(unsigned v, unsigned k, unsigned lambda)
{
    if (v % 2 == 0)
        return is_square(k - lambda);
    return solvable((long)(k - lambda), v % 4 == 1 ? (long)lambda : -(long)lambda);
}

const char *pl_balanced_refusal(unsigned v, unsigned b, unsigned k)
{
    unsigned r = b * k / v, lambda;

    if (b * k % v)
        return "not every treatment can be made equally often";
    if (r * (k - 1) % (v - 1))
        return "no whole number of meetings of every two treatments";
    lambda = r * (k - 1) / (v - 1);
    if (b < v)
        return "fewer blocks than treatments (Fisher)";
    if (b == v && !symmetric_may_be(v, k, lambda))
        return "as many blocks as treatments, where the rule of Bruck, Ryser and Chowla forbids it";
    if ((b == 111 && v == 111 && k == 11) || (v == 100 && b == 110 && k == 10))
        return "no plane of order 10: every case was gone through by computer";
    if (v == 22 && b == 33 && k == 8)
        return "every case was gone through by computer";
    if (r == k + lambda && lambda <= 2 && !symmetric_may_be(v + r, r, lambda))
        return "it would be part of a larger one that the rule of Bruck, Ryser and Chowla forbids";
    return NULL;
}

/* -------------------------------------------------------------- geometry -- */

/* Treatments are vectors over a field of q elements, d digits each. */
static unsigned power(unsigned q, unsigned d)
{
    unsigned x = 1;

    while (d--)
        x *= q;
    return x;
}

static unsigned dot(const pl_field *f, unsigned x, unsigned y, unsigned d)
{
    unsigned sum = 0;

    for (; d--; x /= f->q, y /= f->q)
        sum = f->add[sum][f->mul[x % f->q][y % f->q]];
    return sum;
}

/* First digit that is not 0 is 1: one vector for each direction. */
static bool leads(const pl_field *f, unsigned x)
{
    while (x && x % f->q == 0)
        x /= f->q;
    return x && x % f->q == 1;
}

static unsigned add_scaled(const pl_field *f, unsigned x, unsigned c, unsigned y, unsigned d)
{
    unsigned sum = 0;

    for (unsigned i = 0, at = 1; i < d; i++, at *= f->q, x /= f->q, y /= f->q)
        sum += at * f->add[x % f->q][f->mul[c][y % f->q]];
    return sum;
}

/* Points that a hyperplane of the space holds: v = q^d, k = q^(d-1), b = q (v-1)/(q-1). */
static void affine_hyperplanes(const pl_field *f, unsigned d, uint32_t *block)
{
    unsigned v = power(f->q, d);

    for (unsigned n = 1; n < v; n++)
        for (unsigned c = 0; leads(f, n) && c < f->q; c++)
            for (unsigned x = 0; x < v; x++)
                if (dot(f, n, x, d) == c)
                    *block++ = x;
}

/* Lines x + c n of the space: k = q. Each is written from its least point. */
static void affine_lines(const pl_field *f, unsigned d, uint32_t *block)
{
    unsigned v = power(f->q, d);

    for (unsigned n = 1; n < v; n++)
        for (unsigned x = 0; leads(f, n) && x < v; x++) {
            bool least = true;

            for (unsigned c = 1; c < f->q; c++)
                least = least && add_scaled(f, x, c, n, d) > x;
            for (unsigned c = 0; least && c < f->q; c++)
                *block++ = add_scaled(f, x, c, n, d);
        }
}

/* Points of the projective space, numbered in order; place[x] of a leading vector. */
static unsigned projective_points(const pl_field *f, unsigned d, uint16_t *place)
{
    unsigned n = 0;

    for (unsigned x = 1; x < power(f->q, d); x++)
        if (leads(f, x))
            place[x] = (uint16_t)n++;
    return n;
}

static void projective_hyperplanes(const pl_field *f, unsigned d, const uint16_t *place,
                                   uint32_t *block)
{
    unsigned all = power(f->q, d);

    for (unsigned n = 1; n < all; n++)
        for (unsigned x = 1; leads(f, n) && x < all; x++)
            if (leads(f, x) && dot(f, n, x, d) == 0)
                *block++ = place[x];
}

static unsigned leading(const pl_field *f, unsigned x, unsigned d)
{
    for (unsigned c = 1; c < f->q; c++) {
        unsigned y = add_scaled(f, 0, c, x, d);

        if (leads(f, y))
            return y;
    }
    return x;
}

/* Lines through two points, each written from its two least. */
static void projective_lines(const pl_field *f, unsigned d, const uint16_t *place, uint32_t *block)
{
    unsigned all = power(f->q, d);

    for (unsigned x = 1; x < all; x++)
        for (unsigned y = x + 1; leads(f, x) && y < all; y++) {
            bool least = leads(f, y);

            for (unsigned c = 1; least && c < f->q; c++)
                least = place[leading(f, add_scaled(f, x, c, y, d), d)] > place[y];
            if (!least)
                continue;
            *block++ = place[x];
            *block++ = place[y];
            for (unsigned c = 1; c < f->q; c++)
                *block++ = place[leading(f, add_scaled(f, x, c, y, d), d)];
        }
}

/* Some geometry of v points whose flats are these blocks. */
static bool geometry(pl_arena *a, unsigned v, unsigned b, unsigned k, uint32_t *block)
{
    pl_field *f = PL_NEW(a, pl_field);
    uint16_t *place = PL_NEWN(a, 16384, uint16_t);

    for (unsigned q = 2; f && place && q < v && q <= k; q++) {
        if (!pl_field_prime_power(q, NULL, NULL))
            continue;
        for (unsigned d = 2; power(q, d - 1) <= v && power(q, d) <= 16384; d++) {
            unsigned all = power(q, d), points = (all - 1) / (q - 1);

            if (all == v && k == all / q && b == q * points && pl_field_init(f, q)) {
                affine_hyperplanes(f, d, block);
                return true;
            }
            if (all == v && k == q && b == all / q * points && pl_field_init(f, q)) {
                affine_lines(f, d, block);
                return true;
            }
            if (points != v || d < 3)
                continue;
            if (b == v && k == (all / q - 1) / (q - 1) && pl_field_init(f, q)) {
                projective_points(f, d, place);
                projective_hyperplanes(f, d, place, block);
                return true;
            }
            if (k == q + 1 && b == points * (points - 1) / (q * (q + 1)) && pl_field_init(f, q)) {
                projective_points(f, d, place);
                projective_lines(f, d, place, block);
                return true;
            }
        }
    }
    return false;
}

/* --------------------------------------------------- subsets, complements -- */

/* Number of k-subsets of v, or `most` + 1 when there are more. */
static size_t subsets(unsigned v, unsigned k, size_t most)
{
    size_t n = 1;

    for (unsigned i = 1; i <= k; i++) {
        n = n * (v - k + i) / i;
        if (n > most)
            return most + 1;
    }
    return n;
}

static void all_subsets(unsigned v, unsigned k, uint32_t *block)
{
    uint32_t at[PL_BALANCED_TREATMENTS_MOST] = { 0 };
    unsigned i;

    for (i = 0; i < k; i++)
        at[i] = i;
    for (;;) {
        memcpy(block, at, k * sizeof *at);
        block += k;
        for (i = k; i > 0 && at[i - 1] == v - k + i - 1; i--)
            ;
        if (!i)
            return;
        at[i - 1]++;
        for (; i < k; i++)
            at[i] = at[i - 1] + 1;
    }
}

static void complement(unsigned v, unsigned b, unsigned k, const uint32_t *other, uint32_t *block)
{
    for (unsigned i = 0; i < b; i++)
        for (unsigned x = 0; x < v; x++) {
            bool in = false;

            for (unsigned j = 0; j < v - k; j++)
                in = in || other[(size_t)i * (v - k) + j] == x;
            if (!in)
                *block++ = x;
        }
}

/* ---------------------------------------------------------------- search -- */

/* Moves for one group; a shop waits a second or two at most for all of them. */
#define GROUP_MOVES ((size_t)1000000)
#define WHOLE_MOVES ((size_t)4000000) /* of groups that leave blocks where they are: few fit */

static bool try_group(pl_arena *a, pl_orbits o, size_t moves, uint32_t *block)
{
    if (!pl_orbits_fit(&o))
        return false;
    o.moves_most = moves;
    return pl_orbits_search(a, &o, block);
}

/* Large groups first: few base blocks. */
static bool search(pl_arena *a, unsigned v, unsigned b, unsigned k, uint32_t *block)
{
    for (unsigned m = v < PL_FIELD_MOST ? v : PL_FIELD_MOST; m >= 1; m--)
        for (unsigned fixed = 0; fixed <= 1; fixed++)
            for (unsigned field = 0; field < (m > 3 ? 2u : 1u); field++) {
                pl_orbits o = { .v = v, .b = b, .k = k, .m = m, .field = field, .fixed = fixed };
                unsigned prime = m;

                if ((v - fixed) % m || (m == 1 && fixed))
                    continue;
                if (field && (!pl_field_prime_power(m, &prime, NULL) || prime == m))
                    continue;
                if (try_group(a, o, GROUP_MOVES, block))
                    return true;
                for (unsigned with = 0; with <= fixed; with++) {
                    o.short_of = k - with;
                    /* the subgroup of a field is that of its first digits */
                    if (o.short_of > 1 && (!field || o.short_of == prime) &&
                        try_group(a, o, GROUP_MOVES, block))
                        return true;
                }
                o.short_of = 0;
                o.whole = field ? 0 : b % m;
                if (o.whole && try_group(a, o, WHOLE_MOVES, block))
                    return true;
            }
    return false;
}

static bool build(pl_arena *a, unsigned v, unsigned b, unsigned k, uint32_t *block)
{
    size_t all = subsets(v, k, b);
    uint32_t *other;

    if (b % all == 0 && all <= b) {
        for (unsigned i = 0; i < b / all; i++)
            all_subsets(v, k, block + i * all * k);
        return true;
    }
    if (geometry(a, v, b, k, block))
        return true;
    if (2 * k > v) { /* small blocks are easier to find */
        other = pl_arena_get(a, b, (v - k) * sizeof *other);
        if (!other || v - k < 2 || !build(a, v, b, v - k, other))
            return false;
        complement(v, b, k, other, block);
        return true;
    }
    for (unsigned times = b / v; times > 1; times--) { /* a smaller one several times */
        unsigned one = b / times;

        if (b % times || pl_balanced_refusal(v, one, k) || !build(a, v, one, k, block))
            continue;
        for (unsigned i = 1; i < times; i++)
            memcpy(block + (size_t)i * one * k, block, (size_t)one * k * sizeof *block);
        return true;
    }
    return search(a, v, b, k, block);
}

pl_balanced_found pl_balanced(pl_arena *a, unsigned v, unsigned b, unsigned k, uint32_t *block)
{
    pl_mark mark = pl_arena_mark(a);
    size_t refusals = pl_arena_refusals(a);
    bool built;

    if (pl_balanced_refusal(v, b, k) || v > PL_BALANCED_TREATMENTS_MOST)
        return PL_BALANCED_NONE;
    built = build(a, v, b, k, block);
    pl_arena_reset(a, mark);
    if (built)
        return PL_BALANCED_BUILT;
    return pl_arena_refusals(a) > refusals ? PL_BALANCED_NO_MEMORY : PL_BALANCED_NOT_FOUND;
}
