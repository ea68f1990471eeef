/* SPDX-License-Identifier: 0BSD
 * test-frame: a testing machine's export: a block of words, then time and force of
 * one specimen or several. Sources: README.md beside this file. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include <platen/plugin.h>

enum { CLASS, VERIFIED_FROM, REVERSED, RATE_FROM, RATE_TO };
enum { TIME, FORCE, TRAVEL, SPECIMEN };
enum { BATCH = 256 };

/* ISO 7500-1: limit of error in percent of the reading. */
static const char *const classes[] = { "0.5", "1", "2", "3", NULL };
static const double class_error[] = { 0.005, 0.01, 0.02, 0.03 };

static const platen_setting settings[] = {
    [CLASS] = { "class", "ISO 7500-1 class of its force reading", NULL, NULL, classes,
                PLATEN_CHOICE, 0, 0, 0, 0, 0, 1 },
    PLATEN_A_NUMBER("verified_from", "lowest force of the verified range", "N", 0, 1e8, 0),
    [REVERSED] = { "reversed", "the record counts the breaking force downwards", NULL, NULL, NULL,
                   PLATEN_FLAG, 0, 0, 0, 0, 0, 0 },
    [RATE_FROM] = PLATEN_A_NUMBER("rate_from", "lowest loading rate wanted", "N/s", 0, 1e8, 0),
    [RATE_TO] = PLATEN_A_NUMBER("rate_to", "highest loading rate wanted", "N/s", 0, 1e8, 1e8),
};

static const char *const time_names[] = { "t", "elapsed", "test time", NULL };
static const char *const force_names[] = { "load", "f", "standard force", NULL };
static const char *const travel_names[] = { "extension", "crosshead", "displacement", NULL };
static const char *const specimen_names[] = { "sample", "specimen id", "test piece", NULL };
static const platen_column columns[] = {
    [TIME] = { "time", time_names, "s", "time since any moment", 0, 0 },
    [FORCE] = { "force", force_names, "N", "what the frame showed", 0, 0 },
    [TRAVEL] = { "travel", travel_names, "m", "of the crosshead; not used yet", PLATEN_OPTIONAL,
                 0 },
    [SPECIMEN] = { "specimen", specimen_names, NULL, "whose record it is, if there are several",
                   PLATEN_OPTIONAL | PLATEN_WORDS, 0 },
};

static int back(const platen_host *host, const platen_value *s, double shown_N, platen_force *out)
{
    if (shown_N < s[VERIFIED_FROM].number) {
        snprintf(out->reason, sizeof out->reason, "below %s, where its verified range begins",
                 host->show(host->self, PLATEN_AS_FORCE, s[VERIFIED_FROM].number));
        return PLATEN_ERANGE;
    }
    out->force_N = shown_N;
    out->u_rig_N = shown_N * class_error[(int)s[CLASS].number] / sqrt(3);
    return PLATEN_OK;
}

/* Rows of one specimen stand together; each run goes to the host's trace work. */
static int rows(const platen_host *host, const platen_value *s, void *state, const platen_rows *r)
{
    const char *const *who = r->words[SPECIMEN];
    double sign = s[REVERSED].number != 0 ? -1 : 1, force[BATCH];

    (void)state;
    for (size_t i = 0, n; i < r->n; i += n) {
        for (n = 0; n < BATCH && i + n < r->n; n++) {
            if (who && strcmp(who[i + n], who[i]) != 0)
                break;
            force[n] = sign * r->numbers[FORCE][i + n];
        }
        if (host->trace(host->self, who && who[i][0] ? who[i] : NULL, r->numbers[TIME] + i, force,
                        n, r->lines[i]))
            return PLATEN_ESTOP;
    }
    return PLATEN_OK;
}

static const platen_plugin plugin = {
    PLATEN_HEAD(PLATEN_RIG),
    .name = "test-frame",
    .summary = "testing machine's export: a block of words, then one specimen or several",
    PLATEN_SETTINGS(settings),
    .dial = "N",
    .back = back,
    PLATEN_COLUMNS(columns),
    .rows = rows,
};

PLATEN_EXPORT const platen_plugin *platen_plugin_entry(void)
{
    return &plugin;
}
