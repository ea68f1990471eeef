/* Gives up loudly. */
#include <stdlib.h>

#include "fault.h"

FAULT_ALWAYS(abort())
