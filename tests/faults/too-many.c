/* Readings without end. */
#include <stdio.h>

#include "fault.h"

FAULT_WHEN_READING({
    for (long i = 0; i < 1000000000; i++) {
        char id[32];
        const platen_reading one = { id, "peak", "N", 100, 2 };

        snprintf(id, sizeof id, "S%ld", i);
        if (host->reading(host->self, &one))
            return PLATEN_ESTOP;
    }
})
