/* Fails when it presses while a setting is at the end of its range. */
#include "fault.h"

#include <stdlib.h>

static const platen_setting settings[] = { PLATEN_A_NUMBER("bore", "of no use", "m", 0.001, 1,
                                                           0.5) };

static int set_point(const platen_host *host, const platen_value *s, const platen_limits *limits,
                     double force_N, platen_set_point *out)
{
    (void)host;
    (void)limits;
    if (s[0].number == 1)
        abort();
    out->force_N = force_N;
    out->u_rig_N = 0.01 * force_N;
    return PLATEN_OK;
}

FAULT_PLUGIN(PLATEN_SETTINGS(settings), .set_point = set_point)
