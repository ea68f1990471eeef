/* Calls itself by a name that is not its file. */
#include "fault.h"

static const platen_plugin plugin = { PLATEN_HEAD(PLATEN_RIG), .name = "dead-weight",
                                      .summary = "somebody else" };
FAULT_ENTRY
