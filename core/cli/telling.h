/* Something drawn for long: how far it is, and stopping it by hand. */
#ifndef PL_CLI_TELLING_H
#define PL_CLI_TELLING_H

#include <signal.h>
#include <stdbool.h>

#include "cli/progress.h"

typedef struct pl_telling {
    pl_progress progress;
    struct sigaction before;
} pl_telling;

/* From begin to end Ctrl-C asks to stop instead of ending the program. One at a time. */
void pl_telling_begin(pl_telling *t);
void pl_telling_end(pl_telling *t);
/* For size's watches. self: a pl_telling; done: 0 to 1. True: stop. */
bool pl_telling_watch(void *self, double done);

#endif
