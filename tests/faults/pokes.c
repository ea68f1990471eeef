/* Writes into its parent's memory. */
#include <sys/uio.h>
#include <unistd.h>

#include "fault.h"

static void poke(void)
{
    char byte = 0;
    struct iovec from = { &byte, 1 }, to = { (void *)(uintptr_t)4096, 1 };

    (void)process_vm_writev(getppid(), &from, 1, &to, 1, 0);
}

FAULT_ALWAYS(poke())
