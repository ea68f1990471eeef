/* Screening designs from cyclic first rows and from orthogonal matrices of signs. */
#include "design/screening.h"

#include <string.h>

#include "design/field.h"

static bool prime(unsigned q)
{
    unsigned m;

    return pl_field_prime_power(q, NULL, &m) && m == 1;
}

static bool power_of(unsigned q, unsigned rest)
{
    return q < PL_FIELD_MOST && q % 4 == rest && pl_field_prime_power(q, NULL, NULL);
}

/* First row by squares modulo the prime runs - 1, or by the recurrence for 16. */
static void first_row(unsigned runs, int8_t *row)
{
    unsigned q = runs - 1;

    if (runs == 16) {
        for (unsigned i = 0; i < q; i++)
            row[i] = (int8_t)(i < 4 ? 1 : row[i - 4] * row[i - 1] > 0 ? -1 : 1);
        return;
    }
    memset(row, -1, q);
    for (unsigned i = 0; i < q; i++)
        row[i * i % q] = 1;
}

/* Rows of the first one shifted, and one of minus signs. */
static void cyclic(unsigned runs, int8_t *out)
{
    unsigned q = runs - 1;

    first_row(runs, out);
    for (unsigned i = 1; i < q; i++)
        for (unsigned j = 0; j < q; j++)
            out[i * q + (i + j) % q] = out[j];
    memset(out + (size_t)q * q, -1, q);
}

/* S of order q + 1: 0 on the diagonal, signs of squares of differences inside, bordered by
 * ones; S S' = q I. Symmetric when q leaves 1, skew when it leaves 3. */
static void conference(const pl_field *f, int8_t *s)
{
    unsigned n = f->q + 1;

    s[0] = 0;
    for (unsigned i = 1; i < n; i++) {
        s[i] = 1;
        s[i * n] = (int8_t)(f->q % 4 == 1 ? 1 : -1);
        for (unsigned j = 1; j < n; j++)
            s[i * n + j] = (int8_t)pl_field_square(f, f->add[i - 1][f->minus[j - 1]]);
    }
}

/* H with H H' = n I. */
static bool signs(pl_arena *a, unsigned n, int8_t *h);

static bool paley(pl_arena *a, unsigned n, unsigned q, int8_t *h)
{
    pl_field *f = PL_NEW(a, pl_field);
    int8_t *s = pl_arena_get(a, q + 1, q + 1);

    if (!f || !s || !pl_field_init(f, q))
        return false;
    conference(f, s);
    for (unsigned i = 0; i <= q; i++)
        for (unsigned j = 0; j <= q; j++) {
            int8_t c = s[i * (q + 1) + j], one = i == j;

            if (n == q + 1) {
                h[i * n + j] = (int8_t)(c + one);
                continue;
            }
            h[i * n + j] = (int8_t)(c + one);
            h[i * n + q + 1 + j] = h[(i + q + 1) * n + j] = (int8_t)(c - one);
            h[(i + q + 1) * n + q + 1 + j] = (int8_t)(-c - one);
        }
    return true;
}

static bool doubled(pl_arena *a, unsigned n, int8_t *h)
{
    unsigned k = n / 2;
    int8_t *half = pl_arena_get(a, k, k);

    if (!half || !signs(a, k, half))
        return false;
    for (unsigned i = 0; i < k; i++)
        for (unsigned j = 0; j < k; j++) {
            int8_t x = half[i * k + j];

            h[i * n + j] = h[i * n + k + j] = h[(i + k) * n + j] = x;
            h[(i + k) * n + k + j] = (int8_t)-x;
        }
    return true;
}

static bool signs(pl_arena *a, unsigned n, int8_t *h)
{
    if (n == 1) {
        h[0] = 1;
        return true;
    }
    if (n % 4 == 0 && power_of(n - 1, 3))
        return paley(a, n, n - 1, h);
    if (n % 4 == 0 && power_of(n / 2 - 1, 1))
        return paley(a, n, n / 2 - 1, h);
    return n % 2 == 0 && doubled(a, n, h);
}

static bool matrix_exists(unsigned n)
{
    if (n == 1 || n == 2)
        return true;
    if (n % 4)
        return false;
    return power_of(n - 1, 3) || power_of(n / 2 - 1, 1) || matrix_exists(n / 2);
}

bool pl_screening_exists(unsigned runs)
{
    return runs >= 4 && runs <= PL_SCREENING_RUNS_MOST && runs % 4 == 0 && matrix_exists(runs);
}

unsigned pl_screening_next(unsigned least)
{
    for (unsigned n = least < 4 ? 4 : least; n <= PL_SCREENING_RUNS_MOST; n++)
        if (pl_screening_exists(n))
            return n;
    return 0;
}

int8_t *pl_screening(pl_arena *a, unsigned runs)
{
    int8_t *out, *h;

    if (!pl_screening_exists(runs))
        return NULL;
    out = pl_arena_get(a, runs, runs - 1);
    if (!out)
        return NULL;
    if (runs == 16 || (prime(runs - 1) && runs % 4 == 0)) {
        cyclic(runs, out);
        return out;
    }
    h = pl_arena_get(a, runs, runs);
    if (!h || !signs(a, runs, h))
        return NULL;
    for (unsigned i = 0; i < runs; i++) /* the first column becomes all + and is left out */
        for (unsigned j = 1; j < runs; j++)
            out[i * (runs - 1) + j - 1] = (int8_t)(h[i * runs] * h[i * runs + j]);
    return out;
}
