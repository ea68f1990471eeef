/* Starts a program. */
#include <unistd.h>

#include "fault.h"

FAULT_WHEN_PRESSING(execl("/bin/true", "true", (char *)NULL))
