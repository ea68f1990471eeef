/* SPDX-License-Identifier: 0BSD
 * screw-press: a screw clamp or screw press tightened with a torque wrench.
 * Formulas and their sources: README.md beside this file. */
#include <math.h>
#include <stdio.h>

#include <platen/plugin.h>

enum { THREAD, SCREWS, NUT_FACTOR, NUT_FACTOR_WITHIN, SCATTER, PLATEN };

static const platen_setting settings[] = {
    [THREAD] = { "thread", "nominal diameter of the thread", "m", NULL, NULL, PLATEN_NUMBER,
                 PLATEN_REQUIRED, 1e-3, 0.5, 0, 0, 0 },
    [SCREWS] = { "screws", "screws tightened alike on one joint", "1", NULL, NULL, PLATEN_NUMBER,
                 PLATEN_WHOLE, 1, 100, 0, 0, 1 },
    [NUT_FACTOR] = { "nut_factor", "mean torque over thread times force, as found on this screw",
                     "1", NULL, NULL, PLATEN_NUMBER, 0, 0.01, 2, 0, 0, 0.20 },
    [NUT_FACTOR_WITHIN] = { "nut_factor_within", "limit of error of that mean, a share of it", "1",
                            NULL, NULL, PLATEN_NUMBER, 0, 0, 1, 0, 0, 0.10 },
    [SCATTER] = { "scatter", "limit of error from one tightening to the next, a share", "1", NULL,
                  NULL, PLATEN_NUMBER, 0, 0, 1, 0, 0, 0.30 },
    PLATEN_A_NUMBER("platen", "mass that rests on the joint besides", "kg", 0, 1e5, 0),
};

static const double g = 9.80665;

/* Published mean nut factors lie anywhere between these over surfaces and
 * lubricants: what is known of a screw that nobody has tried. */
static const double lowest_factor = 0.086, highest_factor = 0.52;

/* N per N.m on the wrench. */
static double gain(const platen_value *s)
{
    return s[SCREWS].number / (s[NUT_FACTOR].number * s[THREAD].number);
}

static int back(const platen_host *host, const platen_value *s, double torque, platen_force *out)
{
    double force_N = torque * gain(s);
    double range = (highest_factor - lowest_factor) / sqrt(12) / s[NUT_FACTOR].number;

    (void)host;
    if (!(torque > 0)) {
        snprintf(out->reason, sizeof out->reason, "without torque the screw does not press");
        return PLATEN_ERANGE;
    }
    out->force_N = force_N + s[PLATEN].number * g;
    out->u_rig_N = force_N * (s[NUT_FACTOR].given ? s[NUT_FACTOR_WITHIN].number / sqrt(3) : range);
    out->u_each_N = force_N * s[SCATTER].number / sqrt(3 * s[SCREWS].number);
    return PLATEN_OK;
}

static void say_factor(const platen_host *host, const platen_value *s)
{
    if (!s[NUT_FACTOR].given)
        host->note(host->self, PLATEN_ADVICE,
                   "nut factor not stated: 0.2 is taken, published means go from 0.086 to 0.52; "
                   "press on a scale or load cell a few times and state what you find");
}

static int set_point(const platen_host *host, const platen_value *s, const platen_limits *limits,
                     double force_N, platen_set_point *out)
{
    double press_N = force_N - s[PLATEN].number * g, torque = press_N / gain(s);
    char needs[64];

    if (press_N <= 0) {
        snprintf(out->reason, sizeof out->reason, "its platen alone weighs %s",
                 host->show(host->self, PLATEN_AS_FORCE, s[PLATEN].number * g));
        snprintf(out->mend, sizeof out->mend, "dead weights, or a lighter platen");
        return PLATEN_ERANGE;
    }
    if (torque > limits->most_dial) {
        snprintf(needs, sizeof needs, "%s", host->show(host->self, PLATEN_AS_DIAL, torque));
        snprintf(out->reason, sizeof out->reason, "needs %s; wrench and rating go to %s", needs,
                 host->show(host->self, PLATEN_AS_DIAL, limits->most_dial));
        snprintf(out->mend, sizeof out->mend, "%.0f screws of this kind on one joint",
                 ceil(s[SCREWS].number * torque / limits->most_dial));
        return PLATEN_ERANGE;
    }
    say_factor(host, s);
    out->dial = torque;
    return PLATEN_OK;
}

static const platen_plugin plugin = {
    PLATEN_HEAD(PLATEN_RIG),
    .name = "screw-press",
    .summary = "screw clamp or screw press, tightened with a torque wrench",
    PLATEN_SETTINGS(settings),
    .dial = "N.m",
    .set_point = set_point,
    .back = back,
};

PLATEN_EXPORT const platen_plugin *platen_plugin_entry(void)
{
    return &plugin;
}
