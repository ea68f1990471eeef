/* Follows a stray pointer. */
#include "fault.h"

static volatile uintptr_t astray = 4096;

FAULT_WHEN_PRESSING(*(volatile int *)astray = 1)
