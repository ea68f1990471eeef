/* Which way a draft's treatments can be drawn anew, and how many assignments there are. The
 * drawing is redraw.c's. */
#include "design/redraw_ways.h"

#include <stdlib.h>

int pl_cell_compare(const pl_cell_key *a, const pl_cell_key *b)
{
    if (a->other != b->other)
        return a->other < b->other ? -1 : 1;
    if (a->group != b->group)
        return a->group < b->group ? -1 : 1;
    if (a->board != b->board)
        return a->board < b->board ? -1 : 1;
    if (a->session != b->session)
        return a->session < b->session ? -1 : 1;
    return (a->kind > b->kind) - (a->kind < b->kind);
}

pl_cell_key pl_cell_of_unit(const pl_draft *f, size_t unit)
{
    const pl_draft_unit *u = &f->units[unit];

    return (pl_cell_key){ .group = u->group,
                          .board = u->board,
                          .session = f->nlayer ? u->stretch[f->nlayer - 1] : u->session,
                          .kind = f->kind[u->treatment] };
}

bool pl_redraw_whole(const pl_draft *f, size_t group)
{
    for (size_t b = 0; b < f->nboard; b++)
        if (f->boards[b].group == group && f->boards[b].size % f->v)
            return false;
    return true;
}

bool pl_redraw_one_kind(const pl_draft *f, size_t group)
{
    for (size_t i = 1; i < f->v; i++)
        if (f->kind[f->row_of[group * f->v + i]] != f->kind[f->row_of[group * f->v]])
            return false;
    return true;
}

pl_redraw_way pl_redraw_way_of(const pl_draft *f)
{
    bool one = true, whole = true;

    for (size_t g = 0; g < f->ngroup; g++) {
        one = one && pl_redraw_one_kind(f, g);
        whole = whole && pl_redraw_whole(f, g);
    }
    if (f->nlayer)
        return PL_REDRAW_SPLIT;
    if (f->s->arrangement.corner_blocks)
        return PL_REDRAW_CELLS; /* blocks are as they are */
    if (f->side)
        return one ? PL_REDRAW_SQUARE : PL_REDRAW_CELLS;
    if (f->s->arrangement.kind == PL_ARRANGE_OPTIMAL && !whole)
        return PL_REDRAW_CELLS; /* each board's runs were chosen for it */
    if (f->nx && !whole)
        return one ? PL_REDRAW_RUNS : PL_REDRAW_CELLS;
    if (f->s->arrangement.kind == PL_ARRANGE_ROW_COLUMN)
        return one ? PL_REDRAW_COLUMNS : PL_REDRAW_CELLS;
    return PL_REDRAW_SETS;
}

bool pl_redraw_layer(const pl_draft *f, unsigned layer)
{
    for (size_t g = 0; g < f->ngroup; g++)
        if (!pl_redraw_one_kind(f, g) && f->pressed >= 0 &&
            pl_study_layer_of(f->s, (size_t)f->pressed) <= layer)
            return false;
    return true;
}

bool pl_redraw_only_cells(const pl_draft *f, pl_redraw_way way)
{
    if (way == PL_REDRAW_CELLS)
        return true;
    for (size_t g = 0; g < f->ngroup; g++)
        if (!pl_redraw_whole(f, g))
            return false;
    return way == PL_REDRAW_SETS && !f->split;
}

double pl_least_p(const pl_allocations *n)
{
    double p = 2 / n->mantissa;

    for (int i = 0; i < n->power && p > 0; i++)
        p /= 10;
    return p < 1 ? p : 1;
}

/* --------------------------------------------------------------- counting -- */

typedef struct counted {
    pl_cell_key key;
    size_t treatment;
} counted;

static int by_key(const void *left, const void *right)
{
    const counted *a = left, *b = right;
    int c = pl_cell_compare(&a->key, &b->key);

    return c ? c : (a->treatment > b->treatment) - (a->treatment < b->treatment);
}

/* Times the arrangements of treatments within units of one key. */
static bool times_cells(pl_draft *f, counted *list, pl_allocations *n)
{
    size_t *count = PL_NEWN(f->scratch, f->nunit, size_t), kinds = 0;

    if (!count)
        return false;
    qsort(list, f->nunit, sizeof *list, by_key);
    for (size_t i = 0; i < f->nunit; i++) {
        bool same = i && !pl_cell_compare(&list[i].key, &list[i - 1].key);

        if (i && !same) {
            pl_allocations_arrange(n, count, kinds);
            kinds = 0;
        }
        if (!kinds || list[i].treatment != list[i - 1].treatment)
            count[kinds++] = 0;
        count[kinds - 1]++;
    }
    pl_allocations_arrange(n, count, kinds);
    return true;
}

static void times_factorial(pl_allocations *n, size_t k)
{
    for (size_t i = 2; i <= k; i++)
        pl_allocations_times(n, (double)i);
}

static int by_size(const void *left, const void *right)
{
    const size_t *a = left, *b = right;

    return (*a > *b) - (*a < *b);
}

/* Labels within kinds, and sets of one size over their boards. */
static bool times_sets(pl_draft *f, size_t g, pl_allocations *n)
{
    size_t *size = PL_NEWN(f->scratch, f->nboard, size_t), nset = 0;

    if (!size)
        return false;
    for (size_t i = 0; i < f->v; i++) { /* the how-maniest of its kind: the factorial in turn */
        size_t same = 0;

        for (size_t k = 0; k <= i; k++)
            same += f->kind[f->row_of[g * f->v + k]] == f->kind[f->row_of[g * f->v + i]];
        pl_allocations_times(n, (double)same);
    }
    if (!pl_redraw_one_kind(f, g))
        return true;
    for (size_t b = 0; b < f->nboard; b++)
        if (f->boards[b].group == g && f->boards[b].size)
            size[nset++] = f->boards[b].size;
    if (nset)
        qsort(size, nset, sizeof *size, by_size);
    for (size_t b = 0, same = 0; b < nset; b++) {
        same = b && size[b] == size[b - 1] ? same + 1 : 1;
        pl_allocations_times(n, (double)same);
    }
    return true;
}

static pl_code times_arrangements(pl_draft *f, pl_redraw_way way, pl_allocations *n)
{
    counted *list = PL_NEWN(f->scratch, f->nunit, counted);

    if (!list)
        return pl_nomem(f->d);
    for (size_t u = 0; u < f->nunit; u++) {
        const pl_draft_unit *unit = &f->units[u];

        list[u] = (counted){ pl_cell_of_unit(f, u), pl_draft_first_like(f, unit->treatment) };
        if (way == PL_REDRAW_RUNS) /* anywhere on the group's boards */
            list[u].key = (pl_cell_key){ .group = unit->group };
        else if (way == PL_REDRAW_COLUMNS || (way == PL_REDRAW_SETS && f->split))
            list[u].key.session = unit->parcel; /* its sessions are the search's to give */
    }
    return times_cells(f, list, n) ? PL_OK : pl_nomem(f->d);
}

/* Orders of the stretches of each row, and of those inside each. */
static void times_stretches(const pl_draft *f, pl_allocations *n)
{
    for (unsigned l = 0; l < f->nlayer; l++)
        for (size_t i = 0; i < f->n * (l ? f->nkey[0] : 1) && pl_redraw_layer(f, l); i++)
            times_factorial(n, f->nkey[l] / (l ? f->nkey[0] : 1));
}

pl_code pl_draft_allocations(pl_draft *f, pl_allocations *n, bool *at_most)
{
    pl_redraw_way way = pl_redraw_way_of(f);
    size_t squares = f->side ? f->nunit / (f->side * f->side) : 0;

    *n = pl_allocations_one();
    *at_most = !pl_redraw_only_cells(f, way);
    if (way == PL_REDRAW_SPLIT) {
        *at_most = false;
        times_stretches(f, n);
        return times_arrangements(f, way, n);
    }
    if (way != PL_REDRAW_SQUARE) {
        for (size_t g = 0; g < f->ngroup; g++)
            if ((way == PL_REDRAW_SETS || way == PL_REDRAW_COLUMNS) && !pl_redraw_whole(f, g) &&
                !times_sets(f, g, n))
                return pl_nomem(f->d);
        return times_arrangements(f, way, n);
    }
    *at_most = f->s->arrangement.kind == PL_ARRANGE_GRAECO_LATIN;
    for (size_t i = 0; i < squares; i++)
        if (*at_most) /* rows, columns and both alphabets of one square change places */
            for (unsigned k = 0; k < 4; k++)
                times_factorial(n, f->side);
        else if (!pl_allocations_latin(n, f->side))
            *n = (pl_allocations){ 0 };
    return PL_OK;
}
