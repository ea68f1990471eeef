/* Finite fields as tables of sums and products. What they are for is decided elsewhere. */
#include "design/field.h"

#include <string.h>

bool pl_field_prime_power(unsigned q, unsigned *p, unsigned *m)
{
    unsigned prime = 2, power = 0;

    if (q < 2)
        return false;
    while (q % prime)
        prime++;
    for (; q > 1; q /= prime, power++)
        if (q % prime)
            return false;
    if (p)
        *p = prime;
    if (m)
        *m = power;
    return true;
}

/* Digits of x in base p, lowest first; m of them. */
static void digits(unsigned x, unsigned p, unsigned m, unsigned *d)
{
    for (unsigned i = 0; i < m; i++, x /= p)
        d[i] = x % p;
}

static unsigned number(const unsigned *d, unsigned p, unsigned m)
{
    unsigned x = 0;

    for (unsigned i = m; i-- > 0;)
        x = x * p + d[i];
    return x;
}

/* Product of a and b modulo x^m + the polynomial `low`. */
static unsigned product(const pl_field *f, unsigned a, unsigned b, const unsigned *low)
{
    unsigned p = f->p, m = f->m, da[8], db[8], c[16] = { 0 };

    digits(a, p, m, da);
    digits(b, p, m, db);
    for (unsigned i = 0; i < m; i++)
        for (unsigned j = 0; j < m; j++)
            c[i + j] = (c[i + j] + da[i] * db[j]) % p;
    for (unsigned i = 2 * m - 1; i-- > m;)
        for (unsigned j = 0; j < m; j++) /* x^m = -low */
            c[i - m + j] = (c[i - m + j] + (p - low[j]) * c[i]) % p;
    return number(c, p, m);
}

/* Fills the products; false when two elements other than 0 have the product 0. */
static bool fill_products(pl_field *f, unsigned modulus)
{
    unsigned low[8];

    digits(modulus, f->p, f->m, low);
    for (unsigned a = 1; a < f->q; a++)
        for (unsigned b = 1; b <= a; b++) {
            unsigned c = product(f, a, b, low);

            if (!c)
                return false;
            f->mul[a][b] = f->mul[b][a] = (uint8_t)c;
        }
    return true;
}

bool pl_field_init(pl_field *f, unsigned q)
{
    memset(f, 0, sizeof *f);
    if (q > PL_FIELD_MOST || !pl_field_prime_power(q, &f->p, &f->m))
        return false;
    f->q = q;
    for (unsigned a = 0; a < q; a++)
        for (unsigned b = 0; b < q; b++) {
            unsigned da[8], db[8];

            digits(a, f->p, f->m, da);
            digits(b, f->p, f->m, db);
            for (unsigned i = 0; i < f->m; i++)
                da[i] = (da[i] + db[i]) % f->p;
            f->add[a][b] = (uint8_t)number(da, f->p, f->m);
            if (!f->add[a][b])
                f->minus[a] = (uint8_t)b;
        }
    for (unsigned modulus = 0; modulus < q; modulus++)
        if (fill_products(f, modulus))
            return true;
    return false;
}

unsigned pl_field_primitive(const pl_field *f)
{
    for (unsigned g = 1; g < f->q; g++) {
        unsigned x = g, order = 1;

        while (x != 1) {
            x = f->mul[x][g];
            order++;
        }
        if (order == f->q - 1)
            return g;
    }
    return 1; /* q = 2 */
}

int pl_field_square(const pl_field *f, unsigned x)
{
    if (!x)
        return 0;
    for (unsigned y = 1; y < f->q; y++)
        if (f->mul[y][y] == x)
            return 1;
    return -1;
}
