/* The calendar of a loaded study, from what its book knows. */
#ifndef PL_CLI_CALENDAR_H
#define PL_CLI_CALENDAR_H

#include "bench/calendar.h"
#include "cli/load.h"

/* "2027-03-03 14:05" in the zone that is set, as seconds since 1970 UTC; text NULL:
 * now. PL_EUSAGE names the option. */
pl_code pl_take_time(pl_run *run, const char *option, const char *text, double *out);

/* The study's calendar as its book has it; the zone is pl_load's. */
pl_code pl_calendar_of(pl_run *run, const pl_loaded *l, double now, pl_calendar *out);

/* A number that rises from second to second, fit for SEQUENCE. */
long long pl_calendar_sequence(double now);

#endif
