/* Pictures of an answer about numbers: the chance against glue-ups per level. What is drawn, not
 * how (page/plot.h draws). */
#include "report/picture_size.h"

#include <math.h>

#define LAYERS_MOST 8
#define PERCENT 100.0

typedef struct chance_picture {
    pl_plot plot;
    pl_layer layers[LAYERS_MOST];
    double enough, made, made_chance;
    const char *words;
} chance_picture;

static void add_layer(chance_picture *c, pl_layer layer)
{
    c->layers[c->plot.nlayers++] = layer;
}

static chance_picture *begin(pl_arena *a, double enough, pl_diags *d)
{
    chance_picture *c = PL_NEW(a, chance_picture);

    if (!c) {
        pl_nomem(d);
        return NULL;
    }
    c->plot = (pl_plot){ .title = "Chance by the number of glue-ups per level",
                         .x.label = "glue-ups per level",
                         .x.from_zero = true,
                         .y = { .label = "chance, %", .low = 0, .high = PERCENT },
                         .layers = c->layers };
    c->enough = PERCENT * enough;
    add_layer(c, (pl_layer){ .kind = PL_LAYER_LEVELS,
                             .name = "asked for",
                             .n = 1,
                             .y = &c->enough,
                             .hue = PL_HUE_GREEN,
                             .dashed = true });
    return c;
}

static const double *percent(pl_arena *a, const double *x, size_t n)
{
    double *out = PL_NEWN(a, n, double);

    for (size_t i = 0; out && i < n; i++)
        out[i] = PERCENT * x[i];
    return out;
}

static pl_code add_course(pl_arena *a, chance_picture *c, const pl_chances *s, pl_layer line,
                          const char *band, pl_diags *d)
{
    const double *low = percent(a, s->low, s->n), *high = percent(a, s->high, s->n);

    line.kind = PL_LAYER_LINE;
    line.n = s->n;
    line.x = s->per_level;
    line.y = percent(a, s->chance, s->n);
    if (!low || !high || !line.y)
        return pl_nomem(d);
    if (band && s->n && isfinite(s->low[0]) && isfinite(s->high[0]))
        add_layer(c, (pl_layer){ .kind = PL_LAYER_BAND,
                                 .name = band,
                                 .n = s->n,
                                 .x = s->per_level,
                                 .low = low,
                                 .high = high,
                                 .hue = line.hue });
    add_layer(c, line);
    return PL_OK;
}

/* The number that is made, or needed, as a dot on its course. */
static void mark_made(pl_arena *a, chance_picture *c, const pl_chances *s, const char *name)
{
    for (size_t i = 0; i < s->n; i++) {
        if (s->per_level[i] < s->glue_ups_per_level || s->per_level[i] > s->glue_ups_per_level)
            continue;
        c->made = s->per_level[i];
        c->made_chance = PERCENT * s->chance[i];
        c->words = pl_arena_printf(a, "%u per level: %.0f %%", s->glue_ups_per_level,
                                   c->made_chance);
        add_layer(c, (pl_layer){ .kind = PL_LAYER_POINTS,
                                 .name = name,
                                 .n = 1,
                                 .x = &c->made,
                                 .y = &c->made_chance,
                                 .words = &c->words,
                                 .hue = PL_HUE_VIOLET,
                                 .shape = PL_SHAPE_DIAMOND });
    }
}

pl_code pl_picture_size(pl_arena *a, const pl_size_question *q, const pl_size_answer *w,
                        const pl_plot **out, pl_diags *d)
{
    const pl_chances *s = NULL;
    unsigned made = w->limits.glue_ups_per_level;
    chance_picture *c;
    pl_code rc = pl_size_chances(a, q, made, &s, d);

    *out = NULL;
    if (rc || !s)
        return rc;
    c = begin(a, s->enough, d);
    if (!c)
        return PL_ENOMEM;
    if (q->across > 1)
        c->plot.x.label = "glue-ups per treatment";
    rc = add_course(a, c, s, (pl_layer){ .name = "chance", .hue = PL_HUE_BLUE },
                    q->from == PL_SCATTER_PILOT ? "what the pilot leaves open"
                                                : "what the guess of the scatter leaves open",
                    d);
    mark_made(a, c, s, q->glue_ups_per_level ? "as many as asked about" : "enough");
    *out = &c->plot;
    return rc;
}

pl_code pl_picture_chances(pl_arena *a, const pl_chances *then, const pl_chances *now,
                           const pl_plot **out, pl_diags *d)
{
    chance_picture *c = begin(a, then->enough, d);
    pl_code rc;

    if (!c)
        return PL_ENOMEM;
    *out = &c->plot;
    rc = add_course(a, c, then, (pl_layer){ .name = "as planned", .hue = PL_HUE_BLUE },
                    "what was open then", d);
    if (!rc && now)
        rc = add_course(
            a, c, now,
            (pl_layer){ .name = "with the scatter found", .hue = PL_HUE_ORANGE, .dashed = true },
            NULL, d);
    mark_made(a, c, then, "as many as were planned");
    return rc;
}

/* ----------------------------------------------------------- simulated ----- */

/* One layout under one scatter: those of its numbers that were worked out. */
static pl_code add_simulated(pl_arena *a, chance_picture *c, const pl_plateau_answer *w,
                             pl_plateau_layout layout, pl_size_basis basis, pl_layer line,
                             pl_diags *d)
{
    double *x = PL_NEWN(a, w->nrow, double), *y = PL_NEWN(a, w->nrow, double);

    if (!x || !y)
        return pl_nomem(d);
    for (size_t i = 0; i < w->nrow; i++) {
        const pl_plateau_row *r = &w->rows[i];

        if (r->layout != layout || !r->cell[basis].draws)
            continue;
        x[line.n] = r->glue_ups_per_level;
        y[line.n++] = PERCENT * pl_plateau_chance(&r->cell[basis]);
    }
    line.kind = PL_LAYER_LINE;
    line.x = x;
    line.y = y;
    if (line.n)
        add_layer(c, line);
    return PL_OK;
}

pl_code pl_picture_plateau_size(pl_arena *a, const pl_plateau_question *q,
                                const pl_plateau_answer *w, const pl_plot **out, pl_diags *d)
{
    static const struct {
        pl_plateau_layout layout;
        pl_size_basis basis;
        const char *name;
        pl_hue hue;
        bool dashed;
    } shown[] = {
        { PL_LAYOUT_ASKED, PL_SIZE_AS_GIVEN, "chance of finding it", PL_HUE_BLUE, false },
        { PL_LAYOUT_ASKED, PL_SIZE_AT_UPPER, "if scatter is at its upper limit", PL_HUE_BLUE,
          true },
        { PL_LAYOUT_RATIO, PL_SIZE_AS_GIVEN, "levels at constant ratio", PL_HUE_ORANGE, false },
        { PL_LAYOUT_STEPS, PL_SIZE_AS_GIVEN, "levels in equal steps", PL_HUE_VIOLET, false },
    };
    chance_picture *c = begin(a, 1 - q->size.miss_at_most, d);
    pl_code rc = c ? PL_OK : PL_ENOMEM;

    for (size_t i = 0; i < sizeof shown / sizeof *shown && !rc; i++)
        rc = add_simulated(
            a, c, w, shown[i].layout, shown[i].basis,
            (pl_layer){ .name = shown[i].name, .hue = shown[i].hue, .dashed = shown[i].dashed }, d);
    *out = rc ? NULL : &c->plot;
    return rc;
}
