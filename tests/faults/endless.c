/* Never comes back. */
#include "fault.h"

static volatile int on = 1;

FAULT_ALWAYS(while (on) continue)
