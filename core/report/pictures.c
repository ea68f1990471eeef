/* Pictures of a fit: what is drawn, not how (page/plot.h draws). */
#include "report/pictures.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/text.h"
#include "fit/trust.h"
#include "report/say.h"

/* A range of levels wider than this is drawn on a log axis. */
#define LOG_FROM 8.0

static const pl_hue hues[] = { PL_HUE_BLUE, PL_HUE_ORANGE, PL_HUE_GREEN, PL_HUE_VIOLET };
static const pl_shape shapes[] = { PL_SHAPE_DISC, PL_SHAPE_SQUARE, PL_SHAPE_DIAMOND,
                                   PL_SHAPE_TRIANGLE };
#define NHUES (sizeof hues / sizeof *hues)

static const char *axis_label(pl_arena *a, const char *name, const char *unit)
{
    return pl_arena_printf(a, "%s%s%s", name, unit[0] ? ", " : "", unit);
}

static const pl_column *column(const pl_fit_answer *f, const char *name)
{
    return f->table ? pl_table_find(f->table, name) : NULL;
}

static bool in_group(const pl_fit_answer *f, const pl_plateau *p, size_t row)
{
    const pl_column *c = p->group_factor ? column(f, p->group_factor) : NULL;

    return !c || !strcmp(c->text[row], p->group);
}

/* What hovers over a dot: the row's name and every column that has a word. */
static const char *hover(pl_arena *a, const pl_fit_answer *f, const pl_plateau *p, size_t row)
{
    static const struct {
        const char *column, *words;
    } shown[] = { { "board", "board " },     { "session", "session " }, { PL_COLUMN_DAY, "" },
                  { "glue_up", "glue-up " }, { "rig", "rig " },         { PL_COLUMN_BREAK, "" } };
    const pl_column *x = column(f, f->study ? PL_COLUMN_MADE : p->over),
                    *y = column(f, p->response);
    const pl_column *wood = column(f, "wood");
    pl_text t;

    pl_text_init(&t, a);
    pl_text_add(&t, "%s: %s %s at %s %s", f->table->row_names[row],
                pl_text_number(a, y->number[row], 4), y->unit, pl_text_number(a, x->number[row], 3),
                x->unit);
    for (size_t i = 0; f->study && i < sizeof shown / sizeof *shown; i++) {
        const pl_column *c = column(f, shown[i].column);

        if (c && c->text[row][0])
            pl_text_add(&t, ", %s%s", shown[i].words, c->text[row]);
    }
    if (f->study && wood && wood->number && wood->number[row] > 0)
        pl_text_put(&t, ", counts as wood");
    return pl_text_done(&t);
}

typedef struct curve_picture {
    pl_plot plot;
    pl_layer layers[11];
    double range_at, range_low, range_high; /* of the working range */
    double onset_low, onset_high, *at, *means, *low, *high;
} curve_picture;

static void add_layer(curve_picture *c, pl_layer layer)
{
    c->layers[c->plot.nlayers++] = layer;
}

static pl_code add_dots(pl_arena *a, const pl_fit_answer *f, const pl_plateau *p, curve_picture *c,
                        bool wood_breaks, pl_diags *d)
{
    const pl_column *x = column(f, f->study ? PL_COLUMN_MADE : p->over),
                    *y = column(f, p->response);
    const pl_column *wood = f->study ? column(f, "wood") : NULL;
    double *xs, *ys;
    const char **words;
    size_t n = 0;

    if (!x || !y || !x->number || !y->number || (wood_breaks && !wood))
        return PL_OK;
    xs = PL_NEWN(a, f->table->nrow, double);
    ys = PL_NEWN(a, f->table->nrow, double);
    words = PL_NEWN(a, f->table->nrow, const char *);
    if (!xs || !ys || !words)
        return pl_nomem(d);
    for (size_t i = 0; i < f->table->nrow; i++) {
        bool in_wood = wood && wood->number && wood->number[i] > 0;

        if (!in_group(f, p, i) || in_wood != wood_breaks || isnan(x->number[i]))
            continue;
        xs[n] = x->number[i];
        ys[n] = y->number[i];
        words[n++] = hover(a, f, p, i);
    }
    if (n)
        add_layer(c, (pl_layer){ .kind = PL_LAYER_POINTS,
                                 .name = wood_breaks ? "broke in the wood" : "one joint",
                                 .n = n,
                                 .x = xs,
                                 .y = ys,
                                 .words = words,
                                 .hue = wood_breaks ? PL_HUE_ORANGE : PL_HUE_BLUE,
                                 .shape = wood_breaks ? PL_SHAPE_DIAMOND : PL_SHAPE_DISC,
                                 .spread = true });
    return PL_OK;
}

static pl_code add_means(pl_arena *a, const pl_plateau *p, curve_picture *c, pl_diags *d)
{
    c->at = PL_NEWN(a, p->nlevel, double);
    c->means = PL_NEWN(a, p->nlevel, double);
    if (!c->at || !c->means)
        return pl_nomem(d);
    for (size_t i = 0; i < p->nlevel; i++) {
        c->at[i] = p->levels[i].at;
        c->means[i] = p->levels[i].mean;
    }
    add_layer(c, (pl_layer){ .kind = PL_LAYER_MARKS,
                             .name = "mean of a level",
                             .n = p->nlevel,
                             .x = c->at,
                             .y = c->means,
                             .hue = PL_HUE_INK });
    return PL_OK;
}

/* From the advised setting up to where harm begins to show, or to the most tried: a
 * stroke just above the axis. */
static void add_working_range(const pl_plateau *p, curve_picture *c)
{
    const pl_bounded *end = &p->range_end;
    bool harm = p->fall.t > p->fall.point && !end->low_open && !isnan(end->low);

    if (isnan(p->advised) || !p->nlevel)
        return;
    c->range_low = p->advised;
    c->range_high = harm ? end->low : p->levels[p->nlevel - 1].at;
    c->range_at = 0.04 * p->height;
    if (c->range_high > c->range_low)
        add_layer(c, (pl_layer){ .kind = PL_LAYER_ACROSS,
                                 .name = harm ? "working range" : "working range, as far as tried",
                                 .n = 1,
                                 .y = &c->range_at,
                                 .low = &c->range_low,
                                 .high = &c->range_high,
                                 .hue = PL_HUE_VIOLET });
}

static pl_code curve_plot(pl_arena *a, const pl_fit_answer *f, const pl_plateau *p,
                          curve_picture *c, pl_diags *d)
{
    pl_code rc;

    c->plot.title = pl_arena_printf(a, "%s: %s by %s", pl_say_group(a, p), p->response, p->over);
    c->plot.x.label = axis_label(a, p->over, p->over_unit);
    c->plot.y.label = axis_label(a, p->response, p->unit);
    c->plot.y.from_zero = true;
    c->plot.layers = c->layers;
    if (p->nlevel > 1 && p->levels[0].at > 0)
        c->plot.x.log = p->levels[p->nlevel - 1].at / p->levels[0].at > LOG_FROM;
    c->onset_low = p->onset.low_open || isnan(p->onset.low) ? -INFINITY : p->onset.low;
    c->onset_high = p->onset.high_open || isnan(p->onset.high) ? INFINITY : p->onset.high;
    /* where no rise shows the words name no plateau either */
    if (p->rise.t > p->rise.point && !isnan(p->onset.at) &&
        (isfinite(c->onset_low) || isfinite(c->onset_high))) {
        add_layer(c, (pl_layer){ .kind = PL_LAYER_SPANS,
                                 .name = "where the plateau starts: range",
                                 .n = 1,
                                 .low = &c->onset_low,
                                 .high = &c->onset_high,
                                 .hue = PL_HUE_GREEN });
        add_layer(c, (pl_layer){ .kind = PL_LAYER_UPRIGHTS,
                                 .name = "best figure",
                                 .n = 1,
                                 .x = &p->onset.at,
                                 .hue = PL_HUE_GREEN,
                                 .dashed = true });
    }
    if (p->ngrid) {
        add_layer(c, (pl_layer){ .kind = PL_LAYER_BAND,
                                 .n = p->ngrid,
                                 .x = p->grid_x,
                                 .low = p->grid_low,
                                 .high = p->grid_high,
                                 .hue = PL_HUE_GREY });
        add_layer(c, (pl_layer){ .kind = PL_LAYER_LINE,
                                 .name = "curve, and where its mean may lie",
                                 .n = p->ngrid,
                                 .x = p->grid_x,
                                 .y = p->grid_y,
                                 .hue = PL_HUE_INK });
    }
    add_working_range(p, c);
    rc = add_dots(a, f, p, c, false, d);
    if (!rc)
        rc = add_dots(a, f, p, c, true, d);
    return rc ? rc : add_means(a, p, c, d);
}

pl_code pl_picture_curve(pl_arena *a, const pl_fit_answer *f, const pl_plateau *p,
                         const pl_plot **out, pl_diags *d)
{
    curve_picture *c = PL_NEW(a, curve_picture);

    *out = c ? &c->plot : NULL;
    return c ? curve_plot(a, f, p, c, d) : pl_nomem(d);
}

/* ------------------------------------------------------ what to make next --- */

/* A pile of glue-ups at each place, from just above the axis. */
static pl_code add_round(pl_arena *a, const pl_plateau *p, const pl_round_picture *r,
                         curve_picture *c, pl_diags *d)
{
    size_t all = 0, highest = 0, n = 0;
    double *x, *y, step;
    const char **words;

    for (size_t i = 0; i < r->n; i++) {
        all += r->count[i];
        highest = r->count[i] > highest ? r->count[i] : highest;
    }
    step = fmin(0.055, 0.45 / (double)highest) * p->height;
    x = PL_NEWN(a, all, double);
    y = PL_NEWN(a, all, double);
    words = PL_NEWN(a, all, const char *);
    if (!x || !y || !words)
        return pl_nomem(d);
    for (size_t i = 0; i < r->n; i++)
        for (size_t k = 0; k < r->count[i]; k++) {
            x[n] = r->x[i];
            y[n] = 0.12 * p->height + step * (double)k;
            words[n++] = pl_arena_printf(a, "to make: %zu glue-up%s at %s %s", r->count[i],
                                         r->count[i] == 1 ? "" : "s", pl_text_number(a, r->x[i], 3),
                                         p->over_unit);
        }
    add_layer(c, (pl_layer){ .kind = PL_LAYER_POINTS,
                             .name = "a glue-up to make next",
                             .n = n,
                             .x = x,
                             .y = y,
                             .words = words,
                             .hue = PL_HUE_VIOLET,
                             .shape = PL_SHAPE_TRIANGLE });
    return PL_OK;
}

/* A stroke about the best figure, as wide as the range is expected to come out. */
static void add_expected(const pl_plateau *p, const pl_round_picture *r, curve_picture *c)
{
    double at = p->onset.at;

    if (isnan(r->width) || isnan(at))
        return;
    c->range_low = r->ratio ? at / sqrt(r->width) : at - r->width / 2;
    c->range_high = r->ratio ? at * sqrt(r->width) : at + r->width / 2;
    c->range_at = 0.06 * p->height;
    add_layer(c, (pl_layer){ .kind = PL_LAYER_ACROSS,
                             .name = "how wide that range should be then",
                             .n = 1,
                             .y = &c->range_at,
                             .low = &c->range_low,
                             .high = &c->range_high,
                             .hue = PL_HUE_VIOLET });
}

pl_code pl_picture_round(pl_arena *a, const pl_fit_answer *f, const pl_plateau *p,
                         const pl_round_picture *r, const pl_plot **out, pl_diags *d)
{
    curve_picture *c = PL_NEW(a, curve_picture);
    pl_code rc = c ? curve_plot(a, f, p, c, d) : pl_nomem(d);

    if (rc)
        return rc;
    *out = &c->plot;
    for (size_t i = 0; i < c->plot.nlayers; i++) /* its stroke would lie beside the expected one */
        if (c->layers[i].kind == PL_LAYER_ACROSS)
            c->layers[i].name = NULL, c->layers[i].n = 0;
    c->plot.title = pl_arena_printf(a, "%s: what to make next", pl_say_group(a, p));
    add_expected(p, r, c);
    return add_round(a, p, r, c, d);
}

/* ---------------------------------------------------- can it be trusted? --- */

typedef enum against { /* what residuals are drawn against */
                       AGAINST_ORDER,
                       AGAINST_LEVEL,
                       AGAINST_BOARD,
                       AGAINST_RIG,
                       AGAINST_DAY,
                       AGAINST_SCORE,
                       NAGAINST
} against;

static const struct {
    const char *title, *column, *label, *words;
} residuals[NAGAINST] = {
    { "Residuals in run order", "glue_order", "order of gluing",
      "Readings less the fitted curve, in the order they were made. A drift or a step here is not "
      "the pressure's doing." },
    { "Residuals by level", NULL, NULL,
      "Readings less the fitted curve, by what was made. The curve is wrong where they lie on one "
      "side; ranges are wrong where they fan out." },
    { "Residuals by board", "board", "board",
      "Readings less the fitted curve and the board's own step. A board that scatters more than "
      "the "
      "others has something in it." },
    { "Residuals by rig", "rig", "rig",
      "Readings less the fitted curve, by the rig that pressed. A step from one rig to the next is "
      "a difference of rigs, or of the levels that they make." },
    { "Residuals by day", "session", "session",
      "Readings less the fitted curve, by session. A day apart from the others is a bad or a good "
      "day." },
    { "Residuals against their normal scores", NULL, "normal score",
      "Readings less the fitted curve, sorted, against where as many even draws from a bell curve "
      "would lie. A straight row is as it should be; ends that bend away are joints far off." },
};

/* Distinct names of a column over the units of all groups, B2 before B10. */
typedef struct names {
    const char **items;
    double *at; /* 1, 2, ... */
    size_t n;
} names;

static int by_name(const void *a, const void *b)
{
    return strverscmp(*(const char *const *)a, *(const char *const *)b);
}

static size_t place_of(const names *all, const char *name)
{
    size_t k = 0;

    while (k < all->n && strcmp(all->items[k], name) != 0)
        k++;
    return k;
}

static pl_code names_of(pl_arena *a, const pl_fit_answer *f, const pl_column *c, names *out,
                        pl_diags *d)
{
    *out = (names){ .items = PL_NEWN(a, f->table->nrow, const char *),
                    .at = PL_NEWN(a, f->table->nrow, double) };
    if (!out->items || !out->at)
        return pl_nomem(d);
    for (size_t g = 0; g < f->nplateau; g++)
        for (size_t i = 0; i < f->plateaus[g].nunit; i++) {
            const char *name = c->text[f->plateaus[g].unit_row[i]];

            if (place_of(out, name) == out->n)
                out->items[out->n++] = name;
        }
    qsort(out->items, out->n, sizeof *out->items, by_name);
    for (size_t k = 0; k < out->n; k++)
        out->at[k] = (double)k + 1;
    return PL_OK;
}

/* Places of one group's units along the axis. all: of what is named; NULL: numbers. */
static pl_code places(pl_arena *a, const pl_fit_answer *f, const pl_plateau *p, against what,
                      const names *all, const double **out, pl_diags *d)
{
    const pl_column *c = all ? column(f, residuals[what].column) : NULL;
    double *x = PL_NEWN(a, p->nunit, double);

    *out = x;
    if (!x)
        return pl_nomem(d);
    if (what == AGAINST_SCORE)
        return pl_trust_scores(a, p->unit_residual, p->nunit, out, d);
    if (what == AGAINST_LEVEL)
        *out = p->unit_x;
    else if (c)
        for (size_t i = 0; i < p->nunit; i++)
            x[i] = (double)place_of(all, c->text[p->unit_row[i]]) + 1;
    else {
        c = f->study ? column(f, residuals[what].column) : NULL; /* the order of gluing */
        for (size_t i = 0; i < p->nunit; i++)
            x[i] = c && c->number ? c->number[p->unit_row[i]] : (double)p->unit_row[i] + 1;
    }
    return PL_OK;
}

/* Whether there is something to see, and the axis. */
static pl_code lay_axis(pl_arena *a, const pl_fit_answer *f, against what, pl_axis *x, names *all,
                        bool *named, bool *shown, pl_diags *d)
{
    const pl_column *c = residuals[what].column ? column(f, residuals[what].column) : NULL;
    pl_code rc = PL_OK;

    *named = what == AGAINST_BOARD || what == AGAINST_RIG || what == AGAINST_DAY;
    *shown = !*named || (f->study && c);
    x->label = what == AGAINST_ORDER && !f->study ? "row" : residuals[what].label;
    if (what == AGAINST_LEVEL)
        x->label = axis_label(a, f->plateaus[0].over, f->plateaus[0].over_unit);
    if (*named && *shown)
        rc = names_of(a, f, c, all, d);
    if (rc || !*named || !*shown)
        return rc;
    *shown = all->n > 1;
    x->low = 0.5;
    x->high = (double)all->n + 0.5;
    x->ticks = all->at;
    x->tick_words = all->items;
    x->nticks = all->n;
    return PL_OK;
}

static pl_code describe(pl_arena *a, const pl_fit_answer *f, against what, pl_plot *plot,
                        bool *shown, pl_diags *d)
{
    static const double zero = 0;
    pl_layer *layers = PL_NEWN(a, f->nplateau + 1, pl_layer);
    bool named = false;
    names all = { 0 };
    pl_code rc;

    *plot = (pl_plot){ .title = residuals[what].title, .layers = layers };
    *shown = false;
    if (!layers)
        return pl_nomem(d);
    rc = lay_axis(a, f, what, &plot->x, &all, &named, shown, d);
    for (size_t g = 0; g < f->nplateau && !rc && *shown; g++) {
        const pl_plateau *p = &f->plateaus[g];
        const char **words = PL_NEWN(a, p->nunit, const char *);
        const double *x = NULL;

        if (!words)
            return pl_nomem(d);
        for (size_t i = 0; i < p->nunit; i++)
            words[i] = hover(a, f, p, p->unit_row[i]);
        rc = places(a, f, p, what, named ? &all : NULL, &x, d);
        plot->y.label = axis_label(a, "reading less curve", p->unit);
        layers[plot->nlayers++] = (pl_layer){ .kind = PL_LAYER_POINTS,
                                              .name = pl_say_group(a, p),
                                              .n = p->nunit,
                                              .x = x,
                                              .y = p->unit_residual,
                                              .words = words,
                                              .hue = hues[g % NHUES],
                                              .shape = shapes[g % NHUES],
                                              .spread = named };
    }
    layers[plot->nlayers++] = (pl_layer){
        .kind = PL_LAYER_LEVELS, .n = 1, .y = &zero, .hue = PL_HUE_GREY
    };
    return rc;
}

pl_code pl_picture_trust(pl_arena *a, pl_page *page, const pl_fit_answer *f, pl_diags *d)
{
    pl_code rc = PL_OK;

    for (against what = AGAINST_ORDER; what < NAGAINST && !rc; what++) {
        pl_plot plot;
        bool shown;

        rc = describe(a, f, what, &plot, &shown, d);
        if (!rc && shown)
            rc = pl_page_plot(page, &plot, residuals[what].words, d);
    }
    return rc;
}

/* ---------------------------------------------------------- the plan ------- */

static pl_code plan_group(pl_arena *a, const pl_study *s, const pl_plan *p, int group_factor,
                          int group, pl_layer *out, pl_diags *d)
{
    size_t pressed = (size_t)pl_study_pressed(s), n = 0;
    const pl_factor *factor = &s->factors[pressed];
    double scale, offset, *x = PL_NEWN(a, p->nglue_up, double),
                          *y = PL_NEWN(a, p->nglue_up, double);
    const char **words = PL_NEWN(a, p->nglue_up, const char *), *why;

    if (!x || !y || !words)
        return pl_nomem(d);
    if (pl_units_scale(a, factor->unit, factor->kind, &scale, &offset, &why))
        scale = 1;
    for (size_t i = 0; i < p->nglue_up; i++) {
        const pl_glue_up *g = &p->glue_ups[i];
        const int *levels = &p->treatments[g->treatment * p->nfactor];

        if (g->spare || (group_factor >= 0 && levels[group_factor] != group))
            continue;
        x[n] = g->glue_order;
        y[n] = factor->levels[levels[pressed]].si / scale;
        words[n++] = pl_arena_printf(a, "%s, session %u: %s", g->label, g->session,
                                     factor->levels[levels[pressed]].text);
    }
    *out = (pl_layer){ .kind = PL_LAYER_POINTS,
                       .n = n,
                       .x = x,
                       .y = y,
                       .words = words,
                       .hue = hues[(size_t)group % NHUES],
                       .shape = shapes[(size_t)group % NHUES] };
    if (group_factor >= 0)
        out->name = s->factors[group_factor].levels[group].text;
    return PL_OK;
}

static pl_code plan_plot(pl_arena *a, const pl_study *s, const pl_plan *p, pl_plot *plot,
                         pl_diags *d)
{
    const pl_factor *factor = &s->factors[pl_study_pressed(s)];
    int by = s->question.for_each;
    size_t ngroup = by >= 0 ? s->factors[by].nlevel : 1;
    pl_layer *layers = PL_NEWN(a, ngroup, pl_layer);
    pl_code rc = layers ? PL_OK : pl_nomem(d);

    *plot = (pl_plot){ .title = "The plan's order",
                       .x.label = "order of gluing",
                       .y.label = axis_label(a, factor->name, factor->unit),
                       .layers = layers,
                       .nlayers = ngroup };
    plot->y.log = factor->levels[0].si > 0 &&
                  factor->levels[factor->nlevel - 1].si / factor->levels[0].si > LOG_FROM;
    for (size_t g = 0; g < ngroup && !rc; g++)
        rc = plan_group(a, s, p, by, (int)g, &layers[g], d);
    return rc;
}

pl_code pl_picture_plan(pl_arena *a, const pl_study *s, const pl_plan *p, const pl_plot **out,
                        pl_diags *d)
{
    pl_plot *plot = PL_NEW(a, pl_plot);

    *out = NULL;
    if (!plot)
        return pl_nomem(d);
    if (pl_study_pressed(s) < 0)
        return PL_OK;
    *out = plot;
    return plan_plot(a, s, p, plot, d);
}
