/* Turns one of its descriptors into another. */
#include <unistd.h>

#include "fault.h"

FAULT_ALWAYS((void)dup2(4, 1))
