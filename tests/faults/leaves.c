/* Ends the process from its constructor, as if all were well. */
#include <stdlib.h>

#include "fault.h"

__attribute__((constructor)) static void leave(void)
{
    exit(0);
}

FAULT_WHEN_PRESSING((void)0)
