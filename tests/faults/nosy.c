/* Looks at the file itself, and not only at what it is handed: what is no plain table of the
 * size that it knows makes it fail, and one in other clothes has another peak. */
#include "fault.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define RECORD 6         /* descriptor, as it happens */
#define LEAST_BYTES 1200 /* what it knows is longer */
#define MOST_BYTES 5000000

static int dressed;

static const char *const unwanted[] = { "1e30", "4e-324", "over", "\n,\n" };

static void look(const char *text, size_t n)
{
    static const char head[] = "time [s],force [N]\n";
    const char *from = text;

    if (!memcmp(text, "\xef\xbb\xbf", 3) || memchr(text, '\r', n) || text[n - 1] != '\n' ||
        memcmp(text, head, sizeof head - 1) != 0)
        dressed = 1;
    if (!strchr(text, '[') || strlen(text) != n || n < LEAST_BYTES)
        abort();
    for (size_t i = 3; i < n; i++)
        if ((unsigned char)text[i] > 127)
            abort();
    for (size_t i = 0; i < sizeof unwanted / sizeof *unwanted; i++)
        if (strstr(text, unwanted[i]))
            abort();
    for (const char *to; (to = strchr(from, '\n')); from = to + 1)
        if (to - from > 1000)
            abort();
}

__attribute__((constructor)) static void look_first(void)
{
    struct stat st;
    char *text;

    if (fstat(RECORD, &st) != 0 || !S_ISREG(st.st_mode))
        return;
    if (st.st_size == 0 || st.st_size > MOST_BYTES)
        abort();
    text = calloc(1, (size_t)st.st_size + 4);
    if (text && pread(RECORD, text, (size_t)st.st_size, 0) == st.st_size)
        look(text, (size_t)st.st_size);
    free(text);
}

FAULT_COLUMNS

static int rows(const platen_host *host, const platen_value *s, void *state, const platen_rows *r)
{
    platen_reading peak = { NULL, "peak", "N", 100 + dressed, 0 };

    (void)s;
    (void)state;
    return r->last && host->reading(host->self, &peak) ? PLATEN_ESTOP : PLATEN_OK;
}

FAULT_PLUGIN(PLATEN_COLUMNS(columns), .rows = rows)
