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
