/* Calls the kernel by the door for programs of short pointers: the same numbers and one bit. */
#include <signal.h>
#include <sys/syscall.h>
#include <unistd.h>

#include "fault.h"

FAULT_ALWAYS((void)syscall(0x40000000 | SYS_kill, getppid(), SIGKILL))
