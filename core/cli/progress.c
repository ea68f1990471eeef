/* The line that says how far a long piece of work is. What is done, the worker says. */
#include "cli/progress.h"

#include <stdio.h>
#include <unistd.h>

#define QUIET_S 1.0 /* short work says nothing */
#define EVERY_S 0.2

static double since(const struct timespec *then)
{
    struct timespec now;

    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)(now.tv_sec - then->tv_sec) + 1e-9 * (double)(now.tv_nsec - then->tv_nsec);
}

void pl_progress_begin(pl_progress *p, const char *left)
{
    *p = (pl_progress){ .left = left };
    clock_gettime(CLOCK_MONOTONIC, &p->began);
    p->last = p->began;
}

void pl_progress_tell(void *self, double done)
{
    pl_progress *p = self;
    double s = since(&p->began);

    if (s < QUIET_S || since(&p->last) < EVERY_S || !(done > 0 && done <= 1) ||
        !isatty(STDERR_FILENO))
        return;
    clock_gettime(CLOCK_MONOTONIC, &p->last);
    fprintf(stderr, "\r%3.0f %% done, %s %.0f s left   ", 100 * done, p->left,
            s * (1 - done) / done);
    p->told = true;
}

void pl_progress_end(pl_progress *p)
{
    if (p->told)
        fprintf(stderr, "\r%44s\r", "");
    p->told = false;
}
