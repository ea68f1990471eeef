/* Lacks several more things at once: names that are not its own, bits that mean nothing. */
#include "fault.h"

static const char *const also[] = { "FORCE", NULL };
static const platen_setting settings[] = {
    PLATEN_A_NUMBER("rod", "a rod", "m", 0, 1, 0.5),
    PLATEN_A_NUMBER("rod", "a rod again", "m", 0, 1, 0.5),
    { "loud", "a flag", NULL, NULL, NULL, PLATEN_FLAG, 0, 0, 0, 0, 0, 2 },
    { "bore", "a bore", "m", NULL, NULL, PLATEN_NUMBER, 64, 0, 1, 0, 0, 0 },
};
static const platen_column columns[] = { { "force", NULL, "N", "", 0, 0 },
                                         { "load", also, "N", "", 0, 0 },
                                         { "time", NULL, "s", "", 0, 1 } };

static int rows(const platen_host *host, const platen_value *s, void *state, const platen_rows *r)
{
    (void)host;
    (void)s;
    (void)state;
    (void)r;
    return PLATEN_OK;
}

FAULT_PLUGIN(PLATEN_SETTINGS(settings), PLATEN_COLUMNS(columns), .rows = rows)
