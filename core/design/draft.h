/* A plan in the making: what the steps of pl_plan_make hand to one another.
 * Only core/design includes this. */
#ifndef PL_DESIGN_DRAFT_H
#define PL_DESIGN_DRAFT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/arena.h"
#include "base/diag.h"
#include "design/guard.h"
#include "study/plan.h"
#include "study/set_points.h"
#include "study/study.h"

typedef struct pl_draft_board {
    int stock;     /* place in study->boards */
    size_t group;  /* whose treatments it gets */
    size_t room;   /* glue-ups it can hold; SIZE_MAX when not known */
    size_t size;   /* glue-ups it gets, spare ones not counted */
    size_t spares; /* spare glue-ups */
    size_t extras; /* reference joints and those of pairs */
    int place;     /* in plan->boards; -1 when not used */
} pl_draft_board;

typedef struct pl_draft_unit { /* one glue-up */
    size_t treatment;          /* row of treatments */
    size_t group, local;       /* treatment = row_of[group * v + local] */
    size_t home;               /* local, before sessions exchange treatments of a board */
    int board;                 /* place in draft->boards; -1 if none */
    size_t parcel;             /* what is best glued in one session: a replicate or a board's set */
    size_t session;            /* from 0 */
    size_t slot;               /* of its session */
    size_t stretch[PL_LAYERS_MOST]; /* of each layer, where there are layers */
} pl_draft_unit;

typedef struct pl_bridge {    /* two rigs that make neighbouring levels */
    int one, other;           /* places in study->rigs */
    int level;                /* that pairs are made at; -1: none that both make */
    size_t need, room, pairs; /* needed, within the budget, in the plan */
    double ratio;             /* scatter over the standard error that may be left; 0: not known */
} pl_bridge;

typedef struct pl_extra { /* one glue-up beside those that are compared */
    size_t row;           /* its treatment */
    int rig, board;       /* board: place in draft->boards; -1 if none */
    size_t session, slot;
    size_t pair; /* from 1; 0: a reference joint */
} pl_extra;

typedef struct pl_slot { /* one closing that a session has time for */
    int press;           /* place in study->presses; -1 if none are listed */
    unsigned station;    /* from 1 */
    double start_s;      /* NAN when no clamp time is known */
    size_t round;        /* from 0: of the hands going from station to station */
    bool reserved;       /* for a reference joint */
} pl_slot;

typedef struct pl_draft {
    const pl_study *s;
    const pl_set_points *points;    /* NULL: none */
    const struct pl_issued *issued; /* NULL: none */
    pl_arena *a;                    /* keeps the plan */
    pl_arena *scratch;              /* goes when the plan is made */
    pl_diags *d;
    uint64_t seed;
    size_t n; /* glue-ups of each treatment */
    size_t m; /* specimens of each glue-up */

    /* treatments.c: first factor slowest, as listed. */
    int with_board, pressed; /* factors; -1: none */
    size_t ngroup, v;        /* groups: levels of with_board, or 1; v treatments in each */
    size_t ntreatment;
    int *levels;                  /* ntreatment x nfactor */
    struct pl_fraction *fraction; /* of a fractional factorial; else NULL */
    size_t side;                  /* of a square of boards and sessions; 0: none */
    unsigned nlayer;              /* of factors hard to change; 0: none */
    size_t nkey[PL_LAYERS_MOST];  /* combinations of the factors of this layer and outer ones */
    size_t *key[PL_LAYERS_MOST];  /* ntreatment: which of them */

    /* effects.c: contrasts of the factors within a group, where a plan shows these and not
     * every difference of two treatments; nx = 0 otherwise. */
    size_t nasked, nx;   /* the first nasked are what is asked; the others only guide blocks */
    double *x;           /* ntreatment x nx, whole numbers */
    double *x_weight;    /* nx */
    const char **partly; /* npartly sentences: effects that the combinations left show in part */
    size_t npartly;
    double reached;   /* of an optimal design: share of what no weights can pass */
    size_t *group_of; /* ntreatment */
    size_t *local_of; /* ntreatment */
    size_t *row_of;   /* ngroup x v */

    /* boards.c */
    bool have_boards;       /* the study lists boards */
    bool complete;          /* every board holds whole replicates (true without boards) */
    bool own_boards;        /* each lies within one stretch of the outermost layer */
    bool equal_sets;        /* boards that hold too few all get equally many */
    bool balanced;          /* then every two treatments of a group meet equally often */
    const char *unbalanced; /* why they cannot; NULL: no reason known */
    bool short_spares;      /* fewer spare joints than asked for */
    size_t spares_asked, nspare;
    pl_draft_board *boards;
    size_t nboard;
    pl_draft_unit *units;
    size_t nunit, nparcel;
    size_t *parcel_group, *parcel_round; /* nparcel: its group, and the how-maniest of its board */

    /* slots.c */
    int *rig_of;           /* ntreatment: place in study->rigs; -1 none known */
    uint32_t *kind;        /* ntreatment: equal when the same presses can make them */
    bool *may;             /* ntreatment x max(npress, 1): this press can make it */
    size_t nkinds;         /* different kinds */
    uint32_t *kind_number; /* ntreatment: of its kind, from 0 */
    size_t *kind_row;      /* nkinds: a treatment of each */
    pl_slot *slots;        /* of any session, by start; at most nunit a press */
    size_t nslot;
    size_t from;    /* the first closing that a session may use now */
    size_t limit;   /* behind the last */
    size_t held;    /* of them taken */
    size_t high;    /* none is taken from here on */
    size_t *next;   /* nkinds: none before it is free that the kind may have */
    size_t taken;   /* the last one taken */
    uint32_t *tree; /* nkinds x (nslot + 1): free closings of each kind, as sums (Fenwick 1994) */
    size_t *owner;  /* nslot: unit that has it; SIZE_MAX: free */
    unsigned *seen; /* nslot: last search that looked at it */
    unsigned search;

    /* sessions.c */
    bool split; /* parcels are cut up by sessions */
    size_t nsession;
    uint32_t *columns; /* nparcel: the order in which sessions take boards of rows and columns, to
                          be kept by a re-draw; NULL: drawn */

    /* order.c */
    pl_guard guard; /* what must not follow the order */
    bool guard_met;
    size_t *order;        /* nunit: places in units, by session and closing */
    unsigned order_draws; /* made, the last one kept unless the bound was not met */

    /* extras.c */
    bool reserve; /* closings for reference joints */
    size_t reference_row, nreference;
    pl_bridge *bridges;
    size_t nbridge, npair, placed;
    pl_extra *extras; /* by session and closing */
    size_t nextra;
    size_t *place_of; /* nunit: in plan->glue_ups, of order's units */
} pl_draft;

struct pl_stream;

/* strata.c: what is compared between boards, stretches and glue-ups, and what is left there to
 * judge it by. Fills strata; unit_df where there are layers. */
pl_code pl_draft_strata(pl_draft *f, pl_health *h);

/* The steps, in order. Each adds its findings and returns their code. */
pl_code pl_draft_treatments(pl_draft *f);
pl_code pl_draft_effects(pl_draft *f); /* contrasts; of an optimal design by pl_draft_optimal */
pl_code pl_draft_boards(pl_draft *f);  /* units, their boards and treatments; parcels */
pl_code pl_draft_slots(pl_draft *f);   /* rigs, presses, what one session has time for */
pl_code pl_draft_order(pl_draft *f);   /* sessions and slots of the units */
pl_code pl_draft_extras(pl_draft *f);  /* reference joints and bridging pairs */
pl_code pl_draft_spares(pl_draft *f);  /* on what boards have left */
pl_code pl_draft_health(pl_draft *f, pl_plan *p);
/* slots.c: what keeps a session from holding more, in words; "" where nothing is known to. NULL: no
 * memory. */
char *pl_draft_limit(const pl_draft *f);
/* extras.c: keeps closings for reference joints; called by pl_draft_slots. */
pl_code pl_draft_reserve(pl_draft *f);
/* The bridges: each two rigs that make neighbouring levels; and how many pairs the study's scatter
 * asks for, or the study itself. */
pl_code pl_draft_bridges(pl_draft *f);
size_t pl_draft_pairs_needed(const pl_study *s);
/* What the pairs of a bridge tell, or would tell; in f->a. NULL: no memory. */
char *pl_draft_bridge_words(pl_draft *f, size_t bridge);
/* Levels of the pressed factor, lowest first; in scratch. NULL: no memory. */
size_t *pl_draft_rising(const pl_draft *f);
/* The units as a layout, in scratch; at least one kind of block: one that holds everything,
 * or each group. Where something is hard to change, only what holds it at all its levels is a
 * block. */
struct pl_layout;
pl_code pl_draft_layout(pl_draft *f, bool boards, bool sessions, struct pl_layout *out);
/* Efficiency within boards and sessions as the units lie now; NAN when nothing
 * varies within a group. */
pl_code pl_draft_efficiency(pl_draft *f, double *efficiency);
char *pl_draft_chosen(pl_draft *f); /* NULL: no memory */
/* The first row with the same levels: runs in the middle, and runs worth making twice, are one
 * treatment. */
size_t pl_draft_first_like(const pl_draft *f, size_t t);

/* Level of a measured factor from -1 (lowest) to 1 (highest), in whatever order they are listed. */
double pl_draft_coded(const pl_factor *k, int level);
/* Takes its mean from every column of x; all count alike. */
void pl_draft_effects_centre(pl_draft *f);
/* Efficiency of the contrasts asked (harmonic mean of variance without blocks over that
 * with), and glue-ups less the rank of contrasts and blocks. */
pl_code pl_draft_effects_measure(pl_draft *f, bool sessions, double *efficiency, size_t *df);
/* Within pens, units change treatments so that the contrasts sum to as little as can be in
 * each block. block: nunit, below nblock; weight: nblock. */
pl_code pl_draft_effects_spread(pl_draft *f, const uint32_t *block, size_t nblock,
                                const double *weight, const uint32_t *pen, size_t starts,
                                size_t work);
/* "pressure = temper x spread": what each factor and product of two is mixed up with, up to
 * products of two. In f->a. */
pl_code pl_draft_aliases(pl_draft *f, const char *const **out, size_t *count);

/* optimal.c: rows and contrasts of an optimal design, once boards have their sizes: row i of a
 * group goes to the i-th place on its boards. */
pl_code pl_draft_optimal(pl_draft *f);
/* What of the factors' effects is not shown when some combinations may not meet: f->partly. A
 * factor that is not told from the others is refused. */
pl_code pl_draft_partly(pl_draft *f);

/* square.c: one square of boards and sessions after the other in each group. */
pl_code pl_draft_square_boards(pl_draft *f);
pl_code pl_draft_square_deal(pl_draft *f, struct pl_stream *stream);

/* central.c: a central composite design in blocks. */
pl_code pl_draft_central_boards(pl_draft *f);

/* split.c: factors hard to change. */
pl_code pl_draft_split_keys(pl_draft *f);
pl_code pl_draft_split_sizes(pl_draft *f); /* boards that do not hold a whole replicate */
pl_code pl_draft_split_units(pl_draft *f, size_t g, struct pl_stream *stream);
pl_code pl_draft_split_deal(pl_draft *f, struct pl_stream *stream);
void pl_draft_split_number(const pl_draft *f, pl_plan *p);
char *pl_draft_split_names(const pl_draft *f, unsigned layer); /* "temper and paste"; or NULL */

/* Are parcels cut up by sessions? Sets f->split; once, before dealing. */
pl_code pl_draft_look(pl_draft *f);
/* Deals the units out over sessions, as the stream says. */
pl_code pl_draft_deal(pl_draft *f, struct pl_stream *stream);
/* Where sessions cut parcels up: units of one board change treatments until those that share a
 * session are balanced. Sessions stay. */
pl_code pl_draft_balance(pl_draft *f);
/* Runs shared out anew over the boards, which keep their places. */
pl_code pl_draft_runs_again(pl_draft *f, struct pl_stream *stream);
/* Parcels in rows: the r-th of each group side by side, nrow x ngroup, SIZE_MAX: none; those of a
 * board's first replicate, in random order, before its second. False: no memory. */
bool pl_draft_rows(pl_draft *f, struct pl_stream *stream, size_t **rows, size_t *nrow);
/* Do the units fit into the closings f->from to `limit` of an empty session? */
bool pl_draft_session_fits(pl_draft *f, const uint32_t *units, size_t n, size_t limit);
/* For boards.c and square.c. */
void pl_draft_add_unit(pl_draft *f, size_t g, size_t local, int board, size_t parcel);
size_t pl_draft_add_parcel(pl_draft *f, size_t g, size_t round);
/* Units of each session, in the order of their places: list[first[k]..first[k + 1]-1]; in
 * scratch. False: no memory. */
bool pl_draft_by_session(pl_draft *f, size_t **first, uint32_t **list);
/* Closings from the session's start within which n units can all be made: just n
 * where no press has closings to spare, else whole rounds. */
size_t pl_draft_session_span(pl_draft *f, const uint32_t *units, size_t n);
/* Gives n units random closings within that span. Where one press has closings to
 * spare, its glue-ups lie anywhere in the span and not at its start: else the
 * levels of a press with many stations would always come first. */
void pl_draft_session_scatter(pl_draft *f, struct pl_stream *stream, uint32_t *units, size_t n,
                              size_t span);

/* Where the study says this: "stairs.json:41", or the study's name. key: of its
 * root; pl_fail's first place, with .pointer = "/key". */
const char *pl_draft_where(const pl_draft *f, const char *key);

/* "pressure", or "combination of pressure and adhesive": what v counts. NULL
 * when memory ran out, "" when nothing varies within a group. */
char *pl_draft_what(const pl_draft *f);
/* Name of a group: the level of with_board; "" when there is none. */
const char *pl_draft_group(const pl_draft *f, size_t g);

#endif
