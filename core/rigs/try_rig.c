/* Rigs that nobody owns: made up of what a kind declares, so that every setting is asked for
 * at the ends of its range too. */
#include <math.h>
#include <string.h>

#include "rigs/ask.h"
#include "rigs/dial.h"
#include "rigs/try_inner.h"

#define NFORCE 13 /* forces asked of each: 1 mN to 1 GN, a decade apart */

/* Lists are never at an end: there is no such thing as half a set of masses. */
static bool has_ends(const pl_rig_setting *s)
{
    return strcmp(s->kind, "numbers") != 0 && strcmp(s->kind, "pairs") != 0;
}

static double middle(const pl_rig_setting *s)
{
    double x;

    if (s->low > 0)
        x = isfinite(s->high) ? sqrt(s->low) * sqrt(s->high) : 100 * s->low;
    else if (isfinite(s->low) && isfinite(s->high))
        x = s->low / 2 + s->high / 2;
    else
        x = isfinite(s->high) ? s->high - 1 : isfinite(s->low) ? s->low + 1 : 1;
    if (x > 1 && floor(x) >= s->low) /* a whole number will do for both kinds */
        x = floor(x);
    return x;
}

static double end_of(const pl_rig_setting *s, pl_try_end end)
{
    double x = end == PL_TRY_LOW ? s->low : s->high;

    return isfinite(x) ? x : middle(s);
}

static void put_number(pl_text *t, const char *unit, double x)
{
    if (!strcmp(unit, "1"))
        pl_text_add(t, "%.17g", x);
    else
        pl_text_add(t, "\"%.17g %s\"", x, unit);
}

/* Whether the rig file has to have it at all. */
static bool needed(const pl_rig_setting *s, pl_try_end end)
{
    return s->required || (end != PL_TRY_MIDDLE && has_ends(s));
}

static void put_setting(pl_text *t, const pl_rig_setting *s, pl_try_end end)
{
    pl_text_add(t, "\"%s\": ", s->name);
    if (!strcmp(s->kind, "choice")) {
        pl_text_add(t, "\"%s\"", s->choices[end == PL_TRY_HIGH ? s->nchoice - 1 : 0]);
    } else if (!strcmp(s->kind, "flag")) {
        pl_text_put(t, end == PL_TRY_HIGH ? "true" : "false");
    } else if (!strcmp(s->kind, "number")) {
        put_number(t, s->unit, end == PL_TRY_MIDDLE ? middle(s) : end_of(s, end));
    } else {
        bool pair = !strcmp(s->kind, "pairs");

        pl_text_put(t, pair ? "[[" : "[");
        put_number(t, s->unit, middle(s));
        if (pair) {
            pl_text_put(t, ", ");
            put_number(t, s->unit2[0] ? s->unit2 : "1", 1);
        }
        pl_text_put(t, pair ? "]]" : "]");
    }
}

static pl_code parse(pl_try *t, pl_text *text, pl_rig *out, pl_diags *d)
{
    const pl_json *object = NULL;
    const char *bytes = pl_text_done(text);
    pl_code rc = bytes ? pl_json_parse(t->a, "a rig made up", bytes, text->length, &object, d)
                       : pl_nomem(d);

    return rc ? rc : pl_rig_from_json(t->a, object, out, d);
}

static void put_head(pl_try *t, pl_text *text)
{
    pl_text_init(text, t->a);
    pl_text_add(text, "{\"name\": \"made-up\", \"kind\": \"%s\"", t->kind.name);
}

pl_code pl_try_made_up(pl_try *t, size_t which, pl_try_end end, pl_rig *out, pl_diags *d)
{
    const char *comma = "";
    pl_text text;

    put_head(t, &text);
    pl_text_put(&text, ", \"settings\": {");
    for (size_t i = 0; i < t->kind.nsetting; i++) {
        const pl_rig_setting *s = &t->kind.settings[i];
        pl_try_end its = which == i || which == t->kind.nsetting ? end : PL_TRY_MIDDLE;

        if (!needed(s, its))
            continue;
        pl_text_put(&text, comma);
        put_setting(&text, s, its);
        comma = ", ";
    }
    pl_text_put(&text, "}");
    if (t->kind.dial[0])
        pl_text_add(&text, ", \"dial\": {\"unit\": \"%s\"}", t->kind.dial);
    pl_text_put(&text, "}");
    return parse(t, &text, out, d);
}

pl_code pl_try_bare(pl_try *t, pl_rig *out, pl_diags *d)
{
    const pl_json *settings = pl_json_get(t->rig.written, "settings");
    pl_text text;

    put_head(t, &text);
    if (settings)
        pl_text_add(&text, ", \"settings\": %.*s", (int)(settings->end - settings->offset),
                    settings->doc->text + settings->offset);
    if (t->kind.dial[0])
        pl_text_add(&text, ", \"dial\": {\"unit\": \"%s\"}", t->kind.dial);
    pl_text_put(&text, "}");
    return parse(t, &text, out, d);
}

/* ---- every setting at its ends ---- */

typedef struct made {
    pl_rig *rigs;
    const char **names; /* "bore at 0.001 m" */
    size_t n;
} made;

/* "\"bore\": \"0.001 m\"" */
static const char *end_text(pl_try *t, const pl_rig_setting *s, pl_try_end end)
{
    pl_text text;

    pl_text_init(&text, t->a);
    put_setting(&text, s, end);
    return pl_text_done(&text);
}

static pl_code add(pl_try *t, made *m, size_t which, pl_try_end end, const char *name)
{
    pl_diags quiet;
    pl_code rc;

    pl_diags_init(&quiet, t->a);
    rc = pl_try_made_up(t, which, end, &m->rigs[m->n], &quiet);
    if (!rc && !name)
        return pl_nomem(t->d);
    if (!rc)
        m->names[m->n++] = name;
    return rc == PL_ENOMEM ? pl_nomem(t->d) : PL_OK;
}

static pl_code make_all(pl_try *t, made *m)
{
    size_t n = t->kind.nsetting;
    pl_code rc;

    m->rigs = PL_NEWN(t->a, 2 * n + 3, pl_rig);
    m->names = PL_NEWN(t->a, 2 * n + 3, const char *);
    if (!m->rigs || !m->names)
        return pl_nomem(t->d);
    rc = add(t, m, n, PL_TRY_MIDDLE, "every setting in the middle");
    if (!rc)
        rc = add(t, m, n, PL_TRY_LOW, "every setting at its lowest");
    if (!rc)
        rc = add(t, m, n, PL_TRY_HIGH, "every setting at its highest");
    for (size_t i = 0; i < n && !rc; i++) {
        const pl_rig_setting *s = &t->kind.settings[i];

        if (!has_ends(s))
            continue;
        rc = add(t, m, i, PL_TRY_LOW, end_text(t, s, PL_TRY_LOW));
        if (!rc)
            rc = add(t, m, i, PL_TRY_HIGH, end_text(t, s, PL_TRY_HIGH));
    }
    return rc;
}

/* What a plugin that failed did, or why the rig is refused; "" else. */
static const char *fault_of(pl_code rc, bool may_refuse, const pl_diags *found)
{
    if (!rc || rc == PL_ENOMEM || (may_refuse && rc != PL_EPLUGIN))
        return "";
    for (size_t i = 0; i < found->count && rc != PL_EPLUGIN; i++)
        if (found->items[i].severity == PL_REFUSED)
            return pl_arena_printf(found->arena, "no rig can be made of it: %s, expected %s",
                                   found->items[i].found, found->items[i].expected);
    return pl_try_what(found);
}

static const char *press_them(pl_try *t, const pl_rig *rigs, size_t n, pl_code *rc)
{
    double force_N[NFORCE];
    pl_set_points points;
    pl_diags quiet;

    for (int i = 0; i < NFORCE; i++)
        force_N[i] = pow(10, i - 3);
    pl_diags_init(&quiet, t->a);
    *rc = pl_rigs_set_points(t->a, rigs, n, force_N, NFORCE, NAN, &points, &quiet);
    return fault_of(*rc, false, &quiet);
}

static const char *read_it(pl_try *t, const pl_rig *rig, pl_code *rc)
{
    double dial[NFORCE + 1] = { 0 }, force_N[NFORCE + 1], u_N[NFORCE + 1];
    pl_quantity_kind kind = pl_dial_si_kind(t->a, t->kind.dial);
    pl_diags quiet;

    for (int i = 0; i < NFORCE; i++)
        dial[i + 1] = pow(10, i - 3);
    pl_diags_init(&quiet, t->a);
    *rc = pl_rigs_forces(t->a, rig, dial, kind, NFORCE + 1, force_N, u_N, &quiet);
    return fault_of(*rc, true, &quiet);
}

/* Whatever such a rig does, but pressing. */
static const char *ask_it(pl_try *t, const pl_rig *rig, pl_code *rc)
{
    pl_try_record r = { .t = t, .broke = "" };
    const char *what = "";
    pl_diags quiet;

    pl_diags_init(&quiet, t->a);
    if (!t->kind.presses) { /* that would have said it */
        *rc = pl_rigs_check(t->a, rig, &quiet);
        what = fault_of(*rc, false, &quiet);
    }
    if (!what[0] && *rc != PL_ENOMEM && t->kind.reads_back)
        what = read_it(t, rig, rc);
    if (!what[0] && *rc != PL_ENOMEM && t->kind.reads_files && t->kind.ncolumn)
        *rc = pl_try_made_pull(&r, rig, &what);
    return what;
}

/* All at once, and where that fails which of them it was. */
static const char *press_all(pl_try *t, const made *m, pl_code *rc)
{
    const char *all = press_them(t, m->rigs, m->n, rc), *one = "";

    for (size_t i = 0; i < m->n && all[0] && !one[0]; i++) {
        one = press_them(t, &m->rigs[i], 1, rc);
        if (one[0])
            return pl_arena_printf(t->a, "%s: %s", m->names[i], one);
    }
    return all;
}

pl_code pl_try_settings(pl_try *t)
{
    static const pl_try_check check = {
        "with every setting at the ends of its range it answers, or says why not",
        "an answer, or a refusal with a reason",
        "narrow the declared range, or refuse such a rig where it is asked"
    };
    const char *what = "";
    made m = { 0 };
    pl_code rc = make_all(t, &m);

    t->out->settings = m.n;
    if (!rc && m.n && t->kind.presses)
        what = press_all(t, &m, &rc);
    for (size_t i = 0; i < m.n && !pl_try_ends_all(rc) && !what[0]; i++) {
        what = ask_it(t, &m.rigs[i], &rc);
        if (what[0])
            what = pl_arena_printf(t->a, "%s: %s", m.names[i], what);
    }
    if (pl_try_ends_all(rc))
        return rc == PL_ENOMEM ? pl_nomem(t->d) : rc;
    return pl_try_note(t, check, what);
}
