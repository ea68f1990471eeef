/* Lacks several things at once. */
#include "fault.h"

static const platen_setting settings[] = {
    { "Bore", "", "m", NULL, NULL, PLATEN_NUMBER, 0, 0, 1, 0, 0, 0 },
    { "rod", "a rod", "mm", NULL, NULL, PLATEN_NUMBER, 0, 1, 1, 0, 0, 5 },
};
static const platen_plugin plugin = { PLATEN_HEAD(PLATEN_RIG), .name = FAULT_NAME,
                                      PLATEN_SETTINGS(settings), .dial = "parsec" };
FAULT_ENTRY
