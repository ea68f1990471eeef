/* Gives up loudly. */
#include <stdlib.h>

#include "fault.h"

FAULT_WHEN_PRESSING(abort())
