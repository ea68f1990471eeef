/* Follows a stray pointer while it is fitted. */
#include <stdint.h>

static volatile uintptr_t astray = 4096;
#define ANSWER (*(volatile int *)astray)
#include "curve.h"
