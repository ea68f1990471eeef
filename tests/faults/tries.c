/* Stands the battery, unless its rig file asks it to do one thing wrong. */
#include "fault.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>

enum { DOES };
enum {
    WELL,
    MUTE,
    MUTE_AT_END,
    NEVER,
    BOUNDLESS,
    DIPS,
    MOODY,
    REMEMBERS,
    ONE_WAY,
    BACK_FALLS,
    BACK_MOODY
};
static const char *const does[] = { "well",      "mute",       "mute-at-end", "never",
                                    "boundless", "dips",       "moody",       "remembers",
                                    "one-way",   "back-falls", "back-moody",  NULL };
static const platen_setting settings[] = { { "does", "what", NULL, NULL, does, PLATEN_CHOICE, 0, 0,
                                             0, 0, 0, WELL } };

#define LEAST 10.0
#define MOST 100.0
#define AREA 1e-3

static char somewhere;

/* Where it was loaded, as a share of a millionth. */
static double mood(void)
{
    return 1 + 1e-12 * (double)(((uintptr_t)&somewhere >> 12) & 0xfffff);
}

static int set_point(const platen_host *host, const platen_value *s, const platen_limits *limits,
                     double force_N, platen_set_point *out)
{
    static double last;
    int wrong = (int)s[DOES].number;
    double most = wrong == BOUNDLESS ? HUGE_VAL : MOST;

    (void)host;
    (void)limits;
    if (force_N < LEAST || force_N > most || wrong == NEVER) {
        if (wrong != MUTE && !(wrong == MUTE_AT_END && force_N < 1.05 * MOST))
            snprintf(out->reason, sizeof out->reason, "10 to 100 N");
        return PLATEN_ERANGE;
    }
    out->dial = force_N / AREA;
    if (wrong == DIPS && force_N > 20.2 && force_N < 20.8)
        out->dial /= 1.04;
    if (wrong == MOODY)
        out->dial *= mood();
    if (wrong == REMEMBERS)
        out->dial *= force_N > last ? 1 : 1 + 1e-12;
    last = force_N;
    return PLATEN_OK;
}

static int back(const platen_host *host, const platen_value *s, double dial, platen_force *out)
{
    int wrong = (int)s[DOES].number;

    (void)host;
    out->force_N = dial * AREA;
    out->u_rig_N = 0.01 * out->force_N;
    if (wrong == ONE_WAY)
        out->force_N *= 1.001;
    if (wrong == BACK_FALLS && dial > 2 * MOST / AREA)
        out->force_N /= 2;
    if (wrong == BACK_MOODY)
        out->force_N *= mood();
    return PLATEN_OK;
}

FAULT_PLUGIN(PLATEN_SETTINGS(settings), .dial = "Pa", .set_point = set_point, .back = back)
