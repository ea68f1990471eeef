/* No fault: reads a file that is no table, byte by byte, and keeps count in its state. */
#include "fault.h"

static int bytes(const platen_host *host, const platen_value *values, void *state,
                 const unsigned char *piece, size_t n, int last)
{
    double *count = state;
    platen_reading one = { NULL, "bytes_of_a", "1", 0, 0 };

    (void)values;
    for (size_t i = 0; i < n; i++)
        *count += piece[i] == 'a';
    one.value = *count;
    return last && host->reading(host->self, &one) ? PLATEN_ESTOP : PLATEN_OK;
}

FAULT_PLUGIN(.state_size = sizeof(double), .bytes = bytes)
