/* Counts of assignments: exact to 38 digits, then to about 14 of them. What is counted is the
 * caller's to say. */
#include "design/allocations.h"

#include <string.h>

__extension__ typedef unsigned __int128 wide;

/* Whole numbers are kept as digits in n->exact between calls; "" once they no longer fit. */
static wide read_exact(const pl_allocations *n)
{
    wide value = 0;

    for (const char *c = n->exact; *c; c++)
        value = value * 10u + (wide)(unsigned)(*c - '0');
    return value;
}

static void write_exact(pl_allocations *n, wide value)
{
    char digits[sizeof n->exact];
    size_t at = sizeof digits - 1;

    digits[at] = 0;
    do
        digits[--at] = (char)('0' + (int)(value % 10u));
    while ((value /= 10u) && at > 0);
    memmove(n->exact, digits + at, sizeof digits - at);
}

static void scale(pl_allocations *n)
{
    while (n->mantissa >= 10) {
        n->mantissa /= 10;
        n->power++;
    }
    while (n->mantissa < 1) {
        n->mantissa *= 10;
        n->power--;
    }
}

pl_allocations pl_allocations_one(void)
{
    return (pl_allocations){ .mantissa = 1, .exact = "1" };
}

void pl_allocations_times(pl_allocations *n, double by)
{
    const wide most = (wide)1000000000000000000u * (wide)1000000000000000000u * 10u; /* 10^37 */

    n->mantissa *= by;
    scale(n);
    if (!*n->exact)
        return;
    if (read_exact(n) > most / (wide)by)
        *n->exact = 0;
    else
        write_exact(n, read_exact(n) * (wide)by);
}

void pl_allocations_over(pl_allocations *n, double by)
{
    n->mantissa /= by;
    scale(n);
    if (*n->exact)
        write_exact(n, read_exact(n) / (wide)by);
}

/* One thing after the other: n (n + 1) / (m + 1) stays whole, as a product of binomials. */
void pl_allocations_arrange(pl_allocations *n, const size_t *count, size_t kinds)
{
    double total = 0;

    for (size_t k = 0; k < kinds; k++)
        for (size_t i = 0; i < count[k]; i++) {
            pl_allocations_times(n, total += 1);
            if (i)
                pl_allocations_over(n, (double)i + 1);
        }
}

bool pl_allocations_latin(pl_allocations *n, size_t order)
{
    /* n! (n - 1)! times the reduced squares, which are these: from memory; 3, 5 and 7 confirmed
     * (tests/reference/worked/randomisation.json). */
    static const double reduced[] = {
        0, 1, 1, 1, 4, 56, 9408, 16942080, 535281401856.0, 377597570964258816.0
    };

    if (order < 1 || order >= sizeof reduced / sizeof *reduced)
        return false;
    for (size_t i = 2; i <= order; i++)
        pl_allocations_times(n, (double)i);
    for (size_t i = 2; i < order; i++)
        pl_allocations_times(n, (double)i);
    pl_allocations_times(n, reduced[order]);
    return true;
}
