/* What a filled-in form holds that is possible but doubtful: said as advice,
 * never changed. */
#include "bench/reader.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/text.h"

/* A number so many times its fellows' middle, or so small a part of it, is asked
 * about: a slipped decimal point makes 10. Below five fellows there is no middle
 * to speak of. Common practice, no source. */
#define FAR_OFF 5.0
#define FELLOWS_LEAST 5
/* A specimen's size beyond this factor of the nominal one. */
#define SIZE_FAR_OFF 1.5
/* STUDY: a fall of the dial from start to end over 10 % is flagged. */
#define DIAL_FALL 0.10

static const char typing_error[] = "typing error? if it is right, leave it";

static void doubt(pl_reader *r, const pl_reading *x, const char *found, const char *expected,
                  const char *mend)
{
    if (!found || !expected)
        r->nomem = true;
    else
        pl_advise(r->d, x->where, .found = found, .expected = expected, .mend = mend);
}

static const char *as_written(pl_arena *a, const pl_reading *x)
{
    bool has_unit = !x->unit[0] || strpbrk(x->text, "%abcdefghijklmnopqrstuvwxyz");

    return pl_arena_printf(a, has_unit ? "%.40s" : "%.40s %.20s", x->text, x->unit);
}

static int by_value(const void *left, const void *right)
{
    double x = *(const double *)left, y = *(const double *)right;

    return (x > y) - (x < y);
}

/* The middle of all readings of a quantity that measure one kind of thing. */
static pl_code middle_of(pl_arena *a, const pl_readings *all, const pl_reading *like,
                         pl_quantity_kind kind, double *middle, pl_diags *d)
{
    double *values = PL_NEWN(a, all->count, double);
    size_t n = 0;

    if (!values)
        return pl_nomem(d);
    for (size_t i = 0; i < all->count; i++)
        if (all->items[i].subject == like->subject && all->items[i].value > 0 &&
            !strcmp(all->items[i].quantity, like->quantity) &&
            pl_units_kind(a, all->items[i].unit) == kind)
            values[n++] = all->items[i].value;
    *middle = NAN;
    if (n < FELLOWS_LEAST)
        return PL_OK;
    qsort(values, n, sizeof *values, by_value);
    *middle = n % 2 ? values[n / 2] : (values[n / 2 - 1] + values[n / 2]) / 2;
    return PL_OK;
}

pl_code pl_far_from_fellows(pl_arena *a, const pl_readings *some, const pl_readings *all,
                            const char *quantity, pl_diags *d)
{
    pl_quantity_kind kind = PL_Q_NONE, of;
    bool known = false;
    double middle = NAN;

    for (size_t i = 0; i < some->count; i++) {
        const pl_reading *x = &some->items[i];
        double ratio;

        if (strcmp(x->quantity, quantity) || !(x->value > 0))
            continue;
        of = pl_units_kind(a, x->unit);
        if ((!known || of != kind) && middle_of(a, all, x, of, &middle, d))
            return PL_ENOMEM;
        known = true;
        kind = of;
        ratio = x->value / middle;
        if (!(ratio >= FAR_OFF) && !(ratio <= 1 / FAR_OFF))
            continue;
        pl_advise(d, x->where,
                  .found = pl_arena_printf(a, "%s %s of %s: %s times its neighbours", quantity,
                                           as_written(a, x), x->id, pl_text_number(a, ratio, 2)),
                  .mend = typing_error);
    }
    return PL_OK;
}

static void far_from_nominal(pl_reader *r, int k)
{
    const char *name = r->s->joint.size_names[k];
    double nominal = r->s->joint.size[k].si;

    if (!name || !(nominal > 0))
        return;
    for (size_t i = 0; i < r->out->count; i++) {
        const pl_reading *x = &r->out->items[i];

        if (strcmp(x->quantity, name) ||
            (x->value < nominal * SIZE_FAR_OFF && x->value > nominal / SIZE_FAR_OFF))
            continue;
        doubt(r, x, pl_arena_printf(r->a, "%s %s of %s", name, as_written(r->a, x), x->id),
              pl_arena_printf(r->a, "about %s", r->s->joint.size[k].text), typing_error);
    }
}

/* "0.8" where everybody else in the column writes 80. */
static void fractions_for_percents(pl_reader *r)
{
    const pl_reading *first = NULL;

    for (size_t i = 0; i < r->out->count; i++) {
        const pl_reading *x = &r->out->items[i];

        if (strcmp(x->quantity, "wood_failure"))
            continue;
        if (x->value > 0.01)
            return;
        if (x->value > 0 && x->value < 0.01 && !first)
            first = x;
    }
    if (first)
        doubt(r, first,
              pl_arena_printf(r->a, "no wood failure above 1 %%, and %s among them", first->text),
              "percents", "0.8 is read as 0.8 %; for 80 % write 80");
}

/* What the judge saw and how it is named should agree; wood_failure decides. */
static void modes_against_percents(pl_reader *r)
{
    for (size_t i = 0; i < r->out->count; i++) {
        const pl_reading *x = &r->out->items[i], *share;
        bool wood, glue;

        if (strcmp(x->quantity, "mode"))
            continue;
        share = pl_readings_find(r->all, PL_ON_SPECIMEN, x->id, "wood_failure");
        wood = !strcmp(x->text, "wood");
        glue = !strcmp(x->text, "adhesive") || !strcmp(x->text, "cohesive");
        if (!share || !(wood || glue) || wood == (share->value >= r->s->rules.counts_as_wood))
            continue;
        doubt(r, x,
              pl_arena_printf(r->a, "mode %s of %s with %s %% wood failure", x->text, x->id,
                              pl_text_number(r->a, 100 * share->value, 3)),
              pl_arena_printf(r->a, "wood from %s %% up, as the study counts it",
                              pl_text_number(r->a, 100 * r->s->rules.counts_as_wood, 3)),
              "the percentage decides; correct the one that is wrong");
    }
}

const pl_set_point *pl_planned_point(const pl_study *s, const pl_plan *p, const pl_glue_up *g)
{
    int pressed = pl_study_pressed(s);
    const pl_set_point *at;

    if (pressed < 0 || g->rig < 0 || g->spare || !p->points.at)
        return NULL;
    at = pl_set_points_at(&p->points,
                          (size_t)p->treatments[g->treatment * p->nfactor + (size_t)pressed],
                          (size_t)g->rig);
    return at->can ? at : NULL;
}

/* The dial against what was planned, unless another rig was used. */
static void off_the_planned_dial(pl_reader *r, const pl_reading *x)
{
    const pl_glue_up *g = pl_plan_find_glue_up(r->p, x->id);
    const pl_set_point *at = g ? pl_planned_point(r->s, r->p, g) : NULL;
    const pl_reading *rig = pl_readings_find(r->all, PL_ON_GLUE_UP, x->id, "rig");
    pl_quantity_kind kind;
    double shown;

    if (!at || !at->dial_unit || !at->dial_unit[0] || isnan(at->dial) ||
        (rig && strcmp(rig->text, at->rig)))
        return;
    kind = pl_units_kind(r->a, x->unit);
    if (pl_units_kind(r->a, at->dial_unit) != kind) {
        doubt(r, x, pl_arena_printf(r->a, "%s of %s in %s", x->quantity, x->id, x->unit),
              pl_arena_printf(r->a, "%s: what the dial of %s shows", at->dial_unit, at->rig),
              "write the dial's own unit in the header or behind the number");
        return;
    }
    shown = pl_units_from_si(x->value, kind, at->dial_unit);
    if (shown >= at->accept_low && shown <= at->accept_high)
        return;
    doubt(r, x, pl_arena_printf(r->a, "%s %s of %s", x->quantity, as_written(r->a, x), x->id),
          pl_arena_printf(r->a, "%s to %s %s: planned %s", pl_text_number(r->a, at->accept_low, 4),
                          pl_text_number(r->a, at->accept_high, 4), at->dial_unit,
                          pl_text_number(r->a, at->dial, 4)),
          "if it was really so, leave it: the fit uses what was applied");
}

static void fall_of_the_dial(pl_reader *r, const pl_reading *end)
{
    const pl_reading *start = pl_readings_find(r->all, PL_ON_GLUE_UP, end->id, "dial_at_start");
    double fall = start ? (start->value - end->value) / start->value : 0;

    if (fall > DIAL_FALL)
        doubt(r, end,
              pl_arena_printf(r->a, "the dial of %s fell by %s %%", end->id,
                              pl_text_number(r->a, 100 * fall, 2)),
              "at most 10 % from start to end", "a leak, or creep of the wood: say so in the note");
}

static void closed_late(pl_reader *r, const pl_reading *closed)
{
    const pl_reading *spread = pl_readings_find(r->all, PL_ON_GLUE_UP, closed->id, "spread_at");
    double limit = r->s->adhesive.open_time_limit_s;
    double open = spread ? closed->value - spread->value : 0;

    if (open > limit) /* false when no limit is known */
        doubt(r, closed,
              pl_arena_printf(r->a, "%s was open for %s min", closed->id,
                              pl_text_number(r->a, open / 60, 3)),
              pl_arena_printf(r->a, "at most %s min for this adhesive",
                              pl_text_number(r->a, limit / 60, 3)),
              "a late closing is kept and said in the report");
}

static void not_on_the_day(pl_reader *r, const pl_reading *x)
{
    const pl_glue_up *g = pl_plan_find_glue_up(r->p, x->id);
    const pl_reading *made = pl_readings_find(r->all, PL_ON_GLUE_UP, x->id, "session");
    const char *session = made ? made->text : pl_arena_printf(r->a, "%u", g ? g->session : 0);
    const pl_reading *date = session ? pl_readings_find(r->all, PL_ON_SESSION, session, "date")
                                     : NULL;

    if (date && (x->value < date->value || x->value > date->value + 36 * 3600.0))
        doubt(r, x, pl_arena_printf(r->a, "%s %s of %s", x->quantity, x->text, x->id),
              pl_arena_printf(r->a, "a time on %s: the date of session %s", date->text, session),
              typing_error);
}

static void spare_used(pl_reader *r, const pl_reading *x)
{
    const pl_specimen *sp = pl_plan_find(r->p, x->id);

    if (sp && sp->spare)
        doubt(r, x, pl_arena_printf(r->a, "a peak for the spare %s", x->id),
              "joints with a treatment",
              "it is kept; the plan does not say what it was made as, so no fit uses it");
}

void pl_form_doubts(pl_reader *r)
{
    static const char *const numbers[] = { "peak",  "first_drop", "glue_weight", "length",
                                           "width", "thickness",  "weight",      "moisture" };

    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++)
        if (!(r->form == PL_FORM_BREAKS && !strcmp(numbers[i], "width")))
            r->nomem |= pl_far_from_fellows(r->a, r->out, r->all, numbers[i], r->d) == PL_ENOMEM;
    for (size_t i = 0; i < r->out->count; i++) {
        const pl_reading *x = &r->out->items[i];

        if (!strcmp(x->quantity, "dial_at_start"))
            off_the_planned_dial(r, x);
        else if (!strcmp(x->quantity, "dial_at_end"))
            fall_of_the_dial(r, x);
        else if (!strcmp(x->quantity, "closed_at"))
            closed_late(r, x);
        else if (!strcmp(x->quantity, "peak"))
            spare_used(r, x);
        if (!strcmp(x->quantity, "spread_at") || !strcmp(x->quantity, "pressed_at"))
            not_on_the_day(r, x);
    }
    if (r->form != PL_FORM_BREAKS)
        return;
    far_from_nominal(r, 0);
    far_from_nominal(r, 1);
    fractions_for_percents(r);
    modes_against_percents(r);
}
