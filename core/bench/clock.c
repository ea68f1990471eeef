/* Times as a bench writes them, in ISO 8601 and a little looser. */
#include "bench/columns.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

/* low..high in exactly `least` to `most` digits; moves *s on. */
static bool digits(const char **s, int least, int most, int low, int high, int *out)
{
    int n = 0, x = 0;

    while (n < most && (*s)[n] >= '0' && (*s)[n] <= '9')
        x = 10 * x + (*s)[n++] - '0';
    if (n < least || x < low || x > high)
        return false;
    *s += n;
    *out = x;
    return true;
}

static bool sign(const char **s, char c)
{
    if (**s != c)
        return false;
    ++*s;
    return true;
}

static int month_days(int year, int month)
{
    static const int days[] = { 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31 };
    bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;

    return days[month - 1] + (month == 2 && leap);
}

static bool read_date(const char **s, pl_clock *c)
{
    c->has_date = true;
    return digits(s, 4, 4, 1970, 2999, &c->year) && sign(s, '-') &&
           digits(s, 2, 2, 1, 12, &c->month) && sign(s, '-') &&
           digits(s, 2, 2, 1, month_days(c->year, c->month), &c->day);
}

static bool read_time(const char **s, pl_clock *c)
{
    c->has_time = true;
    if (!digits(s, 1, 2, 0, 23, &c->hour) || !sign(s, ':') || !digits(s, 2, 2, 0, 59, &c->minute))
        return false;
    return !sign(s, ':') || digits(s, 2, 2, 0, 59, &c->second);
}

static bool read_offset(const char **s, pl_clock *c)
{
    int hours, minutes, way = **s == '-' ? -1 : 1;

    c->has_offset = true;
    if (sign(s, 'Z'))
        return true;
    ++*s;
    if (!digits(s, 2, 2, 0, 15, &hours))
        return false;
    sign(s, ':');
    if (!digits(s, 2, 2, 0, 59, &minutes))
        return false;
    c->offset_s = way * (3600 * hours + 60 * minutes);
    return true;
}

bool pl_clock_read(const char *text, pl_clock *out)
{
    pl_clock c = { 0 };
    const char *s = text;

    if (strlen(text) >= 5 && text[4] == '-') {
        if (!read_date(&s, &c))
            return false;
        if (*s == 'T' || *s == ' ') {
            s++;
            if (!read_time(&s, &c))
                return false;
            if ((*s == 'Z' || *s == '+' || *s == '-') && !read_offset(&s, &c))
                return false;
        }
    } else if (!read_time(&s, &c)) {
        return false;
    }
    if (*s)
        return false;
    *out = c;
    return true;
}

static void show_offset(long offset_s, char offset[8])
{
    long minutes = (offset_s < 0 ? -offset_s : offset_s) / 60;

    /* within a day either way: two digits each */
    snprintf(offset, 8, "%c%02d:%02d", offset_s < 0 ? '-' : '+', (int)(minutes / 60 % 24),
             (int)(minutes % 60));
}

bool pl_clock_utc(const pl_clock *c, int days, double *seconds, char offset[8])
{
    struct tm tm = { .tm_year = c->year - 1900,
                     .tm_mon = c->month - 1,
                     .tm_mday = c->day + days,
                     .tm_hour = c->hour,
                     .tm_min = c->minute,
                     .tm_sec = c->second,
                     .tm_isdst = -1 };
    time_t t;

    if (!c->has_date)
        return false;
    if (c->has_offset) {
        *seconds = (double)timegm(&tm) - c->offset_s;
        show_offset(c->offset_s, offset);
        return true;
    }
    t = mktime(&tm);
    /* mktime mends a time that the clocks jumped over; we do not. */
    if (t == (time_t)-1 || tm.tm_hour != c->hour || tm.tm_min != c->minute)
        return false;
    *seconds = (double)t;
    show_offset(tm.tm_gmtoff, offset);
    return true;
}
