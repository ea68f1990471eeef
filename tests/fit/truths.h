/* Eight levels at constant ratio, and what strength may do along them; for studies drawn at random.
 */
#ifndef TESTS_FIT_TRUTHS_H
#define TESTS_FIT_TRUTHS_H

#include <math.h>
#include <stddef.h>

#define NLEVEL 8

static inline double level(size_t i)
{
    return 0.2 * pow(1.5, (double)i);
}

static inline double exponential(double p)
{
    return 4 + 7 * (1 - exp(-2.2 * p));
}

static inline double knee_in_log(double p) /* four levels on the plateau */
{
    return 5 + 6 * fmin(log(p / level(0)) / log(level(4) / level(0)), 1);
}

static inline double line_in_log(double p)
{
    return 5 + 6 * log(p / level(0)) / log(level(NLEVEL - 1) / level(0));
}

/* Where it has 0.95 of its highest mean, by halving. */
static inline double onset_of(double (*mean)(double))
{
    double low = level(0), high = level(NLEVEL - 1), aim = 0.95 * mean(high);

    for (int i = 0; i < 200; i++) {
        double middle = (low + high) / 2;

        *(mean(middle) < aim ? &low : &high) = middle;
    }
    return high;
}

#endif
