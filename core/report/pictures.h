/* The pictures of a report. Each reads the answer and adds one to the page. */
#ifndef PL_REPORT_PICTURES_H
#define PL_REPORT_PICTURES_H

#include "page/plot.h"
#include "report/answer.h"

/* Every specimen a dot with hover text, level means, the averaged curve with its
 * band, the onset's interval as a stripe. */
pl_code pl_picture_curve(pl_arena *a, pl_page *page, const pl_fit_answer *f, const pl_plateau *p,
                         pl_diags *d);
/* The same for the terminal; *text NULL when it cannot be drawn. */
pl_code pl_picture_curve_text(pl_arena *a, const pl_fit_answer *f, const pl_plateau *p, char **text,
                              pl_diags *d);
/* What the curves leave of each reading, one picture for each thing that it should not go with:
 * order of gluing (or of the table's rows), level, board, rig, day; and beside its normal scores.
 * Those of which the table has no two are left out. */
pl_code pl_picture_trust(pl_arena *a, pl_page *page, const pl_fit_answer *f, pl_diags *d);
/* Which level was glued when, session by session. */
pl_code pl_picture_plan(pl_arena *a, pl_page *page, const pl_fit_answer *f, pl_diags *d);
/* The same for the terminal; *text NULL when there is nothing to draw, or it cannot be. */
pl_code pl_picture_plan_text(pl_arena *a, const pl_study *s, const pl_plan *p, char **text,
                             pl_diags *d);

#endif
