/* A curve that does nothing wrong: what the others do is theirs alone. */
#include "curve.h"
