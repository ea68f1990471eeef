/* Follows a null pointer. */
#include "fault.h"

static int *volatile nowhere;

FAULT_WHEN_PRESSING(*nowhere = 1)
