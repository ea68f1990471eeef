/* What of a study is fitted link by link: its effects and blocks as the linear model has them, the
 * cells that are answered for last. The fit is fit's (fit/bond.h). */
#include "cli/study_bond.h"

#include <math.h>
#include <string.h>

#include "fit/bond_curve.h"
#include "fit/matching.h"
#include "fit/study_effects.h"
#include "report/say.h"

/* Some reading is not the strength of joint and glue line alike. */
static bool any_bound(const pl_table *t)
{
    const pl_column *least = pl_table_find(t, PL_COLUMN_LEAST),
                    *most = pl_table_find(t, PL_COLUMN_MOST), *wood = pl_table_find(t, "wood");

    for (size_t i = 0; i < t->nrow; i++)
        if (wood->number[i] != 0 || isnan(least->number[i]) || isnan(most->number[i]) ||
            least->number[i] < most->number[i])
            return true;
    return false;
}

static bool has(const pl_linear_effect *e, const char *factor)
{
    for (size_t i = 0; i < e->nfactor; i++)
        if (!strcmp(e->factors[i], factor))
            return true;
    return false;
}

/* Single factors first, the one asked along last of them; then joint effects, of which the last is
 * the one that holds the cells asked about. Without such a one there are none. */
static pl_code order_effects(pl_run *run, const pl_study *s, pl_linear_effect *e, size_t n,
                             pl_bond_spec *out)
{
    const char *over = s->question.over >= 0 ? s->factors[s->question.over].name : NULL;
    const char *each = s->question.for_each >= 0 ? s->factors[s->question.for_each].name : NULL;
    size_t place = 0, cells = n;

    for (size_t i = 0; i < n; i++) /* single factors come first already */
        out->nsingle += e[i].nfactor == 1;
    for (size_t i = 0; over && i < out->nsingle; i++)
        if (has(&e[i], over)) {
            pl_linear_effect asked = e[i];

            memmove(e + i, e + i + 1, (out->nsingle - i - 1) * sizeof *e);
            e[out->nsingle - 1] = asked;
            place = 1;
            break;
        }
    for (size_t i = out->nsingle; place && i < n; i++)
        if (has(&e[i], over) && (cells == n || (each && has(&e[i], each))))
            cells = i;
    if (cells < n) {
        pl_linear_effect asked = e[cells];

        memmove(e + cells, e + cells + 1, (n - cells - 1) * sizeof *e);
        e[n - 1] = asked;
        if (each && has(&asked, each)) { /* "beech, 0.2 N/mm2": the group first */
            const char **names = PL_NEWN(run->arena, 2, const char *);

            if (!names)
                return pl_nomem(&run->diags);
            names[0] = each;
            names[1] = over;
            e[n - 1].factors = names;
        }
    }
    out->effects = e;
    out->neffect = place && cells == n ? out->nsingle : n;
    out->shown = place ? 1 : out->neffect;
    return PL_OK;
}

/* What the wood's own strength may go with: what comes with the board, and the groups asked for. */
static pl_code wood_effects(pl_run *run, const pl_study *s, pl_bond_spec *out)
{
    pl_linear_effect *e = PL_NEWN(run->arena, out->nsingle, pl_linear_effect);

    if (!e)
        return pl_nomem(&run->diags);
    for (size_t i = 0; i < out->nsingle; i++)
        for (size_t k = 0; k < s->nfactor; k++)
            if (has(&out->effects[i], s->factors[k].name) && !s->factors[k].numeric &&
                (s->factors[k].comes_with_board || (int)k == s->question.for_each))
                e[out->nwood_effect++] = out->effects[i];
    out->wood_effects = e;
    return PL_OK;
}

static pl_code make_spec(pl_run *run, const pl_study *s, const pl_plan *plan, const pl_table *t,
                         pl_bond_spec *out, const pl_table **wide)
{
    pl_linear_spec linear = { 0 };
    pl_matching *m = PL_NEW(run->arena, pl_matching);
    const char **blocks = PL_NEWN(run->arena, 2 * PL_MATCHING_BLOCKS_MOST, const char *);
    pl_linear_effect *effects;
    pl_code rc;

    *out = (pl_bond_spec){ .least = PL_COLUMN_LEAST,
                           .most = PL_COLUMN_MOST,
                           .share = PL_COLUMN_SHARE,
                           .wood = "wood",
                           .counts_as_wood = s->rules.counts_as_wood,
                           .law = (pl_law)s->rules.scatter_law };
    if (!m || !blocks)
        return pl_nomem(&run->diags);
    rc = pl_match_plan(run->arena, s, plan, t, m, &run->diags);
    if (!rc)
        rc = pl_study_effects(run->arena, s, t, &linear, wide, &run->diags);
    if (rc)
        return rc;
    for (size_t i = 0; i < m->nblock; i++)
        blocks[out->nblock++] = m->blocks[i];
    for (size_t i = 0; i < m->nrandom; i++)
        blocks[out->nblock++] = m->randoms[i];
    out->blocks = blocks;
    out->covariates = linear.covariates;
    out->ncovariate = linear.ncovariate;
    effects = PL_NEWN(run->arena, linear.neffect, pl_linear_effect);
    if (!effects)
        return pl_nomem(&run->diags);
    for (size_t i = 0; i < linear.neffect; i++)
        effects[i] = linear.effects[i];
    rc = order_effects(run, s, effects, linear.neffect, out);
    return rc ? rc : wood_effects(run, s, out);
}

pl_code pl_study_bond(pl_run *run, const pl_study *s, const pl_joined *joined, pl_fit_answer *f,
                      pl_study_links *links)
{
    pl_bond_fit *fit = PL_NEW(run->arena, pl_bond_fit);
    pl_diags said = run->diags; /* the linear model says the same of effects and blocks */
    const pl_table *wide = joined->held;
    pl_code rc;

    links->table = NULL;
    if (!fit)
        return pl_nomem(&run->diags);
    if (!any_bound(joined->held))
        return PL_OK;
    pl_diags_init(&run->diags, run->arena);
    rc = make_spec(run, s, f->plan, joined->held, &links->spec, &wide);
    said.out_of_memory |= run->diags.out_of_memory;
    run->diags = said;
    if (rc)
        return rc == PL_ENOMEM ? pl_nomem(&run->diags) : PL_OK;
    rc = pl_fit_bond(run->arena, wide, &links->spec, fit, &run->diags);
    f->bond = rc ? NULL : fit;
    links->table = rc ? NULL : wide;
    return rc;
}

pl_code pl_study_bond_curves(pl_run *run, const pl_study *s, const pl_study_links *links,
                             pl_fit_answer *f)
{
    pl_plateau *list;
    pl_code rc;

    if (!links->table || !f->spec || !f->bond->bond.own)
        return PL_OK;
    rc = pl_bond_curves(run->arena, links->table, &links->spec, PL_LINK_BOND, f->spec, &list,
                        &f->nbond_plateau, &run->diags);
    for (size_t i = 0; i < f->nbond_plateau; i++)
        list[i].over = s->factors[s->question.over].name; /* what the tester calls it */
    f->bond_plateaus = rc ? NULL : list;
    if (rc || !f->bond->handling)
        return rc;
    rc = pl_bond_curves(run->arena, links->table, &links->spec, PL_LINK_UNHANDLED, f->spec, &list,
                        &f->nbond_plateau, &run->diags);
    for (size_t i = 0; i < f->nbond_plateau; i++)
        list[i].over = s->factors[s->question.over].name;
    f->unhandled_plateaus = rc ? NULL : list;
    return rc;
}

const char *pl_study_bond_moves(pl_run *run, const pl_fit_answer *f, const pl_fit_answer *with)
{
    const pl_bounds_fit *a = f->bond ? f->bond->bond.fit : NULL;
    const pl_bounds_fit *b = with->bond ? with->bond->bond.fit : NULL;
    double most = 0;
    size_t one = 0, other = 0;

    for (size_t i = 0; a && b && i < a->nlevel; i++)
        for (size_t k = 0; k < b->nlevel; k++) {
            double by = fabs(a->levels[i].holds.at - b->levels[k].holds.at);

            if (!strcmp(a->levels[i].factor, b->levels[k].factor) &&
                !strcmp(a->levels[i].level, b->levels[k].level) && by > most) {
                most = by;
                one = i;
                other = k;
            }
        }
    if (!a || !b || !(most > 0.01 * fabs(a->levels[one].holds.at)))
        return "";
    return pl_arena_printf(
        run->arena,
        "of the glue line's figures the one for %s moves most: %s %s without "
        "%s, %s with %s",
        a->levels[one].level, pl_say_bare(run->arena, a->levels[one].holds.at, 3, 0), a->unit,
        f->excluded == 1 ? "it" : "them", pl_say_bare(run->arena, b->levels[other].holds.at, 3, 0),
        f->excluded == 1 ? "it" : "them");
}
