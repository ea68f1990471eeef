/* Settings of another size than the header says. */
#include "fault.h"

static const struct {
    platen_setting known;
    int more;
} settings[2];

FAULT_PLUGIN(.settings = &settings[0].known, .nsettings = 2, .setting_size = sizeof settings[0])
