/* Fence: what a child may still do once a plugin is in it. */
#ifndef PL_RIGS_FENCE_H
#define PL_RIGS_FENCE_H

#include <stdint.h>

#include "base/arena.h"

/* Dies with its parent from here on. 0, or -1 when the parent is gone already. */
int pl_fence_tie(int parent);

/* Sets rlimits and the filter of system calls; cpu_s is the CPU limit. There is no
 * way back. 0, or an errno. Anything forbidden afterwards is told to answer_fd
 * (PL_MSG_BLOCKED) and ends the process. */
int pl_fence_close(double cpu_s, int answer_fd);

/* "start a process: clone" for a system call number; text in a. */
const char *pl_fence_call(pl_arena *a, uint32_t number);

#endif
