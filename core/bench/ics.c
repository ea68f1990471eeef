/* The calendar as an iCalendar file: RFC 5545, times in UTC, so that no phone has
 * to know the shop's zone. */
#include <inttypes.h>
#include <math.h>
#include <string.h>
#include <time.h>

#include "base/file.h"
#include "base/text.h"
#include "bench/calendar.h"

#define LINE_MOST 75 /* octets: RFC 5545, 3.1 */

/* A content line, folded before its 76th octet and never within a sign of UTF-8. */
static void put_line(pl_text *t, const char *line)
{
    size_t used = 0;

    for (size_t n; line && *line; line += n) {
        for (n = 1; ((unsigned char)line[n] & 0xc0) == 0x80; n++)
            ;
        if (used + n > LINE_MOST) {
            pl_text_put(t, "\r\n ");
            used = 1;
        }
        pl_text_bytes(t, line, n);
        used += n;
    }
    pl_text_put(t, line ? "\r\n" : NULL);
}

/* NAME:text with what RFC 5545, 3.3.11 wants escaped. */
static void put_text(pl_text *t, const char *name, const char *text)
{
    pl_text line;

    pl_text_init(&line, t->arena);
    pl_text_add(&line, "%s:", name);
    for (; text && *text; text++)
        if (*text == '\n')
            pl_text_put(&line, "\\n");
        else if (strchr("\\;,", *text))
            pl_text_add(&line, "\\%c", *text);
        else
            pl_text_bytes(&line, text, 1);
    put_line(t, pl_text_done(&line));
}

static void put_time(pl_text *t, const char *name, double at)
{
    time_t s = (time_t)llround(at);
    struct tm tm;
    char text[40];

    gmtime_r(&s, &tm);
    strftime(text, sizeof text, "%Y%m%dT%H%M%SZ", &tm);
    put_line(t, pl_arena_printf(t->arena, "%s:%s", name, text));
}

/* The same for every calendar of a plan drawn from one seed, unlike any other. */
static const char *uid(pl_arena *a, const pl_study *s, const pl_plan *p, const pl_task *task)
{
    const char *name = pl_arena_printf(a, "%s\n%" PRIu64 "\n%s", s->name, p->seed, task->id);
    const char *hex = name ? pl_digest(a, name, strlen(name)) : NULL;

    return hex ? pl_arena_printf(a, "UID:%.32s@platen", hex) : NULL;
}

static void put_event(pl_text *t, const pl_study *s, const pl_plan *p, const pl_task *task,
                      long long sequence, double stamp)
{
    const char *summary = pl_arena_printf(t->arena, "%s: %s", s->name, task->words);

    put_line(t, "BEGIN:VEVENT");
    put_line(t, uid(t->arena, s, p, task));
    put_line(t, pl_arena_printf(t->arena, "SEQUENCE:%lld", sequence));
    put_time(t, "DTSTAMP", stamp);
    put_time(t, "DTSTART", task->from);
    put_time(t, "DTEND", fmax(task->to, task->from + 60));
    put_text(t, "SUMMARY", summary);
    put_text(t, "DESCRIPTION",
             pl_arena_printf(t->arena, "Study %s, revision %u.%s%s", s->name, p->revision,
                             s->title[0] ? " " : "", s->title));
    if (!task->done) {
        put_line(t, "BEGIN:VALARM");
        put_line(t, "ACTION:DISPLAY");
        put_line(t, task->kind == PL_TASK_OPEN ? "TRIGGER:PT0S" : "TRIGGER:-PT15M");
        put_text(t, "DESCRIPTION", summary);
        put_line(t, "END:VALARM");
    }
    put_line(t, "END:VEVENT");
}

char *pl_calendar_ics(pl_arena *a, const pl_study *s, const pl_plan *p, const pl_calendar *c,
                      long long sequence, double stamp)
{
    pl_text t;

    pl_text_init(&t, a);
    put_line(&t, "BEGIN:VCALENDAR");
    put_line(&t, "VERSION:2.0");
    put_line(&t, "PRODID:-//platen//" PL_VERSION "//EN");
    put_line(&t, "CALSCALE:GREGORIAN");
    for (size_t i = 0; i < c->ntask; i++)
        put_event(&t, s, p, &c->tasks[i], sequence, stamp);
    put_line(&t, "END:VCALENDAR");
    return pl_text_done(&t);
}
