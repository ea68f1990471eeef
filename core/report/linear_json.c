/* Members of the JSON answer that a linear model gives, as docs/json.md lists them. */
#include "report/json_parts.h"

void pl_json_linear(pl_jval *object, const pl_linear_fit *l)
{
    pl_jval *list = pl_jadd_array(object, "coefficients");

    for (size_t i = 0; i < l->ncoef; i++)
        pl_json_coef(list, &l->coefs[i]);
    pl_json_residual(object, &l->residual);
    pl_jadd_number(object, "r_squared", l->r_squared);
    list = pl_jadd_array(object, "terms");
    for (size_t i = 0; i < l->neffect; i++) {
        const pl_effect *e = &l->effects[i];
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
    list = pl_jadd_array(object, "means");
    for (size_t i = 0; i < l->nmean; i++) {
        const pl_mean *m = &l->means[i];
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
