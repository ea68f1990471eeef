/* Writes the end of an answer itself: the work failed, and nothing says why. */
#include <stdint.h>
#include <unistd.h>

#include "fault.h"

static void pretend(void)
{
    static const uint32_t words[] = { 11, 4, 16 }; /* PL_MSG_END; "the book could not be read" */

    if (write(4, words, sizeof words) < 0)
        return;
}

FAULT_ALWAYS(pretend())
