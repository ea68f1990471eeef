/* What was chosen and why, in one sentence of shop words. */
#include <string.h>

#include "base/text.h"
#include "design/draft.h"
#include "design/fraction.h"
#include "study/second_order.h"

static const char *times(size_t n)
{
    return n == 1 ? "once" : n == 2 ? "twice" : NULL;
}

static void add_times(pl_text *t, size_t low, size_t high)
{
    if (low == high && times(low))
        pl_text_put(t, times(low));
    else if (low == high)
        pl_text_add(t, "%zu times", low);
    else if (low == 1 && high == 2)
        pl_text_put(t, "once or twice");
    else
        pl_text_add(t, "%zu to %zu times", low, high);
}

/* Smallest and largest number of glue-ups on a board in use. */
static void sizes(const pl_draft *f, size_t *low, size_t *high)
{
    *low = SIZE_MAX;
    *high = 0;
    for (size_t b = 0; b < f->nboard; b++) {
        size_t k = f->boards[b].size;

        if (!k)
            continue;
        *low = k < *low ? k : *low;
        *high = k > *high ? k : *high;
    }
}

static void add_sets(const pl_draft *f, pl_text *t, const char *what)
{
    size_t low, high;

    sizes(f, &low, &high);
    if (f->own_boards) {
        pl_text_add(t,
                    "no board holds every %s: each lies within one stretch, with its %zu glue-ups "
                    "in random places",
                    what, low);
        return;
    }
    if (f->side) {
        pl_text_add(t, "each board gets %zu glue-ups, one in each session, in random places",
                    f->side);
        return;
    }
    if (f->complete) {
        pl_text_add(t, "each board gets every %s ", what);
        add_times(t, low / f->v, high / f->v);
        pl_text_put(t, ", in random places");
        return;
    }
    if (high < f->v)
        pl_text_add(t, "no board holds every %s: each gets ", what);
    else
        pl_text_add(t, "the boards do not hold whole sets of every %s: each gets ", what);
    if (low == high)
        pl_text_add(t, "%zu glue-ups", low);
    else
        pl_text_add(t, "%zu to %zu glue-ups", low, high);
    if (f->nx)
        pl_text_put(t, ", shared out so that what is asked depends on boards as little as can be, "
                       "in random places");
    else if (f->balanced)
        pl_text_put(t, ", balanced: any two meet on one board equally often, in random places");
    else
        pl_text_put(t, ", shared out so that any two meet on one board as equally often as can be, "
                       "in random places");
}

/* Why the boards count, what comes with them, and how much of each. */
static void add_boards(const pl_draft *f, pl_text *t, const char *what)
{
    if (!*what) {
        pl_text_put(t, "nothing but the board changes");
    } else if (f->have_boards) {
        add_sets(f, t, what);
        pl_text_add(t, ", because boards differ more than one %s from the next", what);
    } else {
        pl_text_add(t, "every %s is made ", what);
        add_times(t, f->n, f->n);
        if (f->ngroup > 1)
            pl_text_add(t, " in each %s", f->s->factors[f->with_board].name);
        pl_text_put(t, "; no boards are listed, so each joint's board is left to chance");
    }
    if (f->with_board >= 0 && f->ngroup > 1)
        pl_text_add(t, "; %s comes with the board and is compared from board to board",
                    f->s->factors[f->with_board].name);
    if (f->s->arrangement.kind == PL_ARRANGE_OPTIMAL)
        return;
    pl_text_add(t, "; %zu glue-up%s of every %s%s%s", f->n, f->n == 1 ? "" : "s",
                *what ? what : "kind", f->ngroup > 1 ? " in each " : "",
                f->ngroup > 1 ? f->s->factors[f->with_board].name : "");
}

static void add_sessions(const pl_draft *f, pl_text *t)
{
    size_t most = 0, *count = PL_NEWN(f->scratch, f->nsession, size_t);
    const char *limit;

    t->failed = t->failed || !count;
    for (size_t u = 0; count && u < f->nunit; u++)
        most = ++count[f->units[u].session] > most ? count[f->units[u].session] : most;
    if (f->nsession == 1)
        pl_text_add(t, "; all %zu glue-ups in one session", f->nunit);
    else
        pl_text_add(t, "; %zu glue-ups in %zu sessions of at most %zu, %s", f->nunit, f->nsession,
                    most,
                    f->nlayer && f->split ? "each stretch within one session"
                    : f->nlayer           ? "every set within one session"
                    : f->split            ? "each session taking a glue-up or two of several boards"
                    : f->have_boards      ? "every board's set within one session"
                                          : "every set within one session");
    pl_text_put(t, f->nlayer ? ", broken in another random order"
                             : ", glued in random order and broken in another");
    limit = f->nsession > 1 ? pl_draft_limit(f) : "";
    t->failed = t->failed || !limit;
    if (limit && *limit)
        pl_text_add(t, "; a session has time for %zu closing%s, limited by %s", f->nslot,
                    f->nslot == 1 ? "" : "s", limit);
}

/* Beside those that are compared. */
static void add_extras(const pl_draft *f, pl_text *t)
{
    size_t reference = f->nextra - 2 * f->npair;

    if (reference)
        pl_text_add(t, "; beside them %u reference joint%s in every session, %zu in all",
                    f->s->reference.per_session, f->s->reference.per_session == 1 ? "" : "s",
                    reference);
    if (f->npair)
        pl_text_add(t, "; %s%zu pair%s that bridge%s two rigs", reference ? "and " : "beside them ",
                    f->npair, f->npair == 1 ? "" : "s", f->npair == 1 ? "s" : "");
    for (size_t i = 0; i < f->nbridge; i++)
        if (!f->bridges[i].pairs)
            pl_text_add(t,
                        "; the difference between %s and %s is fitted as zero, for no %s is made "
                        "on both",
                        f->s->rigs[f->bridges[i].one].name, f->s->rigs[f->bridges[i].other].name,
                        f->s->factors[f->pressed].name);
}

/* Different combinations among the rows. */
static size_t different(const pl_draft *f)
{
    size_t nf = f->s->nfactor, n = 0;

    for (size_t t = 0; t < f->ntreatment; t++) {
        size_t i = 0;

        while (memcmp(f->levels + i * nf, f->levels + t * nf, nf * sizeof *f->levels))
            i++;
        n += i == t;
    }
    return n;
}

static const char *how(const pl_draft *f)
{
    return f->s->arrangement.because ? f->s->arrangement.because : "as asked";
}

static void add_optimal(const pl_draft *f, pl_text *t)
{
    static const char *const asks[] = {
        [PL_ASKS_SINGLE] = "each factor by itself",
        [PL_ASKS_PAIRS] = "each factor and the joint effects of two",
        [PL_ASKS_CURVED] = "each factor, the bend of measured ones and the joint effects of two",
    };
    static const char *const for_what[] = {
        [PL_CRITERION_D] = "so that all of it becomes as sure as can be together",
        [PL_CRITERION_I] = "so that what is foretold for any combination is as sure as can be on "
                           "the average",
        [PL_CRITERION_C] = "so that the onset, if it lies where it is guessed, becomes as sure as "
                           "can be, every level made once at least",
    };

    pl_text_add(t,
                "optimal, %s, for %s: %zu glue-ups of %zu different combinations, out of "
                "%zu%s, chosen %s; ",
                how(f),
                f->s->arrangement.criterion == PL_CRITERION_C ? "the onset"
                                                              : asks[f->s->arrangement.asks],
                f->ntreatment, different(f), pl_study_combinations(f->s),
                f->s->napart ? " that may meet" : "", for_what[f->s->arrangement.criterion]);
}

/* What an arrangement that is no plan of all combinations is, before boards and sessions. */
static void add_kind(const pl_draft *f, pl_text *t)
{
    size_t all = 1;

    for (size_t k = 0; k < f->s->nfactor && all < 1000000; k++)
        all *= f->s->factors[k].nlevel;
    switch (f->s->arrangement.kind) {
    case PL_ARRANGE_FRACTION:
        if (!f->fraction->nword)
            pl_text_put(t, "two-level factorial, all combinations, as asked: ");
        else
            pl_text_add(t, "fractional factorial of resolution %u, %s: %zu of %zu combinations; ",
                        f->fraction->resolution, how(f), f->ntreatment, all);
        return;
    case PL_ARRANGE_SCREENING:
        pl_text_add(t,
                    "screening, %s: %zu combinations show the single effects of %zu "
                    "factors; ",
                    how(f), f->ntreatment, f->s->nfactor);
        return;
    case PL_ARRANGE_LATIN:
    case PL_ARRANGE_GRAECO_LATIN:
        pl_text_add(t,
                    "%s squares of order %zu, as asked: rows are boards, columns sessions, so "
                    "that both drop out of every comparison; ",
                    f->s->arrangement.kind == PL_ARRANGE_LATIN ? "Latin" : "Graeco-Latin", f->side);
        return;
    case PL_ARRANGE_CENTRAL:
        pl_text_add(t,
                    "central composite, as asked: %u corners, %zu points on the axes and %u in the "
                    "middle follow a curved surface in %zu factors; ",
                    pl_central_corners((unsigned)f->s->nfactor), 2 * f->s->nfactor,
                    f->s->arrangement.centre, f->s->nfactor);
        if (f->s->arrangement.corner_blocks)
            pl_text_add(t,
                        "%u block%s of corners and one of the axes, each %s, drop out of all that "
                        "is asked; ",
                        f->s->arrangement.corner_blocks,
                        f->s->arrangement.corner_blocks == 1 ? "" : "s",
                        f->have_boards ? "on a board" : "in one session");
        return;
    case PL_ARRANGE_BOX_BEHNKEN:
        pl_text_add(t,
                    "Box-Behnken, as asked: %u runs at the edges and %u in the middle follow a "
                    "curved surface in %zu factors without making all extremes at once; ",
                    pl_box_behnken_runs((unsigned)f->s->nfactor), f->s->arrangement.centre,
                    f->s->nfactor);
        return;
    case PL_ARRANGE_OPTIMAL:
        add_optimal(f, t);
        return;
    case PL_ARRANGE_ROW_COLUMN:
        pl_text_put(t, "rows and columns, as asked: boards are columns, sessions rows; ");
        return;
    default:
        return;
    }
}

/* "split plot, because temper is hard to change: ..." */
static void add_split(pl_draft *f, pl_text *t)
{
    const char *outer = pl_draft_split_names(f, 0);
    const char *inner = f->nlayer > 1 ? pl_draft_split_names(f, 1) : "";

    if (!outer || !inner) {
        t->failed = true;
        return;
    }
    pl_text_add(t, "%s, because %s is hard to change: it is left alone for stretches of %zu ",
                f->nlayer > 1 ? "split-split plot" : "split plot", outer,
                f->nunit / (f->n * f->nkey[0]));
    if (*inner)
        pl_text_add(t, "glue-ups, %s for %zu within each, and all else is made there once, ", inner,
                    f->nunit / (f->n * f->nkey[1]));
    else
        pl_text_put(t, "glue-ups, in which all else is made once, ");
    pl_text_put(t, "stretches and glue-ups each in random order; between stretches it is set anew, "
                   "to the same level too; ");
}

/* A factor is hard to change and yet changed every time. */
static void add_unsplit(const pl_draft *f, pl_text *t)
{
    for (size_t k = 0; k < f->s->nfactor; k++)
        if (f->s->factors[k].hard && pl_study_layer_of(f->s, k) == f->nlayer) {
            pl_text_add(t,
                        "; %s is hard to change, but nothing else changes while it is left "
                        "alone, so it is set anew for every glue-up",
                        f->s->factors[k].name);
            return;
        }
}

char *pl_draft_chosen(pl_draft *f)
{
    const char *what = pl_draft_what(f);
    pl_text t;

    if (!what)
        return NULL;
    pl_text_init(&t, f->a);
    add_kind(f, &t);
    if (f->nlayer)
        add_split(f, &t);
    else if (f->have_boards && *what && !f->side && !f->nx)
        pl_text_put(&t, f->complete ? "complete blocks: " : "incomplete blocks: ");
    add_boards(f, &t, what);
    add_sessions(f, &t);
    add_extras(f, &t);
    add_unsplit(f, &t);
    return pl_text_done(&t);
}
