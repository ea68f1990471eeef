/* pl_plan_make: the steps one after the other, and the plan written out. Each
 * step is a file of its own. */
#include "design/plan_make.h"

#include <math.h>
#include <string.h>

#include "base/stream.h"
#include "design/draft.h"
#include "design/ids.h"

/* ------------------------------------------------------------ writing out -- */

static pl_code write_boards(pl_draft *f, pl_plan *p)
{
    for (size_t b = 0; b < f->nboard; b++)
        p->nboard += f->boards[b].place >= 0;
    p->boards = PL_NEWN(f->a, p->nboard, pl_plan_board);
    if (!p->boards)
        return pl_nomem(f->d);
    for (size_t b = 0; b < f->nboard; b++) {
        int place = f->boards[b].place;
        char *label;

        if (place < 0)
            continue;
        label = pl_arena_printf(f->a, "B%d", place + 1);
        if (!label)
            return pl_nomem(f->d);
        p->boards[place] = (pl_plan_board){
            .label = label,
            .stock = f->boards[b].stock,
            .species = f->s->boards[f->boards[b].stock].species,
        };
    }
    return PL_OK;
}

static void write_spares(const pl_draft *f, pl_plan *p)
{
    size_t made = f->nunit + f->nextra, at = made;

    for (size_t b = 0; b < f->nboard; b++)
        for (size_t i = 0; i < f->boards[b].spares; i++)
            p->glue_ups[at++] = (pl_glue_up){
                .treatment = f->row_of[f->boards[b].group * f->v],
                .board = f->boards[b].place,
            };
    for (size_t i = 0; !f->have_boards && i < f->nspare; i++)
        p->glue_ups[at++] = (pl_glue_up){
            .treatment = f->row_of[i % f->ngroup * f->v],
            .board = -1,
        };
    for (size_t i = made; i < p->nglue_up; i++) {
        p->glue_ups[i].press = p->glue_ups[i].rig = -1;
        p->glue_ups[i].start_s = NAN;
        p->glue_ups[i].spare = true;
    }
}

static pl_glue_up glue_up_of(const pl_draft *f, size_t row, int rig, int board, size_t session,
                             const pl_slot *slot)
{
    return (pl_glue_up){
        .treatment = pl_draft_first_like(f, row),
        .board = board < 0 ? -1 : f->boards[board].place,
        .session = (unsigned)session + 1,
        .press = slot->press,
        .station = slot->station,
        .rig = rig,
        .start_s = slot->start_s,
    };
}

/* Does the i-th glue-up in order come before the k-th of those beside them? */
static bool comes_first(const pl_draft *f, size_t i, size_t k)
{
    const pl_draft_unit *u;

    if (i == f->nunit || k == f->nextra)
        return k == f->nextra;
    u = &f->units[f->order[i]];
    return u->session < f->extras[k].session ||
           (u->session == f->extras[k].session && u->slot < f->extras[k].slot);
}

/* All that is glued, in glue order. */
static void write_made(pl_draft *f, pl_plan *p)
{
    size_t i = 0, k = 0;

    for (size_t at = 0; at < f->nunit + f->nextra; at++) {
        pl_glue_up *g = &p->glue_ups[at];

        if (comes_first(f, i, k)) {
            const pl_draft_unit *u = &f->units[f->order[i]];

            *g = glue_up_of(f, u->treatment, f->rig_of[u->treatment], u->board, u->session,
                            &f->slots[u->slot]);
            f->place_of[i++] = at;
        } else {
            const pl_extra *e = &f->extras[k++];

            *g = glue_up_of(f, e->row, e->rig, e->board, e->session, &f->slots[e->slot]);
            g->pair = (unsigned)e->pair;
            g->reference = !e->pair;
        }
        g->glue_order = (unsigned)at + 1;
    }
}

static pl_code write_glue_ups(pl_draft *f, pl_plan *p)
{
    size_t made = f->nunit + f->nextra;

    p->nglue_up = made + f->nspare;
    p->nsession = (unsigned)f->nsession;
    p->glue_ups = PL_NEWN(f->a, p->nglue_up, pl_glue_up);
    f->place_of = PL_NEWN(f->scratch, f->nunit, size_t);
    if (!p->glue_ups || !f->place_of)
        return pl_nomem(f->d);
    write_made(f, p);
    write_spares(f, p);
    for (size_t i = 0; i < p->nglue_up; i++) {
        p->glue_ups[i].label = i < made ? pl_arena_printf(f->a, "G%zu", i + 1)
                                        : pl_arena_printf(f->a, "S%zu", i - made + 1);
        if (!p->glue_ups[i].label)
            return pl_nomem(f->d);
    }
    pl_draft_split_number(f, p);
    return PL_OK;
}

static pl_code write_specimens(pl_draft *f, pl_plan *p)
{
    const char **ids;
    pl_code rc;

    p->nspecimen = p->nglue_up * f->m;
    p->specimens = PL_NEWN(f->a, p->nspecimen, pl_specimen);
    if (!p->specimens)
        return pl_nomem(f->d);
    rc = pl_ids_draw(f->a, f->seed, p->nspecimen, f->issued ? f->issued->ids : NULL,
                     f->issued ? f->issued->count : 0, &ids, f->d);
    for (size_t i = 0; !rc && i < p->nspecimen; i++) {
        pl_specimen *x = &p->specimens[i];

        x->id = ids[i];
        x->glue_up = i / f->m;
        x->spare = p->glue_ups[x->glue_up].spare;
        for (unsigned k = 0; k < f->s->joint.adherends && !rc; k++) {
            x->adherends[k] = pl_arena_printf(f->a, "%s-%c", x->id, (char)('a' + k));
            if (!x->adherends[k])
                rc = pl_nomem(f->d);
        }
    }
    return rc;
}

static int board_of(const pl_plan *p, size_t specimen)
{
    return p->glue_ups[p->specimens[specimen].glue_up].board;
}

/* Places along each board, from 1, in random order over its specimens, spare ones
 * among them. */
static pl_code draw_places(pl_draft *f, pl_plan *p)
{
    size_t *first = PL_NEWN(f->scratch, p->nboard + 2, size_t);
    size_t *list = PL_NEWN(f->scratch, p->nspecimen, size_t);
    uint32_t *place = PL_NEWN(f->scratch, p->nspecimen, uint32_t);

    if (!first || !list || !place)
        return pl_nomem(f->d);
    for (size_t i = 0; i < p->nspecimen; i++)
        if (board_of(p, i) >= 0)
            first[board_of(p, i) + 2]++;
    for (size_t b = 2; b < p->nboard + 2; b++)
        first[b] += first[b - 1];
    for (size_t i = 0; i < p->nspecimen; i++)
        if (board_of(p, i) >= 0)
            list[first[board_of(p, i) + 1]++] = i;
    for (size_t b = 0; b < p->nboard; b++) {
        size_t n = first[b + 1] - first[b];
        pl_stream stream;

        for (size_t i = 0; i < n; i++)
            place[i] = (uint32_t)i + 1;
        pl_stream_init(&stream, f->seed, PL_FOR_PLACES, b + 1); /* 0: which set on which board */
        pl_stream_shuffle(&stream, place, n);
        for (size_t i = 0; i < n; i++)
            p->specimens[list[first[b] + i]].place = place[n - 1 - i];
    }
    return PL_OK;
}

static pl_code draw_break_order(pl_draft *f, pl_plan *p)
{
    size_t n = (f->nunit + f->nextra) * f->m; /* spare ones stand behind */
    uint32_t *order = PL_NEWN(f->scratch, n, uint32_t);
    pl_stream stream;

    if (!order)
        return pl_nomem(f->d);
    for (size_t i = 0; i < n; i++)
        order[i] = (uint32_t)i + 1;
    pl_stream_init(&stream, f->seed, PL_FOR_BREAK_ORDER, 0);
    pl_stream_shuffle(&stream, order, n);
    for (size_t i = 0; i < n; i++)
        p->specimens[i].break_order = order[i];
    return PL_OK;
}

/* Without boards, complete blocks are sessions that hold whole replicates. */
static pl_code check_arrangement(pl_draft *f)
{
    if (f->s->arrangement.kind != PL_ARRANGE_COMPLETE_BLOCKS || f->have_boards || !f->split)
        return PL_OK;
    return pl_fail(f->d, PL_EUNFIT, pl_draft_where(f, "arrangement"),
                   .pointer = "/arrangement/kind",
                   .found = "complete-blocks, but no boards, and a session too short for every "
                            "combination",
                   .expected = "boards or sessions that hold every combination",
                   .mend = "list the boards, lengthen the session, or leave arrangement out");
}

static pl_code write_plan(pl_draft *f, pl_plan **out)
{
    static pl_code (*const steps[])(pl_draft *, pl_plan *) = {
        write_boards, write_glue_ups,   write_specimens,
        draw_places,  draw_break_order, pl_draft_health,
    };
    pl_plan *p = PL_NEW(f->a, pl_plan);
    pl_code rc = PL_OK;

    if (!p)
        return pl_nomem(f->d);
    p->seed = p->drawn.seed = f->seed;
    p->drawn.glue_ups_per_level = (unsigned)f->n;
    p->ntreatment = f->ntreatment;
    p->treatments = f->levels;
    p->nfactor = f->s->nfactor;
    if (f->points)
        p->points = *f->points;
    for (size_t i = 0; !rc && i < sizeof steps / sizeof *steps; i++)
        rc = steps[i](f, p);
    if (rc)
        return rc;
    p->chosen = pl_draft_chosen(f);
    if (!p->chosen)
        return pl_nomem(f->d);
    *out = p;
    return PL_OK;
}

pl_code pl_plan_make(pl_arena *a, const pl_study *s, const pl_set_points *points,
                     unsigned glue_ups_per_level, uint64_t seed, const pl_issued *issued,
                     const pl_plan **out, pl_diags *diags)
{
    static pl_code (*const steps[])(pl_draft *) = {
        pl_draft_treatments, pl_draft_effects,  pl_draft_boards, pl_draft_slots,
        pl_draft_order,      check_arrangement, pl_draft_extras, pl_draft_spares,
    };
    pl_draft f = { .s = s, .points = points, .issued = issued, .a = a, .d = diags, .seed = seed };
    pl_plan *plan = NULL;
    pl_code rc = PL_OK;

    if (!glue_ups_per_level)
        return pl_fail(diags, PL_EUSAGE, s->name, .found = "0 glue-ups per level",
                       .expected = "at least 1");
    if (seed >= PL_SEED_LIMIT)
        return pl_fail(diags, PL_EUSAGE, s->name, .found = "a seed of 2^53 or more",
                       .expected = "a whole number below 9007199254740992");
    f.n = glue_ups_per_level;
    f.reserve = true;
    f.scratch = pl_arena_new(0);
    if (!f.scratch)
        return pl_nomem(diags);
    for (size_t i = 0; !rc && i < sizeof steps / sizeof *steps; i++)
        rc = steps[i](&f);
    if (!rc)
        rc = write_plan(&f, &plan);
    pl_arena_free(f.scratch);
    if (!rc)
        *out = plan;
    return rc;
}

double pl_plan_press_s(const pl_study *s, const pl_plan *p)
{
    size_t closings = 0;

    for (size_t i = 0; i < p->nglue_up; i++)
        closings += !p->glue_ups[i].spare;
    return pl_study_press_s(s, closings);
}
