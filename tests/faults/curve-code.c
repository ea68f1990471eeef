/* A return code that means nothing. */
#define ANSWER 9
#include "curve.h"
