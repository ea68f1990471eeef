/* Does what is changed on purpose change a covariate? Said, never acted on. */
#include "fit/path.h"

#include <string.h>

#include "base/text.h"

#define SELDOM 0.05

static void say(const char *table, const char *covariate, const char *effect, double p, pl_diags *d)
{
    pl_advise(
        d, table,
        .found = pl_arena_printf(d->arena,
                                 "covariate \"%s\" goes with %s: by chance alone it would "
                                 "differ so between levels 1 time in %s",
                                 covariate, effect,
                                 p < 1e-4 ? "more than 10000" : pl_text_number(d->arena, 1 / p, 2)),
        .expected = "a covariate that the levels leave as it is",
        .mend = pl_arena_printf(d->arena,
                                "if %s sets %s, what it does by way of that is taken out of "
                                "its effect: fit once without, to see the whole",
                                effect, covariate));
}

pl_code pl_covariate_paths(pl_arena *a, const pl_table *t, const pl_linear_spec *spec,
                           const char *const *covariates, size_t n, pl_diags *d)
{
    for (size_t i = 0; i < n; i++) {
        pl_linear_spec alone = *spec;
        pl_linear_fit f = { 0 };
        pl_diags unsaid;
        pl_code rc;

        alone.response = covariates[i];
        alone.covariates = NULL;
        alone.ncovariate = alone.ncontrast = 0;
        alone.through_zero = false;
        pl_diags_init(&unsaid, a);
        rc = pl_fit_linear(a, t, &alone, &f, &unsaid);
        if (rc == PL_ENOMEM)
            return pl_nomem(d);
        for (size_t k = 0; !rc && k < f.neffect; k++) {
            const pl_effect *e = &f.effects[k];
            bool block = false;

            for (size_t j = 0; j < spec->nblock; j++)
                block = block || !strcmp(e->name, spec->blocks[j]);
            if (!block && e->kind == PL_SS_AFTER_ALL_OTHERS && e->p < SELDOM)
                say(t->name, covariates[i], e->name, e->p, d);
        }
    }
    return PL_OK;
}
