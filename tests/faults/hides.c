/* Makes a file that has no name, to run it. */
#include <sys/mman.h>
#include <unistd.h>

#include "fault.h"

static void run_hidden(void)
{
    static char *const none[] = { NULL };
    int fd = memfd_create("hidden", 0);

    (void)fexecve(fd, none, none);
}

FAULT_ALWAYS(run_hidden())
