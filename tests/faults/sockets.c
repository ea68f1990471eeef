/* Wants to speak to someone. */
#include <sys/socket.h>

#include "fault.h"

FAULT_WHEN_PRESSING((void)socket(AF_INET, SOCK_STREAM, 0))
