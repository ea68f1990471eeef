/* Members of the JSON answer that a linear model gives, as docs/json.md lists them. */
#include "report/json_parts.h"

#include <math.h>

static void add_coefs(pl_jval *object, const pl_coef *c, size_t n)
{
    pl_jval *list = pl_jadd_array(object, "coefficients");

    for (size_t i = 0; i < n; i++)
        pl_json_coef(list, &c[i]);
}

static void add_terms(pl_jval *object, const pl_effect *effects, size_t n)
{
    pl_jval *list = pl_jadd_array(object, "terms");

    for (size_t i = 0; i < n; i++) {
        const pl_effect *e = &effects[i];
        pl_jval *o = pl_jadd_object(list, NULL);

        pl_jadd_text(o, "name", e->name);
        pl_jadd_text(o, "ss_kind", pl_ss_kind_name(e->kind));
        pl_jadd_number(o, "df", e->df);
        pl_jadd_number(o, "ss", e->ss);
        pl_jadd_number(o, "ms", e->ms);
        pl_jadd_number(o, "f", e->f);
        pl_jadd_number(o, "p", e->p);
        pl_jadd_text(o, "error", e->error);
        pl_jadd_number(o, "error_df", e->error_df);
        pl_jadd_number(o, "error_ms", e->error_ms);
    }
}

static void add_means(pl_jval *object, const pl_mean *means, size_t n)
{
    pl_jval *list = pl_jadd_array(object, "means");

    for (size_t i = 0; i < n; i++) {
        const pl_mean *m = &means[i];
        pl_jval *o = pl_jadd_object(list, NULL);

        pl_jadd_text(o, "factor", m->factor);
        pl_jadd_text(o, "level", m->level);
        pl_jadd_whole(o, "rows", (long long)m->n);
        pl_jadd_number(o, "estimate", m->estimate);
        pl_jadd_number(o, "se", m->se);
        pl_jadd_number(o, "df", m->df);
        pl_jadd_number(o, "low", m->low);
        pl_jadd_number(o, "high", m->high);
    }
}

/* Random blocks: how far they differ, and the answer that does not lead. */
static void add_random(pl_jval *object, const pl_linear_fit *l)
{
    pl_jval *list = pl_jadd_array(object, "variance"), *side;

    for (size_t i = 0; i < l->nvariance; i++) {
        pl_jval *o = pl_jadd_object(list, NULL);

        pl_jadd_text(o, "name", l->variance[i].name);
        pl_jadd_number(o, "sd", l->variance[i].sd);
        pl_jadd_whole(o, "levels", (long long)l->variance[i].levels);
        pl_jadd_bool(o, "at_zero", l->variance[i].at_zero);
    }
    pl_jadd_number(object, "log_likelihood", l->log_likelihood);
    pl_jadd_text(object, "leads", l->recovered_leads ? "recovered" : "within-blocks");
    side = pl_jadd_object(object, l->recovered_leads ? "within_blocks" : "recovered");
    add_coefs(side, l->beside->coefs, l->beside->ncoef);
    add_terms(side, l->beside->effects, l->beside->neffect);
    add_means(side, l->beside->means, l->beside->nmean);
}

static void add_contrasts(pl_jval *object, const pl_linear_fit *l)
{
    pl_jval *list;

    if (!l->ncontrast)
        return;
    list = pl_jadd_array(object, "contrasts");
    for (size_t i = 0; i < l->ncontrast; i++) {
        const pl_contrast *c = &l->contrasts[i];
        pl_jval *o = pl_jadd_object(list, NULL);

        pl_jadd_text(o, "factor", c->factor);
        pl_jadd_text(o, "name", c->name);
        pl_jadd_number(o, "estimate", c->estimate);
        pl_jadd_number(o, "se", c->se);
        pl_jadd_number(o, "df", c->df);
        pl_jadd_number(o, "low", c->low);
        pl_jadd_number(o, "high", c->high);
        pl_jadd_number(o, "t", c->t);
        pl_jadd_number(o, "p", c->p);
        pl_jadd_number(o, "ss", c->ss);
        pl_jadd_text(o, "error", c->error);
    }
}

static void add_comparisons(pl_jval *object, const pl_linear_fit *l)
{
    pl_jval *list;

    if (!l->ncomparison)
        return;
    list = pl_jadd_array(object, "comparisons");
    for (size_t i = 0; i < l->ncomparison; i++) {
        const pl_comparison *c = &l->comparisons[i];
        pl_jval *o = pl_jadd_object(list, NULL);

        pl_jadd_text(o, "factor", c->factor);
        pl_jadd_text(o, "kind", pl_compare_kind_name(c->kind));
        pl_jadd_text(o, "level", c->level);
        pl_jadd_text(o, "against", c->against);
        pl_jadd_number(o, "estimate", c->estimate);
        pl_jadd_number(o, "se", c->se);
        pl_jadd_number(o, "df", c->df);
        pl_jadd_number(o, "low", c->low);
        pl_jadd_number(o, "high", c->high);
        pl_jadd_number(o, "sure", c->sure);
        pl_jadd_number(o, "p_holm", c->p_holm);
        if (!isnan(c->margin))
            pl_jadd_number(o, "margin", c->margin);
        pl_jadd_bool(o, "tested", c->tested);
        pl_jadd_bool(o, "shown", c->shown);
    }
}

void pl_json_linear(pl_jval *object, const pl_linear_fit *l)
{
    add_coefs(object, l->coefs, l->ncoef);
    pl_json_residual(object, &l->residual);
    pl_jadd_number(object, "r_squared", l->r_squared);
    add_terms(object, l->effects, l->neffect);
    add_means(object, l->means, l->nmean);
    if (l->nvariance)
        add_random(object, l);
    add_contrasts(object, l);
    add_comparisons(object, l);
}
