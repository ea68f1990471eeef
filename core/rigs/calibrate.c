/* Adding a calibration to a rig's text, and what is said of its age. The line
 * itself is calibration.c's. */
#include <math.h>
#include <string.h>

#include "base/csv.h"
#include "base/text.h"
#include "rigs/calibration.h"
#include "rigs/rigs.h"

char *pl_rigs_calibration_words(pl_arena *a, const pl_rig *rig, double now_s)
{
    pl_calibration c;
    pl_diags quiet;
    pl_dial dial;
    double days;

    pl_diags_init(&quiet, a);
    (void)pl_dial_read(a, rig->written, "", &dial, &quiet);
    if (!dial.there)
        return pl_arena_str(a, "");
    (void)pl_calibration_read(a, rig->written, &dial, &c, &quiet);
    if (!c.there)
        return pl_arena_printf(a,
                               "%s was never held against a scale or load cell: its force is "
                               "worked out from its settings",
                               rig->name);
    days = pl_calibration_age_days(c.date, now_s);
    if (isnan(days) || days <= PL_RIG_CALIBRATION_DAYS)
        return pl_arena_str(a, "");
    return pl_arena_printf(a, "%s was last calibrated on %s, more than a year ago", rig->name,
                           c.date);
}

/* ---- one more calibration ---- */

static void put_quoted(pl_text *t, const char *s)
{
    pl_text_put(t, "\"");
    for (; *s; s++) {
        if (*s == '"' || *s == '\\')
            pl_text_put(t, "\\");
        pl_text_bytes(t, s, 1);
    }
    pl_text_put(t, "\"");
}

static void put_value(pl_text *t, const char *key, const char *number, const char *unit)
{
    pl_text_add(t, "\"%s\": ", key);
    put_quoted(t, pl_arena_printf(t->arena, "%s %s", number, unit));
}

static pl_code need_column(const pl_csv *csv, const char *name, const char *example, size_t *out,
                           pl_diags *d)
{
    *out = pl_csv_column(csv, name);
    if (*out == csv->ncol)
        return pl_fail(d, PL_EKEY, csv->name,
                       .found = pl_arena_printf(d->arena, "no column \"%s\"", name),
                       .expected = pl_arena_printf(d->arena, "columns dial and force"),
                       .mend = "for example \"dial [bar],force [N]\"");
    if (!csv->units[*out][0])
        return pl_fail(d, PL_EUNIT, csv->name,
                       .found = pl_arena_printf(d->arena, "column \"%s\" without a unit", name),
                       .expected = pl_arena_printf(d->arena, "its unit in brackets: \"%s [%s]\"",
                                                   name, example));
    return PL_OK;
}

/* {"date": ..., "points": [{"dial": "2 bar", "force": "590 N"}, ...]} */
static pl_code object_text(pl_arena *a, const pl_calibrating *c, pl_text *t, pl_diags *d)
{
    const pl_csv *csv;
    size_t dial, force, before = d->count;
    pl_code rc = pl_csv_read(a, c->path, &csv, d);

    if (!rc)
        rc = need_column(csv, "dial", "bar", &dial, d);
    if (!rc)
        rc = need_column(csv, "force", "N", &force, d);
    if (rc)
        return rc;
    pl_text_put(t, "{\"date\": ");
    put_quoted(t, c->date);
    if (c->against) {
        pl_text_put(t, ", \"against\": ");
        put_quoted(t, c->against);
    }
    if (c->against_uncertainty) {
        pl_text_put(t, ", \"against_uncertainty\": ");
        put_quoted(t, c->against_uncertainty);
    }
    pl_text_put(t, ", \"points\": [");
    for (size_t row = 0; row < csv->nrow; row++) {
        const size_t cols[] = { dial, force };

        pl_text_add(t, "%s\n      {", row ? "," : "");
        for (int i = 0; i < 2; i++) {
            const pl_csv_cell *cell = pl_csv_at(csv, row, cols[i]);
            double x;

            if (!pl_csv_number(csv, cell, &x))
                rc = pl_fail(d, PL_EVALUE, pl_csv_where(a, csv, cell),
                             .found = pl_arena_printf(a, "\"%s\"", cell->text),
                             .expected = "a number");
            pl_text_put(t, i ? ", " : "");
            put_value(t, i ? "force" : "dial", pl_text_number(a, x, 17), csv->units[cols[i]]);
        }
        pl_text_put(t, "}");
    }
    pl_text_put(t, "]}");
    return rc ? rc : pl_diags_code(d, before);
}

/* Before the closing bracket of the list that is there, or as a new last member. */
static void insert(pl_text *t, const pl_rig *rig, const char *object)
{
    const pl_json *list = pl_json_get(rig->written, "calibrations");
    size_t whole = strlen(rig->text), at;

    if (list)
        at = list->end - 1 - rig->written->offset;
    else
        at = whole - 1;
    while (at > 0 && strchr(" \n\r\t", rig->text[at - 1]))
        at--;
    pl_text_bytes(t, rig->text, at);
    if (list)
        pl_text_add(t, "%s\n    %s", list->count ? "," : "", object);
    else
        pl_text_add(t, ",\n  \"calibrations\": [\n    %s\n  ]", object);
    pl_text_put(t, rig->text + at);
}

pl_code pl_rigs_calibrate(pl_arena *a, const pl_rig *rig, const pl_calibrating *c, char **out,
                          pl_diags *d)
{
    pl_text object, whole;
    const pl_json *again;
    pl_calibration line;
    pl_rig made;
    pl_dial dial;
    pl_code rc;

    pl_text_init(&object, a);
    pl_text_init(&whole, a);
    rc = object_text(a, c, &object, d);
    if (rc)
        return rc;
    if (!pl_text_done(&object))
        return pl_nomem(d);
    insert(&whole, rig, pl_text_done(&object));
    *out = pl_text_done(&whole);
    if (!*out)
        return pl_nomem(d);
    rc = pl_json_parse(a, c->path, *out, strlen(*out), &again, d);
    if (!rc)
        rc = pl_rig_from_json(a, again, &made, d);
    if (!rc)
        rc = pl_dial_read(a, made.written, "", &dial, d);
    return rc ? rc : pl_calibration_read(a, made.written, &dial, &line, d);
}
