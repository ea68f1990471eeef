/* Remaking lost glue-ups from spare joints. Which ones are lost is the caller's to say; how they
 * are added to the plan is added.c. */
#include "design/plan_repair.h"

#include <string.h>

#include "base/stream.h"
#include "design/added.h"

/* ------------------------------------------------------------------- wood ---- */

/* Without boards a spare's treatment tells what comes with its wood. */
static bool same_wood(const pl_added *x, const pl_glue_up *a, const pl_glue_up *b)
{
    const pl_plan *p = x->old;

    for (size_t f = 0; f < p->nfactor; f++)
        if (x->f.s->factors[f].comes_with_board && p->treatments[a->treatment * p->nfactor + f] !=
                                                       p->treatments[b->treatment * p->nfactor + f])
            return false;
    return !strcmp(pl_added_species(p, a), pl_added_species(p, b));
}

/* A free spare of the same board, or of the same wood; nglue_up when there is none. */
static size_t find_spare(const pl_added *x, const uint32_t *order, size_t nspare, const bool *taken,
                         size_t lost, bool own_board)
{
    const pl_glue_up *g = &x->old->glue_ups[lost];

    for (size_t i = 0; i < nspare; i++) {
        const pl_glue_up *s = &x->old->glue_ups[order[i]];

        if (!taken[order[i]] && same_wood(x, s, g) && (!own_board || s->board == g->board))
            return order[i];
    }
    return x->old->nglue_up;
}

typedef struct spares {
    uint32_t *order; /* nspare places in the old plan's glue-ups, drawn */
    size_t nspare;
    bool *taken; /* of the old plan's glue-ups */
} spares;

/* A spare joint of the wood that a treatment asks for; its own treatment names its wood. */
static bool wood_of_treatment(const pl_added *x, const pl_glue_up *spare, size_t treatment)
{
    const pl_plan *p = x->old;

    for (size_t f = 0; f < p->nfactor; f++)
        if (x->f.s->factors[f].comes_with_board &&
            p->treatments[spare->treatment * p->nfactor + f] !=
                p->treatments[treatment * p->nfactor + f])
            return false;
    return true;
}

static size_t left_of_board(const pl_added *x, const spares *s, int board)
{
    size_t n = 0;

    for (size_t i = 0; i < s->nspare; i++)
        n += !s->taken[s->order[i]] && x->old->glue_ups[s->order[i]].board == board;
    return n;
}

/* Wood for a reference joint: any spare joint of its kind. For a pair: two of one board, or, where
 * no board has two left, of two. */
static bool find_extra_wood(pl_added *x, pl_added_unit *u, const pl_added_unit *like)
{
    const pl_plan *p = x->old;
    spares *s = x->who;
    size_t best = SIZE_MAX;
    bool good = false;

    for (size_t i = 0; i < s->nspare && !good; i++) {
        const int board = p->glue_ups[s->order[i]].board;

        if (s->taken[s->order[i]] || !wood_of_treatment(x, &p->glue_ups[s->order[i]], u->treatment))
            continue;
        good = like      ? board == p->glue_ups[like->spare].board
               : u->pair ? left_of_board(x, s, board) > 1
                         : true;
        if (good || best == SIZE_MAX)
            best = s->order[i];
    }
    u->spare = best;
    u->board = -1;
    if (best != SIZE_MAX)
        s->taken[best] = true;
    return best != SIZE_MAX;
}

static const pl_glue_up *other_of_pair(const pl_plan *p, const pl_glue_up *g)
{
    for (size_t i = 0; i < p->nglue_up; i++)
        if (p->glue_ups[i].pair == g->pair && &p->glue_ups[i] != g)
            return &p->glue_ups[i];
    return NULL;
}

/* A pair tells its two rigs apart within one session: both of its joints are made anew, wherever
 * one of them was lost. */
static pl_code remake_pair(pl_added *x, const size_t *lost, size_t n, size_t i)
{
    const pl_plan *p = x->old;
    const pl_glue_up *g = &p->glue_ups[lost[i]], *other = other_of_pair(p, g);
    pl_added_unit one = { .treatment = g->treatment, .board = -1, .instead = g->label };
    pl_added_unit two = { .treatment = g->treatment, .board = -1 };
    unsigned highest = 0;

    for (size_t k = 0; k < n; k++)
        if (other && &p->glue_ups[lost[k]] == other) {
            if (k < i)
                return PL_OK; /* made with it */
            two.instead = other->label;
        }
    for (size_t k = 0; k < p->nglue_up; k++)
        highest = p->glue_ups[k].pair > highest ? p->glue_ups[k].pair : highest;
    for (size_t k = 0; k < x->n; k++)
        highest = x->units[k].pair > highest ? x->units[k].pair : highest;
    one.pair = two.pair = highest + 1;
    one.rig = g->rig;
    two.rig = other ? other->rig : g->rig;
    if (!other || !find_extra_wood(x, &one, NULL) || !find_extra_wood(x, &two, &one)) {
        pl_added_say(x, pl_arena_printf(x->f.a,
                                        "the pair of %s is not made again: no two spare "
                                        "joints are left for it",
                                        g->label));
        return PL_OK;
    }
    if (p->glue_ups[one.spare].board != p->glue_ups[two.spare].board)
        pl_added_say(x, pl_arena_printf(x->f.a,
                                        "the two joints made for the pair of %s come from two "
                                        "boards, for none has two spare joints left: they tell the "
                                        "rigs apart less surely",
                                        g->label));
    x->units[x->n++] = one;
    x->units[x->n++] = two;
    x->npair++;
    return PL_OK;
}

/* Own boards first, for all, so that nobody takes another's last joint. nelsewhere: made from
 * another board than the lost one. */
static pl_code find_wood(pl_added *x, const size_t *lost, size_t n, size_t *nelsewhere)
{
    const pl_plan *p = x->old;
    spares *s = x->who;
    uint32_t *order = s->order = PL_NEWN(x->f.scratch, p->nglue_up, uint32_t);
    bool *taken = s->taken = PL_NEWN(x->f.scratch, p->nglue_up, bool);
    size_t *from = PL_NEWN(x->f.scratch, n, size_t), nspare = 0;
    pl_stream stream;

    if (!order || !taken || !from)
        return pl_nomem(x->f.d);
    for (size_t i = 0; i < p->nglue_up; i++)
        if (p->glue_ups[i].spare)
            order[nspare++] = (uint32_t)i;
    pl_stream_init(&stream, x->f.seed, PL_FOR_SPARES, 0);
    pl_stream_shuffle(&stream, order, nspare);
    s->nspare = nspare;
    for (size_t i = 0; i < n; i++)
        from[i] = p->nglue_up;
    for (int own_board = 1; own_board >= 0; own_board--)
        for (size_t i = 0; i < n; i++)
            if (from[i] == p->nglue_up && !p->glue_ups[lost[i]].pair) {
                from[i] = find_spare(x, order, nspare, taken, lost[i], own_board);
                if (from[i] < p->nglue_up)
                    taken[from[i]] = true;
            }
    for (size_t i = 0; i < n; i++) {
        const pl_glue_up *g = &p->glue_ups[lost[i]];
        const char *species = pl_added_species(p, g);

        if (g->pair)
            continue; /* behind the others */
        if (from[i] < p->nglue_up) {
            *nelsewhere += p->glue_ups[from[i]].board != g->board;
            x->units[x->n++] = (pl_added_unit){
                .treatment = g->treatment, .spare = from[i], .board = -1, .instead = g->label
            };
            continue;
        }
        pl_added_say(x, pl_arena_printf(x->f.a, "%s is not made again: no spare joint%s%s is left",
                                        g->label, species[0] ? " of " : "", species));
    }
    return PL_OK;
}

static pl_code find_pairs(pl_added *x, const size_t *lost, size_t n)
{
    pl_code rc = PL_OK;

    for (size_t i = 0; i < n && !rc; i++)
        if (x->old->glue_ups[lost[i]].pair)
            rc = remake_pair(x, lost, n, i);
    if (rc || x->n)
        return rc;
    return pl_fail(x->f.d, PL_EUNFIT, x->f.s->name, .found = "no spare joint for what was lost",
                   .expected = "spare joints of the same wood",
                   .mend = "plan with more spare_joints another time; what is left can be fitted "
                           "as it is");
}

/* They are glued in random order. */
static pl_code shuffle(pl_added *x)
{
    uint32_t *order = PL_NEWN(x->f.scratch, x->n, uint32_t);
    pl_added_unit *units = PL_NEWN(x->f.scratch, x->n, pl_added_unit);
    pl_stream stream;

    if (!order || !units)
        return pl_nomem(x->f.d);
    for (size_t i = 0; i < x->n; i++)
        order[i] = (uint32_t)i;
    pl_stream_init(&stream, x->f.seed, PL_FOR_GLUE_ORDER, 0);
    pl_stream_shuffle(&stream, order, x->n);
    for (size_t i = 0; i < x->n; i++)
        units[i] = x->units[order[i]];
    memcpy(x->units, units, x->n * sizeof *units);
    return PL_OK;
}

/* ------------------------------------------------------------------ words ---- */

static pl_code write_words(pl_added *x, size_t n, size_t nelsewhere)
{
    pl_arena *a = x->f.a;
    unsigned first = x->old->nsession + 1;

    x->p->chosen = pl_arena_printf(a, "%s; %zu glue-up%s made again from spare joints%s",
                                   x->old->chosen, n, n == 1 ? "" : "s", pl_added_beside(x));
    if (!pl_added_say_tied(x))
        pl_added_say(
            x, first == x->p->nsession
                   ? pl_arena_printf(a,
                                     "session %u holds only what was made again: a good or "
                                     "bad day there cannot be told from the joints made on it",
                                     first)
                   : pl_arena_printf(a,
                                     "sessions %u to %u hold only what was made again: a good "
                                     "or bad day there cannot be told from the joints made on "
                                     "it",
                                     first, x->p->nsession));
    if (nelsewhere)
        pl_added_say(x, pl_arena_printf(a,
                                        "%zu of those made again come%s from another board than "
                                        "the lost one, for that has no spare joint left: within "
                                        "boards the levels are no longer even",
                                        nelsewhere, nelsewhere == 1 ? "s" : ""));
    return pl_added_finish(x);
}

pl_code pl_plan_repair(pl_arena *a, const pl_study *s, const pl_plan *old, const size_t *lost,
                       size_t n, uint64_t seed, const pl_plan **out, pl_diags *d)
{
    size_t nelsewhere = 0, again = 0;
    spares wood = { 0 };
    pl_added x;
    pl_code rc = pl_added_start(&x, a, s, old->points.at ? &old->points : NULL, old, 2 * n,
                                2 * n + 2, seed, d);

    x.who = &wood;
    x.wood = find_extra_wood;
    if (!rc)
        rc = find_wood(&x, lost, n, &nelsewhere);
    if (!rc)
        rc = shuffle(&x);
    if (!rc)
        rc = find_pairs(&x, lost, n);
    again = x.n;
    if (!rc)
        rc = pl_added_write(&x, false, NULL);
    if (!rc)
        rc = write_words(&x, again, nelsewhere);
    pl_arena_free(x.f.scratch);
    if (!rc)
        *out = x.p;
    return rc;
}
