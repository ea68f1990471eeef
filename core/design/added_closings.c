/* Closings of glue-ups added to a frozen plan: in the order they stand, each in the first one from
 * the beginning that its press has; reference joints in every session, and pairs that bridge two
 * rigs. Which glue-ups and of what wood is for plan_repair.c and plan_grow.c. */
#include <string.h>

#include "design/added.h"

static bool takes(const pl_draft *f, size_t slot, size_t treatment)
{
    const size_t np = f->s->npress ? f->s->npress : 1;
    const int press = f->slots[slot].press;

    return f->may[treatment * np + (press < 0 ? 0 : (size_t)press)];
}

/* The treatment of the reference joint; ntreatment: the plan has none like it. */
static size_t reference_row(const pl_added *x)
{
    const size_t n = x->p->nfactor;
    size_t t = 0;

    while (t < x->p->ntreatment &&
           memcmp(x->p->treatments + t * n, x->f.s->reference.levels, n * sizeof(int)))
        t++;
    return t;
}

/* The treatments of the new plan in the draft, as pl_draft_slots reads them. */
static pl_code begin_draft(pl_added *x, bool bridge)
{
    const size_t nlevel = x->p->ntreatment * x->p->nfactor;

    x->f.ntreatment = x->p->ntreatment;
    x->f.levels = PL_NEWN(x->f.scratch, nlevel, int);
    if (!x->f.levels)
        return pl_nomem(x->f.d);
    memcpy(x->f.levels, x->p->treatments, nlevel * sizeof *x->f.levels);
    for (size_t i = 0; i < x->n; i++)
        x->f.nunit += !x->units[i].keep;
    x->f.nunit += 2 * bridge; /* a pair alone in a session needs room */
    if (x->f.s->reference.given) {
        x->f.nunit += x->f.s->reference.per_session;
        x->f.reference_row = reference_row(x);
    }
    return pl_draft_slots(&x->f);
}

/* All that is hard to change is the same, out to this layer. */
bool pl_added_same_setting(const pl_added *x, size_t a, size_t b, unsigned layer)
{
    const pl_plan *p = x->p;

    for (size_t f = 0; f < p->nfactor; f++)
        if (pl_study_layer_of(x->f.s, f) <= layer &&
            p->treatments[a * p->nfactor + f] != p->treatments[b * p->nfactor + f])
            return false;
    return true;
}

/* What is hard to change is not changed to and fro: the next one is the first drawn of those that
 * need no change, in the innermost layer first. */
void pl_added_together(pl_added *x)
{
    unsigned nlayer = pl_study_layers(x->f.s);
    size_t n = 0; /* those of pairs stand behind */

    while (n < x->n && !x->units[n].pair)
        n++;
    for (size_t i = 1; i < n && nlayer; i++) {
        pl_added_unit kept;
        size_t pick = i;

        for (unsigned inner = nlayer; inner-- > 0;) {
            size_t k = i;

            while (k < n && !pl_added_same_setting(x, x->units[i - 1].treatment,
                                                   x->units[k].treatment, inner))
                k++;
            if (k < n) {
                pick = k;
                break;
            }
        }
        kept = x->units[pick];
        memmove(x->units + i + 1, x->units + i, (pick - i) * sizeof *x->units);
        x->units[i] = kept;
    }
}

/* ---------------------------------------------------------------- placing ---- */

typedef struct placing {
    pl_added *x;
    bool *taken; /* nsession_most x nslot */
    size_t nsession;
} placing;

static bool press_takes(const pl_draft *f, size_t slot, int rig)
{
    const pl_press *press;

    if (f->slots[slot].press < 0 || rig < 0)
        return true;
    press = &f->s->presses[f->slots[slot].press];
    for (size_t i = 0; i < press->nrig; i++)
        if (press->rigs[i] == rig)
            return true;
    return !press->nrig;
}

static void put(placing *w, pl_added_unit *u, size_t session, size_t slot)
{
    w->taken[session * w->x->f.nslot + slot] = true;
    u->session = session;
    u->slot = slot;
}

/* The free closing of a session that is nearest to its `aim`-th; nslot: none. */
static size_t nearest_free(const placing *w, size_t session, size_t treatment, size_t aim)
{
    const pl_draft *f = &w->x->f;
    size_t best = f->nslot;

    for (size_t i = 0; i < f->nslot; i++) {
        size_t far = i > aim ? i - aim : aim - i, least = best > aim ? best - aim : aim - best;

        if (!w->taken[session * f->nslot + i] && takes(f, i, treatment) &&
            (best == f->nslot || far < least))
            best = i;
    }
    return best;
}

/* The reference joints of a session that has just been begun, `left` glue-ups to come: near the
 * middle of what it will hold. */
static void add_references(placing *w, size_t left)
{
    pl_added *x = w->x;
    const pl_draft *f = &x->f;
    size_t row = f->reference_row, held = left < f->nslot ? left : f->nslot;
    size_t session = w->nsession - 1;

    for (unsigned i = 0; f->s->reference.given && i < f->s->reference.per_session; i++) {
        pl_added_unit u = { .treatment = row, .board = -1, .reference = true };
        size_t aim = (2 * (size_t)i + 1) * held / (2 * (size_t)f->s->reference.per_session);
        size_t slot = row < f->ntreatment ? nearest_free(w, session, row, aim) : f->nslot;

        if (slot == f->nslot || !x->wood(x, &u, NULL)) {
            x->untied++;
            return;
        }
        put(w, &u, session, slot);
        x->units[x->n++] = u;
        x->nreference++;
    }
}

/* A single glue-up: pl_draft_slots saw that an empty session has a closing for it. */
static void place_single(placing *w, size_t unit, size_t left)
{
    pl_added_unit *u = &w->x->units[unit];
    const pl_draft *f = &w->x->f;
    size_t at = 0;

    while (w->taken[at] || !takes(f, at % f->nslot, u->treatment))
        at++;
    put(w, u, at / f->nslot, at % f->nslot);
    if (u->session >= w->nsession) {
        w->nsession = u->session + 1;
        add_references(w, left);
    }
}

static size_t free_for(const placing *w, size_t session, int rig, size_t not_this)
{
    const pl_draft *f = &w->x->f;
    size_t i = 0;

    while (i < f->nslot &&
           (w->taken[session * f->nslot + i] || i == not_this || !press_takes(f, i, rig)))
        i++;
    return i;
}

/* Both of a pair in one session. False: not even an empty one has closings for both. */
static bool place_pair(placing *w, size_t unit)
{
    for (size_t session = 0; session <= w->nsession; session++) {
        pl_added_unit *u = w->x->units + unit;
        size_t one = free_for(w, session, u[0].rig, SIZE_MAX);
        size_t other = free_for(w, session, u[1].rig, one);

        if (one == w->x->f.nslot || other == w->x->f.nslot)
            continue;
        put(w, &u[0], session, one);
        put(w, &u[1], session, other);
        if (session == w->nsession) {
            w->nsession++;
            add_references(w, 2);
        }
        return true;
    }
    return false;
}

/* ------------------------------------------------------------------ pairs ---- */

static bool made_by(const pl_added *x, int rig)
{
    for (size_t i = 0; i < x->n; i++)
        if (!x->units[i].keep && x->f.rig_of[x->units[i].treatment] == rig)
            return true;
    return false;
}

static bool of_bridge(const pl_bridge *b, int rig)
{
    return rig == b->one || rig == b->other;
}

/* Pairs of these two rigs that the plan has, and its highest number. */
static size_t pairs_made(const pl_added *x, const pl_bridge *b, unsigned *highest)
{
    size_t n = 0;

    for (size_t i = 0; i < x->old->nglue_up; i++) {
        const pl_glue_up *g = &x->old->glue_ups[i];

        *highest = g->pair > *highest ? g->pair : *highest;
        n += g->pair && of_bridge(b, g->rig);
    }
    return n / 2;
}

/* Room that the budget leaves for pairs beside what is in the plan and added. */
static size_t room_for_pairs(const pl_added *x)
{
    const pl_budget *b = &x->f.s->budget;
    size_t m = pl_study_specimens_per_glue_up(x->f.s), own = 0, n = PL_ADDED_PAIRS_MOST;

    for (size_t i = 0; i < x->old->nglue_up; i++)
        own += !x->old->glue_ups[i].spare;
    for (size_t i = 0; i < x->n; i++)
        own += !x->units[i].keep;
    if (b->specimens) {
        size_t left = b->specimens / m > own ? b->specimens / m - own : 0;

        n = left / 2 < n ? left / 2 : n;
    }
    while (n && b->press_s > 0 && pl_study_press_s(x->f.s, own + 2 * n) > b->press_s)
        n--;
    return n;
}

/* The k-th treatment of the plan with this pressure, of all woods in turn. */
static size_t row_with(const pl_added *x, int level, size_t k)
{
    const pl_plan *p = x->p;
    size_t n = 0;

    for (size_t t = 0; t < p->ntreatment; t++)
        n += p->treatments[t * p->nfactor + (size_t)x->f.pressed] == level;
    for (size_t t = 0, at = 0; t < p->ntreatment && n; t++)
        if (p->treatments[t * p->nfactor + (size_t)x->f.pressed] == level && at++ == k % n)
            return t;
    return p->ntreatment;
}

static bool add_pair(pl_added *x, const pl_bridge *b, unsigned number, size_t k)
{
    pl_added_unit one = { .treatment = row_with(x, b->level, k), .board = -1, .pair = number };
    pl_added_unit other = one;

    one.rig = b->one;
    other.rig = b->other;
    if (!x->wood(x, &one, NULL) || !x->wood(x, &other, &one))
        return false;
    x->units[x->n++] = one;
    x->units[x->n++] = other;
    x->npair++;
    return true;
}

/* At least one pair where both rigs have work again: a rig may have changed since. */
static pl_code add_pairs(pl_added *x)
{
    size_t room = room_for_pairs(x);
    unsigned number = 0;
    pl_code rc = pl_draft_bridges(&x->f);

    for (size_t i = 0; i < x->f.nbridge && !rc; i++) {
        const pl_bridge *b = &x->f.bridges[i];
        size_t made = pairs_made(x, b, &number), need = pl_draft_pairs_needed(x->f.s);

        if (b->level < 0 || !made_by(x, b->one) || !made_by(x, b->other))
            continue;
        need = need > made ? need - made : 1;
        for (size_t k = 0; k < need && room; k++, room--)
            if (!add_pair(x, b, ++number, k))
                break;
    }
    return rc;
}

pl_code pl_added_closings(pl_added *x, bool bridge)
{
    placing w = { .x = x };
    size_t n = x->n, left = 0, seats;
    pl_code rc = begin_draft(x, bridge);

    if (!rc && bridge)
        rc = add_pairs(x);
    if (rc)
        return rc;
    n = x->n;
    for (size_t i = 0; i < n; i++)
        left += !x->units[i].keep;
    seats = left + 1;
    w.taken = pl_arena_get(x->f.scratch, seats * x->f.nslot, sizeof *w.taken);
    if (!w.taken)
        return pl_nomem(x->f.d);
    for (size_t i = 0; i < n; i++)
        if (!x->units[i].keep && !x->units[i].pair)
            place_single(&w, i, left--);
    for (size_t i = 0; i + 1 < n; i++) {
        if (!x->units[i].pair)
            continue;
        if (!place_pair(&w, i++))
            return pl_fail(x->f.d, PL_EUNFIT, x->f.s->name,
                           .found = "a session without closings for both joints of a pair",
                           .expected = "two, one for each rig", .mend = "lengthen the session");
    }
    return PL_OK;
}
