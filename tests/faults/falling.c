/* More force for less. */
#include "fault.h"

FAULT_WHEN_PRESSING(out->force_N = force_N > 100.5 ? 100 : 101)
