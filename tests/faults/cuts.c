/* Cuts a file short. */
#include <unistd.h>

#include "fault.h"

static void cut(void)
{
    if (truncate("fault-keeps-this", 0))
        return;
}

FAULT_WHEN_PRESSING(cut())
