/* platen sheet: what the bench needs, to print and to fill in. */
#include <math.h>
#include <string.h>
#include <time.h>

#include "bench/sheets.h"
#include "cli/calendar.h"
#include "rigs/rigs.h"

typedef struct sheet_options {
    const char *to;
    long long session;
    bool replace, on_stock, fresh;
    pl_label_paper stock;
    const char *at;
} sheet_options;

enum { KEY_SESSION = 1, KEY_TO, KEY_REPLACE, KEY_LABELS, KEY_GAP, KEY_PAPER, KEY_AT, KEY_NEW };

static const struct argp_option options[] = {
    { "session", KEY_SESSION, "N", 0, "only this session", 0 },
    { "new", KEY_NEW, 0, 0, "only what the latest revision adds", 0 },
    { "to", KEY_TO, "DIR", 0, "the folder to write into (else ./STUDY-rREVISION)", 0 },
    { "labels", KEY_LABELS, "WxH", 0,
      "for bought label paper: \"63.5 x 38.1 mm\" (else to cut out)", 0 },
    { "label-gap", KEY_GAP, "WxH", 0, "between its labels: \"2.5 x 0 mm\"", 0 },
    { "paper", KEY_PAPER, "a4|letter", 0, "its size (a4)", 0 },
    { "at", KEY_AT, "TIME", 0, "the calendar goes on from then (2027-03-01 08:00); now if left out",
      0 },
    { "replace", KEY_REPLACE, 0, 0, "write over sheets that are there", 0 },
    { 0 },
};

/* "63.5 x 38.1 mm" or "2.5 mm x 0 mm" as millimetres; labels are larger than nothing. */
static pl_code take_sizes(pl_run *run, const char *option, const char *arg, bool zero, double mm[2])
{
    char *one = pl_arena_str(run->arena, arg), *other = one ? strpbrk(one, "xX") : NULL;
    const char *why = "", *unit;
    pl_dim dims[2] = { { .si = NAN }, { .si = NAN } };
    double bare;
    pl_code rc = PL_EVALUE;

    if (!one)
        return pl_nomem(&run->diags);
    if (other) {
        *other++ = '\0';
        other += strspn(other, " ");
        for (char *end = one + strlen(one); end > one && end[-1] == ' ';)
            *--end = '\0';
        unit = other + strspn(other, "0123456789. ");
        if (pl_text_to_number(one, &bare))
            one = pl_arena_printf(run->arena, "%s %s", one, unit);
        rc = pl_units_read(run->arena, one ? one : "", PL_Q_LENGTH, &dims[0], &why);
        if (!rc)
            rc = pl_units_read(run->arena, other, PL_Q_LENGTH, &dims[1], &why);
    }
    for (size_t i = 0; i < 2; i++) {
        mm[i] = 1000 * dims[i].si;
        if (!rc && (!(mm[i] >= 0) || mm[i] > 1000 || (!zero && mm[i] < 5)))
            rc = PL_EVALUE;
    }
    if (!rc || rc == PL_ENOMEM)
        return rc ? pl_nomem(&run->diags) : PL_OK;
    return pl_usage(run, option, pl_arena_printf(run->arena, "\"%s\"", arg),
                    zero ? "two lengths: \"2.5 x 0 mm\""
                         : "two lengths of 5 mm or more: \"63.5 x 38.1 mm\"",
                    why);
}

static pl_code take_paper(pl_run *run, const char *arg, double mm[2])
{
    bool letter = !strcmp(arg, "letter");

    if (!letter && strcmp(arg, "a4"))
        return pl_usage(run, "--paper", pl_arena_printf(run->arena, "\"%s\"", arg), "a4 or letter",
                        "");
    mm[0] = letter ? 215.9 : 210; /* ISO 216 and ANSI/ASME Y14.1 */
    mm[1] = letter ? 279.4 : 297;
    return PL_OK;
}

static pl_code take(pl_run *run, int key, const char *arg)
{
    sheet_options *o = run->options;

    switch (key) {
    case KEY_SESSION:
        return pl_take_whole(run, "--session", arg, 1, 9999, &o->session);
    case KEY_LABELS:
        o->on_stock = true;
        return take_sizes(run, "--labels", arg, false, o->stock.label_mm);
    case KEY_GAP:
        return take_sizes(run, "--label-gap", arg, true, o->stock.gap_mm);
    case KEY_PAPER:
        return take_paper(run, arg, o->stock.paper_mm);
    case KEY_AT:
        o->at = arg;
        break;
    case KEY_NEW:
        o->fresh = true;
        break;
    case KEY_TO:
        o->to = arg;
        break;
    default:
        o->replace = true;
    }
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

static pl_code add_calendar(pl_run *run, const pl_loaded *l, pl_sheet_options *s)
{
    sheet_options *o = run->options;
    pl_calendar *c = PL_NEW(run->arena, pl_calendar);
    double at, made = (double)time(NULL);
    pl_code rc;

    if (!c)
        return pl_nomem(&run->diags);
    rc = pl_take_time(run, "--at", o->at, &at);
    if (!rc)
        rc = pl_calendar_of(run, l, at, c);
    if (rc)
        return rc;
    s->calendar = c;
    s->ics = pl_calendar_ics(run->arena, l->frozen, l->plan, c, pl_calendar_sequence(made), made);
    return s->ics ? PL_OK : pl_nomem(&run->diags);
}

/* The revision before the latest, where that only adds to it: what is new is the difference. */
static pl_code find_before(pl_run *run, const pl_loaded *l, const pl_plan **out)
{
    const pl_study *study;
    pl_code rc;

    *out = NULL;
    if (l->plan->revision < 2)
        return pl_usage(run, "--new", "revision 1: all of it is new", "a later revision",
                        "leave --new out");
    rc = pl_book_plan(run->arena, l->book, l->frozen->name, l->plan->revision - 1, &study, out,
                      &run->diags);
    if (!rc && !pl_plan_grown_from(l->plan, *out))
        *out = NULL;
    return rc;
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
    if (!o->stock.paper_mm[0])
        rc = take_paper(run, "a4", o->stock.paper_mm);
    if (!rc && o->fresh)
        rc = find_before(run, &l, &s.before);
    if (!rc)
        rc = add_calendar(run, &l, &s);
    if (rc)
        return rc;
    if (o->on_stock)
        s.labels = &o->stock;
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
                "sheet stair-lap --session 2 --to tuesday\n"
                "sheet stair-lap --new --to round-two\n",
    .options = options,
    .take = take,
    .options_size = sizeof(sheet_options),
    .least_args = 1,
    .most_args = 1,
    .run = run_sheet,
};
