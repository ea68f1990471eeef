/* Findings: what is wrong or doubtful, where, and how to mend it.
 *
 * Functions return a pl_code and add findings to a list; the list lives in an
 * arena and keeps a slot for out-of-memory, so that even that is reported. */
#ifndef PL_BASE_DIAG_H
#define PL_BASE_DIAG_H

#include <stdbool.h>
#include <stddef.h>

#include "base/arena.h"
#include "base/code.h"

typedef enum pl_severity {
    PL_NOTE,    /* good to know */
    PL_ADVICE,  /* doubtful; the run goes on */
    PL_REFUSED, /* wrong; the run ends without an answer */
    PL_NSEVERITIES
} pl_severity;

/* Texts: lower case, no full stop, quote what the user typed. Facts in found
 * and expected, advice in mend. */
typedef struct pl_diag {
    pl_code code;
    pl_severity severity;
    const char *where;    /* "stairs.json:41", "day3.csv:17:5", "book"; "" if nowhere */
    const char *pointer;  /* "/factors/2/levels/0"; "" outside JSON */
    const char *found;    /* never NULL */
    const char *expected; /* "" if there is nothing to say */
    const char *mend;     /* "" if there is nothing to say */
} pl_diag;

typedef struct pl_diags {
    pl_arena *arena;
    pl_diag *items;
    size_t count, room;
    bool out_of_memory;
    size_t dropped; /* beyond PL_DIAGS_MOST */
    pl_code lost;   /* of the first refusal among these; PL_OK if none */
} pl_diags;

#define PL_DIAGS_MOST 200 /* more findings help nobody; the rest is counted */

void pl_diags_init(pl_diags *d, pl_arena *a);

/* Adds a finding; all texts are copied. Any text may be NULL (kept as ""). A
 * control character in a text becomes "?". Returns code, so that
 * "return pl_fail(...)" reads well. PL_ENOMEM may be added without memory. */
pl_code pl_diags_add(pl_diags *d, pl_diag finding);

/* pl_fail(d, PL_EUNIT, "day3.csv:17:5", .found = "bar", .expected = "a length") */
#define pl_fail(d, c, w, ...) \
    pl_diags_add((d), (pl_diag){ .code = (c), .severity = PL_REFUSED, .where = (w), __VA_ARGS__ })
#define pl_advise(d, w, ...) \
    ((void)pl_diags_add(     \
        (d), (pl_diag){ .code = PL_OK, .severity = PL_ADVICE, .where = (w), __VA_ARGS__ }))
#define pl_remark(d, w, ...) \
    ((void)pl_diags_add(     \
        (d), (pl_diag){ .code = PL_OK, .severity = PL_NOTE, .where = (w), __VA_ARGS__ }))

/* Reports out-of-memory and returns PL_ENOMEM. */
pl_code pl_nomem(pl_diags *d);

/* Code of the first refusal at or after index from, dropped ones included; PL_OK
 * when there is none; PL_ENOMEM wins over all. */
pl_code pl_diags_code(const pl_diags *d, size_t from);
size_t pl_diags_count(const pl_diags *d, pl_severity severity);

/* Findings of one file by line and column, files and what is no file in the order of their first;
 * findings of one place as they came. */
void pl_diags_sort(pl_diags *d);

const char *pl_severity_name(pl_severity s); /* "note", "advice", "refused" */

/* One finding as text, without a final newline:
 *   stairs.json:41: /joint/stated_area: found "2.5 in2", expected 2.25 in2
 *     mend: leave stated_area out, or correct it */
char *pl_diag_text(pl_arena *a, const pl_diag *d);

#endif
