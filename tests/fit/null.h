/* How often a test sees something where nothing is: one line a test, and in the long form a row of
 * the table in docs/validation.md. Exact tests are held to 5 % within 4 Monte Carlo errors,
 * approximate ones to 3.5 to 7 % widened by as much, discrete ones and bounds to 5 % at most. */
#ifndef TESTS_FIT_NULL_H
#define TESTS_FIT_NULL_H

#include <math.h>
#include <stdlib.h>

#include "support.h"

typedef enum null_kind {
    NULL_EXACT,
    NULL_APPROXIMATE,
    NULL_DISCRETE,
    NULL_BOUND,
    NULL_AS_FOUND
} null_kind;

static inline int null_draws(int lasting, int brief)
{
    return getenv("PLATEN_LONG") ? lasting : brief;
}

static inline void null_rate(null_kind kind, const char *what, int alarms, int draws)
{
    static const char *const kinds[] = { "exact", "approximate", "exact, discrete", "a bound",
                                         "as found" };
    static const double low[] = { 0.05, 0.035, 0, 0, 0 }, high[] = { 0.05, 0.07, 0.05, 0.05, 1 };
    double rate = (double)alarms / draws, error = 4 * sqrt(0.05 * 0.95 / draws);

    printf("%s| %s | %s | %d | %.2f %% |\n", getenv("PLATEN_LONG") ? "" : "    ", what, kinds[kind],
           draws, 100 * rate);
    fflush(stdout);
    if (!(rate >= low[kind] - error && rate <= high[kind] + error))
        fail_msg("%s: %.4f false alarms, wanted %g to %g", what, rate, low[kind], high[kind]);
}

#endif
