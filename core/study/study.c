/* Study: names of its choices and small questions about it. Reading one is
 * read.c's, speaking about it words.c's and advice.c's. */
#include "study/study.h"

#include <math.h>

#include "base/text.h"

const char *pl_aim_name(pl_aim aim)
{
    static const char *const names[PL_NAIMS] = { "plateau", "difference", "as-good-as",
                                                 "low-tail" };

    return names[aim];
}

const char *pl_joint_kind_name(pl_joint_kind k)
{
    static const char *const names[PL_NJOINT_KINDS] = { "lap", "double-lap", "block-shear",
                                                        "butt-tension", "other" };

    return names[k];
}

const char *pl_arrangement_name(pl_arrangement k)
{
    static const char *const names[PL_NARRANGEMENTS] = {
        "auto",         "full-factorial",      "fractional-factorial", "screening",
        "latin-square", "graeco-latin-square", "complete-blocks",      "incomplete-blocks",
        "row-column",   "central-composite",   "box-behnken",          "optimal",
        "split-plot"
    };

    return names[k];
}

int pl_study_pressed(const pl_study *s)
{
    for (size_t f = 0; f < s->nfactor; f++)
        if (s->factors[f].set_by == PL_SET_BY_PRESS)
            return (int)f;
    return -1;
}

int pl_study_with_board(const pl_study *s)
{
    for (size_t f = 0; f < s->nfactor; f++)
        if (s->factors[f].comes_with_board)
            return (int)f;
    return -1;
}

/* Hardness of the factors of each layer, outermost first. */
static unsigned hardness(const pl_study *s, unsigned layer[PL_LAYERS_MOST])
{
    unsigned n = 0;

    for (unsigned hard = PL_LAYERS_MOST; hard > 0; hard--) {
        bool some = false, inside = false;

        for (size_t f = 0; f < s->nfactor; f++) {
            some = some || s->factors[f].hard == hard;
            inside = inside || s->factors[f].hard < hard;
        }
        if (some && inside)
            layer[n++] = hard;
    }
    return n;
}

unsigned pl_study_layers(const pl_study *s)
{
    unsigned layer[PL_LAYERS_MOST];

    return hardness(s, layer);
}

unsigned pl_study_layer_of(const pl_study *s, size_t factor)
{
    unsigned layer[PL_LAYERS_MOST], n = hardness(s, layer);

    for (unsigned l = 0; l < n; l++)
        if (s->factors[factor].hard == layer[l])
            return l;
    return n;
}

unsigned pl_study_specimens_per_glue_up(const pl_study *s)
{
    return pl_study_at_once(s) * s->joint.specimens_per_glue_up;
}

unsigned pl_study_at_once(const pl_study *s)
{
    /* The reader holds all presses to the same number at once. */
    unsigned n = s->npress ? s->presses[0].specimens_at_once : 1;
    double each_s = s->times.hands_on_s / (double)n, limit_s = s->adhesive.open_time_limit_s;

    while (n > 1 && limit_s > 0 && each_s * (double)n > limit_s * (1 + 1e-12))
        n--;
    return n;
}

double pl_study_hands_on_s(const pl_study *s)
{
    unsigned n = s->npress ? s->presses[0].specimens_at_once : 1, used = pl_study_at_once(s);

    return used < n ? s->times.hands_on_s * (double)used / (double)n : s->times.hands_on_s;
}

double pl_study_sitting_s(const pl_study *s)
{
    const pl_work_hours *w = &s->times.work;
    int longest = 0;

    for (size_t day = 0; day < 7 && w->given; day++)
        if (w->to_min[day] - w->from_min[day] > longest)
            longest = w->to_min[day] - w->from_min[day];
    return longest && 60.0 * longest < s->times.session_s ? 60.0 * longest : s->times.session_s;
}

void pl_study_combination(const pl_study *s, size_t t, int *levels)
{
    for (size_t f = s->nfactor; f-- > 0; t /= s->factors[f].nlevel)
        levels[f] = (int)(t % s->factors[f].nlevel);
}

bool pl_study_may_meet(const pl_study *s, const int *levels)
{
    for (size_t i = 0; i < s->napart; i++) {
        bool all = true;

        for (size_t f = 0; f < s->nfactor; f++)
            all = all && (!s->apart[i].in[f] || s->apart[i].in[f][levels[f]]);
        if (all)
            return false;
    }
    return true;
}

size_t pl_study_combinations(const pl_study *s)
{
    int levels[PL_FACTORS_MOST];
    size_t count = 0, n = 1; /* the reader holds the product to PL_TREATMENTS_MOST */

    for (size_t f = 0; f < s->nfactor; f++)
        n *= s->factors[f].nlevel;
    if (!s->napart)
        return n;
    for (size_t t = 0; t < n; t++) {
        pl_study_combination(s, t, levels);
        count += pl_study_may_meet(s, levels);
    }
    return count;
}

size_t pl_study_treatments(const pl_study *s)
{
    return s->arrangement.runs ? s->arrangement.runs : pl_study_combinations(s);
}

double pl_study_press_s(const pl_study *s, size_t glue_ups)
{
    double changeover_s = 0;

    /* The longest of the presses: hours asked for are never too few. */
    for (size_t i = 0; i < s->npress; i++)
        changeover_s = fmax(changeover_s, s->presses[i].changeover_s);
    return (double)glue_ups * (s->times.clamp_s + changeover_s);
}

char *pl_study_show(pl_arena *a, const pl_study *s, double Pa, int digits)
{
    char *first = pl_units_text(a, Pa, PL_Q_PRESSURE, s->show_in[0], digits);
    char *second;

    if (!first || s->nshow_in < 2)
        return first;
    second = pl_units_text(a, Pa, PL_Q_PRESSURE, s->show_in[1], digits);
    return second ? pl_arena_printf(a, "%s (%s)", first, second) : NULL;
}
