/* A curved surface over measured factors: y = b0 + sum b_i x_i + sum b_ij x_i x_j + blocks, x from
 * -1 at a factor's lowest level to 1 at its highest; where its top lies, and how surely.
 *
 * The top is the highest point of the fitted surface among what was tried: within every factor's
 * levels and no farther from the middle than the farthest run. Where the surface may truly be flat:
 * all points x whose slope d = b + 2 B x cannot be told from nothing, d' V^-1 d <= k F (Box &
 * Hunter 1954, Biometrika 41:190), V the covariance of d at x; looked at on a grid (21 places a
 * factor up to three factors, else 20,000 points spread evenly). docs/methods/linear-models.md. */
#ifndef PL_FIT_SURFACE_H
#define PL_FIT_SURFACE_H

#include "fit/result.h"
#include "study/study.h"
#include "study/table.h"

#define PL_SURFACE_FACTORS_MOST 7u

typedef struct pl_surface_axis {
    const pl_factor *factor;
    double top_si;            /* of the highest point */
    double low_si, high_si;   /* a flat point may lie between; NAN: nowhere */
    bool low_open, high_open; /* up to the lowest or highest level tried */
} pl_surface_axis;

typedef struct pl_surface {
    size_t nfactor;
    pl_surface_axis axes[PL_SURFACE_FACTORS_MOST];
    bool inside;              /* the highest point is a top: flat, and lower all around */
    double height, low, high; /* fitted there, averaged over blocks, and 95 % limits; unit */
    double df;
    const char *unit; /* of the response */
} pl_surface;

/* Fits the surface to glue-ups' means; blocks: fixed. *out is NULL, with PL_OK, where there is no
 * surface to speak of: a factor that is not measured or has two levels, or too few glue-ups.
 * PL_ENOMEM. */
pl_code pl_fit_surface(pl_arena *a, const pl_study *s, const pl_table *t, const char *const *blocks,
                       size_t nblock, const pl_surface **out, pl_diags *d);

#endif
