/* What past studies of the book found of scatter: how far joints made alike differed. */
#ifndef PL_CLI_HISTORY_H
#define PL_CLI_HISTORY_H

#include "cli/load.h"

typedef struct pl_past { /* one study, or one wood of it where it answers for each */
    const char *study, *wood, *adhesive, *rig, *response;
    double sd_Pa, mean_Pa; /* between glue-ups made alike; of all levels */
    double df;
} pl_past;

typedef struct pl_history {
    pl_past *items;
    size_t count;
    size_t without; /* studies that tell none: fewer joints are broken than it takes */
} pl_history;

/* Of the studies named, or (NULL) of all. Each from its last kept answer, where that
 * saw all that was taken and marked since; else fitted anew. EUSAGE: no such study. */
pl_code pl_history_read(pl_run *run, pl_book *book, const char *const *names, size_t count,
                        pl_history *out);

typedef struct pl_pooled {
    double cv, df;
    double between; /* from study to study, as a factor; NAN: only one */
    size_t studies;
} pl_pooled;

/* Of those alike in wood, adhesive, rig and response to items[first], or (like NULL) of
 * all. cv = sqrt(sum df cv^2 / sum df); between: exp of the standard deviation of log cv. */
void pl_history_pool(const pl_history *h, const pl_past *like, pl_pooled *out);
bool pl_past_alike(const pl_past *x, const pl_past *y);

/* A study whose scatter is {"history": ...} with what the book says of it; any other as
 * it is. Says aloud what was taken, and where those studies were of something else. */
pl_code pl_history_scatter(pl_run *run, const pl_study *s, const pl_study **out);

#endif
