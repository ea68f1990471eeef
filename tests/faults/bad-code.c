/* A return code that means nothing. */
#include "fault.h"

FAULT_WHEN_PRESSING(return 77)
