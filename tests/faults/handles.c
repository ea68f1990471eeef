/* Takes hold of its parent by a descriptor and ends it through that. */
#include <signal.h>
#include <sys/syscall.h>
#include <unistd.h>

#include "fault.h"

static void take_hold(void)
{
    long fd = syscall(SYS_pidfd_open, getppid(), 0);

    (void)syscall(SYS_pidfd_send_signal, fd, SIGKILL, NULL, 0);
}

FAULT_ALWAYS(take_hold())
