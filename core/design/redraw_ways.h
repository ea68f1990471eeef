/* How the treatments of a draft can be drawn anew, for counting and for drawing.
 * Only core/design includes this. */
#ifndef PL_DESIGN_REDRAW_WAYS_H
#define PL_DESIGN_REDRAW_WAYS_H

#include "design/allocations.h"
#include "design/draft.h"

typedef enum pl_redraw_way {
    PL_REDRAW_CELLS,   /* treatments change places within cells and nothing else */
    PL_REDRAW_SETS,    /* sets of boards, their labels, then cells or the balance of sessions */
    PL_REDRAW_RUNS,    /* shared out by contrasts */
    PL_REDRAW_COLUMNS, /* rows and columns */
    PL_REDRAW_SQUARE,
    PL_REDRAW_SPLIT /* what stretches get, and cells within the innermost */
} pl_redraw_way;

typedef struct pl_cell_key { /* units that may always change treatments have the same */
    bool other;              /* not of the draft */
    size_t group;
    int board;
    size_t session, kind; /* kind: of treatment; of what is not of the draft: its press */
} pl_cell_key;

int pl_cell_compare(const pl_cell_key *a, const pl_cell_key *b);
pl_cell_key pl_cell_of_unit(const pl_draft *f, size_t unit);

/* The widest way that the draft's own draw allows. */
pl_redraw_way pl_redraw_way_of(const pl_draft *f);
/* Of the group, does each board hold whole replicates? */
bool pl_redraw_whole(const pl_draft *f, size_t group);
/* Can all presses that matter make all of the group's treatments? */
bool pl_redraw_one_kind(const pl_draft *f, size_t group);
/* May the stretches of a layer change settings? Not where that is for the presses to say. */
bool pl_redraw_layer(const pl_draft *f, unsigned layer);
/* Assignments are the arrangements within cells, no more and no fewer. */
bool pl_redraw_only_cells(const pl_draft *f, pl_redraw_way way);

/* Counts for the health of a plan. Mantissa 0: not counted. */
pl_code pl_draft_allocations(pl_draft *f, pl_allocations *n, bool *at_most);
/* 2 / n, 1 at most. */
double pl_least_p(const pl_allocations *n);

#endif
