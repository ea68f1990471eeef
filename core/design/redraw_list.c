/* All assignments of a plan one by one, their number, and one factor's alone. Drawing is redraw.c.
 */
#include <stdlib.h>
#include <string.h>

#include "design/redraw_inner.h"

/* ---------------------------------------------------- one factor by itself -- */

static bool drawn(const pl_study *s, size_t factor)
{
    return !s->factors[factor].comes_with_board && s->factors[factor].nlevel > 1;
}

/* Combination of all other factors' levels in a treatment, as a number below *n. */
static size_t others(const pl_redraw *r, size_t factor, size_t treatment, size_t *n)
{
    size_t at = 0;

    *n = 1;
    for (size_t k = 0; k < r->s->nfactor; k++) {
        if (k == factor)
            continue;
        at = at * r->s->factors[k].nlevel + (size_t)r->p->treatments[treatment * r->p->nfactor + k];
        *n *= r->s->factors[k].nlevel;
    }
    return at;
}

static const char *alone_by_layer(pl_redraw *r, size_t factor, unsigned layer)
{
    for (size_t k = 0; k < r->s->nfactor; k++)
        if (k != factor && drawn(r->s, k) && pl_study_layer_of(r->s, k) == layer)
            return "it changes together with another factor that is hard to change";
    if (!pl_redraw_layer(&r->f, layer))
        return "not every press makes all of its levels";
    r->by_layer = true;
    r->layer = layer;
    r->cells.n = 0;
    return NULL;
}

pl_code pl_redraw_alone(pl_redraw *r, size_t factor, const char **why, pl_diags *d)
{
    unsigned layer = pl_study_layer_of(r->s, factor);
    size_t *apart = PL_NEWN(r->own, r->p->nglue_up, size_t), ndrawn = 0, n = 1;
    bool moves = false;

    *why = drawn(r->s, factor) ? NULL : "it comes with the board, and was not drawn";
    if (!apart)
        return pl_nomem(d);
    for (size_t k = 0; k < r->s->nfactor; k++)
        ndrawn += drawn(r->s, k);
    if (*why)
        return PL_OK;
    if (r->way == PL_REDRAW_SPLIT && layer < r->f.nlayer) {
        *why = alone_by_layer(r, factor, layer);
        return PL_OK;
    }
    if (ndrawn > 1) {
        for (size_t i = 0; i < r->p->nglue_up; i++)
            apart[i] = others(r, factor, r->p->glue_ups[i].treatment, &n);
        r->way = PL_REDRAW_CELLS;
        if (!pl_redraw_open_cells(r, apart, n))
            return pl_nomem(d);
    }
    for (size_t k = 0; k < r->cells.n && !moves; k++)
        for (size_t i = r->cells.first[k] + 1; i < r->cells.first[k + 1]; i++)
            moves = moves || r->p->glue_ups[r->cells.member[i]].treatment !=
                                 r->p->glue_ups[r->cells.member[i - 1]].treatment;
    if (!moves && r->way == PL_REDRAW_CELLS)
        *why = "no two glue-ups that are alike in all else could change places";
    return PL_OK;
}

/* ---------------------------------------------------------------- listing -- */

static int by_value(const void *left, const void *right)
{
    const size_t *a = left, *b = right;

    return (*a > *b) - (*a < *b);
}

/* The next arrangement of one cell in rising order; false: it was the last, and is the first
 * again. */
static bool next_arrangement(size_t *value, const size_t *member, size_t n)
{
    size_t i = n, j = n, kept;

    while (i > 1 && value[member[i - 2]] >= value[member[i - 1]])
        i--;
    if (i > 1) {
        while (value[member[j - 1]] <= value[member[i - 2]])
            j--;
        kept = value[member[i - 2]];
        value[member[i - 2]] = value[member[j - 1]];
        value[member[j - 1]] = kept;
    }
    for (size_t a = i - (n > 0), b = n; a + 1 < b; a++, b--) {
        kept = value[member[a]];
        value[member[a]] = value[member[b - 1]];
        value[member[b - 1]] = kept;
    }
    return i > 1;
}

static bool next_assignment(const pl_redraw *r, size_t *treatment)
{
    const pl_redraw_lists *l = &r->cells;

    for (size_t k = 0; k < l->n; k++)
        if (next_arrangement(treatment, l->member + l->first[k], l->first[k + 1] - l->first[k]))
            return true;
    return false;
}

/* Each cell's treatments in rising order. */
static bool first_assignment(pl_redraw *r, size_t *treatment)
{
    const pl_redraw_lists *l = &r->cells;
    size_t *room = PL_NEWN(r->own, r->p->nglue_up, size_t);

    for (size_t i = 0; room && i < r->p->nglue_up; i++)
        treatment[i] = r->p->glue_ups[i].treatment;
    for (size_t k = 0; room && k < l->n; k++) {
        size_t n = l->first[k + 1] - l->first[k];
        const size_t *member = l->member + l->first[k];

        for (size_t i = 0; i < n; i++)
            room[i] = treatment[member[i]];
        qsort(room, n, sizeof *room, by_value);
        for (size_t i = 0; i < n; i++)
            treatment[member[i]] = room[i];
    }
    return room != NULL;
}

/* The next order of numbers 0..n-1; false: it was the last, and is the first again. */
static bool next_order(uint32_t *v, size_t n)
{
    size_t i = n - 1, j = n - 1;
    uint32_t kept;

    while (i > 0 && v[i - 1] > v[i])
        i--;
    if (i > 0) {
        while (v[j] < v[i - 1])
            j--;
        kept = v[j];
        v[j] = v[i - 1];
        v[i - 1] = kept;
    }
    for (size_t a = i, b = n - 1; a < b; a++, b--) {
        kept = v[a];
        v[a] = v[b];
        v[b] = kept;
    }
    return i > 0;
}

static bool next_settings(const pl_redraw *r, pl_redraw_settings *s, size_t *treatment)
{
    bool more = false;

    for (size_t k = 0; k < s->nset && !more; k++)
        more = next_order(s->drawn + k * s->each, s->each);
    for (size_t i = 0; i < r->p->nglue_up; i++)
        treatment[i] = r->p->glue_ups[i].treatment;
    pl_redraw_settings_apply(r, s, treatment);
    return more;
}

/* Of one layer: the orders of each set. */
static pl_allocations count_settings(const pl_redraw *r)
{
    pl_allocations n = pl_allocations_one();
    const pl_draft *f = &r->f;
    size_t each = f->nkey[r->layer] / (r->layer ? f->nkey[0] : 1);

    for (size_t i = 0; i < f->n * f->nkey[r->layer] / each; i++)
        for (size_t k = 2; k <= each; k++)
            pl_allocations_times(&n, (double)k);
    return n;
}

pl_allocations pl_redraw_count(const pl_redraw *r)
{
    pl_allocations n = pl_allocations_one();
    pl_mark mark = pl_arena_mark(r->own);
    size_t *value = PL_NEWN(r->own, r->p->nglue_up, size_t);
    size_t *count = PL_NEWN(r->own, r->p->nglue_up, size_t);
    pl_draft f = r->f;
    bool at_most;

    if (r->by_layer)
        return count_settings(r);
    if (r->drafted && !pl_redraw_only_cells(&r->f, r->way)) {
        (void)pl_draft_allocations(&f, &n, &at_most);
        return n;
    }
    for (size_t k = 0; value && count && k < r->cells.n; k++) {
        size_t size = r->cells.first[k + 1] - r->cells.first[k], kinds = 0;

        for (size_t i = 0; i < size; i++)
            value[i] = r->p->glue_ups[r->cells.member[r->cells.first[k] + i]].treatment;
        qsort(value, size, sizeof *value, by_value);
        for (size_t i = 0; i < size; i++) {
            if (!i || value[i] != value[i - 1])
                count[kinds++] = 0;
            count[kinds - 1]++;
        }
        pl_allocations_arrange(&n, count, kinds);
    }
    pl_arena_reset(r->own, mark);
    return n;
}

pl_code pl_redraw_each(pl_redraw *r, size_t most, pl_redraw_visit visit, void *context,
                       bool *listed, size_t *taken, pl_diags *d)
{
    pl_mark mark = pl_arena_mark(r->own);
    size_t *treatment = PL_NEWN(r->own, r->p->nglue_up, size_t);
    pl_allocations n = pl_redraw_count(r);
    bool going = true, more = true;
    pl_redraw_settings settings = { 0 };
    pl_guard_seen seen;

    *taken = 0;
    *listed = r->guard_met && *n.exact && strtod(n.exact, NULL) <= (double)most &&
              (r->by_layer || !r->drafted || pl_redraw_only_cells(&r->f, r->way));
    if (!treatment || (*listed && !first_assignment(r, treatment)) ||
        (r->by_layer && !pl_redraw_settings_open(r, r->layer, &settings)))
        return pl_nomem(d);
    while (*listed && more) {
        pl_redraw_look(r, treatment, &seen);
        if (pl_guard_takes(&r->guard, &seen)) {
            (*taken)++;
            pl_redraw_follow(r, treatment);
            going = going && (!visit || visit(context, treatment));
        }
        more = r->by_layer ? next_settings(r, &settings, treatment) : next_assignment(r, treatment);
    }
    pl_arena_reset(r->own, mark);
    return PL_OK;
}
