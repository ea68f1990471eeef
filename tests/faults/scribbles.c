/* Puts words of its own into the answer. */
#include <stdint.h>
#include <unistd.h>

#include "fault.h"

static void scribble(void)
{
    static const uint32_t words[] = { 6, 12, 0xffffffffu, 0xffffffffu, 1 };

    if (write(4, words, sizeof words) < 0)
        return;
}

FAULT_ALWAYS(scribble())
