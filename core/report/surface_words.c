/* Where the top of a curved surface lies: in shop words, and as JSON. */
#include <math.h>

#include "base/units.h"
#include "fit/surface.h"
#include "report/json_parts.h"
#include "report/say.h"

static char *level(pl_arena *a, const pl_factor *f, double si, int way)
{
    double x = pl_units_from_si(si, f->kind, f->unit);

    return pl_arena_printf(a, "%s%s%s", pl_text_number(a, pl_round_outward(x, 3, way), 3),
                           f->unit[0] ? " " : "", f->unit);
}

/* "pressure 1.4 N/mm2, spread 195 g/m2 and warmth 22 degC" */
static char *where(pl_arena *a, const pl_surface *s)
{
    const char *items[PL_SURFACE_FACTORS_MOST];

    for (size_t i = 0; i < s->nfactor; i++)
        items[i] = pl_arena_printf(a, "%s %s", s->axes[i].factor->name,
                                   level(a, s->axes[i].factor, s->axes[i].top_si, 0));
    return pl_text_list(a, items, s->nfactor, "and");
}

static char *range(pl_arena *a, const pl_surface_axis *x)
{
    const char *name = x->factor->name, *low = level(a, x->factor, x->low_si, -1);
    const char *high = level(a, x->factor, x->high_si, 1);

    if (x->low_open && x->high_open)
        return pl_arena_printf(a, "%s anywhere in what was tried", name);
    if (x->low_open)
        return pl_arena_printf(a, "%s below %s", name, high);
    if (x->high_open)
        return pl_arena_printf(a, "%s above %s", name, low);
    return pl_arena_printf(a, "%s from %s to %s", name, low, high);
}

void pl_surface_words(pl_arena *a, const pl_fit_answer *f, pl_text *t)
{
    const pl_surface *s = f->surface;
    const char *items[PL_SURFACE_FACTORS_MOST];

    pl_text_add(t,
                "%s near %s: %s there. The true figure lies between %s and %s; ranges worked out "
                "this way are right nineteen times in twenty.\n",
                s->inside ? "Strength has a top inside what was tried,"
                          : "No top shows inside what was tried: the best of it lies at its edge,",
                where(a, s), pl_say(a, f, s->height, s->unit, 3, 0), pl_say_bare(a, s->low, 3, -1),
                pl_say(a, f, s->high, s->unit, 3, 1));
    if (isnan(s->axes[0].low_si)) {
        pl_text_put(t, "Nowhere in what was tried does strength neither rise nor fall.\n");
        return;
    }
    for (size_t i = 0; i < s->nfactor; i++)
        items[i] = range(a, &s->axes[i]);
    pl_text_add(
        t, "%s is known no closer than this: %s; all of it together nineteen times in twenty.\n",
        s->inside ? "Where the top lies" : "Where strength neither rises nor falls",
        pl_text_list(a, items, s->nfactor, "and"));
}

void pl_json_surface(pl_jval *object, const pl_surface *s)
{
    pl_jval *surface = pl_jadd_object(object, "surface"), *list;

    pl_jadd_bool(surface, "inside", s->inside);
    pl_jadd_number(surface, "height", s->height);
    pl_jadd_number(surface, "low", s->low);
    pl_jadd_number(surface, "high", s->high);
    pl_jadd_number(surface, "df", s->df);
    pl_jadd_text(surface, "unit", s->unit);
    list = pl_jadd_array(surface, "top");
    for (size_t i = 0; i < s->nfactor; i++) {
        const pl_surface_axis *x = &s->axes[i];
        const pl_factor *f = x->factor;
        pl_jval *one = pl_jadd_object(list, NULL);

        pl_jadd_text(one, "factor", f->name);
        pl_jadd_text(one, "unit", f->unit);
        pl_jadd_number(one, "at", pl_units_from_si(x->top_si, f->kind, f->unit));
        pl_jadd_number(one, "low",
                       x->low_open ? NAN : pl_units_from_si(x->low_si, f->kind, f->unit));
        pl_jadd_number(one, "high",
                       x->high_open ? NAN : pl_units_from_si(x->high_si, f->kind, f->unit));
        pl_jadd_bool(one, "low_open", x->low_open);
        pl_jadd_bool(one, "high_open", x->high_open);
    }
}
