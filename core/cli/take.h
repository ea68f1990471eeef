/* What a take looks at beside its files. */
#ifndef PL_CLI_TAKE_H
#define PL_CLI_TAKE_H

#include "cli/load.h"

/* Says as advice what is possible but doubtful once these files are in the book:
 * joints broken before they had cured, or in another order than planned, records far
 * from their fellows, glue-ups made elsewhere than planned, a file of another study. */
pl_code pl_take_doubts(pl_run *run, const pl_loaded *l, const pl_readings *known,
                       const pl_source *sources, size_t count);
/* take --withdraw */
pl_code pl_take_back(pl_run *run, const char *file, const char *reason);

#endif
