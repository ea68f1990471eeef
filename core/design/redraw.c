/* Drawing a plan's treatments anew. The draft is made again from the plan's seed and held
 * against the plan; where it is the plan's, its own steps are taken with another stream. */
#include "design/redraw.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "design/plan_make.h"
#include "design/redraw_ways.h"

#define TRIES_MOST 100000u /* draws until the guard takes one; then the plan's own stands */

typedef struct lists { /* of glue-ups or units that change treatments among themselves */
    size_t n, *first, *member;
} lists;

struct pl_redraw {
    const pl_study *s;
    const pl_plan *p;
    pl_arena *own; /* the draft's memory */
    pl_draft f;
    bool drafted; /* f is the plan's */
    pl_redraw_way way;
    size_t *unit_of;  /* nglue_up: of the draft; SIZE_MAX: none */
    size_t *follows;  /* nglue_up: the one it stands in for; SIZE_MAX: none */
    bool *moves;      /* nglue_up: gets a treatment of the draw by itself */
    lists cells;      /* of glue-ups */
    lists parcels;    /* of units: of one parcel and kind */
    size_t *base;     /* nunit: home of each unit as the plan drew it */
    size_t *first_of; /* nparcel + 1: units of each parcel */
    pl_guard guard;
    bool guard_met;     /* by the plan's own order */
    size_t *in_order;   /* glue-ups whose order is guarded */
    size_t *session_of; /* of these */
    size_t nordered;
    size_t *treatment_of; /* of these: room */
    int *room;            /* of these */
};

static void drop_arena(void *arena)
{
    pl_arena_free(arena);
}

/* ---------------------------------------------------------------- opening -- */

static bool fixed(const pl_glue_up *g)
{
    return g->spare || g->reference || g->pair;
}

static size_t first_draw(const pl_plan *p)
{
    size_t n = 0;

    for (size_t i = 0; i < p->nglue_up; i++)
        n += !fixed(&p->glue_ups[i]) && !p->glue_ups[i].instead;
    return p->ntreatment ? n / p->ntreatment : 0;
}

static pl_code make_draft(pl_redraw *r, pl_diags *d)
{
    static pl_code (*const steps[])(pl_draft *) = {
        pl_draft_treatments, pl_draft_effects, pl_draft_boards, pl_draft_slots, pl_draft_order,
    };
    const pl_plan *p = r->p;
    bool known = p->drawn.glue_ups_per_level > 0;
    pl_code rc = PL_OK;

    r->f = (pl_draft){
        .s = r->s,
        .points = p->points.at ? &p->points : NULL,
        .a = r->own,
        .scratch = r->own,
        .d = d,
        .seed = known ? p->drawn.seed : p->seed,
        .n = known ? p->drawn.glue_ups_per_level : first_draw(p),
        .reserve = true,
    };
    if (!r->f.n)
        return PL_EUNFIT;
    for (size_t i = 0; !rc && i < sizeof steps / sizeof *steps; i++)
        rc = steps[i](&r->f);
    return rc;
}

/* Is the draft what the plan holds? Then unit_of is filled. */
static bool held_against(pl_redraw *r)
{
    const pl_draft *f = &r->f;
    const pl_plan *p = r->p;

    if (p->ntreatment != f->ntreatment || p->nfactor != r->s->nfactor ||
        memcmp(p->treatments, f->levels, p->ntreatment * p->nfactor * sizeof *f->levels) != 0)
        return false;
    for (size_t i = 0, at = 0; i < f->nunit; i++, at++) {
        const pl_draft_unit *u = &f->units[f->order[i]];
        const pl_glue_up *g;

        while (at < p->nglue_up && (fixed(&p->glue_ups[at]) || p->glue_ups[at].instead))
            at++;
        if (at == p->nglue_up)
            return false;
        g = &p->glue_ups[at];
        if (g->treatment != pl_draft_first_like(f, u->treatment) || g->session != u->session + 1 ||
            g->board != (u->board < 0 ? -1 : f->boards[u->board].place))
            return false;
        r->unit_of[at] = f->order[i];
    }
    return true;
}

typedef struct keyed {
    pl_cell_key key;
    size_t member;
} keyed;

static int by_key(const void *left, const void *right)
{
    const keyed *a = left, *b = right;
    int c = pl_cell_compare(&a->key, &b->key);

    return c ? c : (a->member > b->member) - (a->member < b->member);
}

/* Members of one key become one list. */
static bool list_up(pl_arena *a, keyed *all, size_t n, lists *out)
{
    out->first = PL_NEWN(a, n + 1, size_t);
    out->member = PL_NEWN(a, n, size_t);
    out->n = 0;
    if (!out->first || !out->member)
        return false;
    if (n)
        qsort(all, n, sizeof *all, by_key);
    for (size_t i = 0; i < n; i++) {
        if (!i || pl_cell_compare(&all[i].key, &all[i - 1].key))
            out->first[out->n++] = i;
        out->member[i] = all[i].member;
    }
    out->first[out->n] = n;
    return true;
}

/* What the draft does not explain changes treatments within board, session and press. */
static pl_cell_key key_of(const pl_redraw *r, size_t i)
{
    const pl_glue_up *g = &r->p->glue_ups[i];
    int with = pl_study_with_board(r->s);

    if (r->unit_of[i] != SIZE_MAX)
        return pl_cell_of_unit(&r->f, r->unit_of[i]);
    return (pl_cell_key){
        .other = true,
        .group = with < 0 ? 0
                          : (size_t)r->p->treatments[g->treatment * r->p->nfactor + (size_t)with],
        .board = g->board,
        .session = g->session,
        .kind = (size_t)(g->press + 1),
    };
}

/* Cells are drawn within unless the draft's own search gives the treatments. */
static bool by_search(const pl_redraw *r, size_t i)
{
    return r->unit_of[i] != SIZE_MAX && r->way != PL_REDRAW_CELLS && r->way != PL_REDRAW_SPLIT &&
           (r->way != PL_REDRAW_SETS || r->f.split) && (r->way != PL_REDRAW_RUNS || r->f.split);
}

static bool open_cells(pl_redraw *r)
{
    keyed *all = PL_NEWN(r->own, r->p->nglue_up, keyed);
    size_t n = 0;

    for (size_t i = 0; all && i < r->p->nglue_up; i++)
        if (r->moves[i] && !by_search(r, i))
            all[n++] = (keyed){ key_of(r, i), i };
    return all && list_up(r->own, all, n, &r->cells);
}

/* Parcels stand one behind the other in the draft's units. */
static bool open_parcels(pl_redraw *r)
{
    pl_draft *f = &r->f;
    keyed *all = PL_NEWN(r->own, f->nunit, keyed);

    r->base = PL_NEWN(r->own, f->nunit, size_t);
    r->first_of = PL_NEWN(r->own, f->nparcel + 1, size_t);
    if (!all || !r->base || !r->first_of)
        return false;
    for (size_t u = 0; u < f->nunit; u++) {
        const pl_draft_unit *unit = &f->units[u];
        size_t home = f->row_of[unit->group * f->v + unit->home];

        r->base[u] = unit->home;
        r->first_of[unit->parcel + 1] = u + 1;
        all[u] = (keyed){ { .session = unit->parcel, .kind = f->kind[home] }, u };
    }
    return list_up(r->own, all, f->nunit, &r->parcels);
}

/* The guard as the plan kept it; an order that is none of the draft's keeps the bound that
 * stands in its health. */
static pl_code open_guard(pl_redraw *r, pl_diags *d)
{
    const pl_plan *p = r->p;
    pl_guard_seen seen;
    pl_code rc;

    r->in_order = PL_NEWN(r->own, p->nglue_up, size_t);
    r->session_of = PL_NEWN(r->own, p->nglue_up, size_t);
    r->treatment_of = PL_NEWN(r->own, p->nglue_up, size_t);
    r->room = PL_NEWN(r->own, p->nglue_up, int);
    if (!r->in_order || !r->session_of || !r->treatment_of || !r->room)
        return pl_nomem(d);
    for (size_t i = 0; i < p->nglue_up; i++)
        if (r->moves[i] && (!r->drafted || r->unit_of[i] != SIZE_MAX)) {
            r->in_order[r->nordered] = i;
            r->session_of[r->nordered] = p->glue_ups[i].session;
            r->treatment_of[r->nordered++] = p->glue_ups[i].treatment;
        }
    rc = pl_guard_open(r->own, r->s, p->treatments, p->ntreatment, r->nordered, &r->guard, d);
    if (rc)
        return rc;
    if (!r->drafted) {
        r->guard.bound_squared = p->health.order_bound * p->health.order_bound * (1 + 1e-12);
        if (isnan(r->guard.bound_squared)) {
            r->guard.nrank = 0;
            r->guard.factor = -1;
        }
    }
    pl_guard_look(&r->guard, r->treatment_of, r->session_of, r->nordered, r->room, &seen);
    r->guard_met = pl_guard_takes(&r->guard, &seen);
    return PL_OK;
}

static size_t stands_in_for(const pl_plan *p, const pl_glue_up *g)
{
    const pl_glue_up *was = g->instead ? pl_plan_find_glue_up(p, g->instead) : NULL;

    return was ? (size_t)(was - p->glue_ups) : SIZE_MAX;
}

pl_code pl_redraw_open(pl_arena *a, const pl_study *s, const pl_plan *p, pl_redraw **out,
                       pl_diags *d)
{
    pl_redraw *r = PL_NEW(a, pl_redraw);
    pl_diags unsaid;
    pl_code rc;

    if (!r)
        return pl_nomem(d);
    *r = (pl_redraw){ .s = s, .p = p, .own = pl_arena_new(0) };
    r->own = r->own ? pl_arena_own(a, r->own, drop_arena) : NULL;
    if (!r->own)
        return pl_nomem(d);
    r->unit_of = PL_NEWN(r->own, p->nglue_up, size_t);
    r->follows = PL_NEWN(r->own, p->nglue_up, size_t);
    r->moves = PL_NEWN(r->own, p->nglue_up, bool);
    if (!r->unit_of || !r->follows || !r->moves)
        return pl_nomem(d);
    for (size_t i = 0; i < p->nglue_up; i++) {
        r->unit_of[i] = SIZE_MAX;
        r->follows[i] = stands_in_for(p, &p->glue_ups[i]);
        r->moves[i] = !fixed(&p->glue_ups[i]) && r->follows[i] == SIZE_MAX;
    }
    pl_diags_init(&unsaid, r->own); /* a draft that is not the plan's is no fault */
    rc = make_draft(r, &unsaid);
    if (rc == PL_ENOMEM)
        return pl_nomem(d);
    r->drafted = !rc && held_against(r);
    r->way = r->drafted ? pl_redraw_way_of(&r->f) : PL_REDRAW_CELLS;
    for (size_t i = 0; !r->drafted && i < p->nglue_up; i++)
        r->unit_of[i] = SIZE_MAX;
    if (!open_cells(r) || (r->drafted && !open_parcels(r)))
        return pl_nomem(d);
    r->f.columns = NULL;
    rc = open_guard(r, d);
    if (!rc)
        *out = r;
    return rc;
}

bool pl_redraw_follows(const pl_redraw *r)
{
    return r->drafted && (r->way != PL_REDRAW_CELLS || pl_redraw_way_of(&r->f) == PL_REDRAW_SETS);
}

/* ---------------------------------------------------------------- drawing -- */

static void shuffle_within(pl_stream *stream, const lists *l, size_t *value)
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
    keyed *all = PL_NEWN(r->own, f->v, keyed);
    lists kinds;

    if (!part || !all)
        return pl_nomem(f->d);
    for (size_t i = 0; i < f->v; i++) {
        part[i] = i;
        all[i] = (keyed){ { .kind = f->kind[f->row_of[g * f->v + i]] }, i };
    }
    if (!list_up(r->own, all, f->v, &kinds))
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
    keyed *all = PL_NEWN(r->own, f->nparcel, keyed);
    size_t n = 0;
    lists sizes;

    if (!was || !set_of || !all)
        return pl_nomem(f->d);
    memcpy(was, home, f->nunit * sizeof *was);
    for (size_t p = 0; p < f->nparcel; p++) {
        set_of[p] = p;
        if (f->parcel_group[p] == g)
            all[n++] = (keyed){ { .kind = r->first_of[p + 1] - r->first_of[p] }, p };
    }
    if (!list_up(r->own, all, n, &sizes))
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
static pl_code draw_settings(pl_redraw *r, unsigned layer, pl_stream *stream, size_t *treatment)
{
    pl_draft *f = &r->f;
    size_t each = f->nkey[layer] / (layer ? f->nkey[0] : 1);
    size_t nset = f->n * f->nkey[layer] / each, nkey = f->nkey[layer];
    size_t *one = PL_NEWN(r->own, nkey, size_t), *place = PL_NEWN(r->own, nkey, size_t);
    uint32_t *drawn = pl_arena_get(r->own, nset, each * sizeof *drawn);

    if (!one || !place || !drawn)
        return pl_nomem(f->d);
    for (size_t t = f->ntreatment; t-- > 0;)
        one[f->key[layer][t]] = t;    /* a treatment of each combination */
    for (size_t k = 0; k < nkey; k++) /* its place among those of the same outer one */
        for (size_t i = 0; i < k; i++)
            place[k] += !layer || f->key[0][one[i]] == f->key[0][one[k]];
    for (size_t i = 0; i < nset; i++) {
        for (size_t k = 0; k < each; k++)
            drawn[i * each + k] = (uint32_t)k;
        pl_stream_shuffle(stream, drawn + i * each, (uint32_t)each);
    }
    for (size_t i = 0; i < r->p->nglue_up; i++) {
        const pl_draft_unit *u = r->unit_of[i] == SIZE_MAX ? NULL : &f->units[r->unit_of[i]];
        size_t set, to, k = 0;

        if (!u)
            continue;
        set = layer ? u->stretch[0] : u->stretch[0] / nkey;
        to = drawn[set * each + place[u->stretch[layer] % nkey]];
        while (place[k] != to)
            k++; /* any of that place has the layer's levels */
        treatment[i] = with_setting(f, treatment[i], one[k], layer);
    }
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
        rc = pl_redraw_layer(f, l) ? draw_settings(r, l, stream, treatment) : PL_OK;
    pl_arena_reset(r->own, mark);
    return rc;
}

static void look(pl_redraw *r, const size_t *treatment, pl_guard_seen *seen)
{
    for (size_t i = 0; i < r->nordered; i++)
        r->treatment_of[i] = treatment[r->in_order[i]];
    pl_guard_look(&r->guard, r->treatment_of, r->session_of, r->nordered, r->room, seen);
}

static void follow(const pl_redraw *r, size_t *treatment)
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
        look(r, now, &seen);
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
        follow(r, treatment);
        return rc;
    }
    for (unsigned i = 0; i < TRIES_MOST && !rc && !taken; i++) {
        rc = draw_one(r, stream, treatment);
        look(r, treatment, &seen);
        taken = pl_guard_takes(&r->guard, &seen);
    }
    for (size_t i = 0; i < r->p->nglue_up && !taken; i++)
        treatment[i] = r->p->glue_ups[i].treatment;
    follow(r, treatment);
    return rc;
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
    const lists *l = &r->cells;

    for (size_t k = 0; k < l->n; k++)
        if (next_arrangement(treatment, l->member + l->first[k], l->first[k + 1] - l->first[k]))
            return true;
    return false;
}

/* Each cell's treatments in rising order. */
static bool first_assignment(pl_redraw *r, size_t *treatment)
{
    const lists *l = &r->cells;
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

pl_allocations pl_redraw_count(const pl_redraw *r)
{
    pl_allocations n = pl_allocations_one();
    pl_mark mark = pl_arena_mark(r->own);
    size_t *value = PL_NEWN(r->own, r->p->nglue_up, size_t);
    size_t *count = PL_NEWN(r->own, r->p->nglue_up, size_t);
    pl_draft f = r->f;
    bool at_most;

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
    pl_guard_seen seen;

    *taken = 0;
    *listed = r->guard_met && *n.exact && strtod(n.exact, NULL) <= (double)most &&
              (!r->drafted || pl_redraw_only_cells(&r->f, r->way));
    if (!treatment || (*listed && !first_assignment(r, treatment)))
        return pl_nomem(d);
    for (; *listed && more; more = next_assignment(r, treatment)) {
        look(r, treatment, &seen);
        if (!pl_guard_takes(&r->guard, &seen))
            continue;
        (*taken)++;
        follow(r, treatment);
        going = going && (!visit || visit(context, treatment));
    }
    pl_arena_reset(r->own, mark);
    return PL_OK;
}
