/* Readings: a growing list with an index over what was read of whom, and the names of subjects and
 * modes. */
#include "study/reading.h"

#include <stdint.h>
#include <string.h>

const char *pl_subject_name(pl_subject s)
{
    static const char *const names[PL_NSUBJECTS] = { "specimen", "glue-up", "session", "board" };

    return names[s];
}

/* FNV-1a over subject, id and quantity (Fowler, Noll & Vo; RFC 9923), a place in the index. */
static size_t place_of(const pl_readings *r, pl_subject subject, const char *id,
                       const char *quantity)
{
    uint32_t h = 2166136261u ^ (uint32_t)subject;

    for (const char *c = id; *c; c++)
        h = (h ^ (unsigned char)*c) * 16777619u;
    for (const char *c = quantity; *c; c++)
        h = (h ^ (unsigned char)*c) * 16777619u;
    return h & (r->room - 1);
}

/* The reading is the first of its chain; the one that was leads on. */
static void put_in_index(pl_readings *r, size_t i)
{
    const pl_reading *x = &r->items[i];
    size_t *first = &r->first[place_of(r, x->subject, x->id, x->quantity)];

    r->before[i] = *first;
    *first = i + 1;
}

/* Twice the room, with an index of its own: a copy of the list keeps the one it has. */
static pl_code make_room(pl_arena *a, pl_readings *r, pl_diags *d)
{
    const size_t room = r->room ? 2 * r->room : 64; /* always a power of 2 */
    pl_reading *items = pl_arena_grow(a, r->items, r->count, room, sizeof *items);
    size_t *first = PL_NEWN(a, room, size_t), *before = PL_NEWN(a, room, size_t);

    if (!items || !first || !before)
        return pl_nomem(d);
    r->items = items;
    r->first = first;
    r->before = before;
    r->room = room;
    for (size_t i = 0; i < r->count; i++)
        put_in_index(r, i);
    return PL_OK;
}

pl_code pl_readings_add(pl_arena *a, pl_readings *r, pl_reading reading, pl_diags *d)
{
    if (r->count == r->room && make_room(a, r, d))
        return PL_ENOMEM;
    r->items[r->count] = reading;
    put_in_index(r, r->count++);
    return PL_OK;
}

const pl_reading *pl_readings_find(const pl_readings *r, pl_subject subject, const char *id,
                                   const char *quantity)
{
    if (!r->count)
        return NULL;
    for (size_t i = r->first[place_of(r, subject, id, quantity)]; i; i = r->before[i - 1]) {
        const pl_reading *x = &r->items[i - 1];

        /* what a copy of the list has taken in since is not in this one */
        if (i <= r->count && x->subject == subject && !strcmp(x->id, id) &&
            !strcmp(x->quantity, quantity))
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
