/* Axial distances and sets of factors of designs for a curved surface. Which runs there are
 * in a plan is design's. */
#include "study/second_order.h"

#include <math.h>

unsigned pl_central_corners(unsigned k)
{
    return 1u << (k < 5 ? k : k - 1);
}

double pl_central_axial(unsigned k, unsigned corners, pl_axial how, unsigned centre)
{
    double f = corners, n = f + 2.0 * k + centre;

    switch (how) {
    case PL_AXIAL_ROTATABLE:
        return sqrt(sqrt(f));
    case PL_AXIAL_ORTHOGONAL:
        return sqrt((sqrt(f * n) - f) / 2);
    default:
        return 1;
    }
}

double pl_central_blocked(unsigned k, unsigned corners, unsigned blocks, unsigned middle,
                          unsigned middle_axes)
{
    double axes = 1 + (double)middle_axes / (2.0 * k);
    double corner = 1 + (double)middle * blocks / corners;

    return sqrt(k * axes / corner);
}

unsigned pl_central_block_word(unsigned k)
{
    return k == 4 ? 15 : k == 3 || k == 6 || k == 7 ? 7 : 0;
}

unsigned pl_central_corner_blocks(unsigned k)
{
    return pl_central_block_word(k) ? 2 : 1;
}

/* With lambda4 = N / (sqrt(F) + 2)^2 the variances at 0 and 1 are equal where
 * 2 (k + 2) lambda4^2 - (k + 3) lambda4 - (k - 1) = 0. */
double pl_central_middle(unsigned k, unsigned corners, bool even)
{
    double f = sqrt(corners), points = corners + 2.0 * k, n = k;
    double lambda4 = even
                         ? (n + 3 + sqrt((n + 3) * (n + 3) + 8 * (n + 2) * (n - 1))) / (4 * (n + 2))
                         : 1;

    return lambda4 * (f + 2) * (f + 2) - points;
}

unsigned pl_box_behnken_set(unsigned k, unsigned i)
{
    if (k < 3 || k > PL_SECOND_ORDER_MOST)
        return 0;
    if (k >= 6)
        return i < k ? 1u << i | 1u << (i + 1) % k | 1u << (i + 3) % k : 0;
    for (unsigned a = 0; a < k; a++)
        for (unsigned b = a + 1; b < k; b++)
            if (!i--)
                return 1u << a | 1u << b;
    return 0;
}

unsigned pl_box_behnken_runs(unsigned k)
{
    unsigned sets = 0;

    while (pl_box_behnken_set(k, sets))
        sets++;
    return sets * (k >= 6 ? 8 : 4);
}
