/* Has the kernel do what it may not do itself. */
#include <sys/syscall.h>
#include <unistd.h>

#include "fault.h"

static void set_up(void)
{
    static char params[256];

    (void)syscall(SYS_io_uring_setup, 4, params);
}

FAULT_ALWAYS(set_up())
