/* The arrangement that a study gets which names none: all combinations where budget and boards
 * allow one glue-up of each, else a design that does with fewer. How plans of all combinations
 * lie on boards and sessions is design's to choose. */
#include <math.h>
#include <string.h>

#include "study/build.h"

typedef struct room {
    size_t glue_ups;   /* at most */
    const char *limit; /* "the budget allows" */
} room;

static void narrow(room *r, double glue_ups, const char *limit)
{
    if (glue_ups >= 0 && glue_ups < (double)r->glue_ups) {
        r->glue_ups = (size_t)glue_ups;
        r->limit = limit;
    }
}

/* Glue-ups that the boards of one level hold; INFINITY where that is not known. */
static double held(const pl_study *s, const char *species, unsigned m)
{
    double n = 0;

    for (size_t i = 0; i < s->nboard_kinds; i++) {
        const pl_stock *stock = &s->boards[i];

        if (species && strcmp(stock->species, species) != 0)
            continue;
        if (!stock->specimens)
            return INFINITY;
        n += stock->count * (double)(stock->specimens / m);
    }
    return n;
}

static room room_of(const pl_build *b)
{
    const pl_study *s = b->s;
    unsigned m = pl_study_specimens_per_glue_up(s);
    int with = pl_study_with_board(s);
    double hours_s = b->raw->budget.press_hours.si, each_s = b->raw->times.clamp.si, longest_s = 0;
    room r = { SIZE_MAX, "" };

    for (size_t i = 0; i < s->npress; i++)
        longest_s = fmax(longest_s, s->presses[i].changeover_s);
    if (hours_s > 0 && each_s + longest_s > 0)
        narrow(&r, floor(hours_s / (each_s + longest_s) + 1e-9), "the press hours allow");
    if (b->raw->budget.specimens)
        narrow(&r, b->raw->budget.specimens / m, "the budget allows");
    if (!s->nboard_kinds)
        return r;
    if (with < 0)
        narrow(&r, held(s, NULL, m), "the boards hold");
    for (size_t l = 0; with >= 0 && l < s->factors[with].nlevel; l++)
        narrow(&r, (double)s->factors[with].nlevel * held(s, s->factors[with].levels[l].text, m),
               "the boards hold");
    return r;
}

static bool all_of_two(const pl_study *s)
{
    for (size_t i = 0; i < s->nfactor; i++)
        if (s->factors[i].nlevel != 2)
            return false;
    return !s->napart && s->nfactor >= 3;
}

static bool choose_two(pl_arrange *g, size_t nfactor, size_t most)
{
    unsigned runs = 4;

    if (pl_build_fewest_runs(nfactor, 4) && pl_build_fewest_runs(nfactor, 4) <= most) {
        while (2 * runs <= most && runs < 1024)
            runs *= 2;
        g->kind = PL_ARRANGE_FRACTION;
        g->runs = runs;
        return true;
    }
    runs = ((unsigned)nfactor + 4) / 4 * 4;
    if (runs > most)
        return false;
    g->kind = PL_ARRANGE_SCREENING;
    g->runs = runs;
    return true;
}

/* As much as the room has figures for: bends and joint effects before single factors alone. */
static bool choose_optimal(pl_study *s, size_t most)
{
    pl_arrange *g = &s->arrangement;
    int with = pl_study_with_board(s);
    size_t groups = with >= 0 ? s->factors[with].nlevel : 1;
    pl_asks asks;

    if (s->question.aim == PL_AIM_PLATEAU && !s->question.nguess)
        return false; /* nothing says where to look */
    g->criterion = s->question.aim == PL_AIM_PLATEAU ? PL_CRITERION_C : PL_CRITERION_D;
    asks = pl_build_asks(s);
    if (most / groups < pl_build_columns(s, asks) + 3)
        asks = PL_ASKS_SINGLE;
    if (most / groups < pl_build_columns(s, asks) + 3) /* the mean, and two for the scatter */
        return false;
    g->kind = PL_ARRANGE_OPTIMAL;
    g->asks = asks;
    g->runs = (unsigned)(most / groups * groups);
    return true;
}

static bool hard_to_change(const pl_study *s)
{
    for (size_t i = 0; i < s->nfactor; i++)
        if (s->factors[i].hard)
            return true;
    return false;
}

/* Equally many combinations for each level of what comes with the board? */
static bool even(const pl_study *s)
{
    int with = pl_study_with_board(s), levels[PL_FACTORS_MOST];
    size_t n = 1, count[2] = { 0 }; /* of the first level, and of each other one in turn */

    if (with < 0 || !s->napart)
        return true;
    for (size_t i = 0; i < s->nfactor; i++)
        n *= s->factors[i].nlevel;
    for (int l = 0; l < (int)s->factors[with].nlevel; l++) {
        count[l > 0] = 0;
        for (size_t t = 0; t < n; t++) {
            pl_study_combination(s, t, levels);
            count[l > 0] += levels[with] == l && pl_study_may_meet(s, levels);
        }
        if (l && count[1] != count[0])
            return false;
    }
    return true;
}

void pl_build_choice(pl_build *b)
{
    pl_study *s = b->s;
    room r = room_of(b);
    size_t all = 1;

    for (size_t i = 0; i < s->nfactor; i++) {
        if (!s->factors[i].nlevel || all > PL_TREATMENTS_MOST)
            return;
        all *= s->factors[i].nlevel;
    }
    if (b->f.bad || !s->nfactor || s->nfactor > PL_FACTORS_MOST || b->raw->glue_ups_per_level ||
        hard_to_change(s) || all > PL_TREATMENTS_MOST)
        return;
    all = pl_study_combinations(s);
    if (all > r.glue_ups) {
        if (!(all_of_two(s) ? choose_two(&s->arrangement, s->nfactor, r.glue_ups)
                            : choose_optimal(s, r.glue_ups < 400 ? r.glue_ups : 400)))
            return;
        s->arrangement.because = pl_fill_printf(
            &b->f,
            "because one of each of the %zu combinations is more than the %zu glue-ups that "
            "%s",
            all, r.glue_ups, r.limit);
    } else if (!even(s) && choose_optimal(s, r.glue_ups < all ? r.glue_ups : all)) {
        s->arrangement.because = pl_fill_printf(
            &b->f, "because unequally many combinations of each %s may meet",
            s->factors[pl_study_with_board(s)].name);
    }
}
