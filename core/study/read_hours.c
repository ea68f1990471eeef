/* When somebody is at the bench: working hours by day, days off, the time zone. */
#include <stdio.h>
#include <string.h>

#include "base/file.h"
#include "study/build.h"

/* Where the zones lie: tzset(3) reads them there unless TZDIR says otherwise. */
#define ZONES "/usr/share/zoneinfo/"

static const char *const days[] = { "mon", "tue", "wed", "thu", "fri", "sat", "sun" };

static int day_of(const char *text, size_t n)
{
    for (int i = 0; i < 7; i++)
        if (n == 3 && !strncmp(text, days[i], 3))
            return i;
    return -1;
}

/* "mon" or "mon-fri" */
static bool read_days(const char *key, int *first, int *last)
{
    const char *dash = strchr(key, '-');

    *first = day_of(key, dash ? (size_t)(dash - key) : strlen(key));
    *last = dash ? day_of(dash + 1, strlen(dash + 1)) : *first;
    return *first >= 0 && *last >= *first;
}

/* "08:00-17:00" */
static bool read_hours(const char *text, int *from_min, int *to_min)
{
    int h1, m1, h2, m2, end = -1;

    if (sscanf(text, "%2d:%2d-%2d:%2d%n", &h1, &m1, &h2, &m2, &end) != 4 || text[end])
        return false;
    *from_min = 60 * h1 + m1;
    *to_min = 60 * h2 + m2;
    return h1 >= 0 && m1 >= 0 && m1 < 60 && m2 >= 0 && m2 < 60 && *from_min < *to_min &&
           *to_min <= 24 * 60;
}

static bool is_date(const char *text)
{
    static const int lengths[] = { 31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31 };
    int y, m, d, end = -1;

    return strlen(text) == 10 && sscanf(text, "%4d-%2d-%2d%n", &y, &m, &d, &end) == 3 &&
           end == 10 && text[4] == '-' && text[5] != ' ' && text[8] != ' ' && y >= 1970 && m >= 1 &&
           m <= 12 && d >= 1 && d <= lengths[m - 1];
}

static void read_off(pl_build *b, const pl_json *v)
{
    const char **off;
    size_t n = 0;

    if (v->kind != PL_JSON_ARRAY || v->count > PL_DAYS_OFF_MOST) {
        pl_fill_fail(&b->f, PL_EVALUE, v, NULL, "a list of at most 400 days", "");
        return;
    }
    off = pl_build_new(b, v->count, sizeof *off);
    for (const pl_json *one = off ? v->child : NULL; one; one = one->next)
        if (one->kind == PL_JSON_STRING && is_date(one->string))
            off[n++] = one->string;
        else
            pl_fill_fail(&b->f, PL_EVALUE, one, NULL, "a day: \"2027-05-01\"", "");
    b->s->times.work.off = off;
    b->s->times.work.noff = n;
}

static void read_day(pl_build *b, const pl_json *v)
{
    pl_work_hours *w = &b->s->times.work;
    int first, last, from, to;

    if (!read_days(v->key, &first, &last))
        pl_fill_fail(&b->f, PL_EKEY, v, pl_fill_printf(&b->f, "\"%.60s\"", v->key),
                     "a day or a row of days, or off",
                     "\"mon-fri\", \"sat\"; a week begins on Monday");
    else if (v->kind != PL_JSON_STRING || !read_hours(v->string, &from, &to))
        pl_fill_fail(&b->f, PL_EVALUE, v, NULL, "hours, in rising order: \"08:00-17:00\"", "");
    else
        for (int i = first; i <= last; i++) {
            w->from_min[i] = from;
            w->to_min[i] = to;
            w->given = true;
        }
}

/* Europe/Vienna and the like: a file below the zones' folder, and no way out of it. */
static void check_zone(pl_build *b)
{
    const char *zone = b->s->times.zone;
    bool fine = zone && zone[0] != '/' && !strstr(zone, "..") &&
                strspn(zone,
                       "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789_+-/") ==
                    strlen(zone);

    if (zone && (!fine || !pl_file_exists(pl_fill_printf(&b->f, ZONES "%s", zone))))
        pl_fill_fail(&b->f, PL_EVALUE, pl_build_at(b, "times", "zone"), NULL,
                     "a time zone's name: \"Europe/Vienna\"",
                     "see /usr/share/zoneinfo, or leave it out");
}

void pl_build_hours(pl_build *b)
{
    const pl_json *v = pl_build_at(b, "times", "work");
    pl_work_hours *w = &b->s->times.work;

    check_zone(b);
    for (const pl_json *one = v && v->kind == PL_JSON_OBJECT ? v->child : NULL; one;
         one = one->next)
        if (!strcmp(one->key, "off"))
            read_off(b, one);
        else if (strcmp(one->key, "note"))
            read_day(b, one);
    for (int i = 0; i < 5 && !w->given; i++) {
        w->from_min[i] = 8 * 60;
        w->to_min[i] = 17 * 60;
    }
    if (b->s->times.cure_at_most_s < b->s->times.cure_at_least_s)
        pl_fill_fail(&b->f, PL_ECONFLICT, pl_json_get(pl_build_at(b, "times", "cure"), "at_most"),
                     NULL, "at least as long as at_least", "");
}
