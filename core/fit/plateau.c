/* The plateau question group by group: which curves can be had, their weights. Gathering is
 * plateau_data.c, the answer plateau_answer.c, intervals onset.c, contrasts contrast.c. */
#include "fit/plateau.h"

#include <float.h>
#include <math.h>
#include <string.h>

#include "fit/groups.h"
#include "fit/plateau_group.h"
#include "fit/plateau_random.h"
#include "fit/plateau_weights.h"
#include "fit/reml.h"

#define UNITS_LEAST 3

/* DESIGN "Which curves"; flat is shown, not averaged. */
const pl_named_curve pl_curves_default[PL_CURVES_DEFAULT] = {
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
/* These join it when a fall is shown. */
static const pl_named_curve falling_set[] = {
    { "rise-and-fall", false },
    { "rise-and-fall", true },
};
#define COUNT(set) (sizeof(set) / sizeof *(set))

/* ---- units and levels ---- */

static pl_code sort_places(pl_plateau_group *g)
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

static pl_code list_units(pl_plateau_group *g)
{
    const pl_plateau_data *data = &g->data;

    g->known = PL_NEWN(g->a, data->n, size_t);
    if (!g->known)
        return pl_nomem(g->d);
    g->x1 = INFINITY;
    for (size_t k = 0; k < data->n; k++) {
        if (isnan(data->x[k]))
            continue;
        g->known[g->nknown++] = k;
        g->below_zero = g->below_zero || data->x[k] < 0;
        g->at_zero = g->at_zero || data->x[k] == 0;
        if (data->x[k] > 0)
            g->x1 = fmin(g->x1, data->x[k]);
    }
    return sort_places(g);
}

static pl_code make_rows(pl_plateau_group *g)
{
    const pl_plateau_data *data = &g->data;
    size_t *every = PL_NEWN(g->a, data->n, size_t);
    double *as_x = PL_NEWN(g->a, data->n, double);
    pl_code rc;

    if (!every || !as_x)
        return pl_nomem(g->d);
    for (size_t k = 0; k < data->n; k++) {
        every[k] = k;
        as_x[k] = (double)data->level[k];
    }
    rc = pl_plateau_rows(g->a, data, every, data->n, as_x, data->nblock, g->scatter_all,
                         &g->all_rows, g->d);
    if (!rc)
        rc = pl_level_means(g->a, &g->all_rows, data->level, data->K, &g->all, g->d);
    if (!rc && g->nplace >= PL_PLATEAU_LEVELS_LEAST)
        rc = pl_plateau_rows(g->a, data, g->known, g->nknown, data->x, data->nblock, g->scatter,
                             &g->rows, g->d);
    return rc;
}

/* Pure error of the units that are in the curves. */
static pl_code make_pure(pl_plateau_group *g)
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

static pl_code enough(const pl_plateau_group *g)
{
    if (g->data.K >= PL_PLATEAU_LEVELS_LEAST && g->data.n - g->data.nreference >= UNITS_LEAST)
        return PL_OK;
    return pl_fail(g->d, PL_EDATA, pl_plateau_where(g),
                   .found = pl_arena_printf(g->d->arena, "%zu units at %zu levels of \"%s\"",
                                            g->data.n - g->data.nreference, g->data.K,
                                            g->spec->over),
                   .expected = "at least three units at two levels or more");
}

/* ---- curves ---- */

static pl_code need_curve(const pl_curve_spec *s, const char *name, const char *where,
                          const pl_curve **out, pl_diags *d)
{
    for (size_t i = 0; i < s->nbrought; i++)
        if (!strcmp(s->brought[i]->name, name)) {
            *out = s->brought[i];
            return PL_OK;
        }
    return pl_curve_need(name, where, out, d);
}

/* Its mean is one number: it says nothing of x. */
static bool is_flat(const pl_curve *c)
{
    return c->nlinear + c->nshape == 1 && !c->wide;
}

/* Why a curve cannot be had; NULL when it can. */
static const char *not_offered(const pl_plateau_group *g, const pl_curve *c, bool log_x, bool fixed)
{
    size_t means = c->nlinear + c->nshape - (fixed && c->rises);

    if (c->wide && log_x && !c->wide->log)
        return "it does not run in log x";
    if (fixed && (c->wide || c == &pl_curve_rise_and_fall))
        return "its floor cannot be fixed";
    if (log_x && (g->below_zero || (g->at_zero && c != &pl_curve_logistic_rise)))
        return pl_arena_printf(g->d->arena, "some \"%s\" is at or below zero", g->spec->over);
    if (g->below_zero && (c->needs_positive || (fixed && c->rises)))
        return pl_arena_printf(g->d->arena, "some \"%s\" is below zero", g->spec->over);
    if (!is_flat(c) && g->nplace <= means)
        return pl_arena_printf(g->d->arena, "%zu levels are too few for its %zu parameters",
                               g->nplace, means);
    if (g->rows.left < means)
        return pl_arena_printf(g->d->arena, "%zu units are too few", g->nknown);
    return NULL;
}

/* The curve with the starts that name its shape numbers; itself where none does. */
static pl_code with_starts(const pl_plateau_group *g, bool log_x, const pl_curve **c)
{
    const pl_curve_spec *s = g->spec;
    const pl_curve_wide *was = (*c)->wide;
    pl_curve *curve;
    pl_curve_wide *wide;
    double *start;
    bool named = false;

    if (!was || !s->nstart)
        return PL_OK;
    curve = PL_NEW(g->a, pl_curve);
    wide = PL_NEW(g->a, pl_curve_wide);
    start = PL_NEWN(g->a, PL_CURVE_SHAPES_MOST, double);
    if (!curve || !wide || !start)
        return pl_nomem(g->d);
    for (size_t k = 0; k < PL_CURVE_SHAPES_MOST; k++) {
        start[k] = NAN;
        for (size_t i = 0; i < s->nstart && k < (*c)->nshape; i++)
            if (!strcmp(s->starts[i].name, was->shape_names[k])) {
                start[k] = s->starts[i].value;
                if (log_x && k == 0 && (*c)->shape_is_x)
                    start[k] = log(start[k] / g->x1);
                named = true;
            }
    }
    if (!named)
        return PL_OK;
    *wide = *was;
    wide->start = start;
    *curve = **c;
    curve->wide = wide;
    *c = curve;
    return PL_OK;
}

static bool has_param(const pl_curve *c, const char *name)
{
    const char *const *shapes = c->wide ? c->wide->shape_names : &c->shape_name;

    for (size_t j = 0; j < c->nlinear; j++)
        if (!strcmp(c->linear_names[j], name))
            return true;
    for (size_t k = 0; k < c->nshape; k++)
        if (!strcmp(shapes[k], name))
            return true;
    return false;
}

/* Each start is of a parameter of some named curve. */
static pl_code check_starts(const pl_curve_spec *s, const char *where, pl_diags *d)
{
    pl_code rc = PL_OK;

    for (size_t i = 0; i < s->nstart; i++) {
        bool known = false;

        for (size_t k = 0; k < s->ncurve && !rc; k++) {
            const pl_curve *c = NULL;

            rc = need_curve(s, s->curves[k].curve, where, &c, d);
            known = known || (c && has_param(c, s->starts[i].name));
        }
        if (rc)
            return rc;
        if (!known)
            rc = pl_fail(
                d, PL_EKEY, where,
                .found = pl_arena_printf(d->arena, "a start for \"%s\"", s->starts[i].name),
                .expected = "a parameter of a curve that is named");
    }
    return rc;
}

static pl_code fit_one(pl_plateau_group *g, const pl_named_curve *choice, bool named)
{
    const pl_curve_spec *s = g->spec;
    const bool fixed = s->floor_fixed && (named || !choice->log_x);
    const pl_curve *c;
    const char *why;
    pl_code rc = need_curve(s, choice->curve, g->data.where, &c, g->d);

    if (rc)
        return rc;
    why = not_offered(g, c, choice->log_x, fixed);
    if (!why && c->wide && !c->wide->goes_up)
        pl_remark(g->d, pl_plateau_where(g),
                  .found = pl_arena_printf(g->d->arena,
                                           "\"%s\" does not say that it only rises: its onset is "
                                           "not worked out",
                                           c->name));
    if (!why)
        rc = with_starts(g, choice->log_x, &c);
    if (rc)
        return rc;
    if (!why)
        return pl_curve_model_fit(g->a, c, &g->rows, choice->log_x && !is_flat(c), g->x1,
                                  g->places[0], g->places[g->nplace - 1], g->share,
                                  fixed ? &s->floor : NULL, &g->models[g->nmodel++], g->d);
    if (named)
        pl_advise(g->d, pl_plateau_where(g),
                  .found = pl_arena_printf(g->d->arena, "\"%s\"%s is left out: %s", c->name,
                                           choice->log_x ? " in log x" : "", why));
    return PL_OK;
}

/* In the default set one word does for all curves that fall away for one reason. */
static void say_default_gaps(const pl_plateau_group *g)
{
    if (g->below_zero || g->at_zero)
        pl_remark(g->d, pl_plateau_where(g),
                  .found = pl_arena_printf(
                      g->d->arena,
                      "curves in log x are not offered: some \"%s\" is at or below zero",
                      g->spec->over));
    else if (g->spec->floor_fixed)
        pl_remark(g->d, pl_plateau_where(g),
                  .found = "the fixed floor is the mean at zero: curves in log x, which have no "
                           "zero, keep a floor of their own");
    if (g->nplace <= 3)
        pl_remark(g->d, pl_plateau_where(g),
                  .found = pl_arena_printf(g->d->arena,
                                           "with %zu levels, curves of as many parameters are "
                                           "left out",
                                           g->nplace));
}

void pl_plateau_weigh(pl_plateau_group *g)
{
    double best = INFINITY, sum = 0;
    bool alone = false;

    g->naveraged = 0;
    for (size_t k = 0; k < g->nmodel; k++) {
        pl_curve_model *m = &g->models[k];

        if (is_flat(m->curve) || !(m->df > 0))
            continue;
        if (isnan(m->aicc) && g->nmodel > 1) /* too few units to weigh it against others */
            continue;
        alone = isnan(m->aicc);
        best = fmin(best, m->aicc);
        g->averaged[g->naveraged++] = m;
    }
    if (!g->naveraged && g->nmodel > 1)
        pl_remark(g->d, pl_plateau_where(g),
                  .found = pl_arena_printf(g->d->arena,
                                           "units too few to weigh curves against each other: %zu",
                                           g->nknown),
                  .mend = "name one curve, or make more glue-ups");
    for (size_t k = 0; k < g->naveraged; k++) {
        g->averaged[k]->weight = alone ? 1 : exp(-0.5 * (g->averaged[k]->aicc - best));
        sum += g->averaged[k]->weight;
    }
    for (size_t k = 0; k < g->naveraged; k++)
        g->averaged[k]->weight /= sum;
}

static pl_code fit_set(pl_plateau_group *g, const pl_named_curve *set, size_t n, bool said)
{
    pl_code rc = PL_OK;

    for (size_t i = 0; i < n && !rc; i++)
        rc = fit_one(g, &set[i], said);
    return rc;
}

static pl_code fit_curves(pl_plateau_group *g)
{
    const pl_curve_spec *s = g->spec;
    const bool named = s->ncurve > 0, falls = !named && g->contrasts.fall_shown;
    const size_t n = named ? s->ncurve : PL_CURVES_DEFAULT + COUNT(falling_set);
    size_t refused = pl_diags_count(g->d, PL_REFUSED);
    pl_code rc;

    g->models = PL_NEWN(g->a, n, pl_curve_model);
    g->averaged = PL_NEWN(g->a, n, pl_curve_model *);
    g->nmodel = g->naveraged = 0;
    if (!g->models || !g->averaged)
        return pl_nomem(g->d);
    if (g->nplace < PL_PLATEAU_LEVELS_LEAST)
        return PL_OK;
    rc = named ? fit_set(g, s->curves, n, true)
               : fit_set(g, pl_curves_default, PL_CURVES_DEFAULT, false);
    if (!rc && falls)
        rc = fit_set(g, falling_set, COUNT(falling_set), false);
    if (rc)
        return rc;
    if (!named)
        say_default_gaps(g);
    if (named && !g->nmodel && pl_diags_count(g->d, PL_REFUSED) == refused)
        return pl_fail(g->d, PL_EDATA, pl_plateau_where(g),
                       .found = "none of the named curves can be had from these units",
                       .expected = "a curve with fewer parameters than there are levels");
    pl_plateau_weigh(g);
    return PL_OK;
}

pl_code pl_plateau_refit(pl_plateau_group *g)
{
    pl_code rc = make_rows(g);

    if (!rc && g->nplace >= PL_PLATEAU_LEVELS_LEAST)
        rc = make_pure(g);
    if (!rc)
        rc = pl_contrasts_test(g->a, &g->all, &g->contrasts, g->d);
    return rc ? rc : fit_curves(g);
}

/* g: what is known before the rows are read; the rest is filled in. */
static pl_code fit_group(pl_plateau_group *g, const pl_table *t, const size_t *rows, size_t nrow,
                         pl_plateau *out)
{
    pl_code rc = pl_plateau_gather(g->a, t, g->spec, rows, nrow, &g->data, g->d);

    if (!rc)
        rc = enough(g);
    if (!rc)
        rc = list_units(g);
    if (!rc)
        rc = pl_plateau_refit(g);
    if (!rc && g->spec->in_proportion)
        rc = pl_plateau_in_proportion(g);
    if (!rc)
        rc = pl_plateau_answer(g, out);
    return rc || !g->nrandom ? rc : pl_plateau_recover(g, out);
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
    for (size_t b = 0; b < s->nrandom; b++)
        pl_table_need(t, s->randoms[b], &c, d);
    if (s->tie && (s->nrandom || s->in_proportion))
        pl_fail(d, PL_ECONFLICT, t->name,
                .found = "reference joints beside random blocks or scatter in proportion",
                .expected = "one without the other");
    if (s->nrandom && s->in_proportion)
        pl_fail(d, PL_ECONFLICT, t->name,
                .found = "random blocks, and scatter in proportion to the mean",
                .expected = "one of them");
    if (s->nrandom > PL_REML_FACTORS_MOST)
        pl_fail(d, PL_EUSAGE, t->name,
                .found = pl_arena_printf(d->arena, "%zu random blocks", s->nrandom),
                .expected = pl_arena_printf(d->arena, "at most %d", PL_REML_FACTORS_MOST));
    if (s->for_each)
        pl_table_need(t, s->for_each, &c, d);
    if (s->wood)
        pl_table_need_number(t, s->wood, &c, d);
    if (s->tie)
        pl_table_need_number(t, s->tie, &c, d);
    for (size_t i = 0; i < s->ncurve; i++)
        need_curve(s, s->curves[i].curve, t->name, &curve, d);
    if (s->share != 0 && !(s->share > 0 && s->share < 1))
        pl_fail(d, PL_EVALUE, t->name, .found = pl_arena_printf(d->arena, "share %g", s->share),
                .expected = "a share between 0 and 1");
    if (s->floor_fixed && !isfinite(s->floor))
        pl_fail(d, PL_EVALUE, t->name, .found = "a floor that is no number",
                .expected = "a number");
    return d->out_of_memory ? PL_ENOMEM : pl_diags_code(d, from);
}

/* Rows of each group, one list after the other; start: ngroup + 1 places. Reference joints belong
 * to every group. */
static pl_code split_groups(pl_arena *a, const pl_table *t, const pl_curve_spec *spec,
                            pl_factor_codes *groups, size_t **rows, size_t **start, pl_diags *d)
{
    const double *tie = spec->tie ? pl_table_find(t, spec->tie)->number : NULL;
    size_t ngroup, n = 0, without = 0;
    pl_code rc = PL_OK;

    memset(groups, 0, sizeof *groups);
    if (spec->for_each)
        rc = pl_table_factor(a, t, spec->for_each, groups, d);
    if (rc)
        return rc;
    ngroup = spec->for_each ? groups->nlevel : 1;
    *rows = pl_arena_get(a, t->nrow, (ngroup + 1) * sizeof **rows);
    *start = PL_NEWN(a, ngroup + 1, size_t);
    if (!*rows || !*start)
        return pl_nomem(d);
    for (size_t k = 0; k < ngroup; k++) {
        (*start)[k] = n;
        for (size_t i = 0; i < t->nrow; i++)
            if (!spec->for_each || groups->code[i] == (int)k || (tie && tie[i] != 0))
                (*rows)[n++] = i;
    }
    (*start)[ngroup] = n;
    groups->nlevel = ngroup;
    for (size_t i = 0; spec->for_each && i < t->nrow; i++)
        without += groups->code[i] < 0 && !(tie && tie[i] != 0);
    if (without)
        pl_advise(d, t->name,
                  .found = pl_arena_printf(d->arena, "rows without \"%s\" left out: %zu",
                                           spec->for_each, without));
    return PL_OK;
}

/* Random blocks are fixed ones at first, behind those that stay so. */
static pl_code fix_randoms(pl_arena *a, const pl_curve_spec *asked, pl_curve_spec *out, pl_diags *d)
{
    const char **blocks = PL_NEWN(a, asked->nblock + asked->nrandom, const char *);

    if (!blocks)
        return pl_nomem(d);
    *out = *asked;
    for (size_t b = 0; b < asked->nblock; b++)
        blocks[b] = asked->blocks[b];
    for (size_t b = 0; b < asked->nrandom; b++)
        blocks[asked->nblock + b] = asked->randoms[b];
    out->blocks = blocks;
    out->nblock += asked->nrandom;
    return PL_OK;
}

/* Strength that a scatter in proportion is told at: the same for all groups. */
static double mean_strength(const pl_table *t, const char *response)
{
    const pl_column *c = pl_table_find(t, response);
    double sum = 0, n = 0;

    for (size_t i = 0; c && c->number && i < t->nrow; i++)
        if (isfinite(c->number[i])) {
            sum += c->number[i];
            n++;
        }
    return n > 0 ? sum / n : NAN;
}

pl_code pl_fit_curves(pl_arena *a, const pl_table *table, const pl_curve_spec *asked,
                      pl_plateau **out, size_t *nout, pl_diags *d)
{
    const double share = asked->share != 0 ? asked->share : PL_SHARE_DEFAULT;
    pl_curve_spec fixed, *spec = &fixed;
    size_t from = d->count, *rows, *start;
    pl_factor_codes groups;
    pl_plateau *p;
    pl_plateau_group *g;
    pl_code rc = check_spec(table, asked, d);

    if (!rc)
        rc = check_starts(asked, table->name, d);
    if (!rc)
        rc = fix_randoms(a, asked, &fixed, d);
    if (!rc)
        rc = split_groups(a, table, spec, &groups, &rows, &start, d);
    if (rc)
        return rc;
    p = PL_NEWN(a, groups.nlevel, pl_plateau);
    g = PL_NEWN(a, groups.nlevel, pl_plateau_group);
    if (!p || !g)
        return pl_nomem(d);
    for (size_t k = 0; k < groups.nlevel; k++) { /* all groups are tried: all faults in one run */
        g[k] = (pl_plateau_group){ .a = a, .spec = spec, .share = share, .d = d };
        g[k].number = k;
        g[k].nrandom = asked->nrandom;
        g[k].even_at = asked->in_proportion ? mean_strength(table, asked->response) : 0;
        g[k].name = spec->for_each ? groups.levels[k] : NULL;
        rc = fit_group(&g[k], table, rows + start[k], start[k + 1] - start[k], &p[k]);
        if (rc == PL_ENOMEM)
            return rc;
    }
    rc = d->out_of_memory ? PL_ENOMEM : pl_diags_code(d, from);
    if (!rc && groups.nlevel > 1)
        rc = pl_groups_compare(a, g, groups.nlevel, p, d);
    if (rc)
        return rc;
    *out = p;
    *nout = groups.nlevel;
    return PL_OK;
}
