/* Fails when it reads a record while a setting is at the end of its range. */
#include "fault.h"

#include <stdlib.h>

static const platen_setting settings[] = { PLATEN_A_NUMBER("bore", "of no use", "m", 0.001, 1,
                                                           0.5) };

FAULT_COLUMNS

static int rows(const platen_host *host, const platen_value *s, void *state, const platen_rows *r)
{
    (void)state;
    if (s[0].number == 0.001)
        abort();
    return host->trace(host->self, NULL, r->numbers[0], r->numbers[1], r->n, 0) ? PLATEN_ESTOP
                                                                                : PLATEN_OK;
}

FAULT_PLUGIN(PLATEN_SETTINGS(settings), PLATEN_COLUMNS(columns), .rows = rows)
