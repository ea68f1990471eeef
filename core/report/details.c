/* Tables and statistics terms of a fit. Each term used here is explained by
 * `platen help words`. */
#include "report/details.h"

#include <math.h>

#include "report/bond.h"
#include "report/groups.h"
#include "report/responses.h"
#include "report/say.h"

#define DIGITS 5 /* enough to compare with a published table */

void pl_details_beside(pl_grid *g, double x, double se)
{
    int decimals = se > 0 && isfinite(se) ? 2 - (int)floor(log10(se)) : -1;

    if (decimals < 0 || decimals > 12 || !isfinite(x))
        pl_grid_number(g, x, DIGITS);
    else
        pl_grid_cellf(g, "%.*f", decimals, x);
}

pl_grid *pl_details_levels(pl_arena *a, const pl_fit_answer *f, const pl_plateau *p)
{
    pl_grid *g = pl_grid_new(a);

    pl_grid_column(g, PL_SIDE_LEFT, "level", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "made", p->over_unit);
    pl_grid_column(g, PL_SIDE_RIGHT, f->study ? "glue-ups" : "units", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "joints", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "wood breaks", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "mean", p->unit);
    pl_grid_column(g, PL_SIDE_RIGHT, "standard error", p->unit);
    for (size_t i = 0; i < p->nlevel; i++) {
        const pl_level_mean *m = &p->levels[i];

        pl_grid_cell(g, m->level);
        pl_grid_number(g, m->at, 3);
        pl_grid_cellf(g, "%zu", m->units);
        pl_grid_cellf(g, "%zu", m->specimens);
        pl_grid_cellf(g, "%zu", m->wood);
        pl_details_beside(g, m->mean, m->se);
        pl_details_beside(g, m->se, m->se);
    }
    return g;
}

static char *curve_name(pl_arena *a, const pl_curve_fit *c)
{
    return pl_arena_printf(a, "%s%s%s%s%s", c->name, c->log_x ? " in log x" : "",
                           c->limit ? " (its limit: a " : "", c->limit ? c->limit : "",
                           c->limit ? ")" : "");
}

pl_grid *pl_details_curves(pl_arena *a, const pl_plateau *p)
{
    pl_grid *g = pl_grid_new(a);

    pl_grid_column(g, PL_SIDE_LEFT, "curve", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "weight", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "AICc", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "residual sd", p->unit);
    pl_grid_column(g, PL_SIDE_RIGHT, "df", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "lack of fit F", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "p", NULL);
    for (size_t i = 0; i < p->ncurve; i++) {
        const pl_curve_fit *c = &p->curves[i];

        pl_grid_cell(g, curve_name(a, c));
        if (c->averaged)
            pl_grid_number(g, c->weight, 3);
        else
            pl_grid_cell(g, "shown only");
        pl_grid_number(g, c->aicc, DIGITS);
        pl_grid_number(g, c->residual.sd, DIGITS);
        pl_grid_number(g, c->residual.df, 6);
        pl_grid_number(g, c->lack_of_fit.f, 4);
        pl_grid_cell(g, pl_say_p(a, c->lack_of_fit.p));
    }
    return g;
}

void pl_details_coef_columns(pl_grid *g)
{
    pl_grid_column(g, PL_SIDE_RIGHT, "estimate", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "standard error", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "df", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "low", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "high", NULL);
}

void pl_details_coef_cells(pl_grid *g, const pl_coef *c)
{
    pl_grid_number(g, c->estimate, 11);
    pl_grid_number(g, c->se, 11);
    pl_grid_number(g, c->df, 6);
    pl_grid_number(g, c->low, 6);
    pl_grid_number(g, c->high, 6);
}

pl_grid *pl_details_params(pl_arena *a, const pl_plateau *p)
{
    pl_grid *g = pl_grid_new(a);

    pl_grid_column(g, PL_SIDE_LEFT, "curve", NULL);
    pl_grid_column(g, PL_SIDE_LEFT, "number", NULL);
    pl_details_coef_columns(g);
    for (size_t i = 0; i < p->ncurve; i++)
        for (size_t k = 0; k < p->curves[i].nparam; k++) {
            pl_grid_cell(g, k ? "" : curve_name(a, &p->curves[i]));
            pl_grid_cell(g, p->curves[i].params[k].name);
            pl_details_coef_cells(g, &p->curves[i].params[k]);
        }
    return g;
}

/* "level 1.4", "levels 0.1 to 0.2" */
static char *level_span(pl_arena *a, const pl_plateau *p, size_t from, size_t to)
{
    return from == to
               ? pl_arena_printf(a, "level %s", p->levels[to].level)
               : pl_arena_printf(a, "levels %s to %s", p->levels[from].level, p->levels[to].level);
}

static char *step_words(pl_arena *a, const pl_plateau *p, const pl_step *s)
{
    if (isnan(s->t) || s->lower_to >= p->nlevel || s->upper_to >= p->nlevel)
        return pl_arena_str(a, "not to be judged");
    return pl_arena_printf(a, "%s less %s: %s (standard error %s), t %s against %s",
                           level_span(a, p, s->upper_from, s->upper_to),
                           level_span(a, p, s->lower_from, s->lower_to),
                           pl_text_number(a, s->difference, 4), pl_text_number(a, s->se, 3),
                           pl_text_number(a, s->t, 4), pl_text_number(a, s->point, 4));
}

static char *limit_text(pl_arena *a, double x, bool open)
{
    return open ? pl_arena_str(a, "open") : pl_text_number(a, x, 4);
}

static void say_without(const pl_bootstrap *b, pl_text *t)
{
    if (b->without)
        pl_text_add(t, "; %zu draws have no onset and count as open ends", b->without);
    pl_text_put(t, ".\n");
}

/* The bootstrap beside the profile; both without what a rig may do. */
static void add_bootstrap(pl_arena *a, const pl_plateau *p, pl_text *t)
{
    const pl_bootstrap *b = p->bootstrap;
    const pl_bounded *o = &p->onset_itself;

    if (!b)
        return;
    pl_text_add(t,
                "Onset by the profile: %s (%s to %s). Bootstrap beside it, %zu draws from the fit "
                "(seed %llu): %s (%s to %s)",
                pl_text_number(a, o->at, 4), limit_text(a, o->low, o->low_open),
                limit_text(a, o->high, o->high_open), b->draws, (unsigned long long)b->seed,
                pl_text_number(a, b->onset.at, 4), limit_text(a, b->onset.low, b->onset.low_open),
                limit_text(a, b->onset.high, b->onset.high_open));
    say_without(b, t);
    for (size_t i = 1; i < p->nbootstrap; i++) {
        b = &p->bootstrap[i];
        pl_text_add(t, "With %s in place of normal scatter: %s (%s to %s)",
                    b->block ? pl_arena_printf(a, "the residuals of whole levels of %s", b->block)
                             : "the joints' own residuals",
                    pl_text_number(a, b->onset.at, 4),
                    limit_text(a, b->onset.low, b->onset.low_open),
                    limit_text(a, b->onset.high, b->onset.high_open));
        say_without(b, t);
    }
}

/* How units were taken to scatter, where it is not alike and with fixed blocks. */
static void add_scatter(pl_arena *a, const pl_plateau *p, pl_text *t)
{
    if (p->even_at > 0)
        pl_text_add(
            t,
            "Scatter taken in proportion to the mean: units are weighted by 1/fitted^2, and "
            "the sds stand at %s%s%s (%s %% of it).\n",
            pl_text_number(a, p->even_at, 4), p->unit[0] ? " " : "", p->unit,
            pl_text_number(a, 100 * p->error_sd / p->even_at, 3));
    if (!p->beside)
        return;
    pl_text_put(t, "Random blocks:");
    for (size_t i = 0; i < p->nvariance; i++)
        pl_text_add(t, " %s sd %s%s;", p->variance[i].name, pl_text_number(a, p->variance[i].sd, 4),
                    p->variance[i].at_zero ? " (no more than chance makes)" : "");
    pl_text_add(t, " %s. With %s the onset is at %s (%s to %s).\n",
                p->recovered_leads ? "the answer recovers what blocks tell between them"
                                   : "the answer takes differences within blocks only",
                p->recovered_leads ? "differences within blocks only"
                                   : "what blocks tell between them",
                pl_text_number(a, p->beside->onset.at, 4),
                limit_text(a, p->beside->onset.low, p->beside->onset.low_open),
                limit_text(a, p->beside->onset.high, p->beside->onset.high_open));
}

char *pl_details_state(pl_arena *a, const pl_plateau *p)
{
    pl_text t;

    pl_text_init(&t, a);
    pl_text_add(&t, "State: %s", pl_state_name(p->state));
    if (p->reason)
        pl_text_add(&t, " (%s)", p->reason);
    pl_text_add(&t, ". Largest rise: %s. Largest fall: %s.", step_words(a, p, &p->rise),
                step_words(a, p, &p->fall));
    if (p->error_df > 0)
        pl_text_add(&t, " Error between units at one level: sd %s%s%s on %s df.",
                    pl_text_number(a, p->error_sd, 4), p->unit[0] ? " " : "", p->unit,
                    pl_text_number(a, p->error_df, 4));
    return pl_text_done(&t);
}

#define TERMINAL 80

void pl_details_add(pl_text *t, pl_arena *a, const char *head, const pl_grid *g)
{
    pl_text_add(t, "\n%s\n", head);
    pl_text_put(t, pl_grid_text(a, g, TERMINAL));
}

void pl_details_body(pl_arena *a, const pl_fit_answer *f, pl_text *t)
{
    for (size_t i = 0; i < f->nplateau; i++) {
        const pl_plateau *p = &f->plateaus[i];
        const char *who = f->nplateau > 1 ? pl_arena_printf(a, "%s: ", pl_say_group(a, p)) : "";

        if (p->nlevel)
            pl_details_add(t, a, pl_arena_printf(a, "%slevels", who), pl_details_levels(a, f, p));
        pl_text_add(t, "%s\n", pl_details_state(a, p));
        add_scatter(a, p, t);
        add_bootstrap(a, p, t);
        pl_details_add(t, a, pl_arena_printf(a, "%scurves", who), pl_details_curves(a, p));
        pl_details_add(t, a, pl_arena_printf(a, "%snumbers of the curves", who),
                       pl_details_params(a, p));
    }
    pl_groups_details(a, f, t);
    if (f->linear)
        pl_linear_details(a, f->linear, t);
}

char *pl_fit_details(pl_arena *a, const pl_fit_answer *f)
{
    pl_text t;

    pl_text_init(&t, a);
    pl_text_put(&t, "\nDetails (terms: platen help words)\n");
    pl_details_body(a, f, &t);
    pl_drawn_details(a, f, &t);
    if (f->bounds)
        pl_bounds_details(a, f->bounds, &t);
    if (f->bond)
        pl_bond_details(a, f, &t);
    pl_responses_details(a, f, &t);
    return pl_text_done(&t);
}
