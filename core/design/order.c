/* The order in which glue-ups are made: drawn at random within sessions, drawn
 * again while it follows the levels asked about. */
#include <string.h>

#include "base/stream.h"
#include "design/draft.h"
#include "design/plan_make.h"

/* Most |rank correlation| of glue order with the guarded levels in a plan of 12
 * glue-ups and more; in smaller ones its standard deviation over random orders,
 * 1/sqrt(N - 1) (Kendall & Gibbons, Rank Correlation Methods, 5th ed. 1990, ch.
 * 4), which half of all orders and more keep. */
#define ORDER_BOUND 0.3

#define SESSION_TRIES 100 /* orders of one session, before it counts as always rising */

static int guarded_factor(const pl_draft *f)
{
    int over = f->s->question.over;

    if (f->pressed >= 0 && f->s->factors[f->pressed].numeric &&
        f->s->factors[f->pressed].nlevel > 1)
        return f->pressed;
    if (over >= 0 && over != f->with_board && f->s->factors[over].numeric &&
        f->s->factors[over].nlevel > 1)
        return over;
    return -1;
}

static pl_code guard_open(pl_draft *f)
{
    double n = (double)f->nunit;

    f->guarded = guarded_factor(f);
    f->rank = PL_NEWN(f->scratch, f->ntreatment, int);
    if (!f->rank)
        return pl_nomem(f->d);
    f->bound_squared = ORDER_BOUND * ORDER_BOUND;
    if (n > 1 && 1 / (n - 1) > f->bound_squared)
        f->bound_squared = 1 / (n - 1);
    if (f->guarded < 0)
        return PL_OK;
    for (size_t t = 0; t < f->ntreatment; t++)
        f->rank[t] = pl_draft_rank(f, (size_t)f->guarded, t);
    return PL_OK;
}

int pl_draft_rank(const pl_draft *f, size_t factor, size_t t)
{
    const pl_factor *k = &f->s->factors[factor];
    double x = k->levels[f->levels[t * f->s->nfactor + factor]].si;
    int rank = 0;

    for (size_t i = 0; i < k->nlevel; i++)
        rank += k->levels[i].si < x;
    return rank;
}

double pl_draft_rank_squared(const pl_draft *f, const size_t *order, const int *rank)
{
    double n = (double)f->nunit, sum = 0, xy = 0, xx = 0, yy = 0;

    for (size_t i = 0; i < f->nunit; i++)
        sum += rank[f->units[order[i]].treatment];
    for (size_t i = 0; i < f->nunit; i++) {
        double x = 2 * (double)i - (n - 1); /* n times these are whole numbers */
        double y = n * rank[f->units[order[i]].treatment] - sum;

        xy += x * y;
        xx += x * x;
        yy += y * y;
    }
    return xx > 0 && yy > 0 ? xy / xx * (xy / yy) : 0;
}

/* Does a session rise (sign 1) or fall (-1) through all its levels? All of it
 * for three levels; any stretch of it for more, where chance rarely does that. */
static bool runs(const int *rank, size_t n, size_t nlevel, int sign)
{
    size_t steps = 0, turns = 0;

    for (size_t i = 1; i < n; i++) {
        int d = sign * (rank[i] - rank[i - 1]);

        if (d < 0) {
            steps = 0;
            turns++;
        } else if (d > 0) {
            steps++;
        }
        if (nlevel > 3 && steps + 1 == nlevel)
            return true;
    }
    return nlevel == 3 && !turns;
}

static size_t different(const int *rank, size_t n)
{
    size_t count = 0;

    for (size_t i = 0; i < n; i++) {
        size_t k = 0;

        while (k < i && rank[k] != rank[i])
            k++;
        count += k == i;
    }
    return count;
}

/* Draws the order of one session; its units are left in it. False when every
 * order tried rises or falls throughout. */
static bool order_session(pl_draft *f, pl_stream *stream, uint32_t *units, size_t n, int *rank)
{
    size_t span = pl_draft_session_span(f, units, n);

    for (unsigned attempt = 0; attempt < SESSION_TRIES; attempt++) {
        size_t k = 0, nlevel;

        pl_draft_session_scatter(f, stream, units, n, span);
        if (f->guarded < 0)
            return true;
        for (size_t i = 0; i < f->nslot; i++)
            if (f->owner[i] != SIZE_MAX)
                rank[k++] = f->rank[f->units[f->owner[i]].treatment];
        nlevel = different(rank, n);
        if (!runs(rank, n, nlevel, 1) && !runs(rank, n, nlevel, -1))
            return true;
    }
    return false;
}

/* Places in f->units by session and closing. */
static void sort_units(const pl_draft *f, size_t *order)
{
    for (size_t i = 0; i < f->nunit; i++)
        order[i] = i;
    for (size_t i = 1; i < f->nunit; i++) /* nearly sorted by board: short enough */
        for (size_t k = i; k > 0; k--) {
            const pl_draft_unit *a = &f->units[order[k - 1]], *b = &f->units[order[k]];
            size_t t = order[k];

            if (a->session < b->session || (a->session == b->session && a->slot < b->slot))
                break;
            order[k] = order[k - 1];
            order[k - 1] = t;
        }
}

typedef struct drawn {
    size_t rising;  /* sessions that rise or fall throughout */
    double squared; /* rank correlation */
} drawn;

static pl_code draw_order(pl_draft *f, unsigned draw, drawn *out)
{
    pl_mark mark = pl_arena_mark(f->scratch);
    uint32_t *units = PL_NEWN(f->scratch, f->nunit, uint32_t);
    int *rank = PL_NEWN(f->scratch, f->nunit, int);
    pl_stream stream;
    pl_code rc;

    if (!units || !rank)
        return pl_nomem(f->d);
    pl_stream_init(&stream, f->seed, PL_FOR_GLUE_ORDER, draw);
    rc = pl_draft_deal(f, &stream);
    *out = (drawn){ 0, 0 };
    for (size_t session = 0; session < f->nsession && !rc; session++) {
        size_t n = 0;

        for (size_t u = 0; u < f->nunit; u++)
            if (f->units[u].session == session)
                units[n++] = (uint32_t)u;
        out->rising += !order_session(f, &stream, units, n, rank);
    }
    sort_units(f, f->order);
    if (!rc && f->guarded >= 0)
        out->squared = pl_draft_rank_squared(f, f->order, f->rank);
    pl_arena_reset(f->scratch, mark);
    return rc;
}

pl_code pl_draft_order(pl_draft *f)
{
    drawn best = { SIZE_MAX, 0 }, now = { 0, 0 };
    unsigned best_draw = 0;
    pl_code rc = guard_open(f);

    f->order = PL_NEWN(f->scratch, f->nunit, size_t);
    if (!rc && !f->order)
        return pl_nomem(f->d);
    if (!rc)
        rc = pl_draft_look(f);
    for (unsigned draw = 0; !rc && draw < PL_PLAN_ORDER_DRAWS_MOST; draw++) {
        rc = draw_order(f, draw, &now);
        f->order_draws = draw + 1;
        f->guard_met = !now.rising && now.squared <= f->bound_squared;
        if (rc || f->guard_met)
            return rc;
        if (now.rising < best.rising || (now.rising == best.rising && now.squared < best.squared)) {
            best = now;
            best_draw = draw;
        }
    }
    return rc ? rc : draw_order(f, best_draw, &now);
}
