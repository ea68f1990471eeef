/* Factors, their levels, and the question asked about them. Levels are names or
 * measures; spaced ones are computed here and then read back from their text, so
 * that plan, sheet and fit mean the same number. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/text.h"
#include "study/build.h"
#include "study/second_order.h"

#define LEVEL_DIGITS 4 /* of a spaced level: finer than any dial */

/* ------------------------------------------------------------- levels ---- */

/* The unit behind a leading number; NULL when no number leads. */
static const char *unit_after_number(const char *text)
{
    char *end;

    while (*text == ' ')
        text++;
    if (!strchr("+-.0123456789", *text) || !*text)
        return NULL;
    strtod(text, &end);
    if (end == text)
        return NULL;
    while (*end == ' ')
        end++;
    return end;
}

/* Quantity of a measure; PL_Q_COUNT for a name ("beech", "2 coats"). */
static pl_quantity_kind measure_kind(pl_build *b, const char *text)
{
    const char *unit = unit_after_number(text);

    return unit ? pl_units_kind(b->f.a, unit) : PL_Q_COUNT;
}

static bool same_unit(pl_build *b, pl_quantity_kind kind, const char *one, const char *other)
{
    double s1 = 0, o1 = 0, s2 = 0, o2 = 0;
    const char *why;

    return !pl_units_scale(b->f.a, one, kind, &s1, &o1, &why) &&
           !pl_units_scale(b->f.a, other, kind, &s2, &o2, &why) && s1 == s2 && o1 == o2;
}

/* Checks what a measure may be: in the factor's unit, not below nothing. */
static bool measure_fits(pl_build *b, const pl_factor *factor, const pl_json *at, const pl_dim *dim)
{
    pl_fill *f = &b->f;

    if (factor->unit && !same_unit(b, factor->kind, factor->unit, dim->unit)) {
        pl_fill_fail(f, PL_EUNIT, at, NULL,
                     pl_fill_printf(f, "every level of \"%s\" in %s, as the first is", factor->name,
                                    factor->unit[0] ? factor->unit : "no unit"),
                     "levels of one factor are typed in one unit");
        return false;
    }
    if (dim->si < 0 && factor->kind != PL_Q_NONE) {
        pl_fill_fail(f, PL_EVALUE, at, NULL,
                     pl_fill_printf(f, "%s of 0 or more", pl_quantity_name(factor->kind)),
                     factor->kind == PL_Q_TEMPERATURE ? "it lies below absolute zero" : "");
        return false;
    }
    return true;
}

/* Reads one measure; at is where a fault is said. */
static bool read_measure(pl_build *b, pl_factor *factor, const pl_json *at, const char *text,
                         pl_level *level)
{
    pl_fill *f = &b->f;
    const char *why;
    pl_dim dim;
    pl_code rc = pl_units_read(f->a, text, factor->kind, &dim, &why);

    if (rc == PL_ENOMEM)
        pl_fill_nomem(f);
    else if (rc)
        pl_fill_fail(f, rc, at, NULL,
                     pl_fill_printf(f, "%s%s%s, as the first level is",
                                    pl_quantity_name(factor->kind), factor->unit ? " in " : "",
                                    factor->unit ? factor->unit : ""),
                     why);
    if (rc || !measure_fits(b, factor, at, &dim))
        return false;
    if (!factor->unit)
        factor->unit = dim.unit;
    *level = (pl_level){ .text = dim.text, .si = dim.si };
    return true;
}

static const char *level_text(pl_build *b, const pl_json *v)
{
    if (v->kind == PL_JSON_NUMBER)
        return v->raw;
    return pl_fill_is_line(&b->f, v, PL_WORD_MOST) ? v->string : NULL;
}

static void read_listed(pl_build *b, pl_factor *factor, const pl_json *list)
{
    const char *first = level_text(b, list->child);
    pl_quantity_kind kind = first ? measure_kind(b, first) : PL_Q_COUNT;

    factor->levels = pl_build_new(b, list->count, sizeof *factor->levels);
    if (!factor->levels || !first)
        return;
    factor->numeric = kind != PL_Q_COUNT;
    factor->kind = factor->numeric ? kind : PL_Q_NONE;
    for (const pl_json *v = list->child; v; v = v->next) {
        const char *text = v == list->child ? first : level_text(b, v);
        pl_level level = { .text = text, .si = NAN };

        if (text && (!factor->numeric || read_measure(b, factor, v, text, &level)))
            factor->levels[factor->nlevel++] = level;
    }
}

/* x^n, and the n-th root of x >= 1 by Newton's rule from above: only + - * /,
 * so that every machine finds the same levels. */
static double power(double x, unsigned n)
{
    double p = 1;

    for (unsigned i = 0; i < n; i++)
        p *= x;
    return p;
}

/* Far from the root each step takes 1/n off: n log x steps for the largest x and
 * n there are, then a few. */
#define ROOT_STEPS 200000

static double root(double x, unsigned n)
{
    double r = 1 + (x - 1) / n; /* not below the root: Bernoulli's inequality */

    for (int i = 0; i < ROOT_STEPS; i++) {
        double next = r - (r - x / power(r, n - 1)) / n;

        if (!(next < r)) /* falling until rounding stops it */
            break;
        r = next;
    }
    return r;
}

/* Five levels of a central composite design: the outermost are the points on the axes, so that
 * nothing lies outside of what is asked; corners between. 0 to 1 along the way. */
static bool central_place(const pl_build *b, const pl_raw_factor *raw, unsigned i, double *place)
{
    unsigned k = (unsigned)b->raw->nfactor;
    double alpha;

    if (b->raw->arrangement.kind != PL_ARRANGE_CENTRAL || raw->count != 5 || k < 2 ||
        k > PL_SECOND_ORDER_MOST)
        return false;
    alpha = pl_build_axial(b);
    *place = (alpha + (i == 1 ? -1 : i == 3 ? 1 : 0)) / (2 * alpha);
    return true;
}

/* The first level is read; those up to the last are made as text in the unit of
 * `from`, then read. */
static void make_levels(pl_build *b, pl_factor *factor, const pl_raw_factor *raw,
                        const pl_level *last)
{
    double low = strtod(raw->from, NULL), high = strtod(raw->to, NULL);
    bool ratio = raw->spacing == 1 || (raw->spacing == 2 && low > 0); /* 2: until they are placed */
    double step = ratio ? root(high / low, raw->count - 1) : (high - low) / (raw->count - 1);

    factor->nlevel = 1;
    for (unsigned i = 1; i + 1 < raw->count; i++) {
        double place, x = ratio ? low * power(step, i) : low + step * i;
        const char *number, *text;

        if (!ratio && central_place(b, raw, i, &place))
            x = low + (high - low) * place;
        number = pl_fill_kept(&b->f, pl_text_number(b->f.a, x, LEVEL_DIGITS));
        text = pl_fill_printf(&b->f, "%s%s%s", number, factor->unit[0] ? " " : "", factor->unit);

        if (b->f.bad == PL_ENOMEM)
            return;
        if (read_measure(b, factor, factor->at, text, &factor->levels[factor->nlevel]))
            factor->nlevel++;
    }
    factor->levels[factor->nlevel++] = *last;
}

static void read_spaced(pl_build *b, pl_factor *factor, const pl_raw_factor *raw)
{
    const pl_json *from = pl_json_get(factor->at, "from"), *to = pl_json_get(factor->at, "to");
    pl_fill *f = &b->f;
    pl_level high;

    if (!raw->from || !raw->to || raw->count < 2)
        return; /* already said */
    factor->kind = measure_kind(b, raw->from);
    factor->numeric = factor->kind != PL_Q_COUNT;
    factor->levels = pl_build_new(b, raw->count, sizeof *factor->levels);
    if (!factor->levels)
        return;
    if (!factor->numeric) {
        factor->kind = PL_Q_NONE;
        pl_fill_fail(f, PL_EVALUE, from, NULL, "a number with its unit",
                     "names are listed in `levels`");
        return;
    }
    if (!read_measure(b, factor, from, raw->from, &factor->levels[0]) ||
        !read_measure(b, factor, to, raw->to, &high))
        return;
    if (!(factor->levels[0].si < high.si))
        pl_fill_fail(f, PL_ECONFLICT, to, NULL,
                     pl_fill_printf(f, "more than %s", factor->levels[0].text),
                     "`from` is the lowest level, `to` the highest");
    else if (raw->spacing == 1 && !(strtod(raw->from, NULL) > 0))
        pl_fill_fail(f, PL_EVALUE, from, NULL, "more than 0 for a constant ratio",
                     "no ratio leads away from nothing: equal steps, or list the levels");
    else
        make_levels(b, factor, raw, &high);
}

bool pl_build_levels_whole(const pl_factor *f)
{
    const pl_json *list = pl_json_get(f->at, "levels");

    return f->nlevel >= 2 && (!list || list->count == f->nlevel);
}

/* -------------------------------------------------------------- factors ---- */

static void check_doubled(pl_build *b, const pl_factor *factor)
{
    const pl_json *list = pl_json_get(factor->at, "levels");

    for (size_t i = 0; i < factor->nlevel; i++)
        for (size_t j = 0; j < i; j++) {
            const pl_level *one = &factor->levels[i], *other = &factor->levels[j];
            const pl_json *at = list && list->kind == PL_JSON_ARRAY && list->count == factor->nlevel
                                    ? pl_json_at(list, i)
                                    : factor->at;

            if (!(factor->numeric ? one->si == other->si : !strcmp(one->text, other->text)))
                continue;
            pl_fill_fail(&b->f, PL_ECONFLICT, at,
                         pl_fill_printf(&b->f, "level \"%s\" twice", one->text),
                         "levels that differ",
                         list ? "a repeat of a treatment is not a level: see glue_ups_per_level"
                              : "fewer levels: these are closer than 4 digits tell apart");
            break;
        }
}

/* levels, or from + to + count, and never both. */
static void check_way(pl_build *b, const pl_factor *factor)
{
    static const char *const spaced[] = { "from", "to", "count" };
    const pl_json *at = factor->at, *levels = pl_json_get(at, "levels");
    size_t n = 0;
    pl_fill *f = &b->f;

    for (size_t i = 0; i < 3; i++)
        n += pl_json_get(at, spaced[i]) != NULL;
    for (size_t i = 0; levels && i < 4; i++) {
        const char *key = i < 3 ? spaced[i] : "spacing";

        if (pl_json_get(at, key))
            pl_fill_fail(f, PL_ECONFLICT, pl_json_get(at, key),
                         pl_fill_printf(f, "`%s` beside `levels`", key), "one or the other",
                         "list the levels, or give from, to and count");
    }
    for (size_t i = 0; !levels && i < 3; i++)
        if (!pl_json_get(at, spaced[i]) && (n || i == 0))
            pl_fill_fail(f, PL_EKEY, at,
                         n ? pl_fill_printf(f, "no \"%s\"", spaced[i]) : "no levels",
                         n ? "from, to and count together" : "`levels`, or from, to and count", "");
}

static void set_by_default(pl_build *b, pl_factor *factor, const pl_raw_factor *raw,
                           const char *pointer)
{
    bool pressure = factor->numeric && factor->kind == PL_Q_PRESSURE;

    factor->set_by = raw->set_by;
    if (pl_json_get(factor->at, "set_by")) {
        if (factor->set_by == PL_SET_BY_PRESS && factor->nlevel && !pressure)
            pl_fill_fail(&b->f, PL_EUNIT, pl_json_get(factor->at, "set_by"), NULL,
                         "a factor whose levels are pressures on the bond (N/mm2, bar, psi)",
                         factor->numeric ? "type the levels as pressures on the bond"
                                         : "hand, or levels with a unit of pressure");
        return;
    }
    factor->set_by = pressure ? PL_SET_BY_PRESS : PL_SET_BY_HAND;
    if (pressure)
        pl_fill_assume(&b->f, pointer, "set_by",
                       pl_fill_printf(&b->f, "\"%s\" is set by the press", factor->name));
}

static void build_factor(pl_build *b, pl_factor *factor, const pl_raw_factor *raw,
                         const pl_json *at)
{
    const pl_json *levels = at->kind == PL_JSON_OBJECT ? pl_json_get(at, "levels") : NULL;
    const pl_json *with = at->kind == PL_JSON_OBJECT ? pl_json_get(at, "comes_with") : NULL;
    const char *pointer = pl_fill_printf(&b->f, "/factors/%zu", at->index);

    *factor = (pl_factor){ .name = raw->name ? raw->name : "", .at = at };
    if (at->kind != PL_JSON_OBJECT)
        return;
    check_way(b, factor);
    if (!levels)
        read_spaced(b, factor, raw);
    else if (levels->kind == PL_JSON_ARRAY && levels->count >= 2 && levels->count <= PL_LEVELS_MOST)
        read_listed(b, factor, levels);
    if (!levels && factor->nlevel && !pl_json_get(at, "spacing"))
        pl_fill_assume(&b->f, pointer, "spacing",
                       pl_fill_printf(&b->f, "levels of \"%s\" lie at equal steps", factor->name));
    check_doubled(b, factor);
    factor->comes_with_board = with && with->kind == PL_JSON_STRING &&
                               !strcmp(with->string, "board");
    factor->hard = raw->hard;
    set_by_default(b, factor, raw, pointer);
    if (factor->comes_with_board && factor->hard)
        pl_fill_fail(&b->f, PL_ECONFLICT, pl_json_get(at, "hard_to_change"),
                     "comes with the board and is hard to change", "one of them",
                     "another board is another level: nothing is changed on it");
    if (factor->comes_with_board && factor->set_by == PL_SET_BY_PRESS)
        pl_fill_fail(&b->f, PL_ECONFLICT, at, "comes with the board and is set by the press",
                     "one of them", "what a press sets is not grown into a board");
}

/* Only one factor may be set by the press, only one come with the board. */
static void check_single(pl_build *b, bool pressed)
{
    const pl_factor *first = NULL;

    for (size_t i = 0; i < b->s->nfactor; i++) {
        const pl_factor *one = &b->s->factors[i];

        if (!(pressed ? one->set_by == PL_SET_BY_PRESS : one->comes_with_board))
            continue;
        if (first)
            pl_fill_fail(
                &b->f, PL_ECONFLICT, one->at,
                pl_fill_printf(&b->f, "\"%s\" and \"%s\" %s", first->name, one->name,
                               pressed ? "both set by the press" : "both come with the board"),
                "one such factor",
                pressed ? "set_by hand for the one that is not the clamping pressure"
                        : "make one factor of both: \"beech old\", \"beech young\"");
        else
            first = one;
    }
}

static void check_names(pl_build *b)
{
    for (size_t i = 0; i < b->s->nfactor; i++)
        for (size_t j = 0; j < i; j++)
            if (b->s->factors[i].name[0] && !strcmp(b->s->factors[i].name, b->s->factors[j].name)) {
                pl_fill_fail(
                    &b->f, PL_ECONFLICT, pl_json_get(b->s->factors[i].at, "name"),
                    pl_fill_printf(&b->f, "two factors named \"%s\"", b->s->factors[i].name),
                    "names that differ", "");
                break;
            }
}

void pl_build_factors(pl_build *b)
{
    const pl_json *list = pl_json_get(b->root, "factors");

    if (!b->raw->nfactor)
        return;
    b->s->factors = pl_build_new(b, b->raw->nfactor, sizeof *b->s->factors);
    if (!b->s->factors)
        return;
    b->s->nfactor = b->raw->nfactor;
    for (const pl_json *at = list->child; at; at = at->next)
        build_factor(b, &b->s->factors[at->index], &b->raw->factors[at->index], at);
    check_names(b);
    check_single(b, true);
    check_single(b, false);
}

/* ------------------------------------------------------------- question ---- */

/* Place of the factor named at key; -1 with a finding when there is none. */
static int factor_named(pl_build *b, const char *key, const char *name)
{
    const char **names;

    for (size_t i = 0; i < b->s->nfactor; i++)
        if (!strcmp(b->s->factors[i].name, name))
            return (int)i;
    names = pl_build_new(b, b->s->nfactor, sizeof *names);
    if (!names || !b->s->nfactor)
        return -1;
    for (size_t i = 0; i < b->s->nfactor; i++) {
        names[i] = b->s->factors[i].name;
        if (!names[i][0])
            return -1; /* it may be the one that lacks its name, which is said */
    }
    pl_fill_fail(
        &b->f, PL_EVALUE, pl_build_at(b, "question", key), NULL,
        pl_fill_printf(&b->f, "a factor: %s", pl_text_list(b->f.a, names, b->s->nfactor, "or")),
        pl_build_near(b, name, names, b->s->nfactor));
    return -1;
}

/* Which factor the curve runs along when the file does not say. */
static int default_over(const pl_study *s)
{
    int only = -1, n = 0;

    if (pl_study_pressed(s) >= 0)
        return pl_study_pressed(s);
    for (size_t i = 0; i < s->nfactor; i++)
        if (s->factors[i].numeric && !s->factors[i].comes_with_board) {
            only = (int)i;
            n++;
        }
    return n == 1 ? only : -1;
}

static void build_over(pl_build *b, pl_question *q)
{
    const char *typed = b->raw->question.over;

    if (!typed) {
        q->over = pl_build_at(b, "question", "over") ? -1 : default_over(b->s);
        if (q->over >= 0)
            pl_fill_assume(
                &b->f, "/question", "over",
                pl_fill_printf(&b->f, "the curve runs along \"%s\"", b->s->factors[q->over].name));
        return;
    }
    q->over = factor_named(b, "over", typed);
    if (q->over >= 0 && !b->s->factors[q->over].numeric && b->s->factors[q->over].nlevel) {
        pl_fill_fail(&b->f, PL_EVALUE, pl_build_at(b, "question", "over"), NULL,
                     "a factor whose levels are measures: a number and its unit",
                     unit_after_number(b->s->factors[q->over].levels[0].text)
                         ? "its levels start with numbers, but with no unit known here"
                         : "for named levels leave `over` out and ask for a difference");
        q->over = -1;
    }
}

static void build_for_each(pl_build *b, pl_question *q)
{
    const char *typed = b->raw->question.for_each;

    q->for_each = typed ? factor_named(b, "for_each", typed) : -1;
    if (q->for_each >= 0 && q->for_each == q->over)
        pl_fill_fail(&b->f, PL_ECONFLICT, pl_build_at(b, "question", "for_each"), NULL,
                     "another factor than the curve runs along", "");
    if (!typed && b->s->nfactor > 1 && q->aim == PL_AIM_PLATEAU)
        pl_fill_assume(&b->f, "/question", "for_each",
                       "one answer for all, not one for each level of another factor");
}

static bool all_levels(const pl_study *s)
{
    for (size_t i = 0; i < s->nfactor; i++)
        if (!pl_build_levels_whole(&s->factors[i]))
            return false;
    return s->nfactor > 0;
}

/* ------------------------------------------------------------- guesses ---- */

static bool within_levels(const pl_factor *f, double x)
{
    bool below = false, above = false;

    for (size_t l = 0; l < f->nlevel; l++) {
        below = below || f->levels[l].si < x;
        above = above || f->levels[l].si > x;
    }
    return below && above;
}

static bool has_zero(const pl_factor *f)
{
    for (size_t l = 0; l < f->nlevel; l++)
        if (!(f->levels[l].si > 0))
            return true;
    return false;
}

static void build_guess(pl_build *b, const pl_raw_guess *raw, const pl_json *at, pl_guess *out)
{
    const pl_question *q = &b->s->question;
    const pl_factor *over = &b->s->factors[q->over];
    const pl_json *onset = pl_json_get(at, "onset");
    const char *why;
    pl_dim dim;
    pl_code rc = raw->onset ? pl_units_read(b->f.a, raw->onset, over->kind, &dim, &why) : PL_EKEY;

    *out = (pl_guess){ .curve = pl_keys_rises[raw->curve],
                       .log_x = raw->log_x,
                       .floor = raw->floor,
                       .weight = raw->weight };
    if (!raw->onset)
        return; /* said */
    if (rc)
        pl_fill_fail(&b->f, rc, onset, NULL,
                     pl_fill_printf(&b->f, "%s, as the levels of \"%s\"",
                                    pl_quantity_name(over->kind), over->name),
                     why);
    else if (!within_levels(over, dim.si))
        pl_fill_fail(
            &b->f, PL_EVALUE, onset, NULL,
            pl_fill_printf(&b->f, "between the lowest and the highest level of \"%s\"", over->name),
            "else no level would tell");
    if (raw->floor >= q->share)
        pl_fill_fail(
            &b->f, PL_EVALUE, pl_json_get(at, "floor"), NULL,
            pl_fill_printf(&b->f, "less than the share that counts, %.4g %%", 100 * q->share),
            "above it the rise would end where it starts");
    if (raw->log_x && has_zero(over))
        pl_fill_fail(&b->f, PL_ECONFLICT, pl_json_get(at, "scale"), NULL, "levels above 0",
                     "0 has no logarithm");
    out->onset = rc ? 0 : dim.si;
}

static void build_guesses(pl_build *b, pl_question *q)
{
    const pl_raw_question *raw = &b->raw->question;
    const pl_json *list = pl_build_at(b, "question", "guess");
    pl_guess *guess;

    if (!raw->nguess)
        return;
    if (q->over < 0 || !b->s->factors[q->over].nlevel) {
        if (q->over < 0)
            pl_fill_fail(&b->f, PL_ECONFLICT, list, "a guess, but nothing to rise along",
                         "a factor with measured levels", "name it in `over`");
        return;
    }
    guess = pl_build_new(b, raw->nguess, sizeof *guess);
    for (size_t i = 0; guess && i < raw->nguess; i++)
        build_guess(b, &raw->guess[i], pl_json_at(list, i), &guess[i]);
    q->guess = guess;
    q->nguess = guess ? raw->nguess : 0;
}

static pl_place_levels place_levels; /* named once, before any study is read */

void pl_study_place_levels_by(pl_place_levels how)
{
    place_levels = how;
}

/* Numbers as text, and read back, as make_levels does. */
static void write_places(pl_build *b, pl_factor *f, const double *x)
{
    for (size_t l = 1; l + 1 < f->nlevel && b->f.bad != PL_ENOMEM; l++) {
        const char *number = pl_fill_kept(&b->f, pl_text_number(b->f.a, x[l], LEVEL_DIGITS));

        read_measure(b, f, f->at,
                     pl_fill_printf(&b->f, "%s%s%s", number, f->unit[0] ? " " : "", f->unit),
                     &f->levels[l]);
    }
}

void pl_build_places(pl_build *b)
{
    for (size_t i = 0; i < b->s->nfactor && i < b->raw->nfactor && !b->f.bad; i++) {
        pl_factor *f = &b->s->factors[i];
        double *x = b->raw->factors[i].spacing == 2 ? pl_build_new(b, f->nlevel, sizeof *x) : NULL;
        const char *pointer = pl_fill_printf(&b->f, "/factors/%zu", i);

        if (!x || f->nlevel < 2)
            continue;
        for (size_t l = 0; l < f->nlevel; l++)
            x[l] = strtod(f->levels[l].text, NULL);
        if (b->s->question.nguess && place_levels && place_levels(b->f.a, b->s, i, x)) {
            write_places(b, f, x);
            pl_fill_assume(&b->f, pointer, "spacing",
                           pl_fill_printf(&b->f,
                                          "levels of \"%s\" lie where they tell most of an onset "
                                          "near the guess, the guess being out by a factor of up "
                                          "to 2, at numbers that a dial shows",
                                          f->name));
        } else {
            pl_fill_assume(&b->f, pointer, "spacing",
                           pl_fill_printf(&b->f, "%s: levels of \"%s\" lie at %s",
                                          b->s->question.nguess ? "the guess does not place them"
                                                                : "no onset is guessed",
                                          f->name, x[0] > 0 ? "a constant ratio" : "equal steps"));
        }
    }
}

void pl_build_question(pl_build *b)
{
    const pl_raw_question *raw = &b->raw->question;
    const pl_json *at = pl_json_get(b->root, "question");
    pl_question *q = &b->s->question;

    *q = (pl_question){ .aim = raw->aim,
                        .share = raw->share,
                        .worth_noticing = raw->worth_noticing,
                        .miss_at_most = raw->miss_at_most,
                        .false_alarm = raw->false_alarm,
                        .compared = -1,
                        .compare_with = -1,
                        .as_good_as = raw->as_good_as,
                        .both_sides = raw->both_sides,
                        .percentile = raw->percentile,
                        .confidence = raw->confidence,
                        .width_at_most = raw->width_at_most,
                        .within = NAN };
    build_over(b, q);
    if (!pl_build_at(b, "question", "aim")) {
        q->aim = q->over >= 0 ? PL_AIM_PLATEAU : PL_AIM_DIFFERENCE;
        pl_fill_assume(&b->f, "/question", "aim",
                       q->over >= 0 ? "plateau: you ask where strength stops rising"
                                    : "difference: you ask whether the levels differ");
    } else if (q->aim == PL_AIM_PLATEAU && q->over < 0 && !raw->over && all_levels(b->s)) {
        pl_fill_fail(&b->f, PL_ECONFLICT, pl_build_at(b, "question", "aim"), NULL,
                     "a factor along which strength can rise: levels with units",
                     "name it in `over`, or ask for a difference");
    }
    build_for_each(b, q);
    build_guesses(b, q);
    if (q->share < 0.5)
        pl_fill_fail(&b->f, PL_EVALUE, pl_build_at(b, "question", "share"), NULL, "50 % or more",
                     "a share of the strength, not of the rise");
    pl_build_aim(b, q);
    if (at && at->kind == PL_JSON_OBJECT && !pl_json_get(at, "worth_noticing") &&
        q->aim <= PL_AIM_DIFFERENCE && isnan(q->within) && !pl_json_get(at, "width_at_most"))
        pl_fill_assume(&b->f, "/question", "worth_noticing",
                       "not said what difference is worth noticing: size needs it");
}
