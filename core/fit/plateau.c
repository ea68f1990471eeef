/* The plateau answer of each group: curves, weights, onset, state. Gathering is plateau_data.c, the
 * intervals onset.c, the contrasts contrast.c. */
#include "fit/plateau.h"

#include <float.h>
#include <math.h>
#include <string.h>

#include "base/prob.h"
#include "fit/contrast.h"
#include "fit/onset.h"
#include "fit/plateau_data.h"
#include "fit/units.h"

#define LEVELS_LEAST 2
#define UNITS_LEAST 3
#define PICTURE_POINTS 144 /* over all steps between levels */

/* DESIGN "Which curves"; flat is shown, not averaged. */
static const pl_named_curve default_set[] = {
    { "flat", false },
    { "line", false },
    { "line", true },
    { "linear-plateau", false },
    { "linear-plateau", true },
    { "saturating-exponential", false },
    { "saturating-exponential", true },
    { "saturating-hyperbola", false },
    { "quadratic-plateau", false },
};

typedef struct group {
    pl_arena *a;
    const pl_curve_spec *spec;
    double share;
    const char *name; /* of the group; NULL */
    pl_plateau_data data;
    size_t *known; /* places of the units with a known x */
    size_t nknown;
    pl_curve_rows rows, all_rows; /* curve units; all units (x is the level) */
    pl_level_fit all, pure;       /* level means of all units; of the curve units */
    pl_contrasts contrasts;
    double *places; /* distinct places of the levels in the curves, rising */
    size_t nplace;
    double x1; /* lowest x above zero */
    bool below_zero, at_zero;
    pl_curve_model *models;
    size_t nmodel;
    pl_curve_model **averaged;
    size_t naveraged;
    pl_diags *d;
} group;

static const char *place_of(const group *g)
{
    return g->name ? pl_arena_printf(g->d->arena, "%s: %s %s", g->data.where, g->spec->for_each,
                                     g->name)
                   : g->data.where;
}

/* ---- units and levels ---- */

static pl_code sort_places(group *g)
{
    bool *seen = PL_NEWN(g->a, g->data.K, bool);

    g->places = PL_NEWN(g->a, g->data.K, double);
    if (!seen || !g->places)
        return pl_nomem(g->d);
    for (size_t k = 0; k < g->nknown; k++)
        seen[g->data.level[g->known[k]]] = true;
    for (size_t l = 0; l < g->data.K; l++) {
        double at = g->data.levels[l].at;
        size_t j = g->nplace;
        bool there = false;

        for (size_t i = 0; i < g->nplace; i++)
            there = there || g->places[i] == at;
        if (!seen[l] || there)
            continue;
        for (; j > 0 && g->places[j - 1] > at; j--)
            g->places[j] = g->places[j - 1];
        g->places[j] = at;
        g->nplace++;
    }
    return PL_OK;
}

static pl_code make_rows(group *g)
{
    const pl_plateau_data *data = &g->data;
    size_t *every = PL_NEWN(g->a, data->n, size_t), *levels = PL_NEWN(g->a, data->n, size_t);
    double *as_x = PL_NEWN(g->a, data->n, double);
    pl_code rc;

    g->known = PL_NEWN(g->a, data->n, size_t);
    if (!every || !levels || !as_x || !g->known)
        return pl_nomem(g->d);
    g->x1 = INFINITY;
    for (size_t k = 0; k < data->n; k++) {
        every[k] = k;
        as_x[k] = (double)data->level[k];
        if (isnan(data->x[k]))
            continue;
        g->known[g->nknown++] = k;
        g->below_zero = g->below_zero || data->x[k] < 0;
        g->at_zero = g->at_zero || data->x[k] == 0;
        if (data->x[k] > 0)
            g->x1 = fmin(g->x1, data->x[k]);
    }
    rc = pl_plateau_rows(g->a, data, every, data->n, as_x, &g->all_rows, g->d);
    if (!rc)
        rc = pl_level_means(g->a, &g->all_rows, data->level, data->K, &g->all, g->d);
    if (!rc)
        rc = sort_places(g);
    if (!rc && g->nplace >= LEVELS_LEAST)
        rc = pl_plateau_rows(g->a, data, g->known, g->nknown, data->x, &g->rows, g->d);
    return rc;
}

/* Pure error of the units that are in the curves. */
static pl_code make_pure(group *g)
{
    int *fresh = PL_NEWN(g->a, g->data.K, int);
    size_t *level = PL_NEWN(g->a, g->nknown, size_t), n = 0;

    if (!fresh || !level)
        return pl_nomem(g->d);
    if (g->nknown == g->data.n) {
        g->pure = g->all;
        return PL_OK;
    }
    for (size_t k = 0; k < g->nknown; k++)
        fresh[g->data.level[g->known[k]]] = 1;
    for (size_t l = 0; l < g->data.K; l++)
        if (fresh[l])
            fresh[l] = (int)n++;
    for (size_t k = 0; k < g->nknown; k++)
        level[k] = (size_t)fresh[g->data.level[g->known[k]]];
    return pl_level_means(g->a, &g->rows, level, n, &g->pure, g->d);
}

static pl_code enough(const group *g)
{
    if (g->data.K >= LEVELS_LEAST && g->data.n >= UNITS_LEAST)
        return PL_OK;
    return pl_fail(g->d, PL_EDATA, place_of(g),
                   .found = pl_arena_printf(g->d->arena, "%zu units at %zu levels of \"%s\"",
                                            g->data.n, g->data.K, g->spec->over),
                   .expected = "at least three units at two levels or more");
}

/* ---- curves ---- */

/* Why a curve cannot be had; NULL when it can. */
static const char *not_offered(const group *g, const pl_curve *c, bool log_x, bool fixed)
{
    size_t means = c->nlinear + c->nshape - (fixed && c->rises);

    if (log_x && (g->below_zero || g->at_zero))
        return pl_arena_printf(g->d->arena, "some \"%s\" is at or below zero", g->spec->over);
    if (g->below_zero && (c->needs_positive || (fixed && c->rises)))
        return pl_arena_printf(g->d->arena, "some \"%s\" is below zero", g->spec->over);
    if (c->nlinear > 1 && g->nplace <= means)
        return pl_arena_printf(g->d->arena, "%zu levels are too few for its %zu parameters",
                               g->nplace, means);
    if (g->rows.left < means)
        return pl_arena_printf(g->d->arena, "%zu units are too few", g->nknown);
    return NULL;
}

static pl_code fit_one(group *g, const pl_named_curve *choice, bool named)
{
    const pl_curve_spec *s = g->spec;
    const bool fixed = s->floor_fixed && (named || !choice->log_x);
    const pl_curve *c;
    const char *why;
    pl_code rc = pl_curve_need(choice->curve, g->data.where, &c, g->d);

    if (rc)
        return rc;
    why = not_offered(g, c, choice->log_x, fixed);
    if (!why)
        return pl_curve_model_fit(g->a, c, &g->rows, choice->log_x && c->nlinear > 1, g->x1,
                                  g->places[0], g->places[g->nplace - 1], g->share,
                                  fixed ? &s->floor : NULL, &g->models[g->nmodel++], g->d);
    if (named)
        pl_advise(g->d, place_of(g),
                  .found = pl_arena_printf(g->d->arena, "\"%s\"%s is left out: %s", c->name,
                                           choice->log_x ? " in log x" : "", why));
    return PL_OK;
}

/* In the default set one word does for all curves that fall away for one reason. */
static void say_default_gaps(const group *g)
{
    if (g->below_zero || g->at_zero)
        pl_remark(g->d, place_of(g),
                  .found = pl_arena_printf(
                      g->d->arena,
                      "curves in log x are not offered: some \"%s\" is at or below zero",
                      g->spec->over));
    else if (g->spec->floor_fixed)
        pl_remark(g->d, place_of(g),
                  .found = "the fixed floor is the mean at zero: curves in log x, which have no "
                           "zero, keep a floor of their own");
    if (g->nplace <= 3)
        pl_remark(g->d, place_of(g),
                  .found = pl_arena_printf(g->d->arena,
                                           "with %zu levels, curves of as many parameters are "
                                           "left out",
                                           g->nplace));
}

static void weigh(group *g)
{
    double best = INFINITY, sum = 0;
    bool alone = false;

    for (size_t k = 0; k < g->nmodel; k++) {
        pl_curve_model *m = &g->models[k];

        if (m->curve->nlinear == 1 || !(m->df > 0))
            continue;
        if (isnan(m->aicc) && g->nmodel > 1) /* too few units to weigh it against others */
            continue;
        alone = isnan(m->aicc);
        best = fmin(best, m->aicc);
        g->averaged[g->naveraged++] = m;
    }
    for (size_t k = 0; k < g->naveraged; k++) {
        g->averaged[k]->weight = alone ? 1 : exp(-0.5 * (g->averaged[k]->aicc - best));
        sum += g->averaged[k]->weight;
    }
    for (size_t k = 0; k < g->naveraged; k++)
        g->averaged[k]->weight /= sum;
}

static pl_code fit_curves(group *g)
{
    const pl_curve_spec *s = g->spec;
    const bool named = s->ncurve > 0;
    const pl_named_curve *set = named ? s->curves : default_set;
    const size_t n = named ? s->ncurve : sizeof default_set / sizeof *default_set;
    size_t refused = pl_diags_count(g->d, PL_REFUSED);

    g->models = PL_NEWN(g->a, n, pl_curve_model);
    g->averaged = PL_NEWN(g->a, n, pl_curve_model *);
    if (!g->models || !g->averaged)
        return pl_nomem(g->d);
    if (g->nplace < LEVELS_LEAST)
        return PL_OK;
    for (size_t i = 0; i < n; i++) {
        pl_code rc = fit_one(g, &set[i], named);

        if (rc)
            return rc;
    }
    if (!named)
        say_default_gaps(g);
    if (named && !g->nmodel && pl_diags_count(g->d, PL_REFUSED) == refused)
        return pl_fail(g->d, PL_EDATA, place_of(g),
                       .found = "none of the named curves can be had from these units",
                       .expected = "a curve with fewer parameters than there are levels");
    weigh(g);
    return PL_OK;
}

/* ---- the answer ---- */

static pl_code fill_levels(const group *g, pl_plateau *p)
{
    p->levels = g->data.levels;
    p->nlevel = g->data.K;
    for (size_t l = 0; l < p->nlevel && g->all.fine; l++) {
        p->levels[l].mean = g->all.mean[l];
        p->levels[l].se = g->all.residual.sd * sqrt(g->all.cov[l * p->nlevel + l]);
    }
    p->error_df = g->all.residual.df;
    p->error_sd = g->all.fine && g->all.residual.df > 0 ? g->all.residual.sd : NAN;
    return PL_OK;
}

/* Places for the pictures: between neighbouring levels evenly, so that levels at constant ratio
 * are served like those at equal steps. */
static pl_code picture_x(const group *g, const double **out, size_t *n)
{
    size_t steps = g->nplace > 1 ? g->nplace - 1 : 0;
    size_t parts = steps ? PICTURE_POINTS / steps : 0;
    double *x;

    parts = parts < 4 ? 4 : parts > 24 ? 24 : parts;
    x = PL_NEWN(g->a, steps * parts + 1, double);
    if (!x)
        return pl_nomem(g->d);
    *n = 0;
    for (size_t k = 0; k < steps; k++)
        for (size_t i = 0; i < parts; i++)
            x[(*n)++] = g->places[k] +
                        (g->places[k + 1] - g->places[k]) * (double)i / (double)parts;
    if (steps)
        x[(*n)++] = g->places[steps];
    *out = x;
    return PL_OK;
}

/* value, se and df of every averaged curve at its own place or at x. */
static void at_models(const group *g, const double *x, double *value, double *se, double *df,
                      double *weight)
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

static pl_code fill_average(const group *g, pl_plateau *p)
{
    const size_t K = g->naveraged;
    double *y, *low, *high, *w = PL_NEWN(g->a, 4 * K, double);
    pl_code rc = picture_x(g, &p->grid_x, &p->ngrid);

    p->height = p->height_low = p->height_high = NAN;
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

static pl_code fill_curves(const group *g, pl_plateau *p)
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
static pl_code fill_units(const group *g, pl_plateau *p)
{
    const size_t n = g->nplace >= LEVELS_LEAST ? g->nknown : 0;
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
    for (size_t k = 0; k < n; k++) {
        fitted[k] += (double)effect[k];
        residual[k] = y[k] - fitted[k];
        adjusted[k] = y[k] - (double)effect[k];
    }
    p->nunit = n;
    p->unit_x = x;
    p->unit_y = y;
    p->unit_adjusted = adjusted;
    p->unit_fitted = fitted;
    p->unit_residual = residual;
    p->unit_row = row;
    return PL_OK;
}

/* The second-highest level's place; NAN when there is none. */
static double second_highest(const group *g)
{
    return g->nplace > 1 ? g->places[g->nplace - 2] : NAN;
}

/* DESIGN "State". */
static void decide(const group *g, pl_plateau *p)
{
    const pl_contrasts *c = &g->contrasts;
    const double second = second_highest(g);

    p->state = PL_UNDECIDED;
    if (!c->tested) {
        p->reason = !g->all.fine && g->data.K <= PL_CONTRAST_LEVELS_MOST ? "levels-within-blocks"
                    : g->data.K > PL_CONTRAST_LEVELS_MOST                ? "too-many-levels"
                                                                         : "levels-not-repeated";
    } else if (!c->rise_shown && c->fall_shown) {
        p->state = PL_FALLING;
    } else if (!c->rise_shown) {
        if (c->change_excluded < (1 - g->share) * c->mean)
            p->state = PL_NO_CHANGE;
        else
            p->reason = "change-not-excluded";
    } else if (c->fall_shown || (!p->onset.high_open && p->onset.high <= second)) {
        p->state = PL_REACHED;
    } else if (!p->onset.low_open && p->onset.low > second) {
        p->state = PL_NOT_REACHED;
    } else {
        p->reason = "top-open";
    }
    p->advised = p->state == PL_REACHED && !p->onset.high_open ? p->onset.high : NAN;
}

/* A floor that stands on fewer than two levels below the onset is mostly the curve's own form. */
static void say_floor(const group *g, const pl_plateau *p)
{
    size_t below = 0;
    bool free_floor = false;

    for (size_t k = 0; k < g->naveraged; k++)
        free_floor = free_floor ||
                     (g->averaged[k]->curve->rises && !g->averaged[k]->work.floor_fixed);
    for (size_t i = 0; i < g->nplace; i++)
        below += g->places[i] < p->onset.at;
    if (free_floor && below < 2 && !isnan(p->onset.at))
        pl_remark(g->d, place_of(g),
                  .found = pl_arena_printf(
                      g->d->arena, "the floor is an extrapolation: %s of \"%s\" below the onset",
                      below ? "only one level" : "no level", g->spec->over));
}

static pl_code answer(group *g, pl_plateau *p)
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
    p->units = g->data.n;
    p->specimens = g->data.specimens;
    p->unknown_applied = g->data.unknown_applied;
    rc = fill_levels(g, p);
    if (!rc)
        rc = fill_curves(g, p);
    if (!rc)
        rc = fill_average(g, p);
    if (!rc)
        rc = fill_units(g, p);
    if (!rc)
        rc = pl_onset_interval(g->a, g->averaged, g->naveraged, PL_HELD_ONSET, g->places, g->nplace,
                               &p->onset, g->d);
    if (!rc)
        rc = pl_onset_interval(g->a, g->averaged, g->naveraged, PL_HELD_END, g->places, g->nplace,
                               &p->range_end, g->d);
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

static pl_code fit_group(pl_arena *a, const pl_table *t, const pl_curve_spec *spec, double share,
                         const char *name, const size_t *rows, size_t nrow, pl_plateau *out,
                         pl_diags *d)
{
    group g = { .a = a, .spec = spec, .share = share, .name = name, .d = d };
    pl_code rc = pl_plateau_gather(a, t, spec, rows, nrow, &g.data, d);

    if (!rc)
        rc = enough(&g);
    if (!rc)
        rc = make_rows(&g);
    if (!rc && g.nplace >= LEVELS_LEAST)
        rc = make_pure(&g);
    if (!rc)
        rc = fit_curves(&g);
    if (!rc)
        rc = pl_contrasts_test(a, &g.all, &g.contrasts, d);
    return rc ? rc : answer(&g, out);
}

/* Every fault of the spec in one run. */
static pl_code check_spec(const pl_table *t, const pl_curve_spec *s, pl_diags *d)
{
    size_t from = d->count;
    const pl_column *c;
    const pl_curve *curve;

    pl_table_need_number(t, s->response, &c, d);
    pl_table_need_number(t, s->over, &c, d);
    if (s->planned)
        pl_table_need(t, s->planned, &c, d);
    if (s->unit)
        pl_table_need(t, s->unit, &c, d);
    for (size_t b = 0; b < s->nblock; b++)
        pl_table_need(t, s->blocks[b], &c, d);
    if (s->for_each)
        pl_table_need(t, s->for_each, &c, d);
    if (s->wood)
        pl_table_need_number(t, s->wood, &c, d);
    for (size_t i = 0; i < s->ncurve; i++)
        pl_curve_need(s->curves[i].curve, t->name, &curve, d);
    if (s->share != 0 && !(s->share > 0 && s->share < 1))
        pl_fail(d, PL_EVALUE, t->name, .found = pl_arena_printf(d->arena, "share %g", s->share),
                .expected = "a share between 0 and 1");
    if (s->floor_fixed && !isfinite(s->floor))
        pl_fail(d, PL_EVALUE, t->name, .found = "a floor that is no number",
                .expected = "a number");
    return d->out_of_memory ? PL_ENOMEM : pl_diags_code(d, from);
}

/* Rows of each group, one list after the other; start: ngroup + 1 places. */
static pl_code split_groups(pl_arena *a, const pl_table *t, const pl_curve_spec *spec,
                            pl_factor_codes *groups, size_t **rows, size_t **start, pl_diags *d)
{
    size_t ngroup, n = 0;
    pl_code rc = PL_OK;

    memset(groups, 0, sizeof *groups);
    if (spec->for_each)
        rc = pl_table_factor(a, t, spec->for_each, groups, d);
    if (rc)
        return rc;
    ngroup = spec->for_each ? groups->nlevel : 1;
    *rows = PL_NEWN(a, t->nrow, size_t);
    *start = PL_NEWN(a, ngroup + 1, size_t);
    if (!*rows || !*start)
        return pl_nomem(d);
    for (size_t k = 0; k < ngroup; k++) {
        (*start)[k] = n;
        for (size_t i = 0; i < t->nrow; i++)
            if (!spec->for_each || groups->code[i] == (int)k)
                (*rows)[n++] = i;
    }
    (*start)[ngroup] = n;
    groups->nlevel = ngroup;
    if (n < t->nrow)
        pl_advise(d, t->name,
                  .found = pl_arena_printf(d->arena, "%zu rows without \"%s\" left out",
                                           t->nrow - n, spec->for_each));
    return PL_OK;
}

pl_code pl_fit_curves(pl_arena *a, const pl_table *table, const pl_curve_spec *spec,
                      pl_plateau **out, size_t *nout, pl_diags *d)
{
    const double share = spec->share != 0 ? spec->share : PL_SHARE_DEFAULT;
    size_t from = d->count, *rows, *start;
    pl_factor_codes groups;
    pl_plateau *p;
    pl_code rc = check_spec(table, spec, d);

    if (!rc)
        rc = split_groups(a, table, spec, &groups, &rows, &start, d);
    if (rc)
        return rc;
    p = PL_NEWN(a, groups.nlevel, pl_plateau);
    if (!p)
        return pl_nomem(d);
    for (size_t k = 0; k < groups.nlevel; k++) { /* all groups are tried: all faults in one run */
        rc = fit_group(a, table, spec, share, spec->for_each ? groups.levels[k] : NULL,
                       rows + start[k], start[k + 1] - start[k], &p[k], d);
        if (rc == PL_ENOMEM)
            return rc;
    }
    rc = d->out_of_memory ? PL_ENOMEM : pl_diags_code(d, from);
    if (rc)
        return rc;
    *out = p;
    *nout = groups.nlevel;
    return PL_OK;
}
