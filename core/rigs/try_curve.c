/* The battery for a curve plugin. What it gives is looked at in the child (curve_try.c); here two
 * children are asked, and their answers held against one another. */
#include <string.h>

#include "rigs/ask.h"
#include "rigs/try_inner.h"

typedef struct given {
    uint64_t defined, digest;
    const char *other, *slope;
} given;

/* *answered false: the plugin failed, and with it the check. */
static pl_code visit(pl_try *t, pl_try_check check, given *out, bool *answered)
{
    pl_plugin_file file;
    pl_answer answer;
    pl_message type;
    pl_unpack u;
    pl_text nothing;
    pl_diags quiet;
    pl_code rc;

    *out = (given){ 0 };
    pl_diags_init(&quiet, t->a);
    pl_text_init(&nothing, t->a);
    rc = pl_find_plugin(t->a, t->kind.name, &file, &quiet);
    if (!rc)
        rc = pl_child_visit(t->a, &file, PL_WORK_CURVE_TRY, &nothing, -1, pl_child_limit(), &answer,
                            &quiet);
    while (!rc && pl_answer_next(t->a, &answer, &type, &u, &quiet)) {
        *out = (given){ .defined = pl_unpack_u64(&u), .digest = pl_unpack_u64(&u) };
        out->other = pl_unpack_text(t->a, &u);
        out->slope = pl_unpack_text(t->a, &u);
    }
    if (!rc)
        rc = pl_diags_code(&quiet, 0);
    if (!rc && (!out->other || !out->slope))
        rc = pl_ask_lie(&quiet, &file, "no answer at all");
    *answered = !rc;
    return pl_try_failed(t, rc, check, &quiet);
}

pl_code pl_try_curve(pl_try *t)
{
    static const pl_try_check
        finite = { "every number is finite, and a rise rises",
                   "what platen/plugin.h asks of a curve",
                   "PLATEN_ERANGE where the curve is not defined for these shape numbers" },
        defined = { "there are shape numbers for which it is defined", "some within its own range",
                    "look at curve_range" },
        slopes = { "its derivatives agree with differences", "curve_gradient to four digits",
                   "derive it again: the last digits of a fit come from it" },
        same = { "the same question has the same answer, point by point and in any order",
                 "the same columns, bit for bit", "keep nothing from call to call" },
        process = {
            "the same in another process, bit for bit", "the same numbers",
            "nothing but points and shape numbers may enter: no addresses, clocks, chance"
        };
    given one, two;
    bool answered;
    pl_code rc = visit(t, finite, &one, &answered);

    if (rc || !answered)
        return rc;
    rc = pl_try_note(t, finite, "");
    if (!rc)
        rc = pl_try_note(t, defined, one.defined ? "" : "PLATEN_ERANGE everywhere");
    if (!rc && one.defined)
        rc = pl_try_note(t, slopes, one.slope);
    if (!rc && one.defined)
        rc = pl_try_note(t, same, one.other);
    if (!rc && one.defined)
        rc = visit(t, process, &two, &answered);
    if (rc || !one.defined || !answered)
        return rc;
    return pl_try_note(t, process, one.digest == two.digest ? "" : "other numbers than before");
}
