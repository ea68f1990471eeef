/* SetPoints: which rig makes which level, at what dial reading, how surely.
 * Filled by rigs in one visit to a child; read by everyone. */
#ifndef PL_STUDY_SET_POINTS_H
#define PL_STUDY_SET_POINTS_H

#include <stdbool.h>
#include <stddef.h>

typedef struct pl_set_point {
    bool can;
    const char *rig, *kind;
    double dial;             /* in dial_unit, rounded to what the dial can show; NAN for weights */
    const char *dial_unit;   /* "bar"; "" when there is no dial */
    double asked_N, gives_N; /* force asked for, and given at `dial` */
    double u_N;              /* standard uncertainty of gives_N, all parts */
    double u_rig_N;          /* of it: common to the rig (gauge, friction, area) */
    double accept_low, accept_high; /* dial readings within which the level counts as made */
    const char *const *parts;       /* "5 kg x 2", "1 kg" */
    size_t nparts;
    const char *rated;         /* "10 bar": the rig's rated limit, as said in cautions */
    const char *reason, *mend; /* why not, and the smallest change that would mend it */
} pl_set_point;

typedef struct pl_set_points {
    size_t nlevel, nrig;
    const pl_set_point *at; /* nlevel x nrig, row-major */
    const int *chosen;      /* nlevel: the rig that makes it; -1: none can */
    double area_m2;         /* pressure on the bond = force / area */
    const double *most_N;   /* nrig: the largest force the rig may make or read, NAN where not
                               known; NULL: not asked */
} pl_set_points;

static inline const pl_set_point *pl_set_points_at(const pl_set_points *p, size_t level, size_t rig)
{
    return &p->at[level * p->nrig + rig];
}

#endif
