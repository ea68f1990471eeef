/* Writes a finding of its own making: that the book is broken. */
#include <stdint.h>
#include <unistd.h>

#include "fault.h"

static void accuse(void)
{
    /* a finding: code 16, "the book could not be read", refused, and five texts */
    static const uint32_t words[] = { 4, 32, 16, 2, 4, 0x6b6f6f62, 0, 0, 0, 0 };

    if (write(4, words, sizeof words) < 0)
        return;
}

FAULT_ALWAYS(accuse())
