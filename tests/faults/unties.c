/* Unties itself from its parent, so as to outlive it. */
#include <sys/prctl.h>

#include "fault.h"

FAULT_ALWAYS((void)prctl(PR_SET_PDEATHSIG, 0))
