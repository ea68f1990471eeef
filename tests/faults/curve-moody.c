/* Where it was loaded gets into the curve. */
#include <stdint.h>

static char somewhere;
#define SCALE (1 + 1e-12 * (double)(((uintptr_t)&somewhere >> 12) & 0xfffff))
#include "curve.h"
