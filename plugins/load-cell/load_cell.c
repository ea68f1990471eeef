/* SPDX-License-Identifier: 0BSD
 * load-cell: a breaking bench that shows force and records force over time.
 * Sources: README.md beside this file. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include <platen/plugin.h>

enum { ACCURACY, VERIFIED_FROM, REVERSED, RATE_FROM, RATE_TO };
enum { TIME, FORCE, SPECIMEN };

static const platen_setting settings[] = {
    [ACCURACY] = { "accuracy", "limit of error, a share of the reading", "1", NULL, NULL,
                   PLATEN_NUMBER, 0, 0, 0.5, 0, 0, 0.01 },
    [VERIFIED_FROM] = { "verified_from", "lowest force the accuracy was verified at", "N", NULL,
                        NULL, PLATEN_NUMBER, 0, 0, 1e8, 0, 0, 0 },
    [REVERSED] = { "reversed", "the record counts the breaking force downwards", NULL, NULL, NULL,
                   PLATEN_FLAG, 0, 0, 0, 0, 0, 0 },
    [RATE_FROM] = PLATEN_A_NUMBER("rate_from", "lowest loading rate wanted", "N/s", 0, 1e8, 0),
    [RATE_TO] = PLATEN_A_NUMBER("rate_to", "highest loading rate wanted", "N/s", 0, 1e8, 1e8),
};

static const char *const time_names[] = { "t", "elapsed", NULL };
static const char *const force_names[] = { "load", "f", NULL };
static const platen_column columns[] = {
    [TIME] = { "time", time_names, "s", "time since any moment", 0, 0 },
    [FORCE] = { "force", force_names, "N", "what the cell showed", 0, 0 },
    [SPECIMEN] = { "specimen", NULL, NULL, "whose record it is, if there are several",
                   PLATEN_OPTIONAL | PLATEN_WORDS, 0 },
};

static int back(const platen_host *host, const platen_value *s, double shown_N, platen_force *out)
{
    char text[PLATEN_TEXT_MOST], from[64];

    if (shown_N < s[VERIFIED_FROM].number) {
        snprintf(from, sizeof from, "%s",
                 host->show(host->self, PLATEN_AS_FORCE, s[VERIFIED_FROM].number));
        snprintf(text, sizeof text, "%s is below %s, the lowest force it was verified at",
                 host->show(host->self, PLATEN_AS_FORCE, shown_N), from);
        host->note(host->self, PLATEN_ADVICE, text);
    }
    out->force_N = shown_N;
    out->u_rig_N = shown_N * s[ACCURACY].number / sqrt(3);
    return PLATEN_OK;
}

/* Rows of one specimen stand together; each run goes to the host's trace work. */
static size_t run_of(const char *const *who, size_t most)
{
    size_t n = 1;

    while (n < most && (who[n] == who[0] || !strcmp(who[n], who[0])))
        n++;
    return n;
}

static int rows(const platen_host *host, const platen_value *s, void *state, const platen_rows *r)
{
    const char *const *who = r->words[SPECIMEN];
    double sign = s[REVERSED].number != 0 ? -1 : 1, force[256];

    (void)state;
    for (size_t i = 0, n; i < r->n; i += n) {
        const char *specimen = who && who[i][0] ? who[i] : NULL;

        n = r->n - i < 256 ? r->n - i : 256;
        n = who ? run_of(who + i, n) : n;
        for (size_t k = 0; k < n; k++)
            force[k] = sign * r->numbers[FORCE][i + k];
        if (host->trace(host->self, specimen, r->numbers[TIME] + i, force, n, r->lines[i]))
            return PLATEN_ESTOP;
    }
    return PLATEN_OK;
}

static const platen_plugin plugin = {
    PLATEN_HEAD(PLATEN_RIG),
    .name = "load-cell",
    .summary = "breaking bench with a load cell: force as shown, and force over time",
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
