/* Remaking lost glue-ups from spare joints. Which ones are lost is the caller's to say. */
#include "design/plan_repair.h"

#include <string.h>

#include "base/stream.h"
#include "design/draft.h"

typedef struct repair {
    const pl_study *s;
    const pl_plan *old;
    pl_plan *p;
    pl_draft f;      /* presses and closings, as for a new plan */
    size_t *lost;    /* those that are remade, n of them, in the order they are glued */
    size_t *spare;   /* of each: the spare glue-up it is made from; places in old */
    size_t *session; /* of each, from 0 */
    size_t *slot;
    size_t n;
    size_t nelsewhere; /* made from another board than the lost one */
    const char **cannot;
    size_t ncannot;
} repair;

static bool grow_cannot(repair *r, size_t more)
{
    const pl_health *h = &r->old->health;

    r->cannot = PL_NEWN(r->f.a, h->ncannot + more, const char *);
    for (size_t i = 0; r->cannot && i < h->ncannot; i++)
        r->cannot[i] = h->cannot[i];
    r->ncannot = h->ncannot;
    return r->cannot != NULL;
}

/* ------------------------------------------------------------------- wood ---- */

static const char *species_of(const repair *r, const pl_glue_up *g)
{
    const char *species = g->board >= 0 ? r->old->boards[g->board].species : NULL;

    return species ? species : "";
}

/* Without boards a spare's treatment tells what comes with its wood. */
static bool same_wood(const repair *r, const pl_glue_up *a, const pl_glue_up *b)
{
    const pl_plan *p = r->old;

    for (size_t f = 0; f < p->nfactor; f++)
        if (r->s->factors[f].comes_with_board && p->treatments[a->treatment * p->nfactor + f] !=
                                                     p->treatments[b->treatment * p->nfactor + f])
            return false;
    return !strcmp(species_of(r, a), species_of(r, b));
}

/* A free spare of the same board, or of the same wood; nglue_up when there is none. */
static size_t find_spare(const repair *r, const uint32_t *order, size_t nspare, const bool *taken,
                         size_t lost, bool own_board)
{
    const pl_glue_up *g = &r->old->glue_ups[lost];

    for (size_t i = 0; i < nspare; i++) {
        const pl_glue_up *x = &r->old->glue_ups[order[i]];

        if (!taken[order[i]] && same_wood(r, x, g) && (!own_board || x->board == g->board))
            return order[i];
    }
    return r->old->nglue_up;
}

/* Own boards first, for all, so that nobody takes another's last joint. */
static pl_code find_wood(repair *r, const size_t *lost, size_t n, uint64_t seed)
{
    const pl_plan *p = r->old;
    uint32_t *order = PL_NEWN(r->f.scratch, p->nglue_up, uint32_t);
    bool *taken = PL_NEWN(r->f.scratch, p->nglue_up, bool);
    size_t *from = PL_NEWN(r->f.scratch, n, size_t), nspare = 0;
    pl_stream stream;

    r->lost = PL_NEWN(r->f.scratch, n, size_t);
    r->spare = PL_NEWN(r->f.scratch, n, size_t);
    if (!order || !taken || !from || !r->lost || !r->spare || !grow_cannot(r, n + 2))
        return pl_nomem(r->f.d);
    for (size_t i = 0; i < p->nglue_up; i++)
        if (p->glue_ups[i].spare)
            order[nspare++] = (uint32_t)i;
    pl_stream_init(&stream, seed, PL_FOR_SPARES, 0);
    pl_stream_shuffle(&stream, order, nspare);
    for (size_t i = 0; i < n; i++)
        from[i] = p->nglue_up;
    for (int own_board = 1; own_board >= 0; own_board--)
        for (size_t i = 0; i < n; i++)
            if (from[i] == p->nglue_up) {
                from[i] = find_spare(r, order, nspare, taken, lost[i], own_board);
                if (from[i] < p->nglue_up)
                    taken[from[i]] = true;
            }
    for (size_t i = 0; i < n; i++) {
        const pl_glue_up *g = &p->glue_ups[lost[i]];

        if (from[i] < p->nglue_up) {
            r->nelsewhere += p->glue_ups[from[i]].board != g->board;
            r->lost[r->n] = lost[i];
            r->spare[r->n++] = from[i];
            continue;
        }
        r->cannot[r->ncannot] = pl_arena_printf(
            r->f.a, "%s is not made again: no spare joint%s%s is left", g->label,
            species_of(r, g)[0] ? " of " : "", species_of(r, g));
        if (!r->cannot[r->ncannot++])
            return pl_nomem(r->f.d);
    }
    if (r->n)
        return PL_OK;
    return pl_fail(r->f.d, PL_EUNFIT, r->s->name, .found = "no spare joint for what was lost",
                   .expected = "spare joints of the same wood",
                   .mend = "plan with more spare_joints another time; what is left can be fitted "
                           "as it is");
}

/* --------------------------------------------------------------- closings ---- */

/* In random order, each in the first closing from the beginning that its press has. */
static pl_code find_closings(repair *r, uint64_t seed)
{
    pl_draft *f = &r->f;
    size_t np = r->s->npress ? r->s->npress : 1;
    uint32_t *order = PL_NEWN(f->scratch, r->n, uint32_t);
    size_t *lost = PL_NEWN(f->scratch, r->n, size_t), *spare = PL_NEWN(f->scratch, r->n, size_t);
    bool *taken;
    pl_stream stream;
    pl_code rc = pl_draft_slots(f);

    if (rc)
        return rc;
    taken = pl_arena_get(f->scratch, r->n * f->nslot, sizeof *taken);
    r->session = PL_NEWN(f->scratch, r->n, size_t);
    r->slot = PL_NEWN(f->scratch, r->n, size_t);
    if (!order || !lost || !spare || !taken || !r->session || !r->slot)
        return pl_nomem(f->d);
    for (size_t i = 0; i < r->n; i++)
        order[i] = (uint32_t)i;
    pl_stream_init(&stream, seed, PL_FOR_GLUE_ORDER, 0);
    pl_stream_shuffle(&stream, order, r->n);
    for (size_t i = 0; i < r->n; i++) {
        size_t t = r->old->glue_ups[r->lost[order[i]]].treatment, at = 0;

        lost[i] = r->lost[order[i]];
        spare[i] = r->spare[order[i]];
        /* a closing of session at / nslot; pl_draft_slots saw that an empty one has it */
        while (taken[at] || !f->may[t * np + (f->slots[at % f->nslot].press < 0
                                                  ? 0
                                                  : (size_t)f->slots[at % f->nslot].press)])
            at++;
        taken[at] = true;
        r->session[i] = at / f->nslot;
        r->slot[i] = at % f->nslot;
    }
    r->lost = lost;
    r->spare = spare;
    return PL_OK;
}

/* By session and closing. */
static void sort_by_closing(repair *r)
{
    if (!r->session || !r->slot || !r->lost || !r->spare)
        return;
    for (size_t i = 1; i < r->n; i++)
        for (size_t k = i; k > 0; k--) {
            size_t *all[] = { r->session, r->slot, r->lost, r->spare };

            if (r->session[k - 1] < r->session[k] ||
                (r->session[k - 1] == r->session[k] && r->slot[k - 1] < r->slot[k]))
                break;
            for (size_t m = 0; m < sizeof all / sizeof *all; m++) {
                size_t x = all[m][k];

                all[m][k] = all[m][k - 1];
                all[m][k - 1] = x;
            }
        }
}

/* ------------------------------------------------------------ writing out ---- */

static pl_glue_up made_again(const repair *r, size_t i, unsigned glue_order)
{
    const pl_glue_up *lost = &r->old->glue_ups[r->lost[i]];
    const pl_slot *slot = &r->f.slots[r->slot[i]];
    pl_glue_up g = r->old->glue_ups[r->spare[i]];

    g.treatment = lost->treatment;
    g.session = r->old->nsession + 1 + (unsigned)r->session[i];
    g.press = slot->press;
    g.station = slot->station;
    g.rig = r->f.rig_of[lost->treatment];
    g.glue_order = glue_order;
    g.start_s = slot->start_s;
    g.spare = false;
    g.instead = lost->label;
    return g;
}

/* Glue-ups in glue order, spare ones behind them; specimens likewise. now: where each
 * glue-up of the old plan stands. */
static pl_code write_glue_ups(repair *r, size_t *now)
{
    const pl_plan *old = r->old;
    unsigned last = 0;
    size_t at = 0;

    r->p->glue_ups = PL_NEWN(r->f.a, old->nglue_up, pl_glue_up);
    if (!r->p->glue_ups)
        return pl_nomem(r->f.d);
    for (size_t i = 0; i < old->nglue_up; i++)
        now[i] = SIZE_MAX;
    for (size_t i = 0; i < old->nglue_up; i++)
        if (!old->glue_ups[i].spare) {
            last = old->glue_ups[i].glue_order > last ? old->glue_ups[i].glue_order : last;
            now[i] = at;
            r->p->glue_ups[at++] = old->glue_ups[i];
        }
    for (size_t i = 0; i < r->n; i++) {
        now[r->spare[i]] = at;
        r->p->glue_ups[at++] = made_again(r, i, last + 1 + (unsigned)i);
    }
    for (size_t i = 0; i < old->nglue_up; i++)
        if (now[i] == SIZE_MAX) {
            now[i] = at;
            r->p->glue_ups[at++] = old->glue_ups[i];
        }
    r->p->nsession = r->p->glue_ups[at - 1].session;
    for (size_t i = 0; i < old->nglue_up; i++)
        if (r->p->glue_ups[i].session > r->p->nsession)
            r->p->nsession = r->p->glue_ups[i].session;
    return PL_OK;
}

static pl_code write_specimens(repair *r, const size_t *now, uint64_t seed)
{
    const pl_plan *old = r->old;
    uint32_t *order = PL_NEWN(r->f.scratch, old->nspecimen, uint32_t);
    unsigned last = 0;
    size_t at = 0, n = 0;
    pl_stream stream;

    r->p->specimens = PL_NEWN(r->f.a, old->nspecimen, pl_specimen);
    if (!order || !r->p->specimens)
        return pl_nomem(r->f.d);
    for (size_t g = 0; g < old->nglue_up; g++)
        for (size_t i = 0; i < old->nspecimen; i++)
            if (now[old->specimens[i].glue_up] == g) {
                r->p->specimens[at] = old->specimens[i];
                r->p->specimens[at].glue_up = g;
                r->p->specimens[at].spare = r->p->glue_ups[g].spare;
                last = old->specimens[i].break_order > last ? old->specimens[i].break_order : last;
                at++;
            }
    for (size_t i = 0; i < at; i++)
        if (!r->p->specimens[i].spare && !r->p->specimens[i].break_order) {
            order[n] = (uint32_t)n + 1;
            n++;
        }
    pl_stream_init(&stream, seed, PL_FOR_BREAK_ORDER, 0);
    pl_stream_shuffle(&stream, order, n);
    for (size_t i = 0; i < at; i++)
        if (!r->p->specimens[i].spare && !r->p->specimens[i].break_order)
            r->p->specimens[i].break_order = last + order[--n];
    return PL_OK;
}

static pl_code write_words(repair *r)
{
    pl_arena *a = r->f.a;
    unsigned first = r->old->nsession + 1;

    r->p->chosen = pl_arena_printf(a, "%s; %zu glue-up%s made again from spare joints",
                                   r->old->chosen, r->n, r->n == 1 ? "" : "s");
    r->cannot[r->ncannot++] =
        first == r->p->nsession
            ? pl_arena_printf(a,
                              "session %u holds only what was made again: a good or bad day there "
                              "cannot be told from the joints made on it",
                              first)
            : pl_arena_printf(a,
                              "sessions %u to %u hold only what was made again: a good or bad day "
                              "there cannot be told from the joints made on it",
                              first, r->p->nsession);
    if (r->nelsewhere)
        r->cannot[r->ncannot++] = pl_arena_printf(
            a,
            "%zu of those made again come%s from another board than the lost one, for that has "
            "no spare joint left: within boards the levels are no longer even",
            r->nelsewhere, r->nelsewhere == 1 ? "s" : "");
    r->p->health.cannot = r->cannot;
    r->p->health.ncannot = r->ncannot;
    for (size_t i = 0; i < r->ncannot; i++)
        if (!r->cannot[i])
            return pl_nomem(r->f.d);
    return r->p->chosen ? PL_OK : pl_nomem(r->f.d);
}

pl_code pl_plan_repair(pl_arena *a, const pl_study *s, const pl_plan *old, const size_t *lost,
                       size_t n, uint64_t seed, const pl_plan **out, pl_diags *d)
{
    repair r = { .s = s, .old = old, .p = PL_NEW(a, pl_plan) };
    size_t *now;
    size_t nlevel = old->ntreatment * old->nfactor;
    pl_code rc;

    if (seed >= PL_SEED_LIMIT)
        return pl_fail(d, PL_EUSAGE, s->name, .found = "a seed of 2^53 or more",
                       .expected = "a whole number below 9007199254740992");
    r.f = (pl_draft){
        .s = s,
        .points = old->points.at ? &old->points : NULL,
        .a = a,
        .scratch = pl_arena_new(0),
        .d = d,
        .seed = seed,
        .pressed = pl_study_pressed(s),
        .ntreatment = old->ntreatment,
    };
    if (!r.p || !r.f.scratch)
        return pl_nomem(d);
    r.f.levels = PL_NEWN(r.f.scratch, nlevel, int);
    now = PL_NEWN(r.f.scratch, old->nglue_up, size_t);
    if (r.f.levels)
        memcpy(r.f.levels, old->treatments, nlevel * sizeof *r.f.levels);
    *r.p = *old;
    r.p->seed = seed;
    r.p->revision = 0;
    rc = now && r.f.levels ? find_wood(&r, lost, n, seed) : pl_nomem(d);
    r.f.nunit = r.n;
    if (!rc)
        rc = find_closings(&r, seed);
    if (!rc) {
        sort_by_closing(&r);
        rc = write_glue_ups(&r, now);
    }
    if (!rc)
        rc = write_specimens(&r, now, seed);
    if (!rc)
        rc = write_words(&r);
    pl_arena_free(r.f.scratch);
    if (!rc)
        *out = r.p;
    return rc;
}
