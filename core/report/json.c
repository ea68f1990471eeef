/* The JSON answer of a fit, member by member as docs/json.md lists them. */
#include <math.h>

#include "report/bond.h"
#include "report/groups.h"
#include "report/json_parts.h"
#include "report/responses.h"
#include "report/say.h"
#include "report/trust.h"

void pl_json_coef(pl_jval *list, const pl_coef *c)
{
    pl_jval *o = pl_jadd_object(list, NULL);

    pl_jadd_text(o, "name", c->name);
    pl_jadd_number(o, "estimate", c->estimate);
    pl_jadd_number(o, "se", c->se);
    pl_jadd_number(o, "df", c->df);
    pl_jadd_number(o, "low", c->low);
    pl_jadd_number(o, "high", c->high);
    if (c->at_bound)
        pl_jadd_bool(o, "at_bound", true);
}

void pl_json_residual(pl_jval *object, const pl_residual *r)
{
    pl_jval *o = pl_jadd_object(object, "residual");

    pl_jadd_number(o, "df", r->df);
    pl_jadd_number(o, "ss", r->ss);
    pl_jadd_number(o, "sd", r->sd);
}

static void add_curve(pl_jval *list, const pl_curve_fit *c)
{
    pl_jval *o = pl_jadd_object(list, NULL), *params;

    pl_jadd_text(o, "curve", c->name);
    pl_jadd_text(o, "scale", c->log_x ? "log-x" : "x");
    if (c->limit)
        pl_jadd_text(o, "limit", c->limit);
    pl_jadd_bool(o, "averaged", c->averaged);
    pl_jadd_number(o, "weight", c->weight);
    pl_jadd_number(o, "aicc", c->aicc);
    params = pl_jadd_array(o, "parameters");
    for (size_t i = 0; i < c->nparam; i++)
        pl_json_coef(params, &c->params[i]);
    pl_json_residual(o, &c->residual);
    if (isnan(c->lack_of_fit.f)) {
        pl_jadd_null(o, "lack_of_fit");
    } else {
        pl_jval *l = pl_jadd_object(o, "lack_of_fit");

        pl_jadd_number(l, "f", c->lack_of_fit.f);
        pl_jadd_number(l, "df1", c->lack_of_fit.df1);
        pl_jadd_number(l, "df2", c->lack_of_fit.df2);
        pl_jadd_number(l, "p", c->lack_of_fit.p);
    }
}

void pl_json_bounded(pl_jval *object, const char *key, const pl_bounded *b)
{
    pl_jval *o = pl_jadd_object(object, key);

    pl_jadd_number(o, "at", b->at);
    pl_jadd_number(o, "low", b->low_open ? NAN : b->low);
    pl_jadd_number(o, "high", b->high_open ? NAN : b->high);
    pl_jadd_bool(o, "low_open", b->low_open);
    pl_jadd_bool(o, "high_open", b->high_open);
}

static void add_step(pl_jval *object, const char *key, const pl_plateau *p, const pl_step *s)
{
    pl_jval *o = pl_jadd_object(object, key);

    if (s->upper_to < p->nlevel && s->lower_to < p->nlevel) {
        pl_jadd_text(o, "lower_from", p->levels[s->lower_from].level);
        pl_jadd_text(o, "lower_to", p->levels[s->lower_to].level);
        pl_jadd_text(o, "upper_from", p->levels[s->upper_from].level);
        pl_jadd_text(o, "upper_to", p->levels[s->upper_to].level);
    }
    pl_jadd_number(o, "difference", s->difference);
    pl_jadd_number(o, "se", s->se);
    pl_jadd_number(o, "t", s->t);
    pl_jadd_number(o, "critical_point", s->point);
}

static void add_levels(pl_jval *object, const pl_plateau *p)
{
    pl_jval *list = pl_jadd_array(object, "levels");

    for (size_t i = 0; i < p->nlevel; i++) {
        const pl_level_mean *m = &p->levels[i];
        pl_jval *o = pl_jadd_object(list, NULL);

        pl_jadd_text(o, "level", m->level);
        pl_jadd_number(o, "at", m->at);
        pl_jadd_whole(o, "units", (long long)m->units);
        pl_jadd_whole(o, "specimens", (long long)m->specimens);
        pl_jadd_whole(o, "wood_breaks", (long long)m->wood);
        pl_jadd_number(o, "mean", m->mean);
        pl_jadd_number(o, "se", m->se);
    }
}

/* Scatter that is not alike; the answer that does not lead with random blocks. */
static void add_scatter(pl_jval *object, const pl_plateau *p)
{
    const pl_plateau *b = p->beside;
    pl_jval *o;

    if (p->even_at > 0) {
        o = pl_jadd_object(object, "scatter_in_proportion");
        pl_jadd_number(o, "at", p->even_at);
        pl_jadd_number(o, "cv", p->error_sd / p->even_at);
    }
    if (!b)
        return;
    pl_jadd_text(object, "leads", p->recovered_leads ? "recovered" : "within-blocks");
    o = pl_jadd_object(object, p->recovered_leads ? "within_blocks" : "recovered");
    pl_jadd_text(o, "state", pl_state_name(b->state));
    pl_jadd_number(o, "height", b->height);
    pl_jadd_number(o, "height_low", b->height_low);
    pl_jadd_number(o, "height_high", b->height_high);
    pl_json_bounded(o, "onset", &b->onset);
    pl_json_bounded(o, "range_end", &b->range_end);
    o = pl_jadd_array(object, "variance");
    for (size_t i = 0; i < p->nvariance; i++) {
        pl_jval *v = pl_jadd_object(o, NULL);

        pl_jadd_text(v, "name", p->variance[i].name);
        pl_jadd_number(v, "sd", p->variance[i].sd);
        pl_jadd_whole(v, "levels", (long long)p->variance[i].levels);
        pl_jadd_bool(v, "at_zero", p->variance[i].at_zero);
    }
}

static void add_bootstrap(pl_jval *o, const pl_bootstrap *b)
{
    pl_jadd_text(o, "kind", pl_bootstrap_kind_name(b->kind));
    if (b->block)
        pl_jadd_text(o, "block", b->block);
    pl_jadd_whole(o, "draws", (long long)b->draws);
    pl_jadd_whole(o, "without_onset", (long long)b->without);
    pl_jadd_whole(o, "seed", (long long)b->seed);
    pl_json_bounded(o, "onset", &b->onset);
}

static void add_plateau(pl_jval *list, const pl_plateau *p)
{
    pl_jval *o = pl_jadd_object(list, NULL), *group, *curves, *b = NULL;

    pl_jadd_text(o, "response", p->response);
    pl_jadd_text(o, "unit", p->unit);
    pl_jadd_text(o, "over", p->over);
    pl_jadd_text(o, "over_unit", p->over_unit);
    pl_jadd_text(o, "answer", p->answer);
    group = pl_jadd_object(o, "group");
    if (p->group_factor)
        pl_jadd_text(group, p->group_factor, p->group);
    pl_jadd_text(o, "state", pl_state_name(p->state));
    pl_jadd_text(o, "reason", p->reason);
    pl_jadd_number(o, "height", p->height);
    pl_jadd_number(o, "height_low", p->height_low);
    pl_jadd_number(o, "height_high", p->height_high);
    pl_jadd_number(o, "share", p->share);
    pl_json_bounded(o, "onset", &p->onset);
    if (p->doubted_rig) {
        pl_json_bounded(o, "onset_without_rig", &p->onset_itself);
        pl_jadd_text(o, "rig_in_onset", p->doubted_rig);
    }
    for (size_t i = 0; i < p->nbootstrap; i++) {
        if (i < 2) /* the normal one; then those of residuals */
            b = i ? pl_jadd_array(o, "bootstrap_of_residuals") : NULL;
        add_bootstrap(i ? pl_jadd_object(b, NULL) : pl_jadd_object(o, "bootstrap"),
                      &p->bootstrap[i]);
    }
    add_scatter(o, p);
    pl_json_bounded(o, "range_end", &p->range_end);
    pl_jadd_number(o, "fall_excluded", p->fall_excluded);
    pl_jadd_number(o, "change_excluded", p->change_excluded);
    pl_jadd_number(o, "advised", p->advised);
    add_step(o, "rise", p, &p->rise);
    add_step(o, "fall", p, &p->fall);
    pl_jadd_number(o, "error_df", p->error_df);
    pl_jadd_number(o, "error_sd", p->error_sd);
    pl_jadd_whole(o, "units", (long long)p->units);
    pl_jadd_whole(o, "specimens", (long long)p->specimens);
    pl_jadd_whole(o, "unknown_applied", (long long)p->unknown_applied);
    add_levels(o, p);
    curves = pl_jadd_array(o, "curves");
    for (size_t i = 0; i < p->ncurve; i++)
        add_curve(curves, &p->curves[i]);
}

void pl_json_plateau(pl_jval *list, const pl_plateau *p)
{
    add_plateau(list, p);
}

static void add_texts(pl_jval *object, const char *key, const char *const *items, size_t n)
{
    pl_jval *list = pl_jadd_array(object, key);

    for (size_t i = 0; i < n; i++)
        pl_jadd_text(list, NULL, items[i]);
}

/* What the figures would be with the joints that are left out for a reason. */
static void add_with_excluded(pl_jval *object, const pl_fit_answer *f)
{
    pl_jval *o = pl_jadd_object(object, "with_excluded"), *list;

    pl_jadd_whole(o, "excluded", (long long)f->excluded);
    pl_jadd_whole(o, "used", (long long)f->with_excluded->used);
    if (f->with_excluded->linear)
        pl_json_residual(o, &f->with_excluded->linear->residual);
    list = pl_jadd_array(o, "plateaus");
    for (size_t i = 0; i < f->with_excluded->nplateau; i++)
        add_plateau(list, &f->with_excluded->plateaus[i]);
}

void pl_fit_json(pl_jval *object, const pl_fit_answer *f)
{
    pl_jval *list;

    pl_jadd_text(object, "source", f->source);
    if (f->nzero)
        add_texts(object, "fitted_as_zero", f->zeros, f->nzero);
    if (f->linear)
        pl_json_linear(object, f->linear);
    pl_drawn_json(object, f);
    if (f->surface)
        pl_json_surface(object, f->surface);
    if (f->bounds)
        pl_json_bounds(object, f->bounds);
    if (f->bond)
        pl_json_bond(object, f->bond);
    pl_power_json(object, f);
    if (f->nplateau && f->study)
        pl_trust_json(object, f);
    if (f->nplateau) {
        list = pl_jadd_array(object, "plateaus");
        for (size_t i = 0; i < f->nplateau; i++)
            add_plateau(list, &f->plateaus[i]);
        for (size_t i = 0; i < f->nbond_plateau; i++)
            add_plateau(list, &f->bond_plateaus[i]);
    }
    pl_groups_json(object, f);
    /* a single group's curves stand at the top too: the plain case stays plain */
    if (f->nplateau == 1) {
        list = pl_jadd_array(object, "curves");
        for (size_t i = 0; i < f->plateaus[0].ncurve; i++)
            add_curve(list, &f->plateaus[0].curves[i]);
    }
    pl_responses_json(object, f);
    if (!f->study)
        return;
    pl_jadd_whole(object, "planned", (long long)f->planned);
    pl_jadd_whole(object, "broken", (long long)f->broken);
    pl_jadd_whole(object, "used", (long long)f->used);
    if (f->with_excluded)
        add_with_excluded(object, f);
    pl_chances_json(object, f);
    add_texts(object, "notes", f->notes, f->nnote);
    add_texts(object, "dials", f->dials, f->ndial);
    add_texts(object, "cannot_tell", f->cannot, f->ncannot);
}
