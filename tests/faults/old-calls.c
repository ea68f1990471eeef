/* Calls the kernel by the door for older programs, where numbers mean something else. */
#include <signal.h>
#include <unistd.h>

#include "fault.h"

static void call(void)
{
#if defined(__x86_64__)
    long result = 37; /* kill, for a program of 32 bits */

    __asm__ volatile("int $0x80"
                     : "+a"(result)
                     : "b"((long)getppid()), "c"((long)SIGKILL)
                     : "memory");
#else
    (void)kill(getppid(), SIGKILL);
#endif
}

FAULT_ALWAYS(call())
