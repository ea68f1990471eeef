/* The same specimen twice. */
#include "fault.h"

FAULT_WHEN_READING({
    const platen_reading one = { "K7M3", "peak", "N", 100, 2 };

    (void)host->reading(host->self, &one);
    (void)host->reading(host->self, &one);
})
