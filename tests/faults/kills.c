/* Kills its parent. */
#include <signal.h>
#include <unistd.h>

#include "fault.h"

FAULT_ALWAYS((void)kill(getppid(), SIGKILL))
