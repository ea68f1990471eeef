/* The answer of one group: level means, averaged curve, onset and end, state. Curves and weights
 * are plateau.c. */
#include <math.h>

#include "fit/bootstrap.h"
#include "fit/plateau_group.h"

#define PICTURE_POINTS 144 /* over all steps between levels */

static pl_code fill_levels(const pl_plateau_group *g, pl_plateau *p)
{
    p->levels = g->data.levels;
    p->nlevel = g->data.K;
    for (size_t l = 0; l < p->nlevel && g->all.fine; l++) {
        p->levels[l].mean = g->all.mean[l];
        p->levels[l].se = g->all.residual.sd * sqrt(g->all.var[l]);
    }
    p->error_df = g->all.residual.df;
    p->error_sd = g->all.fine && g->all.residual.df > 0 ? g->all.residual.sd : NAN;
    return PL_OK;
}

/* Between neighbouring levels evenly, so that levels at constant ratio are served like those at
 * equal steps. */
pl_code pl_plateau_picture_x(pl_arena *a, const double *places, size_t nplace, const double **out,
                             size_t *n, pl_diags *d)
{
    size_t steps = nplace > 1 ? nplace - 1 : 0;
    size_t parts = steps ? PICTURE_POINTS / steps : 0;
    double *x;

    parts = parts < 4 ? 4 : parts > 24 ? 24 : parts;
    x = PL_NEWN(a, steps * parts + 1, double);
    *n = 0;
    *out = x;
    if (!x)
        return pl_nomem(d);
    for (size_t k = 0; k < steps; k++)
        for (size_t i = 0; i < parts; i++)
            x[(*n)++] = places[k] + (places[k + 1] - places[k]) * (double)i / (double)parts;
    if (steps)
        x[(*n)++] = places[steps];
    return PL_OK;
}

static pl_code picture_x(const pl_plateau_group *g, const double **out, size_t *n)
{
    return pl_plateau_picture_x(g->a, g->places, g->nplace, out, n, g->d);
}

/* value, se and df of every averaged curve at its own place or at x. */
static void at_models(const pl_plateau_group *g, const double *x, double *value, double *se,
                      double *df, double *weight)
{
    for (size_t k = 0; k < g->naveraged; k++) {
        const pl_curve_model *m = g->averaged[k];
        double v;

        value[k] = pl_curve_model_mean(m, x ? *x : m->top_at, &v);
        se[k] = sqrt(fmax(v, 0));
        df[k] = m->df;
        weight[k] = m->weight;
    }
}

static pl_code fill_average(const pl_plateau_group *g, pl_plateau *p)
{
    const size_t K = g->naveraged;
    double *y, *low, *high, *w = PL_NEWN(g->a, 4 * K, double);
    pl_code rc = picture_x(g, &p->grid_x, &p->ngrid);

    y = PL_NEWN(g->a, p->ngrid, double);
    low = PL_NEWN(g->a, p->ngrid, double);
    high = PL_NEWN(g->a, p->ngrid, double);
    if (rc)
        return rc;
    if (!w || !y || !low || !high)
        return pl_nomem(g->d);
    if (!K) {
        p->ngrid = 0;
        return PL_OK;
    }
    at_models(g, NULL, w, w + K, w + 2 * K, w + 3 * K);
    pl_average_limits(w, w + K, w + 2 * K, w + 3 * K, K, &p->height, &p->height_low,
                      &p->height_high);
    for (size_t i = 0; i < p->ngrid; i++) {
        at_models(g, &p->grid_x[i], w, w + K, w + 2 * K, w + 3 * K);
        pl_average_limits(w, w + K, w + 2 * K, w + 3 * K, K, &y[i], &low[i], &high[i]);
    }
    p->grid_y = y;
    p->grid_low = low;
    p->grid_high = high;
    return PL_OK;
}

static pl_code fill_curves(const pl_plateau_group *g, pl_plateau *p)
{
    const double *x = NULL;
    size_t n = 0;
    pl_code rc = picture_x(g, &x, &n);

    p->curves = PL_NEWN(g->a, g->nmodel, pl_curve_fit);
    if (!p->curves)
        return pl_nomem(g->d);
    for (size_t k = 0; k < g->nmodel && !rc; k++) {
        rc = pl_curve_model_report(g->a, &g->models[k], &g->pure.residual, x, n, &p->curves[k],
                                   g->d);
        p->curves[k].weight = g->models[k].weight;
        for (size_t i = 0; i < g->naveraged; i++)
            p->curves[k].averaged = p->curves[k].averaged || g->averaged[i] == &g->models[k];
    }
    p->ncurve = g->nmodel;
    return rc;
}

/* Each unit against the averaged curve (the level means when there is none) with its block
 * effects, which follow from what the curve leaves. */
static pl_code fill_units(const pl_plateau_group *g, pl_plateau *p)
{
    const size_t n = g->nplace >= PL_PLATEAU_LEVELS_LEAST ? g->nknown : 0;
    size_t shown = n;
    double *x = PL_NEWN(g->a, n, double), *y = PL_NEWN(g->a, n, double);
    double *adjusted = PL_NEWN(g->a, n, double), *fitted = PL_NEWN(g->a, n, double);
    double *residual = PL_NEWN(g->a, n, double);
    size_t *row = PL_NEWN(g->a, n, size_t);
    long double *effect = PL_NEWN(g->a, n, long double);

    if (!x || !y || !adjusted || !fitted || !residual || !row || !effect)
        return pl_nomem(g->d);
    for (size_t k = 0; k < n; k++) {
        size_t unit = g->known[k];

        x[k] = g->data.x[unit];
        y[k] = g->data.y[unit];
        row[k] = g->data.row[unit];
        fitted[k] = 0;
        for (size_t i = 0; i < g->naveraged; i++)
            fitted[k] += g->averaged[i]->weight * pl_curve_model_mean(g->averaged[i], x[k], NULL);
        if (!g->naveraged)
            fitted[k] = g->all.fine ? g->all.mean[g->data.level[unit]] : NAN;
        effect[k] = (long double)y[k] - fitted[k];
    }
    if (n)
        pl_curve_rows_block_part(&g->rows, effect);
    while (shown && g->data.reference && g->data.reference[g->known[shown - 1]])
        shown--; /* reference joints stand behind the others */
    for (size_t k = 0; k < n; k++) {
        fitted[k] += (double)effect[k];
        residual[k] = y[k] - fitted[k];
        adjusted[k] = y[k] - (double)effect[k];
    }
    p->nunit = shown;
    p->unit_x = x;
    p->unit_y = y;
    p->unit_adjusted = adjusted;
    p->unit_fitted = fitted;
    p->unit_residual = residual;
    p->unit_row = row;
    return PL_OK;
}

/* The second-highest level's place; NAN when there is none. */
static double second_highest(const pl_plateau_group *g)
{
    return g->nplace > 1 ? g->places[g->nplace - 2] : NAN;
}

/* Curves that may fall again after they have risen hold most of the weight. */
static bool can_fall(const pl_plateau_group *g)
{
    double weight = 0;

    for (size_t k = 0; k < g->naveraged; k++)
        weight += g->averaged[k]->monotone ? 0 : g->averaged[k]->weight;
    return weight > 0.5;
}

/* DESIGN "State". A fall that no curve can follow pulls the top of every curve down, and the
 * onset with it: it is then no figure to set a rig by, and none is advised. Nor is one where the
 * surely safe side of the onset may already be harm. */
static void decide(const pl_plateau_group *g, pl_plateau *p)
{
    const pl_contrasts *c = &g->contrasts;
    const double second = second_highest(g);

    p->state = PL_UNDECIDED;
    if (!c->tested) {
        if (g->all.fine && !(g->all.residual.df > 0))
            p->reason = "levels-not-repeated";
        else if (g->data.K > PL_CONTRAST_LEVELS_MOST)
            p->reason = "too-many-levels";
        else
            p->reason = "levels-within-blocks";
    } else if (!c->rise_shown && c->fall_shown) {
        p->state = PL_FALLING;
    } else if (!c->rise_shown) {
        if (c->change_excluded < (1 - g->share) * c->mean)
            p->state = PL_NO_CHANGE;
        else
            p->reason = "change-not-excluded";
    } else if (c->fall_shown || (!p->onset_itself.high_open && p->onset_itself.high <= second)) {
        p->state = PL_REACHED;
    } else if (!p->onset_itself.low_open && p->onset_itself.low > second) {
        p->state = PL_NOT_REACHED;
    } else {
        p->reason = "top-open";
    }
    if (p->state == PL_REACHED && c->fall_shown) {
        if (!can_fall(g))
            p->reason = "fall-not-followed";
        else if (p->onset.high_open || p->range_end.low_open || p->range_end.low < p->onset.high)
            p->reason = "range-not-clear";
    }
    p->advised = p->state == PL_REACHED && !p->reason && !p->onset.high_open ? p->onset.high : NAN;
}

/* A floor that stands on fewer than two levels below the onset is mostly the curve's own form. */
static void say_floor(const pl_plateau_group *g, const pl_plateau *p)
{
    size_t below = 0;
    bool free_floor = false;

    for (size_t k = 0; k < g->naveraged; k++)
        free_floor = free_floor ||
                     (g->averaged[k]->curve->rises && !g->averaged[k]->work.floor_fixed);
    for (size_t i = 0; i < g->nplace; i++)
        below += g->places[i] < p->onset.at;
    if (free_floor && below < 2 && !isnan(p->onset.at))
        pl_remark(g->d, pl_plateau_where(g),
                  .found = pl_arena_printf(
                      g->d->arena, "the floor is an extrapolation: %s of \"%s\" below the onset",
                      below ? "only one level" : "no level", g->spec->over));
}

static pl_code fill_onset(const pl_plateau_group *g, pl_plateau *p)
{
    const pl_curve_spec *s = g->spec;
    const pl_rig_doubt *doubt;
    pl_code rc = pl_onset_interval(g->a, g->averaged, g->naveraged, PL_HELD_ONSET, g->places,
                                   g->nplace, &p->onset_itself, g->d);

    p->onset = p->onset_itself;
    if (!rc)
        rc = pl_onset_with_rigs(g->a, g->averaged, g->naveraged, PL_HELD_END, g->places, g->nplace,
                                s->doubts, s->ndoubt, &p->range_end, g->d);
    doubt = pl_rig_doubt_at(s->doubts, s->ndoubt, p->onset.at);
    if (rc || !doubt || !(doubt->relative > 0))
        return rc;
    p->doubted_rig = doubt->rig;
    rc = pl_onset_with_rigs(g->a, g->averaged, g->naveraged, PL_HELD_ONSET, g->places, g->nplace,
                            s->doubts, s->ndoubt, &p->onset, g->d);
    if (!rc)
        pl_onset_widen(&p->onset, &p->onset_itself);
    return rc;
}

pl_code pl_plateau_answer(pl_plateau_group *g, pl_plateau *p)
{
    pl_code rc;

    p->response = g->spec->response;
    p->unit = g->data.response->unit;
    p->over = g->spec->over;
    p->over_unit = g->data.over->unit;
    p->answer = "joint";
    p->group_factor = g->spec->for_each;
    p->group = g->name;
    p->share = g->share;
    p->units = g->data.n - g->data.nreference;
    p->specimens = g->data.specimens;
    p->unknown_applied = g->data.unknown_applied;
    p->height = p->height_low = p->height_high = NAN;
    p->even_at = g->scatter ? g->even_at : 0;
    rc = fill_levels(g, p);
    if (!rc && !g->spec->brief)
        rc = fill_curves(g, p);
    if (!rc && !g->spec->brief)
        rc = fill_average(g, p);
    if (!rc && !g->spec->brief)
        rc = fill_units(g, p);
    if (!rc)
        rc = fill_onset(g, p);
    if (!rc && g->spec->bootstrap) {
        pl_bootstrap *b;
        size_t n;

        rc = pl_bootstrap_onset(g, &b, &n);
        p->bootstrap = b;
        p->nbootstrap = n;
    }
    if (rc)
        return rc;
    p->rise = g->contrasts.rise;
    p->fall = g->contrasts.fall;
    p->rise_point = g->contrasts.rise.point;
    p->fall_excluded = g->contrasts.fall_excluded;
    p->change_excluded = g->contrasts.change_excluded;
    decide(g, p);
    say_floor(g, p);
    return PL_OK;
}
