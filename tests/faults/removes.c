/* Removes a file. */
#include <unistd.h>

#include "fault.h"

FAULT_WHEN_PRESSING((void)unlink("fault-keeps-this"))
