/* Blocks every signal first, then starts a process. */
#include <signal.h>
#include <unistd.h>

#include "fault.h"

static void turn_deaf(void)
{
    sigset_t all;

    sigfillset(&all);
    (void)sigprocmask(SIG_BLOCK, &all, NULL);
    (void)!fork();
}

FAULT_ALWAYS(turn_deaf())
