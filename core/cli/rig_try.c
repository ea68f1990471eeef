/* platen rig try: the battery that every rig plugin must stand, with a readable
 * report. */
#include <math.h>

#include "base/file.h"
#include "cli/rig.h"
#include "rigs/try.h"

/* A rig file, or a rig of the shop. */
static pl_code rig_to_try(pl_run *run, const char *name, pl_rig *rig)
{
    const pl_json *object;
    pl_code rc;

    if (!pl_file_exists(name))
        return pl_need_shop_rig(run, name, rig);
    rc = pl_json_read(run->arena, name, &object, &run->diags);
    return rc ? rc : pl_rig_from_json(run->arena, object, rig, &run->diags);
}

static void say(pl_run *run, const pl_trials *t)
{
    pl_jval *list = pl_jadd_array(run->answer, "checks");

    for (size_t i = 0; i < t->count; i++) {
        const pl_trial *x = &t->items[i];
        pl_jval *o = pl_jadd_object(list, NULL);

        pl_jadd_text(o, "name", x->name);
        pl_jadd_bool(o, "passed", x->passed);
        pl_jadd_text(o, "found", x->found);
        pl_jadd_text(o, "expected", x->expected);
        pl_text_add(&run->text, "%s  %s\n", x->passed ? "passed" : "FAILED", x->name);
        if (!x->passed)
            pl_text_add(&run->text, "        found %s, expected %s\n", x->found, x->expected);
    }
    pl_jadd_whole(run->answer, "failed", (long long)t->failed);
    pl_jadd_number(run->answer, "microseconds_per_row", t->us_per_row);
    pl_text_add(&run->text, "%zu checks, %zu failed", t->count, t->failed);
    if (!isnan(t->us_per_row))
        pl_text_add(&run->text, "; %s microseconds a row over %zu rows",
                    pl_text_number(run->arena, t->us_per_row, 2), t->rows);
    pl_text_put(&run->text, "\n");
}

pl_code pl_rig_try(pl_run *run, const char *name)
{
    pl_trials trials;
    pl_rig rig;
    pl_code rc = rig_to_try(run, name, &rig);

    if (!rc)
        rc = pl_rigs_try(run->arena, &rig, run->args + 2, run->narg - 2, &trials, &run->diags);
    if (rc)
        return rc;
    pl_jadd_text(run->answer, "rig", rig.name);
    pl_jadd_text(run->answer, "kind", rig.kind);
    say(run, &trials);
    if (!trials.failed)
        return PL_OK;
    return pl_fail(&run->diags, PL_EPLUGIN, rig.kind,
                   .found = pl_arena_printf(run->arena, "%zu of %zu checks failed", trials.failed,
                                            trials.count),
                   .expected = "a plugin that stands them all");
}
