/* Further responses of a study: the same curves and the same model as strength has. */
#include "cli/study_responses.h"

#include <math.h>
#include <string.h>

#include "cli/curve_child.h"
#include "fit/path.h"
#include "fit/plateau.h"
#include "fit/study_effects.h"

pl_code pl_study_covariates(pl_run *run, const pl_study *s, const pl_table *t, pl_linear_spec *spec)
{
    const char **all = PL_NEWN(run->arena, spec->ncovariate + s->ncovariate, const char *);
    pl_code rc;

    if (!all)
        return pl_nomem(&run->diags);
    if (!s->ncovariate)
        return PL_OK;
    rc = pl_covariate_paths(run->arena, t, spec, s->covariates, s->ncovariate, &run->diags);
    for (size_t i = 0; i < spec->ncovariate; i++)
        all[i] = spec->covariates[i];
    for (size_t i = 0; i < s->ncovariate; i++)
        all[spec->ncovariate++] = s->covariates[i];
    spec->covariates = all;
    return rc;
}

/* The first refusal, as a reason; whatever was found out refuses and says nothing any more: it
 * would not name the response. */
static const char *reason(pl_run *run, size_t before)
{
    const char *why = "";

    for (size_t i = run->diags.count; i-- > before;)
        if (run->diags.items[i].severity == PL_REFUSED)
            why = run->diags.items[i].found;
    run->diags.count = before;
    return why;
}

static pl_code fit_curves(pl_run *run, const pl_study *s, const pl_fit_answer *f,
                          pl_response_answer *out)
{
    pl_curve_spec *spec = PL_NEW(run->arena, pl_curve_spec);
    size_t before = run->diags.count;
    pl_plateau *plateaus;
    pl_code rc;

    if (!spec)
        return pl_nomem(&run->diags);
    if (!f->spec)
        return PL_OK;
    *spec = *f->spec;
    spec->response = out->of->name;
    spec->bootstrap = 0;
    spec->ndoubt = 0;
    if (out->of->on_glue_up)
        spec->unit = "glue_up";
    rc = pl_curves_fit(run, f->tied, spec, &plateaus, &out->nplateau);
    if (rc == PL_ENOMEM)
        return rc;
    if (rc) {
        out->nplateau = 0;
        out->why_not = reason(run, before);
        return PL_OK;
    }
    (void)reason(run, before);
    for (size_t i = 0; i < out->nplateau; i++)
        plateaus[i].over = s->factors[s->question.over].name;
    out->plateaus = plateaus;
    out->spec = spec;
    return PL_OK;
}

static pl_code fit_linear(pl_run *run, const pl_study *s, const pl_fit_answer *f,
                          pl_response_answer *out)
{
    pl_linear_fit *fit = PL_NEW(run->arena, pl_linear_fit);
    size_t before = run->diags.count;
    const pl_table *table = f->table;
    pl_matching *m = PL_NEW(run->arena, pl_matching);
    pl_linear_spec spec;
    pl_code rc = fit && m ? pl_study_linear_spec(run->arena, s, f->plan, f->table, f->table,
                                                 out->of->name, &spec, m, &table, &run->diags)
                          : pl_nomem(&run->diags);

    if (!rc)
        rc = pl_fit_linear(run->arena, table, &spec, fit, &run->diags);
    if (rc == PL_ENOMEM)
        return rc;
    if (rc && !out->nplateau)
        out->why_not = reason(run, before);
    else
        (void)reason(run, before);
    out->linear = rc ? NULL : fit;
    return PL_OK;
}

/* The one value that all have; NAN where they differ. */
static double is_same(const pl_column *c, size_t nrow)
{
    double value = NAN;

    for (size_t i = 0; i < nrow; i++) {
        if (!isnan(value) && !isnan(c->number[i]) && c->number[i] != value)
            return NAN;
        value = isnan(c->number[i]) ? value : c->number[i];
    }
    return value;
}

pl_code pl_study_responses(pl_run *run, const pl_study *s, pl_fit_answer *f)
{
    pl_response_answer *all = PL_NEWN(run->arena, s->nother, pl_response_answer);
    pl_code rc = all ? PL_OK : pl_nomem(&run->diags);

    for (size_t k = 0; k < s->nother && !rc; k++) {
        const pl_column *c = pl_table_find(f->table, s->others[k].name);

        all[k].of = &s->others[k];
        for (size_t i = 0; i < f->table->nrow; i++)
            all[k].measured += isnan(c->number[i]) ? 0 : 1;
        all[k].same = is_same(c, f->table->nrow);
        if (!all[k].measured || !isnan(all[k].same))
            continue;
        rc = fit_curves(run, s, f, &all[k]);
        if (!rc)
            rc = fit_linear(run, s, f, &all[k]);
    }
    f->responses = all;
    f->nresponse = rc ? 0 : s->nother;
    return rc;
}
