/* What a study measures beside strength: fitted each for itself, or taken along. */
#ifndef PL_CLI_STUDY_RESPONSES_H
#define PL_CLI_STUDY_RESPONSES_H

#include "cli/verb.h"
#include "fit/linear.h"
#include "report/answer.h"

/* model.covariates into spec, behind those that are there; advises where a level moves one
 * (fit/path.h). */
pl_code pl_study_covariates(pl_run *run, const pl_study *s, const pl_table *t,
                            pl_linear_spec *spec);

/* Fills f->responses: each further response with the curves and the model of strength. One that
 * cannot be fitted says why and refuses nothing. Needs f->spec where the question asks for curves.
 */
pl_code pl_study_responses(pl_run *run, const pl_study *s, pl_fit_answer *f);

#endif
