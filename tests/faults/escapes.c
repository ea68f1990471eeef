/* Steers the terminal with a note. */
#include "fault.h"

FAULT_WHEN_READING({
    const platen_reading one = { "K7M3", "peak", "N", 100, 2 };

    host->note(host->self, PLATEN_ADVICE,
               "all \033[2Jwell\nrefused: \xc2\x9b"
               "2J \xff");
    (void)host->reading(host->self, &one);
})
