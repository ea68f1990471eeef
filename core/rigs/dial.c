/* Reads "dial" and "rated" of a rig file; rounding and errors of gauges. Gauge
 * classes: EN 837-1 and ASME B40.100, limits of error in percent of span. */
#include "rigs/dial.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/text.h"

pl_quantity_kind pl_dial_si_kind(pl_arena *a, const char *unit)
{
    return !strcmp(unit, "1") ? PL_Q_NONE : pl_units_kind(a, unit);
}

/* A text with a unit, in the dial's quantity. */
static bool dial_value(pl_arena *a, const pl_json *v, const pl_dial *dial, double *out, pl_diags *d)
{
    const char *why = NULL;
    pl_dim dim;
    pl_code code;

    if (v->kind != PL_JSON_STRING) {
        (void)pl_json_fail(d, PL_EVALUE, v, NULL,
                           pl_arena_printf(a, "a text with its unit, like \"10 %s\"", dial->unit),
                           NULL);
        return false;
    }
    code = pl_units_read(a, v->string, dial->kind, &dim, &why);
    if (code || !(dim.si > 0)) {
        (void)pl_json_fail(d, code ? code : PL_EVALUE, v, NULL,
                           why ? why : pl_quantity_name(dial->kind), code ? NULL : "above zero");
        return false;
    }
    *out = dim.si;
    return true;
}

/* "1.6 %" or "2-1-2 %": lower quarter, middle half, upper quarter of the span. */
static bool read_class(pl_arena *a, const pl_json *v, double out[3], pl_diags *d)
{
    const char *why = NULL;
    pl_dim dim = { 0 };
    char part[3][16];
    int used = 0;
    bool good = v->kind == PL_JSON_STRING;

    if (good &&
        sscanf(v->string, "%15[0-9.]-%15[0-9.]-%15[0-9.] %%%n", part[0], part[1], part[2], &used) ==
            3 &&
        used > 0 && !v->string[used]) {
        for (int i = 0; i < 3; i++) {
            good = good && pl_text_to_number(part[i], &out[i]);
            out[i] /= 100;
        }
    } else if (good) {
        good = pl_units_read(a, v->string, PL_Q_NONE, &dim, &why) == PL_OK;
        out[0] = out[1] = out[2] = dim.si;
    }
    for (int i = 0; i < 3; i++)
        good = good && out[i] > 0 && out[i] <= 0.2;
    if (!good)
        (void)pl_json_fail(
            d, PL_EVALUE, v, NULL,
            "a limit of error in percent of the dial's span, above 0 to 20 %",
            "\"1.6 %\", or \"2-1-2 %\" for lower quarter, middle half, upper quarter");
    return good;
}

static void read_unit(pl_arena *a, const pl_json *dial, const char *wanted, pl_dial *out,
                      pl_diags *d)
{
    const pl_json *unit = pl_json_get(dial, "unit");
    pl_quantity_kind want = wanted && wanted[0] ? pl_dial_si_kind(a, wanted) : PL_Q_COUNT;
    const char *why = NULL;

    if (!unit || unit->kind != PL_JSON_STRING) {
        (void)pl_json_fail(d, unit ? PL_EVALUE : PL_EKEY, unit ? unit : dial,
                           unit ? NULL : "no unit", "\"unit\": what the dial is marked in",
                           "for example \"bar\"");
        return;
    }
    out->kind = pl_units_kind(a, unit->string);
    if (out->kind == PL_Q_COUNT || (want != PL_Q_COUNT && out->kind != want)) {
        (void)pl_json_fail(d, PL_EUNIT, unit, NULL,
                           want == PL_Q_COUNT ? "a unit" : pl_quantity_name(want),
                           want == PL_Q_COUNT ? NULL : pl_quantity_examples(want));
        out->kind = PL_Q_NONE;
        return;
    }
    if (pl_units_scale(a, unit->string, out->kind, &out->scale, &out->offset, &why) == PL_OK) {
        out->there = true;
        out->unit = unit->string;
    }
}

static void read_dial(pl_arena *a, const pl_json *dial, const char *wanted, pl_dial *out,
                      pl_diags *d)
{
    static const char *const keys[] = { "unit", "to", "class", "marks", "pointer", "note" };
    const pl_json *v;

    if (dial->kind != PL_JSON_OBJECT) {
        (void)pl_json_fail(d, PL_EVALUE, dial, NULL, "an object with unit, to, class, marks", NULL);
        return;
    }
    for (v = dial->child; v; v = v->next) {
        bool known = false;
        const char *near = pl_text_nearest(v->key, keys, sizeof keys / sizeof *keys);

        for (size_t i = 0; i < sizeof keys / sizeof *keys; i++)
            known = known || !strcmp(v->key, keys[i]);
        if (!known)
            (void)pl_json_fail(d, PL_EKEY, v, pl_arena_printf(a, "key \"%s\"", v->key),
                               "unit, to, class, marks, pointer or note",
                               near ? pl_arena_printf(a, "is \"%s\" meant?", near) : NULL);
    }
    read_unit(a, dial, wanted, out, d);
    if (out->there && (v = pl_json_get(dial, "to")))
        (void)dial_value(a, v, out, &out->to, d);
    if (out->there && (v = pl_json_get(dial, "marks")))
        (void)dial_value(a, v, out, &out->mark, d);
    if ((v = pl_json_get(dial, "class")) && !read_class(a, v, out->class_of, d))
        out->class_of[0] = out->class_of[1] = out->class_of[2] = 0;
    if ((v = pl_json_get(dial, "pointer"))) {
        if (v->kind == PL_JSON_STRING && !strcmp(v->string, "drag"))
            out->drag = true;
        else if (v->kind != PL_JSON_STRING || strcmp(v->string, "plain") != 0)
            (void)pl_json_fail(d, PL_EVALUE, v, NULL, "\"plain\" or \"drag\"", NULL);
    }
    if (out->class_of[0] > 0 && !isfinite(out->to))
        (void)pl_json_fail(d, PL_EKEY, dial, "a class without \"to\"",
                           "\"to\": where the dial ends", "a class is a percentage of the span");
    if (out->mark > 0 && isfinite(out->to) && out->mark > out->to)
        (void)pl_json_fail(d, PL_ECONFLICT, pl_json_get(dial, "marks"), NULL,
                           "marks closer than the dial is long", NULL);
}

static void read_rated(pl_arena *a, const pl_json *v, pl_dial *out, pl_diags *d)
{
    const char *why = NULL;
    pl_dim dim;

    if (v->kind == PL_JSON_STRING) {
        out->rated = v->string;
        if (out->there && out->kind != PL_Q_FORCE &&
            pl_units_read(a, v->string, out->kind, &dim, &why) == PL_OK && dim.si > 0) {
            out->rated_dial = dim.si;
            return;
        }
        if (pl_units_read(a, v->string, PL_Q_FORCE, &dim, &why) == PL_OK && dim.si > 0) {
            out->rated_force_N = dim.si;
            if (out->kind == PL_Q_FORCE)
                out->rated_dial = dim.si;
            return;
        }
    }
    (void)pl_json_fail(d, PL_EUNIT, v, NULL,
                       out->there ? pl_arena_printf(a, "a force, or %s as on the dial",
                                                    pl_quantity_name(out->kind))
                                  : "a force",
                       "for example \"25 kN\"");
}

pl_code pl_dial_read(pl_arena *a, const pl_json *rig, const char *wanted, pl_dial *out, pl_diags *d)
{
    const pl_json *dial = pl_json_get(rig, "dial"), *rated = pl_json_get(rig, "rated");
    size_t before = d->count;

    *out = (pl_dial){ .unit = "",
                      .rated = "",
                      .kind = PL_Q_NONE,
                      .scale = 1,
                      .to = HUGE_VAL,
                      .rated_dial = HUGE_VAL,
                      .rated_force_N = HUGE_VAL };
    if (dial && !wanted)
        (void)pl_json_fail(d, PL_EKEY, dial, "a dial", "no dial: this kind of rig has none", NULL);
    else if (dial)
        read_dial(a, dial, wanted, out, d);
    else if (wanted && wanted[0])
        (void)pl_json_fail(d, PL_EKEY, rig, "no dial",
                           "\"dial\": {\"unit\", \"to\", \"class\", \"marks\"}",
                           "this kind of rig is set or read on a dial");
    if (rated)
        read_rated(a, rated, out, d);
    return pl_diags_code(d, before);
}

void pl_dial_advise(const pl_json *rig, const pl_dial *dial, pl_diags *d)
{
    const pl_json *at = pl_json_get(rig, "dial");

    if (!dial->rated[0])
        pl_json_advise(d, rig, "no rated limit", "\"rated\": what the maker allows",
                       "nothing can keep set points below a limit that is not stated");
    if (!dial->there || !at)
        return;
    if (!(dial->class_of[0] > 0))
        pl_json_advise(d, at, "no class", "\"class\": limit of error in percent of the span",
                       "the gauge's own error is missing from every uncertainty");
    if (!(dial->mark > 0))
        pl_json_advise(d, at, "no marks", "\"marks\": distance between two marks",
                       "set points are not rounded to what the dial can show");
    if (dial->drag)
        pl_json_advise(d, at, "a drag pointer", NULL,
                       "its friction lowers the reading and it shows the peak alone: set it back "
                       "before each pull, and set pressures by a plain pointer");
}

double pl_dial_most(const pl_dial *dial)
{
    return fmin(dial->to, dial->rated_dial);
}

double pl_dial_error(const pl_dial *dial, double reading)
{
    double at = isfinite(dial->to) ? reading / dial->to : 0;

    if (!isfinite(dial->to))
        return 0;
    return dial->to * dial->class_of[at < 0.25 ? 0 : at <= 0.75 ? 1 : 2];
}

double pl_dial_reading_error(const pl_dial *dial)
{
    return dial->mark / 4;
}

double pl_dial_round(const pl_dial *dial, double reading, double *shown)
{
    double half = dial->mark / 2, steps, most = pl_dial_most(dial);

    if (!(dial->mark > 0)) {
        *shown = (reading - dial->offset) / dial->scale;
        return reading;
    }
    steps = round(reading / half);
    while (steps > 0 && steps * half > most * (1 + 1e-12))
        steps--;
    *shown = steps * (half / dial->scale);
    return steps * half;
}

void pl_dial_accept(const pl_dial *dial, double reading, double *low, double *high)
{
    double width = fmax(PL_DIAL_ACCEPT * reading, dial->mark / 2);

    *low = (fmax(reading - width, 0) - dial->offset) / dial->scale;
    *high = (fmin(reading + width, pl_dial_most(dial)) - dial->offset) / dial->scale;
}
