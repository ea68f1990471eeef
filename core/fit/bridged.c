/* Chains of rigs that made the same level. Taking the offset out is the blocks' of curve_rows.c. */
#include "fit/bridged.h"

typedef struct chains {
    const pl_factor_codes *rig, *level, *group; /* group: NULL for one */
    const double *tie;                          /* NULL: no reference joints */
    int *root;                                  /* of each rig */
    int *last; /* rig that made this level before, the reference joint behind them; -1: none */
    bool *seen;
} chains;

static int root_of(const chains *c, int rig)
{
    while (c->root[rig] != rig)
        rig = c->root[rig];
    return rig;
}

static bool is_reference(const chains *c, size_t row)
{
    return c->tie && c->tie[row] != 0;
}

static bool counts(const chains *c, size_t row, int group)
{
    if (is_reference(c, row))
        return c->rig->code[row] >= 0;
    return c->rig->code[row] >= 0 && c->level->code[row] >= 0 &&
           (!c->group || c->group->code[row] == group);
}

/* Joins the rigs of one group that made one level; false: some are left apart. */
static bool join_group(chains *c, size_t nrow, int group, int *first, int *other)
{
    const int n = (int)c->rig->nlevel;
    int *last;

    for (size_t l = 0; l <= c->level->nlevel; l++)
        c->last[l] = -1;
    for (int r = 0; r < n; r++) {
        c->root[r] = r;
        c->seen[r] = false;
    }
    for (size_t i = 0; i < nrow; i++) {
        if (!counts(c, i, group))
            continue;
        last = &c->last[c->level->nlevel];
        if (!is_reference(c, i)) {
            c->seen[c->rig->code[i]] = true;
            last = &c->last[c->level->code[i]];
        }
        if (*last >= 0)
            c->root[root_of(c, *last)] = root_of(c, c->rig->code[i]);
        *last = c->rig->code[i];
    }
    *first = -1;
    for (int r = 0; r < n; r++) {
        if (!c->seen[r])
            continue;
        *other = r;
        if (*first < 0)
            *first = r;
        else if (root_of(c, r) != root_of(c, *first))
            return false;
    }
    return true;
}

pl_code pl_rigs_bridged(pl_arena *a, const pl_table *t, const char *rig, const char *level,
                        const char *group, const char *tie, pl_bridged *out, const char **apart,
                        pl_diags *d)
{
    const pl_column *reference = NULL;
    pl_factor_codes rigs, levels, groups = { 0 };
    chains c = { .rig = &rigs, .level = &levels, .group = group ? &groups : NULL };
    int first = 0, other = 0;
    pl_code rc = pl_table_factor(a, t, rig, &rigs, d);

    *out = PL_ONE_RIG;
    if (!rc)
        rc = pl_table_factor(a, t, level, &levels, d);
    if (!rc && group)
        rc = pl_table_factor(a, t, group, &groups, d);
    if (!rc && tie)
        rc = pl_table_need_number(t, tie, &reference, d);
    if (rc || rigs.nlevel < 2)
        return rc;
    c.tie = reference ? reference->number : NULL;
    c.root = PL_NEWN(a, rigs.nlevel, int);
    c.seen = PL_NEWN(a, rigs.nlevel, bool);
    c.last = PL_NEWN(a, levels.nlevel + 1, int);
    if (!c.root || !c.seen || !c.last)
        return pl_nomem(d);
    *out = PL_RIGS_BRIDGED;
    for (int g = 0; g < (group ? (int)groups.nlevel : 1); g++) {
        if (join_group(&c, t->nrow, g, &first, &other))
            continue;
        *out = PL_RIGS_APART;
        if (apart)
            *apart = pl_arena_printf(a, "%s and %s", rigs.levels[first], rigs.levels[other]);
        return apart && !*apart ? pl_nomem(d) : PL_OK;
    }
    return PL_OK;
}
