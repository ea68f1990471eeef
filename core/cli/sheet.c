/* platen sheet: what the bench needs, to print and to fill in. */
#include <string.h>

#include "bench/sheets.h"
#include "cli/load.h"
#include "rigs/rigs.h"

typedef struct sheet_options {
    const char *to;
    long long session;
    bool replace;
} sheet_options;

enum { KEY_SESSION = 1, KEY_TO, KEY_REPLACE };

static const struct argp_option options[] = {
    { "session", KEY_SESSION, "N", 0, "only this session", 0 },
    { "to", KEY_TO, "DIR", 0, "the folder to write into (else ./STUDY-rREVISION)", 0 },
    { "replace", KEY_REPLACE, 0, 0, "write over sheets that are there", 0 },
    { 0 },
};

static pl_code take(pl_run *run, int key, const char *arg)
{
    sheet_options *o = run->options;

    if (key == KEY_SESSION)
        return pl_take_whole(run, "--session", arg, 1, 9999, &o->session);
    if (key == KEY_TO)
        o->to = arg;
    else
        o->replace = true;
    return PL_OK;
}

/* The unit that peaks are written in: the breaking rig's dial, else kN. */
static const char *peak_unit(pl_run *run, const pl_loaded *l)
{
    const pl_json *dial, *unit;
    const pl_rig *rig;

    if (!l->rigs || l->study->breaking.rig < 0)
        return NULL;
    rig = &l->rigs[l->study->breaking.rig];
    if (pl_rigs_dial_kind(run->arena, rig) == PL_Q_NONE)
        return NULL;
    dial = pl_json_get(rig->written, "dial");
    unit = dial ? pl_json_get(dial, "unit") : NULL;
    return unit && unit->kind == PL_JSON_STRING ? unit->string : NULL;
}

static pl_code run_sheet(pl_run *run)
{
    sheet_options *o = run->options;
    pl_sheet_options s = { .session = (unsigned)o->session, .replace = o->replace };
    pl_sheets sheets;
    pl_jval *list;
    pl_loaded l;
    pl_code rc = pl_load(run, run->args[0], PL_LOAD_PLAN | PL_LOAD_RIGS, &l);

    if (rc)
        return rc;
    s.folder = o->to ? o->to
                     : pl_arena_printf(run->arena, "%s-r%u", l.study->name, l.plan->revision);
    s.peak_unit = peak_unit(run, &l);
    if (!s.folder)
        return pl_nomem(&run->diags);
    rc = pl_sheets_write(run->arena, l.frozen, l.plan, &s, &sheets, &run->diags);
    if (rc)
        return rc;
    list = pl_jadd_array(run->answer, "files");
    for (size_t i = 0; i < sheets.count; i++) {
        pl_jadd_text(list, NULL, sheets.files[i]);
        pl_text_add(&run->text, "%s\n", sheets.files[i]);
    }
    return PL_OK;
}

const pl_verb pl_verb_sheet = {
    .name = "sheet",
    .args = "STUDY",
    .summary = "sheets to print and forms to fill in",
    .words =
        "Writes cutting list, cut map, labels, glue-up sheets and break sheet to print, and the\n"
        "same forms as CSV files to fill in. Labels and the break sheet tell nothing of the\n"
        "treatment, so that whoever judges wood failure does not know the pressure.",
    .examples = "sheet stair-lap\n"
                "sheet stair-lap --session 2 --to tuesday\n",
    .options = options,
    .take = take,
    .options_size = sizeof(sheet_options),
    .least_args = 1,
    .most_args = 1,
    .run = run_sheet,
};
