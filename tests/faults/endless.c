/* Never comes back. */
#include "fault.h"

static volatile int on = 1;

FAULT_WHEN_PRESSING(while (on) continue)
