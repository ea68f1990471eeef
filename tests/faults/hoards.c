/* Keeps every row that it was ever handed, and never gives the same answer twice. */
#include "fault.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

FAULT_COLUMNS

static int rows(const platen_host *host, const platen_value *s, void *state, const platen_rows *r)
{
    static char somewhere;
    double *kept = malloc((r->n + 1) * sizeof *kept);
    platen_reading peak = { NULL, "peak", "N", 1, 0 };

    (void)s;
    (void)state;
    if (kept && r->n)
        memcpy(kept, r->numbers[1], r->n * sizeof *kept);
    peak.value += 1e-12 * (double)(((uintptr_t)&somewhere >> 12) & 0xfffff);
    return r->last && host->reading(host->self, &peak) ? PLATEN_ESTOP : PLATEN_OK;
}

FAULT_PLUGIN(PLATEN_COLUMNS(columns), .rows = rows)
