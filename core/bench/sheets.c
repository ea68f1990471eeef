/* Writing all sheets into a folder: which there are, and none over another. What
 * stands on them: sheet_*.c and forms_write.c. */
#include "bench/sheet_pages.h"

#include <math.h>
#include <stdarg.h>
#include <string.h>

#include "base/file.h"
#include "base/text.h"
#include "base/units.h"
#include "bench/forms.h"

#define FILES_FIXED 10 /* besides one glue-up sheet a session */

/* ------------------------------------------------------- what pages share ---- */

const char *pl_sheet_printf(pl_sheet *sh, const char *format, ...)
{
    va_list args;
    const char *text;

    va_start(args, format);
    text = pl_arena_vprintf(sh->a, format, args);
    va_end(args);
    sh->failed = sh->failed || !text;
    return text ? text : "";
}

const char *pl_sheet_number(pl_sheet *sh, double x, int digits)
{
    const char *text = pl_text_number(sh->a, x, digits);

    sh->failed = sh->failed || !text;
    return text ? text : "";
}

const char *pl_sheet_done(pl_sheet *sh, pl_text *t)
{
    const char *text = pl_text_done(t);

    sh->failed = sh->failed || !text;
    return text ? text : "";
}

const char *pl_sheet_length(pl_sheet *sh, double m)
{
    const char *unit = sh->s->joint.unit && sh->s->joint.unit[0] ? sh->s->joint.unit : "mm";
    const char *text = isnan(m) ? "" : pl_units_text(sh->a, m, PL_Q_LENGTH, unit, 4);

    sh->failed = sh->failed || !text;
    return text ? text : "";
}

const char *pl_sheet_time(pl_sheet *sh, double s)
{
    static const struct {
        double seconds;
        const char *unit;
    } steps[] = { { 86400, "d" }, { 3600, "h" }, { 60, "min" } };

    /* The largest unit of which there are at least two: 45 min, 36 h, 7 d. */
    for (size_t i = 0; i < 3; i++)
        if (s >= 2 * steps[i].seconds)
            return pl_sheet_printf(sh, "%s %s", pl_sheet_number(sh, s / steps[i].seconds, 3),
                                   steps[i].unit);
    return pl_sheet_printf(sh, "%s s", pl_sheet_number(sh, s, 3));
}

const char *pl_sheet_clock(pl_sheet *sh, double t, bool with_day)
{
    const char *text = isnan(t) ? "" : pl_calendar_time(sh->a, t, with_day);

    sh->failed = sh->failed || !text;
    return text ? text : "";
}

const char *pl_sheet_tied(pl_sheet *sh, const char *text)
{
    pl_text t;

    pl_text_init(&t, sh->a);
    for (; *text; text++)
        if (*text == ' ')
            pl_text_put(&t, "\xc2\xa0");
        else
            pl_text_bytes(&t, text, 1);
    return pl_sheet_done(sh, &t);
}

void pl_sheet_begin(pl_sheet *sh, const char *title)
{
    const pl_study *s = sh->s;
    const char *above = s->title[0]
                            ? pl_sheet_printf(sh, "%s, revision %u: %s", s->name, sh->p->revision,
                                              s->title)
                            : pl_sheet_printf(sh, "%s, revision %u", s->name, sh->p->revision);

    sh->page = pl_page_new(sh->a, title, above);
    pl_page_foot(sh->page, pl_sheet_printf(
                               sh,
                               "platen " PL_VERSION "; %s, revision %u, drawn with seed %llu. "
                               "Eye protection on, guards in place, hands clear of what is loaded, "
                               "no rig above its rated limit. Figures found with these sheets are "
                               "no design values.",
                               s->name, sh->p->revision, (unsigned long long)sh->p->seed));
}

void pl_sheet_wide(pl_sheet *sh)
{
    pl_page_raw(sh->page, "<style>@page{size:landscape}main{max-width:80rem}"
                          "@media print{th,td{padding:.2rem .35rem}.fill{min-width:3.2rem}"
                          "table{font-size:8.5pt}}</style>\n");
}

void pl_sheet_room(pl_sheet *sh, const pl_grid *g)
{
    pl_page_raw(sh->page,
                "<style>.room .fill{min-width:9rem}@media print{.room .fill{min-width:4rem}"
                ".room table{width:100%}}</style><div class=\"room\">\n");
    pl_page_grid(sh->page, g, NULL);
    pl_page_raw(sh->page, "</div>\n");
}

void pl_sheet_rows(pl_sheet *sh, const pl_grid *g)
{
    pl_page_raw(sh->page, "<style>@media print{.rows .scroll{break-inside:auto}.rows "
                          "table{width:100%;font-size:11pt}}</style>"
                          "<div class=\"rows\">\n");
    pl_page_grid(sh->page, g, NULL);
    pl_page_raw(sh->page, "</div>\n");
}

/* --------------------------------------------------------------- the folder ---- */

typedef struct folder {
    pl_arena *a;
    const pl_study *s;
    const pl_plan *p;
    const pl_plan *wood, *made; /* the parts that are cut, and glued and broken; p, or new in it */
    const pl_sheet_options *o;
    const char **paths, **texts;
    size_t count;
    bool failed, unfit;
} folder;

static void add(folder *f, const char *name, const char *text)
{
    const char *path = name ? pl_file_join(f->a, f->o->folder, name) : NULL;

    if (!path || !text) {
        f->failed = true;
        return;
    }
    f->paths[f->count] = path;
    f->texts[f->count++] = text;
}

static pl_sheet empty_sheet(const folder *f, const pl_plan *p)
{
    return (pl_sheet){ .a = f->a,
                       .s = f->s,
                       .p = p,
                       .made = f->made,
                       .peak_unit = f->o->peak_unit,
                       .labels = f->o->labels,
                       .calendar = f->o->calendar };
}

static void add_sheet(folder *f, const char *name, pl_sheet *sh)
{
    const char *text = pl_page_done(f->a, sh->page);

    f->unfit = f->unfit || sh->unfit;

    add(f, name, sh->failed ? NULL : text);
}

static void add_page(folder *f, const char *name, const pl_plan *p, void (*fill)(pl_sheet *))
{
    pl_sheet sh = empty_sheet(f, p);

    fill(&sh);
    add_sheet(f, name, &sh);
}

static void add_glue_up(folder *f, unsigned session)
{
    pl_sheet sh = empty_sheet(f, f->made);

    pl_sheet_glue_up(&sh, session);
    add_sheet(f, pl_arena_printf(f->a, "glue-up-session-%u.html", session), &sh);
}

static void add_form(folder *f, pl_form form, const pl_plan *p)
{
    add(f, pl_arena_printf(f->a, "%s.csv", pl_form_name(form)),
        pl_form_write(f->a, form, f->s, p, f->o->peak_unit));
}

static bool holds_session(const pl_plan *p, unsigned session)
{
    for (size_t i = 0; i < p->nglue_up; i++)
        if (!p->glue_ups[i].spare && p->glue_ups[i].session == session)
            return true;
    return false;
}

static void add_all(folder *f)
{
    const bool cut = f->wood->nspecimen > 0;

    add_page(f, "cutting-list.html", f->wood, pl_sheet_cutting_list);
    if (cut && f->wood->nboard)
        add_page(f, "cut-map.html", f->wood, pl_sheet_cut_map);
    if (cut)
        add_page(f, "labels.html", f->wood, pl_sheet_labels);
    for (unsigned session = 1; session <= f->p->nsession; session++)
        if (holds_session(f->made, session))
            add_glue_up(f, session);
    add_page(f, "break-sheet.html", f->made, pl_sheet_break);
    if (f->o->calendar) {
        add_page(f, "calendar.html", f->p, pl_sheet_calendar);
        add(f, "calendar.ics", f->o->ics);
    }
    if (cut && f->wood->nboard)
        add_form(f, PL_FORM_BOARDS, f->wood);
    add_form(f, PL_FORM_SESSIONS, f->made);
    add_form(f, PL_FORM_GLUE_UPS, f->made);
    add_form(f, PL_FORM_BREAKS, f->made);
}

/* What the plan has beyond `before`. */
static pl_code find_new(folder *f, pl_diags *d)
{
    const pl_plan *p = f->p, *before = f->o->before;
    bool *keep;
    pl_code rc;

    f->wood = f->made = p;
    if (!before)
        return PL_OK;
    keep = PL_NEWN(f->a, p->nglue_up, bool);
    if (!keep)
        return pl_nomem(d);
    for (size_t i = 0; i < p->nglue_up; i++)
        keep[i] = !p->glue_ups[i].spare && p->glue_ups[i].session > before->nsession;
    rc = pl_plan_part(f->a, p, keep, &f->made, d);
    for (size_t i = 0; i < p->nglue_up; i++)
        keep[i] = !pl_plan_find_glue_up(before, p->glue_ups[i].label);
    return rc ? rc : pl_plan_part(f->a, p, keep, &f->wood, d);
}

/* Nothing is written when one of the names is taken. */
static pl_code look_before(const folder *f, pl_diags *d)
{
    size_t from = d->count;

    for (size_t i = 0; i < f->count && !f->o->replace; i++)
        if (pl_file_exists(f->paths[i]))
            pl_fail(d, PL_EWRITE, f->paths[i], .found = "a file that is there already",
                    .expected = "a new name",
                    .mend = "--to another folder, or --replace to write over it; a form that is "
                            "filled in already would be lost");
    return pl_diags_code(d, from);
}

static pl_code write_files(const folder *f, pl_diags *d)
{
    pl_code code = look_before(f, d);

    if (!code)
        code = pl_file_folder(f->o->folder, d);
    for (size_t i = 0; i < f->count && !code; i++)
        code = pl_file_write(f->paths[i], f->texts[i], strlen(f->texts[i]), f->o->replace, d);
    return code;
}

pl_code pl_sheets_write(pl_arena *a, const pl_study *s, const pl_plan *p,
                        const pl_sheet_options *options, pl_sheets *out, pl_diags *d)
{
    size_t most = (size_t)p->nsession + FILES_FIXED;
    folder f = { .a = a,
                 .s = s,
                 .p = p,
                 .o = options,
                 .paths = PL_NEWN(a, most, const char *),
                 .texts = PL_NEWN(a, most, const char *) };
    pl_code code;

    if (!f.paths || !f.texts)
        return pl_nomem(d);
    if (options->session > p->nsession)
        return pl_fail(d, PL_EUSAGE, "--session",
                       .found = pl_arena_printf(a, "session %u", options->session),
                       .expected = pl_arena_printf(a, "1 to %u", p->nsession));
    code = find_new(&f, d);
    if (code)
        return code;
    if (options->session)
        add_glue_up(&f, options->session);
    else
        add_all(&f);
    if (f.failed)
        return pl_nomem(d);
    if (f.unfit)
        return pl_fail(d, PL_EUSAGE, "--labels", .found = "a label larger than the paper",
                       .expected = "labels that fit on it at least once");
    code = write_files(&f, d);
    if (!code)
        *out = (pl_sheets){ .files = f.paths, .count = f.count };
    return code;
}
