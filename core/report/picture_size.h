/* Pictures of an answer about numbers. Each hands out a plot that lives in a. */
#ifndef PL_REPORT_PICTURE_SIZE_H
#define PL_REPORT_PICTURE_SIZE_H

#include "page/plot.h"
#include "size/plateau.h"

/* The chance against glue-ups per level, of an answer about numbers. */
pl_code pl_picture_size(pl_arena *a, const pl_size_question *q, const pl_size_answer *w,
                        const pl_plot **out, pl_diags *d);
pl_code pl_picture_plateau_size(pl_arena *a, const pl_plateau_question *q,
                                const pl_plateau_answer *w, const pl_plot **out, pl_diags *d);
/* The same of a plan: as it was when the plan was drawn, and with the scatter found since. */
pl_code pl_picture_chances(pl_arena *a, const pl_chances *then, const pl_chances *now,
                           const pl_plot **out, pl_diags *d);

#endif
