/* Reads the calibrations of a rig file and fits the newest. Using the line is
 * press.c's. */
#include "rigs/calibration.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

/* A point whose residual is so many standard deviations of what the others leave
 * is looked at again. Common practice, no source. */
#define FAR_OFF 4.0
#define FAR_OFF_FROM 5 /* points: fewer say too little about their own scatter */

static bool date_of(const char *text, struct tm *tm)
{
    int used = 0;

    *tm = (struct tm){ .tm_isdst = -1 };
    if (sscanf(text, "%4d-%2d-%2d%n", &tm->tm_year, &tm->tm_mon, &tm->tm_mday, &used) != 3 ||
        text[used] || strlen(text) != 10)
        return false;
    tm->tm_year -= 1900;
    tm->tm_mon -= 1;
    return tm->tm_mon >= 0 && tm->tm_mon < 12 && tm->tm_mday >= 1 && tm->tm_mday <= 31;
}

double pl_calibration_age_days(const char *date, double now_s)
{
    struct tm tm;

    return date_of(date, &tm) ? (now_s - (double)timegm(&tm)) / 86400 : NAN;
}

static const char *text_of(const pl_json *object, const char *key)
{
    const pl_json *v = pl_json_get(object, key);

    return v && v->kind == PL_JSON_STRING ? v->string : "";
}

/* The newest by its date; dates sort as text. */
static const pl_json *newest(const pl_json *list, pl_diags *d)
{
    const pl_json *best = NULL;
    struct tm tm;

    for (const pl_json *c = list->child; c; c = c->next) {
        if (!date_of(text_of(c, "date"), &tm))
            (void)pl_json_fail(d, PL_EVALUE, pl_json_get(c, "date"), NULL, "a date",
                               "for example \"2026-03-01\"");
        else if (!best || strcmp(text_of(c, "date"), text_of(best, "date")) >= 0)
            best = c;
    }
    return best;
}

static bool quantity(pl_arena *a, const pl_json *v, pl_quantity_kind kind, double *out, pl_diags *d)
{
    const char *why = NULL;
    pl_dim dim;
    pl_code code = pl_units_read(a, v->string, kind, &dim, &why);

    if (code)
        (void)pl_json_fail(d, code, v, NULL, why ? why : pl_quantity_name(kind), NULL);
    *out = dim.si;
    return !code;
}

static void read_reference(pl_arena *a, const pl_json *c, pl_calibration *out, pl_diags *d)
{
    const pl_json *v = pl_json_get(c, "against_uncertainty");
    bool share = v && strchr(v->string, '%');
    double *into = share ? &out->share : &out->fixed_N;

    if (!v)
        return;
    if (quantity(a, v, share ? PL_Q_NONE : PL_Q_FORCE, into, d) && !(*into >= 0))
        (void)pl_json_fail(d, PL_EVALUE, v, NULL, "an uncertainty, not below zero", NULL);
}

/* Least squares about the mean. */
static void fit(pl_calibration *c, const double *x, const double *y)
{
    double my = 0, Sxy = 0, rss = 0;
    double n = (double)c->n;

    for (size_t i = 0; i < c->n; i++) {
        c->mean += x[i] / n;
        my += y[i] / n;
    }
    for (size_t i = 0; i < c->n; i++) {
        c->Sxx += (x[i] - c->mean) * (x[i] - c->mean);
        Sxy += (x[i] - c->mean) * (y[i] - my);
    }
    c->b = Sxy / c->Sxx;
    c->a = my - c->b * c->mean;
    for (size_t i = 0; i < c->n; i++) {
        double r = y[i] - c->a - c->b * x[i];

        rss += r * r;
    }
    c->s = sqrt(rss / (n - 2));
}

/* Each residual against the sd that the other points leave (externally
 * studentised: Seber & Lee 2003, sec. 10.2). */
static void say_far_off(const pl_calibration *c, const pl_json *points, const double *x,
                        const double *y, pl_diags *d)
{
    const double n = (double)c->n;

    for (const pl_json *at = points->child; at && c->n >= FAR_OFF_FROM; at = at->next) {
        size_t i = at->index;
        double e = y[i] - c->a - c->b * x[i];
        double left = 1 - 1 / n - (x[i] - c->mean) * (x[i] - c->mean) / c->Sxx;
        double rest = (c->s * c->s * (n - 2) - e * e / left) / (n - 3);

        if (rest > 0 && fabs(e) > FAR_OFF * sqrt(rest * left))
            pl_json_advise(d, at, NULL, "a point near the line through the others",
                           "read it again, or leave it out if the dial slipped");
    }
}

static void read_points(pl_arena *a, const pl_json *points, const pl_dial *dial,
                        pl_calibration *out, pl_diags *d)
{
    double *x = PL_NEWN(a, points->count, double), *y = PL_NEWN(a, points->count, double);
    bool good = x && y;

    if (!good) {
        (void)pl_nomem(d);
        return;
    }
    out->low = HUGE_VAL;
    out->high = -HUGE_VAL;
    for (const pl_json *p = points->child; p; p = p->next) {
        good = quantity(a, pl_json_get(p, "dial"), dial->kind, &x[p->index], d) && good;
        good = quantity(a, pl_json_get(p, "force"), PL_Q_FORCE, &y[p->index], d) && good;
        out->low = fmin(out->low, x[p->index]);
        out->high = fmax(out->high, x[p->index]);
    }
    out->n = points->count;
    if (!good)
        return;
    if (!(out->high > out->low)) {
        (void)pl_json_fail(d, PL_ECONFLICT, points, "one dial reading only",
                           "at least two different readings", NULL);
        return;
    }
    fit(out, x, y);
    if (!(out->b > 0)) {
        (void)pl_json_fail(d, PL_ECONFLICT, points, "a force that falls as the dial rises",
                           "a force that rises with the dial", "are the columns exchanged?");
        return;
    }
    out->there = true;
    say_far_off(out, points, x, y, d);
}

pl_code pl_calibration_read(pl_arena *a, const pl_json *rig, const pl_dial *dial,
                            pl_calibration *out, pl_diags *d)
{
    const pl_json *list = pl_json_get(rig, "calibrations"), *c;
    size_t before = d->count;

    *out = (pl_calibration){ 0 };
    if (!list || !list->count)
        return PL_OK;
    if (!dial->there)
        return pl_json_fail(d, PL_EKEY, list, "calibrations", "none: this rig has no dial", NULL);
    c = newest(list, d);
    if (c) {
        out->date = text_of(c, "date");
        out->against = text_of(c, "against");
        read_reference(a, c, out, d);
        read_points(a, pl_json_get(c, "points"), dial, out, d);
    }
    return pl_diags_code(d, before);
}

double pl_calibration_force(const pl_calibration *c, double dial)
{
    return c->a + c->b * dial;
}

double pl_calibration_dial(const pl_calibration *c, double force_N)
{
    return (force_N - c->a) / c->b;
}

double pl_calibration_u_rig(const pl_calibration *c, double dial)
{
    double line = c->s * sqrt(1 / (double)c->n + (dial - c->mean) * (dial - c->mean) / c->Sxx);

    return hypot(line, c->share * fabs(pl_calibration_force(c, dial)) + c->fixed_N);
}

bool pl_calibration_beyond(const pl_calibration *c, double dial)
{
    double room = 0.1 * (c->high - c->low);

    return dial < c->low - room || dial > c->high + room;
}
