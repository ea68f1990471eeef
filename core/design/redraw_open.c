/* A plan opened to be drawn anew: its draft made again from its seed and held against it, and what
 * may change places. Drawing is redraw.c. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "design/plan_make.h"
#include "design/redraw_inner.h"

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

static int by_key(const void *left, const void *right)
{
    const pl_redraw_keyed *a = left, *b = right;
    int c = pl_cell_compare(&a->key, &b->key);

    return c ? c : (a->member > b->member) - (a->member < b->member);
}

/* Members of one key become one list. */
bool pl_redraw_list_up(pl_arena *a, pl_redraw_keyed *all, size_t n, pl_redraw_lists *out)
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

bool pl_redraw_open_cells(pl_redraw *r, const size_t *apart, size_t napart)
{
    pl_redraw_keyed *all = PL_NEWN(r->own, r->p->nglue_up, pl_redraw_keyed);
    size_t n = 0;

    for (size_t i = 0; all && i < r->p->nglue_up; i++)
        if (r->moves[i] && !by_search(r, i)) {
            all[n] = (pl_redraw_keyed){ key_of(r, i), i };
            if (apart)
                all[n].key.kind = all[n].key.kind * napart + apart[i];
            n++;
        }
    return all && pl_redraw_list_up(r->own, all, n, &r->cells);
}

/* Parcels stand one behind the other in the draft's units. */
static bool open_parcels(pl_redraw *r)
{
    pl_draft *f = &r->f;
    pl_redraw_keyed *all = PL_NEWN(r->own, f->nunit, pl_redraw_keyed);

    r->base = PL_NEWN(r->own, f->nunit, size_t);
    r->first_of = PL_NEWN(r->own, f->nparcel + 1, size_t);
    if (!all || !r->base || !r->first_of)
        return false;
    for (size_t u = 0; u < f->nunit; u++) {
        const pl_draft_unit *unit = &f->units[u];
        size_t home = f->row_of[unit->group * f->v + unit->home];

        r->base[u] = unit->home;
        r->first_of[unit->parcel + 1] = u + 1;
        all[u] = (pl_redraw_keyed){ { .session = unit->parcel, .kind = f->kind[home] }, u };
    }
    return pl_redraw_list_up(r->own, all, f->nunit, &r->parcels);
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
    if (!pl_redraw_open_cells(r, NULL, 0) || (r->drafted && !open_parcels(r)))
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
