/* Leaves a thread running. */
#include <pthread.h>

#include "fault.h"

static void *work(void *nothing)
{
    for (;;)
        ;
    return nothing;
}

static void start(void)
{
    pthread_t t;

    (void)pthread_create(&t, NULL, work, NULL);
}

FAULT_ALWAYS(start())
