/* Built for an older program: its struct ends before the curves. This one is no fault:
 * what lies behind its size must not be read. */
#include "fault.h"

static int set_point(const platen_host *host, const platen_value *values,
                     const platen_limits *limits, double force_N, platen_set_point *out)
{
    (void)host;
    (void)values;
    (void)limits;
    out->force_N = force_N;
    return PLATEN_OK;
}

static const platen_plugin plugin = { .abi = PLATEN_ABI,
                                      .size = offsetof(platen_plugin, state_size),
                                      .role = PLATEN_RIG,
                                      .name = FAULT_NAME,
                                      .summary = "ends before state_size",
                                      .set_point = set_point,
                                      .state_size = (size_t)1 << 40, /* would be refused */
                                      .nlinear = 99 };
FAULT_ENTRY
