/* Drawing a plan's treatments anew. Where the draft is the plan's, its own steps are taken with
 * another stream; opening it is redraw_open.c. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "design/plan_make.h"
#include "design/redraw_inner.h"

#define TRIES_MOST 100000u /* draws until the guard takes one; then the plan's own stands */

/* ---------------------------------------------------------------- drawing -- */

static void shuffle_within(pl_stream *stream, const pl_redraw_lists *l, size_t *value)
{
    for (size_t k = 0; k < l->n; k++)
        for (size_t i = l->first[k + 1] - l->first[k]; i > 1; i--) {
            const size_t *member = l->member + l->first[k];
            size_t j = pl_stream_below(stream, (uint32_t)i), kept = value[member[i - 1]];

            value[member[i - 1]] = value[member[j]];
            value[member[j]] = kept;
        }
}

/* Which treatment plays which part: within kinds. */
static pl_code draw_labels(pl_redraw *r, size_t g, pl_stream *stream, size_t *home)
{
    pl_draft *f = &r->f;
    size_t *part = PL_NEWN(r->own, f->v, size_t);
    pl_redraw_keyed *all = PL_NEWN(r->own, f->v, pl_redraw_keyed);
    pl_redraw_lists kinds;

    if (!part || !all)
        return pl_nomem(f->d);
    for (size_t i = 0; i < f->v; i++) {
        part[i] = i;
        all[i] = (pl_redraw_keyed){ { .kind = f->kind[f->row_of[g * f->v + i]] }, i };
    }
    if (!pl_redraw_list_up(r->own, all, f->v, &kinds))
        return pl_nomem(f->d);
    shuffle_within(stream, &kinds, part);
    for (size_t u = 0; u < f->nunit; u++)
        if (f->units[u].group == g)
            home[u] = part[home[u]];
    return PL_OK;
}

/* Which set lies on which board: sets of one size change places. */
static pl_code draw_sets(pl_redraw *r, size_t g, pl_stream *stream, size_t *home)
{
    pl_draft *f = &r->f;
    size_t *was = PL_NEWN(r->own, f->nunit, size_t), *set_of = PL_NEWN(r->own, f->nparcel, size_t);
    pl_redraw_keyed *all = PL_NEWN(r->own, f->nparcel, pl_redraw_keyed);
    size_t n = 0;
    pl_redraw_lists sizes;

    if (!was || !set_of || !all)
        return pl_nomem(f->d);
    memcpy(was, home, f->nunit * sizeof *was);
    for (size_t p = 0; p < f->nparcel; p++) {
        set_of[p] = p;
        if (f->parcel_group[p] == g)
            all[n++] = (pl_redraw_keyed){ { .kind = r->first_of[p + 1] - r->first_of[p] }, p };
    }
    if (!pl_redraw_list_up(r->own, all, n, &sizes))
        return pl_nomem(f->d);
    shuffle_within(stream, &sizes, set_of);
    for (size_t p = 0; p < f->nparcel; p++)
        for (size_t i = r->first_of[p]; i < r->first_of[p + 1]; i++)
            home[i] = was[r->first_of[set_of[p]] + i - r->first_of[p]];
    return PL_OK;
}

static pl_code draw_homes(pl_redraw *r, pl_stream *stream)
{
    pl_draft *f = &r->f;
    size_t *home = PL_NEWN(r->own, f->nunit, size_t);
    pl_code rc = PL_OK;

    if (!home)
        return pl_nomem(f->d);
    memcpy(home, r->base, f->nunit * sizeof *home);
    for (size_t g = 0; g < f->ngroup && !rc; g++) {
        if (pl_redraw_whole(f, g))
            continue;
        rc = draw_labels(r, g, stream, home);
        if (!rc && pl_redraw_one_kind(f, g))
            rc = draw_sets(r, g, stream, home);
    }
    shuffle_within(stream, &r->parcels, home);
    for (size_t u = 0; u < f->nunit; u++) {
        f->units[u].home = f->units[u].local = home[u];
        f->units[u].treatment = f->row_of[f->units[u].group * f->v + home[u]];
    }
    return rc;
}

/* Runs shared out anew; then within boards, for the sessions to balance. */
static pl_code draw_runs(pl_redraw *r, pl_stream *stream)
{
    pl_draft *f = &r->f;
    size_t *home = PL_NEWN(r->own, f->nunit, size_t);
    pl_code rc = home ? pl_draft_runs_again(f, stream) : pl_nomem(f->d);

    if (rc)
        return rc;
    for (size_t u = 0; u < f->nunit; u++)
        home[u] = f->units[u].local;
    shuffle_within(stream, &r->parcels, home);
    for (size_t u = 0; u < f->nunit; u++) {
        f->units[u].home = f->units[u].local = home[u];
        f->units[u].treatment = f->row_of[f->units[u].group * f->v + home[u]];
    }
    return PL_OK;
}

typedef struct cell { /* of a board and a session: one glue-up */
    int board;
    size_t session, unit;
} cell;

static int by_cell(const void *left, const void *right)
{
    const cell *a = left, *b = right;

    if (a->board != b->board)
        return a->board < b->board ? -1 : 1;
    return (a->session > b->session) - (a->session < b->session);
}

static cell *cells_of(pl_redraw *r)
{
    pl_draft *f = &r->f;
    cell *all = PL_NEWN(r->own, f->nunit, cell);

    for (size_t u = 0; all && u < f->nunit; u++)
        all[u] = (cell){ f->units[u].board, f->units[u].session, u };
    if (all && f->nunit)
        qsort(all, f->nunit, sizeof *all, by_cell);
    return all;
}

/* Rows and columns dealt anew, and brought back to the glue-ups that lie in their cells. */
static pl_code draw_columns(pl_redraw *r, pl_stream *stream)
{
    pl_draft *f = &r->f;
    pl_draft_unit *was = PL_NEWN(r->own, f->nunit, pl_draft_unit);
    cell *old = cells_of(r), *now;
    bool *in = PL_NEWN(r->own, f->nparcel, bool);
    size_t n = 0;
    pl_code rc;

    f->columns = PL_NEWN(r->own, f->nparcel, uint32_t);
    if (!was || !old || !in || !f->columns)
        return pl_nomem(f->d);
    for (size_t k = 0; k < f->nsession; k++) { /* boards that begin together: one batch */
        size_t from = n;

        for (size_t u = 0; u < f->nunit; u++)
            if (f->units[u].session == k && !in[f->units[u].parcel]) {
                in[f->units[u].parcel] = true;
                f->columns[n++] = (uint32_t)f->units[u].parcel;
            }
        pl_stream_shuffle(stream, f->columns + from, n - from);
    }
    memcpy(was, f->units, f->nunit * sizeof *was);
    rc = draw_homes(r, stream);
    if (!rc)
        rc = pl_draft_deal(f, stream);
    now = rc ? NULL : cells_of(r);
    if (!rc && !now)
        rc = pl_nomem(f->d);
    for (size_t i = 0; !rc && now && i < f->nunit; i++) {
        pl_draft_unit *unit = &was[old[i].unit];

        if (now[i].board != old[i].board || now[i].session != old[i].session)
            return pl_fail(f->d, PL_EUNFIT, r->s->name,
                           .found = "rows and columns of another shape",
                           .expected = "the plan's own");
        unit->local = f->units[now[i].unit].local;
        unit->treatment = f->units[now[i].unit].treatment;
    }
    memcpy(f->units, was, f->nunit * sizeof *was);
    f->columns = NULL;
    return rc;
}

/* Treatment t with the levels of one layer taken from treatment `from`: all combinations are made,
 * the last factor changing fastest. */
static size_t with_setting(const pl_draft *f, size_t t, size_t from, unsigned layer)
{
    size_t n = f->s->nfactor, at = 0;

    for (size_t k = 0; k < n; k++)
        at = at * f->s->factors[k].nlevel +
             (size_t)f->levels[(pl_study_layer_of(f->s, k) == layer ? from : t) * n + k];
    return at;
}

/* Stretches of one row (of one outer stretch) change settings: which of the layer's combinations
 * each gets is drawn. */
bool pl_redraw_settings_open(pl_redraw *r, unsigned layer, pl_redraw_settings *out)
{
    pl_draft *f = &r->f;
    size_t nkey = f->nkey[layer];
    pl_redraw_settings s = { .layer = layer, .each = nkey / (layer ? f->nkey[0] : 1) };

    s.nset = f->n * nkey / s.each;
    s.one = PL_NEWN(r->own, nkey, size_t);
    s.place = PL_NEWN(r->own, nkey, size_t);
    s.drawn = pl_arena_get(r->own, s.nset, s.each * sizeof *s.drawn);
    if (!s.one || !s.place || !s.drawn)
        return false;
    for (size_t t = f->ntreatment; t-- > 0;)
        s.one[f->key[layer][t]] = t;  /* a treatment of each combination */
    for (size_t k = 0; k < nkey; k++) /* its place among those of the same outer one */
        for (size_t i = 0; i < k; i++)
            s.place[k] += !layer || f->key[0][s.one[i]] == f->key[0][s.one[k]];
    for (size_t i = 0; i < s.nset * s.each; i++)
        s.drawn[i] = (uint32_t)(i % s.each);
    *out = s;
    return true;
}

void pl_redraw_settings_apply(const pl_redraw *r, const pl_redraw_settings *s, size_t *treatment)
{
    const pl_draft *f = &r->f;
    size_t nkey = f->nkey[s->layer];

    for (size_t i = 0; i < r->p->nglue_up; i++) {
        const pl_draft_unit *u = r->unit_of[i] == SIZE_MAX ? NULL : &f->units[r->unit_of[i]];
        size_t set, to, k = 0;

        if (!u)
            continue;
        set = s->layer ? u->stretch[0] : u->stretch[0] / nkey;
        to = s->drawn[set * s->each + s->place[u->stretch[s->layer] % nkey]];
        while (s->place[k] != to)
            k++; /* any of that place has the layer's levels */
        treatment[i] = with_setting(f, treatment[i], s->one[k], s->layer);
    }
}

static pl_code draw_settings(pl_redraw *r, unsigned layer, pl_stream *stream, size_t *treatment)
{
    pl_redraw_settings s;

    if (!pl_redraw_settings_open(r, layer, &s))
        return pl_nomem(r->f.d);
    for (size_t i = 0; i < s.nset; i++)
        pl_stream_shuffle(stream, s.drawn + i * s.each, (uint32_t)s.each);
    pl_redraw_settings_apply(r, &s, treatment);
    return PL_OK;
}

/* One assignment, the guard not asked. */
static pl_code draw_one(pl_redraw *r, pl_stream *stream, size_t *treatment)
{
    pl_mark mark = pl_arena_mark(r->own);
    pl_draft *f = &r->f;
    pl_code rc = PL_OK;

    switch (r->way) {
    case PL_REDRAW_SETS:
        rc = draw_homes(r, stream);
        if (!rc && f->split)
            rc = pl_draft_balance(f);
        break;
    case PL_REDRAW_RUNS:
        rc = draw_runs(r, stream);
        if (!rc && f->split)
            rc = pl_draft_balance(f);
        break;
    case PL_REDRAW_COLUMNS:
        rc = draw_columns(r, stream);
        break;
    case PL_REDRAW_SQUARE:
        rc = pl_draft_square_deal(f, stream);
        break;
    case PL_REDRAW_CELLS:
    case PL_REDRAW_SPLIT:
        break;
    }
    for (size_t i = 0; i < r->p->nglue_up; i++)
        treatment[i] = r->unit_of[i] == SIZE_MAX || r->way == PL_REDRAW_CELLS ||
                               r->way == PL_REDRAW_SPLIT
                           ? r->p->glue_ups[i].treatment
                           : pl_draft_first_like(f, f->units[r->unit_of[i]].treatment);
    shuffle_within(stream, &r->cells, treatment);
    for (unsigned l = 0; l < f->nlayer && r->way == PL_REDRAW_SPLIT && !rc; l++)
        if (pl_redraw_layer(f, l) && (!r->by_layer || l == r->layer))
            rc = draw_settings(r, l, stream, treatment);
    pl_arena_reset(r->own, mark);
    return rc;
}

void pl_redraw_look(pl_redraw *r, const size_t *treatment, pl_guard_seen *seen)
{
    for (size_t i = 0; i < r->nordered; i++)
        r->treatment_of[i] = treatment[r->in_order[i]];
    pl_guard_look(&r->guard, r->treatment_of, r->session_of, r->nordered, r->room, seen);
}

void pl_redraw_follow(const pl_redraw *r, size_t *treatment)
{
    for (size_t i = 0; i < r->p->nglue_up; i++) /* what is made again stands behind the lost one */
        if (r->follows[i] != SIZE_MAX)
            treatment[i] = treatment[r->follows[i]];
}

/* The plan found no order that its guard takes and kept the nearest of so many. */
static pl_code draw_nearest(pl_redraw *r, pl_stream *stream, size_t *treatment)
{
    pl_guard_seen best = { SIZE_MAX, 0 }, seen;
    size_t *now = PL_NEWN(r->own, r->p->nglue_up, size_t);
    pl_code rc = now ? PL_OK : pl_nomem(r->f.d);

    for (unsigned draw = 0; !rc && now && draw < PL_PLAN_ORDER_DRAWS_MOST; draw++) {
        rc = draw_one(r, stream, now);
        pl_redraw_look(r, now, &seen);
        if (pl_guard_nearer(&seen, &best)) {
            best = seen;
            memcpy(treatment, now, r->p->nglue_up * sizeof *now);
        }
    }
    return rc;
}

pl_code pl_redraw_draw(pl_redraw *r, pl_stream *stream, size_t *treatment, pl_diags *d)
{
    pl_mark mark = pl_arena_mark(r->own);
    bool taken = false;
    pl_guard_seen seen;
    pl_code rc = PL_OK;

    r->f.d = d;
    if (!r->guard_met) {
        rc = draw_nearest(r, stream, treatment);
        pl_arena_reset(r->own, mark);
        pl_redraw_follow(r, treatment);
        return rc;
    }
    for (unsigned i = 0; i < TRIES_MOST && !rc && !taken; i++) {
        rc = draw_one(r, stream, treatment);
        pl_redraw_look(r, treatment, &seen);
        taken = pl_guard_takes(&r->guard, &seen);
    }
    for (size_t i = 0; i < r->p->nglue_up && !taken; i++)
        treatment[i] = r->p->glue_ups[i].treatment;
    pl_redraw_follow(r, treatment);
    return rc;
}
