/* The order in which glue-ups are made: drawn at random within sessions, drawn
 * again while it follows the levels asked about. */
#include <stdlib.h>
#include <string.h>

#include "base/stream.h"
#include "design/draft.h"
#include "design/plan_make.h"

#define SESSION_TRIES 100 /* orders of one session, before it counts as always rising */

/* Draws the order of one session; its units are left in it. False when every
 * order tried rises or falls throughout. */
static bool order_session(pl_draft *f, pl_stream *stream, uint32_t *units, size_t n, int *rank)
{
    size_t span = pl_draft_session_span(f, units, n);

    for (unsigned attempt = 0; attempt < SESSION_TRIES; attempt++) {
        size_t k = 0;

        pl_draft_session_scatter(f, stream, units, n, span);
        if (f->guard.factor < 0)
            return true;
        for (size_t i = 0; i < f->nslot && k < n; i++)
            if (f->owner[i] != SIZE_MAX)
                rank[k++] = f->guard.rank[f->units[f->owner[i]].treatment];
        if (!pl_guard_runs(rank, n))
            return true;
    }
    return false;
}

static int by_closing(const void *left, const void *right, void *units)
{
    const size_t *x = left, *y = right;
    const pl_draft_unit *all = units, *a = &all[*x], *b = &all[*y];

    if (a->session != b->session)
        return a->session < b->session ? -1 : 1;
    return (a->slot > b->slot) - (a->slot < b->slot);
}

/* Places in f->units by session and closing; treatments and sessions in that order. */
static void sort_units(const pl_draft *f, size_t *order, size_t *treatment, size_t *session)
{
    for (size_t i = 0; i < f->nunit; i++)
        order[i] = i;
    if (f->nunit)
        qsort_r(order, f->nunit, sizeof *order, by_closing, f->units);
    for (size_t i = 0; i < f->nunit; i++) {
        treatment[i] = f->units[order[i]].treatment;
        session[i] = f->units[order[i]].session;
    }
}

static pl_code draw_order(pl_draft *f, unsigned draw, pl_guard_seen *out)
{
    pl_mark mark = pl_arena_mark(f->scratch);
    size_t *treatment = PL_NEWN(f->scratch, f->nunit, size_t);
    size_t *session = PL_NEWN(f->scratch, f->nunit, size_t), *first, rising = 0;
    int *rank = PL_NEWN(f->scratch, f->nunit, int);
    uint32_t *units;
    pl_stream stream;
    pl_code rc;

    if (!treatment || !session || !rank)
        return pl_nomem(f->d);
    pl_stream_init(&stream, f->seed, PL_FOR_GLUE_ORDER, draw);
    rc = pl_draft_deal(f, &stream);
    if (!rc && !pl_draft_by_session(f, &first, &units))
        return pl_nomem(f->d);
    for (size_t k = 0; k < f->nsession && !rc && !f->nlayer; k++)
        rising += !order_session(f, &stream, units + first[k], first[k + 1] - first[k], rank);
    sort_units(f, f->order, treatment, session);
    pl_guard_look(&f->guard, treatment, session, f->nunit, rank, out);
    if (!f->nlayer) /* stretches were dealt in their order */
        out->rising = rising;
    pl_arena_reset(f->scratch, mark);
    return rc;
}

pl_code pl_draft_order(pl_draft *f)
{
    pl_guard_seen best = { SIZE_MAX, 0 }, now = { 0, 0 };
    unsigned best_draw = 0;
    pl_code rc = pl_guard_open(f->scratch, f->s, f->levels, f->ntreatment, f->nunit, &f->guard,
                               f->d);

    f->order = PL_NEWN(f->scratch, f->nunit, size_t);
    if (!rc && !f->order)
        return pl_nomem(f->d);
    if (!rc)
        rc = pl_draft_look(f);
    for (unsigned draw = 0; !rc && draw < PL_PLAN_ORDER_DRAWS_MOST; draw++) {
        rc = draw_order(f, draw, &now);
        f->order_draws = draw + 1;
        f->guard_met = pl_guard_takes(&f->guard, &now);
        if (rc || f->guard_met)
            return rc;
        if (pl_guard_nearer(&now, &best)) {
            best = now;
            best_draw = draw;
        }
    }
    return rc ? rc : draw_order(f, best_draw, &now);
}
