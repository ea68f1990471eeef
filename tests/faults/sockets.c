/* Wants to speak to someone. */
#include <sys/socket.h>

#include "fault.h"

FAULT_ALWAYS((void)socket(AF_INET, SOCK_STREAM, 0))
