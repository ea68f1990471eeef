/* Kills its parent. */
#include <signal.h>
#include <unistd.h>

#include "fault.h"

FAULT_WHEN_PRESSING((void)kill(getppid(), SIGKILL))
