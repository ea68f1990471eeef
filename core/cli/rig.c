/* platen rig: kinds of rigs, the shop's rigs, and their dials both ways. */
#include <math.h>
#include <string.h>

#include "base/file.h"
#include "cli/rig.h"
#include "rigs/rigs.h"

enum {
    KEY_PRESSURE = 1,
    KEY_AREA,
    KEY_READING,
    KEY_REPLACE,
    KEY_DATE,
    KEY_AGAINST,
    KEY_UNCERTAINTY,
    KEY_TO,
    KEY_RECORDINGS
};

static const struct argp_option options[] = {
    { "pressure", KEY_PRESSURE, "P", 0, "dial: the pressure wanted on the bond, with its unit", 0 },
    { "area", KEY_AREA, "A", 0, "dial: the bonded area, \"1200 mm2\" or \"40 mm x 30 mm\"", 0 },
    { "reading", KEY_READING, "R", 0, "dial: what the dial shows, for the way back", 0 },
    { "replace", KEY_REPLACE, 0, 0, "add: in place of the rig of that name", 0 },
    { "date", KEY_DATE, "DAY", 0, "calibrate: when, as 2026-03-01 (else today)", 0 },
    { "against", KEY_AGAINST, "WORDS", 0, "calibrate: the scale or load cell", 0 },
    { "against-uncertainty", KEY_UNCERTAINTY, "U", 0,
      "calibrate: its standard uncertainty, \"0.5 %\" or \"10 N\"", 0 },
    { "to", KEY_TO, "DIR", 0, "new: the folder to write into (else here)", 0 },
    { "recordings", KEY_RECORDINGS, "DIR", 0, "try: a folder of what such a rig recorded", 0 },
    { 0 },
};

static pl_code take(pl_run *run, int key, const char *arg)
{
    pl_rig_options *o = run->options;

    switch (key) {
    case KEY_PRESSURE:
        o->pressure = arg;
        break;
    case KEY_AREA:
        o->area = arg;
        break;
    case KEY_READING:
        o->reading = arg;
        break;
    case KEY_DATE:
        o->date = arg;
        break;
    case KEY_AGAINST:
        o->against = arg;
        break;
    case KEY_UNCERTAINTY:
        o->against_uncertainty = arg;
        break;
    case KEY_TO:
        o->to = arg;
        break;
    case KEY_RECORDINGS:
        o->recordings = arg;
        break;
    default:
        o->replace = true;
    }
    return PL_OK;
}

/* --------------------------------------------------------------- list ------ */

static pl_code list(pl_run *run)
{
    pl_rig_kinds kinds = { 0 };
    const pl_book_rig *rigs = NULL;
    pl_jval *out;
    size_t nrig = 0;
    pl_book *book;
    pl_code rc = pl_rigs_kinds(run->arena, &kinds, &run->diags), book_rc = PL_OK;

    out = pl_jadd_array(run->answer, "kinds");
    for (size_t i = 0; i < kinds.count; i++) {
        pl_jval *o = pl_jadd_object(out, NULL);

        pl_jadd_text(o, "name", kinds.items[i].name);
        pl_jadd_text(o, "role", kinds.items[i].role);
        pl_jadd_text(o, "summary", kinds.items[i].summary);
        pl_text_add(&run->text,
                    strcmp(kinds.items[i].role, "curve") ? "kind %-14s %s\n" : "curve %-13s %s\n",
                    kinds.items[i].name, kinds.items[i].summary);
    }
    if (pl_file_exists(run->book)) {
        book_rc = pl_book_open(run->arena, run->book, PL_BOOK_READ, &book, &run->diags);
        if (!book_rc)
            book_rc = pl_book_rig_list(run->arena, book, &rigs, &nrig, &run->diags);
    }
    out = pl_jadd_array(run->answer, "rigs");
    for (size_t i = 0; i < nrig && !book_rc; i++) {
        pl_jadd_text(pl_jadd_object(out, NULL), "name", rigs[i].name);
        pl_text_add(&run->text, "rig  %s\n", rigs[i].name);
    }
    return rc ? rc : book_rc;
}

/* --------------------------------------------------------------- show ------ */

static void show_setting(pl_run *run, pl_jval *list_out, const pl_rig_setting *s)
{
    pl_jval *o = pl_jadd_object(list_out, NULL);

    pl_jadd_text(o, "name", s->name);
    pl_jadd_text(o, "kind", s->kind);
    pl_jadd_text(o, "unit", s->unit);
    pl_jadd_bool(o, "required", s->required);
    pl_jadd_text(o, "help", s->help);
    pl_text_add(&run->text, "  %-14s %s", s->name, s->help);
    if (s->required)
        pl_text_put(&run->text, "; needed");
    else if (!strcmp(s->kind, "number") && !isnan(s->preset))
        pl_text_add(&run->text, "; %s unless said",
                    pl_rigs_preset_text(run->arena, s->unit, s->preset, s->high));
    for (size_t i = 0; i < s->nchoice; i++)
        pl_text_add(&run->text, "%s%s", i ? ", " : "; one of ", s->choices[i]);
    pl_text_put(&run->text, "\n");
}

static pl_code show_kind(pl_run *run, const char *name)
{
    pl_rig_kind kind;
    pl_jval *settings;
    pl_code rc = pl_rigs_kind(run->arena, name, &kind, &run->diags);

    if (rc)
        return rc;
    pl_jadd_text(run->answer, "kind", kind.name);
    pl_jadd_text(run->answer, "summary", kind.summary);
    pl_jadd_text(run->answer, "plugin", kind.file);
    pl_text_add(&run->text, "%s: %s\n", kind.name, kind.summary);
    pl_text_add(&run->text, "plugin %s\n", kind.file);
    pl_text_put(&run->text, kind.presses ? "presses: a wanted force becomes a set point\n" : "");
    pl_text_put(&run->text, kind.reads_back ? "reads back: a dial reading becomes a force\n" : "");
    for (size_t i = 0; i < kind.ncolumn; i++)
        pl_text_add(&run->text, "%s%s%s", i ? ", " : "reads records with columns ", kind.columns[i],
                    i + 1 == kind.ncolumn ? "\n" : "");
    pl_jadd_text(run->answer, "role", kind.role);
    pl_text_put(&run->text, strcmp(kind.role, "curve")
                                ? "settings:\n"
                                : "a curve for fits: --curve, or a study's model\n");
    settings = pl_jadd_array(run->answer, "settings");
    for (size_t i = 0; i < kind.nsetting; i++)
        show_setting(run, settings, &kind.settings[i]);
    return PL_OK;
}

pl_code pl_shop_rig(pl_run *run, const char *name, pl_rig *rig, bool *found)
{
    const pl_book_rig *kept = NULL;
    const pl_json *object;
    pl_book *book;
    pl_code rc;

    *found = false;
    if (!pl_file_exists(run->book))
        return PL_OK;
    rc = pl_book_open(run->arena, run->book, PL_BOOK_READ, &book, &run->diags);
    if (!rc)
        rc = pl_book_rig_get(run->arena, book, name, &kept, &run->diags);
    if (rc || !kept)
        return rc;
    *found = true;
    rc = pl_json_parse(run->arena, name, kept->text, strlen(kept->text), &object, &run->diags);
    return rc ? rc : pl_rig_from_json(run->arena, object, rig, &run->diags);
}

static pl_code show(pl_run *run, const char *name)
{
    pl_rig rig;
    bool found;
    pl_code rc = pl_shop_rig(run, name, &rig, &found);

    if (rc)
        return rc;
    if (!found)
        return show_kind(run, name);
    pl_jadd_text(run->answer, "rig", rig.name);
    pl_jadd_text(run->answer, "text", rig.text);
    pl_text_add(&run->text, "%s\n\n", rig.text);
    return show_kind(run, rig.kind);
}

/* ---------------------------------------------------------------- add ------ */

static pl_code add(pl_run *run, const char *path)
{
    pl_rig_options *o = run->options;
    const pl_json *object;
    pl_book *book;
    pl_rig rig;
    bool added;
    pl_code rc = pl_json_read(run->arena, path, &object, &run->diags);

    if (!rc)
        rc = pl_rig_from_json(run->arena, object, &rig, &run->diags);
    if (!rc)
        rc = pl_rigs_check(run->arena, &rig, &run->diags);
    if (!rc)
        rc = pl_book_open(run->arena, run->book, PL_BOOK_CREATE, &book, &run->diags);
    if (!rc)
        rc = pl_book_rig_add(book, &rig, o->replace, &added, &run->diags);
    if (rc)
        return rc;
    pl_jadd_text(run->answer, "rig", rig.name);
    pl_jadd_text(run->answer, "book", run->book);
    pl_jadd_bool(run->answer, "added", added);
    if (pl_book_created(book))
        pl_text_add(&run->text, "made the book %s\n", run->book);
    pl_text_add(&run->text,
                added ? "rig %s (%s) is in the book\n" : "rig %s (%s) was there already\n",
                rig.name, rig.kind);
    return PL_OK;
}

/* --------------------------------------------------------------- dial ------ */

/* "1200 mm2", or two lengths with an x between: "40 mm x 30 mm", "40x30 mm". */
static pl_code read_area(pl_run *run, const char *text, double *m2)
{
    const char *x = strchr(text, 'x'), *why = "", *width;
    pl_dim a, b;

    if (!x) {
        if (!pl_units_read(run->arena, text, PL_Q_AREA, &a, &why)) {
            *m2 = a.si;
            return PL_OK;
        }
        return pl_usage(run, "--area", why, "an area", "for example \"40 mm x 30 mm\"");
    }
    width = pl_arena_strn(run->arena, text, (size_t)(x - text));
    if (!width || pl_units_read(run->arena, x + 1, PL_Q_LENGTH, &b, &why))
        return pl_usage(run, "--area", why, "two lengths", "for example \"40 mm x 30 mm\"");
    if (pl_units_read(run->arena, width, PL_Q_LENGTH, &a, &why)) /* "40x30 mm": one unit for both */
        width = pl_arena_printf(run->arena, "%s %s", width, b.unit);
    if (!width || pl_units_read(run->arena, width, PL_Q_LENGTH, &a, &why))
        return pl_usage(run, "--area", why, "two lengths", "for example \"40 mm x 30 mm\"");
    *m2 = a.si * b.si;
    return PL_OK;
}

static pl_code dial_forward(pl_run *run, const pl_rig *rig, double area_m2)
{
    pl_rig_options *o = run->options;
    pl_set_points points;
    const pl_set_point *p;
    const char *why;
    pl_dim pressure;
    pl_jval *parts;
    double force_N;
    pl_code rc;

    if (pl_units_read(run->arena, o->pressure, PL_Q_PRESSURE, &pressure, &why))
        return pl_usage(run, "--pressure", why, "a pressure", "for example \"0.8 N/mm2\"");
    if (!(pressure.si > 0))
        return pl_usage(run, "--pressure", pl_arena_printf(run->arena, "\"%s\"", o->pressure),
                        "a pressure above zero", "");
    force_N = pressure.si * area_m2;
    rc = pl_rigs_set_points(run->arena, rig, 1, &force_N, 1, area_m2, &points, &run->diags);
    if (rc)
        return rc;
    p = points.at;
    if (!p->can)
        return pl_fail(&run->diags, PL_ERANGE, rig->name, .found = p->reason, .mend = p->mend);
    pl_jadd_number(run->answer, "value", p->dial);
    pl_jadd_text(run->answer, "unit", p->dial_unit);
    parts = pl_jadd_array(run->answer, "parts");
    for (size_t i = 0; i < p->nparts; i++)
        pl_jadd_text(parts, NULL, p->parts[i]);
    pl_jadd_number(run->answer, "gives", p->gives_N / area_m2);
    pl_jadd_number(run->answer, "uncertainty", p->u_N / area_m2);
    pl_jadd_text(run->answer, "rated", p->rated && p->rated[0] ? p->rated : NULL);
    if (p->nparts)
        pl_text_add(&run->text, "%s: stack %s", rig->name,
                    pl_text_list(run->arena, p->parts, p->nparts, "and"));
    else
        pl_text_add(&run->text, "%s: set %s %s", rig->name, pl_text_number(run->arena, p->dial, 4),
                    p->dial_unit);
    pl_text_add(&run->text, "; gives %s, give or take %s; rated limit %s\n",
                pl_units_text(run->arena, p->gives_N / area_m2, PL_Q_PRESSURE, pressure.unit, 3),
                pl_units_text(run->arena, p->u_N / area_m2, PL_Q_PRESSURE, pressure.unit, 2),
                p->rated && p->rated[0] ? p->rated : "not stated");
    return PL_OK;
}

static pl_code dial_back(pl_run *run, const pl_rig *rig, double area_m2)
{
    pl_rig_options *o = run->options;
    pl_quantity_kind kind = pl_rigs_dial_kind(run->arena, rig);
    const char *why;
    pl_dim reading;
    double force_N, u_N;
    pl_rig_kind of;
    pl_code rc = pl_rigs_kind(run->arena, rig->kind, &of, &run->diags);

    if (!rc && !of.reads_back)
        rc = pl_fail(&run->diags, PL_ERANGE, rig->name,
                     .found = pl_arena_printf(run->arena, "a %s, which has no dial", rig->kind),
                     .expected = "a rig with a dial to read",
                     .mend = "--pressure says what to hang");
    if (rc)
        return rc;
    if (kind == PL_Q_NONE)
        kind = PL_Q_FORCE;
    if (pl_units_read(run->arena, o->reading, kind, &reading, &why))
        return pl_usage(run, "--reading", why, pl_quantity_name(kind), "");
    rc = pl_rigs_forces(run->arena, rig, &reading.si, kind, 1, &force_N, &u_N, &run->diags);
    if (rc)
        return rc;
    pl_jadd_number(run->answer, "force", force_N);
    pl_jadd_number(run->answer, "uncertainty", u_N);
    pl_text_add(&run->text, "%s at %s: %s, give or take %s", rig->name, o->reading,
                pl_units_text(run->arena, force_N, PL_Q_FORCE, "N", 4),
                pl_units_text(run->arena, u_N, PL_Q_FORCE, "N", 2));
    if (!isnan(area_m2))
        pl_text_add(&run->text, "; on the bond %s",
                    pl_units_text(run->arena, force_N / area_m2, PL_Q_PRESSURE, "N/mm2", 3));
    pl_text_put(&run->text, "\n");
    return PL_OK;
}

static pl_code dial(pl_run *run, const char *name)
{
    pl_rig_options *o = run->options;
    double area_m2 = NAN;
    pl_rig rig;
    pl_code rc = pl_need_shop_rig(run, name, &rig);

    if (!rc && o->area)
        rc = read_area(run, o->area, &area_m2);
    if (!rc && o->area && !(area_m2 > 0))
        rc = pl_usage(run, "--area", pl_arena_printf(run->arena, "\"%s\"", o->area),
                      "more than nothing to press on", "");
    if (!rc)
        rc = pl_say_calibration(run, &rig);
    if (rc)
        return rc;
    if (o->pressure && isnan(area_m2))
        return pl_usage(run, "--area", "nothing", "the bonded area beside --pressure", "");
    pl_jadd_text(run->answer, "rig", rig.name);
    if (!o->pressure == !o->reading)
        return pl_usage(run, "",
                        o->pressure ? "both --pressure and --reading"
                                    : "neither --pressure nor --reading",
                        "one of them", "");
    return o->pressure ? dial_forward(run, &rig, area_m2) : dial_back(run, &rig, area_m2);
}

static pl_code list_all(pl_run *run, const char *none)
{
    (void)none;
    return list(run);
}

static pl_code calibrate(pl_run *run, const char *name)
{
    return pl_rig_calibrate(run, name, run->args[2]);
}

static pl_code run_rig(pl_run *run)
{
    static const struct {
        const char *word, *with;
        size_t narg;
        pl_code (*run)(pl_run *run, const char *arg);
    } words[] = { { "list", "", 1, list_all },
                  { "show", " NAME", 2, show },
                  { "add", " FILE", 2, add },
                  { "calibrate", " NAME FILE", 3, calibrate },
                  { "try", " NAME RECORD...", 0, pl_rig_try }, /* any number */
                  { "new", " NAME", 2, pl_rig_new },
                  { "dial", " NAME", 2, dial } };
    enum { NWORDS = sizeof words / sizeof *words };
    const char *what = run->args[0], *names[NWORDS], *nearest;

    for (size_t i = 0; i < NWORDS; i++) {
        names[i] = words[i].word;
        if (!strcmp(what, words[i].word) && (!words[i].narg || run->narg == words[i].narg))
            return words[i].run(run, run->narg > 1 ? run->args[1] : NULL);
        if (!strcmp(what, words[i].word))
            return pl_usage(run, "",
                            pl_arena_printf(run->arena, "rig %s with %zu argument%s", what,
                                            run->narg - 1, run->narg == 2 ? "" : "s"),
                            pl_arena_printf(run->arena, "platen rig %s%s", what, words[i].with),
                            "see: platen help rig");
    }
    nearest = pl_text_nearest(what, names, NWORDS);
    return pl_usage(
        run, "", pl_arena_printf(run->arena, "\"%s\"", what),
        "list, show NAME, add FILE, calibrate NAME FILE, dial NAME, try NAME or new NAME",
        nearest ? pl_arena_printf(run->arena, "did you mean \"%s\"?", nearest) : "");
}

const pl_verb pl_verb_rig = {
    .name = "rig",
    .args = "list | show NAME | add FILE | calibrate NAME FILE | dial NAME | try NAME | new NAME",
    .summary = "kinds of rigs, the shop's rigs, and their dials",
    .words =
        "list: the kinds that plugins bring and the rigs in the book. show: what a kind or rig\n"
        "wants to know. add: takes a rig file into the book (made if absent). calibrate: points\n"
        "against a scale or load cell (columns dial and force, units in the header) become a line\n"
        "that replaces what the settings say. dial: which reading gives a pressure on the bond,\n"
        "or which force a reading means. try: whether a plugin stands what a bench may do to it,\n"
        "asked as a rig of the shop or a rig file, or as a kind alone (or --plugin FILE) with\n"
        "settings made up; recordings behind the name are tried too.\n"
        "new: writes a plugin of your own to begin with, which builds and stands try at once.",
    .examples = "rig add air-press.json\n"
                "rig dial air-press --pressure \"0.8 N/mm2\" --area \"40 mm x 30 mm\"\n"
                "rig dial air-press --reading \"3.2 bar\"\n"
                "rig calibrate air-press points.csv --against \"5 kN load cell\" "
                "--against-uncertainty \"0.5 %\"\n"
                "rig try pull-bench.json pull-K7M3.csv\n"
                "rig new bench-vice\n",
    .parts = "list show add calibrate dial try new",
    .options = options,
    .take = take,
    .options_size = sizeof(pl_rig_options),
    .least_args = 1,
    .most_args = 64,
    .run = run_rig,
};
