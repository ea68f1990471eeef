/* Settings of a rig file: found, converted to SI and checked against what the
 * plugin declares, so that a plugin never reads text. */
#include <math.h>
#include <string.h>

#include "base/text.h"
#include "rigs/inside.h"
#include "rigs/rigs.h"

/* The value that begins at this byte of its text. */
static const pl_json *at_offset(const pl_json *v, size_t offset)
{
    if (v->offset == offset && v->kind == PL_JSON_OBJECT)
        return v;
    for (const pl_json *c = v->child; c; c = c->next)
        if (c->offset <= offset && offset < c->end)
            return at_offset(c, offset);
    return NULL;
}

static const char *range_text(pl_arena *a, double low, double high, pl_quantity_kind kind,
                              const char *unit)
{
    if (isfinite(low) && isfinite(high))
        return pl_arena_printf(a, "%s to %s", pl_units_text(a, low, kind, unit, 4),
                               pl_units_text(a, high, kind, unit, 4));
    if (isfinite(low))
        return pl_arena_printf(a, "at least %s", pl_units_text(a, low, kind, unit, 4));
    return pl_arena_printf(a, "at most %s", pl_units_text(a, high, kind, unit, 4));
}

typedef struct wanted {
    const char *unit; /* SI */
    double low, high;
    bool whole;
} wanted;

/* One number: JSON's for plain numbers, a text with a unit for all others. */
static bool read_number(pl_inside *in, const pl_json *v, wanted w, double *out, const char **unit)
{
    pl_quantity_kind kind = pl_dial_si_kind(in->a, w.unit);
    const char *why = NULL;
    pl_dim dim = { .unit = "" };
    pl_code code = PL_OK;

    if (v->kind == PL_JSON_NUMBER && kind == PL_Q_NONE)
        dim.si = v->number;
    else if (v->kind == PL_JSON_STRING)
        code = pl_units_read(in->a, v->string, kind, &dim, &why);
    else
        code = PL_EVALUE;
    if (code) {
        (void)pl_json_fail(
            &in->d, code, v, NULL,
            why ? why
                : pl_arena_printf(in->a, "%s as a text with its unit", pl_quantity_name(kind)),
            kind == PL_Q_NONE ? NULL
                              : pl_arena_printf(in->a, "units: %s", pl_quantity_examples(kind)));
        return false;
    }
    if (!(dim.si >= w.low * (1 - 1e-12 * (w.low > 0)) && dim.si <= w.high * (1 + 1e-12)) ||
        (w.whole && dim.si != floor(dim.si))) {
        (void)pl_json_fail(&in->d, PL_EVALUE, v, NULL,
                           pl_arena_printf(in->a, "%s%s", w.whole ? "a whole number, " : "",
                                           range_text(in->a, w.low, w.high, kind, dim.unit)),
                           NULL);
        return false;
    }
    *out = dim.si;
    if (!*unit)
        *unit = dim.unit;
    return true;
}

static bool read_choice(pl_inside *in, const pl_json *v, const platen_setting *s, double *out)
{
    size_t n = 0;
    const char *near;

    while (s->choices[n])
        n++;
    for (size_t i = 0; v->kind == PL_JSON_STRING && i < n; i++)
        if (!strcmp(v->string, s->choices[i])) {
            *out = (double)i;
            return true;
        }
    near = v->kind == PL_JSON_STRING ? pl_text_nearest(v->string, s->choices, n) : NULL;
    (void)pl_json_fail(&in->d, PL_EVALUE, v, NULL, pl_text_list(in->a, s->choices, n, "or"),
                       near ? pl_arena_printf(in->a, "is \"%s\" meant?", near) : NULL);
    return false;
}

/* Lists of numbers and of pairs. */
static bool read_list(pl_inside *in, const pl_json *v, const platen_setting *s, platen_value *out,
                      const char **unit)
{
    bool pairs = s->kind == PLATEN_PAIRS, good = true;
    const char *unit2 = NULL;
    double *list;

    if (v->kind != PL_JSON_ARRAY || v->count < 1 || v->count > PLATEN_LIST_MOST) {
        (void)pl_json_fail(&in->d, PL_EVALUE, v, NULL,
                           pl_arena_printf(in->a, "a list of 1 to %u %s", PLATEN_LIST_MOST,
                                           pairs ? "pairs" : "numbers"),
                           pairs ? "[[\"5 kg\", 2], [\"1 kg\", 1]]" : NULL);
        return false;
    }
    list = PL_NEWN(in->a, v->count * 2, double);
    if (!list) {
        (void)pl_nomem(&in->d);
        return false;
    }
    for (const pl_json *e = v->child; e; e = e->next) {
        wanted first = { s->unit, s->low, s->high, false };
        wanted second = { s->unit2, s->low2, s->high2, (s->flags & PLATEN_WHOLE) != 0 };

        if (!pairs) {
            good &= read_number(in, e, first, &list[e->index], unit);
        } else if (e->kind == PL_JSON_ARRAY && e->count == 2) {
            good &= read_number(in, e->child, first, &list[2 * e->index], unit);
            good &= read_number(in, e->child->next, second, &list[2 * e->index + 1], &unit2);
        } else {
            (void)pl_json_fail(&in->d, PL_EVALUE, e, NULL, "a pair",
                               "[\"5 kg\", 2] is two pieces of 5 kg");
            good = false;
        }
    }
    out->list = list;
    out->count = (uint32_t)v->count;
    return good;
}

static void read_value(pl_inside *in, const pl_json *v, const platen_setting *s, platen_value *out,
                       const char **unit)
{
    out->given = 1;
    switch (s->kind) {
    case PLATEN_NUMBER:
        (void)read_number(in, v, (wanted){ s->unit, s->low, s->high, s->flags & PLATEN_WHOLE },
                          &out->number, unit);
        break;
    case PLATEN_CHOICE:
        (void)read_choice(in, v, s, &out->number);
        break;
    case PLATEN_FLAG:
        out->number = v->truth;
        if (v->kind != PL_JSON_BOOL)
            (void)pl_json_fail(&in->d, PL_EVALUE, v, NULL, "true or false", NULL);
        break;
    default:
        (void)read_list(in, v, s, out, unit);
    }
}

static void check_names(pl_inside *in, const pl_json *settings)
{
    const char **names = PL_NEWN(in->a, in->p.nsettings, const char *);
    const uint32_t n = in->p.nsettings;

    if (!names) {
        (void)pl_nomem(&in->d);
        return;
    }
    for (uint32_t i = 0; i < n; i++)
        names[i] = in->p.settings[i].name;
    for (const pl_json *v = settings->child; v; v = v->next) {
        bool known = !strcmp(v->key, "note");
        const char *near = pl_text_nearest(v->key, names, n);

        for (uint32_t i = 0; i < n; i++)
            known = known || !strcmp(v->key, names[i]);
        if (!known)
            (void)pl_json_fail(&in->d, PL_EKEY, v, pl_arena_printf(in->a, "setting \"%s\"", v->key),
                               n ? pl_arena_printf(in->a, "of %s: %s", in->name,
                                                   pl_text_list(in->a, names, n, "or"))
                                 : "no settings",
                               near ? pl_arena_printf(in->a, "is \"%s\" meant?", near) : NULL);
    }
}

static void read_settings(pl_inside *in, pl_rig_inside *rig)
{
    const pl_json *settings = pl_json_get(rig->at, "settings");
    const platen_plugin *p = &in->p;

    if (settings && settings->kind != PL_JSON_OBJECT) {
        (void)pl_json_fail(&in->d, PL_EVALUE, settings, NULL, "an object", NULL);
        return;
    }
    if (settings)
        check_names(in, settings);
    for (uint32_t i = 0; i < p->nsettings; i++) {
        const platen_setting *s = &p->settings[i];
        const pl_json *v = settings ? pl_json_get(settings, s->name) : NULL;

        if (v)
            read_value(in, v, s, &rig->values[i], &rig->units[i]);
        else if (s->flags & PLATEN_REQUIRED)
            (void)pl_json_fail(&in->d, PL_EKEY, settings ? settings : rig->at,
                               pl_arena_printf(in->a, "no setting \"%s\"", s->name), s->help, NULL);
        else if (s->kind <= PLATEN_FLAG)
            rig->values[i].number = s->preset;
        if (!rig->units[i] || !rig->units[i][0])
            rig->units[i] = s->unit && strcmp(s->unit, "1") != 0 ? s->unit : "";
    }
}

pl_code pl_inside_rig(pl_inside *in, pl_rig_inside *out)
{
    size_t length, before = in->d.count;
    const char *name = pl_unpack_text(in->a, &in->work);
    char *text = pl_unpack_bytes(in->a, &in->work, &length);
    size_t offset = (size_t)pl_unpack_u64(&in->work);
    const pl_json *root;
    pl_code code;

    *out = (pl_rig_inside){ 0 };
    if (in->work.bad || !name)
        return pl_inside_blame(in, "was sent broken work");
    code = pl_json_parse(in->a, name, text, length, &root, &in->d);
    if (code)
        return code;
    out->at = at_offset(root, offset);
    out->values = PL_NEWN(in->a, in->p.nsettings, platen_value);
    out->units = PL_NEWN(in->a, in->p.nsettings, const char *);
    if (!out->at || !out->values || !out->units)
        return out->at ? pl_nomem(&in->d) : pl_inside_blame(in, "was sent broken work");
    if (in->p.role != PLATEN_RIG)
        return pl_json_fail(&in->d, PL_EVALUE, pl_json_get(out->at, "kind"), NULL,
                            "a kind of rig; this plugin is a curve", NULL);
    read_settings(in, out);
    (void)pl_dial_read(in->a, out->at, in->p.dial, &out->dial, &in->d);
    (void)pl_calibration_read(in->a, out->at, &out->dial, &out->calibration, &in->d);
    out->limits = (platen_limits){ .most_dial = pl_dial_most(&out->dial),
                                   .most_force_N = out->dial.rated_force_N,
                                   .mark = out->dial.mark };
    return pl_diags_code(&in->d, before);
}

char *pl_rigs_preset_text(pl_arena *a, const char *si_unit, double preset, double high)
{
    pl_quantity_kind kind = pl_units_kind(a, si_unit);

    if (!si_unit[0] || !strcmp(si_unit, "1"))
        return pl_text_number(a, preset, 6);
    if (preset > 0 && preset >= high)
        return pl_arena_str(a, "no limit");
    return pl_units_text(a, preset, kind, pl_quantity_trade(kind), 4);
}

/* One note with every preset in use. */
void pl_inside_assumed(pl_inside *in, const pl_rig_inside *rig)
{
    pl_text t;

    pl_text_init(&t, in->a);
    for (uint32_t i = 0; i < in->p.nsettings; i++) {
        const platen_setting *s = &in->p.settings[i];

        if (rig->values[i].given || (s->flags & PLATEN_REQUIRED) || s->kind > PLATEN_FLAG)
            continue;
        if (s->kind == PLATEN_CHOICE)
            pl_text_add(&t, ", %s %s", s->name, s->choices[(size_t)s->preset]);
        else if (s->kind == PLATEN_FLAG)
            pl_text_add(&t, ", %s %s", s->name, s->preset != 0 ? "true" : "false");
        else
            pl_text_add(&t, ", %s %s", s->name,
                        pl_rigs_preset_text(in->a, s->unit, s->preset, s->high));
    }
    if (t.length)
        (void)pl_diags_add(&in->d,
                           (pl_diag){ .severity = PL_NOTE,
                                      .where = pl_json_where(in->a, rig->at),
                                      .found = pl_arena_printf(in->a, "not stated, so taken: %s",
                                                               pl_text_done(&t) + 2) });
}
