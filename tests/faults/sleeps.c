/* Never comes back, and uses no processor time. */
#include <unistd.h>

#include "fault.h"

FAULT_ALWAYS(while (1) sleep(100))
