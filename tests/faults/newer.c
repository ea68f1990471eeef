/* Built for a newer program: its struct is larger. */
#include "fault.h"

static const struct {
    platen_plugin known;
    void *unknown;
} larger = { { .abi = PLATEN_ABI, .size = sizeof larger, .role = PLATEN_RIG, .name = FAULT_NAME },
             0 };

PLATEN_EXPORT const platen_plugin *platen_plugin_entry(void)
{
    return &larger.known;
}
