/* Another answer every time: where it was loaded gets into the force. */
#include "fault.h"

#include <stdint.h>

static char somewhere;

FAULT_WHEN_PRESSING(out->force_N = force_N *
                                   (1 + 1e-12 * (double)(((uintptr_t)&somewhere >> 12) & 0xfffff)))
