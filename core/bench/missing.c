/* What the bench has not written down yet, counted and said in words. */
#include "bench/reader.h"

#include <string.h>

#include "base/text.h"

typedef struct list {
    pl_arena *a;
    const char **items;
    size_t count, room;
    bool nomem;
} list;

static void say(list *l, size_t n, const char *one, const char *many)
{
    if (!n || l->nomem)
        return;
    if (l->count == l->room) {
        l->room = l->room ? 2 * l->room : 8;
        l->items = pl_arena_grow(l->a, l->items, l->count, l->room, sizeof *l->items);
    }
    if (l->items)
        l->items[l->count] = n == 1 ? pl_arena_printf(l->a, "1 %s", one)
                                    : pl_arena_printf(l->a, "%zu %s", n, many);
    if (!l->items || !l->items[l->count++])
        l->nomem = true;
}

static const pl_reading *find(const pl_readings *r, pl_subject subject, const char *id,
                              const char *quantity)
{
    return pl_readings_find(r, subject, id, quantity);
}

/* A joint that never saw the rig has no peak, and none is missing. */
static bool needs_no_peak(const pl_reading *mode)
{
    return mode && (!strcmp(mode->text, "fixture") || !strcmp(mode->text, "handling") ||
                    !strcmp(mode->text, "not-broken"));
}

static void say_breaks(list *l, const pl_plan *p, const pl_readings *r)
{
    size_t unbroken = 0, unjudged = 0, no_peak = 0;

    for (size_t i = 0; i < p->nspecimen; i++) {
        const pl_specimen *sp = &p->specimens[i];
        const pl_reading *peak, *wood, *mode;

        if (sp->spare)
            continue;
        peak = find(r, PL_ON_SPECIMEN, sp->id, "peak");
        wood = find(r, PL_ON_SPECIMEN, sp->id, "wood_failure");
        mode = find(r, PL_ON_SPECIMEN, sp->id, "mode");
        unbroken += !peak && !wood && !mode;
        /* a named mode other than mixed says as much */
        unjudged += peak && !wood && (!mode || !strcmp(mode->text, "mixed"));
        no_peak += !peak && (wood || mode) && !needs_no_peak(mode);
    }
    say(l, unbroken, "joint is not broken yet", "joints are not broken yet");
    say(l, unjudged, "joint has a peak but no wood failure",
        "joints have a peak but no wood failure");
    say(l, no_peak, "joint was judged but has no peak", "joints were judged but have no peak");
}

/* A planned dial: dead weights have none, and then no reading of it is missing. */
static bool has_dial(const pl_plan *p, const pl_glue_up *g)
{
    for (size_t level = 0; g->rig >= 0 && p->points.at && level < p->points.nlevel; level++) {
        const pl_set_point *at = pl_set_points_at(&p->points, level, (size_t)g->rig);

        if (at->can && at->dial_unit && at->dial_unit[0])
            return true;
    }
    return false;
}

static void say_glue_ups(list *l, const pl_plan *p, const pl_readings *r)
{
    size_t no_start = 0, no_closing = 0;

    for (size_t i = 0; i < p->nglue_up; i++) {
        const pl_glue_up *g = &p->glue_ups[i];

        if (g->spare)
            continue;
        no_start += has_dial(p, g) && !find(r, PL_ON_GLUE_UP, g->label, "dial_at_start") &&
                    !find(r, PL_ON_GLUE_UP, g->label, "dial_at_end") &&
                    find(r, PL_ON_GLUE_UP, g->label, "pressed_at");
        no_closing += !find(r, PL_ON_GLUE_UP, g->label, "closed_at") &&
                      !find(r, PL_ON_GLUE_UP, g->label, "pressed_at");
    }
    say(l, no_closing, "glue-up has no time of closing or pressing",
        "glue-ups have no time of closing or pressing");
    say(l, no_start, "glue-up was pressed but has no dial reading",
        "glue-ups were pressed but have no dial reading");
}

pl_code pl_forms_missing(pl_arena *a, const pl_plan *p, const pl_readings *r,
                         const char *const **out, size_t *count, pl_diags *d)
{
    list l = { .a = a };
    size_t undated = 0;

    for (unsigned session = 1; session <= p->nsession; session++) {
        const char *id = pl_arena_printf(a, "%u", session);

        if (!id)
            return pl_nomem(d);
        undated += !find(r, PL_ON_SESSION, id, "date");
    }
    say(&l, undated, "session has no date", "sessions have no date");
    say_glue_ups(&l, p, r);
    say_breaks(&l, p, r);
    if (l.nomem)
        return pl_nomem(d);
    *out = l.items;
    *count = l.count;
    return PL_OK;
}
