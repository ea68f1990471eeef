/* Blocks of a study's analysis, from how it was planned. The fit itself is linear.c's
 * and plateau.c's. */
#include "fit/matching.h"

#include <string.h>

/* ------------------------------------------------------------------ blocks -- */

typedef struct look {
    pl_arena *a;
    const pl_table *t;
    pl_diags *d;
    pl_code rc;
} look;

static pl_factor_codes codes_of(look *k, const char *name)
{
    pl_factor_codes c = { 0 };

    if (!k->rc && pl_table_find(k->t, name))
        k->rc = pl_table_factor(k->a, k->t, name, &c, k->d);
    return c;
}

static bool varies(look *k, const char *name)
{
    return codes_of(k, name).nlevel > 1;
}

/* Rows that share a level of `finer` share one of `coarser` too. */
static bool within(look *k, const char *finer, const char *coarser)
{
    pl_factor_codes f = codes_of(k, finer), c = codes_of(k, coarser);
    int *of = PL_NEWN(k->a, f.nlevel, int);

    if (!of || k->rc || !f.code || !c.code) {
        k->rc = k->rc ? k->rc : pl_nomem(k->d);
        return false;
    }
    for (size_t l = 0; l < f.nlevel; l++)
        of[l] = -1;
    for (size_t i = 0; i < k->t->nrow; i++) {
        if (f.code[i] < 0 || c.code[i] < 0)
            continue;
        if (of[f.code[i]] >= 0 && of[f.code[i]] != c.code[i])
            return false;
        of[f.code[i]] = c.code[i];
    }
    return true;
}

typedef struct seen {
    bool board, session, stretch[PL_LAYERS_MOST];
} seen;

/* What is a block, and adds something beside the others. */
static seen look_at(look *k)
{
    seen b = { .board = varies(k, "board"), .session = varies(k, "session") };

    for (unsigned l = 0; l < PL_LAYERS_MOST; l++)
        b.stretch[l] = varies(k, pl_stretch_name(l));
    if (b.stretch[0]) {
        bool inside = b.board && within(k, "board", "stretch");

        /* a board that is a stretch, a session that is one */
        b.board = b.board && !(inside && within(k, "stretch", "board"));
        b.session = b.session && !within(k, "session", "stretch") &&
                    (inside || !b.board || !within(k, "board", "session"));
    } else {
        b.session = b.session && (!b.board || !within(k, "board", "session"));
    }
    return b;
}

/* Does some board hold less than every combination, or some more often than others? Fractions and
 * their like share out effects, not combinations. */
static bool shared_sets(const pl_study *s, const pl_plan *p)
{
    int with = pl_study_with_board(s);
    size_t v = p->ntreatment / (with >= 0 ? s->factors[with].nlevel : 1);

    if (s->arrangement.runs || pl_study_layers(s))
        return false;
    for (size_t b = 0; b < p->nboard; b++) {
        size_t held = 0;

        for (size_t i = 0; i < p->nglue_up; i++)
            held += p->glue_ups[i].board == (int)b && !p->glue_ups[i].spare &&
                    !p->glue_ups[i].instead;
        if (held % v)
            return true;
    }
    return false;
}

static pl_code find_blocks(pl_arena *a, const pl_study *s, const pl_plan *p, const pl_table *t,
                           pl_matching *m, pl_diags *d)
{
    look k = { a, t, d, PL_OK };
    seen b = look_at(&k);

    m->designed = b.stretch[0];
    if (b.board && (m->designed ? pl_study_with_board(s) >= 0 : shared_sets(s, p)))
        m->randoms[m->nrandom++] = "board";
    else if (b.board)
        m->blocks[m->nblock++] = "board";
    if (b.session)
        m->blocks[m->nblock++] = "session";
    for (unsigned l = 0; l < PL_LAYERS_MOST; l++)
        if (b.stretch[l])
            m->randoms[m->nrandom++] = pl_stretch_name(l);
    return k.rc;
}

pl_code pl_match_plan(pl_arena *a, const pl_study *s, const pl_plan *p, const pl_table *t,
                      pl_matching *out, pl_diags *d)
{
    *out = (pl_matching){ 0 };
    return find_blocks(a, s, p, t, out, d);
}

/* ------------------------------------------------------------------ curves -- */

pl_code pl_match_curve(pl_arena *a, const pl_study *s, const pl_table *t, size_t over,
                       const char **blocks, size_t *nblock, const char **unit, pl_diags *d)
{
    unsigned layer = pl_study_layer_of(s, over);
    look k = { a, t, d, PL_OK };
    seen b = look_at(&k);
    size_t n = 0;

    *unit = "glue_up";
    if (layer < pl_study_layers(s) && b.stretch[layer]) {
        /* set once a stretch, so a stretch is what it is judged by; what lies across stretches is
         * no block of them */
        *unit = pl_stretch_name(layer);
        if (varies(&k, "board") && within(&k, *unit, "board") && !within(&k, "board", *unit))
            blocks[n++] = "board";
        else if (varies(&k, "session") && within(&k, *unit, "session") &&
                 !within(&k, "session", *unit))
            blocks[n++] = "session";
        for (unsigned l = 0; l < layer; l++)
            if (b.stretch[l])
                blocks[n++] = pl_stretch_name(l);
        *nblock = n;
        return k.rc;
    }
    if (b.board)
        blocks[n++] = "board";
    if (b.session)
        blocks[n++] = "session";
    for (unsigned l = 0; l < PL_LAYERS_MOST; l++)
        if (b.stretch[l])
            blocks[n++] = pl_stretch_name(l);
    *nblock = n;
    return k.rc;
}
