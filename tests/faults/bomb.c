/* Takes all the memory there is. */
#include <stdlib.h>
#include <string.h>

#include "fault.h"

static void take_all(void)
{
    for (;;) {
        char *block = malloc((size_t)64 << 20);

        if (!block)
            abort();
        memset(block, 1, (size_t)64 << 20);
    }
}

FAULT_ALWAYS(take_all())
