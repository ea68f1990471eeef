/* Boards: how many glue-ups each gets, which treatments, and where the spare
 * joints lie. What comes with the board is never randomised: boards lie inside
 * its levels. Places along a board are drawn when the plan is written out. */
#include <stdlib.h>
#include <string.h>

#include "base/stream.h"
#include "design/balance.h"
#include "design/balanced.h"
#include "design/draft.h"
#include "design/ids.h"
#include "design/plan_make.h"

#define SEARCH_STARTS ((size_t)400) /* most starts of the search for balanced sets */
#define RUN_STARTS ((size_t)40)     /* of the search that keeps contrasts free of boards */
#define SEARCH_SEED 0u              /* one search for all plans: seeds only relabel its result */

const char *pl_draft_where(const pl_draft *f, const char *key)
{
    const pl_json *at = f->s->root ? pl_json_get(f->s->root, key) : NULL;
    const char *where = at ? pl_json_where(f->scratch, at) : NULL;

    return where ? where : f->s->name;
}

/* Group whose treatments boards of this stock get; ngroup when none. */
static size_t group_of_stock(const pl_draft *f, const pl_stock *stock)
{
    if (f->with_board < 0)
        return 0;
    for (size_t g = 0; g < f->ngroup; g++)
        if (strcmp(stock->species, pl_draft_group(f, g)) == 0)
            return g;
    return f->ngroup;
}

/* One entry a board; no more of one stock than there are glue-ups in a group. */
static pl_code list_boards(pl_draft *f)
{
    size_t most = f->n * f->v, total = 0;

    for (size_t k = 0; k < f->s->nboard_kinds; k++)
        total += f->s->boards[k].count < most ? f->s->boards[k].count : most;
    f->boards = PL_NEWN(f->scratch, total, pl_draft_board);
    if (!f->boards)
        return pl_nomem(f->d);
    for (size_t k = 0; k < f->s->nboard_kinds; k++) {
        const pl_stock *stock = &f->s->boards[k];
        size_t g = group_of_stock(f, stock);

        for (size_t i = 0; g < f->ngroup && i < stock->count && i < most; i++)
            f->boards[f->nboard++] = (pl_draft_board){
                .stock = (int)k,
                .group = g,
                .room = stock->specimens ? stock->specimens / f->m : SIZE_MAX,
                .place = -1,
            };
    }
    return PL_OK;
}

static size_t least_of(size_t a, size_t b)
{
    return a < b ? a : b;
}

static int by_room(const void *left, const void *right, void *boards)
{
    const size_t *x = left, *y = right;
    const pl_draft_board *all = boards;

    if (all[*x].room != all[*y].room)
        return all[*x].room > all[*y].room ? -1 : 1;
    return (*x > *y) - (*x < *y);
}

static int by_place(const void *left, const void *right)
{
    const size_t *x = left, *y = right;

    return (*x > *y) - (*x < *y);
}

/* The group's boards that hold a unit of `unit` glue-ups, the roomiest first. */
static size_t roomy(const pl_draft *f, size_t g, size_t unit, size_t *order)
{
    size_t n = 0;

    for (size_t b = 0; b < f->nboard; b++)
        if (f->boards[b].group == g && f->boards[b].room >= unit)
            order[n++] = b;
    if (n)
        qsort_r(order, n, sizeof *order, by_room, f->boards);
    return n;
}

/* `left` units of so many glue-ups over n boards, the roomiest first, as evenly as their room
 * allows; those left over one each to the first in the list of boards. */
static void share_evenly(pl_draft *f, size_t *order, size_t n, size_t left, size_t unit)
{
    while (n && f->boards[order[n - 1]].room / unit <= left / n) { /* the shortest are full */
        pl_draft_board *board = &f->boards[order[--n]];

        board->size = board->room / unit * unit;
        left -= board->room / unit;
    }
    if (n)
        qsort(order, n, sizeof *order, by_place);
    for (size_t i = 0; i < n; i++) /* all others hold one more than their share */
        f->boards[order[i]].size = (left / n + (i < left % n)) * unit;
}

/* Whole replicates, spread over all boards that hold one. False when they do not hold n. set:
 * else only asked. */
static bool size_complete(pl_draft *f, size_t g, size_t *order, bool set)
{
    size_t count = roomy(f, g, f->v, order), fits = 0;

    for (size_t i = 0; i < count && fits < f->n; i++)
        fits += least_of(f->boards[order[i]].room / f->v, f->n);
    if (fits >= f->n && set)
        share_evenly(f, order, count, f->n, f->v);
    return fits >= f->n;
}

/* As few boards as hold all glue-ups of the group, the roomiest first, since
 * longer sets compare more; sizes as even as their room allows. */
static bool size_short(pl_draft *f, size_t g, size_t *order)
{
    size_t left = f->n * f->v, held = 0, used = 0, count = roomy(f, g, 1, order);

    while (held < left && used < count)
        held += least_of(f->boards[order[used++]].room, left);
    if (held >= left)
        share_evenly(f, order, used, left, 1);
    return held >= left;
}

/* Equal shares on as few boards as divide the glue-ups and have room: what halves again and
 * again falls whole into such blocks. False when there is no such number of boards. */
static bool size_even(pl_draft *f, size_t g, size_t *order)
{
    size_t all = f->n * f->v, count = roomy(f, g, 1, order), left;

    for (left = 1; left <= count; left++) /* the left-th roomiest still holds its share */
        if (all % left == 0 && f->boards[order[left - 1]].room >= all / left)
            break;
    if (left > count)
        return false;
    for (size_t b = 0, share = all / left; b < f->nboard && left; b++)
        if (f->boards[b].group == g && f->boards[b].room >= share) {
            f->boards[b].size = share;
            left--;
        }
    return true;
}

static pl_code refuse_sets(pl_draft *f, size_t g, size_t k)
{
    const char *name = pl_draft_group(f, g), *space = *name ? " " : "";
    size_t need = (f->n * f->v + k - 1) / k;

    return pl_fail(
        f->d, PL_EUNFIT, pl_draft_where(f, "arrangement"), .pointer = "/arrangement/set_size",
        .found = pl_arena_printf(f->scratch, "too few %s%sboards for sets of %zu", name, space, k),
        .expected = pl_arena_printf(f->scratch, "%zu with room for %zu glue-ups", need, k),
        .mend = "add boards, or longer ones, or make fewer");
}

/* Sets of the size asked for, one a board; a last one may be smaller. */
static bool size_sets(pl_draft *f, size_t g, size_t k)
{
    size_t left = f->n * f->v;

    for (size_t b = 0; b < f->nboard && left; b++)
        if (f->boards[b].group == g && f->boards[b].room >= k) {
            f->boards[b].size = least_of(k, left);
            left -= f->boards[b].size;
        }
    return !left;
}

static pl_code refuse_boards(pl_draft *f, size_t g)
{
    size_t held = 0, asked = f->n * f->v;
    const char *name = pl_draft_group(f, g), *space = *name ? " " : "";

    for (size_t b = 0; b < f->nboard; b++)
        if (f->boards[b].group == g)
            held += least_of(f->boards[b].room, asked);
    if (held / f->v)
        return pl_fail(
            f->d, PL_EUNFIT, pl_draft_where(f, "boards"), .pointer = "/boards",
            .found = pl_arena_printf(f->scratch, "%s%sboards for %zu glue-ups", name, space, held),
            .expected = pl_arena_printf(f->scratch, "room for %zu", asked),
            .mend = pl_arena_printf(f->scratch, "add %s%sboards, or make %zu for each combination",
                                    name, space, held / f->v));
    return pl_fail(
        f->d, PL_EUNFIT, pl_draft_where(f, "boards"), .pointer = "/boards",
        .found = pl_arena_printf(f->scratch, "%s%sboards for %zu glue-ups", name, space, held),
        .expected = pl_arena_printf(f->scratch, "room for %zu", asked),
        .mend = pl_arena_printf(f->scratch, "add %s%sboards", name, space));
}

static pl_code refuse_complete(pl_draft *f, size_t g)
{
    size_t longest = 0, fits = 0;
    const char *name = pl_draft_group(f, g), *space = *name ? " " : "";

    for (size_t b = 0; b < f->nboard; b++) {
        if (f->boards[b].group != g)
            continue;
        longest = f->boards[b].room > longest ? f->boards[b].room : longest;
        fits += least_of(f->boards[b].room / f->v, f->n);
    }
    return pl_fail(
        f->d, PL_EUNFIT, pl_draft_where(f, "arrangement"), .pointer = "/arrangement/kind",
        .found = pl_arena_printf(f->scratch,
                                 "complete-blocks, but %s%sboards hold %zu of %zu whole sets "
                                 "of %zu (the longest holds %zu glue-ups)",
                                 name, space, fits, f->n, f->v, longest),
        .expected = "boards that hold every combination once for each repeat",
        .mend = "use longer or more boards, make fewer, or leave arrangement out");
}

static pl_code size_boards(pl_draft *f)
{
    size_t from = f->d->count, k = f->s->arrangement.set_size;
    size_t *order = PL_NEWN(f->scratch, f->nboard, size_t);

    if (!order)
        return pl_nomem(f->d);
    f->complete = true;
    for (size_t g = 0; g < f->ngroup && f->nlayer; g++)
        if (!size_complete(f, g, order, false))
            return pl_draft_split_sizes(f);
    for (size_t g = 0; g < f->ngroup; g++) {
        if (k) {
            f->complete = f->complete && k % f->v == 0;
            if (!size_sets(f, g, k))
                refuse_sets(f, g, k);
            continue;
        }
        if (size_complete(f, g, order, true))
            continue;
        f->complete = false;
        if (f->s->arrangement.kind == PL_ARRANGE_COMPLETE_BLOCKS)
            refuse_complete(f, g);
        else if (!(f->nx && size_even(f, g, order)) && !size_short(f, g, order))
            refuse_boards(f, g);
    }
    return pl_diags_code(f->d, from);
}

void pl_draft_add_unit(pl_draft *f, size_t g, size_t local, int board, size_t parcel)
{
    f->units[f->nunit++] = (pl_draft_unit){
        .treatment = f->row_of[g * f->v + local],
        .group = g,
        .local = local,
        .home = local,
        .board = board,
        .parcel = parcel,
    };
}

size_t pl_draft_add_parcel(pl_draft *f, size_t g, size_t round)
{
    f->parcel_group[f->nparcel] = g;
    f->parcel_round[f->nparcel] = round;
    return f->nparcel++;
}

/* Replicates of a group that lie whole on boards, or on none. */
static void whole_replicates(pl_draft *f, size_t g)
{
    for (size_t b = 0; b < (f->have_boards ? f->nboard : 1); b++) {
        size_t repeats = f->have_boards ? f->boards[b].size / f->v : f->n;

        if (f->have_boards && f->boards[b].group != g)
            continue;
        for (size_t r = 0; r < repeats; r++) {
            size_t parcel = pl_draft_add_parcel(f, g, r);

            for (size_t i = 0; i < f->v; i++)
                pl_draft_add_unit(f, g, i, f->have_boards ? (int)b : -1, parcel);
        }
    }
}

/* Which of the group's boards each set lies on: sets of one size change places. */
static bool shuffle_sets(pl_draft *f, const size_t *size, size_t nset, uint32_t *set_of,
                         pl_stream *stream)
{
    uint32_t *list = PL_NEWN(f->scratch, nset, uint32_t); /* by size, then place */
    size_t *at = PL_NEWN(f->scratch, nset, size_t), *first, *end, largest = 0;

    for (size_t i = 0; i < nset; i++)
        largest = size[i] > largest ? size[i] : largest;
    first = PL_NEWN(f->scratch, largest + 2, size_t);
    end = PL_NEWN(f->scratch, largest + 2, size_t);
    if (!list || !at || !first || !end)
        return false;
    for (size_t i = 0; i < nset; i++)
        first[size[i] + 1]++;
    for (size_t k = 0; k <= largest; k++)
        first[k + 1] += first[k];
    memcpy(end, first, (largest + 2) * sizeof *end);
    for (size_t i = 0; i < nset; i++) {
        set_of[i] = (uint32_t)i;
        at[i] = end[size[i]]++;
        list[at[i]] = (uint32_t)i;
    }
    for (size_t i = nset; i > 1; i--) { /* of those not yet settled, as long as the last */
        size_t begin = first[size[i - 1]];
        uint32_t kept = set_of[i - 1];
        uint32_t j = list[begin + pl_stream_below(stream, (uint32_t)(at[i - 1] - begin + 1))];

        set_of[i - 1] = set_of[j];
        set_of[j] = kept;
    }
    return true;
}

typedef struct sets {
    size_t nset, nunit;
    size_t *size;        /* nset */
    int *board;          /* nset: place in f->boards */
    uint32_t *treatment; /* nunit, set after set */
    uint32_t *block;     /* nunit */
    double *weight;      /* nset */
} sets;

/* The group's boards, and treatments dealt to them in turn, 0 1 2 ... v-1 0 1
 * ...: the cyclic start. */
static bool sets_open(pl_draft *f, size_t g, sets *w)
{
    size_t u = 0, largest = 0;

    w->nunit = f->n * f->v;
    w->nset = 0;
    w->size = PL_NEWN(f->scratch, f->nboard, size_t);
    w->board = PL_NEWN(f->scratch, f->nboard, int);
    w->weight = PL_NEWN(f->scratch, f->nboard, double);
    w->treatment = PL_NEWN(f->scratch, w->nunit, uint32_t);
    w->block = PL_NEWN(f->scratch, w->nunit, uint32_t);
    if (!w->size || !w->board || !w->weight || !w->treatment || !w->block)
        return false;
    for (size_t b = 0; b < f->nboard; b++)
        if (f->boards[b].group == g && f->boards[b].size) {
            w->board[w->nset] = (int)b;
            w->size[w->nset] = f->boards[b].size;
            largest = largest > f->boards[b].size ? largest : f->boards[b].size;
            for (size_t i = 0; i < f->boards[b].size; i++, u++) {
                w->block[u] = (uint32_t)w->nset;
                w->treatment[u] = (uint32_t)(u % f->v);
            }
            w->nset++;
        }
    for (size_t i = 0; i < w->nset; i++) /* whole numbers when sizes are equal */
        w->weight[i] = (double)largest / (double)w->size[i];
    return true;
}

/* Places of each set's treatments: units[first[i]..first[i + 1]-1]; built sets lie in any order. */
static bool units_of_sets(pl_draft *f, const sets *w, size_t **first, size_t **units)
{
    size_t *at = PL_NEWN(f->scratch, w->nset + 2, size_t), *list;

    list = PL_NEWN(f->scratch, w->nunit, size_t);
    if (!at || !list)
        return false;
    for (size_t u = 0; u < w->nunit; u++)
        at[w->block[u] + 2]++;
    for (size_t i = 2; i < w->nset + 2; i++)
        at[i] += at[i - 1];
    for (size_t u = 0; u < w->nunit; u++)
        list[at[w->block[u] + 1]++] = u;
    *first = at;
    *units = list;
    return true;
}

/* Sets of one size that can be balanced: built whole. False: no memory. */
static bool balanced_sets(pl_draft *f, sets *w, bool *built)
{
    uint32_t *block = PL_NEWN(f->scratch, w->nunit, uint32_t);
    unsigned v = (unsigned)f->v, k = (unsigned)w->size[0];
    pl_balanced_found found;

    *built = false;
    for (size_t i = 1; i < w->nset; i++)
        if (w->size[i] != w->size[0])
            return block != NULL;
    if (!block || k < 2 || k >= v || v > PL_BALANCED_TREATMENTS_MOST)
        return block != NULL;
    f->equal_sets = true;
    f->unbalanced = pl_balanced_refusal(v, (unsigned)w->nset, k);
    found = pl_balanced(f->scratch, v, (unsigned)w->nset, k, block);
    if (found == PL_BALANCED_BUILT) {
        w->treatment = block;
        *built = f->balanced = true;
    }
    return found != PL_BALANCED_NO_MEMORY;
}

/* Balance was demanded, and these sets have none: the nearest that may. */
static pl_code refuse_balance(pl_draft *f, const sets *w)
{
    unsigned v = (unsigned)f->v, k = (unsigned)w->size[0], n = 1;
    const char *why = f->unbalanced   ? f->unbalanced
                      : f->equal_sets ? "none was found here"
                                      : "the boards get unequally many";

    while (n < 1000 && (n * v % k || n * v / k < v || pl_balanced_refusal(v, n * v / k, k)))
        n++;
    return pl_fail(f->d, PL_EUNFIT, pl_draft_where(f, "arrangement"), .pointer = "/arrangement",
                   .found = pl_arena_printf(f->scratch, "%u treatments on %zu boards of %u: %s", v,
                                            w->nset, k, why),
                   .expected = "sets in which every two meet equally often",
                   .mend = n < 1000 && k < v
                               ? pl_arena_printf(f->scratch,
                                                 "%u glue-ups of each, on %u boards of %u: no "
                                                 "reason against it is known",
                                                 n, n * v / k, k)
                               : "other set_size, or leave balance out");
}

/* Sets that meet as equally as the search finds. */
static pl_code search_sets(pl_draft *f, sets *w)
{
    pl_share_out search = {
        .nunit = w->nunit,
        .v = f->v,
        .nblock = w->nset,
        .treatment = w->treatment,
        .block = w->block,
        .weight = w->weight,
        .starts = SEARCH_STARTS,
        .start_seed = SEARCH_SEED,
        .least = pl_share_out_least(f->v, w->nset, w->size, w->weight),
    };

    return pl_share_out_improve(f->scratch, &search, f->d);
}

/* Sets that meet as equally as can be; then, from the seed: which treatment
 * plays which part, and which set lies on which board. */
static pl_code shared_sets(pl_draft *f, size_t g, pl_stream *stream)
{
    uint32_t *part = PL_NEWN(f->scratch, f->v, uint32_t);
    uint32_t *set_of;
    size_t *first, *units;
    bool built;
    pl_code rc;
    sets w;

    if (!part || !sets_open(f, g, &w))
        return pl_nomem(f->d);
    set_of = PL_NEWN(f->scratch, w.nset, uint32_t);
    if (!set_of)
        return pl_nomem(f->d);
    if (!balanced_sets(f, &w, &built))
        return pl_nomem(f->d);
    rc = built ? PL_OK : f->s->arrangement.balanced ? refuse_balance(f, &w) : search_sets(f, &w);
    if (rc)
        return rc;
    for (size_t i = 0; i < f->v; i++)
        part[i] = (uint32_t)i;
    pl_stream_shuffle(stream, part, f->v);
    if (!shuffle_sets(f, w.size, w.nset, set_of, stream) || !units_of_sets(f, &w, &first, &units))
        return pl_nomem(f->d);
    for (size_t i = 0; i < w.nset; i++) {
        size_t parcel = pl_draft_add_parcel(f, g, 0);

        for (size_t k = first[set_of[i]]; k < first[set_of[i] + 1]; k++)
            pl_draft_add_unit(f, g, part[w.treatment[units[k]]], w.board[i], parcel);
    }
    return PL_OK;
}

/* Spare joints: unassigned places, one board after the other in random order
 * while there is room. */
pl_code pl_draft_spares(pl_draft *f)
{
    double asked = f->s->cutting.spare_joints * (double)f->nunit;
    uint32_t *order = PL_NEWN(f->scratch, f->nboard, uint32_t);
    size_t used = 0;
    bool room = true;
    pl_stream stream;

    if (!order)
        return pl_nomem(f->d);
    f->spares_asked = asked > 0 ? (size_t)(asked < 1e6 ? asked : 1e6) : 0;
    if (asked - (double)f->spares_asked > 1e-9) /* a started one counts, 30 x 0.1 does not */
        f->spares_asked++;
    f->spares_asked = least_of(f->spares_asked, f->nunit);
    for (size_t b = 0; b < f->nboard; b++)
        if (f->boards[b].size)
            order[used++] = (uint32_t)b;
    pl_stream_init(&stream, f->seed, PL_FOR_SPARES, 0);
    pl_stream_shuffle(&stream, order, used);
    while (f->have_boards && room && f->nspare < f->spares_asked) {
        room = false;
        for (size_t i = 0; i < used && f->nspare < f->spares_asked; i++) {
            pl_draft_board *b = &f->boards[order[i]];

            if (b->room - b->size - b->extras <= b->spares)
                continue;
            b->spares++;
            f->nspare++;
            room = true;
        }
    }
    if (!f->have_boards)
        f->nspare = f->spares_asked;
    f->short_spares = f->nspare < f->spares_asked;
    return PL_OK;
}

/* Runs shared out so that contrasts are free of boards: a random start from the seed, then
 * interchange within groups. */
static pl_code shared_runs(pl_draft *f, pl_stream *stream)
{
    uint32_t *board = PL_NEWN(f->scratch, f->nunit, uint32_t);
    uint32_t *group = PL_NEWN(f->scratch, f->nunit, uint32_t);
    double *weight = PL_NEWN(f->scratch, f->nboard, double);
    pl_code rc;

    if (!board || !group || !weight)
        return pl_nomem(f->d);
    for (size_t u = f->nunit; u > 1; u--) { /* shuffled within the groups */
        size_t w = pl_stream_below(stream, (uint32_t)u);
        size_t kept = f->units[u - 1].treatment;

        if (f->units[w].group != f->units[u - 1].group)
            continue;
        f->units[u - 1].treatment = f->units[w].treatment;
        f->units[w].treatment = kept;
    }
    for (size_t u = 0; u < f->nunit; u++) {
        board[u] = (uint32_t)f->units[u].board;
        group[u] = (uint32_t)f->units[u].group;
    }
    for (size_t b = 0; b < f->nboard; b++)
        weight[b] = f->boards[b].size ? 1 / (double)f->boards[b].size : 0;
    rc = pl_draft_effects_spread(f, board, f->nboard, weight, group, RUN_STARTS, 0);
    for (size_t u = 0; u < f->nunit; u++)
        f->units[u].home = f->units[u].local;
    return rc;
}

/* The group's runs dealt to its boards in turn, 0 1 2 ... v-1 0 1 ... */
static void deal_runs(pl_draft *f, size_t g)
{
    size_t at = 0;

    for (size_t b = 0; b < f->nboard; b++) {
        size_t parcel;

        if (f->boards[b].group != g || !f->boards[b].size)
            continue;
        parcel = pl_draft_add_parcel(f, g, 0);
        for (size_t i = 0; i < f->boards[b].size; i++, at++)
            pl_draft_add_unit(f, g, at % f->v, (int)b, parcel);
    }
}

pl_code pl_draft_runs_again(pl_draft *f, pl_stream *stream)
{
    for (size_t u = 0, g = 0, at = 0; u < f->nunit; u++, at++) {
        pl_draft_unit *unit = &f->units[u];

        if (unit->group != g) /* groups stand one behind the other */
            at = 0;
        g = unit->group;
        unit->local = at % f->v;
        unit->treatment = f->row_of[g * f->v + unit->local];
    }
    return shared_runs(f, stream);
}

/* Runs that were chosen board by board: sets of one size change boards, as the seed says. */
static pl_code deal_chosen(pl_draft *f, size_t g, pl_stream *stream)
{
    size_t *size = PL_NEWN(f->scratch, f->nboard, size_t);
    size_t *first = PL_NEWN(f->scratch, f->nboard, size_t);
    uint32_t *set_of = PL_NEWN(f->scratch, f->nboard, uint32_t);
    size_t n = 0, at = 0;

    if (!size || !first || !set_of)
        return pl_nomem(f->d);
    for (size_t b = 0; b < f->nboard; b++)
        if (f->boards[b].group == g && f->boards[b].size) {
            first[n] = at;
            size[n++] = f->boards[b].size;
            at += f->boards[b].size;
        }
    if (!shuffle_sets(f, size, n, set_of, stream))
        return pl_nomem(f->d);
    n = 0;
    for (size_t b = 0; b < f->nboard; b++) {
        size_t parcel;

        if (f->boards[b].group != g || !f->boards[b].size)
            continue;
        parcel = pl_draft_add_parcel(f, g, 0);
        for (size_t i = 0; i < f->boards[b].size; i++)
            pl_draft_add_unit(f, g, first[set_of[n]] + i, (int)b, parcel);
        n++;
    }
    return PL_OK;
}

/* Every joint and every spare one gets an id of its own. */
static pl_code check_count(const pl_draft *f)
{
    size_t most = PL_IDS_MOST / 2 / f->m;

    if (most && f->n <= most / f->ntreatment)
        return PL_OK;
    return pl_fail(f->d, PL_EUNFIT, pl_draft_where(f, "glue_ups_per_level"),
                   .pointer = "/glue_ups_per_level",
                   .found = pl_arena_printf(f->scratch,
                                            "%zu glue-ups for each of %zu combinations, "
                                            "%zu joints in each",
                                            f->n, f->ntreatment, f->m),
                   .expected = pl_arena_printf(f->scratch,
                                               "at most %zu joints, spare ones not counted: there "
                                               "are no more labels",
                                               PL_IDS_MOST / 2),
                   .mend = "make fewer, or ask in several studies");
}

/* Units of all groups, on boards of the sizes found. */
static pl_code fill_boards(pl_draft *f)
{
    bool all_whole = true;
    pl_code rc = PL_OK;
    pl_stream stream;

    pl_stream_init(&stream, f->seed, PL_FOR_PLACES, 0);
    for (size_t g = 0; g < f->ngroup && !rc; g++) {
        bool whole = true;

        for (size_t b = 0; b < f->nboard; b++)
            whole = whole && (f->boards[b].group != g || f->boards[b].size % f->v == 0);
        all_whole = all_whole && whole;
        if (f->own_boards)
            rc = pl_draft_split_units(f, g, &stream);
        else if (whole)
            whole_replicates(f, g);
        else if (f->s->arrangement.kind == PL_ARRANGE_OPTIMAL)
            rc = deal_chosen(f, g, &stream);
        else if (f->nx)
            deal_runs(f, g);
        else
            rc = shared_sets(f, g, &stream);
    }
    if (rc || all_whole || !f->nx || f->s->arrangement.kind == PL_ARRANGE_OPTIMAL)
        return rc;
    return shared_runs(f, &stream);
}

pl_code pl_draft_boards(pl_draft *f)
{
    pl_code rc;
    int place = 0;

    f->m = pl_study_specimens_per_glue_up(f->s);
    f->have_boards = f->s->nboard_kinds > 0;
    f->complete = true;
    rc = check_count(f);
    if (!rc && f->have_boards)
        rc = list_boards(f);
    if (!rc && f->have_boards && !f->side && !f->s->arrangement.corner_blocks)
        rc = size_boards(f);
    if (!rc && f->s->arrangement.kind == PL_ARRANGE_OPTIMAL)
        rc = pl_draft_optimal(f);
    if (rc)
        return rc;
    f->units = PL_NEWN(f->scratch, f->n * f->ntreatment, pl_draft_unit);
    f->parcel_group = PL_NEWN(f->scratch, f->n * f->ntreatment, size_t);
    f->parcel_round = PL_NEWN(f->scratch, f->n * f->ntreatment, size_t);
    if (!f->units || !f->parcel_group || !f->parcel_round)
        return pl_nomem(f->d);
    rc = f->side                           ? pl_draft_square_boards(f)
         : f->s->arrangement.corner_blocks ? pl_draft_central_boards(f)
                                           : fill_boards(f);
    for (size_t b = 0; b < f->nboard; b++)
        if (f->boards[b].size)
            f->boards[b].place = place++;
    return rc;
}
