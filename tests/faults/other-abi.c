/* Built for another abi. */
#include "fault.h"

static const platen_plugin plugin = { .abi = 7, .size = sizeof plugin, .role = PLATEN_RIG };
FAULT_ENTRY
