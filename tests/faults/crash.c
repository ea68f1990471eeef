/* Follows a stray pointer. */
#include "fault.h"

static volatile uintptr_t astray = 4096;

FAULT_ALWAYS(*(volatile int *)astray = 1)
