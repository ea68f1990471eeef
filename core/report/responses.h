/* What was measured beside strength: a section each, as words, tables, JSON and page. */
#ifndef PL_REPORT_RESPONSES_H
#define PL_REPORT_RESPONSES_H

#include "page/html.h"
#include "report/answer.h"

void pl_responses_words(pl_arena *a, const pl_fit_answer *f, pl_text *t);
void pl_responses_details(pl_arena *a, const pl_fit_answer *f, pl_text *t);
void pl_responses_json(pl_jval *object, const pl_fit_answer *f);
/* Pictures that cannot be made are findings. */
pl_code pl_responses_page(pl_arena *a, pl_page *page, const pl_fit_answer *f, pl_diags *d);

#endif
