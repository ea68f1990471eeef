/* Which orders of glueing are taken: correlation with time, and sessions that only rise or
 * only fall. Drawing them is order.c's and redraw.c's. */
#include "design/guard.h"

#include <math.h>

/* Most |rank correlation| of glue order with the guarded levels in a plan of 12
 * glue-ups and more; in smaller ones its standard deviation over random orders,
 * 1/sqrt(N - 1) (Kendall & Gibbons, Rank Correlation Methods, 5th ed. 1990, ch.
 * 4), which half of all orders and more keep. */
#define ORDER_BOUND 0.3

#define RANKS_MOST 1000 /* levels of one factor; study/keys.h allows fewer */

static bool guardable(const pl_study *s, int factor)
{
    return factor >= 0 && s->factors[factor].numeric && s->factors[factor].nlevel > 1 &&
           factor != pl_study_with_board(s);
}

static int first_factor(const pl_study *s)
{
    int pressed = pl_study_pressed(s), over = s->question.over;

    return guardable(s, pressed) ? pressed : guardable(s, over) ? over : -1;
}

int pl_guard_rank(const pl_study *s, size_t factor, const int *levels)
{
    const pl_factor *k = &s->factors[factor];
    double x = k->levels[levels[factor]].si;
    int rank = 0;

    if (!k->numeric)
        return levels[factor];
    for (size_t i = 0; i < k->nlevel; i++)
        rank += k->levels[i].si < x;
    return rank;
}

/* Of what is hard to change stretches come in order, not glue-ups: their number. */
static double orders_of(const pl_study *s, int factor, double nunit, size_t ntreatment)
{
    unsigned layer = factor >= 0 ? pl_study_layer_of(s, (size_t)factor) : PL_LAYERS_MOST;
    double keys = 1;

    if (layer >= pl_study_layers(s))
        return nunit;
    for (size_t f = 0; f < s->nfactor; f++)
        keys *= pl_study_layer_of(s, f) <= layer ? (double)s->factors[f].nlevel : 1;
    return nunit * keys / (double)ntreatment;
}

/* Columns that a factor is watched by: its ranks, or each of its levels against all others. Two
 * levels are told by one. */
static size_t columns_of(const pl_study *s, size_t factor)
{
    const pl_factor *k = &s->factors[factor];

    return k->nlevel < 2 || (int)factor == pl_study_with_board(s) ? 0
           : k->numeric || k->nlevel == 2                         ? 1
                                                                  : k->nlevel;
}

/* With a limit of the tester's, every factor that is drawn is watched; the first comes first. */
static size_t watched(const pl_study *s, int first, int *of, size_t *column)
{
    size_t n = 0;

    if (first >= 0)
        of[n++] = first;
    for (size_t k = 0; s->arrangement.order_limit > 0 && k < s->nfactor; k++)
        for (size_t j = 0; (int)k != first && j < columns_of(s, k); j++) {
            column[n] = j;
            of[n++] = (int)k;
        }
    return n;
}

static int rank_in_column(const pl_study *s, int factor, size_t column, const int *levels)
{
    const pl_factor *k = &s->factors[factor];

    if (k->numeric)
        return pl_guard_rank(s, (size_t)factor, levels);
    return levels[factor] == (int)column;
}

pl_code pl_guard_open(pl_arena *a, const pl_study *s, const int *levels, size_t ntreatment,
                      size_t nunit, pl_guard *out, pl_diags *d)
{
    double n = (double)nunit, limit = s->arrangement.order_limit;
    size_t most = 1, *column;
    int *rank, *of;

    for (size_t k = 0; k < s->nfactor; k++)
        most += s->factors[k].nlevel;
    *out = (pl_guard){ .ntreatment = ntreatment, .factor = limit < 1 ? first_factor(s) : -1 };
    column = PL_NEWN(a, most, size_t);
    of = PL_NEWN(a, most, int);
    if (!column || !of)
        return pl_nomem(d);
    out->of = of;
    out->nrank = limit < 1 ? watched(s, out->factor, of, column) : 0;
    out->rank = rank = pl_arena_get(a, out->nrank, ntreatment * sizeof *rank);
    if (!rank)
        return pl_nomem(d);
    for (size_t i = 0; i < out->nrank; i++)
        for (size_t t = 0; t < ntreatment; t++)
            rank[i * ntreatment + t] = rank_in_column(s, of[i], column[i], levels + t * s->nfactor);
    out->bound_squared = limit > 0 ? limit * limit : ORDER_BOUND * ORDER_BOUND;
    n = orders_of(s, out->factor, n, ntreatment);
    if (!(limit > 0) && n > 1 && 1 / (n - 1) > out->bound_squared)
        out->bound_squared = 1 / (n - 1);
    return PL_OK;
}

/* What stands for each rank among n units: itself where all occur equally often, else twice its
 * midrank. */
static void midranks(const int *rank, const size_t *treatment, size_t n, double *of)
{
    size_t count[RANKS_MOST] = { 0 }, below = 0, each = 0;
    bool equal = true;

    for (size_t i = 0; i < n; i++)
        count[rank[treatment[i]]]++;
    for (size_t r = 0; r < RANKS_MOST; r++) {
        of[r] = (double)(2 * below + count[r]);
        below += count[r];
        each = each ? each : count[r];
        equal = equal && (!count[r] || count[r] == each);
    }
    for (size_t r = 0; r < RANKS_MOST && equal; r++)
        of[r] = (double)r;
}

double pl_guard_correlation(const int *rank, const size_t *treatment, size_t units)
{
    double n = (double)units, sum = 0, xy = 0, xx = 0, yy = 0, of[RANKS_MOST];

    midranks(rank, treatment, units, of);
    for (size_t i = 0; i < units; i++)
        sum += of[rank[treatment[i]]];
    for (size_t i = 0; i < units; i++) {
        double x = 2 * (double)i - (n - 1); /* n times these are whole numbers */
        double y = n * of[rank[treatment[i]]] - sum;

        xy += x * y;
        xx += x * x;
        yy += y * y;
    }
    return xx > 0 && yy > 0 ? xy / xx * (xy / yy) : 0;
}

static size_t different(const int *rank, size_t n)
{
    bool seen[RANKS_MOST] = { false };
    size_t count = 0;

    for (size_t i = 0; i < n; i++) {
        count += !seen[rank[i]];
        seen[rank[i]] = true;
    }
    return count;
}

static bool one_way(const int *rank, size_t n, size_t nlevel, int sign)
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

bool pl_guard_runs(const int *rank, size_t n)
{
    size_t nlevel = different(rank, n);

    return one_way(rank, n, nlevel, 1) || one_way(rank, n, nlevel, -1);
}

void pl_guard_look(const pl_guard *g, const size_t *treatment, const size_t *session, size_t n,
                   int *rank_room, pl_guard_seen *out)
{
    *out = (pl_guard_seen){ 0, 0 };
    for (size_t k = 0; k < g->nrank; k++) {
        double squared = pl_guard_correlation(g->rank + k * g->ntreatment, treatment, n);

        out->squared = squared > out->squared ? squared : out->squared;
    }
    for (size_t i = 0, to; i < n && g->factor >= 0; i = to) {
        for (to = i; to < n && session[to] == session[i]; to++)
            rank_room[to - i] = g->rank[treatment[to]];
        out->rising += pl_guard_runs(rank_room, to - i);
    }
}
