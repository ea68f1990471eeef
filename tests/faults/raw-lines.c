/* Takes lines of "time,force" by itself, as if every file were written alike: no number behind
 * the comma counts as none. */
#include "fault.h"

#include <stdlib.h>
#include <string.h>

typedef struct taken {
    char line[64];
    size_t n;
    double most;
} taken;

static int bytes(const platen_host *host, const platen_value *s, void *state,
                 const unsigned char *text, size_t n, int last)
{
    taken *t = state;
    platen_reading peak = { NULL, "peak", "N", 0, 0 };

    (void)s;
    for (size_t i = 0; i < n; i++) {
        if (text[i] != '\n' && t->n + 1 < sizeof t->line) {
            t->line[t->n++] = (char)text[i];
        } else if (text[i] == '\n') {
            const char *comma;

            t->line[t->n] = '\0';
            comma = strchr(t->line, ',');
            if (comma && atof(comma + 1) > t->most)
                t->most = atof(comma + 1);
            t->n = 0;
        }
    }
    peak.value = t->most;
    return last && host->reading(host->self, &peak) ? PLATEN_ESTOP : PLATEN_OK;
}

FAULT_PLUGIN(.bytes = bytes, .state_size = sizeof(taken))
