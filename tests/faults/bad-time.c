/* A time before the beginning. */
#include "fault.h"

FAULT_WHEN_READING({
    const platen_reading one = { NULL, "time_to_peak", "s", -3, 2 };

    (void)host->reading(host->self, &one);
})
