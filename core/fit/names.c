/* Words for the enums of result.h; nothing else. */
#include "fit/result.h"

const char *pl_ss_kind_name(pl_ss_kind k)
{
    static const char *const names[PL_SS_NKINDS] = { "in-order", "after-all-others" };

    return (unsigned)k < PL_SS_NKINDS ? names[k] : "";
}

const char *pl_state_name(pl_state s)
{
    static const char *const names[PL_NSTATES] = { "reached", "not-reached", "undecided",
                                                   "no-change", "falling" };

    return (unsigned)s < PL_NSTATES ? names[s] : "";
}
