/* A plan opened to be drawn anew: between redraw_open.c and redraw.c. */
#ifndef PL_DESIGN_REDRAW_INNER_H
#define PL_DESIGN_REDRAW_INNER_H

#include "design/guard.h"
#include "design/redraw.h"
#include "design/redraw_ways.h"

typedef struct pl_redraw_lists { /* of glue-ups or units that change treatments among themselves */
    size_t n, *first, *member;
} pl_redraw_lists;

typedef struct pl_redraw_keyed {
    pl_cell_key key;
    size_t member;
} pl_redraw_keyed;
/* Sorts all by key, and lists the members of each key one after the other: first[k] to
 * first[k + 1] of member. False: no memory. */
bool pl_redraw_list_up(pl_arena *a, pl_redraw_keyed *all, size_t n, pl_redraw_lists *out);

struct pl_redraw {
    const pl_study *s;
    const pl_plan *p;
    pl_arena *own; /* the draft's memory */
    pl_draft f;
    bool drafted; /* f is the plan's */
    pl_redraw_way way;
    size_t *unit_of;         /* nglue_up: of the draft; SIZE_MAX: none */
    size_t *follows;         /* nglue_up: the one it stands in for; SIZE_MAX: none */
    bool *moves;             /* nglue_up: gets a treatment of the draw by itself */
    pl_redraw_lists cells;   /* of glue-ups */
    pl_redraw_lists parcels; /* of units: of one parcel and kind */
    size_t *base;            /* nunit: home of each unit as the plan drew it */
    size_t *first_of;        /* nparcel + 1: units of each parcel */
    pl_guard guard;
    bool guard_met;     /* by the plan's own order */
    size_t *in_order;   /* glue-ups whose order is guarded */
    size_t *session_of; /* of these */
    size_t nordered;
    size_t *treatment_of; /* of these: room */
    int *room;            /* of these */
    bool by_layer;        /* one layer's settings are drawn and nothing else */
    unsigned layer;       /* that layer */
};

/* Cells of what may change places, each `apart` of its glue-up telling more kinds from each other
 * (NULL: none). By the way that stands in r. False: no memory. */
bool pl_redraw_open_cells(pl_redraw *r, const size_t *apart, size_t napart);

/* What the guard sees of these treatments; and those of what was made again, from the lost ones. */
void pl_redraw_look(pl_redraw *r, const size_t *treatment, pl_guard_seen *seen);
void pl_redraw_follow(const pl_redraw *r, size_t *treatment);

/* What the stretches of a layer get: sets of `each` places, nset of them, one after the other. */
typedef struct pl_redraw_settings {
    unsigned layer;
    size_t each, nset;
    size_t *one, *place; /* of each combination: a treatment; its place among those of its set */
    uint32_t *drawn;     /* nset x each: what each place gets; as they stand at first */
} pl_redraw_settings;
bool pl_redraw_settings_open(pl_redraw *r, unsigned layer, pl_redraw_settings *out);
void pl_redraw_settings_apply(const pl_redraw *r, const pl_redraw_settings *s, size_t *treatment);

#endif
