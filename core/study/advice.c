/* Doubtful figures of a study, each with the smallest change that mends it.
 * What is plainly wrong is refused on reading; what a rig can do is worked out
 * by rigs and comes in as set points. */
#include <math.h>
#include <string.h>

#include "base/text.h"
#include "study/say.h"
#include "study/set_points.h"
#include "study/species.h"

/* A set point that is known no better than this is doubtful: STUDY, section 1. */
#define SET_POINT_OFF 0.10

/* A curve with floor, knee and top has three figures to find; with as few
 * levels nothing is left to show that it is wrong. */
#define CURVE_LEVELS_LEAST 4

#define PSI 6894.757293168361 /* Pa; NIST SP 811, appendix B */

typedef struct advice {
    pl_arena *a;
    const pl_study *s;
    const pl_set_points *points; /* NULL: no rigs known */
    pl_diags *d;
    pl_code rc;
} advice;

static const char *say(advice *v, const char *format, ...) __attribute__((format(printf, 2, 3)));

static const char *kept(advice *v, const char *text)
{
    if (!text)
        v->rc = pl_nomem(v->d);
    return text ? text : "";
}

static const char *say(advice *v, const char *format, ...)
{
    va_list args;
    char *text;

    va_start(args, format);
    text = pl_arena_vprintf(v->a, format, args);
    va_end(args);
    return kept(v, text);
}

static const pl_json *member(const advice *v, const char *object, const char *key)
{
    const pl_json *o = pl_json_get(v->s->root, object);
    const pl_json *m = o && o->kind == PL_JSON_OBJECT ? pl_json_get(o, key) : NULL;

    return m ? m : o ? o : v->s->root;
}

/* Where a level stands in the file: itself if listed, else its factor. */
static const pl_json *level_at(const pl_factor *f, size_t level)
{
    const pl_json *list = pl_json_get(f->at, "levels");

    return list ? pl_json_at(list, level) : f->at;
}

static const char *pressure(advice *v, double Pa, const char *unit)
{
    return kept(v, pl_units_text(v->a, Pa, PL_Q_PRESSURE, unit, 3));
}

/* ---------------------------------------------------------------- wood ---- */

static const char *trust(const pl_species *wood)
{
    return wood->confirmed ? "" : "; value from memory, unconfirmed";
}

/* "larch, European" as it is spoken: "European larch". */
static const char *spoken(advice *v, const pl_species *wood)
{
    const char *comma = strchr(wood->name, ',');

    return comma ? say(v, "%s %.*s", comma + 2, (int)(comma - wood->name), wood->name) : wood->name;
}

/* The row of this wood that crushes (or shears) first: "beech" is several. */
static const pl_species *weakest(const char *typed, bool crush)
{
    const pl_species *least = NULL;

    for (const pl_species *w = pl_species_find(typed, 0); w;
         w = pl_species_find(typed, (size_t)(w - pl_species_table) + 1))
        if (!least || (crush ? w->crush_psi < least->crush_psi : w->shear_psi < least->shear_psi))
            least = w;
    return least;
}

/* The highest level not above limit, or NULL. */
static const pl_level *level_below(const pl_factor *f, double limit_Pa)
{
    const pl_level *best = NULL;

    for (size_t i = 0; i < f->nlevel; i++)
        if (f->levels[i].si <= limit_Pa && (!best || f->levels[i].si > best->si))
            best = &f->levels[i];
    return best;
}

static void advise_crushing(advice *v, const char *typed, const pl_species *wood)
{
    int pressed = pl_study_pressed(v->s);
    const pl_factor *f = &v->s->factors[pressed];
    double limit_Pa = wood->crush_psi * PSI;
    const pl_level *below = level_below(f, limit_Pa);

    for (size_t i = 0; i < f->nlevel; i++)
        if (f->levels[i].si > limit_Pa)
            pl_json_advise(v->d, level_at(f, i), say(v, "%s on %s", f->levels[i].text, typed),
                           say(v,
                               "less than about %s, where %s begins to crush across the "
                               "grain%s",
                               pressure(v, limit_Pa, f->unit), spoken(v, wood), trust(wood)),
                           below ? say(v, "end at %s", below->text)
                                 : say(v, "lower levels, or a harder wood"));
}

static bool in_shear(const pl_study *s)
{
    return s->joint.kind == PL_LAP || s->joint.kind == PL_DOUBLE_LAP ||
           s->joint.kind == PL_BLOCK_SHEAR;
}

static void advise_ceiling(advice *v, const char *typed, const pl_species *wood)
{
    double own_Pa = wood->shear_psi * PSI;

    if (v->s->breaking.expected_strength_Pa <= own_Pa || !in_shear(v->s))
        return;
    pl_json_advise(
        v->d, member(v, "breaking", "expected_strength"), NULL,
        say(v, "less than about %s, at which %s shears by itself%s",
            kept(v, pl_study_show(v->a, v->s, own_Pa, 3)), spoken(v, wood), trust(wood)),
        say(v,
            "such breaks in %s show how strong the wood is, not the glue: a stronger wood, or "
            "read the answer so",
            typed));
}

static void advise_woods(advice *v)
{
    const pl_study *s = v->s;

    for (size_t i = 0; i < s->nboard_kinds; i++) {
        const char *typed = s->boards[i].species;
        const pl_species *crush = weakest(typed, true), *shear = weakest(typed, false);
        bool again = false;

        for (size_t j = 0; j < i; j++)
            again = again || !strcmp(typed, s->boards[j].species);
        if (again)
            continue;
        if (crush && pl_study_pressed(s) >= 0)
            advise_crushing(v, typed, crush);
        if (shear && !isnan(s->breaking.expected_strength_Pa))
            advise_ceiling(v, typed, shear);
    }
}

/* --------------------------------------------------------------- boards ---- */

/* Boards of one level of what comes with them; of all when level is NULL. */
static unsigned boards_of(const pl_study *s, const char *level)
{
    unsigned n = 0;

    for (size_t i = 0; i < s->nboard_kinds; i++)
        if (!level || !strcmp(s->boards[i].species, level))
            n += s->boards[i].count;
    return n;
}

static void advise_one_board(advice *v, const char *level)
{
    const char *wood = level ? level : v->s->boards[0].species;

    if (boards_of(v->s, level) != 1)
        return;
    pl_json_advise(v->d, pl_json_get(v->s->root, "boards"), say(v, "one board of %s", wood),
                   "several boards of each kind",
                   say(v, "nothing here tells %s from this %s board: cut from two boards or more",
                       wood, wood));
}

/* Specimens that all boards of a level give; 0 when some are not known. */
static double wood_for(const pl_study *s, const char *level, unsigned *per_board)
{
    double n = 0;

    for (size_t i = 0; i < s->nboard_kinds; i++) {
        const pl_stock *b = &s->boards[i];

        if (level && strcmp(b->species, level) != 0)
            continue;
        if (!b->specimens)
            return 0;
        n += (double)b->count * b->specimens;
        *per_board = b->specimens;
    }
    return n;
}

static void advise_wood_for(advice *v, const char *level, size_t treatments)
{
    const pl_study *s = v->s;
    double glue_ups = (double)treatments * s->glue_ups_per_level;
    double need = glue_ups * pl_study_specimens_per_glue_up(s) * (1 + s->cutting.spare_joints);
    unsigned per_board = 1;
    double have = wood_for(s, level, &per_board), more;

    if (!have || need <= have)
        return;
    more = ceil((need - have) / per_board);
    pl_json_advise(v->d, pl_json_get(s->root, "boards"),
                   say(v, "%swood for %.0f specimens", level ? say(v, "%s: ", level) : "", have),
                   say(v, "wood for %.0f: %.0f glue-ups%s", ceil(need), glue_ups,
                       s->cutting.spare_joints > 0 ? " and the spares" : ""),
                   say(v, "%.0f more board%s%s%s, or fewer glue-ups", more, more > 1 ? "s" : "",
                       level ? " of " : "", level ? level : ""));
}

static void advise_boards(advice *v)
{
    const pl_study *s = v->s;
    int with = pl_study_with_board(s);
    size_t treatments = pl_study_treatments(s);

    if (!s->nboard_kinds)
        return;
    if (with < 0) {
        advise_one_board(v, NULL);
        advise_wood_for(v, NULL, treatments);
        return;
    }
    for (size_t i = 0; i < s->factors[with].nlevel; i++) {
        advise_one_board(v, s->factors[with].levels[i].text);
        advise_wood_for(v, s->factors[with].levels[i].text, treatments / s->factors[with].nlevel);
    }
}

/* --------------------------------------------------------------- budget ---- */

static void advise_press_hours(advice *v)
{
    const pl_study *s = v->s;
    size_t treatments = pl_study_treatments(s), glue_ups = treatments * s->glue_ups_per_level;
    double need_s = pl_study_press_s(s, glue_ups);
    double fit = floor(s->budget.press_s / pl_study_press_s(s, treatments));

    if (!glue_ups || !(need_s > s->budget.press_s)) /* NAN: not known, nothing to say */
        return;
    pl_json_advise(v->d, member(v, "budget", "press_hours"), NULL,
                   say(v, "%s press hours for %zu glue-ups",
                       kept(v, pl_text_number(v->a, need_s / 3600, 4)), glue_ups),
                   fit >= 1 ? say(v, "%.0f of each treatment fit", fit)
                            : "not even one of each treatment fits: fewer levels");
}

static void advise_specimens(advice *v)
{
    const pl_study *s = v->s;
    size_t one = pl_study_treatments(s) * pl_study_specimens_per_glue_up(s);
    size_t need = one * s->glue_ups_per_level;

    if (!s->budget.specimens || need <= s->budget.specimens)
        return;
    pl_json_advise(v->d, member(v, "budget", "specimens"), NULL, say(v, "%zu specimens", need),
                   s->budget.specimens >= one
                       ? say(v, "%zu glue-ups of each treatment fit", s->budget.specimens / one)
                       : "not even one of each treatment fits: fewer levels");
}

static void advise_levels(advice *v)
{
    const pl_question *q = &v->s->question;
    const pl_factor *f = q->over >= 0 ? &v->s->factors[q->over] : NULL;

    if (q->aim != PL_AIM_PLATEAU || !f || f->nlevel >= CURVE_LEVELS_LEAST)
        return;
    pl_json_advise(v->d, f->at, say(v, "%zu levels of %s", f->nlevel, f->name),
                   say(v, "%d or more to see where a rise ends", CURVE_LEVELS_LEAST),
                   "more levels, with fewer glue-ups each if need be");
}

/* ----------------------------------------------------------------- rigs ---- */

/* The largest force that the breaking rig bears or reads, against what is
 * expected. */
static void advise_breaking(advice *v)
{
    const pl_study *s = v->s;
    double most_N = NAN, expected_N = s->breaking.expected_strength_Pa * s->joint.area_m2;
    const char *mend = "a smaller joint, or a stronger rig";

    if (s->breaking.rig >= 0 && v->points && v->points->most_N)
        most_N = v->points->most_N[s->breaking.rig];
    if (!(expected_N > most_N))
        return;
    if (s->joint.size_names[1]) {
        double largest_m = s->joint.size[1].si * most_N / expected_N;
        double step_m = strcmp(s->joint.unit, "in") ? 1e-3 : 25.4e-3 / 8;

        largest_m = floor(largest_m / step_m) * step_m;
        if (largest_m > 0)
            mend = say(v, "%s of at most %s", s->joint.size_names[1],
                       kept(v, pl_units_text(v->a, largest_m, PL_Q_LENGTH, s->joint.unit, 4)));
    }
    pl_json_advise(v->d, member(v, "breaking", "expected_strength"),
                   say(v, "%s on %s: %s",
                       kept(v, pl_study_show(v->a, s, s->breaking.expected_strength_Pa, 3)),
                       kept(v, pl_say_area(v->a, s, s->joint.area_m2)),
                       kept(v, pl_say_force(v->a, s, expected_N))),
                   say(v, "at most %s, the limit of \"%s\"", kept(v, pl_say_force(v->a, s, most_N)),
                       s->rigs[s->breaking.rig].name),
                   mend);
}

/* Whether any press is loaded by the rig; without presses any rig may do. */
static bool is_for_pressing(const pl_study *s, size_t rig)
{
    for (size_t i = 0; i < s->npress; i++)
        for (size_t j = 0; j < s->presses[i].nrig; j++)
            if ((size_t)s->presses[i].rigs[j] == rig)
                return true;
    return !s->npress;
}

/* Reasons, or mends, of all rigs for a level: "weights: 294 kg; jack: ...". */
static const char *every_rig(advice *v, size_t level, bool mend)
{
    pl_text t;

    pl_text_init(&t, v->a);
    for (size_t r = 0; r < v->points->nrig; r++) {
        const pl_set_point *p = pl_set_points_at(v->points, level, r);
        const char *words = mend ? p->mend : p->reason;

        if (words && words[0] && is_for_pressing(v->s, r))
            pl_text_add(&t, "%s%s: %s", t.length ? "; " : "", p->rig ? p->rig : "a rig", words);
    }
    return kept(v, pl_text_done(&t));
}

static void refuse_level(advice *v, const pl_factor *f, size_t level)
{
    const char *why = every_rig(v, level, false);
    const char *mend = every_rig(v, level, true);
    pl_code rc = pl_json_fail(v->d, PL_EUNFIT, level_at(f, level),
                              say(v, "%s, which no rig makes%s%s%s", f->levels[level].text,
                                  why[0] ? " (" : "", why, why[0] ? ")" : ""),
                              "a level that one of the rigs makes",
                              mend[0] ? mend : "another level, or another rig");

    if (!v->rc || rc == PL_ENOMEM)
        v->rc = rc;
}

/* The rig that makes the level most surely, but the one chosen; NULL if none is
 * sure enough. */
static const pl_set_point *surer(const advice *v, size_t level, int chosen)
{
    const pl_set_point *best = NULL;

    for (size_t r = 0; r < v->points->nrig; r++) {
        const pl_set_point *p = pl_set_points_at(v->points, level, r);

        if ((int)r != chosen && p->can && p->u_N <= SET_POINT_OFF * p->gives_N &&
            (!best || p->u_N / p->gives_N < best->u_N / best->gives_N))
            best = p;
    }
    return best;
}

static void advise_unsure(advice *v, const pl_factor *f, size_t level)
{
    int chosen = v->points->chosen[level];
    const pl_set_point *p = pl_set_points_at(v->points, level, (size_t)chosen), *other;
    const char *mend = "a gauge of smaller span, a smaller bore, or weights for this level";
    double off = 100 * p->u_N / p->gives_N;

    if (!(p->u_N > SET_POINT_OFF * p->gives_N))
        return;
    other = surer(v, level, chosen);
    if (other)
        mend = say(v, "make this level on \"%s\"", other->rig);
    else if (p->mend && p->mend[0])
        mend = p->mend;
    pl_json_advise(v->d, level_at(f, level),
                   /* never "10 %, expected 10 %" */
                   say(v, "%s on \"%s\", give or take %.*f %%", f->levels[level].text,
                       p->rig ? p->rig : "a rig", off < 10.5 ? 2 : 0, off),
                   "a set point that is sure to 10 %", mend);
}

static void advise_points(advice *v)
{
    int pressed = pl_study_pressed(v->s);
    const pl_factor *f;

    if (pressed < 0 || !v->points || !v->points->at || !v->points->chosen)
        return;
    f = &v->s->factors[pressed];
    for (size_t i = 0; i < v->points->nlevel && i < f->nlevel; i++)
        if (v->points->chosen[i] < 0)
            refuse_level(v, f, i);
        else
            advise_unsure(v, f, i);
}

pl_code pl_study_advise(pl_arena *a, const pl_study *s, const pl_set_points *points, pl_diags *d)
{
    advice v = { .a = a, .s = s, .points = points, .d = d };

    advise_levels(&v);
    advise_points(&v);
    advise_breaking(&v);
    advise_woods(&v);
    advise_boards(&v);
    advise_press_hours(&v);
    advise_specimens(&v);
    return d->out_of_memory ? PL_ENOMEM : v.rc;
}
