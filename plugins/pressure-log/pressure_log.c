/* SPDX-License-Identifier: 0BSD
 * pressure-log: a breaking rig whose cylinder pressure is logged by a transducer, as
 * volts, as milliamps or as a pressure. Formulas and sources: README.md beside. */
#include <math.h>
#include <string.h>

#include <platen/plugin.h>

enum {
    BORE,
    ROD,
    SIDE,
    FRICTION,
    RANGE,
    ACCURACY,
    VOLTS_ZERO,
    VOLTS_FULL,
    AMPS_ZERO,
    AMPS_FULL,
    RATE_FROM,
    RATE_TO
};
enum { PUSH, PULL };
enum { TIME, VOLTAGE, CURRENT, PRESSURE, SPECIMEN, NCOLUMN };
enum { BATCH = 256 };

static const char *const sides[] = { "push", "pull", NULL };

static const platen_setting settings[] = {
    [BORE] = { "bore", "inner diameter of the cylinder", "m", NULL, NULL, PLATEN_NUMBER,
               PLATEN_REQUIRED, 1e-3, 2, 0, 0, 0 },
    PLATEN_A_NUMBER("rod", "diameter of the rod; takes area away when pulling", "m", 0, 2, 0),
    [SIDE] = { "side", "which way it works on the joint", NULL, NULL, sides, PLATEN_CHOICE, 0, 0, 0,
               0, 0, PUSH },
    PLATEN_A_NUMBER("friction", "share of pressure times area that the running seals take", "1", 0,
                    0.9, 0),
    [RANGE] = { "range", "pressure at the transducer's full signal", "Pa", NULL, NULL,
                PLATEN_NUMBER, PLATEN_REQUIRED, 1e3, 1e9, 0, 0, 0 },
    PLATEN_A_NUMBER("accuracy", "limit of error of the transducer, a share of its range", "1", 0,
                    0.5, 0.005),
    PLATEN_A_NUMBER("volts_at_zero", "signal without pressure", "V", -100, 100, 0),
    PLATEN_A_NUMBER("volts_at_full", "signal at the range", "V", -100, 100, 10),
    PLATEN_A_NUMBER("current_at_zero", "signal without pressure", "A", 0, 1, 0.004),
    PLATEN_A_NUMBER("current_at_full", "signal at the range", "A", 0, 1, 0.020),
    [RATE_FROM] = PLATEN_A_NUMBER("rate_from", "lowest loading rate wanted", "N/s", 0, 1e8, 0),
    [RATE_TO] = PLATEN_A_NUMBER("rate_to", "highest loading rate wanted", "N/s", 0, 1e8, 1e8),
};

static const char *const time_names[] = { "t", "elapsed", NULL };
static const platen_column columns[NCOLUMN] = {
    [TIME] = { "time", time_names, "s", "time since any moment", 0, 0 },
    [VOLTAGE] = { "voltage", NULL, "V", "the transducer's signal", PLATEN_OPTIONAL, 0 },
    [CURRENT] = { "current", NULL, "A", "the transducer's signal", PLATEN_OPTIONAL, 0 },
    [PRESSURE] = { "pressure", NULL, "Pa", "where the logger has worked it out", PLATEN_OPTIONAL,
                   0 },
    [SPECIMEN] = { "specimen", NULL, NULL, "whose record it is, if there are several",
                   PLATEN_OPTIONAL | PLATEN_WORDS, 0 },
};

static double gain(const platen_value *s) /* N per Pa */
{
    double rod = s[SIDE].number == PULL ? s[ROD].number : 0;

    return 0.25 * 3.14159265358979323846 * (s[BORE].number * s[BORE].number - rod * rod) *
           (1 - s[FRICTION].number);
}

/* Which column holds the signal; NCOLUMN when it is none or more than one. */
static int signal_of(const platen_rows *r)
{
    int at = NCOLUMN;

    for (int c = VOLTAGE; c <= PRESSURE; c++)
        if (r->numbers[c])
            at = at == NCOLUMN ? c : NCOLUMN + 1;
    return at < NCOLUMN ? at : NCOLUMN;
}

static double pressure_of(const platen_value *s, int signal, double x)
{
    const platen_value *zero = &s[signal == VOLTAGE ? VOLTS_ZERO : AMPS_ZERO];

    if (signal == PRESSURE)
        return x;
    /* zero[1]: the setting behind, its full signal */
    return s[RANGE].number * (x - zero->number) / (zero[1].number - zero->number);
}

static int back(const platen_host *host, const platen_value *s, double p, platen_force *out)
{
    double sensor = s[RANGE].number * s[ACCURACY].number * gain(s) / sqrt(3);
    double seals = p * gain(s) / (1 - s[FRICTION].number) * s[FRICTION].number / 2 / sqrt(3);

    (void)host;
    out->force_N = p * gain(s);
    out->u_rig_N = sqrt(sensor * sensor + seals * seals);
    return PLATEN_OK;
}

static int refuse(const platen_host *host, const char *why)
{
    host->note(host->self, PLATEN_REFUSED, why);
    return PLATEN_EDATA;
}

static int rows(const platen_host *host, const platen_value *s, void *state, const platen_rows *r)
{
    int signal = signal_of(r);
    const char *const *who = r->words[SPECIMEN];
    double force[BATCH];

    (void)state;
    if (signal == NCOLUMN)
        return refuse(host, "one column is needed of voltage, current and pressure");
    if (gain(s) <= 0)
        return refuse(host, "the rod is as thick as the bore");
    if (s[VOLTS_ZERO].number == s[VOLTS_FULL].number || s[AMPS_ZERO].number == s[AMPS_FULL].number)
        return refuse(host, "the signal is the same without pressure and at full range");
    for (size_t i = 0, n; i < r->n; i += n) {
        for (n = 0; n < BATCH && i + n < r->n; n++) {
            if (who && strcmp(who[i + n], who[i]) != 0)
                break;
            force[n] = gain(s) * pressure_of(s, signal, r->numbers[signal][i + n]);
        }
        if (host->trace(host->self, who && who[i][0] ? who[i] : NULL, r->numbers[TIME] + i, force,
                        n, r->lines[i]))
            return PLATEN_ESTOP;
    }
    return PLATEN_OK;
}

static const platen_plugin plugin = {
    PLATEN_HEAD(PLATEN_RIG),
    .name = "pressure-log",
    .summary = "breaking rig with a logged cylinder pressure: volts, milliamps or a pressure",
    PLATEN_SETTINGS(settings),
    .dial = "Pa",
    .back = back,
    PLATEN_COLUMNS(columns),
    .rows = rows,
};

PLATEN_EXPORT const platen_plugin *platen_plugin_entry(void)
{
    return &plugin;
}
