/* Weights 1/fitted^2 from a group's own fit, again and again until they stand. */
#include "fit/plateau_weights.h"

#include <math.h>

/* Weights that change by less than this share are the same: what a fit shows is good to less. */
#define SETTLED 1e-11

/* Means that the units scatter about: the averaged curve, or the level's mean where there is none,
 * with the unit's block effects. */
static pl_code fitted_means(const pl_plateau_group *g, long double *mean)
{
    const pl_plateau_data *data = &g->data;
    long double *effect = PL_NEWN(g->a, data->n, long double);

    if (!effect)
        return pl_nomem(g->d);
    for (size_t k = 0; k < data->n; k++) {
        double x = isnan(data->x[k]) ? data->levels[data->level[k]].at : data->x[k];

        mean[k] = g->naveraged ? 0 : (long double)g->all.mean[data->level[k]];
        for (size_t i = 0; i < g->naveraged; i++)
            mean[k] += (long double)(g->averaged[i]->weight *
                                     pl_curve_model_mean(g->averaged[i], x, NULL));
        effect[k] = (long double)data->y[k] - mean[k];
    }
    pl_curve_rows_block_part(&g->all_rows, effect);
    for (size_t k = 0; k < data->n; k++)
        mean[k] += effect[k];
    for (size_t k = 0; k < data->n; k++)
        if (!(mean[k] > 0))
            return pl_fail(g->d, PL_EDATA, pl_plateau_where(g),
                           .found = pl_arena_printf(g->d->arena, "a fitted mean of %g at \"%s\" %g",
                                                    (double)mean[k], g->spec->over, data->x[k]),
                           .expected = "means above zero, where scatter is in proportion to them");
    return PL_OK;
}

/* Scatter of the units from their means; *change: of the logarithms, the largest. */
static pl_code take_scatter(pl_plateau_group *g, const long double *mean, double *change)
{
    const size_t n = g->data.n;
    pl_curve_scatter *all = PL_NEW(g->a, pl_curve_scatter), *some = PL_NEW(g->a, pl_curve_scatter);
    long double *sd = PL_NEWN(g->a, n, long double), *known = PL_NEWN(g->a, g->nknown, long double);

    if (!all || !some || !sd || !known)
        return pl_nomem(g->d);
    *change = 0;
    for (size_t k = 0; k < n; k++) {
        sd[k] = mean[k] / g->even_at;
        all->log_det += 2 * (double)logl(sd[k]);
        *change = fmax(*change, g->scatter_all ? fabs((double)logl(sd[k] / g->scatter_all->sd[k]))
                                               : INFINITY);
    }
    for (size_t k = 0; k < g->nknown; k++) {
        known[k] = sd[g->known[k]];
        some->log_det += 2 * (double)logl(known[k]);
    }
    all->sd = sd;
    some->sd = known;
    g->scatter_all = all;
    g->scatter = some;
    return PL_OK;
}

pl_code pl_plateau_in_proportion(pl_plateau_group *g)
{
    long double *mean = PL_NEWN(g->a, g->data.n, long double);
    pl_diags *said = g->d, quiet;
    double change = INFINITY;
    pl_code rc = PL_OK;

    if (!mean)
        return pl_nomem(g->d);
    if (!g->naveraged && !g->all.fine)
        return PL_OK;            /* nothing to weigh by; what that means is said elsewhere */
    pl_diags_init(&quiet, g->a); /* the same remarks again */
    for (int step = 0; step < PL_WEIGHTS_STEPS && change > SETTLED && !rc; step++) {
        rc = fitted_means(g, mean);
        if (!rc)
            rc = take_scatter(g, mean, &change);
        if (rc)
            break;
        g->d = &quiet;
        rc = pl_plateau_refit(g);
        g->d = said;
        said->out_of_memory |= quiet.out_of_memory;
        if (rc)
            return rc == PL_ENOMEM ? rc : pl_plateau_refit(g); /* aloud */
    }
    if (!rc && change > 1e-6)
        pl_advise(g->d, pl_plateau_where(g),
                  .found = pl_arena_printf(g->d->arena,
                                           "weights that still change by %.1g after %d rounds",
                                           change, PL_WEIGHTS_STEPS),
                  .expected = "weights that settle; the last ones were taken");
    return rc;
}
