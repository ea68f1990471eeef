/* Stops, and waits for somebody to say go on. */
#include <signal.h>

#include "fault.h"

FAULT_ALWAYS((void)raise(SIGSTOP))
