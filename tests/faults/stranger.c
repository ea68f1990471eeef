/* Readings of a specimen that nobody has heard of. */
#include "fault.h"

FAULT_WHEN_READING({
    const platen_reading one = { "QQQQ", "peak", "N", 100, 2 };

    (void)host->reading(host->self, &one);
})
