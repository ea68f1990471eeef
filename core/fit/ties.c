/* Kinds of offsets beside the levels, and whether they can be told from these. */
#include "fit/ties.h"

#include <math.h>
#include <string.h>

#include "fit/bridged.h"

typedef struct kind {
    const char *column, *many; /* many: what its levels are called, before two of them */
} kind;

static const kind kinds[PL_TIES_MOST] = {
    { "rig", "" },
    { "session", "sessions " },
    { PL_TIE_PRESS, "" },
    { PL_TIE_BREAKING_RIG, "" },
    { PL_TIE_BROKEN_BY, "the breakers numbered " },
};

typedef struct look {
    pl_arena *a;
    const pl_table *t;
    pl_diags *d;
    const double *reference;
    bool tied, rigs;
} look;

static bool listed(const char *const *list, size_t n, const char *name)
{
    for (size_t i = 0; i < n; i++)
        if (!strcmp(list[i], name))
            return true;
    return false;
}

/* Every level of `fine` lies in one of `coarse`, reference joints left aside. */
static pl_code lies_in(const look *k, const char *fine, const char *coarse, bool *inside)
{
    pl_factor_codes f, c;
    int *home = NULL;
    pl_code rc = pl_table_factor(k->a, k->t, fine, &f, k->d);

    *inside = true;
    if (!rc)
        rc = pl_table_factor(k->a, k->t, coarse, &c, k->d);
    if (rc)
        return rc;
    home = PL_NEWN(k->a, f.nlevel, int);
    if (!home)
        return pl_nomem(k->d);
    for (size_t i = 0; i < k->t->nrow; i++) {
        int *h;

        if (f.code[i] < 0 || c.code[i] < 0 || k->reference[i] != 0)
            continue;
        h = &home[f.code[i]];
        *inside = *inside && (!*h || *h == c.code[i] + 1);
        *h = c.code[i] + 1;
    }
    return PL_OK;
}

/* Has it several levels among the joints that are compared, none of which changes within a
 * glue-up, and is it not the same throughout each block of some kind already there? */
static pl_code matters(const look *k, const char *column, const char *const *have, size_t nhave,
                       bool *out)
{
    pl_factor_codes c;
    bool inside = false;
    int first = -1;
    pl_code rc = pl_table_factor(k->a, k->t, column, &c, k->d);

    *out = false;
    for (size_t i = 0; !rc && i < k->t->nrow; i++) {
        if (k->reference[i] != 0 || c.code[i] < 0)
            continue;
        *out = *out || (first >= 0 && c.code[i] != first);
        first = c.code[i];
    }
    if (rc || !*out)
        return rc;
    rc = lies_in(k, "glue_up", column, out);
    for (size_t b = 0; !rc && *out && b < nhave; b++) {
        rc = lies_in(k, have[b], column, &inside);
        /* sessions around boards: reference joints may still tell them apart */
        *out = *out && (!inside || (!strcmp(column, "session") && strcmp(have[b], "session") != 0));
    }
    return rc;
}

static pl_code say_zero(const look *k, const kind *what, const char *factor, const char *pair,
                        pl_ties *out)
{
    char *words = pl_arena_printf(
        k->a,
        "The difference between %s%s is fitted as zero: no %s was made on "
        "both, so what one of them does to strength counts as %s.",
        what->many, pair, factor, factor);

    if (!words)
        return pl_nomem(k->d);
    out->said[out->nzero] = what->column;
    out->zeros[out->nzero++] = words;
    return PL_OK;
}

/* The same parting was said of another kind: one press for each rig. */
static pl_code said_already(const look *k, const kind *what, const pl_ties *out, bool *said)
{
    pl_code rc = PL_OK;

    *said = false;
    for (size_t i = 0; i < out->nzero && !rc && !*said; i++) {
        rc = lies_in(k, out->said[i], what->column, said);
        if (!rc && *said)
            rc = lies_in(k, what->column, out->said[i], said);
    }
    return rc;
}

/* One kind for one factor. */
static pl_code look_at(const look *k, const kind *what, const char *factor, const char *group,
                       pl_ties *out)
{
    const char *pair = NULL, *unused = NULL;
    pl_bridged levels, all;
    bool single = true, said = false;
    pl_code rc = pl_rigs_bridged(k->a, k->t, what->column, factor, group, NULL, &levels, &unused,
                                 k->d);

    if (!rc)
        rc = pl_rigs_bridged(k->a, k->t, what->column, factor, group,
                             k->tied ? PL_TIE_REFERENCE : NULL, &all, &pair, k->d);
    if (rc)
        return rc;
    if (all == PL_RIGS_BRIDGED &&
        (levels == PL_RIGS_APART || (k->rigs && !strcmp(what->column, "rig")))) {
        out->blocks[out->nblock++] = what->column;
        return PL_OK;
    }
    if (all != PL_RIGS_APART)
        return PL_OK;
    /* levels that several sessions repeat are judged between sessions */
    if (!strcmp(what->column, "session"))
        rc = lies_in(k, factor, what->column, &single);
    if (!rc)
        rc = said_already(k, what, out, &said);
    if (rc || !single || said || out->nzero == PL_TIES_MOST)
        return rc;
    return say_zero(k, what, factor, pair, out);
}

pl_code pl_ties_find(pl_arena *a, const pl_table *t, bool tied, bool rigs, const char *const *have,
                     size_t nhave, const char *factor, const char *group, pl_ties *out, pl_diags *d)
{
    const pl_column *reference;
    look k = { .a = a, .t = t, .d = d, .tied = tied, .rigs = rigs };
    pl_code rc = pl_table_need_number(t, PL_TIE_REFERENCE, &reference, d);

    if (rc)
        return rc;
    k.reference = reference->number;
    for (size_t i = 0; i < PL_TIES_MOST && !rc; i++) {
        bool does = false;

        if (listed(have, nhave, kinds[i].column) ||
            listed(out->blocks, out->nblock, kinds[i].column))
            continue;
        rc = matters(&k, kinds[i].column, have, nhave, &does);
        if (!rc && does)
            rc = matters(&k, kinds[i].column, out->blocks, out->nblock, &does);
        if (!rc && does)
            rc = look_at(&k, &kinds[i], factor, group, out);
    }
    return rc;
}
