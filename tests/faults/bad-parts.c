/* Parts of a setting that it does not have. */
#include "fault.h"

FAULT_WHEN_PRESSING({
    out->nparts = 1;
    out->parts[0].setting = 9;
    out->parts[0].count = 1;
})
