/* Glue-ups added to a frozen plan: the plan written out with them. Closings are added_closings.c;
 * which ones and of what wood is for plan_repair.c and plan_grow.c. */
#include "design/added.h"

#include <math.h>
#include <string.h>

#include "base/stream.h"
#include "base/text.h"
#include "design/ids.h"
#include "design/plan_make.h"

const char *pl_added_species(const pl_plan *p, const pl_glue_up *g)
{
    const char *species = g->board >= 0 ? p->boards[g->board].species : NULL;

    return species ? species : "";
}

void pl_added_say(pl_added *x, const char *sentence)
{
    x->cannot[x->ncannot++] = sentence;
}

/* Reference joints of as many sessions as units, and pairs. */
static size_t most_extras(const pl_study *s, size_t units)
{
    size_t pairs = s->bridging.given ? 2 * PL_ADDED_PAIRS_MOST : 0;

    return pairs + (s->reference.given ? (units + pairs) * s->reference.per_session : 0);
}

pl_code pl_added_start(pl_added *x, pl_arena *a, const pl_study *s, const pl_set_points *points,
                       const pl_plan *old, size_t most, size_t sentences, uint64_t seed,
                       pl_diags *d)
{
    const pl_health *h = &old->health;

    *x = (pl_added){
        .f = { .s = s,
               .points = points,
               .a = a,
               .scratch = pl_arena_new(0),
               .d = d,
               .seed = seed,
               .pressed = pl_study_pressed(s) },
        .old = old,
        .p = PL_NEW(a, pl_plan),
    };
    if (seed >= PL_SEED_LIMIT)
        return pl_fail(d, PL_EUSAGE, s->name, .found = "a seed of 2^53 or more",
                       .expected = "a whole number below 9007199254740992");
    if (!x->p || !x->f.scratch)
        return pl_nomem(d);
    x->units = PL_NEWN(x->f.scratch, most + most_extras(s, most), pl_added_unit);
    x->cannot = PL_NEWN(a, h->ncannot + sentences + 2, const char *);
    if (!x->units || !x->cannot)
        return pl_nomem(d);
    for (size_t i = 0; i < h->ncannot; i++)
        pl_added_say(x, h->cannot[i]);
    *x->p = *old;
    x->p->seed = seed;
    x->p->revision = 0;
    return PL_OK;
}

/* ------------------------------------------------------------ writing out ---- */

/* What is added makes stretches of its own: what is hard to change is set anew for it. */
static void name_stretches(pl_added *x)
{
    unsigned nlayer = pl_study_layers(x->f.s), last[PL_LAYERS_MOST] = { 0 };
    const pl_glue_up *before = NULL;

    for (size_t i = 0; i < x->old->nglue_up; i++)
        for (unsigned l = 0; l < nlayer; l++)
            if (x->old->glue_ups[i].stretch[l] > last[l])
                last[l] = x->old->glue_ups[i].stretch[l];
    for (size_t i = 0; i < x->p->nglue_up; i++) {
        pl_glue_up *g = &x->p->glue_ups[i];

        if (g->session <= x->old->nsession || g->spare || g->reference || g->pair)
            continue;
        for (unsigned l = 0; l < nlayer; l++) {
            last[l] += !before || before->session != g->session ||
                       !pl_added_same_setting(x, before->treatment, g->treatment, l);
            g->stretch[l] = last[l];
        }
        before = g;
    }
}

static bool glued_before(const pl_added_unit *a, const pl_added_unit *b)
{
    if (a->keep != b->keep)
        return !a->keep;
    return a->session < b->session || (a->session == b->session && a->slot < b->slot);
}

/* By session and closing, spare ones behind; equal ones stay as they stand. */
static void sort_by_closing(pl_added *x)
{
    for (size_t i = 1; i < x->n; i++) {
        pl_added_unit u = x->units[i];
        size_t k = i;

        for (; k > 0 && glued_before(&u, &x->units[k - 1]); k--)
            x->units[k] = x->units[k - 1];
        x->units[k] = u;
    }
}

/* Labels G.. and S.. go on behind the highest there is. */
static unsigned highest_label(const pl_plan *p, char sign)
{
    unsigned highest = 0;

    for (size_t i = 0; i < p->nglue_up; i++) {
        const char *label = p->glue_ups[i].label;
        long long number;

        if (label[0] == sign && pl_text_to_whole(label + 1, 1, 1000000000, &number) &&
            number > highest)
            highest = (unsigned)number;
    }
    return highest;
}

static pl_glue_up added_glue_up(const pl_added *x, const pl_added_unit *u)
{
    const pl_slot *slot = &x->f.slots[u->slot];
    pl_glue_up g = { .board = u->board };

    if (u->spare != PL_ADDED_NEW_WOOD)
        g = x->old->glue_ups[u->spare];
    g.treatment = u->treatment;
    g.spare = u->keep;
    g.press = g.rig = -1;
    g.start_s = NAN;
    if (u->keep)
        return g;
    g.session = x->old->nsession + 1 + (unsigned)u->session;
    g.press = slot->press;
    g.station = slot->station;
    g.rig = u->pair ? u->rig : x->f.rig_of[u->treatment];
    g.reference = u->reference;
    g.pair = u->pair;
    g.start_s = slot->start_s;
    g.instead = u->instead;
    return g;
}

/* Glue-ups in glue order, spare ones behind them. now: where each glue-up of the old plan
 * stands; made: where each unit does. */
static pl_code write_glue_ups(pl_added *x, size_t *now, size_t *made)
{
    const pl_plan *old = x->old;
    unsigned last = 0, label = highest_label(old, 'G'), spare = highest_label(old, 'S');
    size_t at = 0, fresh = 0;

    for (size_t i = 0; i < x->n; i++)
        fresh += x->units[i].spare == PL_ADDED_NEW_WOOD;
    x->p->nglue_up = old->nglue_up + fresh;
    x->p->glue_ups = PL_NEWN(x->f.a, x->p->nglue_up, pl_glue_up);
    if (!x->p->glue_ups)
        return pl_nomem(x->f.d);
    for (size_t i = 0; i < old->nglue_up; i++) {
        now[i] = SIZE_MAX;
        if (old->glue_ups[i].spare)
            continue;
        last = old->glue_ups[i].glue_order > last ? old->glue_ups[i].glue_order : last;
        now[i] = at;
        x->p->glue_ups[at++] = old->glue_ups[i];
    }
    for (size_t i = 0; i < x->n; i++) {
        const pl_added_unit *u = &x->units[i];
        pl_glue_up g = added_glue_up(x, u);

        if (u->spare != PL_ADDED_NEW_WOOD)
            now[u->spare] = at;
        else
            g.label = pl_arena_printf(x->f.a, u->keep ? "S%u" : "G%u", u->keep ? ++spare : ++label);
        if (!g.label)
            return pl_nomem(x->f.d);
        g.glue_order = u->keep ? 0 : ++last;
        made[i] = at;
        x->p->glue_ups[at++] = g;
    }
    for (size_t i = 0; i < old->nglue_up; i++)
        if (now[i] == SIZE_MAX) {
            now[i] = at;
            x->p->glue_ups[at++] = old->glue_ups[i];
        }
    for (size_t i = 0; i < x->p->nglue_up; i++)
        if (x->p->glue_ups[i].session > x->p->nsession)
            x->p->nsession = x->p->glue_ups[i].session;
    name_stretches(x);
    return PL_OK;
}

static bool of_new_wood(const pl_added *x, size_t unit, int board)
{
    const pl_added_unit *u = &x->units[unit];

    return u->spare == PL_ADDED_NEW_WOOD && (board < 0 || u->board == board);
}

static pl_code new_specimen(pl_added *x, const char *id, size_t glue_up, bool spare,
                            pl_specimen *out)
{
    *out = (pl_specimen){ .id = id, .glue_up = glue_up, .spare = spare };
    for (unsigned p = 0; p < x->f.s->joint.adherends; p++) {
        out->adherends[p] = pl_arena_printf(x->f.a, "%s-%c", id, (char)('a' + p));
        if (!out->adherends[p])
            return pl_nomem(x->f.d);
    }
    return PL_OK;
}

/* Places along each new board in random order. first: where the new specimens stand, in the
 * order of the units, m of each. */
static pl_code draw_places(pl_added *x, size_t first, size_t m)
{
    uint32_t *place = PL_NEWN(x->f.scratch, m * x->n, uint32_t);

    if (!place)
        return pl_nomem(x->f.d);
    for (size_t b = x->old->nboard; b < x->p->nboard; b++) {
        size_t at = first;
        uint32_t n = 0;
        pl_stream stream;

        for (size_t i = 0; i < x->n; i++)
            for (size_t k = 0; of_new_wood(x, i, (int)b) && k < m; k++, n++)
                place[n] = n + 1;
        pl_stream_init(&stream, x->f.seed, PL_FOR_PLACES, b + 1);
        pl_stream_shuffle(&stream, place, n);
        for (size_t i = 0; i < x->n; i++)
            for (size_t k = 0; of_new_wood(x, i, -1) && k < m; k++, at++)
                if (x->units[i].board == (int)b)
                    x->p->specimens[at].place = place[--n];
    }
    return PL_OK;
}

/* Specimens of new wood: ids that nobody bears. */
static pl_code new_specimens(pl_added *x, const size_t *made, const pl_issued *issued, size_t m,
                             size_t *at)
{
    const char **ids;
    size_t fresh = 0, first = *at;
    pl_code rc;

    for (size_t i = 0; i < x->n; i++)
        fresh += m * of_new_wood(x, i, -1);
    if (!fresh)
        return PL_OK;
    rc = pl_ids_draw(x->f.a, x->f.seed, fresh, issued ? issued->ids : NULL,
                     issued ? issued->count : 0, &ids, x->f.d);
    for (size_t i = 0; i < x->n && !rc; i++)
        for (size_t k = 0; of_new_wood(x, i, -1) && k < m && !rc; k++)
            rc = new_specimen(x, *ids++, made[i], x->units[i].keep, &x->p->specimens[(*at)++]);
    return rc ? rc : draw_places(x, first, m);
}

/* In the order of their glue-ups; a glue-up's specimens keep their order. */
static pl_code sort_specimens(pl_added *x)
{
    size_t *at = PL_NEWN(x->f.scratch, x->p->nglue_up + 1, size_t);
    pl_specimen *sorted = PL_NEWN(x->f.a, x->p->nspecimen, pl_specimen);

    if (!at || !sorted)
        return pl_nomem(x->f.d);
    for (size_t i = 0; i < x->p->nspecimen; i++)
        at[x->p->specimens[i].glue_up + 1]++;
    for (size_t g = 0; g < x->p->nglue_up; g++)
        at[g + 1] += at[g];
    for (size_t i = 0; i < x->p->nspecimen; i++)
        sorted[at[x->p->specimens[i].glue_up]++] = x->p->specimens[i];
    x->p->specimens = sorted;
    return PL_OK;
}

static pl_code draw_break_order(pl_added *x)
{
    uint32_t *order = PL_NEWN(x->f.scratch, x->p->nspecimen, uint32_t);
    unsigned last = 0;
    size_t n = 0;
    pl_stream stream;

    if (!order)
        return pl_nomem(x->f.d);
    for (size_t i = 0; i < x->p->nspecimen; i++) {
        const pl_specimen *s = &x->p->specimens[i];

        last = s->break_order > last ? s->break_order : last;
        if (!s->spare && !s->break_order) {
            order[n] = (uint32_t)n + 1;
            n++;
        }
    }
    pl_stream_init(&stream, x->f.seed, PL_FOR_BREAK_ORDER, 0);
    pl_stream_shuffle(&stream, order, n);
    for (size_t i = 0; i < x->p->nspecimen; i++)
        if (!x->p->specimens[i].spare && !x->p->specimens[i].break_order)
            x->p->specimens[i].break_order = last + order[--n];
    return PL_OK;
}

static pl_code write_specimens(pl_added *x, const size_t *now, const size_t *made,
                               const pl_issued *issued)
{
    const pl_plan *old = x->old;
    const size_t m = old->nglue_up ? old->nspecimen / old->nglue_up : 0;
    size_t at = 0;
    pl_code rc;

    x->p->nspecimen = old->nspecimen + m * (x->p->nglue_up - old->nglue_up);
    x->p->specimens = PL_NEWN(x->f.scratch, x->p->nspecimen, pl_specimen);
    if (!x->p->specimens)
        return pl_nomem(x->f.d);
    for (size_t i = 0; i < old->nspecimen; i++) {
        pl_specimen *s = &x->p->specimens[at++];

        *s = old->specimens[i];
        s->glue_up = now[s->glue_up];
        s->spare = x->p->glue_ups[s->glue_up].spare;
    }
    rc = new_specimens(x, made, issued, m, &at);
    if (!rc)
        rc = sort_specimens(x);
    return rc ? rc : draw_break_order(x);
}

pl_code pl_added_write(pl_added *x, bool bridge, const pl_issued *issued)
{
    size_t *now = PL_NEWN(x->f.scratch, x->old->nglue_up, size_t), *made;
    pl_code rc;

    pl_added_together(x);
    rc = pl_added_closings(x, bridge);
    if (rc)
        return rc;
    made = PL_NEWN(x->f.scratch, x->n, size_t);
    if (!now || !made)
        return pl_nomem(x->f.d);
    sort_by_closing(x);
    rc = write_glue_ups(x, now, made);
    return rc ? rc : write_specimens(x, now, made, issued);
}

char *pl_added_beside(const pl_added *x)
{
    pl_text t;

    pl_text_init(&t, x->f.a);
    if (x->nreference)
        pl_text_add(&t, "; beside them %zu reference joint%s", x->nreference,
                    x->nreference == 1 ? "" : "s");
    if (x->npair)
        pl_text_add(&t, "%s %zu pair%s that bridge%s two rigs",
                    x->nreference ? " and" : "; beside them", x->npair, x->npair == 1 ? "" : "s",
                    x->npair == 1 ? "s" : "");
    return pl_text_done(&t);
}

bool pl_added_say_tied(pl_added *x)
{
    const unsigned first = x->old->nsession + 1, last = x->p->nsession;

    if (!x->f.s->reference.given)
        return false;
    if (x->untied)
        pl_added_say(x, pl_arena_printf(x->f.a,
                                        "%zu of the %u new sessions ha%s not all reference joints: "
                                        "no wood or no closing is left for them",
                                        x->untied, last - first + 1, x->untied == 1 ? "s" : "ve"));
    if (x->untied)
        return false;
    pl_added_say(x,
                 first == last
                     ? pl_arena_printf(x->f.a,
                                       "session %u is told from those before it by its reference "
                                       "joint%s",
                                       first, x->nreference == 1 ? "" : "s")
                     : pl_arena_printf(x->f.a,
                                       "sessions %u to %u are told from those before them by "
                                       "their reference joints",
                                       first, last));
    return true;
}

pl_code pl_added_finish(pl_added *x)
{
    x->p->health.cannot = x->cannot;
    x->p->health.ncannot = x->ncannot;
    for (size_t i = 0; i < x->ncannot; i++)
        if (!x->cannot[i])
            return pl_nomem(x->f.d);
    return x->p->chosen ? PL_OK : pl_nomem(x->f.d);
}
