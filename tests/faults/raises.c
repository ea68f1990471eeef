/* Raises its own limits. */
#include <sys/resource.h>

#include "fault.h"

static void raise_limit(void)
{
    const struct rlimit more = { RLIM_INFINITY, RLIM_INFINITY };

    (void)setrlimit(RLIMIT_CPU, &more);
}

FAULT_ALWAYS(raise_limit())
