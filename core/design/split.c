/* Split plots: what is hard to change is left alone for a stretch of glue-ups. Which units make
 * a stretch, on which boards, and in which order stretches, stretches inside them and glue-ups
 * come; each is drawn at random within the next larger one. */
#include "base/stream.h"
#include "base/text.h"
#include "design/draft.h"

/* Orders of a stretch that are tried on an empty session before it counts as too long: presses
 * that make only some levels leave closings empty in some orders and not in others. */
#define STRETCH_TRIES 20

/* -------------------------------------------------------------- treatments -- */

pl_code pl_draft_split_keys(pl_draft *f)
{
    f->nlayer = pl_study_layers(f->s);
    for (unsigned l = 0; l < f->nlayer; l++) {
        f->nkey[l] = 1;
        f->key[l] = PL_NEWN(f->scratch, f->ntreatment, size_t);
        if (!f->key[l])
            return pl_nomem(f->d);
        for (size_t k = 0; k < f->s->nfactor; k++) {
            if (pl_study_layer_of(f->s, k) > l)
                continue;
            f->nkey[l] *= f->s->factors[k].nlevel;
            for (size_t t = 0; t < f->ntreatment; t++)
                f->key[l][t] = f->key[l][t] * f->s->factors[k].nlevel +
                               (size_t)f->levels[t * f->s->nfactor + k];
        }
    }
    return PL_OK;
}

char *pl_draft_split_names(const pl_draft *f, unsigned layer)
{
    const char **names = PL_NEWN(f->scratch, f->s->nfactor, const char *);
    size_t n = 0;

    for (size_t k = 0; names && k < f->s->nfactor; k++)
        if (pl_study_layer_of(f->s, k) == layer)
            names[n++] = f->s->factors[k].name;
    return names ? pl_text_list(f->scratch, names, n, "and") : NULL;
}

/* ------------------------------------------------------------------ boards -- */

pl_code pl_draft_split_sizes(pl_draft *f)
{
    size_t from = f->d->count, share = f->v / f->nkey[0], need = f->n * f->nkey[0];

    f->complete = false;
    f->own_boards = true;
    for (size_t g = 0; g < f->ngroup; g++) {
        const char *name = pl_draft_group(f, g), *space = *name ? " " : "";
        size_t held = 0;

        for (size_t b = 0; b < f->nboard; b++)
            if (f->boards[b].group == g && f->boards[b].room >= share && held++ < need)
                f->boards[b].size = share;
        if (held >= need)
            continue;
        pl_fail(f->d, PL_EUNFIT, pl_draft_where(f, "boards"), .pointer = "/boards",
                .found = pl_arena_printf(f->scratch,
                                         "%zu %s%sboards that hold the %zu glue-ups between "
                                         "changes of %s",
                                         held, name, space, share, pl_draft_split_names(f, 0)),
                .expected = pl_arena_printf(f->scratch,
                                            "%zu, one for each stretch; or boards that hold all "
                                            "%zu combinations",
                                            need, f->v),
                .mend = "longer or more boards, fewer levels, or make fewer");
    }
    return pl_diags_code(f->d, from);
}

/* Parcels are replicates; which board gets which stretch is drawn. */
pl_code pl_draft_split_units(pl_draft *f, size_t g, pl_stream *stream)
{
    uint32_t *list = PL_NEWN(f->scratch, f->nboard, uint32_t), n = 0;

    if (!list)
        return pl_nomem(f->d);
    for (size_t b = 0; b < f->nboard; b++)
        if (f->boards[b].group == g && f->boards[b].size)
            list[n++] = (uint32_t)b;
    pl_stream_shuffle(stream, list, n);
    for (size_t r = 0; r < f->n; r++) {
        size_t parcel = pl_draft_add_parcel(f, g, r);

        for (size_t i = 0; i < f->v; i++)
            pl_draft_add_unit(
                f, g, i, (int)list[r * f->nkey[0] + f->key[0][f->row_of[g * f->v + i]]], parcel);
    }
    return PL_OK;
}

/* ----------------------------------------------------------------- dealing -- */

typedef struct dealing {
    pl_draft *f;
    pl_stream *stream;
    size_t session;
    uint32_t *units, *inner, *outer; /* scratch: nunit, nkey */
} dealing;

/* The innermost stretch `id` of `layer`: its closings follow those used so far in the session, its
 * glue-ups lie in them at random. False: no room. */
static bool place_set(dealing *d, unsigned layer, size_t id)
{
    pl_draft *f = d->f;
    size_t n = 0, last = 0;

    for (size_t u = 0; u < f->nunit; u++)
        if (f->units[u].stretch[layer] == id)
            d->units[n++] = (uint32_t)u;
    if (f->from + n > f->nslot || !pl_draft_session_fits(f, d->units, n, f->nslot))
        return false;
    pl_draft_session_scatter(f, d->stream, d->units, n, pl_draft_session_span(f, d->units, n));
    for (size_t i = 0; i < n; i++) {
        f->units[d->units[i]].session = d->session;
        last = f->units[d->units[i]].slot > last ? f->units[d->units[i]].slot : last;
    }
    f->from = last + 1;
    return true;
}

/* A stretch of the outermost layer, those inside it in random order. */
static bool place_stretch(dealing *d, size_t row, size_t key)
{
    pl_draft *f = d->f;
    size_t each = f->nlayer > 1 ? f->nkey[1] / f->nkey[0] : 1, at = 0;

    if (f->nlayer == 1)
        return place_set(d, 0, row * f->nkey[0] + key);
    for (size_t t = 0; t < f->ntreatment && at < each; t++) { /* its keys of the inner layer */
        bool known = f->key[0][t] != key;

        for (size_t i = 0; i < at && !known; i++)
            known = d->inner[i] == f->key[1][t];
        if (!known)
            d->inner[at++] = (uint32_t)f->key[1][t];
    }
    pl_stream_shuffle(d->stream, d->inner, (uint32_t)at);
    for (size_t i = 0; i < at; i++)
        if (!place_set(d, 1, row * f->nkey[1] + d->inner[i]))
            return false;
    return true;
}

/* All of a row in what is left of the session. */
static bool place_row(dealing *d, size_t row)
{
    for (size_t i = 0; i < d->f->nkey[0]; i++)
        if (!place_stretch(d, row, d->outer[i]))
            return false;
    return true;
}

static void next_session(dealing *d)
{
    d->session++;
    d->f->from = 0;
}

/* Stretch by stretch, each within one session. */
static bool place_apart(dealing *d, size_t row)
{
    for (size_t i = 0; i < d->f->nkey[0]; i++) {
        size_t from = d->f->from;
        bool in = place_stretch(d, row, d->outer[i]);

        for (unsigned k = 0; k < STRETCH_TRIES && !in; k++) {
            if (from && !k)
                next_session(d);
            d->f->from = 0;
            in = place_stretch(d, row, d->outer[i]);
        }
        if (!in)
            return false;
    }
    return true;
}

static pl_code refuse_session(pl_draft *f)
{
    f->from = 0;
    return pl_fail(f->d, PL_EUNFIT, pl_draft_where(f, "times"), .pointer = "/times",
                   .found = pl_arena_printf(f->scratch,
                                            "a session too short for the %zu glue-ups between "
                                            "changes of %s",
                                            f->v * f->ngroup / f->nkey[0],
                                            pl_draft_split_names(f, 0)),
                   .expected = "sessions that hold a stretch in which it is left alone",
                   .mend = "lengthen the session, add a station, list fewer levels, or change it "
                           "from glue-up to glue-up");
}

/* Which unit belongs to which stretch: replicates of the groups side by side make a row. */
static pl_code name_stretches(pl_draft *f, pl_stream *stream, size_t *nrow)
{
    size_t *parcel, *row = PL_NEWN(f->scratch, f->nparcel, size_t);

    if (!row || !pl_draft_rows(f, stream, &parcel, nrow))
        return pl_nomem(f->d);
    for (size_t i = 0; i < *nrow * f->ngroup; i++)
        row[parcel[i]] = i / f->ngroup;
    for (size_t u = 0; u < f->nunit; u++)
        for (unsigned l = 0; l < f->nlayer; l++)
            f->units[u].stretch[l] = row[f->units[u].parcel] * f->nkey[l] +
                                     f->key[l][f->units[u].treatment];
    return PL_OK;
}

/* Rows whole within a session where they fit, so that days drop out of every comparison. */
pl_code pl_draft_split_deal(pl_draft *f, pl_stream *stream)
{
    dealing d = { .f = f, .stream = stream };
    size_t nrow = 0;
    pl_code rc = name_stretches(f, stream, &nrow);

    d.units = PL_NEWN(f->scratch, f->nunit, uint32_t);
    d.inner = PL_NEWN(f->scratch, f->ntreatment, uint32_t);
    d.outer = PL_NEWN(f->scratch, f->nkey[0], uint32_t);
    if (rc || !d.units || !d.inner || !d.outer)
        return rc ? rc : pl_nomem(f->d);
    f->from = 0;
    f->split = false;
    for (size_t r = 0; r < nrow; r++) {
        size_t from = f->from;

        for (size_t i = 0; i < f->nkey[0]; i++)
            d.outer[i] = (uint32_t)i;
        pl_stream_shuffle(stream, d.outer, (uint32_t)f->nkey[0]);
        if (place_row(&d, r))
            continue;
        if (from)
            next_session(&d);
        f->from = 0;
        if (from && place_row(&d, r))
            continue;
        f->split = true;
        f->from = 0;
        if (!place_apart(&d, r))
            return refuse_session(f);
    }
    f->nsession = d.session + 1;
    f->from = 0;
    return PL_OK;
}

/* ----------------------------------------------------------------- numbers -- */

void pl_draft_split_number(const pl_draft *f, pl_plan *p)
{
    unsigned number[PL_LAYERS_MOST] = { 0 };

    for (size_t i = 0; i < f->nunit; i++)
        for (unsigned l = 0; l < f->nlayer; l++) {
            const pl_draft_unit *u = &f->units[f->order[i]], *before = &f->units[f->order[i - !!i]];

            number[l] += !i || u->stretch[l] != before->stretch[l];
            p->glue_ups[f->place_of[i]].stretch[l] = number[l];
        }
}
