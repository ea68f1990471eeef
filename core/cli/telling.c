/* Ctrl-C while something is drawn. How far it is says progress.c. */
#include "cli/telling.h"

static volatile sig_atomic_t stop_asked;

static void on_interrupt(int signal)
{
    (void)signal;
    stop_asked = 1;
}

void pl_telling_begin(pl_telling *t)
{
    struct sigaction act = { .sa_handler = on_interrupt };

    stop_asked = 0;
    pl_progress_begin(&t->progress, "at most");
    sigaction(SIGINT, &act, &t->before);
}

bool pl_telling_watch(void *self, double done)
{
    pl_telling *t = self;

    pl_progress_tell(&t->progress, done);
    return stop_asked != 0;
}

void pl_telling_end(pl_telling *t)
{
    sigaction(SIGINT, &t->before, NULL);
    pl_progress_end(&t->progress);
}
