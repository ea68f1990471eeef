/* How the figures of a report were worked out, and where that is published. */
#ifndef PL_REPORT_METHODS_H
#define PL_REPORT_METHODS_H

#include "page/html.h"
#include "report/answer.h"

/* A fold: only what this answer uses. */
void pl_methods_fold(pl_page *page, const pl_fit_answer *f);

#endif
