/* Starts processes. */
#include <unistd.h>

#include "fault.h"

FAULT_ALWAYS(while (1)(void) fork())
