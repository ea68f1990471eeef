/* What a plan can and cannot show: efficiency, balance of order, rigs that
 * coincide with levels, and the rest in sentences. */
#include <math.h>
#include <string.h>

#include "base/text.h"
#include "design/draft.h"
#include "design/fraction.h"
#include "design/information.h"
#include "design/plan_make.h"
#include "design/redraw_ways.h"

/* ------------------------------------------------------------- sentences -- */

typedef struct sentences {
    pl_draft *f;
    const char **list;
    size_t count, room;
    size_t trends; /* the factor that goes furthest with the order */
    bool failed;
} sentences;

static void say(sentences *w, const char *format, ...) __attribute__((format(printf, 2, 3)));
static void say(sentences *w, const char *format, ...)
{
    va_list args;
    char *text;

    va_start(args, format);
    text = pl_arena_vprintf(w->f->a, format, args);
    va_end(args);
    if (w->count == w->room) {
        size_t room = w->room ? 2 * w->room : 8;

        w->list = pl_arena_grow(w->f->a, w->list, w->count, room, sizeof *w->list);
        w->room = room;
    }
    if (!text || !w->list) {
        w->failed = true;
        w->count = w->room = 0;
        return;
    }
    w->list[w->count++] = text;
}

/* -------------------------------------------------- blocks of the layout -- */

typedef struct strength {
    double efficiency, bound;
    size_t df;
} strength;

/* Groups weigh alike: variances are averaged, so efficiencies harmonically. */
static pl_code measure(pl_draft *f, bool sessions, strength *out)
{
    double variance = 0, least = 0;
    pl_information in;
    pl_layout l;
    pl_code rc;

    out->bound = 1;
    if (f->nx)
        return pl_draft_effects_measure(f, sessions, &out->efficiency, &out->df);
    rc = pl_draft_layout(f, f->have_boards, sessions, &l);
    if (!rc)
        rc = pl_layout_information(f->scratch, &l, &in, f->d);
    if (rc)
        return rc;
    for (size_t g = 0; g < f->ngroup; g++) {
        double e, b;

        rc = pl_information_efficiency(f->scratch, &in, g, (double)f->n, &e, f->d);
        if (!rc)
            rc = pl_layout_bound(f->scratch, &l, g, (double)f->n, &b, f->d);
        if (rc)
            return rc;
        variance += 1 / e;
        least += 1 / b;
    }
    out->efficiency = (double)f->ngroup / variance;
    out->bound = (double)f->ngroup / least;
    return pl_information_df(f->scratch, &in, &out->df, f->d);
}

pl_code pl_draft_efficiency(pl_draft *f, double *efficiency)
{
    strength all = { NAN, NAN, 0 };
    pl_code rc = measure(f, true, &all);

    *efficiency = all.efficiency;
    return rc;
}

static bool worthless(const strength *x, size_t v)
{
    return x->df == 0 || (v > 1 && !(x->efficiency > 0));
}

/* Sessions count as blocks unless they are so small that nothing would be left
 * within them; then a day's luck stays in the scatter, and that is said. */
static pl_code measure_blocks(pl_draft *f, pl_health *h, sentences *w)
{
    strength both = { NAN, NAN, 0 }, boards = { NAN, NAN, 0 };
    pl_code rc = measure(f, true, &both);

    if (!rc && f->nsession > 1 && worthless(&both, f->v)) {
        rc = measure(f, false, &boards);
        if (!rc && !worthless(&boards, f->v)) {
            both = boards;
            say(w, "the sessions are too short to compare within: a good or bad day stays in the "
                   "scatter");
        }
    }
    h->efficiency = both.efficiency;
    h->efficiency_bound = both.bound;
    h->unit_df = both.df;
    return rc;
}

/* ------------------------------------------------------------------ rigs -- */

static int rig_of_level(const pl_draft *f, size_t level)
{
    for (size_t t = 0; t < f->ntreatment; t++)
        if ((size_t)f->levels[t * f->s->nfactor + (size_t)f->pressed] == level)
            return f->rig_of[t];
    return -1;
}

/* Levels of the pressed factor, lowest first. */
size_t *pl_draft_rising(const pl_draft *f)
{
    const pl_factor *k = &f->s->factors[f->pressed];
    size_t *level = PL_NEWN(f->scratch, k->nlevel, size_t);

    for (size_t i = 0; level && i < k->nlevel; i++) {
        size_t at = i;

        for (; at > 0 && k->levels[level[at - 1]].si > k->levels[i].si; at--)
            level[at] = level[at - 1];
        level[at] = i;
    }
    return level;
}

/* Are there pairs for all rigs that meet at a step? */
static bool bridged(const pl_draft *f)
{
    for (size_t i = 0; i < f->nbridge; i++)
        if (!f->bridges[i].pairs)
            return false;
    return f->nbridge > 0;
}

/* "0.1 and 0.2 N/mm2 are made by weights, 0.4 N/mm2 by air-press: ..." */
static void say_rigs(sentences *w, const size_t *level, size_t nlevel)
{
    const pl_draft *f = w->f;
    const pl_factor *k = &f->s->factors[f->pressed];
    const char **names = PL_NEWN(f->scratch, nlevel, const char *);
    pl_text made, steps;
    size_t nstep = 0;

    pl_text_init(&made, f->scratch);
    pl_text_init(&steps, f->scratch);
    for (size_t i = 0, n = 0; names && i < nlevel; i++) {
        int rig = rig_of_level(f, level[i]);
        bool last = i + 1 == nlevel || rig_of_level(f, level[i + 1]) != rig;
        char *list;

        names[n++] = k->levels[level[i]].text;
        if (!last)
            continue;
        list = pl_text_list(f->scratch, names, n, "and");
        pl_text_add(&made, "%s%s %s made by %s", made.length ? ", " : "", list ? list : "",
                    n == 1 ? "is" : "are", f->s->rigs[rig].name);
        n = 0;
        if (i + 1 < nlevel)
            pl_text_add(&steps, "%s %s and %s", nstep++ ? ", or between" : "",
                        k->levels[level[i]].text, k->levels[level[i + 1]].text);
    }
    if (!names || made.failed || steps.failed)
        w->failed = true;
    else
        say(w, "%s: a step between%s %s", pl_text_done(&made), pl_text_done(&steps),
            bridged(f) ? "is told from a difference between the rigs by the pairs alone"
                       : "cannot be told from a difference between the rigs");
}

/* Of all pairs of levels, the share whose two levels are made by different rigs. */
static pl_code measure_rigs(pl_draft *f, pl_health *h, sentences *w)
{
    size_t nlevel, pairs = 0, apart = 0, *level;

    h->rig_confounding = 0;
    if (!f->points || f->pressed < 0)
        return PL_OK;
    nlevel = f->s->factors[f->pressed].nlevel;
    for (size_t i = 0; i < nlevel; i++)
        for (size_t j = 0; j < i; j++) {
            pairs++;
            apart += rig_of_level(f, i) != rig_of_level(f, j);
        }
    if (!apart)
        return PL_OK;
    h->rig_confounding = (double)apart / (double)pairs;
    level = pl_draft_rising(f);
    if (!level)
        return pl_nomem(f->d);
    say_rigs(w, level, nlevel);
    for (size_t i = 0; i < f->nbridge; i++) {
        char *words = pl_draft_bridge_words(f, i);

        w->failed = w->failed || !words;
        if (words)
            say(w, "%s", words);
    }
    return PL_OK;
}

/* ---------------------------------------------------- boards and sessions -- */

static void say_boards(sentences *w)
{
    const pl_draft *f = w->f;
    const char *kind = f->with_board >= 0 ? f->s->factors[f->with_board].name : "";

    if (!f->have_boards) {
        if (f->ngroup > 1)
            say(w,
                "no boards are listed: nothing here tells one %s from the boards that happen to be "
                "used for it",
                kind);
        return;
    }
    for (size_t g = 0; g < f->ngroup; g++) {
        const char *name = pl_draft_group(f, g);
        size_t used = 0;

        for (size_t b = 0; b < f->nboard; b++)
            used += f->boards[b].group == g && f->boards[b].size;
        if (used == 1 && *name)
            say(w, "one %s board: nothing here tells %s from this %s board", name, name, name);
        else if (used == 1)
            say(w, "one board: nothing here tells whether other boards would answer alike");
    }
}

/* Sets that were asked for, and cannot meet equally often. */
static void say_balance(sentences *w)
{
    const pl_draft *f = w->f;

    if (f->s->arrangement.kind != PL_ARRANGE_INCOMPLETE_BLOCKS &&
        f->s->arrangement.kind != PL_ARRANGE_ROW_COLUMN)
        return;
    if (f->complete || f->balanced || f->nx)
        return;
    if (!f->equal_sets)
        say(w, "boards of unequal sets: some comparisons are surer than others");
    else if (f->unbalanced)
        say(w, "no sets of these sizes let every two meet on one board equally often: %s",
            f->unbalanced);
    else
        say(w, "no sets in which every two meet on one board equally often were found: some "
               "comparisons are a little surer than others");
}

/* Does each board lie in one session only? */
static bool *boards_alone(const pl_draft *f)
{
    size_t *first = PL_NEWN(f->scratch, f->nboard, size_t); /* its session + 1 */
    bool *alone = PL_NEWN(f->scratch, f->nboard, bool);

    for (size_t b = 0; alone && b < f->nboard; b++)
        alone[b] = true;
    for (size_t u = 0; first && alone && u < f->nunit; u++) {
        int b = f->units[u].board;

        if (b < 0)
            continue;
        alone[b] = alone[b] && (!first[b] || first[b] == f->units[u].session + 1);
        first[b] = f->units[u].session + 1;
    }
    return first ? alone : NULL;
}

/* Sessions that hold one board only, and boards that lie in one session only. */
static void say_sessions(sentences *w)
{
    pl_draft *f = w->f;
    size_t single = 0, alone = 0, lonely = 0, first = 0, *from;
    bool *only = boards_alone(f);
    uint32_t *list;

    if (!only || !pl_draft_by_session(f, &from, &list)) {
        w->failed = true;
        return;
    }
    for (size_t k = 0; k < f->nsession; k++) {
        size_t units = from[k + 1] - from[k];
        bool one = true;

        for (size_t i = from[k] + 1; i < from[k + 1]; i++)
            one = one && f->units[list[i]].board == f->units[list[i - 1]].board;
        lonely += units == 1;
        if (!one || units <= 1)
            continue;
        first = single++ ? first : k + 1;
        alone += f->have_boards && only[f->units[list[from[k]]].board];
    }
    if (lonely)
        say(w, "%zu of %zu sessions hold a single glue-up: it shows nothing about that day", lonely,
            f->nsession);
    if (!f->have_boards || f->nsession < 2 || !single)
        return;
    if (single < f->nsession)
        say(w, "session %zu%s holds one board only: %s", first, single > 1 ? " (and others)" : "",
            alone ? "session and board cannot be told apart there"
                  : "it compares nothing between boards");
    else if (alone)
        say(w, "every session holds one board only: session and board cannot be told apart");
    else
        say(w, "every session holds one board only: sessions are not compared on other boards");
}

/* What is set seldom is told less surely. */
static void say_stretches(sentences *w, const pl_health *h)
{
    const pl_draft *f = w->f;

    for (unsigned l = 0; l < f->nlayer; l++) {
        const char *names = pl_draft_split_names(f, l);
        size_t df = h->strata[l].df, times = f->n * f->nkey[l];

        if (!names)
            w->failed = true;
        else if (!df)
            say(w,
                "%s is set %zu times only, once for each of its levels: nothing tells its effect "
                "from how one stretch of glue-ups differs from the next",
                names, times);
        else
            say(w,
                "%s is set %zu times only, so it is told less surely than what changes from "
                "glue-up to glue-up; the joints of one stretch are no repeats of it",
                names, times);
    }
}

static void say_repeats(sentences *w, const pl_health *h)
{
    const pl_draft *f = w->f;

    if (f->s->arrangement.centre > 1)
        return; /* runs in the middle are repeats */
    if (f->s->arrangement.kind == PL_ARRANGE_OPTIMAL) {
        if (!h->unit_df)
            say(w, "as many glue-ups as figures to find: nothing is left to show the scatter");
        return;
    }
    if (f->n == 1 && f->nx)
        say(w, "no combination is made twice: the scatter is judged from effects taken to be "
               "nothing, such as those of three factors together");
    else if (f->n == 1)
        say(w, "every treatment is glued once: no two glue-ups alike show how far glue-ups differ "
               "by themselves");
    else if (!h->unit_df)
        say(w, "once boards and sessions are allowed for, no repeated glue-up is left to show the "
               "scatter");
    if (f->v > 1 && !(h->efficiency > 0))
        say(w, "some treatments never share a board or session, nor are they linked through "
               "others: they cannot be compared");
}

static void say_order(sentences *w, const pl_health *h)
{
    const pl_draft *f = w->f;

    if (f->guard.nrank && !f->guard_met)
        say(w,
            "none of %u orders drawn was free of %s rising or falling with time (nearest: "
            "rank correlation %.2f): a drift over time may pass for its effect",
            f->order_draws, f->s->factors[w->trends].name, h->order_balance);
    if (f->short_spares)
        say(w, "the boards in use have room for %zu of the %zu spare joints asked for", f->nspare,
            f->spares_asked);
}

static pl_code measure_order(pl_draft *f, pl_health *h, size_t *trends)
{
    int *rank = PL_NEWN(f->scratch, f->ntreatment, int);
    size_t *treatment = PL_NEWN(f->scratch, f->nunit, size_t);
    double most = 0;

    if (!rank || !treatment)
        return pl_nomem(f->d);
    for (size_t i = 0; i < f->nunit; i++)
        treatment[i] = f->units[f->order[i]].treatment;
    for (size_t k = 0; k < f->s->nfactor; k++) {
        double squared;

        if (!f->s->factors[k].numeric || (int)k == f->with_board)
            continue;
        for (size_t t = 0; t < f->ntreatment; t++)
            rank[t] = pl_guard_rank(f->s, k, f->levels + t * f->s->nfactor);
        squared = pl_guard_correlation(rank, treatment, f->nunit);
        *trends = squared > most ? k : *trends;
        most = squared > most ? squared : most;
    }
    for (size_t i = 0; i < f->guard.nrank; i++) {
        double squared = pl_guard_correlation(f->guard.rank + i * f->ntreatment, treatment,
                                              f->nunit);

        *trends = squared > most ? (size_t)f->guard.of[i] : *trends;
        most = squared > most ? squared : most;
    }
    h->order_balance = sqrt(most);
    h->order_bound = f->guard.nrank ? sqrt(f->guard.bound_squared) : NAN;
    h->order_draws = f->order_draws;
    return PL_OK;
}

/* What each factor is mixed up with. */
static pl_code say_aliases(sentences *w, pl_health *h)
{
    pl_draft *f = w->f;
    pl_code rc;

    if (f->s->arrangement.kind == PL_ARRANGE_SCREENING)
        say(w, "the effect of each factor is mixed up with small shares of the joint effects of "
               "any two others: factors that stand out want a second look");
    if (f->s->arrangement.kind == PL_ARRANGE_GRAECO_LATIN)
        say(w, "joint effects of the two factors are not told from boards and sessions: each is "
               "taken to work by itself");
    for (size_t i = 0; i < f->npartly; i++)
        say(w, "%s", f->partly[i]);
    h->criterion_efficiency = f->s->arrangement.kind == PL_ARRANGE_OPTIMAL ? f->reached : 0;
    if (!f->fraction)
        return PL_OK;
    rc = pl_draft_aliases(f, &h->aliases, &h->nalias);
    h->word_lengths = f->fraction->nword ? PL_NEWN(f->a, f->s->nfactor, unsigned) : NULL;
    if (rc || (f->fraction->nword && !h->word_lengths))
        return rc ? rc : pl_nomem(f->d);
    for (size_t n = 3; n <= f->s->nfactor && f->fraction->nword; n++)
        h->word_lengths[h->nword_length++] = f->fraction->length[n];
    if (h->nalias)
        say(w,
            "%zu effect%s of one or two factors cannot be told from others, as the list of what "
            "is mixed up says",
            h->nalias, h->nalias == 1 ? "" : "s");
    if (!f->fraction->gone_through)
        say(w,
            "not every way to choose these combinations was gone through: a better one may exist");
    return PL_OK;
}

pl_code pl_draft_health(pl_draft *f, pl_plan *p)
{
    sentences w = { .f = f };
    pl_health *h = &p->health;
    pl_code rc = measure_order(f, h, &w.trends);

    if (!rc)
        rc = measure_blocks(f, h, &w);
    if (rc)
        return rc;
    say_boards(&w);
    say_balance(&w);
    say_sessions(&w);
    rc = measure_rigs(f, h, &w);
    if (!rc)
        rc = pl_draft_strata(f, h);
    if (rc)
        return rc;
    say_stretches(&w, h);
    say_repeats(&w, h);
    rc = say_aliases(&w, h);
    if (rc)
        return rc;
    say_order(&w, h);
    rc = pl_draft_allocations(f, &h->allocations, &h->allocations_at_most);
    if (rc)
        return rc;
    h->least_p = h->allocations.mantissa > 0 ? pl_least_p(&h->allocations) : NAN;
    if (w.failed)
        return pl_nomem(f->d);
    h->cannot = w.list;
    h->ncannot = w.count;
    return PL_OK;
}
