/* platen rig try: the battery that every rig plugin must stand, with a readable
 * report. */
#include <math.h>
#include <string.h>

#include "base/file.h"
#include "cli/rig.h"
#include "rigs/find.h"
#include "rigs/try.h"

/* A rig file (its name has a point or a folder in it), a rig of the shop, or a kind. */
static pl_code what_to_try(pl_run *run, const char *name, pl_rig *rig, pl_trying *what)
{
    const pl_json *object;
    bool found = true;
    pl_code rc;

    if (strpbrk(name, "./")) {
        rc = pl_json_read(run->arena, name, &object, &run->diags);
        if (!rc)
            rc = pl_rig_from_json(run->arena, object, rig, &run->diags);
    } else {
        rc = pl_shop_rig(run, name, rig, &found);
    }
    if (found)
        what->rig = rig;
    else
        what->kind = name;
    return rc;
}

/* What stands behind the name, and what lies in --recordings. */
static pl_code find_records(pl_run *run, size_t behind, pl_trying *what)
{
    const pl_rig_options *o = run->options;
    const char *const *listed = NULL;
    const char **all;
    size_t n = 0, given = run->narg > behind ? run->narg - behind : 0;
    pl_code rc = PL_OK;

    if (o->recordings)
        rc = pl_try_folder(run->arena, o->recordings, &listed, &n, &run->diags);
    if (rc)
        return rc;
    all = PL_NEWN(run->arena, given + n, const char *);
    if (!all)
        return pl_nomem(&run->diags);
    for (size_t i = 0; i < given; i++)
        all[i] = run->args[behind + i];
    for (size_t i = 0; i < n; i++)
        all[given + i] = listed[i];
    what->records = all;
    what->nrecord = given + n;
    return PL_OK;
}

static void say_trial(pl_run *run, pl_jval *list, const pl_trial *x)
{
    pl_jval *o = pl_jadd_object(list, NULL);

    pl_jadd_text(o, "name", x->name);
    pl_jadd_bool(o, "passed", x->passed);
    pl_jadd_text(o, "found", x->found);
    pl_jadd_text(o, "expected", x->expected);
    pl_jadd_text(o, "mend", x->mend);
    pl_text_add(&run->text, "%s  %s\n", x->passed ? "passed" : "FAILED", x->name);
    if (x->passed)
        return;
    pl_text_add(&run->text, "        found %s, expected %s\n", x->found, x->expected);
    if (x->mend[0])
        pl_text_add(&run->text, "        mend: %s\n", x->mend);
}

static void say(pl_run *run, const pl_trials *t)
{
    pl_arena *a = run->arena;
    pl_jval *list;

    pl_jadd_text(run->answer, "kind", t->kind);
    pl_jadd_text(run->answer, "rig", t->rig[0] ? t->rig : NULL);
    pl_text_add(&run->text, "%s, %s%s\n", t->kind, t->curve ? "" : "asked as ",
                t->curve    ? "a curve"
                : t->rig[0] ? t->rig
                            : "a rig made up of what it declares");
    list = pl_jadd_array(run->answer, "checks");
    for (size_t i = 0; i < t->count; i++)
        say_trial(run, list, &t->items[i]);
    pl_jadd_whole(run->answer, "failed", (long long)t->failed);
    pl_jadd_number(run->answer, "least_force", t->least_N);
    pl_jadd_number(run->answer, "most_force", t->most_N);
    pl_jadd_whole(run->answer, "made_up_rigs", (long long)t->settings);
    pl_jadd_whole(run->answer, "records", (long long)t->records);
    pl_jadd_whole(run->answer, "rows", (long long)t->rows);
    pl_jadd_number(run->answer, "microseconds_per_row", t->us_per_row);
    pl_jadd_number(run->answer, "bytes_per_row", t->bytes_per_row);
    pl_text_add(&run->text, "%zu checks, %zu failed\n", t->count, t->failed);
    if (t->reads && !t->records)
        pl_advise(&run->diags, t->kind, .found = "no recording to try",
                  .expected = "something that such a rig recorded",
                  .mend = "name it behind the rig, or put it into a folder \"recordings\" beside "
                          "the plugin");
    if (!isnan(t->least_N))
        pl_text_add(&run->text, "presses %s to %s\n",
                    pl_units_text(a, t->least_N, PL_Q_FORCE, "N", 3),
                    pl_units_text(a, t->most_N, PL_Q_FORCE, "N", 3));
    if (t->rows)
        pl_text_add(&run->text, "%s microseconds and %s bytes of memory a row, over %zu rows\n",
                    pl_text_number(a, t->us_per_row, 2), pl_text_number(a, t->bytes_per_row, 2),
                    t->rows);
}

static bool is_rig_file(const char *name)
{
    size_t n = strlen(name);

    return n > 5 && !strcmp(name + n - 5, ".json");
}

/* Without a name, or with nothing but records behind it: the plugin given by its file. */
pl_code pl_rig_try(pl_run *run, const char *name)
{
    pl_trying what = { 0 };
    pl_trials trials;
    size_t behind = 2;
    pl_rig rig;
    pl_code rc;

    if (pl_find_given() && (!name || (strpbrk(name, "./") && !is_rig_file(name)))) {
        name = pl_find_given();
        behind = 1;
    }
    if (!name)
        return pl_usage(run, "", "rig try without a name", "platen rig try NAME RECORD...",
                        "NAME: a rig file, a rig of the shop, or a kind; or --plugin FILE.so");
    rc = what_to_try(run, name, &rig, &what);
    if (!rc)
        rc = find_records(run, behind, &what);
    if (!rc)
        rc = pl_rigs_try(run->arena, &what, &trials, &run->diags);
    if (rc)
        return rc;
    say(run, &trials);
    if (trials.failed)
        return pl_fail(&run->diags, PL_EPLUGIN, trials.kind,
                       .found = pl_arena_printf(run->arena, "%zu of %zu checks failed",
                                                trials.failed, trials.count),
                       .expected = "a plugin that stands them all");
    return PL_OK;
}
