/* The answer of a fit in shop words: one paragraph a group, then what happened
 * at the bench, the dials, and what these specimens cannot tell. Statistics
 * terms are details.c's. */
#include <math.h>
#include <string.h>

#include "base/units.h"
#include "report/bond.h"
#include "report/groups.h"
#include "report/responses.h"
#include "report/say.h"
#include "report/trust.h"

#define NINETEEN "ranges worked out this way are right about nineteen times in twenty"
/* docs/validation.md, "A rise and then a fall" */
#define NINETEEN_OF_A_HILL \
    NINETEEN " where a loss grows evenly, less often where it sets in at one point"

typedef struct speech {
    pl_arena *a;
    const pl_fit_answer *f;
    const pl_plateau *p;
    pl_text t;
    bool pressed; /* the curve runs over what a press sets */
} speech;

/* What is done more of along the curve: nobody squeezes open time. */
static const char *more(speech *s)
{
    return s->pressed ? "squeezing harder" : pl_arena_printf(s->a, "more %s", s->p->over);
}

/* The glue line's answer, not the joint's. */
static bool of_bond(const speech *s)
{
    return !strcmp(s->p->answer, "bond");
}

static bool is_pressed(const pl_fit_answer *f, const pl_plateau *p, pl_arena *a)
{
    int pressed = f->study ? pl_study_pressed(f->study) : -1;

    if (f->study)
        return pressed >= 0 && pressed == f->study->question.over;
    return pl_units_kind(a, p->over_unit) == PL_Q_PRESSURE;
}

/* Pressures to two digits, which is more than a gauge holds; strengths to three. */
#define PRESSURE_DIGITS 2
#define STRENGTH_DIGITS 3

static const char *pressure(speech *s, double x, int way)
{
    return pl_say(s->a, s->f, x, s->p->over_unit, PRESSURE_DIGITS, way);
}

static const char *pressure_bare(speech *s, double x, int way)
{
    return pl_say_bare(s->a, x, PRESSURE_DIGITS, way);
}

static const char *strength(speech *s, double x, int way)
{
    return pl_say(s->a, s->f, x, s->p->unit, STRENGTH_DIGITS, way);
}

/* A study's levels are typed with their unit, a table's have it in the header. */
static const char *level(speech *s, size_t i)
{
    const char *text = s->p->levels[i].level, *unit = s->f->study ? "" : s->p->over_unit;

    return pl_arena_printf(s->a, "%s%s%s", text, unit[0] ? " " : "", unit);
}

static const char *top_level(speech *s)
{
    return level(s, s->p->nlevel - 1);
}

static const char *lowest_level(speech *s)
{
    return level(s, 0);
}

static const char *how_often(const speech *s)
{
    return s->p->fall.t > s->p->fall.point ? NINETEEN_OF_A_HILL : NINETEEN;
}

/* How much of the range is the rig's. */
static void say_rig(speech *s)
{
    const pl_plateau *p = s->p;
    const pl_bounded *alone = &p->onset_itself;

    if (p->doubted_rig &&
        !strcmp(pressure_bare(s, p->onset.low, -1), pressure_bare(s, alone->low, -1)) &&
        !strcmp(pressure_bare(s, p->onset.high, 1), pressure_bare(s, alone->high, 1)))
        return; /* too little to be seen in two digits */
    if (!p->doubted_rig || p->onset.low_open || p->onset.high_open || alone->low_open ||
        alone->high_open)
        return;
    pl_text_add(&s->t,
                "Of that range the gauge, friction and area of %s make a part: known exactly, they "
                "would leave %s to %s. ",
                p->doubted_rig, pressure_bare(s, alone->low, -1), pressure(s, alone->high, 1));
}

/* The onset's interval, with what is open at either end. */
static void say_range(speech *s)
{
    const pl_bounded *o = &s->p->onset;

    if (o->low_open && o->high_open)
        pl_text_put(&s->t, "These joints bound that point on neither side. ");
    else if (o->low_open)
        pl_text_add(&s->t,
                    "The true point lies at or below %s (%s); how far below, these joints cannot "
                    "tell. ",
                    pressure(s, o->high, 1), how_often(s));
    else if (o->high_open)
        pl_text_add(&s->t,
                    "The true point lies at or above %s (%s); how far above, these joints cannot "
                    "tell. ",
                    pressure(s, o->low, -1), how_often(s));
    else
        pl_text_add(&s->t, "The true point lies between %s and %s; %s. ",
                    pressure_bare(s, o->low, -1), pressure(s, o->high, 1), how_often(s));
    say_rig(s);
}

static void say_working_range(speech *s)
{
    const pl_plateau *p = s->p;
    const pl_bounded *end = &p->range_end;

    if (p->fall.t > p->fall.point && !end->low_open && !isnan(end->low))
        pl_text_add(&s->t, "%s than about %s did harm: stay below %s. ",
                    s->pressed ? "Squeezing harder" : "More", pressure(s, end->at, 0),
                    pressure(s, end->low, -1));
    else if (!isnan(p->fall_excluded) && p->fall_excluded < p->height)
        pl_text_add(&s->t,
                    "No sign of harm up to %s, the %s tried: a loss of more than %s is excluded. ",
                    top_level(s), s->pressed ? "hardest squeeze" : "most",
                    pl_say(s->a, s->f, p->fall_excluded, p->unit, 2, 1));
}

/* "0.1 to 0.8 N/mm2" */
static const char *level_range(speech *s, size_t from, size_t to)
{
    return from == to ? level(s, to)
                      : pl_arena_printf(s->a, "%s to %s", level(s, from), level(s, to));
}

/* Of a level without a limit the difference is none. */
static const char *loss(speech *s, const pl_step *fall)
{
    return isnan(fall->difference) ? "much" : strength(s, fabs(fall->difference), 0);
}

/* It rises and falls again, and no curve at hand can follow that. */
static void say_rise_and_fall(speech *s)
{
    const pl_step *fall = &s->p->fall;

    pl_text_add(&s->t,
                "%s helps at first and does harm later: joints made at %s held %s less on average "
                "than those at %s. ",
                more(s), level_range(s, fall->lower_from, fall->lower_to), loss(s, fall),
                level_range(s, fall->upper_from, fall->upper_to));
}

/* Reached, yet nothing to set a rig by. */
static void say_no_room(speech *s)
{
    const pl_plateau *p = s->p;

    say_rise_and_fall(s);
    if (strcmp(p->reason, "range-not-clear")) {
        pl_text_add(&s->t,
                    "The curves that were fitted cannot follow a fall, so no setting is advised; "
                    "the best one lies below %s. ",
                    level(s, p->fall.lower_from));
        return;
    }
    pl_text_add(&s->t,
                "The best guess of where nothing is lost yet, and nothing is left to gain, is from "
                "%s to %s, but each end may lie beyond the other: no setting is advised, and the "
                "next joints belong between the two. ",
                pressure_bare(s, p->onset.at, 0), pressure(s, p->range_end.at, 0));
}

/* Nothing to judge chance by; what the curves alone say. */
static void say_untested(speech *s)
{
    const pl_plateau *p = s->p;

    pl_text_add(&s->t, "there is nothing to judge chance by: no level was made more than once%s. ",
                p->nlevel > 24 ? ", or there are too many levels" : " within its blocks");
    if (!isnan(p->onset.at)) {
        pl_text_add(&s->t, "The curves alone put the start of the plateau at about %s. ",
                    pressure(s, p->onset.at, 0));
        say_range(s);
    }
    pl_text_put(&s->t, "No setting is advised. ");
}

/* What "stopped helping" stands for, and the height it is a share of. */
static void say_height(speech *s)
{
    const pl_plateau *p = s->p;

    if (isnan(p->height)) {
        pl_text_put(&s->t, "Of its highest strength there is no upper limit. ");
        return;
    }
    pl_text_add(&s->t,
                "The highest average is about %s and lies between %s and %s; \"stopped helping\" "
                "means that %s %% of it is there. ",
                strength(s, p->height, 0), pl_say_bare(s->a, p->height_low, STRENGTH_DIGITS, -1),
                pl_say_bare(s->a, p->height_high, STRENGTH_DIGITS, 1),
                pl_text_number(s->a, 100 * p->share, 3));
}

static void say_reached(speech *s)
{
    const pl_plateau *p = s->p;
    const char *advised = pressure_bare(s, p->advised, 1), *at = pressure_bare(s, p->onset.at, 0);

    if (p->reason) {
        say_no_room(s);
        return;
    }
    if (p->fall.t > p->fall.point)
        say_rise_and_fall(s);
    pl_text_add(&s->t, "%s stopped helping at about %s%s. ", more(s), pressure(s, p->onset.at, 0),
                p->onset.low_open ? " or earlier" : "");
    say_range(s);
    if (of_bond(s))
        pl_text_put(&s->t, "What the joint asks for stands above. ");
    else if (!isnan(p->advised) && advised && at && strcmp(advised, at))
        pl_text_add(&s->t, "To be on the safe side set %s, not %s. ", advised, at);
    else if (!isnan(p->advised))
        pl_text_add(&s->t, "To be on the safe side set %s. ", pressure(s, p->advised, 1));
    else
        pl_text_put(&s->t, "No setting is advised. ");
    say_height(s);
    say_working_range(s);
}

static void say_not_reached(speech *s)
{
    pl_text_add(&s->t,
                "%s was still helping at the top of what was tried, %s, and no plateau shows. ",
                more(s), top_level(s));
    if (!s->p->onset.low_open)
        pl_text_add(&s->t, "If there is one, it starts above %s; %s. ",
                    pressure(s, s->p->onset.low, -1), NINETEEN);
    pl_text_add(&s->t, "No setting is advised; the next joints belong at %s%s. ",
                s->pressed ? "higher pressure" : "more ", s->pressed ? "" : s->p->over);
}

static void say_undecided(speech *s)
{
    const pl_plateau *p = s->p;

    if (of_bond(s) && p->reason && !strcmp(p->reason, "glue-line-breaks-too-few")) {
        pl_text_add(&s->t, "too few joints broke in it to say what %s does to it. ", p->over);
        return;
    }
    if (isnan(p->rise.t)) {
        say_untested(s);
        return;
    }
    if (p->rise.t > p->rise.point) {
        pl_text_add(&s->t,
                    "%s helps, but these joints cannot tell whether it stops helping below %s, the "
                    "most that was tried: the top is open. ",
                    more(s), top_level(s));
        if (!isnan(p->onset.at))
            pl_text_add(&s->t,
                        "Of the highest average within what was tried, %s %% is there at about "
                        "%s. ",
                        pl_text_number(s->a, 100 * p->share, 3), pressure(s, p->onset.at, 0));
        say_range(s);
        if (!of_bond(s))
            pl_text_put(&s->t, "No setting is advised. ");
        return;
    }
    pl_text_add(&s->t,
                "no effect of %s shows between %s and %s, but these joints are too few to say that "
                "there is none",
                p->over, lowest_level(s), top_level(s));
    if (!isfinite(p->change_excluded))
        pl_text_put(&s->t, ". ");
    else
        pl_text_add(&s->t, ": a change of up to %s is not excluded. ",
                    strength(s, p->change_excluded, 1));
}

/* A loss shows and no gain; where it sets in, only the levels that were compared say. */
static void say_falling(speech *s)
{
    const pl_step *fall = &s->p->fall;

    pl_text_add(&s->t,
                "%s did harm, and no gain shows: joints made at %s held %s less on average than "
                "those at %s. No setting is advised; the best one lies below %s, perhaps below "
                "%s, the least that was tried. ",
                more(s), level_range(s, fall->lower_from, fall->lower_to), loss(s, fall),
                level_range(s, fall->upper_from, fall->upper_to), level(s, fall->lower_from),
                lowest_level(s));
}

static void say_state(speech *s)
{
    const pl_plateau *p = s->p;

    switch (p->state) {
    case PL_REACHED:
        say_reached(s);
        break;
    case PL_NOT_REACHED:
        say_not_reached(s);
        break;
    case PL_NO_CHANGE:
        pl_text_add(&s->t,
                    "%s made no difference that matters between %s and %s: any change larger than "
                    "%s is excluded. ",
                    p->over, lowest_level(s), top_level(s), strength(s, p->change_excluded, 1));
        break;
    case PL_FALLING:
        say_falling(s);
        break;
    default:
        say_undecided(s);
    }
}

/* A plateau may be the wood's ceiling: said when most of the joints at and
 * above the onset broke in the wood. */
static void say_ceiling(speech *s)
{
    const pl_plateau *p = s->p;
    size_t wood, joints, all_wood, all;
    bool onset = !isnan(p->onset.at);

    pl_say_wood(p, onset ? p->onset.at : -INFINITY, &wood, &joints);
    pl_say_wood(p, -INFINITY, &all_wood, &all);
    if (2 * wood > joints)
        pl_text_add(&s->t,
                    "%zu of %zu joints from %s up broke in the wood: this says how strong the wood "
                    "is, not how strong the glue line is. ",
                    wood, joints, onset ? pressure(s, p->onset.at, 0) : lowest_level(s));
    else if (all_wood)
        pl_text_add(&s->t, "%zu of %zu joints broke in the wood. ", all_wood, all);
}

static void say_list(pl_text *t, const char *head, const char *const *items, size_t n)
{
    if (!n)
        return;
    pl_text_add(t, "\n%s\n", head);
    for (size_t i = 0; i < n; i++)
        pl_text_add(t, "- %s\n", items[i]);
}

void pl_say_zeros(const pl_fit_answer *f, pl_text *t)
{
    for (size_t i = 0; i < f->nzero; i++)
        pl_text_add(t, "%s ", f->zeros[i]);
}

char *pl_plateau_sentence(pl_arena *a, const pl_fit_answer *f, const pl_plateau *p)
{
    speech s = { .a = a, .f = f, .p = p };
    char *text;

    s.pressed = is_pressed(f, s.p, a);
    pl_text_init(&s.t, a);
    pl_text_add(&s.t, "%s: ", pl_say_group(a, s.p));
    say_state(&s);
    if (!of_bond(&s)) {
        say_ceiling(&s);
        pl_say_zeros(f, &s.t);
    }
    text = pl_text_done(&s.t);
    for (size_t n = text ? strlen(text) : 0; n && text[n - 1] == ' '; n--)
        text[n - 1] = '\0'; /* each sentence brings its blank; the last needs none */
    return text;
}

char *pl_fit_sentence(pl_arena *a, const pl_fit_answer *f, size_t plateau)
{
    return pl_plateau_sentence(a, f, &f->plateaus[plateau]);
}

char *pl_fit_words(pl_arena *a, const pl_fit_answer *f)
{
    const char *const *bond;
    size_t nbond = 0;
    pl_text t;

    bond = pl_bond_sentences(a, f, &nbond);
    pl_text_init(&t, a);
    t.failed = !bond;
    for (size_t i = 0; i < f->nplateau; i++) {
        const char *sentence = pl_fit_sentence(a, f, i);

        t.failed = t.failed || !sentence;
        pl_text_add(&t, "%s%s\n", i ? "\n" : "", sentence ? sentence : "");
    }
    pl_groups_words(a, f, &t);
    if (f->linear && (!f->nplateau || (f->study && f->study->question.aim == PL_AIM_DIFFERENCE)))
        pl_linear_words(a, f, &t);
    if (f->bounds)
        pl_bounds_words(a, f->bounds, &t);
    say_list(&t, PL_BOND_HEAD, bond, nbond);
    if (!f->study)
        pl_power_words(a, f, &t);
    pl_responses_words(a, f, &t);
    say_list(&t, "What happened at the bench", f->notes, f->nnote);
    say_list(&t, "On your rigs", f->dials, f->ndial);
    say_list(&t, "What these joints cannot tell", f->cannot, f->ncannot);
    say_list(&t, "Can these figures be trusted?", f->trust, f->ntrust);
    if (f->study)
        pl_text_put(&t, "\nThese figures hold for these joints and this way of making them. They "
                        "are no design values; structural use follows local codes and licensed "
                        "practice.\n");
    return pl_text_done(&t);
}
