/* A shape number without gradient or range. */
#define WITHOUT_SLOPE
#include "curve.h"
