/* What a take looks at beside its files. */
#ifndef PL_CLI_TAKE_H
#define PL_CLI_TAKE_H

#include "cli/load.h"

/* Says as advice what is possible but doubtful once these files are in the book:
 * joints broken before they had cured, or in another order than planned. */
pl_code pl_take_doubts(pl_run *run, const pl_loaded *l, const pl_readings *known,
                       const pl_source *sources, size_t count);

#endif
