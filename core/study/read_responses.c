/* What is measured: strength, and further responses with their units and the columns of the forms
 * that hold them. How they are judged is fit's. */
#include <math.h>
#include <string.h>

#include "base/text.h"
#include "study/build.h"
#include "study/response.h"

/* Columns of the forms that a response may be read from; any: words there until a response takes
 * it. core/bench/columns.c has them all (tests/bench/test_columns.c holds the two together). */
static const struct {
    const char *name;
    bool on_glue_up, any;
    pl_response_kind kind;
} readable[] = {
    { "glue_weight", true, false, PL_RESPONSE_MASS },
    { "squeeze_out", true, true, PL_RESPONSE_MASS },
    { "wood_failure", false, false, PL_RESPONSE_PERCENT },
    { "first_drop", false, false, PL_RESPONSE_FORCE },
};
#define NREADABLE (sizeof readable / sizeof *readable)

static const char *const taken[] = {
    "specimen",      "rig",         "operator", "broken_at",     "width",         "overlap",
    "height",        "thickness",   "peak",     "mode",          "trace",         "photo",
    "note",          "glue_up",     "session",  "spread_at",     "closed_at",     "pressed_at",
    "opened_at",     "dial_at_end", "made_as",  "dial_at_start", "pressure made", "board",
    "glue_order",    "break_order", "wood",     "day glued",     "how it broke",  "stretch",
    "inner_stretch", "strength",
};

bool pl_response_column_known(const char *name)
{
    for (size_t i = 0; i < NREADABLE; i++)
        if (!strcmp(readable[i].name, name))
            return true;
    for (size_t i = 0; i < sizeof taken / sizeof *taken; i++)
        if (!strcmp(taken[i], name))
            return true;
    return false;
}

static const struct {
    pl_quantity_kind quantity;
    const char *unit;
} kinds[PL_NRESPONSES] = {
    [PL_RESPONSE_STRENGTH] = { PL_Q_PRESSURE, "N/mm2" },
    [PL_RESPONSE_FORCE] = { PL_Q_FORCE, "N" },
    [PL_RESPONSE_MASS] = { PL_Q_MASS, "g" },
    [PL_RESPONSE_PERCENT] = { PL_Q_NONE, "%" },
    [PL_RESPONSE_LENGTH] = { PL_Q_LENGTH, "mm" },
    [PL_RESPONSE_COUNT] = { PL_Q_NONE, "" },
};

static const pl_json *response_at(const pl_build *b, size_t i)
{
    return pl_json_at(pl_json_get(b->root, "responses"), i);
}

static const pl_json *member(const pl_build *b, size_t i, const char *key)
{
    const pl_json *at = response_at(b, i), *v = at ? pl_json_get(at, key) : NULL;

    return v ? v : at;
}

/* ------------------------------------------------------------- strength ---- */

static void build_strength(pl_build *b, const pl_raw_response *raw, size_t place)
{
    int pressed = pl_study_pressed(b->s);
    const char **unit;

    b->s->response = raw && raw->name ? raw->name : "strength";
    if (raw && raw->nshow_in) {
        b->s->show_in = raw->show_in;
        b->s->nshow_in = raw->nshow_in;
        return;
    }
    unit = pl_build_new(b, 1, sizeof *unit);
    if (!unit)
        return;
    *unit = pressed >= 0 && b->s->factors[pressed].unit ? b->s->factors[pressed].unit : "N/mm2";
    b->s->show_in = unit;
    b->s->nshow_in = 1;
    pl_fill_assume(&b->f, pl_fill_printf(&b->f, "/responses/%zu", place), "show_in",
                   pl_fill_printf(&b->f, "strengths are printed in %s", *unit));
}

/* ----------------------------------------------------------- the others ---- */

/* "squeeze-out" -> "squeeze_out"; NULL with a finding when it cannot stand in a header. */
static const char *column_name(pl_build *b, const pl_raw_response *raw, size_t place)
{
    char *name = pl_arena_str(b->f.a, raw->column ? raw->column : raw->name);

    if (!name)
        return pl_fill_printf(&b->f, "%s", "");
    for (char *c = name; *c; c++) {
        if (*c == ' ' || *c == '-')
            *c = '_';
        else if (*c >= 'A' && *c <= 'Z')
            *c = (char)(*c - 'A' + 'a');
        else if (!(*c >= 'a' && *c <= 'z') && !(*c >= '0' && *c <= '9') && *c != '_') {
            pl_fill_fail(&b->f, PL_EVALUE, member(b, place, raw->column ? "column" : "name"), NULL,
                         "letters, digits, blanks and hyphens: it is the head of a column", "");
            return NULL;
        }
    }
    return name;
}

static void settle_column(pl_build *b, const pl_raw_response *raw, size_t place, pl_response *r)
{
    const char *name = column_name(b, raw, place);

    if (!name)
        return;
    r->column = name;
    r->on_glue_up = raw->measured_on == 1;
    for (size_t i = 0; i < NREADABLE; i++) {
        if (strcmp(readable[i].name, name) != 0)
            continue;
        r->on_glue_up = readable[i].on_glue_up;
        if (!readable[i].any && readable[i].kind != r->kind)
            pl_fill_fail(&b->f, PL_ECONFLICT, member(b, place, "kind"), NULL,
                         pl_fill_printf(&b->f, "%s, which the column %s holds",
                                        kinds[readable[i].kind].quantity == PL_Q_NONE ? "percent"
                                        : readable[i].kind == PL_RESPONSE_MASS        ? "mass"
                                                                                      : "force",
                                        name),
                         "");
        return;
    }
    if (pl_response_column_known(name))
        pl_fill_fail(&b->f, PL_ECONFLICT, member(b, place, raw->column ? "column" : "name"), NULL,
                     "a column that no form has for something else",
                     "give it a name of its own, such as line_thickness");
}

static void settle_unit(pl_build *b, const pl_raw_response *raw, size_t place, pl_response *r)
{
    const char *why = "";
    double offset = 0;

    r->quantity = kinds[r->kind].quantity;
    r->unit = raw->unit ? raw->unit : kinds[r->kind].unit;
    r->scale = r->kind == PL_RESPONSE_PERCENT ? 0.01 : 1;
    if (r->quantity == PL_Q_NONE) {
        if (strcmp(r->unit, kinds[r->kind].unit) != 0)
            pl_fill_fail(&b->f, PL_EUNIT, member(b, place, "unit"), NULL,
                         r->kind == PL_RESPONSE_PERCENT ? "%" : "no unit: a count has none", "");
        return;
    }
    if (pl_units_scale(b->f.a, r->unit, r->quantity, &r->scale, &offset, &why))
        pl_fill_fail(&b->f, PL_EUNIT, member(b, place, "unit"), NULL,
                     pl_fill_printf(&b->f, "a unit of %s: %s",
                                    strchr(pl_quantity_name(r->quantity), ' ') + 1,
                                    pl_quantity_examples(r->quantity)),
                     "");
}

/* Its name is a column of the fit's table. */
static void check_name(pl_build *b, size_t place, const pl_response *r, size_t before)
{
    bool again = !strcmp(r->name, b->s->response) || !strcmp(r->name, "strength");

    for (size_t i = 0; i < before; i++)
        again = again || !strcmp(b->s->others[i].name, r->name) ||
                (r->column && b->s->others[i].column && !strcmp(b->s->others[i].column, r->column));
    for (size_t i = 0; i < b->s->nfactor; i++)
        again = again || !strcmp(b->s->factors[i].name, r->name);
    if (again)
        pl_fill_fail(&b->f, PL_ECONFLICT, member(b, place, "name"), NULL,
                     "a name and a column that no other response and no factor has", "");
}

static void build_other(pl_build *b, const pl_raw_response *raw, size_t place, pl_response *out)
{
    static const int better[] = { 0, 1, -1 };
    pl_response *r = &out[b->s->nother];

    *r = (pl_response){ .name = raw->name, .kind = (pl_response_kind)raw->kind };
    r->better = better[raw->better];
    if (raw->nshow_in)
        pl_fill_fail(&b->f, PL_ECONFLICT, member(b, place, "show_in"), NULL,
                     "`unit` for what is no strength", "");
    if (!pl_json_get(response_at(b, place), "name")) {
        pl_fill_fail(&b->f, PL_EVALUE, response_at(b, place), "a response without a name",
                     "`name`: what it is called", "");
        return;
    }
    settle_unit(b, raw, place, r);
    settle_column(b, raw, place, r);
    check_name(b, place, r, b->s->nother);
    b->s->nother++;
}

static void check_strength_keys(pl_build *b, const pl_raw_response *raw, size_t place)
{
    static const char *const not_its[] = { "unit", "column", "measured_on", "better" };

    (void)raw;
    for (size_t i = 0; i < sizeof not_its / sizeof *not_its; i++) {
        const pl_json *v = pl_json_get(response_at(b, place), not_its[i]);

        if (v)
            pl_fill_fail(&b->f, PL_ECONFLICT, v, NULL,
                         pl_fill_printf(&b->f, "`%s` only of what is no strength", not_its[i]),
                         "strength is worked out from peak and area, and more is better");
    }
}

static void build_covariates(pl_build *b)
{
    const char *const *names = b->raw->model.covariates;
    const pl_json *at = pl_build_at(b, "model", "covariates");
    const char **known = pl_build_new(b, b->s->nother, sizeof *known);

    for (size_t k = 0; known && k < b->s->nother; k++)
        known[k] = b->s->others[k].name;
    for (size_t i = 0; known && i < b->raw->model.ncovariate; i++) {
        bool found = false;

        for (size_t k = 0; k < b->s->nother; k++)
            found = found || !strcmp(known[k], names[i]);
        if (!found)
            pl_fill_fail(&b->f, PL_EVALUE, pl_json_at(at, i), NULL,
                         "the name of a response other than strength",
                         pl_build_near(b, names[i], known, b->s->nother));
    }
    b->s->covariates = names;
    b->s->ncovariate = b->raw->model.ncovariate;
}

void pl_build_responses(pl_build *b)
{
    const pl_raw_response *strength = NULL;
    pl_response *others = pl_build_new(b, b->raw->nresponse, sizeof *others);
    size_t at = 0;

    for (size_t i = 0; i < b->raw->nresponse; i++) {
        if (b->raw->responses[i].kind != PL_RESPONSE_STRENGTH)
            continue;
        if (strength) {
            pl_fill_fail(&b->f, PL_ECONFLICT, response_at(b, i), "a second strength",
                         "one strength: peak over area", "");
            continue;
        }
        strength = &b->raw->responses[i];
        check_strength_keys(b, strength, i);
        at = i;
    }
    build_strength(b, strength, at);
    b->s->others = others;
    for (size_t i = 0; others && i < b->raw->nresponse; i++)
        if (b->raw->responses[i].kind != PL_RESPONSE_STRENGTH)
            build_other(b, &b->raw->responses[i], i, others);
    build_covariates(b);
}
