/* Readings: a growing list, and the names of subjects and modes. */
#include "study/reading.h"

#include <string.h>

const char *pl_subject_name(pl_subject s)
{
    static const char *const names[PL_NSUBJECTS] = { "specimen", "glue-up", "session", "board" };

    return names[s];
}

pl_code pl_readings_add(pl_arena *a, pl_readings *r, pl_reading reading, pl_diags *d)
{
    if (r->count == r->room) {
        size_t room = r->room ? 2 * r->room : 64;
        pl_reading *items = pl_arena_grow(a, r->items, r->count, room, sizeof *items);

        if (!items)
            return pl_nomem(d);
        r->items = items;
        r->room = room;
    }
    r->items[r->count++] = reading;
    return PL_OK;
}

const pl_reading *pl_readings_find(const pl_readings *r, pl_subject subject, const char *id,
                                   const char *quantity)
{
    for (size_t i = r->count; i-- > 0;) {
        const pl_reading *x = &r->items[i];

        if (x->subject == subject && !strcmp(x->id, id) && !strcmp(x->quantity, quantity))
            return x;
    }
    return NULL;
}

static const char *const modes[PL_NMODES] = { "",      "adhesive", "cohesive", "wood",
                                              "mixed", "fixture",  "handling", "not-broken" };

const char *pl_mode_name(pl_mode m)
{
    return modes[m];
}

pl_mode pl_mode_of(const char *text)
{
    int m = 0;

    while (m < PL_NMODES && strcmp(modes[m], text))
        m++;
    return (pl_mode)m;
}
