/* Opens its own memory for writing. */
#include <fcntl.h>

#include "fault.h"

FAULT_ALWAYS((void)open("/proc/self/mem", O_RDWR))
