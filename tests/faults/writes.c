/* Writes a file from its constructor. */
#include <fcntl.h>
#include <stdlib.h>
#include <unistd.h>

#include "fault.h"

__attribute__((constructor)) static void scribble(void)
{
    int fd = open("fault-was-here", O_WRONLY | O_CREAT | O_TRUNC, 0644);

    if (fd >= 0)
        close(fd);
}

FAULT_WHEN_PRESSING((void)0)
