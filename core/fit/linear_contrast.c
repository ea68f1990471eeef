/* Contrasts of estimated levels. Which ones are asked for is the caller's business; many at once
 * are compare.c's. */
#include <math.h>
#include <string.h>

#include "base/prob.h"
#include "base/text.h"
#include "fit/linear_inner.h"
#include "fit/reml.h"

/* Weights are typed: they add up to 0 but for their decimals. */
#define SUM_TOL 1e-9

static const pl_levels *levels_of(const pl_linear_fit *f, const char *factor)
{
    for (size_t i = 0; i < f->nlevels; i++)
        if (!strcmp(f->levels[i].factor, factor))
            return &f->levels[i];
    return NULL;
}

static const char *nearest_factor(pl_arena *a, const pl_linear_fit *f, const char *typed)
{
    const char **names = PL_NEWN(a, f->nlevels, const char *), *near;

    for (size_t i = 0; names && i < f->nlevels; i++)
        names[i] = f->levels[i].factor;
    near = names ? pl_text_nearest(typed, names, f->nlevels) : NULL;
    return near ? pl_arena_printf(a, "did you mean \"%s\"?", near) : "";
}

/* Weights of all levels from those named. */
static pl_code spread(const pl_table *t, const pl_linear_contrast *c, const pl_levels *l,
                      double *weight, pl_diags *d)
{
    double sum = 0, most = 0;

    for (size_t i = 0; i < c->n; i++) {
        size_t at = 0;

        while (at < l->n && strcmp(l->names[at], c->levels[i]))
            at++;
        if (at == l->n)
            return pl_fail(d, PL_EVALUE, t->name,
                           .found = pl_arena_printf(d->arena,
                                                    "level \"%s\" in a contrast of \"%s\"",
                                                    c->levels[i], c->factor),
                           .expected = pl_text_list(d->arena, l->names, l->n, "or"));
        weight[at] += c->weights[i];
        sum += c->weights[i];
        most = fmax(most, fabs(c->weights[i]));
    }
    if (most > 0 && fabs(sum) <= SUM_TOL * most)
        return PL_OK;
    return pl_fail(
        d, PL_EVALUE, t->name,
        .found = pl_arena_printf(d->arena, "weights of \"%s\" that add up to %g", c->factor, sum),
        .expected = "weights that add up to 0, not all of them 0",
        .mend = "a half is 0.5 and a third 0.3333333333");
}

/* Degrees of freedom of a contrast with random blocks: its own, as if it were the only one asked.
 */
static pl_code own_df(pl_arena *a, const pl_levels *l, const double *weight, double *df,
                      pl_diags *d)
{
    pl_mark mark = pl_arena_mark(a);
    double *h = PL_NEWN(a, l->reml->p, double);
    pl_reml_value v;
    pl_code rc;

    if (!h)
        return pl_nomem(d);
    for (size_t i = 0; i < l->n; i++)
        for (size_t j = 0; j < l->reml->p; j++)
            h[j] += weight[i] * l->rows[i * l->reml->p + j];
    rc = pl_reml_combine(a, l->reml, h, &v, d);
    *df = v.df;
    pl_arena_reset(a, mark);
    return rc;
}

pl_code pl_levels_contrast(pl_arena *a, const pl_levels *l, const double *weight, pl_contrast *out,
                           pl_diags *d)
{
    double var = 0, point;
    pl_code rc = PL_OK;

    *out = (pl_contrast){ .factor = l->factor, .df = l->df, .ss = NAN, .error = l->error };
    for (size_t i = 0; i < l->n; i++) {
        double row = 0;

        if (weight[i] == 0)
            continue;
        out->estimate += weight[i] * l->estimate[i];
        for (size_t k = 0; k < l->n; k++)
            row += l->cov[i * l->n + k] * weight[k];
        var += weight[i] * row;
    }
    if (l->reml)
        rc = own_df(a, l, weight, &out->df, d);
    point = out->df > 0 ? pl_t_quantile(0.975, out->df) : NAN;
    out->se = var > 0 ? sqrt(var) : NAN;
    out->low = out->estimate - point * out->se;
    out->high = out->estimate + point * out->se;
    out->t = out->estimate / out->se;
    out->p = out->df > 0 ? 2 * pl_t_upper(fabs(out->t), out->df) : NAN;
    return rc;
}

static const char *name_of(pl_arena *a, const pl_linear_contrast *c)
{
    pl_text t;

    pl_text_init(&t, a);
    for (size_t i = 0; i < c->n; i++)
        pl_text_add(&t, "%s%s %s", i ? ", " : "", c->levels[i],
                    pl_text_number(a, c->weights[i], 6));
    return pl_text_done(&t);
}

/* Mean square of the error that judges `factor`. */
static double error_ms(const pl_linear_fit *f, const char *factor)
{
    for (size_t i = 0; i < f->neffect; i++)
        if (!strcmp(f->effects[i].name, factor))
            return f->effects[i].error_ms;
    return NAN;
}

pl_code pl_lin_contrasts(pl_arena *a, const pl_table *t, const pl_linear_spec *spec,
                         pl_linear_fit *out, pl_diags *d)
{
    size_t from = d->count;

    out->contrasts = PL_NEWN(a, spec->ncontrast, pl_contrast);
    if (!out->contrasts)
        return pl_nomem(d);
    for (size_t i = 0; i < spec->ncontrast; i++) {
        const pl_linear_contrast *c = &spec->contrasts[i];
        const pl_levels *l = levels_of(out, c->factor);
        double *weight;
        pl_contrast *got;

        if (!l) {
            (void)pl_fail(d, PL_EVALUE, t->name,
                          .found = pl_arena_printf(d->arena, "a contrast of \"%s\"", c->factor),
                          .expected = "an effect of the model whose levels one error judges",
                          .mend = nearest_factor(d->arena, out, c->factor));
            continue;
        }
        weight = PL_NEWN(a, l->n, double);
        if (!weight)
            return pl_nomem(d);
        if (spread(t, c, l, weight, d))
            continue;
        got = &out->contrasts[out->ncontrast++];
        if (pl_levels_contrast(a, l, weight, got, d) || !(got->name = name_of(a, c)))
            return pl_nomem(d);
        got->ss = got->t * got->t * error_ms(out, c->factor);
    }
    return pl_diags_code(d, from);
}
