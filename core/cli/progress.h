/* A line on the terminal's standard error while something takes long: how much is done, how long
 * it will take yet. Nothing where standard error is no terminal, nor in the first second. */
#ifndef PL_CLI_PROGRESS_H
#define PL_CLI_PROGRESS_H

#include <stdbool.h>
#include <time.h>

typedef struct pl_progress {
    const char *left; /* "about", "at most": how the time left is said */
    struct timespec began, last;
    bool told;
} pl_progress;

void pl_progress_begin(pl_progress *p, const char *left);
void pl_progress_tell(void *p, double done); /* p: a pl_progress; done: 0 to 1 */
void pl_progress_end(pl_progress *p);        /* wipes the line */

#endif
