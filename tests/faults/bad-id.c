/* A specimen whose name would steer the terminal. */
#include "fault.h"

FAULT_WHEN_READING({
    const platen_reading one = { "\033[31mK7", "peak", "N", 100, 2 };

    (void)host->reading(host->self, &one);
})
