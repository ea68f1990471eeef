/* The fit of a study: what `fit` prints and `report` draws. */
#ifndef PL_CLI_STUDY_FIT_H
#define PL_CLI_STUDY_FIT_H

#include "cli/load.h"
#include "report/answer.h"

/* Loads, joins and fits. out lives in the run's arena. */
pl_code pl_study_fit(pl_run *run, const char *study, pl_loaded *loaded, pl_fit_answer *out);
/* The same with draws beside the answer. */
pl_code pl_study_fit_drawn(pl_run *run, const char *study, pl_draws draws, pl_loaded *loaded,
                           pl_fit_answer *out);

#endif
