/* What a plan says of itself, for plan.c and check.c. */
#ifndef PL_CLI_PLAN_H
#define PL_CLI_PLAN_H

#include "cli/verb.h"
#include "study/plan.h"

/* Adds to the text which effects are one and the same, where a fraction mixes some up. */
void pl_say_aliases(pl_run *run, const pl_plan *p);

#endif
