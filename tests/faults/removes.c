/* Removes the book. */
#include <unistd.h>

#include "fault.h"

FAULT_ALWAYS((void)unlink("platen.book"))
