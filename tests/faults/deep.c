/* Calls itself without end. */
#include "fault.h"

static volatile unsigned depth;

static unsigned deeper(unsigned n)
{
    volatile char room[4096];

    room[n % sizeof room] = (char)n;
    depth++;
    return depth ? deeper(n + 1) + (unsigned char)room[0] : 0;
}

FAULT_ALWAYS((void)deeper(0))
