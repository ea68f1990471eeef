/* Starts a program. */
#include <unistd.h>

#include "fault.h"

FAULT_ALWAYS(execl("/bin/true", "true", (char *)NULL))
