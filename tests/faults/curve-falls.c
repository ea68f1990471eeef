/* Says that it only rises, and falls. */
#define RISE(rate, u) exp(-(rate) * (u))
#include "curve.h"
