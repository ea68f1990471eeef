/* A peak that is no number. */
#include <math.h>

#include "fault.h"

FAULT_WHEN_READING({
    const platen_reading one = { NULL, "peak", "N", NAN, 2 };

    (void)host->reading(host->self, &one);
})
