/* Closes what it was given and the way out. */
#include <unistd.h>

#include "fault.h"

static void close_all(void)
{
    for (int fd = 0; fd < 8; fd++)
        close(fd);
}

FAULT_ALWAYS(close_all())
