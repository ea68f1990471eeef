/* Groups beside each other: whether they need different settings, in words, tables and JSON. */
#include <math.h>

#include "report/details.h"
#include "report/groups.h"
#include "report/json_parts.h"
#include "report/say.h"

static const pl_between *between(const pl_fit_answer *f)
{
    return f->nplateau ? f->plateaus[0].between : NULL;
}

/* ---- words ---- */

static const char *times(pl_arena *a, double x, int way)
{
    return pl_say_bare(a, x, 2, way);
}

static void say_ratio(pl_arena *a, const pl_onset_ratio *r, const char *over, pl_text *t)
{
    const pl_bounded *b = &r->ratio;

    pl_text_add(t, "%s beside %s: ", pl_say_first(a, r->group), r->against);
    if (b->low_open && b->high_open) {
        pl_text_add(t, "whether the two need different %s these joints cannot tell.\n", over);
        return;
    }
    if (b->low > 1 || b->high < 1)
        pl_text_add(t, "the two need different %s. ", over);
    else
        pl_text_add(t, "these joints do not show that the two need different %s. ", over);
    pl_text_add(t, "The point where more of it stops helping %s is about %s times that %s, and ",
                pl_arena_printf(a, "for %s", r->group), times(a, b->at, 0),
                pl_arena_printf(a, "for %s", r->against));
    if (b->low_open)
        pl_text_add(t, "at most %s times", times(a, b->high, 1));
    else if (b->high_open)
        pl_text_add(t, "at least %s times", times(a, b->low, -1));
    else
        pl_text_add(t, "between %s and %s times", times(a, b->low, -1), times(a, b->high, 1));
    pl_text_put(t, " (right about nineteen times in twenty).\n");
}

void pl_groups_words(pl_arena *a, const pl_fit_answer *f, pl_text *t)
{
    const pl_between *b = between(f);

    if (b && b->nratio)
        pl_text_put(t, "\n");
    for (size_t i = 0; b && i < b->nratio; i++)
        say_ratio(a, &b->ratios[i], f->plateaus[0].over, t);
}

/* ---- tables ---- */

static void limit_cell(pl_grid *g, double x, bool open)
{
    if (open)
        pl_grid_cell(g, "open");
    else
        pl_grid_number(g, x, 4);
}

pl_grid *pl_groups_ratios(pl_arena *a, const pl_between *b)
{
    pl_grid *g = pl_grid_new(a);

    pl_grid_column(g, PL_SIDE_LEFT, "onset of", NULL);
    pl_grid_column(g, PL_SIDE_LEFT, "over that of", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "ratio", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "low", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "high", NULL);
    for (size_t i = 0; i < b->nratio; i++) {
        const pl_bounded *r = &b->ratios[i].ratio;

        pl_grid_cell(g, b->ratios[i].group);
        pl_grid_cell(g, b->ratios[i].against);
        pl_grid_number(g, r->at, 4);
        limit_cell(g, r->low, r->low_open);
        limit_cell(g, r->high, r->high_open);
    }
    return g;
}

pl_grid *pl_groups_shapes(pl_arena *a, const pl_between *b)
{
    pl_grid *g = pl_grid_new(a);

    pl_grid_column(g, PL_SIDE_LEFT, "curve", NULL);
    pl_grid_column(g, PL_SIDE_LEFT, "number", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "estimate", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "standard error", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "AICc", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "with own shapes", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "F", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "p", NULL);
    for (size_t i = 0; i < b->nshared; i++)
        for (size_t k = 0; k < b->shared[i].nparam; k++) {
            const pl_shared_shape *s = &b->shared[i];

            pl_grid_cellf(g, "%s%s", k ? "" : s->name, k || !s->log_x ? "" : " in log x");
            pl_grid_cell(g, s->params[k].name);
            pl_grid_number(g, s->params[k].estimate, 6);
            pl_grid_number(g, s->params[k].se, 4);
            pl_grid_number(g, k ? NAN : s->aicc, 5);
            pl_grid_number(g, k ? NAN : s->aicc_own, 5);
            pl_grid_number(g, k ? NAN : s->own.f, 4);
            pl_grid_cell(g, k ? "" : pl_say_p(a, s->own.p));
        }
    return g;
}

void pl_groups_details(pl_arena *a, const pl_fit_answer *f, pl_text *t)
{
    const pl_between *b = between(f);

    if (b && b->nratio)
        pl_details_add(t, a, "ratios of onsets, curves of their own", pl_groups_ratios(a, b));
    if (b && b->nshared)
        pl_details_add(t, a, "curves with one shape for all groups", pl_groups_shapes(a, b));
}

/* ---- JSON ---- */

void pl_groups_json(pl_jval *object, const pl_fit_answer *f)
{
    const pl_between *b = between(f);
    pl_jval *o, *list;

    if (!b)
        return;
    o = pl_jadd_object(object, "between_groups");
    pl_jadd_text(o, "factor", b->factor);
    list = pl_jadd_array(o, "onset_ratios");
    for (size_t i = 0; i < b->nratio; i++) {
        pl_jval *r = pl_jadd_object(list, NULL);

        pl_jadd_text(r, "level", b->ratios[i].group);
        pl_jadd_text(r, "against", b->ratios[i].against);
        pl_json_bounded(r, "ratio", &b->ratios[i].ratio);
    }
    list = pl_jadd_array(o, "shared_shape");
    for (size_t i = 0; i < b->nshared; i++) {
        const pl_shared_shape *s = &b->shared[i];
        pl_jval *r = pl_jadd_object(list, NULL), *params, *own;

        pl_jadd_text(r, "curve", s->name);
        pl_jadd_text(r, "scale", s->log_x ? "log-x" : "x");
        if (s->limit)
            pl_jadd_text(r, "limit", s->limit);
        pl_jadd_number(r, "aicc", s->aicc);
        pl_jadd_number(r, "aicc_own_shapes", s->aicc_own);
        params = pl_jadd_array(r, "parameters");
        for (size_t k = 0; k < s->nparam; k++)
            pl_json_coef(params, &s->params[k]);
        pl_json_residual(r, &s->residual);
        own = pl_jadd_object(r, "own_shapes");
        pl_jadd_number(own, "f", s->own.f);
        pl_jadd_number(own, "df1", s->own.df1);
        pl_jadd_number(own, "df2", s->own.df2);
        pl_jadd_number(own, "p", s->own.p);
    }
}
