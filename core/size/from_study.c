/* A question about numbers from a study: which levels are compared, against
 * which scatter, in which blocks. */
#include <math.h>

#include "size/arranged.h"
#include "size/plateau.h"
#include "size/size.h"

/* What stands in when nobody knows the scatter. Shear strengths of glued joints in
 * solid wood, coefficient of variation: same board and batch 6 to 12 %, boards
 * mixed 10 to 20 %. Common practice, no source; published sets lie inside (clear
 * wood, one species: 14 %, Wood Handbook, chapter on mechanical properties, from
 * memory). The middle is the mean of the ends. */
static const struct guess {
    double low, high;
    const char *words;
} one_board = { 0.06, 0.12,
                "joints of one board and one batch of glue commonly differ by 6 to 12 %" },
  mixed_boards = { 0.10, 0.20, "joints of several boards commonly differ by 10 to 20 %" };

static pl_code unfit(pl_arena *a, const pl_study *s, const char *pointer, const char *found,
                     const char *expected, const char *mend, pl_diags *d)
{
    const pl_json *q = pl_json_get(s->root, "question");

    return pl_fail(d, PL_EUNFIT, pl_json_where(a, q ? q : s->root), .pointer = pointer,
                   .found = found, .expected = expected, .mend = mend);
}

/* Levels compared with each other, and how many sets of them there are. */
static void set_levels(const pl_study *s, pl_size_question *q)
{
    size_t all = pl_study_treatments(s), levels = all;
    int with = pl_study_with_board(s);

    if (s->question.aim == PL_AIM_AS_GOOD_AS)
        levels = s->factors[s->question.compared].nlevel;
    else if (s->question.aim == PL_AIM_LOW_TAIL)
        levels = all; /* each kind of joint has a low tail of its own */
    else if (s->question.over >= 0)
        levels = s->factors[s->question.over].nlevel;
    else if (s->question.for_each >= 0)
        levels = all / s->factors[s->question.for_each].nlevel;
    else if (with >= 0 && all > s->factors[with].nlevel) /* within a board only the others differ */
        levels = all / s->factors[with].nlevel;
    q->levels = (unsigned)levels;
    q->groups = (unsigned)(all / levels);
}

static bool boards_compared(const pl_study *s, int with_board)
{
    if (with_board < 0)
        return false;
    if (s->question.aim == PL_AIM_AS_GOOD_AS)
        return s->question.compared == with_board;
    return s->question.over >= 0 ? s->question.over == with_board
                                 : pl_study_treatments(s) == s->factors[with_board].nlevel;
}

/* Glue-ups that a plan puts on a board of the smallest kind: what it holds, but one of
 * each treatment at most, the rest being for spares. 0 when that is not known, when no
 * kind has two boards to spread over, or when boards are compared themselves. */
static unsigned board_holds(const pl_study *s)
{
    unsigned least = (unsigned)pl_study_treatments(s), m = pl_study_specimens_per_glue_up(s);
    int with_board = pl_study_with_board(s);

    if (boards_compared(s, with_board))
        return 0;
    if (with_board >= 0) /* a board has one of its levels only */
        least /= (unsigned)s->factors[with_board].nlevel;
    for (size_t i = 0; i < s->nboard_kinds; i++) {
        if (s->boards[i].count < 2)
            return 0;
        least = s->boards[i].specimens / m < least ? s->boards[i].specimens / m : least;
    }
    return s->nboard_kinds && least >= 2 ? least : 0;
}

static void set_blocks(const pl_study *s, pl_size_question *q)
{
    if (s->arrangement.kind == PL_ARRANGE_COMPLETE_BLOCKS)
        q->block_size = q->levels;
    else if (s->arrangement.kind != PL_ARRANGE_FULL_FACTORIAL)
        q->block_size = board_holds(s);
    if (s->arrangement.set_size && q->block_size > s->arrangement.set_size)
        q->block_size = s->arrangement.set_size;
}

static void set_scatter(const pl_study *s, pl_size_question *q)
{
    const pl_scatter *c = &s->scatter;
    const struct guess *g = q->block_size ? &one_board : &mixed_boards;

    if (c->unknown) {
        q->from = PL_SCATTER_GUESSED;
        q->sd_low = g->low;
        q->sd_high = g->high;
        q->sd = (g->low + g->high) / 2;
        q->guess_words = g->words;
        q->relative = true;
        return;
    }
    q->relative = isnan(c->sd_Pa);
    q->sd = q->relative ? c->cv : c->sd_Pa;
    q->between_glue_ups = c->between_glue_ups;
    q->within = c->within;
    q->between_blocks = c->between_boards;
    q->between_sessions = c->between_sessions;
    q->between_stretches = c->between_stretches;
    q->pilot_boards = c->boards;
    q->pilot_specimens = c->specimens;
    if (c->glue_ups) {
        q->from = PL_SCATTER_PILOT;
        q->sd_df = c->glue_ups - 1.0;
    }
}

/* One glue-up shows how its specimens differ and nothing of how glue-ups do. */
static pl_code check_pilot(pl_arena *a, const pl_study *s, pl_diags *d)
{
    const pl_json *at = pl_json_get(s->root, "scatter");

    if (s->scatter.glue_ups != 1)
        return PL_OK;
    return pl_fail(
        d, PL_EUNFIT, pl_json_where(a, at ? at : s->root), .pointer = "/scatter/glue_ups",
        .found = "a pilot of one glue-up",
        .expected = "two or more: one shows how the specimens of one closing differ, not "
                    "how closings do",
        .mend = "make a few more glue-ups alike, a specimen or two of each, and state "
                "how they differ");
}

static void scale_scatter(pl_size_question *q, double by)
{
    q->sd *= by;
    q->between_blocks *= by;
    q->between_stretches *= by;
    q->between_outer *= by;
    q->between_sessions *= by;
    q->between_glue_ups *= by;
    q->within *= by;
    q->sd_low *= by;
    q->sd_high *= by;
}

/* A measure of the question beside one of the scatter: the expected strength joins them, and
 * all is said as the question is. */
static pl_code meet(pl_arena *a, const pl_study *s, const pl_worth *w, pl_size_question *q,
                    pl_diags *d)
{
    double strength_Pa = s->breaking.expected_strength_Pa;

    if (isnan(w->value) || w->relative == q->relative)
        return PL_OK;
    if (!(strength_Pa > 0))
        return unfit(a, s, "/breaking/expected_strength",
                     w->relative ? "a difference as a share beside a scatter as a strength"
                                 : "a difference as a strength beside a scatter as a share",
                     "both alike, or the expected strength to join them",
                     "state expected_strength under breaking", d);
    scale_scatter(q, w->relative ? 1 / strength_Pa : strength_Pa);
    q->relative = w->relative;
    return PL_OK;
}

/* Another measure of the same question, in that of the scatter. */
static double alike(const pl_study *s, const pl_worth *w, const pl_size_question *q)
{
    double strength_Pa = s->breaking.expected_strength_Pa;

    return w->relative == q->relative ? w->value
           : w->relative              ? w->value * strength_Pa
                                      : w->value / strength_Pa;
}

static pl_code set_worth(pl_arena *a, const pl_study *s, pl_size_question *q, pl_diags *d)
{
    const pl_question *asked = &s->question;
    const pl_worth *worth = &asked->worth_noticing, *width = &asked->width_at_most;
    const pl_worth *margin = &asked->as_good_as;
    bool as_good = q->aim == PL_AIM_AS_GOOD_AS;
    pl_code rc;

    if (q->aim == PL_AIM_DIFFERENCE && isnan(worth->value) && isnan(width->value))
        return unfit(a, s, "/question/worth_noticing", "no worth_noticing",
                     "the difference that would matter, such as \"1.2 N/mm2\" or \"10 %\"",
                     "without it no number of specimens is enough or too few", d);
    if (!as_good && !worth->relative && worth->value >= s->breaking.expected_strength_Pa)
        return unfit(a, s, "/question/worth_noticing",
                     "a difference as large as the strength expected", "a smaller difference", "",
                     d);
    if (as_good && !margin->relative && margin->value >= s->breaking.expected_strength_Pa)
        return unfit(a, s, "/question/as_good_as", "a margin as large as the strength expected",
                     "a smaller margin", "", d);
    rc = meet(a, s, as_good ? margin : isnan(worth->value) ? width : worth, q, d);
    if (rc)
        return rc;
    q->worth_noticing = as_good ? NAN : alike(s, worth, q);
    q->width_at_most = alike(s, width, q);
    if (as_good)
        q->margin = margin->relative ? 1 - margin->value : margin->value;
    if (!isnan(width->value) && isnan(q->width_at_most))
        return unfit(a, s, "/breaking/expected_strength", "width_at_most in another measure",
                     "all alike, or the expected strength to join them",
                     "state expected_strength under breaking", d);
    if (!q->relative) {
        q->kind = PL_Q_PRESSURE;
        q->unit = s->show_in[0];
    }
    return PL_OK;
}

static pl_aim aim_of(const pl_study *s)
{
    return s->question.aim == PL_AIM_PLATEAU ? PL_AIM_DIFFERENCE : s->question.aim;
}

/* ---------------------------------------------------------------- designs --- */

/* Squares: rows are boards, columns sessions,
 * and of two factors each takes degrees of freedom from the other. */
static unsigned common(unsigned a, unsigned b)
{
    return b ? common(b, a % b) : a;
}

/* Whole boards; where every two are to meet equally often, n (B - 1)/(K - 1) meetings of each. */
static unsigned step_of(unsigned levels, unsigned block, bool balanced)
{
    unsigned whole = block / common(levels, block), even = 1;

    if (balanced)
        even = (levels - 1) / common(levels - 1, block - 1);
    return whole / common(whole, even) * even;
}

static void set_arrangement(const pl_study *s, pl_size_question *q)
{
    unsigned runs = (unsigned)pl_study_treatments(s);

    switch (s->arrangement.kind) {
    case PL_ARRANGE_ROW_COLUMN: /* a session takes one glue-up of every board */
        q->other_df = q->block_size - 1.0;
        q->step = q->block_size ? step_of(q->levels, q->block_size, s->arrangement.balanced) : 1;
        break;
    case PL_ARRANGE_INCOMPLETE_BLOCKS:
        q->step = q->block_size ? step_of(q->levels, q->block_size, s->arrangement.balanced) : 1;
        break;
    case PL_ARRANGE_LATIN:
        q->columns = q->block_size = q->step = q->levels;
        break;
    case PL_ARRANGE_GRAECO_LATIN:
        q->levels = (unsigned)s->factors[0].nlevel;
        q->groups = 1;
        q->across = runs / q->levels;
        q->columns = q->block_size = q->levels;
        q->other_df = q->levels - 1.0;
        break;
    default:
        break;
    }
}

/* What is hard to change has one level in a stretch of glue-ups, and a stretch has every
 * treatment of what is not: stretches are the blocks, their settings the groups. */
static void set_stretches(const pl_study *s, pl_size_question *q)
{
    unsigned layers = pl_study_layers(s), within = 1, all = (unsigned)pl_study_treatments(s);

    if (!layers || s->question.over >= 0 || s->arrangement.runs)
        return;
    for (size_t i = 0; i < s->nfactor; i++)
        if (pl_study_layer_of(s, i) == layers)
            within *= (unsigned)s->factors[i].nlevel;
    if (within < 2)
        return;
    q->levels = q->block_size = within;
    q->groups = all / within;
    if (layers > 1) {
        q->outer = 1;
        for (size_t i = 0; i < s->nfactor; i++)
            if (pl_study_layer_of(s, i) == 0)
                q->outer *= (unsigned)s->factors[i].nlevel;
        q->between_outer = q->between_sessions;
        q->between_blocks = q->between_stretches;
    } else if (!isnan(q->between_stretches)) {
        q->between_blocks = q->between_stretches;
    } else if (!isnan(q->between_sessions)) { /* a stretch is a sitting or part of one */
        q->between_blocks = q->between_sessions;
    }
}

static pl_size_effect *next_effect(pl_size_question *q, pl_size_effect *list, const char *name,
                                   pl_size_effect_kind kind)
{
    pl_size_effect *e = &list[q->neffect];

    e->name = name;
    e->kind = kind;
    q->neffect += name != NULL;
    return e;
}

#define FACTORS_COUNTED 16 /* of more nobody makes every combination */

static bool whole(const pl_study *s, const pl_size_question *q, size_t factor)
{
    return q->block_size && (s->factors[factor].comes_with_board ||
                             pl_study_layer_of(s, factor) < pl_study_layers(s));
}

/* Of two layers the outer one has an error of its own. */
static bool outermost(const pl_study *s, const pl_size_question *q, size_t factor)
{
    return q->outer && pl_study_layer_of(s, factor) == 0;
}

/* Degrees of freedom of what three factors or more do together: fit has single factors and two at a
 * time, and counts the rest as scatter. What is constant within blocks is not among it. */
static double beyond_two(const pl_study *s, const pl_size_question *q)
{
    double sum = 0;

    for (unsigned set = 0; set < 1u << s->nfactor; set++) {
        double df = 1;
        size_t members = 0;
        bool within = false;

        for (size_t i = 0; i < s->nfactor; i++)
            if (set >> i & 1) {
                df *= (double)s->factors[i].nlevel - 1;
                within = within || !whole(s, q, i);
                members++;
            }
        sum += members > 2 && within ? df : 0;
    }
    return sum;
}

/* Every factor, a line along those that are numbers, and every two that may meet. */
static pl_code set_effects(pl_arena *a, const pl_study *s, pl_size_question *q, pl_diags *d)
{
    size_t most = s->nfactor * 2 + s->nfactor * (s->nfactor - 1) / 2;
    pl_size_effect *list = PL_NEWN(a, most, pl_size_effect), *e;
    bool full = !s->arrangement.runs && !q->columns;

    q->effects = list;
    if (!list)
        return pl_nomem(d);
    for (size_t i = 0; i < s->nfactor; i++) {
        const pl_factor *f = &s->factors[i];
        double *at = f->numeric && f->nlevel > 2 ? PL_NEWN(a, f->nlevel, double) : NULL;

        e = next_effect(q, list, f->name, PL_SIZE_MAIN);
        e->levels[0] = (unsigned)f->nlevel;
        e->whole = whole(s, q, i);
        e->outer = outermost(s, q, i);
        if (!at)
            continue;
        for (size_t k = 0; k < f->nlevel; k++)
            at[k] = f->levels[k].si;
        e = next_effect(q, list, f->name, PL_SIZE_TREND);
        e->levels[0] = (unsigned)f->nlevel;
        e->at = at;
        e->whole = whole(s, q, i);
        e->outer = outermost(s, q, i);
    }
    for (size_t i = 0; i < s->nfactor && full; i++)
        for (size_t k = 0; k < i; k++) {
            e = next_effect(
                q, list, pl_arena_printf(a, "%s with %s", s->factors[k].name, s->factors[i].name),
                PL_SIZE_MEETING);
            e->levels[0] = (unsigned)s->factors[k].nlevel;
            e->levels[1] = (unsigned)s->factors[i].nlevel;
            e->whole = whole(s, q, i) && whole(s, q, k);
            e->outer = outermost(s, q, i) && outermost(s, q, k);
        }
    if (full && s->nfactor <= FACTORS_COUNTED)
        q->other_df -= beyond_two(s, q);
    return PL_OK;
}

/* All but what is worth noticing. */
static void set_common(const pl_study *s, pl_size_question *out)
{
    pl_size_question_init(out);
    out->aim = aim_of(s);
    set_levels(s, out);
    if (out->aim == PL_AIM_LOW_TAIL)
        out->cap = PL_SIZE_TAIL_CAP;
    else
        set_blocks(s, out);
    out->both_sides = s->question.both_sides;
    out->percentile = s->question.percentile;
    out->confidence = s->question.confidence;
    set_scatter(s, out);
    out->specimens_per_glue_up = pl_study_specimens_per_glue_up(s);
    out->miss_at_most = s->question.miss_at_most;
    out->false_alarm = s->question.false_alarm;
    out->glue_ups_per_level = s->glue_ups_per_level;
}

/* Groups share boards, but for those that boards make. */
static void set_shared(const pl_study *s, pl_size_question *q)
{
    int with = pl_study_with_board(s);
    unsigned apart = 1;

    if (!q->block_size || q->columns || q->runs || pl_study_layers(s))
        return;
    if (with >= 0 && q->groups % s->factors[with].nlevel == 0)
        apart = (unsigned)s->factors[with].nlevel;
    q->shared = q->groups / apart;
}

pl_code pl_size_from_study(pl_arena *a, const pl_study *s, pl_size_question *out, pl_diags *diags)
{
    pl_code rc = check_pilot(a, s, diags);

    if (rc)
        return rc;
    set_common(s, out);
    if (out->aim == PL_AIM_DIFFERENCE) {
        set_stretches(s, out);
        set_arrangement(s, out);
        rc = pl_size_is_arranged(s) ? pl_size_arranged(a, s, out, diags)
                                    : set_effects(a, s, out, diags);
    }
    set_shared(s, out);
    return rc ? rc : set_worth(a, s, out, diags);
}

static double *rising_levels(pl_arena *a, const pl_factor *f)
{
    double *x = PL_NEWN(a, f->nlevel, double);

    for (size_t l = 0; x && l < f->nlevel; l++) {
        size_t at = l;

        for (; at && x[at - 1] > f->levels[l].si; at--)
            x[at] = x[at - 1];
        x[at] = f->levels[l].si;
    }
    return x;
}

pl_code pl_plateau_from_study(pl_arena *a, const pl_study *s, pl_plateau_question *out, pl_diags *d)
{
    const pl_question *asked = &s->question;
    const pl_factor *f = &s->factors[asked->over];
    pl_plateau_guess *guesses = PL_NEWN(a, asked->nguess, pl_plateau_guess);

    out->levels = rising_levels(a, f);
    if (!guesses || !out->levels)
        return pl_nomem(d);
    for (size_t i = 0; i < asked->nguess; i++)
        guesses[i] = (pl_plateau_guess){ asked->guess[i].curve, asked->guess[i].log_x,
                                         asked->guess[i].floor, asked->guess[i].onset,
                                         asked->guess[i].weight };
    out->K = f->nlevel;
    out->kind = f->kind;
    out->unit = f->unit;
    out->share = asked->share;
    out->within = isnan(asked->within) ? PL_PLATEAU_WITHIN : asked->within;
    out->guesses = guesses;
    out->nguess = asked->nguess;
    set_common(s, &out->size);
    out->size.groups = 1; /* each group's curve stands on its own error */
    if (!out->size.relative) {
        if (!(s->breaking.expected_strength_Pa > 0))
            return unfit(a, s, "/breaking/expected_strength",
                         "a scatter as a strength, and curves guessed as shares",
                         "the expected strength to join them",
                         "state expected_strength under breaking, or the scatter as a share", d);
        scale_scatter(&out->size, 1 / s->breaking.expected_strength_Pa);
    }
    return PL_OK;
}
