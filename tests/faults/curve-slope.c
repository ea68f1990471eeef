/* A derivative that is off by one in a thousand. */
#define SLOPE 1.001
#include "curve.h"
