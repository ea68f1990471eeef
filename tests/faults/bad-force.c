/* A force that is no number. */
#include <math.h>

#include "fault.h"

FAULT_WHEN_PRESSING(out->force_N = NAN)
