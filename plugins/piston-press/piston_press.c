/* SPDX-License-Identifier: 0BSD
 * piston-press: a cylinder, air or oil, with a pressure gauge; presses and breaks.
 * Formulas and their sources: README.md beside this file. */
#include <math.h>
#include <stdio.h>

#include <platen/plugin.h>

enum { BORE, ROD, SIDE, MEDIUM, FRICTION, BREAKAWAY, SUPPLY, BOOSTER, BORE_WITHIN, PLATEN };
enum { PUSH, PULL };
enum { AIR, OIL };

static const char *const sides[] = { "push", "pull", NULL };
static const char *const media[] = { "air", "oil", NULL };

static const platen_setting settings[] = {
    [BORE] = { "bore", "inner diameter of the cylinder", "m", NULL, NULL, PLATEN_NUMBER,
               PLATEN_REQUIRED, 1e-3, 2, 0, 0, 0 },
    [ROD] = { "rod", "diameter of the rod; takes area away when pulling", "m", NULL, NULL,
              PLATEN_NUMBER, 0, 0, 2, 0, 0, 0 },
    [SIDE] = { "side", "which way it works on the joint", NULL, NULL, sides, PLATEN_CHOICE, 0, 0, 0,
               0, 0, PUSH },
    [MEDIUM] = { "medium", "what fills it", NULL, NULL, media, PLATEN_CHOICE, 0, 0, 0, 0, 0, AIR },
    [FRICTION] = { "friction", "share of pressure times area that the running seals take", "1",
                   NULL, NULL, PLATEN_NUMBER, 0, 0, 0.9, 0, 0, 0 },
    [BREAKAWAY] = { "breakaway", "pressure in the cylinder below which the piston does not move",
                    "Pa", NULL, NULL, PLATEN_NUMBER, 0, 0, 1e9, 0, 0, 0 },
    [SUPPLY] = { "supply", "highest gauge pressure that is there", "Pa", NULL, NULL, PLATEN_NUMBER,
                 0, 1, 1e9, 0, 0, 1e9 },
    [BOOSTER] = { "booster", "pressure in the cylinder over pressure on the gauge", "1", NULL, NULL,
                  PLATEN_NUMBER, 0, 0.01, 1000, 0, 0, 1 },
    [BORE_WITHIN] = { "bore_within", "limit of error of the bore", "m", NULL, NULL, PLATEN_NUMBER,
                      0, 0, 0.1, 0, 0, 1e-4 },
    [PLATEN] = { "platen", "mass that rests on the joint besides", "kg", NULL, NULL, PLATEN_NUMBER,
                 0, 0, 1e5, 0, 0, 0 },
};

static const double pi = 3.14159265358979323846, g = 9.80665;

/* N per Pa on the gauge, before friction. */
static double gain(const platen_value *s)
{
    double rod = s[SIDE].number == PULL ? s[ROD].number : 0;

    return s[BOOSTER].number * pi / 4 * (s[BORE].number * s[BORE].number - rod * rod);
}

static int back(const platen_host *host, const platen_value *s, double p, platen_force *out)
{
    double rod = s[SIDE].number == PULL ? s[ROD].number : 0, d = s[BORE].number, full = p * gain(s);
    double unknown = s[MEDIUM].number == OIL ? 0.10 : 0.25; /* friction if it is not stated */
    double u_friction = s[FRICTION].given ? full * s[FRICTION].number / 2 / sqrt(3)
                                          : full * unknown / sqrt(12);
    double u_area = full * 2 * d * s[BORE_WITHIN].number / (d * d - rod * rod) / sqrt(3);
    double u_seal = gain(s) * s[BREAKAWAY].number / s[BOOSTER].number / sqrt(12);

    if (p * s[BOOSTER].number <= s[BREAKAWAY].number) {
        snprintf(out->reason, sizeof out->reason, "at %s the piston does not move yet",
                 host->show(host->self, PLATEN_AS_DIAL, p));
        return PLATEN_ERANGE;
    }
    out->force_N = full * (1 - s[FRICTION].number) + s[PLATEN].number * g;
    out->u_rig_N = sqrt(u_friction * u_friction + u_area * u_area + u_seal * u_seal);
    return PLATEN_OK;
}

static double bore_for(const platen_value *s, double force_N, double p)
{
    double rod = s[SIDE].number == PULL ? s[ROD].number : 0;
    double area = force_N / (p * s[BOOSTER].number * (1 - s[FRICTION].number));

    return sqrt(4 * area / pi + rod * rod);
}

static int too_low(const platen_host *host, const platen_value *s, double force_N, double p,
                   platen_set_point *out)
{
    char seal[64];

    snprintf(seal, sizeof seal, "%s",
             host->show(host->self, PLATEN_AS_DIAL, s[BREAKAWAY].number / s[BOOSTER].number));
    snprintf(out->reason, sizeof out->reason, "needs %s; the seal lets the piston move above %s",
             host->show(host->self, PLATEN_AS_DIAL, p), seal);
    if (force_N > 0)
        snprintf(out->mend, sizeof out->mend, "dead weights, or a bore under %s",
                 host->show(host->self, BORE,
                            0.999 * bore_for(s, force_N, s[BREAKAWAY].number / s[BOOSTER].number)));
    return PLATEN_ERANGE;
}

static int too_high(const platen_host *host, const platen_value *s, double force_N, double p,
                    double most, const char *what, platen_set_point *out)
{
    char needs[64];

    snprintf(needs, sizeof needs, "%s", host->show(host->self, PLATEN_AS_DIAL, p));
    snprintf(out->reason, sizeof out->reason, "needs %s; %s %s", needs, what,
             host->show(host->self, PLATEN_AS_DIAL, most));
    snprintf(out->mend, sizeof out->mend, "a bore of at least %s%s%s",
             host->show(host->self, BORE, 1.001 * bore_for(s, force_N, most)),
             most == s[SUPPLY].number ? ", or a supply of " : "",
             most == s[SUPPLY].number ? needs : "");
    return PLATEN_ERANGE;
}

static int set_point(const platen_host *host, const platen_value *s, const platen_limits *limits,
                     double force_N, platen_set_point *out)
{
    double press_N = force_N - s[PLATEN].number * g;
    double p = press_N / (gain(s) * (1 - s[FRICTION].number));

    if (gain(s) <= 0) {
        snprintf(out->reason, sizeof out->reason, "its rod is as thick as its bore");
        return PLATEN_ERANGE;
    }
    if (press_N <= 0) {
        snprintf(out->reason, sizeof out->reason, "its platen alone weighs %s",
                 host->show(host->self, PLATEN_AS_FORCE, s[PLATEN].number * g));
        snprintf(out->mend, sizeof out->mend, "dead weights, or a lighter platen");
        return PLATEN_ERANGE;
    }
    if (p * s[BOOSTER].number <= s[BREAKAWAY].number)
        return too_low(host, s, press_N, p, out);
    if (p > s[SUPPLY].number && s[SUPPLY].number <= limits->most_dial)
        return too_high(host, s, press_N, p, s[SUPPLY].number, "the supply gives", out);
    if (p > limits->most_dial)
        return too_high(host, s, press_N, p, limits->most_dial, "gauge and rating go to", out);
    out->dial = p;
    return PLATEN_OK;
}

static const platen_plugin plugin = {
    PLATEN_HEAD(PLATEN_RIG),
    .name = "piston-press",
    .summary = "air or oil cylinder with a pressure gauge, pressing or breaking",
    PLATEN_SETTINGS(settings),
    .dial = "Pa",
    .set_point = set_point,
    .back = back,
};

PLATEN_EXPORT const platen_plugin *platen_plugin_entry(void)
{
    return &plugin;
}
