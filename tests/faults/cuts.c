/* Cuts the book short. */
#include <unistd.h>

#include "fault.h"

static void cut(void)
{
    if (truncate("platen.book", 0))
        return;
}

FAULT_ALWAYS(cut())
