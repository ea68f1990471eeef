/* A study's calendar from the book: its readings, what was lost, its time zone. */
#include "cli/calendar.h"

#include <math.h>
#include <string.h>
#include <time.h>

#include "bench/columns.h"

#define SEQUENCE_FROM 1735689600LL /* 2025-01-01: leaves room in 31 bits to 2093 */

pl_code pl_take_time(pl_run *run, const char *option, const char *text, double *out)
{
    char offset[8];
    pl_clock clock;

    if (!text) {
        *out = (double)time(NULL);
        return PL_OK;
    }
    if (pl_clock_read(text, &clock) && pl_clock_utc(&clock, 0, out, offset))
        return PL_OK;
    return pl_usage(run, option, pl_arena_printf(run->arena, "\"%s\"", text),
                    "a day and a time: \"2027-03-03 14:05\"", "");
}

long long pl_calendar_sequence(double now)
{
    return (long long)fmax(now - (double)SEQUENCE_FROM, 0);
}

/* Lost, and not put back since. */
static bool *gone_of(pl_run *run, const pl_plan *p, const pl_marking *marks, size_t n)
{
    bool *gone = PL_NEWN(run->arena, p->nspecimen, bool);

    for (size_t i = 0; gone && i < n; i++) {
        const pl_specimen *s = pl_plan_find(p, marks[i].specimen);

        if (s && (marks[i].kind == PL_MARK_LOST || marks[i].kind == PL_MARK_RESTORED))
            gone[s - p->specimens] = marks[i].kind == PL_MARK_LOST;
    }
    return gone;
}

pl_code pl_calendar_of(pl_run *run, const pl_loaded *l, double now, pl_calendar *out)
{
    pl_readings readings = { 0 };
    const pl_marking *marks = NULL;
    size_t n = 0;
    pl_calendar_spec spec = { .study = l->frozen, .plan = l->plan, .now = now };
    pl_code rc = pl_book_record(run->arena, l->book, l->frozen->name, &readings, &marks, &n,
                                &run->diags);

    if (rc)
        return rc;
    spec.readings = &readings;
    spec.gone = gone_of(run, l->plan, marks, n);
    if (!spec.gone)
        return pl_nomem(&run->diags);
    return pl_calendar_make(run->arena, &spec, out, &run->diags);
}
