/* The pictures of a report: plots that live in a, or pictures added to the page. */
#ifndef PL_REPORT_PICTURES_H
#define PL_REPORT_PICTURES_H

#include "page/plot.h"
#include "report/answer.h"

/* Every specimen a dot with hover text, level means, the averaged curve with its
 * band, the onset's interval as a stripe. */
pl_code pl_picture_curve(pl_arena *a, const pl_fit_answer *f, const pl_plateau *p,
                         const pl_plot **out, pl_diags *d);
/* The same with what is to be made next: count[i] glue-ups at x[i], `width` the ratio (or, not
 * ratio, the distance) that the onset's ends are expected to come to; NAN: not to be told. */
typedef struct pl_round_picture {
    const double *x;
    const size_t *count;
    size_t n;
    double width;
    bool ratio;
} pl_round_picture;
pl_code pl_picture_round(pl_arena *a, const pl_fit_answer *f, const pl_plateau *p,
                         const pl_round_picture *r, const pl_plot **out, pl_diags *d);
/* What the curves leave of each reading, one picture for each thing that it should not go with:
 * order of gluing (or of the table's rows), level, board, rig, day; and beside its normal scores.
 * Those of which the table has no two are left out. */
pl_code pl_picture_trust(pl_arena *a, pl_page *page, const pl_fit_answer *f, pl_diags *d);
/* Which level was glued when, session by session; *out NULL when no factor is set by a press. */
pl_code pl_picture_plan(pl_arena *a, const pl_study *s, const pl_plan *p, const pl_plot **out,
                        pl_diags *d);

#endif
