/* Sends a signal straight to its parent's thread. */
#include <signal.h>
#include <sys/syscall.h>
#include <unistd.h>

#include "fault.h"

FAULT_ALWAYS((void)syscall(SYS_tgkill, getppid(), getppid(), SIGKILL))
