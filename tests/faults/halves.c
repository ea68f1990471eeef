/* Whole numbers only, from a half up: nobody can write its least. */
#include "fault.h"

static const platen_setting settings[] = { { "screws", "how many screws", "1", NULL, NULL,
                                             PLATEN_NUMBER, PLATEN_WHOLE, 0.5, 8, 0, 0, 2 } };

static int set_point(const platen_host *host, const platen_value *s, const platen_limits *limits,
                     double force_N, platen_set_point *out)
{
    (void)host;
    (void)s;
    (void)limits;
    out->force_N = force_N;
    out->u_rig_N = 0.01 * force_N;
    return PLATEN_OK;
}

FAULT_PLUGIN(PLATEN_SETTINGS(settings), .set_point = set_point)
