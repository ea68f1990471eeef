/* Ends the answer before half of it is there. */
#include <stdint.h>
#include <unistd.h>

#include "fault.h"

static void end_early(void)
{
    static const uint32_t words[] = { 11, 4, 0 }; /* PL_MSG_END: all is well */

    if (write(4, words, sizeof words) < 0)
        return;
}

FAULT_WHEN_PRESSING(end_early())
