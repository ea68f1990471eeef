/* Strata: which factors a plan compares between stretches, which between boards and which between
 * glue-ups, and what is left in each to tell how far like differs from like: the rank that the
 * units add to blocks and treatments without them. The fit judges the same way (fit/linear.h). */
#include "design/draft.h"
#include "design/information.h"

typedef struct kinds {
    pl_draft *f;
    size_t *board, *session, *stretch[PL_LAYERS_MOST]; /* nunit: its block of each kind */
    size_t nstretch[PL_LAYERS_MOST];
    size_t *cell; /* nunit, scratch */
    pl_layout l;  /* blocks put in so far */
} kinds;

/* Do two units that share a block of the one kind always share one of the other? room: a place
 * for each of its blocks. */
static bool within(const pl_draft *f, const size_t *finer, const size_t *coarser, size_t *room,
                   size_t nfiner)
{
    for (size_t b = 0; b < nfiner; b++)
        room[b] = SIZE_MAX;
    for (size_t u = 0; u < f->nunit; u++) {
        if (room[finer[u]] != SIZE_MAX && room[finer[u]] != coarser[u])
            return false;
        room[finer[u]] = coarser[u];
    }
    return true;
}

static void put(kinds *k, const size_t *block, size_t nblock)
{
    k->l.block[k->l.nkind] = block;
    k->l.nblock[k->l.nkind++] = nblock;
}

/* Rank of the blocks put in and of ncell classes of units. */
static pl_code rank(kinds *k, size_t ncell, size_t *out)
{
    pl_mark mark = pl_arena_mark(k->f->scratch);
    pl_information in;
    size_t df = 0;
    pl_code rc;

    k->l.treatment = k->cell;
    k->l.ngroup = 1;
    k->l.v = ncell;
    rc = pl_layout_information(k->f->scratch, &k->l, &in, k->f->d);
    if (!rc)
        rc = pl_information_df(k->f->scratch, &in, &df, k->f->d);
    pl_arena_reset(k->f->scratch, mark);
    *out = k->l.nunit - df;
    return rc;
}

/* One more stratum; layer: of the factors it judges, or -1: what comes with the board. */
static pl_code add(kinds *k, pl_health *h, const char *unit, int layer, size_t df)
{
    pl_draft *f = k->f;
    const char **names = PL_NEWN(f->a, f->s->nfactor, const char *);
    pl_stratum *s = &h->strata[h->nstratum++];

    if (!names)
        return pl_nomem(f->d);
    *s = (pl_stratum){ .unit = unit, .judges = names, .df = df };
    for (size_t i = 0; i < f->s->nfactor; i++)
        if (layer < 0 ? (int)i == f->with_board
                      : (int)i != f->with_board && pl_study_layer_of(f->s, i) == (unsigned)layer)
            names[s->njudge++] = f->s->factors[i].name;
    return PL_OK;
}

/* Puts the blocks in and adds the stratum: units of one block of it against one another, `ncell`
 * classes of them in k->cell allowed for. */
static pl_code judge(kinds *k, pl_health *h, const char *unit, int layer, const size_t *block,
                     size_t nblock, size_t ncell)
{
    size_t without, with;
    pl_code rc = rank(k, ncell, &without);

    put(k, block, nblock);
    if (!rc)
        rc = rank(k, ncell, &with);
    return rc ? rc : add(k, h, unit, layer, with - without);
}

static bool open_kinds(pl_draft *f, kinds *k)
{
    size_t n = f->nunit;

    *k = (kinds){ .f = f, .l = { .nunit = n } };
    k->board = PL_NEWN(f->scratch, n, size_t);
    k->session = PL_NEWN(f->scratch, n, size_t);
    k->cell = PL_NEWN(f->scratch, n, size_t);
    if (!k->board || !k->session || !k->cell)
        return false;
    for (size_t u = 0; u < n; u++) {
        k->board[u] = f->units[u].board >= 0 ? (size_t)f->units[u].board : 0;
        k->session[u] = f->units[u].session;
    }
    for (unsigned l = 0; l < f->nlayer; l++) {
        k->stretch[l] = PL_NEWN(f->scratch, n, size_t);
        if (!k->stretch[l])
            return false;
        for (size_t u = 0; u < n; u++)
            k->stretch[l][u] = f->units[u].stretch[l];
        k->nstretch[l] = f->n * f->nkey[l];
    }
    return true;
}

static pl_code judge_boards(kinds *k, pl_health *h)
{
    pl_draft *f = k->f;

    if (!f->have_boards)
        return PL_OK;
    if (f->ngroup == 1) {
        if (!f->own_boards) /* else a board is a stretch */
            put(k, k->board, f->nboard);
        return PL_OK;
    }
    for (size_t u = 0; u < f->nunit; u++)
        k->cell[u] = f->units[u].group +
                     (f->own_boards ? f->ngroup * f->key[0][f->units[u].treatment] : 0);
    return judge(k, h, "board", -1, k->board, f->nboard,
                 f->ngroup * (f->own_boards ? f->nkey[0] : 1));
}

static pl_code judge_stretches(kinds *k, pl_health *h)
{
    pl_draft *f = k->f;
    pl_code rc = PL_OK;

    for (unsigned l = 0; l < f->nlayer && !rc; l++) {
        for (size_t u = 0; u < f->nunit; u++)
            k->cell[u] = f->key[l][f->units[u].treatment];
        rc = judge(k, h, pl_stretch_name(l), (int)l, k->stretch[l], k->nstretch[l], f->nkey[l]);
    }
    return rc;
}

/* Sessions drop out of comparisons where stretches share them; boards that lie within sessions
 * carry them. */
static bool put_sessions(kinds *k)
{
    pl_draft *f = k->f;
    size_t *room = PL_NEWN(f->scratch, f->nsession > f->nboard ? f->nsession : f->nboard, size_t);

    if (!room)
        return false;
    if (f->nsession == 1 || (f->nlayer && within(f, k->session, k->stretch[0], room, f->nsession)))
        return true;
    if (f->have_boards && !f->own_boards && within(f, k->board, k->session, room, f->nboard))
        return true;
    put(k, k->session, f->nsession);
    return true;
}

/* Stretches first in the list, whatever the blocks need. */
static void stretches_first(const pl_draft *f, pl_health *h)
{
    for (size_t i = 0; i + 1 < h->nstratum && !f->own_boards; i++)
        if (f->nlayer && f->ngroup > 1 && f->have_boards) {
            pl_stratum one = h->strata[i];

            if (i >= f->nlayer)
                return;
            h->strata[i] = h->strata[i + 1];
            h->strata[i + 1] = one;
        }
}

pl_code pl_draft_strata(pl_draft *f, pl_health *h)
{
    size_t all;
    kinds k;
    pl_code rc;

    if (!f->nlayer && (f->ngroup == 1 || !f->have_boards))
        return PL_OK;
    h->strata = PL_NEWN(f->a, PL_LAYERS_MOST + 2, pl_stratum);
    if (!h->strata || !open_kinds(f, &k))
        return pl_nomem(f->d);
    if (!put_sessions(&k))
        return pl_nomem(f->d);
    rc = f->own_boards ? PL_OK : judge_boards(&k, h);
    if (!rc)
        rc = judge_stretches(&k, h);
    if (!rc && f->own_boards)
        rc = judge_boards(&k, h);
    if (rc)
        return rc;
    stretches_first(f, h);
    for (size_t u = 0; u < f->nunit; u++)
        k.cell[u] = f->units[u].treatment;
    rc = rank(&k, f->ntreatment, &all);
    if (f->nlayer)
        h->unit_df = f->nunit - all;
    return rc ? rc : add(&k, h, "glue_up", (int)f->nlayer, h->unit_df);
}
