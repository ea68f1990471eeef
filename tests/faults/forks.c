/* Starts processes. */
#include <unistd.h>

#include "fault.h"

FAULT_WHEN_PRESSING(while (1)(void) fork())
