/* How many glue-ups per level a study gets: what it says, or what its aim needs,
 * cut to its budget. */
#ifndef PL_CLI_SIZE_OF_H
#define PL_CLI_SIZE_OF_H

#include "cli/verb.h"
#include "study/study.h"

/* A remark says where the number comes from when the study does not say it. */
pl_code pl_size_of_study(pl_run *run, const pl_study *s, unsigned *glue_ups_per_level);

#endif
