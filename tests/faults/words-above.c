/* Does no wrong: asks what the block of words above the table says. */
#include <stdlib.h>

#include "fault.h"

FAULT_WHEN_READING({
    const char *speed = host->said(host->self, "crosshead SPEED [mm/min]");
    const platen_reading one = { "K7M3", "speed", "1", speed ? strtod(speed, NULL) : 99, 0 };

    if (host->said(host->self, "no such key") || host->said(host->self, NULL) ||
        host->said(host->self, ""))
        return PLATEN_EDATA;
    (void)host->reading(host->self, &one);
})
