/* A curve that is defined for no shape number at all. */
#define DEFINED(rate) ((rate) < 0)
#include "curve.h"
