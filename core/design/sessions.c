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

static bool fits(const pl_draft *f, size_t unit, size_t slot)
{
    size_t np = f->s->npress ? f->s->npress : 1;
    size_t press = f->slots[slot].press < 0 ? 0 : (size_t)f->slots[slot].press;

    return f->may[f->units[unit].treatment * np + press];
}

/* An empty session. */
static void session_clear(pl_draft *f)
{
    f->limit = f->nslot;
    for (size_t i = 0; i < f->nslot; i++)
        f->owner[i] = SIZE_MAX;
}

/* A path of moves that frees a closing for the unit: the augmenting path of a
 * bipartite matching. Depth is at most the closings of a session. */
static bool make_way(pl_draft *f, size_t unit)
{
    for (size_t i = f->from; i < f->limit; i++) {
        if (f->seen[i] == f->search || !fits(f, unit, i))
            continue;
        f->seen[i] = f->search;
        if (f->owner[i] != SIZE_MAX && !make_way(f, f->owner[i]))
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
    bool free_elsewhere = false;

    for (size_t i = f->from; i < f->limit; i++) {
        if (f->owner[i] != SIZE_MAX)
            continue;
        if (fits(f, unit, i)) {
            f->owner[i] = unit;
            f->units[unit].slot = i;
            return true;
        }
        free_elsewhere = true;
    }
    f->search++;
    return free_elsewhere && make_way(f, unit);
}

bool pl_draft_session_fits(pl_draft *f, const uint32_t *units, size_t n, size_t limit)
{
    session_clear(f);
    f->limit = limit;
    for (size_t i = 0; i < n; i++)
        if (!session_add(f, units[i]))
            return false;
    return true;
}

/* One free closing of those its press allows, each with the same chance. */
static bool scatter_one(pl_draft *f, pl_stream *stream, size_t unit)
{
    uint32_t count = 0, pick;

    for (size_t i = f->from; i < f->limit; i++)
        count += f->owner[i] == SIZE_MAX && fits(f, unit, i);
    if (!count)
        return session_add(f, unit); /* others make way */
    pick = pl_stream_below(stream, count);
    for (size_t i = f->from; i < f->limit; i++) {
        if (f->owner[i] != SIZE_MAX || !fits(f, unit, i) || pick--)
            continue;
        f->owner[i] = unit;
        f->units[unit].slot = i;
        break;
    }
    return true;
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
    session_clear(f);
    f->limit = span;
    pl_stream_shuffle(stream, units, n);
    for (size_t i = 0; i < n; i++)
        scatter_one(f, stream, units[i]);
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

    session_clear(f);
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
            session_clear(f);
            i--;
            continue;
        }
        for (size_t k = 0; k < h->count[i]; k++)
            f->units[h->units[h->first[i] + k]].session = session;
        taken++;
    }
    return session + 1;
}

bool pl_draft_rows(pl_draft *f, pl_stream *stream, size_t **rows, size_t *nrow)
{
    uint32_t *list = PL_NEWN(f->scratch, f->nparcel, uint32_t);
    size_t *at;

    *nrow = 0;
    for (size_t g = 0; g < f->ngroup; g++) {
        size_t count = 0;

        for (size_t p = 0; p < f->nparcel; p++)
            count += f->parcel_group[p] == g;
        *nrow = count > *nrow ? count : *nrow;
    }
    *rows = at = PL_NEWN(f->scratch, *nrow * f->ngroup, size_t);
    if (!list || !at)
        return false;
    for (size_t i = 0; i < *nrow * f->ngroup; i++)
        at[i] = SIZE_MAX;
    for (size_t g = 0; g < f->ngroup; g++) {
        size_t row = 0;

        for (size_t round = 0; round < f->nparcel; round++) {
            size_t n = 0;

            for (size_t p = 0; p < f->nparcel; p++)
                if (f->parcel_group[p] == g && f->parcel_round[p] == round)
                    list[n++] = (uint32_t)p;
            if (!n)
                break;
            pl_stream_shuffle(stream, list, n);
            for (size_t i = 0; i < n; i++)
                at[row++ * f->ngroup + g] = list[i];
        }
    }
    return true;
}

/* Units of each parcel, in random order. */
static bool units_of_parcels(pl_draft *f, pl_stream *stream, size_t **first, size_t **units)
{
    uint32_t *list = PL_NEWN(f->scratch, f->nunit, uint32_t);
    size_t *start = PL_NEWN(f->scratch, f->nparcel + 1, size_t);
    size_t *all = PL_NEWN(f->scratch, f->nunit, size_t);

    if (!list || !start || !all)
        return false;
    for (size_t p = 0; p < f->nparcel; p++) {
        size_t n = 0;

        for (size_t u = 0; u < f->nunit; u++)
            if (f->units[u].parcel == p)
                list[n++] = (uint32_t)u;
        pl_stream_shuffle(stream, list, n);
        for (size_t i = 0; i < n; i++)
            all[start[p] + i] = list[i];
        start[p + 1] = start[p] + n;
    }
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
        session_clear(f);
        for (to = from; to < f->nparcel && session_add(f, units[first[list[to]]]); to++)
            ; /* one at least: each fits an empty session */
        rc = deal_batch(f, &c, list, from, to, base, &rows);
    }
    if (rc)
        return rc;
    f->nsession = base;
    return pl_draft_balance(f);
}

/* Does every parcel fit an empty session? */
static bool parcels_fit(pl_draft *f)
{
    for (size_t p = 0; p < f->nparcel; p++) {
        session_clear(f);
        for (size_t u = 0; u < f->nunit; u++)
            if (f->units[u].parcel == p && !session_add(f, u))
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
