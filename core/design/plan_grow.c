/* A further round behind a frozen plan: its treatments and its wood. Closings and writing out are
 * added.c; which levels and how many of each is for whoever asks. */
#include "design/plan_grow.h"

#include <string.h>

#include "base/stream.h"
#include "design/added.h"

typedef struct grow {
    pl_added x;
    size_t n;
    uint32_t *order;   /* n: rows as they will be glued */
    size_t *treatment; /* n, by row */
    int with_board;    /* factor; -1 none */
    size_t nspare;     /* spare glue-ups of the old plan */
    uint32_t *spares;  /* in random order */
    bool *used;        /* old->nglue_up */
    unsigned *given;   /* old->nboard + 1: spares taken from each board; the last: no board */
    int *kind;    /* n units: the stock that it is cut from; -1: a spare, or no boards listed */
    int *last;    /* nboard_kinds: the last new board, -1 none */
    size_t *room; /* nboard_kinds: glue-ups that it could hold more */
    size_t from_spares, nnew;
} grow;

/* ------------------------------------------------------------- treatments ---- */

static size_t row_of(const pl_plan *p, const int *levels)
{
    size_t t = 0;

    while (t < p->ntreatment &&
           memcmp(p->treatments + t * p->nfactor, levels, p->nfactor * sizeof *levels))
        t++;
    return t;
}

static pl_code find_treatments(grow *g, const int *levels)
{
    const pl_plan *old = g->x.old;
    pl_plan *p = g->x.p;
    const size_t nf = old->nfactor;
    int *rows = PL_NEWN(g->x.f.a, (old->ntreatment + g->n) * nf, int);

    if (!rows)
        return pl_nomem(g->x.f.d);
    memcpy(rows, old->treatments, old->ntreatment * nf * sizeof *rows);
    p->treatments = rows;
    for (size_t i = 0; i < g->n; i++) {
        g->treatment[i] = row_of(p, levels + i * nf);
        if (g->treatment[i] < p->ntreatment)
            continue;
        memcpy(rows + p->ntreatment * nf, levels + i * nf, nf * sizeof *rows);
        p->ntreatment++;
    }
    return PL_OK;
}

/* Within each replicate the order is drawn. */
static void draw_order(grow *g, const size_t *replicate)
{
    pl_stream stream;
    size_t from = 0;

    pl_stream_init(&stream, g->x.f.seed, PL_FOR_GLUE_ORDER, 0);
    for (size_t i = 0; i < g->n; i++)
        g->order[i] = (uint32_t)i;
    for (size_t i = 1; i <= g->n; i++)
        if (i == g->n || replicate[i] != replicate[from]) {
            pl_stream_shuffle(&stream, g->order + from, i - from);
            from = i;
        }
}

/* ------------------------------------------------------------------- wood ---- */

/* The level of whatever comes with the board: its boards; -1 when nothing does. */
static int wood_of(const grow *g, size_t treatment)
{
    const pl_plan *p = g->x.p;

    return g->with_board < 0 ? -1 : p->treatments[treatment * p->nfactor + (size_t)g->with_board];
}

static const char *wood_name(const grow *g, int wood)
{
    return wood < 0 ? "" : g->x.f.s->factors[g->with_board].levels[wood].text;
}

static unsigned *given_by(const grow *g, const pl_glue_up *spare)
{
    return &g->given[spare->board >= 0 ? (size_t)spare->board : g->x.old->nboard];
}

/* A free spare of this wood, of a board that has given least so far; SIZE_MAX: none. */
static size_t take_spare(grow *g, int wood)
{
    size_t best = SIZE_MAX;

    for (size_t i = 0; i < g->nspare; i++) {
        const pl_glue_up *s = &g->x.old->glue_ups[g->spares[i]];

        if (g->used[g->spares[i]] || wood_of(g, s->treatment) != wood)
            continue;
        if (best == SIZE_MAX || *given_by(g, s) < *given_by(g, &g->x.old->glue_ups[best]))
            best = g->spares[i];
    }
    if (best != SIZE_MAX) {
        g->used[best] = true;
        ++*given_by(g, &g->x.old->glue_ups[best]);
    }
    return best;
}

/* Glue-ups that one board of this stock carries: what it holds, or what the fullest has now. */
static size_t room_of(const grow *g, size_t kind)
{
    const pl_plan *old = g->x.old;
    const size_t m = pl_study_specimens_per_glue_up(g->x.f.s);
    size_t most = 1;

    if (g->x.f.s->boards[kind].specimens)
        return g->x.f.s->boards[kind].specimens / m;
    for (size_t b = 0; b < old->nboard; b++) {
        size_t n = 0;

        for (size_t i = 0; i < old->nglue_up && old->boards[b].stock == (int)kind; i++)
            n += old->glue_ups[i].board == (int)b;
        most = n > most ? n : most;
    }
    return most;
}

/* The stock whose boards are of this wood; nboard_kinds: none. */
static size_t stock_of(const grow *g, int wood)
{
    const pl_study *s = g->x.f.s;
    size_t k = 0;

    while (k < s->nboard_kinds &&
           ((wood >= 0 && strcmp(s->boards[k].species, wood_name(g, wood))) || !room_of(g, k)))
        k++;
    return k;
}

static pl_code add_unit(grow *g, size_t treatment)
{
    const pl_study *s = g->x.f.s;
    const int wood = wood_of(g, treatment);
    size_t kind = stock_of(g, wood);
    pl_added_unit u = { .treatment = treatment, .spare = take_spare(g, wood), .board = -1 };
    const bool fresh = u.spare == PL_ADDED_NEW_WOOD && s->nboard_kinds;

    if (fresh && kind == s->nboard_kinds)
        return pl_fail(g->x.f.d, PL_EUNFIT, s->name,
                       .found = pl_arena_printf(g->x.f.d->arena, "no board of %s in the study",
                                                wood < 0 ? "any kind" : wood_name(g, wood)),
                       .expected = "boards for every kind of wood that is to be glued");
    g->from_spares += u.spare != PL_ADDED_NEW_WOOD;
    g->kind[g->x.n] = fresh ? (int)kind : -1;
    g->x.units[g->x.n++] = u;
    return PL_OK;
}

static pl_code new_board(grow *g, size_t kind)
{
    pl_plan *p = g->x.p;
    char *label = pl_arena_printf(g->x.f.a, "B%zu", p->nboard + 1);

    if (!label)
        return pl_nomem(g->x.f.d);
    p->boards[p->nboard] = (pl_plan_board){ .label = label,
                                            .stock = (int)kind,
                                            .species = g->x.f.s->boards[kind].species };
    g->last[kind] = (int)p->nboard++;
    g->nnew++;
    return PL_OK;
}

/* As few boards of this stock as hold what is cut from it, as evenly filled as can be: a joint
 * that is alone on its board tells nothing within boards. */
static pl_code fill_boards(grow *g, size_t kind)
{
    size_t n = 0, boards, room = room_of(g, kind), at = 0;
    pl_code rc = PL_OK;

    for (size_t i = 0; i < g->n; i++)
        n += g->kind[i] == (int)kind;
    boards = n ? (n - 1) / room + 1 : 0;
    for (size_t b = 0; b < boards && !rc; b++) {
        size_t size = n / boards + (b < n % boards);

        rc = new_board(g, kind);
        g->room[kind] = room - size;
        for (; size && !rc; at++)
            if (g->kind[at] == (int)kind) {
                g->x.units[at].board = g->last[kind];
                size--;
            }
    }
    return rc;
}

/* A board of this kind with room for so many, a new one if need be; -1: no memory. */
static int board_with_room(grow *g, size_t kind, size_t n)
{
    if (g->last[kind] < 0 || g->room[kind] < n) {
        if (new_board(g, kind))
            return -1;
        g->room[kind] = room_of(g, kind);
    }
    g->room[kind] -= g->room[kind] < n ? g->room[kind] : n;
    return g->last[kind];
}

/* Wood for a reference joint: a spare joint, or room on a new board. For a pair: room for both on
 * one new board; the other one of it has that room already. */
static bool find_extra_wood(pl_added *x, pl_added_unit *u, const pl_added_unit *like)
{
    grow *g = x->who;
    const int wood = wood_of(g, u->treatment);
    size_t kind = stock_of(g, wood);

    u->spare = u->pair ? PL_ADDED_NEW_WOOD : take_spare(g, wood);
    u->board = like ? like->board : -1;
    if (like || u->spare != PL_ADDED_NEW_WOOD || !g->x.f.s->nboard_kinds)
        return true;
    if (kind == g->x.f.s->nboard_kinds || (u->pair && room_of(g, kind) < 2))
        return false;
    u->board = board_with_room(g, kind, u->pair ? 2 : 1);
    return u->board >= 0;
}

/* New boards carry spare joints too, as far as they have room. */
static void add_spares(grow *g)
{
    const pl_study *s = g->x.f.s;
    const size_t made = g->x.n;

    for (size_t k = 0; k < s->nboard_kinds; k++) {
        size_t fresh = 0, treatment = SIZE_MAX, wanted;
        double share;

        for (size_t i = 0; i < made; i++)
            if (g->x.units[i].board >= 0 && g->x.p->boards[g->x.units[i].board].stock == (int)k) {
                fresh++;
                treatment = g->x.units[i].treatment;
            }
        share = (double)fresh * s->cutting.spare_joints;
        wanted = (size_t)share;
        wanted += (double)wanted < share;
        for (; fresh && wanted && g->room[k]; wanted--, g->room[k]--)
            g->x.units[g->x.n++] = (pl_added_unit){ .treatment = treatment,
                                                    .spare = PL_ADDED_NEW_WOOD,
                                                    .board = g->last[k],
                                                    .keep = true };
    }
}

static pl_code find_wood(grow *g)
{
    const pl_plan *old = g->x.old;
    pl_stream stream;
    pl_code rc = PL_OK;

    for (size_t i = 0; i < old->nglue_up; i++)
        if (old->glue_ups[i].spare)
            g->spares[g->nspare++] = (uint32_t)i;
    pl_stream_init(&stream, g->x.f.seed, PL_FOR_SPARES, 0);
    pl_stream_shuffle(&stream, g->spares, g->nspare);
    memcpy(g->x.p->boards, old->boards, old->nboard * sizeof *old->boards);
    for (size_t i = 0; i < g->n && !rc; i++)
        rc = add_unit(g, g->treatment[g->order[i]]);
    for (size_t k = 0; k < g->x.f.s->nboard_kinds && !rc; k++)
        rc = fill_boards(g, k);
    if (!rc)
        add_spares(g);
    return rc;
}

/* ------------------------------------------------------------------ words ---- */

/* Boards of each stock beyond those that the study lists. */
static pl_code say_boards(grow *g)
{
    const pl_study *s = g->x.f.s;

    for (size_t k = 0; k < s->nboard_kinds; k++) {
        const char *species = s->boards[k].species;
        size_t used = 0, more;

        for (size_t b = 0; b < g->x.p->nboard; b++)
            used += g->x.p->boards[b].stock == (int)k;
        more = used > s->boards[k].count ? used - s->boards[k].count : 0;
        if (more)
            pl_added_say(&g->x,
                         pl_arena_printf(g->x.f.a,
                                         "%zu board%s%s%s to be found besides the %u that "
                                         "the study lists",
                                         more, more == 1 ? "" : "s", species[0] ? " of " : "",
                                         species, s->boards[k].count));
    }
    return PL_OK;
}

static pl_code write_words(grow *g)
{
    pl_plan *p = g->x.p;
    const unsigned first = g->x.old->nsession + 1;

    p->chosen = pl_arena_printf(
        g->x.f.a, "%s; a further round of %zu glue-up%s, %zu from spare joints, %zu new board%s%s",
        g->x.old->chosen, g->n, g->n == 1 ? "" : "s", g->from_spares, g->nnew,
        g->nnew == 1 ? "" : "s", pl_added_beside(&g->x));
    if (!pl_added_say_tied(&g->x))
        pl_added_say(
            &g->x,
            first == p->nsession
                ? pl_arena_printf(g->x.f.a,
                                  "session %u is the further round: only the levels made both "
                                  "before and in it tell a good or bad day from the levels",
                                  first)
                : pl_arena_printf(g->x.f.a,
                                  "sessions %u to %u are the further round: only the levels "
                                  "made both before and in it tell good or bad days from the "
                                  "levels",
                                  first, p->nsession));
    (void)say_boards(g);
    return pl_added_finish(&g->x);
}

static pl_code get_room(grow *g)
{
    const pl_study *s = g->x.f.s;
    const pl_plan *old = g->x.old;
    pl_arena *a = g->x.f.scratch;

    g->with_board = pl_study_with_board(s);
    g->order = PL_NEWN(a, g->n, uint32_t);
    g->treatment = PL_NEWN(a, g->n, size_t);
    g->spares = PL_NEWN(a, old->nglue_up, uint32_t);
    g->used = PL_NEWN(a, old->nglue_up, bool);
    g->given = PL_NEWN(a, old->nboard + 1, unsigned);
    g->kind = PL_NEWN(a, g->n, int);
    g->last = PL_NEWN(a, s->nboard_kinds, int);
    g->room = PL_NEWN(a, s->nboard_kinds, size_t);
    g->x.p->boards = PL_NEWN(g->x.f.a,
                             old->nboard + 3 * g->n + 4 * PL_ADDED_PAIRS_MOST +
                                 2 * g->n * s->reference.per_session,
                             pl_plan_board);
    return g->order && g->treatment && g->spares && g->used && g->given && g->kind && g->last &&
                   g->room && g->x.p->boards
               ? PL_OK
               : pl_nomem(g->x.f.d);
}

pl_code pl_plan_grow(pl_arena *a, const pl_study *s, const pl_set_points *points,
                     const pl_plan *old, const int *levels, const size_t *replicate, size_t n,
                     uint64_t seed, const pl_issued *issued, const pl_plan **out, pl_diags *d)
{
    grow g = { .n = n };
    pl_code rc;

    if (!n)
        return pl_fail(d, PL_EUSAGE, s->name, .found = "a round of no glue-ups",
                       .expected = "at least one");
    rc = pl_added_start(&g.x, a, s, points, old, 2 * n + 1, s->nboard_kinds + 1, seed, d);
    if (!rc && points)
        g.x.p->points = *points;
    if (!rc)
        rc = get_room(&g);
    if (!rc)
        rc = find_treatments(&g, levels);
    if (!rc) {
        draw_order(&g, replicate);
        rc = find_wood(&g);
    }
    g.x.who = &g;
    g.x.wood = find_extra_wood;
    if (!rc)
        rc = pl_added_write(&g.x, s->bridging.given, issued);
    if (!rc)
        rc = write_words(&g);
    pl_arena_free(g.x.f.scratch);
    if (!rc)
        *out = g.x.p;
    return rc;
}
