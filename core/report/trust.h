/* "Can these figures be trusted?": what a fit shows of its own footing. */
#ifndef PL_REPORT_TRUST_H
#define PL_REPORT_TRUST_H

#include "report/answer.h"

/* A sentence each: drift, spread, single joints far off, the scatter found beside the one
 * expected. Of a fit without curves the scale alone;
 * then each factor that was drawn again (say.h). Flags take nothing out of the figures. */
pl_code pl_trust_words(pl_arena *a, const pl_fit_answer *f, pl_text *t, pl_diags *d);
/* Whether the readings stand on the scale where joints scatter evenly; nothing without f->power. */
void pl_power_words(pl_arena *a, const pl_fit_answer *f, pl_text *t);
void pl_power_json(pl_jval *object, const pl_fit_answer *f);
/* checks[] as docs/json.md has it. */
void pl_trust_json(pl_jval *object, const pl_fit_answer *f);
#endif
