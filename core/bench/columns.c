/* The table of all forms' columns, and the reference made from it. What a cell
 * may hold is checked in forms_read.c. */
#include "bench/columns.h"

#include <string.h>

#include "base/text.h"

/* Limits are what a bench can show at all, wide enough never to be in the way:
 * a number beyond them is in the wrong column or in the wrong unit. */
#define LENGTH_MOST 30.0
#define ABS_0_C 233.15 /* -40 degC */
#define ABS_60_C 333.15

static const pl_form_column table[] = {
    { PL_FORM_BOARDS, "board", PL_CELL_KEY, PL_Q_NONE, "", 0, 0, false,
      "label of the plan: B1, B2, ..." },
    { PL_FORM_BOARDS, "species", PL_CELL_SPECIES, PL_Q_NONE, "", 0, 0, false,
      "as the plan has it; another one is refused" },
    { PL_FORM_BOARDS, "length", PL_CELL_NUMBER, PL_Q_LENGTH, "mm", 1e-6, LENGTH_MOST, false,
      "as measured" },
    { PL_FORM_BOARDS, "width", PL_CELL_NUMBER, PL_Q_LENGTH, "mm", 1e-6, LENGTH_MOST, false, "" },
    { PL_FORM_BOARDS, "thickness", PL_CELL_NUMBER, PL_Q_LENGTH, "mm", 1e-6, LENGTH_MOST, false,
      "" },
    { PL_FORM_BOARDS, "weight", PL_CELL_NUMBER, PL_Q_MASS, "kg", 1e-9, 1e4, false, "" },
    { PL_FORM_BOARDS, "moisture", PL_CELL_PERCENT, PL_Q_NONE, "%", 0, 2, false,
      "moisture content, 0 to 200 %" },
    { PL_FORM_BOARDS, "growth_rings", PL_CELL_TEXT, PL_Q_NONE, "", 0, 0, false,
      "width or slope, in words" },
    { PL_FORM_BOARDS, "usable_from", PL_CELL_NUMBER, PL_Q_LENGTH, "mm", 0, LENGTH_MOST, false,
      "from one end: where sound wood begins" },
    { PL_FORM_BOARDS, "usable_to", PL_CELL_NUMBER, PL_Q_LENGTH, "mm", 0, LENGTH_MOST, false,
      "from the same end: where it stops" },
    { PL_FORM_BOARDS, "photo", PL_CELL_TEXT, PL_Q_NONE, "", 0, 0, false, "a file's name" },
    { PL_FORM_BOARDS, "note", PL_CELL_TEXT, PL_Q_NONE, "", 0, 0, false, "" },

    { PL_FORM_SESSIONS, "session", PL_CELL_KEY, PL_Q_NONE, "", 0, 0, false, "1, 2, ..." },
    { PL_FORM_SESSIONS, "date", PL_CELL_DATE, PL_Q_NONE, "", 0, 0, false,
      "2027-03-01; bare times of this session's glue-ups take it" },
    { PL_FORM_SESSIONS, "operator", PL_CELL_TEXT, PL_Q_NONE, "", 0, 0, false, "" },
    { PL_FORM_SESSIONS, "room_temperature", PL_CELL_NUMBER, PL_Q_TEMPERATURE, "degC", ABS_0_C,
      ABS_60_C, false, "-40 to 60 degC" },
    { PL_FORM_SESSIONS, "humidity", PL_CELL_PERCENT, PL_Q_NONE, "%", 0, 1, false, "0 to 100 %" },
    { PL_FORM_SESSIONS, "adhesive_batch", PL_CELL_TEXT, PL_Q_NONE, "", 0, 0, false, "" },
    { PL_FORM_SESSIONS, "rig", PL_CELL_RIG, PL_Q_NONE, "", 0, 0, false,
      "whose dial and supply the row gives; a session with one rig may leave it blank" },
    { PL_FORM_SESSIONS, "dial_no_load", PL_CELL_DIAL, PL_Q_PRESSURE, "bar", -1e9, 1e9, true,
      "what the dial shows without load" },
    { PL_FORM_SESSIONS, "supply", PL_CELL_DIAL, PL_Q_PRESSURE, "bar", 0, 1e9, true,
      "pressure before the regulator" },
    { PL_FORM_SESSIONS, "note", PL_CELL_TEXT, PL_Q_NONE, "", 0, 0, true, "" },

    { PL_FORM_GLUE_UPS, "glue_up", PL_CELL_KEY, PL_Q_NONE, "", 0, 0, false,
      "label of the plan: G1, G2, ..." },
    { PL_FORM_GLUE_UPS, "session", PL_CELL_SESSION, PL_Q_NONE, "", 0, 0, false,
      "the session it was really made in" },
    { PL_FORM_GLUE_UPS, "rig", PL_CELL_RIG, PL_Q_NONE, "", 0, 0, false, "blank: as planned" },
    { PL_FORM_GLUE_UPS, "spread_at", PL_CELL_TIME, PL_Q_NONE, "", 0, 0, false,
      "when the adhesive was on" },
    { PL_FORM_GLUE_UPS, "closed_at", PL_CELL_TIME, PL_Q_NONE, "", 0, 0, false,
      "when the faces met" },
    { PL_FORM_GLUE_UPS, "pressed_at", PL_CELL_TIME, PL_Q_NONE, "", 0, 0, false,
      "when the pressure was on" },
    { PL_FORM_GLUE_UPS, "opened_at", PL_CELL_TIME, PL_Q_NONE, "", 0, 0, false,
      "when the pressure was off" },
    { PL_FORM_GLUE_UPS, "dial_at_start", PL_CELL_DIAL, PL_Q_PRESSURE, "bar", 0, 1e9, false,
      "blank with dead weights" },
    { PL_FORM_GLUE_UPS, "dial_at_end", PL_CELL_DIAL, PL_Q_PRESSURE, "bar", 0, 1e9, false,
      "just before opening" },
    { PL_FORM_GLUE_UPS, "glue_weight", PL_CELL_NUMBER, PL_Q_MASS, "g", 0, 100, false,
      "spread on this glue-up" },
    { PL_FORM_GLUE_UPS, "squeeze_out", PL_CELL_TEXT, PL_Q_NONE, "", 0, 0, false,
      "none, beads, runs: in words" },
    { PL_FORM_GLUE_UPS, "made_as", PL_CELL_TEXT, PL_Q_NONE, "", 0, 0, false,
      "if it was made in another way than planned: how" },
    { PL_FORM_GLUE_UPS, "note", PL_CELL_TEXT, PL_Q_NONE, "", 0, 0, false, "" },

    { PL_FORM_BREAKS, "specimen", PL_CELL_KEY, PL_Q_NONE, "", 0, 0, false,
      "id on its label; large or small letters" },
    { PL_FORM_BREAKS, "rig", PL_CELL_RIG, PL_Q_NONE, "", 0, 0, false,
      "that broke it; blank: as planned" },
    { PL_FORM_BREAKS, "operator", PL_CELL_TEXT, PL_Q_NONE, "", 0, 0, false, "" },
    { PL_FORM_BREAKS, "broken_at", PL_CELL_TIME, PL_Q_NONE, "", 0, 0, false,
      "a bare time takes the date of the row above" },
    { PL_FORM_BREAKS, "0", PL_CELL_SIZE, PL_Q_LENGTH, "mm", 1e-6, LENGTH_MOST, false,
      "the joint kind's first size (width), of this specimen" },
    { PL_FORM_BREAKS, "1", PL_CELL_SIZE, PL_Q_LENGTH, "mm", 1e-6, LENGTH_MOST, false,
      "its second size: overlap, height or thickness" },
    { PL_FORM_BREAKS, "peak", PL_CELL_PEAK, PL_Q_FORCE, "kN", 0, 1e9, false,
      "greatest force; or what the breaking rig's dial showed, in its unit; \"2.4..2.6\" if read "
      "between two marks" },
    { PL_FORM_BREAKS, "first_drop", PL_CELL_PEAK, PL_Q_FORCE, "kN", 0, 1e9, false,
      "force at the first drop, if there was one before the peak" },
    { PL_FORM_BREAKS, "wood_failure", PL_CELL_PERCENT, PL_Q_NONE, "%", 0, 1, false,
      "share of the broken area that is wood, 0 to 100 %" },
    { PL_FORM_BREAKS, "mode", PL_CELL_MODE, PL_Q_NONE, "", 0, 0, false,
      "adhesive, cohesive, wood, mixed, fixture, handling or not-broken" },
    { PL_FORM_BREAKS, "trace", PL_CELL_TEXT, PL_Q_NONE, "", 0, 0, false,
      "the file with its force over time" },
    { PL_FORM_BREAKS, "photo", PL_CELL_TEXT, PL_Q_NONE, "", 0, 0, false, "a file's name" },
    { PL_FORM_BREAKS, "note", PL_CELL_TEXT, PL_Q_NONE, "", 0, 0, false, "" },
};

#define NTABLE (sizeof table / sizeof *table)

const char *pl_form_name(pl_form f)
{
    static const char *const names[PL_NFORMS] = { "boards", "sessions", "glue-ups", "breaks" };

    return names[f];
}

/* What a further response holds, whichever form it stands in. */
static pl_form_column response_column(const pl_response *r)
{
    pl_form_column c = { .form = r->on_glue_up ? PL_FORM_GLUE_UPS : PL_FORM_BREAKS,
                         .name = r->column,
                         .cell = PL_CELL_NUMBER,
                         .kind = r->quantity,
                         .unit = r->unit,
                         .high = 1e9 };

    if (r->kind == PL_RESPONSE_PERCENT) {
        c.cell = PL_CELL_PERCENT;
        c.high = 1;
    } else if (r->kind == PL_RESPONSE_LENGTH) {
        c.high = LENGTH_MOST;
    }
    return c;
}

/* The response that this column of words holds as a number; or NULL. */
static const pl_response *response_of(const pl_study *s, const pl_form_column *c)
{
    for (size_t i = 0; i < s->nother; i++)
        if (c->cell == PL_CELL_TEXT && !strcmp(s->others[i].column, c->name))
            return &s->others[i];
    return NULL;
}

static bool stands(const pl_form_column *columns, size_t n, const char *name)
{
    for (size_t i = 0; i < n; i++)
        if (!strcmp(columns[i].name, name))
            return true;
    return false;
}

/* Columns of responses that the form does not have of itself, before its last: the note. */
static size_t add_responses(const pl_study *s, pl_form form, pl_form_column *out, size_t n)
{
    for (size_t i = 0; i < s->nother; i++) {
        pl_form_column c = response_column(&s->others[i]);

        if (c.form != form || stands(out, n, c.name) || n == PL_FORM_COLUMNS_MOST)
            continue;
        out[n] = out[n - 1];
        out[n++ - 1] = c;
    }
    return n;
}

size_t pl_form_columns(const pl_study *s, pl_form form, const char *peak_unit,
                       const char *dial_unit, pl_form_column out[PL_FORM_COLUMNS_MOST])
{
    size_t n = 0;

    for (size_t i = 0; i < NTABLE; i++) {
        pl_form_column c = table[i];

        if (c.form != form)
            continue;
        if (c.cell == PL_CELL_SIZE) {
            c.name = s->joint.size_names[c.name[0] - '0'];
            if (!c.name)
                continue;
        }
        if (response_of(s, &c))
            c = response_column(response_of(s, &c));
        if (c.cell == PL_CELL_PEAK && peak_unit)
            c.unit = peak_unit;
        if (c.cell == PL_CELL_DIAL && dial_unit)
            c.unit = dial_unit;
        if (c.kind == PL_Q_LENGTH && !response_of(s, &table[i]) && s->joint.unit &&
            s->joint.unit[0])
            c.unit = s->joint.unit;
        out[n++] = c;
    }
    return add_responses(s, form, out, n);
}

static const char *holds(pl_cell_kind cell)
{
    switch (cell) {
    case PL_CELL_DATE:
        return "date";
    case PL_CELL_TIME:
        return "time";
    case PL_CELL_NUMBER:
    case PL_CELL_SIZE:
    case PL_CELL_DIAL:
    case PL_CELL_PEAK:
        return "number";
    case PL_CELL_PERCENT:
        return "percent";
    case PL_CELL_KEY:
        return "whose row it is";
    case PL_CELL_RIG:
        return "a rig's name";
    default:
        return "words";
    }
}

char *pl_forms_reference(pl_arena *a)
{
    pl_text t;

    pl_text_init(&t, a);
    for (int form = 0; form < PL_NFORMS; form++) {
        pl_text_add(&t,
                    "### %s\n\n| column | unit as written | holds | |\n| --- | --- | --- | --- |\n",
                    pl_form_name((pl_form)form));
        for (size_t i = 0; i < NTABLE; i++) {
            const pl_form_column *c = &table[i];
            const char *name = c->name;

            if (c->form != (pl_form)form)
                continue;
            if (c->cell == PL_CELL_SIZE)
                name = name[0] == '0' ? "width" : "overlap";
            pl_text_add(&t, "| `%s` | %s | %s | %s |\n", name, c->unit, holds(c->cell), c->words);
        }
        pl_text_put(&t, "\n");
    }
    return pl_text_done(&t);
}
