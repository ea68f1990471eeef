/* The fit of a study: what `fit` prints and `report` draws. */
#ifndef PL_CLI_STUDY_FIT_H
#define PL_CLI_STUDY_FIT_H

#include "cli/load.h"
#include "report/answer.h"

/* Loads, joins and fits. out lives in the run's arena. */
pl_code pl_study_fit(pl_run *run, const char *study, pl_loaded *loaded, pl_fit_answer *out);
/* The same with so many draws from each curve (fit/bootstrap.h); 0: none. */
pl_code pl_study_fit_drawn(pl_run *run, const char *study, size_t draws, uint64_t seed,
                           pl_loaded *loaded, pl_fit_answer *out);

#endif
