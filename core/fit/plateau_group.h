/* One group on its way from units to an answer; between plateau.c and plateau_answer.c. */
#ifndef PL_FIT_PLATEAU_GROUP_H
#define PL_FIT_PLATEAU_GROUP_H

#include "fit/contrast.h"
#include "fit/onset.h"
#include "fit/plateau_data.h"

#define PL_PLATEAU_LEVELS_LEAST 2

typedef struct pl_plateau_group {
    pl_arena *a;
    const pl_curve_spec *spec;
    double share;
    const char *name; /* of the group; NULL */
    size_t number;    /* of the group, from 0 */
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
    /* Scatter in proportion: of all units and of those in the curves; sd stand over that at the
     * mean strength even_at. NULL, 0: alike. */
    pl_curve_scatter *scatter_all, *scatter;
    double even_at;
    size_t nrandom; /* of the blocks, the last so many: random */
    pl_diags *d;
} pl_plateau_group;

/* Table and group, for findings. */
static inline const char *pl_plateau_where(const pl_plateau_group *g)
{
    return g->name ? pl_arena_printf(g->d->arena, "%s: %s %s", g->data.where, g->spec->for_each,
                                     g->name)
                   : g->data.where;
}

/* plateau.c: rows and level means from the units, by the scatter that stands in g; contrasts,
 * curves and weights from these. May be done again. */
pl_code pl_plateau_refit(pl_plateau_group *g);
/* Weights of the models that are there: averaged, naveraged. */
void pl_plateau_weigh(pl_plateau_group *g);
/* Places for pictures: between neighbouring levels evenly, *n of them, NULL for none. PL_ENOMEM. */
pl_code pl_plateau_picture_x(pl_arena *a, const double *places, size_t nplace, const double **out,
                             size_t *n, pl_diags *d);

/* Intervals, means, pictures and state from what the group holds. PL_ENOMEM. */
pl_code pl_plateau_answer(pl_plateau_group *g, pl_plateau *p);

#endif
