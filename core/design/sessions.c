/* Sessions: which glue-ups share a sitting, and which closing each takes. The
 * order within a sitting is drawn in order.c. */
#include <string.h>

#include "base/stream.h"
#include "design/balance.h"
#include "design/draft.h"
#include "design/spread.h"

/* Sets are kept whole within a session unless cutting them up saves one session
 * in three, for a day at the bench is dear, and keeps nine tenths of the
 * efficiency. Judgements of a bench, not theorems. */
#define CUT_SAVES_OF 3
#define CUT_KEEPS 0.9

#define SESSION_STARTS ((size_t)12) /* of the search that keeps contrasts free of sessions */

/* ------------------------------------------------- closings of a session -- */

static bool fits(const pl_draft *f, size_t treatment, size_t slot)
{
    size_t np = f->s->npress ? f->s->npress : 1;
    size_t press = f->slots[slot].press < 0 ? 0 : (size_t)f->slots[slot].press;

    return f->may[treatment * np + press] && !f->slots[slot].reserved;
}

/* An empty session of so many closings. */
static void session_clear(pl_draft *f, size_t limit)
{
    for (size_t i = 0; i < f->high; i++)
        f->owner[i] = SIZE_MAX;
    for (size_t k = 0; k < f->nkinds; k++)
        f->next[k] = f->from;
    f->limit = limit;
    f->held = f->high = 0;
}

static void take_slot(pl_draft *f, size_t unit, size_t slot)
{
    f->owner[slot] = unit;
    f->units[unit].slot = slot;
    f->taken = slot;
    f->held++;
    if (f->high <= slot)
        f->high = slot + 1;
}

/* A path of moves that frees a closing for the unit: the augmenting path of a
 * bipartite matching. Depth is at most the closings of a session. */
static bool make_way(pl_draft *f, size_t unit)
{
    for (size_t i = f->from; i < f->limit; i++) {
        size_t owner = f->owner[i];

        if (f->seen[i] == f->search || !fits(f, f->units[unit].treatment, i))
            continue;
        f->seen[i] = f->search;
        if (owner == SIZE_MAX) {
            take_slot(f, unit, i);
            return true;
        }
        if (!make_way(f, owner))
            continue;
        f->owner[i] = unit;
        f->units[unit].slot = i;
        return true;
    }
    return false;
}

/* One more unit in the session: it takes the first free closing that its press
 * allows, others make way if they must. False when it does not fit; the others
 * are then as they were. */
static bool session_add(pl_draft *f, size_t unit)
{
    size_t treatment = f->units[unit].treatment, *i = &f->next[f->kind_number[treatment]];

    while (*i < f->limit && (f->owner[*i] != SIZE_MAX || !fits(f, treatment, *i)))
        (*i)++; /* a closing once taken stays so */
    if (*i < f->limit) {
        take_slot(f, unit, *i);
        return true;
    }
    f->search++;
    return f->held < f->limit - f->from && make_way(f, unit);
}

bool pl_draft_session_fits(pl_draft *f, const uint32_t *units, size_t n, size_t limit)
{
    session_clear(f, limit);
    for (size_t i = 0; i < n; i++)
        if (!session_add(f, units[i]))
            return false;
    return true;
}

/* Sums of free closings of each kind, from the session's start. */
static void tree_open(pl_draft *f)
{
    for (size_t k = 0; k < f->nkinds; k++) {
        uint32_t *tree = f->tree + k * (f->nslot + 1);

        for (size_t i = 1; i <= f->limit; i++)
            tree[i] = i > f->from && fits(f, f->kind_row[k], i - 1);
        for (size_t i = 1; i <= f->limit; i++)
            if (i + (i & -i) <= f->limit)
                tree[i + (i & -i)] += tree[i];
    }
}

static void tree_take(pl_draft *f, size_t slot)
{
    for (size_t k = 0; k < f->nkinds; k++)
        for (size_t i = slot + 1; fits(f, f->kind_row[k], slot) && i <= f->limit; i += i & -i)
            f->tree[k * (f->nslot + 1) + i]--;
}

static uint32_t tree_count(const pl_draft *f, size_t kind)
{
    uint32_t sum = 0;

    for (size_t i = f->limit; i; i -= i & -i)
        sum += f->tree[kind * (f->nslot + 1) + i];
    return sum;
}

/* The free closing before which `before` others are free. */
static size_t tree_find(const pl_draft *f, size_t kind, uint32_t before)
{
    const uint32_t *tree = f->tree + kind * (f->nslot + 1);
    size_t at = 0, step = 1;

    while (step * 2 <= f->limit)
        step *= 2;
    for (; step; step /= 2)
        if (at + step <= f->limit && tree[at + step] <= before) {
            at += step;
            before -= tree[at];
        }
    return at;
}

/* One free closing of those its press allows, each with the same chance. */
static void scatter_one(pl_draft *f, pl_stream *stream, size_t unit)
{
    size_t kind = f->kind_number[f->units[unit].treatment];
    uint32_t count = tree_count(f, kind);

    if (count)
        take_slot(f, unit, tree_find(f, kind, pl_stream_below(stream, count)));
    else if (!session_add(f, unit)) /* others make way */
        return;
    tree_take(f, f->taken);
}

size_t pl_draft_session_span(pl_draft *f, const uint32_t *units, size_t n)
{
    size_t least = f->from + n, low = least,
           high = f->nslot; /* high is enough: they were dealt to one session */

    while (low < high) {
        size_t middle = low + (high - low) / 2;

        if (pl_draft_session_fits(f, units, n, middle))
            high = middle;
        else
            low = middle + 1;
    }
    while (high > least && high < f->nslot && f->slots[high].round == f->slots[high - 1].round)
        high++;
    return high;
}

void pl_draft_session_scatter(pl_draft *f, pl_stream *stream, uint32_t *units, size_t n,
                              size_t span)
{
    session_clear(f, span);
    tree_open(f);
    pl_stream_shuffle(stream, units, n);
    for (size_t i = 0; i < n; i++)
        scatter_one(f, stream, units[i]);
}

bool pl_draft_by_session(pl_draft *f, size_t **first, uint32_t **list)
{
    size_t *at = PL_NEWN(f->scratch, f->nsession + 2, size_t);
    uint32_t *all = PL_NEWN(f->scratch, f->nunit, uint32_t);

    if (!at || !all)
        return false;
    for (size_t u = 0; u < f->nunit; u++)
        at[f->units[u].session + 2]++;
    for (size_t k = 2; k < f->nsession + 2; k++)
        at[k] += at[k - 1];
    for (size_t u = 0; u < f->nunit; u++)
        all[at[f->units[u].session + 1]++] = (uint32_t)u;
    *first = at;
    *list = all;
    return true;
}

/* --------------------------------------------------------------- dealing -- */

/* What is dealt: whole parcels, or single units when parcels are too long. */
typedef struct hand {
    size_t nitem, nunit;
    size_t *first, *count; /* nitem: units[first..] */
    size_t *units;
} hand;

/* Fills sessions item by item; even: with that many sessions in mind, each takes
 * its share of what is left, in whole rows of all groups. Returns the sessions
 * used. */
static size_t fill(pl_draft *f, const hand *h, size_t even)
{
    size_t session = 0, taken = 0, limit = SIZE_MAX;

    session_clear(f, f->nslot);
    for (size_t i = 0; i < h->nitem; i++) {
        bool in = true;

        if (!taken && even > session) {
            limit = (h->nitem - i + even - session - 1) / (even - session);
            limit = (limit + f->ngroup - 1) / f->ngroup * f->ngroup;
        } else if (!taken) {
            limit = SIZE_MAX;
        }
        for (size_t k = 0; k < h->count[i] && in; k++)
            in = taken < limit && session_add(f, h->units[h->first[i] + k]);
        if (!in) { /* fits alone: pl_draft_look saw to that */
            session++;
            taken = 0;
            session_clear(f, f->nslot);
            i--;
            continue;
        }
        for (size_t k = 0; k < h->count[i]; k++)
            f->units[h->units[h->first[i] + k]].session = session;
        taken++;
    }
    return session + 1;
}

/* Parcels by group, then round, in the order of their places: list[first[k]..], k = group x
 * rounds + round. */
static bool parcels_by_round(pl_draft *f, size_t **first, uint32_t **list, size_t *rounds)
{
    size_t *at;

    *rounds = 0;
    for (size_t p = 0; p < f->nparcel; p++)
        *rounds = f->parcel_round[p] >= *rounds ? f->parcel_round[p] + 1 : *rounds;
    *first = at = PL_NEWN(f->scratch, f->ngroup * *rounds + 2, size_t);
    *list = PL_NEWN(f->scratch, f->nparcel, uint32_t);
    if (!at || !*list)
        return false;
    for (size_t p = 0; p < f->nparcel; p++)
        at[f->parcel_group[p] * *rounds + f->parcel_round[p] + 2]++;
    for (size_t k = 2; k < f->ngroup * *rounds + 2; k++)
        at[k] += at[k - 1];
    for (size_t p = 0; p < f->nparcel; p++)
        (*list)[at[f->parcel_group[p] * *rounds + f->parcel_round[p] + 1]++] = (uint32_t)p;
    return true;
}

/* Parcels row by row: the r-th of each group; those of a board's first replicate
 * in random order before its second. */
bool pl_draft_rows(pl_draft *f, pl_stream *stream, size_t **rows, size_t *nrow)
{
    uint32_t *list;
    size_t *at, *first, rounds;

    *nrow = 0;
    if (!parcels_by_round(f, &first, &list, &rounds))
        return false;
    for (size_t g = 0; g < f->ngroup; g++) {
        size_t count = first[(g + 1) * rounds] - first[g * rounds];

        *nrow = count > *nrow ? count : *nrow;
    }
    *rows = at = PL_NEWN(f->scratch, *nrow * f->ngroup, size_t);
    if (!at)
        return false;
    for (size_t i = 0; i < *nrow * f->ngroup; i++)
        at[i] = SIZE_MAX;
    for (size_t g = 0; g < f->ngroup; g++)
        for (size_t k = g * rounds, row = 0; k < (g + 1) * rounds; k++) {
            pl_stream_shuffle(stream, list + first[k], first[k + 1] - first[k]);
            for (size_t i = first[k]; i < first[k + 1]; i++)
                at[row++ * f->ngroup + g] = list[i];
        }
    return true;
}

/* Units of each parcel, in random order. */
static bool units_of_parcels(pl_draft *f, pl_stream *stream, size_t **first, size_t **units)
{
    size_t *start = PL_NEWN(f->scratch, f->nparcel + 2, size_t);
    size_t *all = PL_NEWN(f->scratch, f->nunit, size_t);
    uint32_t *list = PL_NEWN(f->scratch, f->nunit, uint32_t);

    if (!start || !all || !list)
        return false;
    for (size_t u = 0; u < f->nunit; u++)
        start[f->units[u].parcel + 2]++;
    for (size_t p = 2; p < f->nparcel + 2; p++)
        start[p] += start[p - 1];
    for (size_t u = 0; u < f->nunit; u++)
        list[start[f->units[u].parcel + 1]++] = (uint32_t)u;
    for (size_t p = 0; p < f->nparcel; p++)
        pl_stream_shuffle(stream, list + start[p], start[p + 1] - start[p]);
    for (size_t u = 0; u < f->nunit; u++)
        all[u] = list[u];
    *first = start;
    *units = all;
    return true;
}

typedef struct table {     /* of parcels: the r-th of each group in a row */
    size_t nrow, *parcel;  /* nrow x ngroup; SIZE_MAX: none */
    size_t *first, *units; /* units[first[p]..] of parcel p, in random order */
} table;

/* Adds the units from..from+take-1 of each parcel of a row; false when none has
 * that many. */
static bool deal_row(const pl_draft *f, const table *w, size_t row, size_t from, size_t take,
                     hand *h)
{
    bool some = false;

    for (size_t g = 0; g < f->ngroup; g++) {
        size_t p = w->parcel[row * f->ngroup + g], size, n;

        if (p == SIZE_MAX)
            continue;
        size = w->first[p + 1] - w->first[p];
        n = take < size ? take : size;
        if (from >= size)
            continue;
        some = true;
        h->first[h->nitem] = h->nunit;
        h->count[h->nitem++] = n;
        memcpy(h->units + h->nunit, w->units + w->first[p] + from, n * sizeof *h->units);
        h->nunit += n;
    }
    return some;
}

/* Whole parcels, row by row. Where a session cannot take one: unit by unit,
 * without boards again row by row; with boards one unit of every board in turn,
 * in an order drawn for each turn, so that a session holds boards of every group
 * and no two sessions the same ones: that lets sessions and boards be told apart
 * at the least cost to the treatments (docs/methods/designs.md, "Sessions"). */
static bool deal_hand(pl_draft *f, pl_stream *stream, hand *h)
{
    uint32_t *row = PL_NEWN(f->scratch, f->nparcel, uint32_t);
    bool more = true;
    table w;

    h->nitem = h->nunit = 0;
    h->first = PL_NEWN(f->scratch, f->nunit, size_t);
    h->count = PL_NEWN(f->scratch, f->nunit, size_t);
    h->units = PL_NEWN(f->scratch, f->nunit, size_t);
    if (!row || !h->first || !h->count || !h->units ||
        !units_of_parcels(f, stream, &w.first, &w.units) ||
        !pl_draft_rows(f, stream, &w.parcel, &w.nrow))
        return false;
    for (size_t r = 0; r < w.nrow; r++)
        row[r] = (uint32_t)r;
    for (size_t r = 0; r < w.nrow && !(f->split && f->have_boards); r++)
        for (size_t turn = 0; deal_row(f, &w, r, turn, f->split ? 1 : SIZE_MAX, h); turn++)
            if (!f->split)
                break;
    for (size_t turn = 0; more && f->split && f->have_boards; turn++) {
        more = false;
        pl_stream_shuffle(stream, row, w.nrow);
        for (size_t r = 0; r < w.nrow; r++)
            more = deal_row(f, &w, row[r], turn, 1, h) || more;
    }
    return true;
}

/* Boards cut up by sessions: within each board, glue-ups change sessions so that
 * the treatments that share a session are as balanced as can be. */
static pl_code balance_group(pl_draft *f, size_t g)
{
    size_t n = f->n * f->v, u = 0;
    uint32_t *treatment = PL_NEWN(f->scratch, n, uint32_t);
    uint32_t *block = PL_NEWN(f->scratch, n, uint32_t), *pen = PL_NEWN(f->scratch, n, uint32_t);
    uint32_t *kind = PL_NEWN(f->scratch, f->v, uint32_t);
    double *weight = PL_NEWN(f->scratch, f->nsession, double), largest = 0;
    pl_share_out search;
    pl_code rc;

    if (!treatment || !block || !pen || !kind || !weight)
        return pl_nomem(f->d);
    for (size_t i = 0; i < f->nunit; i++)
        weight[f->units[i].session] += 1;
    for (size_t i = 0; i < f->nsession; i++)
        largest = weight[i] > largest ? weight[i] : largest;
    for (size_t i = 0; i < f->nsession; i++)
        weight[i] = largest / weight[i];
    for (size_t i = 0; i < f->v; i++)
        kind[i] = f->kind[f->row_of[g * f->v + i]];
    for (size_t i = 0; i < f->nunit; i++) {
        const pl_draft_unit *unit = &f->units[i];

        if (unit->group != g)
            continue;
        treatment[u] = (uint32_t)unit->local;
        block[u] = (uint32_t)unit->session;
        pen[u++] = (uint32_t)(unit->board + 1);
    }
    search = (pl_share_out){ .nunit = n,
                             .v = f->v,
                             .nblock = f->nsession,
                             .treatment = treatment,
                             .block = block,
                             .weight = weight,
                             .pen = pen,
                             .kind = kind,
                             .starts = 1,
                             .work = PL_BALANCE_WORK / 10 };
    rc = pl_share_out_improve(f->scratch, &search, f->d);
    u = 0;
    for (size_t i = 0; i < f->nunit && !rc; i++)
        if (f->units[i].group == g) {
            f->units[i].local = treatment[u++];
            f->units[i].treatment = f->row_of[g * f->v + f->units[i].local];
        }
    return rc;
}

/* The same for contrasts, in all groups at once. */
static pl_code balance_effects(pl_draft *f)
{
    uint32_t *block = PL_NEWN(f->scratch, f->nunit, uint32_t);
    uint32_t *pen = PL_NEWN(f->scratch, f->nunit, uint32_t);
    double *weight = PL_NEWN(f->scratch, f->nsession, double);

    if (!block || !pen || !weight)
        return pl_nomem(f->d);
    for (size_t u = 0; u < f->nunit; u++) {
        const pl_draft_unit *unit = &f->units[u];

        block[u] = (uint32_t)unit->session;
        pen[u] = (uint32_t)(unit->board < 0 ? unit->group : f->ngroup + (size_t)unit->board);
        weight[unit->session] += 1;
    }
    for (size_t i = 0; i < f->nsession; i++)
        weight[i] = 1 / weight[i];
    return pl_draft_effects_spread(f, block, f->nsession, weight, pen, SESSION_STARTS,
                                   PL_SPREAD_WORK / 20);
}

pl_code pl_draft_balance(pl_draft *f)
{
    pl_code rc = PL_OK;

    if (f->nx)
        return balance_effects(f);
    for (size_t g = 0; g < f->ngroup && !rc; g++)
        rc = balance_group(f, g);
    return rc;
}

typedef struct columns {         /* boards of one group that share sessions */
    const size_t *first, *units; /* of parcels */
    const uint32_t *board;       /* nboard parcels */
    size_t nboard, share;        /* share: most glue-ups of a treatment in a row */
    size_t *owner;               /* v x share: board that has this place of a treatment */
    bool *seen;                  /* v x share */
    size_t *pick;                /* nboard: unit of this row */
} columns;

/* A unit of board b for this row: one whose treatment has a place left, others making way. */
static bool pick_unit(pl_draft *f, columns *c, size_t b)
{
    size_t p = c->board[b];

    for (size_t i = c->first[p]; i < c->first[p + 1]; i++) {
        const pl_draft_unit *u = &f->units[c->units[i]];

        if (u->session != SIZE_MAX)
            continue;
        for (size_t k = u->local * c->share; k < (u->local + 1) * c->share; k++) {
            if (c->seen[k])
                continue;
            c->seen[k] = true;
            if (c->owner[k] != SIZE_MAX && !pick_unit(f, c, c->owner[k]))
                continue;
            c->owner[k] = b;
            c->pick[b] = c->units[i];
            return true;
        }
    }
    return false;
}

/* First unit of board b that no row has. */
static size_t any_unit(const pl_draft *f, const columns *c, size_t b)
{
    size_t i = c->first[c->board[b]];

    while (f->units[c->units[i]].session != SIZE_MAX)
        i++;
    return c->units[i];
}

/* Rows of a group's boards: every treatment as equally often in each as can be (where the
 * sets are balanced and as many as the treatments, once: Youden 1937, Contrib. Boyce Thompson
 * Inst. 9:41), by a matching of boards to treatments row after row. */
static pl_code deal_rows(pl_draft *f, columns *c, size_t base, size_t rows)
{
    size_t places = f->v * c->share;

    c->owner = PL_NEWN(f->scratch, places, size_t);
    c->seen = PL_NEWN(f->scratch, places, bool);
    c->pick = PL_NEWN(f->scratch, c->nboard, size_t);
    if (!c->owner || !c->seen || !c->pick)
        return pl_nomem(f->d);
    for (size_t row = 0; row < rows; row++) {
        for (size_t k = 0; k < places; k++)
            c->owner[k] = SIZE_MAX;
        for (size_t b = 0; b < c->nboard; b++) {
            size_t p = c->board[b];

            c->pick[b] = SIZE_MAX;
            if (c->first[p + 1] - c->first[p] <= row)
                continue; /* a smaller set: all its glue-ups are placed */
            memset(c->seen, 0, places * sizeof *c->seen);
            if (!pick_unit(f, c, b))
                c->pick[b] = any_unit(f, c, b);
        }
        for (size_t b = 0; b < c->nboard; b++)
            if (c->pick[b] != SIZE_MAX)
                f->units[c->pick[b]].session = base + row;
    }
    return PL_OK;
}

/* One batch of boards, from..to-1 of the list; *rows: sessions it takes. */
static pl_code deal_batch(pl_draft *f, columns *c, const uint32_t *list, size_t from, size_t to,
                          size_t base, size_t *rows)
{
    uint32_t *board = PL_NEWN(f->scratch, to - from, uint32_t);
    pl_code rc = PL_OK;

    if (!board)
        return pl_nomem(f->d);
    *rows = 0;
    for (size_t p = from; p < to; p++) {
        size_t own = c->first[list[p] + 1] - c->first[list[p]];

        *rows = own > *rows ? own : *rows;
    }
    c->board = board;
    for (size_t g = 0; g < f->ngroup && !rc; g++) {
        c->nboard = 0;
        for (size_t p = from; p < to; p++)
            if (f->parcel_group[list[p]] == g)
                board[c->nboard++] = list[p];
        c->share = (c->nboard + f->v - 1) / f->v;
        if (c->nboard)
            rc = deal_rows(f, c, base, *rows);
    }
    return rc;
}

/* Each board's glue-ups one to a session, boards of all groups together as long as such a
 * session fits: boards are columns, sessions rows. */
static pl_code deal_columns(pl_draft *f, pl_stream *stream)
{
    size_t *first, *units, from = 0, base = 0, rows = 0;
    uint32_t *list = f->columns ? f->columns : PL_NEWN(f->scratch, f->nparcel, uint32_t);
    pl_code rc = PL_OK;
    columns c;

    if (!list || !units_of_parcels(f, stream, &first, &units))
        return pl_nomem(f->d);
    for (size_t u = 0; u < f->nunit; u++)
        f->units[u].session = SIZE_MAX;
    if (!f->columns) {
        for (size_t p = 0; p < f->nparcel; p++)
            list[p] = (uint32_t)p;
        pl_stream_shuffle(stream, list, f->nparcel);
    }
    c = (columns){ .first = first, .units = units };
    for (size_t to; from < f->nparcel && !rc; from = to, base += rows) {
        session_clear(f, f->nslot);
        for (to = from; to < f->nparcel && session_add(f, units[first[list[to]]]); to++)
            ; /* one at least: each fits an empty session */
        rc = deal_batch(f, &c, list, from, to, base, &rows);
    }
    if (rc)
        return rc;
    f->nsession = base;
    return pl_draft_balance(f);
}

/* Does every parcel fit an empty session? Its units stand one behind the other. */
static bool parcels_fit(pl_draft *f)
{
    for (size_t u = 0; u < f->nunit; u++) {
        if (!u || f->units[u].parcel != f->units[u - 1].parcel)
            session_clear(f, f->nslot);
        if (!session_add(f, u))
            return false;
    }
    return true;
}

pl_code pl_draft_deal(pl_draft *f, pl_stream *stream)
{
    size_t fewest, evenly;
    hand h;

    for (size_t u = 0; u < f->nunit; u++) { /* an earlier draw may have changed them */
        f->units[u].local = f->units[u].home;
        f->units[u].treatment = f->row_of[f->units[u].group * f->v + f->units[u].home];
    }
    if (f->side)
        return pl_draft_square_deal(f, stream);
    if (f->nlayer)
        return pl_draft_split_deal(f, stream);
    if (f->s->arrangement.kind == PL_ARRANGE_ROW_COLUMN)
        return deal_columns(f, stream);
    if (!deal_hand(f, stream, &h))
        return pl_nomem(f->d);
    fewest = fill(f, &h, 0);
    evenly = fill(f, &h, fewest);
    if (evenly > fewest)
        evenly = fill(f, &h, 0);
    f->nsession = evenly;
    return f->split ? pl_draft_balance(f) : PL_OK;
}

/* Sessions and efficiency with whole parcels, or with parcels cut up. */
static pl_code try_deal(pl_draft *f, bool split, size_t *sessions, double *efficiency)
{
    pl_mark mark = pl_arena_mark(f->scratch);
    pl_stream stream;
    pl_code rc;

    f->split = split;
    pl_stream_init(&stream, f->seed, PL_FOR_GLUE_ORDER, 0);
    rc = pl_draft_deal(f, &stream);
    *sessions = f->nsession;
    if (!rc)
        rc = pl_draft_efficiency(f, efficiency);
    pl_arena_reset(f->scratch, mark);
    return rc;
}

pl_code pl_draft_look(pl_draft *f)
{
    size_t whole, cut;
    double e_whole, e_cut;
    pl_code rc;

    if (f->nlayer)
        return PL_OK; /* rows stay whole where they fit: split.c */
    if (f->s->arrangement.corner_blocks && !f->have_boards) {
        f->split = false;
        return parcels_fit(f)
                   ? PL_OK
                   : pl_fail(f->d, PL_EUNFIT, pl_draft_where(f, "times"), .pointer = "/times",
                             .found = "a session too short for a block of the design",
                             .expected = "sessions that hold one",
                             .mend = "lengthen the session, add a station, or list "
                                     "boards: then each block is a board");
    }
    f->split = f->side || f->s->arrangement.kind == PL_ARRANGE_ROW_COLUMN || !parcels_fit(f);
    if (f->split || f->s->arrangement.kind == PL_ARRANGE_COMPLETE_BLOCKS)
        return PL_OK;
    rc = try_deal(f, true, &cut, &e_cut);
    if (!rc)
        rc = try_deal(f, false, &whole, &e_whole);
    if (rc)
        return rc;
    f->split = cut * CUT_SAVES_OF <= whole * (CUT_SAVES_OF - 1) && e_cut >= CUT_KEEPS * e_whole;
    return PL_OK;
}
