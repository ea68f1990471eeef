/* More parts than there is room for. */
#include "fault.h"

FAULT_WHEN_PRESSING(out->nparts = 4000000000u)
