/* A study explained back, one sentence a line, in shop words. What is doubtful
 * about it is advice.c's. */
#include <math.h>
#include <string.h>

#include "base/text.h"
#include "study/say.h"

/* "45 min", "36 h", "7 d" */
static char *say_time(pl_arena *a, double s)
{
    double h = s / 3600;

    if (h >= 48 && fmod(h, 24) == 0)
        return pl_units_text(a, s, PL_Q_TIME, "d", 6);
    if (h >= 2 || fmod(h, 1) == 0)
        return pl_units_text(a, s, PL_Q_TIME, "h", 4);
    return pl_units_text(a, s, PL_Q_TIME, "min", 4);
}

char *pl_say_force(pl_arena *a, const pl_study *s, double N)
{
    bool inches = !strcmp(s->joint.unit, "in");

    if (inches)
        return pl_units_text(a, N, PL_Q_FORCE, "lbf", 4);
    return pl_units_text(a, N, PL_Q_FORCE, N < 1000 ? "N" : "kN", 3);
}

char *pl_say_area(pl_arena *a, const pl_study *s, double m2)
{
    const char *unit = strcmp(s->joint.unit, "in") ? "mm2" : "in2";

    return pl_units_text(a, m2, PL_Q_AREA, unit, 6);
}

/* "1 time in 10", or "7 times in 100" where that is no whole number. */
static const char *chance(pl_arena *a, double p)
{
    double n = round(1 / p);
    char *text;

    if (fabs(n * p - 1) < 1e-9)
        return pl_arena_printf(a, "1 time in %.0f", n);
    text = pl_text_number(a, 100 * p, 3);
    return text ? pl_arena_printf(a, "%s times in 100", text) : NULL;
}

/* Constant ratio of its levels, or NAN. */
static double constant_ratio(const pl_factor *f)
{
    double ratio;

    if (!f->numeric || f->kind == PL_Q_TEMPERATURE || f->nlevel < 3 || !(f->levels[0].si > 0))
        return NAN;
    ratio = pow(f->levels[f->nlevel - 1].si / f->levels[0].si, 1.0 / (double)(f->nlevel - 1));
    /* Spaced levels are rounded to 4 digits: off by up to 1 in 1000 from each
     * other. A factor near 1 would pass for any spacing. */
    for (size_t i = 1; i < f->nlevel; i++)
        if (fabs(f->levels[i].si / f->levels[i - 1].si / ratio - 1) > 1e-3)
            return NAN;
    return ratio > 1.01 ? ratio : NAN;
}

static const char *level_list(pl_arena *a, const pl_factor *f)
{
    const char **names = PL_NEWN(a, f->nlevel, const char *);

    for (size_t i = 0; names && i < f->nlevel; i++)
        names[i] = f->levels[i].text;
    return names ? pl_text_list(a, names, f->nlevel, "and") : NULL;
}

static void say_as_good(pl_text *t, const pl_study *s)
{
    const pl_question *q = &s->question;
    const pl_factor *f = &s->factors[q->compared];

    pl_text_add(t, "You ask whether the other levels of %s are as good as %s: ", f->name,
                f->levels[q->compare_with].text);
    if (q->as_good_as.relative)
        pl_text_add(t, "%s of its %s or more", q->as_good_as.text, s->response);
    else
        pl_text_add(t, "at most %s less %s", q->as_good_as.text, s->response);
    if (q->both_sides)
        pl_text_put(t, ", nor better by more than that");
}

static void say_question(pl_text *t, const pl_study *s)
{
    const pl_question *q = &s->question;
    pl_arena *a = t->arena;

    if (q->aim == PL_AIM_PLATEAU)
        pl_text_add(t, "You ask from which %s on %s no longer rises (%s %% of the highest counts)",
                    s->factors[q->over].name, s->response, pl_text_number(a, 100 * q->share, 4));
    else if (q->aim == PL_AIM_AS_GOOD_AS)
        say_as_good(t, s);
    else if (q->aim == PL_AIM_LOW_TAIL)
        pl_text_add(t,
                    "You ask which %s all but %s %% of the joints pass, to be right %s %% of the "
                    "time",
                    s->response, pl_text_number(a, 100 * q->percentile, 4),
                    pl_text_number(a, 100 * q->confidence, 4));
    else
        pl_text_add(t, "You ask whether %s differs between the levels", s->response);
    if (q->for_each >= 0)
        pl_text_add(t, ", for each %s by itself", s->factors[q->for_each].name);
    pl_text_put(t, ".\n");
    if (isnan(q->worth_noticing.value))
        return;
    pl_text_add(t,
                "A difference of %s is worth noticing: it may go unseen %s, and a false alarm may "
                "come %s.\n",
                q->worth_noticing.text, chance(a, q->miss_at_most), chance(a, q->false_alarm));
}

/* "Beside strength are written down: squeeze-out (g, once a glue-up: squeeze_out), ..." */
static void say_responses(pl_text *t, const pl_study *s)
{
    for (size_t i = 0; i < s->nother; i++) {
        const pl_response *r = &s->others[i];

        pl_text_add(t, "%s%s (%s%s%s, in the column %s)",
                    i ? "; " : "Beside strength are written down: ", r->name, r->unit,
                    r->unit[0] ? ", " : "", r->on_glue_up ? "once a glue-up" : "of each specimen",
                    r->column);
    }
    if (s->nother)
        pl_text_put(t, ".\n");
}

static void say_factor(pl_text *t, const pl_factor *f)
{
    double ratio = constant_ratio(f);
    pl_arena *a = t->arena;

    pl_text_add(t, "%s: %zu levels, %s", f->name, f->nlevel, level_list(a, f));
    if (!isnan(ratio))
        pl_text_add(t, "; each is %s times the one before", pl_text_number(a, ratio, 4));
    if (f->set_by == PL_SET_BY_PRESS)
        pl_text_put(t, "; set by the press");
    if (f->comes_with_board)
        pl_text_put(t, "; comes with the board, so boards of one are compared with boards of "
                       "another");
    if (f->hard)
        pl_text_add(t, "; %shard to change", f->hard > 1 ? "very " : "");
    pl_text_put(t, ".\n");
}

/* "Never together: glue hot with pads soft or none." */
static void say_apart(pl_text *t, const pl_study *s)
{
    for (size_t i = 0; i < s->napart; i++) {
        pl_text_put(t, "Never together:");
        for (size_t f = 0, n = 0; f < s->nfactor; f++) {
            const bool *in = s->apart[i].in[f];
            bool first = true;

            if (!in)
                continue;
            pl_text_add(t, "%s %s", n++ ? " with" : "", s->factors[f].name);
            for (size_t l = 0; l < s->factors[f].nlevel; l++)
                if (in[l]) {
                    pl_text_add(t, "%s %s", first ? "" : " or", s->factors[f].levels[l].text);
                    first = false;
                }
        }
        pl_text_put(t, ".\n");
    }
}

static void say_joint(pl_text *t, const pl_study *s)
{
    const pl_joint *j = &s->joint;
    int pressed = pl_study_pressed(s);
    pl_arena *a = t->arena;

    pl_text_put(t, "One specimen is a ");
    if (j->kind == PL_JOINT_OTHER)
        pl_text_put(t, "joint");
    else
        pl_text_add(t, "%s joint, %s x %s (%s x %s)", pl_joint_kind_name(j->kind), j->size_names[0],
                    j->size_names[1], j->size[0].text, j->size[1].text);
    pl_text_add(t, ": %s break.\n", pl_say_area(a, s, j->area_m2));
    if (pressed >= 0) {
        const pl_factor *f = &s->factors[pressed];
        double low = f->levels[0].si, high = low;

        for (size_t i = 1; i < f->nlevel; i++) {
            low = fmin(low, f->levels[i].si);
            high = fmax(high, f->levels[i].si);
        }
        pl_text_add(t, "One closing presses on %s: that takes a force of %s to %s.\n",
                    pl_say_area(a, s, j->press_area_m2), pl_say_force(a, s, low * j->press_area_m2),
                    pl_say_force(a, s, high * j->press_area_m2));
    }
}

/* Of all presses; 1 if none is named. */
static unsigned all_stations(const pl_study *s)
{
    unsigned n = 0;

    for (size_t i = 0; i < s->npress; i++)
        n += s->presses[i].stations;
    return n ? n : 1;
}

/* Counts: treatments, glue-ups, specimens, press hours. */
static void say_counts(pl_text *t, const pl_study *s)
{
    size_t treatments = pl_study_treatments(s), glue_ups = treatments * s->glue_ups_per_level;
    unsigned per = pl_study_specimens_per_glue_up(s), stations = all_stations(s);
    double press_s = pl_study_press_s(s, glue_ups ? glue_ups : 1);
    pl_arena *a = t->arena;

    if (s->arrangement.kind == PL_ARRANGE_OPTIMAL)
        pl_text_add(t, "That makes %zu glue-ups and %zu specimens", glue_ups, glue_ups * per);
    else
        pl_text_add(t, "That makes %zu treatments", treatments);
    if (glue_ups && s->arrangement.kind != PL_ARRANGE_OPTIMAL)
        pl_text_add(t, "; with %u glue-up%s of each, %zu glue-ups and %zu specimens",
                    s->glue_ups_per_level, s->glue_ups_per_level == 1 ? "" : "s", glue_ups,
                    glue_ups * per);
    pl_text_put(t, ".\n");
    if (isnan(press_s))
        return;
    pl_text_add(t, "Each glue-up is clamped for %s", say_time(a, s->times.clamp_s));
    if (pl_study_press_s(s, 1) > s->times.clamp_s)
        pl_text_add(t, " and takes %s to change over",
                    say_time(a, pl_study_press_s(s, 1) - s->times.clamp_s));
    pl_text_put(t, ": ");
    if (!glue_ups) {
        pl_text_add(t, "%s press hours each.\n", pl_text_number(a, press_s / 3600, 3));
        return;
    }
    pl_text_add(t, "%zu are %s press hours", glue_ups, pl_text_number(a, press_s / 3600, 4));
    if (stations > 1)
        pl_text_add(t, ", at least %s on your %u stations",
                    say_time(a, pl_study_press_s(s, (glue_ups + stations - 1) / stations)),
                    stations);
    pl_text_put(t, stations > 1 ? ".\n" : " on one press.\n");
}

static void say_boards(pl_text *t, const pl_study *s)
{
    for (size_t i = 0; i < s->nboard_kinds; i++) {
        const pl_stock *stock = &s->boards[i];

        pl_text_add(t, "Wood: %u board%s of %s", stock->count, stock->count == 1 ? "" : "s",
                    stock->species);
        if (stock->specimens)
            pl_text_add(t, ", %u specimen%s each", stock->specimens,
                        stock->specimens == 1 ? "" : "s");
        pl_text_put(t, ".\n");
    }
}

static void say_adhesive(pl_text *t, const pl_study *s)
{
    const pl_adhesive *ad = &s->adhesive;
    pl_arena *a = t->arena;

    if (!ad->kind[0] && isnan(ad->spread_kg_m2))
        return;
    pl_text_add(t, "Glue: %s", ad->kind[0] ? ad->kind : "kind not said");
    if (!isnan(ad->spread_kg_m2))
        pl_text_add(t, ", %s on %s", pl_units_text(a, ad->spread_kg_m2, PL_Q_SPREAD, "g/m2", 4),
                    ad->spread_on_both ? "each of both faces" : "one face");
    if (!isnan(ad->open_time_limit_s))
        pl_text_add(t, ", closed within %s", say_time(a, ad->open_time_limit_s));
    pl_text_put(t, ".\n");
}

static void say_breaking(pl_text *t, const pl_study *s)
{
    pl_arena *a = t->arena;

    if (s->breaking.rig >= 0) {
        pl_text_add(t, "Specimens are broken on \"%s\"", s->rigs[s->breaking.rig].name);
        if (!isnan(s->breaking.expected_strength_Pa))
            pl_text_add(t, ", at about %s",
                        pl_study_show(a, s, s->breaking.expected_strength_Pa, 3));
        pl_text_put(t, ".\n");
    }
    if (!isnan(s->times.cure_at_least_s))
        pl_text_add(t, "They are left for at least %s before they are broken.\n",
                    say_time(a, s->times.cure_at_least_s));
}

static void say_scatter(pl_text *t, const pl_study *s)
{
    const pl_scatter *sc = &s->scatter;
    pl_arena *a = t->arena;

    if (sc->nhistory) {
        pl_text_add(t, "Equal joints are taken to differ as they did in %s.\n",
                    pl_text_list(a, sc->history, sc->nhistory, "and"));
        return;
    }
    if (sc->unknown) {
        pl_text_put(t, "How much equal joints differ is not known.\n");
        return;
    }
    pl_text_add(t, "Equal joints are taken to differ by %s",
                isnan(sc->cv) ? pl_study_show(a, s, sc->sd_Pa, 3)
                              : pl_text_number(a, 100 * sc->cv, 3));
    pl_text_put(t, isnan(sc->cv) ? "" : " %");
    if (sc->glue_ups)
        pl_text_add(t, ", as %u glue-ups showed", sc->glue_ups);
    pl_text_put(t, ".\n");
}

static void say_budget(pl_text *t, const pl_study *s)
{
    if (!isnan(s->budget.press_s))
        pl_text_add(t, "You allow %s press hours.\n",
                    pl_text_number(t->arena, s->budget.press_s / 3600, 4));
    if (s->budget.specimens)
        pl_text_add(t, "You allow %u specimens.\n", s->budget.specimens);
    if (!isnan(s->budget.money))
        pl_text_add(t, "You allow %s %s.\n", pl_text_number(t->arena, s->budget.money, 6),
                    s->budget.currency);
}

char *pl_study_words(pl_arena *a, const pl_study *s)
{
    pl_text t;

    pl_text_init(&t, a);
    pl_text_put(&t, s->name);
    if (s->title[0])
        pl_text_add(&t, ": %s", s->title);
    pl_text_put(&t, "\n");
    say_question(&t, s);
    say_responses(&t, s);
    for (size_t i = 0; i < s->nfactor; i++)
        say_factor(&t, &s->factors[i]);
    say_apart(&t, s);
    say_joint(&t, s);
    say_counts(&t, s);
    say_boards(&t, s);
    say_adhesive(&t, s);
    say_breaking(&t, s);
    say_scatter(&t, s);
    say_budget(&t, s);
    if (s->nassumed)
        pl_text_put(&t, "Taken as given, because the file does not say:\n");
    for (size_t i = 0; i < s->nassumed; i++)
        pl_text_add(&t, "- %s (%s)\n", s->assumed[i].words, s->assumed[i].pointer);
    return pl_text_done(&t);
}
