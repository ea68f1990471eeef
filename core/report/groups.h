/* What a fit says of its groups beside each other. */
#ifndef PL_REPORT_GROUPS_H
#define PL_REPORT_GROUPS_H

#include "page/grid.h"
#include "report/answer.h"

/* A sentence for each pair, shop words; nothing for a single group. */
void pl_groups_words(pl_arena *a, const pl_fit_answer *f, pl_text *t);
void pl_groups_details(pl_arena *a, const pl_fit_answer *f, pl_text *t);
void pl_groups_json(pl_jval *object, const pl_fit_answer *f);

pl_grid *pl_groups_ratios(pl_arena *a, const pl_between *b);
pl_grid *pl_groups_shapes(pl_arena *a, const pl_between *b);

#endif
