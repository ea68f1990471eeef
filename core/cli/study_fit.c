/* The fit of a study: the table from plan and readings, curves for each group,
 * the analysis of variance that matches the plan, and the answer on the rigs'
 * dials. */
#include "cli/study_fit.h"

#include <math.h>
#include <string.h>

#include "cli/curve_child.h"
#include "cli/data.h"
#include "cli/study_bond.h"
#include "cli/study_responses.h"
#include "fit/boxcox.h"
#include "fit/compare.h"
#include "fit/linear.h"
#include "fit/matching.h"
#include "fit/onset.h"
#include "fit/plateau.h"
#include "fit/randomise.h"
#include "fit/study_effects.h"
#include "fit/surface.h"
#include "fit/ties.h"
#include "report/say.h"
#include "report/trust.h"
#include "rigs/rigs.h"

/* ------------------------------------------------------------- curves ------ */

/* A rig's own error is common to all its joints: no number of them averages it out. In the
 * unit of the column of pressures made. */
static pl_code rig_doubts(pl_run *run, const pl_fit_answer *f, const pl_factor *over,
                          pl_curve_spec *spec)
{
    const pl_set_points *points = &f->plan->points;
    const double scale = pl_table_find(f->table, PL_COLUMN_MADE)->scale;
    pl_rig_doubt *doubts;

    if (!points->at)
        return PL_OK;
    doubts = PL_NEWN(run->arena, over->nlevel, pl_rig_doubt);
    if (!doubts)
        return pl_nomem(&run->diags);
    for (size_t i = 0; i < over->nlevel; i++) {
        const pl_set_point *s;

        if (points->chosen[i] < 0)
            continue;
        s = pl_set_points_at(points, i, (size_t)points->chosen[i]);
        doubts[spec->ndoubt++] = (pl_rig_doubt){ over->levels[i].si / scale,
                                                 s->u_rig_N > 0 ? s->u_rig_N / s->gives_N : 0,
                                                 s->rig };
    }
    spec->doubts = doubts;
    return PL_OK;
}

static bool has_references(const pl_fit_answer *f)
{
    return f->tied->nrow > f->table->nrow;
}

/* Adds the sentences of what is fitted as zero, each once. */
static pl_code add_zeros(pl_run *run, pl_fit_answer *f, const pl_ties *ties)
{
    const char **all = PL_NEWN(run->arena, f->nzero + ties->nzero, const char *);
    size_t n = f->nzero;

    if (!all)
        return pl_nomem(&run->diags);
    for (size_t i = 0; i < f->nzero; i++)
        all[i] = f->zeros[i];
    for (size_t i = 0; i < ties->nzero; i++) {
        bool said = false;

        for (size_t k = 0; k < n; k++)
            said = said || !strcmp(all[k], ties->zeros[i]);
        if (!said)
            all[n++] = ties->zeros[i];
    }
    f->zeros = all;
    f->nzero = n;
    return PL_OK;
}

/* Kinds that reference joints or bridging tell from the levels are blocks too; of others the
 * difference is fitted as zero, and that is said. */
static pl_code take_ties(pl_run *run, pl_fit_answer *f, pl_curve_spec *spec, const char **blocks)
{
    pl_ties ties = { 0 };
    bool by_glue_up = !strcmp(spec->unit, "glue_up");
    pl_code rc = pl_ties_find(run->arena, f->tied, spec->tie && by_glue_up, by_glue_up,
                              spec->blocks, spec->nblock, spec->planned, spec->for_each, &ties,
                              &run->diags);

    for (size_t i = 0; i < ties.nblock && by_glue_up && !rc; i++)
        blocks[spec->nblock++] = ties.blocks[i];
    return rc ? rc : add_zeros(run, f, &ties);
}

static pl_code fit_curves(pl_run *run, const pl_loaded *l, pl_fit_answer *out)
{
    const pl_study *s = l->study;
    const pl_table *t = out->table;
    const pl_factor *over = &s->factors[s->question.over];
    const char **blocks = PL_NEWN(run->arena, PL_MATCHING_BLOCKS_MOST + PL_TIES_MOST, const char *);
    const char **randoms = PL_NEWN(run->arena, PL_MATCHING_BLOCKS_MOST, const char *);
    bool pressed = s->question.over == pl_study_pressed(s);
    pl_curve_spec *spec = PL_NEW(run->arena, pl_curve_spec);
    pl_plateau *plateaus;
    pl_code rc;

    if (!blocks || !randoms || !spec)
        return pl_nomem(&run->diags);
    *spec = (pl_curve_spec){ .response = "strength",
                             .over = pressed ? PL_COLUMN_MADE : over->name,
                             .planned = over->name,
                             .blocks = blocks,
                             .randoms = randoms,
                             .in_proportion = s->in_proportion,
                             .curves = s->curves,
                             .ncurve = s->ncurve,
                             .share = s->question.share,
                             .bootstrap = l->draws.bootstrap,
                             .residuals = l->draws.residuals,
                             .seed = l->draws.seed,
                             .wood = "wood" };
    rc = pl_match_curve(run->arena, s, t, (size_t)s->question.over, blocks, &spec->nblock,
                        &spec->unit, &run->diags);
    if (rc)
        return rc;
    spec->nrandom = pl_study_randoms(s, blocks, &spec->nblock, randoms);
    if (s->nrandom > spec->nrandom)
        pl_remark(&run->diags, s->name,
                  .found = "`model.random` names what is no block of these curves");
    if (s->question.for_each >= 0)
        spec->for_each = s->factors[s->question.for_each].name;
    out->spec = spec;
    if (has_references(out) && !spec->nrandom && !spec->in_proportion)
        spec->tie = PL_TIE_REFERENCE;
    rc = take_ties(run, out, spec, blocks);
    if (rc)
        return rc;
    rc = pressed ? rig_doubts(run, out, over, spec) : PL_OK;
    if (!rc)
        rc = pl_curves_fit(run, out->tied, spec, &plateaus, &out->nplateau);
    if (rc)
        return rc;
    for (size_t i = 0; i < out->nplateau; i++)
        plateaus[i].over = over->name; /* what the tester calls it */
    out->plateaus = plateaus;
    return PL_OK;
}

/* ------------------------------------------------- analysis of variance ---- */

/* The levels of the compared factor against the one named beforehand. A margin in strength is
 * a share of that level's mean. */
static pl_code compare_as_good(pl_run *run, const pl_study *s, pl_linear_fit *fit)
{
    const pl_question *q = &s->question;
    const pl_factor *f = &s->factors[q->compared];
    const char *named = f->levels[q->compare_with].text;
    pl_compare c = { .factor = f->name,
                     .kind = PL_AS_GOOD_AS,
                     .named = named,
                     .margin = 1 - q->as_good_as.value,
                     .alpha = q->false_alarm };

    if (!q->as_good_as.relative) {
        c.margin = NAN;
        for (size_t i = 0; i < fit->nmean; i++)
            if (!strcmp(fit->means[i].factor, f->name) && !strcmp(fit->means[i].level, named))
                c.margin = pl_units_from_si(q->as_good_as.value, PL_Q_PRESSURE, s->show_in[0]) /
                           fit->means[i].estimate;
    }
    return pl_compare_levels(run->arena, fit, &c, &run->diags);
}

/* Every pair of each factor's levels, where there is something to judge them by. */
static pl_code compare_factors(pl_run *run, const pl_study *s, pl_linear_fit *fit)
{
    size_t n = fit->nlevels;
    pl_code rc = PL_OK;

    for (size_t i = 0; i < n && !rc; i++) {
        const pl_levels *l = &fit->levels[i];
        bool single = !strstr(l->factor, ", ");

        if (single && l->df > 0 && l->cov[0] > 0)
            rc = pl_compare_levels(run->arena, fit,
                                   &(pl_compare){ .factor = l->factor,
                                                  .kind = PL_EVERY_PAIR,
                                                  .alpha = s->question.false_alarm },
                                   &run->diags);
    }
    return rc;
}

/* A design for a curved surface: where its top lies. */
static pl_code fit_surface(pl_run *run, const pl_study *s, const pl_table *t, const pl_matching *m,
                           pl_fit_answer *out)
{
    const char *blocks[2 * PL_MATCHING_BLOCKS_MOST];
    size_t n = 0;

    if (!pl_study_curved(s))
        return PL_OK;
    for (size_t i = 0; i < m->nblock; i++)
        blocks[n++] = m->blocks[i];
    for (size_t i = 0; i < m->nrandom; i++)
        blocks[n++] = m->randoms[i];
    return pl_fit_surface(run->arena, s, t, blocks, n, &out->surface, &run->diags);
}

/* The order of gluing as one more column beside effects and blocks, all blocks fixed: what drifted.
 * Where that cannot be told nothing is said. */
static pl_code fit_drift(pl_run *run, const pl_linear_spec *spec, const pl_matching *m,
                         const pl_table *t, pl_fit_answer *out)
{
    const char *blocks[2 * PL_MATCHING_BLOCKS_MOST];
    const char **covariates = PL_NEWN(run->arena, spec->ncovariate + 1, const char *);
    pl_linear_fit *fit = PL_NEW(run->arena, pl_linear_fit);
    pl_linear_spec with = *spec;
    pl_diags unsaid;
    pl_code rc;

    if (!covariates || !fit)
        return pl_nomem(&run->diags);
    pl_diags_init(&unsaid, run->arena);
    for (size_t i = 0; i < spec->ncovariate; i++)
        covariates[i] = spec->covariates[i];
    covariates[spec->ncovariate] = "glue_order";
    with.covariates = covariates;
    with.ncovariate++;
    with.nblock = with.nrandom = 0;
    for (size_t i = 0; i < m->nblock; i++)
        blocks[with.nblock++] = m->blocks[i];
    for (size_t i = 0; i < m->nrandom; i++)
        blocks[with.nblock++] = m->randoms[i];
    with.blocks = blocks;
    with.designed = false;
    rc = pl_fit_linear(run->arena, t, &with, fit, &unsaid);
    for (size_t i = 0; !rc && i < fit->ncoef; i++)
        if (!strcmp(fit->coefs[i].name, "glue_order"))
            out->drift = &fit->coefs[i];
    return rc == PL_ENOMEM ? rc : PL_OK;
}

/* Blocks that only reference joints tell from the levels, one factor after the other. */
static pl_code tie_blocks(pl_run *run, const pl_study *s, const pl_matching *m, bool tied,
                          pl_fit_answer *out, pl_ties *ties)
{
    const char *have[2 * PL_MATCHING_BLOCKS_MOST];
    size_t n = 0;
    pl_code rc = PL_OK;

    for (size_t i = 0; i < m->nblock; i++)
        have[n++] = m->blocks[i];
    for (size_t i = 0; i < m->nrandom; i++)
        have[n++] = m->randoms[i];
    for (size_t f = 0; f < s->nfactor && !rc; f++)
        if ((int)f != s->question.over) /* said with its curve */
            rc = pl_ties_find(run->arena, out->tied, tied, false, have, n, s->factors[f].name, NULL,
                              ties, &run->diags);
    return rc ? rc : add_zeros(run, out, ties);
}

/* With the reference joints, as far as they allow. */
static pl_code fit_tied(pl_run *run, const pl_study *s, const pl_matching *m,
                        const pl_linear_spec *spec, const pl_table *table, pl_fit_answer *out,
                        pl_linear_fit *fit)
{
    const char *blocks[PL_MATCHING_BLOCKS_MOST + PL_TIES_MOST];
    pl_linear_spec with = *spec;
    pl_ties ties = { 0 };
    size_t before = run->diags.count, n = m->nblock;
    pl_code rc;

    if (!has_references(out))
        return PL_EDATA;
    rc = tie_blocks(run, s, m, true, out, &ties);
    for (size_t i = 0; i < n; i++)
        blocks[i] = m->blocks[i];
    for (size_t i = 0; i < ties.nblock; i++)
        blocks[n++] = ties.blocks[i];
    if (rc || !n)
        return rc ? rc : PL_EDATA; /* nothing that they could tie */
    with.blocks = blocks;
    with.nblock = n;
    with.tie = PL_TIE_REFERENCE;
    rc = pl_fit_linear(run->arena, table, &with, fit, &run->diags);
    if (rc != PL_ERANK && rc != PL_EDATA)
        return rc;
    run->diags.count = before; /* said again without them, where it stands */
    if (rc == PL_ERANK)
        pl_remark(&run->diags, s->name,
                  .found = "reference joints that do not tie every block that holds one level only",
                  .expected = "one in each; the analysis of variance goes without them");
    return rc;
}

/* The rows without the reference joints behind them. */
static const pl_table *compared_only(pl_run *run, const pl_table *table, size_t nrow)
{
    pl_table *t = PL_NEW(run->arena, pl_table);

    if (!t)
        return NULL;
    *t = *table;
    t->nrow = nrow;
    return t;
}

/* Whether strength stands on the scale where joints scatter evenly. */
static pl_code fit_power(pl_run *run, const pl_linear_spec *spec, const pl_table *t,
                         pl_fit_answer *out)
{
    pl_boxcox *power = PL_NEW(run->arena, pl_boxcox);
    bool fitted;
    pl_code rc = power ? pl_boxcox_fit(run->arena, t, spec, power, &fitted, &run->diags)
                       : pl_nomem(&run->diags);

    if (!rc && fitted)
        out->power = power;
    return rc;
}

#define MEETS_ALL 1e-24 /* rounding alone: of the readings' own sum of squares */

static pl_code fit_linear(pl_run *run, const pl_study *s, const pl_table *t, pl_fit_answer *out)
{
    const pl_table *table = out->tied, *compared;
    pl_linear_fit *fit = PL_NEW(run->arena, pl_linear_fit);
    pl_linear_spec spec;
    size_t before = run->diags.count;
    bool some;
    pl_matching m = { 0 };
    pl_ties none = { 0 };
    pl_code rc = fit ? pl_study_linear_spec(run->arena, s, out->plan, t, out->tied, "strength",
                                            &spec, &m, &table, &run->diags)
                     : pl_nomem(&run->diags);

    compared = rc ? NULL : compared_only(run, table, t->nrow);
    if (rc || !compared)
        return rc ? rc : pl_nomem(&run->diags);
    rc = pl_study_covariates(run, s, compared, &spec);
    if (rc)
        return rc;
    rc = fit_tied(run, s, &m, &spec, table, out, fit);
    if (rc == PL_EDATA || rc == PL_ERANK) {
        rc = tie_blocks(run, s, &m, false, out, &none);
        if (!rc)
            rc = pl_fit_linear(run->arena, compared, &spec, fit, &run->diags);
    }
    /* a model that meets every reading leaves nothing to judge itself by */
    some = !rc && fit->residual.ss > MEETS_ALL * fit->total_ss;
    if (!rc)
        rc = fit_surface(run, s, t, &m, out);
    if (!rc && some)
        rc = fit_drift(run, &spec, &m, compared, out);
    if (!rc && some)
        rc = fit_power(run, &spec, compared, out);
    if (!rc)
        out->linear = fit;
    if (!rc && s->question.aim == PL_AIM_DIFFERENCE)
        return compare_factors(run, s, fit);
    if (!rc && s->question.aim == PL_AIM_AS_GOOD_AS)
        return compare_as_good(run, s, fit);
    if (rc != PL_EDATA && rc != PL_ERANK)
        return rc;
    /* too few readings yet for a full table: the curves may still answer */
    for (size_t i = before; i < run->diags.count && out->nplateau; i++)
        if (run->diags.items[i].severity == PL_REFUSED)
            run->diags.items[i].severity = PL_NOTE;
    return out->nplateau ? PL_OK : rc;
}

/* The plan drawn again for each factor that it drew; why one cannot be tested so is said. */
static pl_code draw_again(pl_run *run, const pl_loaded *l, pl_fit_answer *f)
{
    const pl_study *s = l->frozen ? l->frozen : l->study;
    pl_drawn_again *all = PL_NEWN(run->arena, s->nfactor, pl_drawn_again);
    pl_code rc = all ? PL_OK : pl_nomem(&run->diags);

    for (size_t k = 0; k < s->nfactor && !rc; k++) {
        const pl_randomise_plan_spec spec = { .study = s,
                                              .plan = l->plan,
                                              .factor = k,
                                              .response = "strength",
                                              .draws = l->draws.randomised,
                                              .seed = l->draws.seed };
        const char *why = NULL;

        rc = pl_randomise_plan(run->arena, f->table, &spec, &all[f->ndrawn], &why, &run->diags);
        if (!rc && why)
            pl_remark(&run->diags, s->name,
                      .found = pl_arena_printf(run->arena, "%s is not drawn again: %s",
                                               s->factors[k].name, why));
        f->ndrawn += !rc && !why;
    }
    f->drawn = all;
    return rc;
}

/* -------------------------------------------------------------- dials ------ */

static const char *on_rig(pl_run *run, const pl_set_point *p, double area_m2, const char *unit)
{
    pl_arena *a = run->arena;
    double low, high;

    if (!p->can)
        return pl_arena_printf(a, "%s cannot press with %s N: %s", p->rig,
                               pl_text_number(a, p->asked_N, 3), p->reason);
    low = (p->gives_N - 2 * p->u_N) / area_m2;
    high = (p->gives_N + 2 * p->u_N) / area_m2;
    if (p->nparts)
        return pl_arena_printf(a, "%s: stack %s", p->rig,
                               pl_text_list(a, p->parts, p->nparts, "and"));
    return pl_arena_printf(a, "%s: %s %s, which gives %s to %s", p->rig,
                           pl_text_number(a, p->dial, 3), p->dial_unit,
                           pl_text_number(a, pl_units_from_si(low, PL_Q_PRESSURE, unit), 2),
                           pl_units_text(a, high, PL_Q_PRESSURE, unit, 2));
}

/* The advised settings of all groups on every rig of the study that presses. */
typedef struct advised {
    pl_rig *rigs; /* of the study, less the one that breaks */
    size_t nrig;
    double *force_N;
    size_t *plateau; /* of each force */
    size_t count;
    pl_set_points points;
} advised;

/* All of them in one visit to each rig. */
static pl_code ask_rigs(pl_run *run, const pl_loaded *l, const pl_fit_answer *f, advised *x)
{
    const pl_study *s = l->study;
    const pl_column *made = pl_table_find(f->table, PL_COLUMN_MADE);

    *x = (advised){ .rigs = PL_NEWN(run->arena, s->nrig, pl_rig),
                    .force_N = PL_NEWN(run->arena, f->nplateau, double),
                    .plateau = PL_NEWN(run->arena, f->nplateau, size_t) };
    if (!x->rigs || !x->force_N || !x->plateau)
        return pl_nomem(&run->diags);
    for (size_t r = 0; r < s->nrig; r++)
        if ((int)r != s->breaking.rig)
            x->rigs[x->nrig++] = l->rigs[r];
    for (size_t i = 0; i < f->nplateau; i++) {
        if (isnan(f->plateaus[i].advised))
            continue;
        x->force_N[x->count] = pl_round_outward(f->plateaus[i].advised, 2, 1) * made->scale *
                               s->joint.press_area_m2;
        x->plateau[x->count++] = i;
    }
    return x->count && x->nrig
               ? pl_rigs_set_points(run->arena, x->rigs, x->nrig, x->force_N, x->count,
                                    s->joint.press_area_m2, &x->points, &run->diags)
               : PL_OK;
}

static pl_code add_dials(pl_run *run, const pl_loaded *l, pl_fit_answer *f)
{
    const pl_study *s = l->study;
    pl_texts dials = { 0 };
    const char *another = NULL;
    advised x;
    pl_code rc;

    if (!l->rigs || s->question.over < 0 || s->question.over != pl_study_pressed(s))
        return PL_OK;
    rc = ask_rigs(run, l, f, &x);
    for (size_t i = 0; i < x.count && !rc; i++)
        for (size_t r = 0; r < x.nrig && !rc; r++) {
            const pl_plateau *p = &f->plateaus[x.plateau[i]];
            const char *words = pl_arena_printf(
                run->arena, "%s, %s: %s", pl_say_group(run->arena, p),
                pl_say(run->arena, f, p->advised, p->over_unit, 2, 1),
                on_rig(run, pl_set_points_at(&x.points, i, r), s->joint.press_area_m2,
                       s->factors[s->question.over].unit));

            rc = pl_texts_add(run, &dials, words);
            if (!rc && !another && pl_set_points_at(&x.points, i, r)->can)
                another = pl_arena_printf(
                    run->arena,
                    "a joint of another size: platen rig dial %s --pressure \"%s %s\" --area "
                    "\"WIDTH x LENGTH\"",
                    pl_set_points_at(&x.points, i, r)->rig,
                    pl_say_bare(run->arena, p->advised, 2, 1), p->over_unit);
        }
    if (!rc && another)
        rc = pl_texts_add(run, &dials, another);
    f->dials = dials.items;
    f->ndial = dials.count;
    return rc;
}

/* One machine that presses and breaks has its error in both axes. */
static pl_code add_same_rig(pl_run *run, const pl_loaded *l, pl_texts *all)
{
    const pl_set_points *points = &l->plan->points;
    int rig = l->study->breaking.rig;

    for (size_t i = 0; rig >= 0 && points->at && i < points->nlevel; i++)
        if (points->chosen[i] == rig)
            return pl_texts_add(run, all,
                                pl_arena_printf(run->arena,
                                                "%s both presses and breaks: an error of its dial "
                                                "is in the pressures and in the strengths",
                                                l->study->rigs[rig].name));
    return PL_OK;
}

static pl_code add_trust(pl_run *run, pl_fit_answer *f)
{
    pl_texts all = { 0 };
    pl_text lines;
    char *text;
    pl_code rc;

    pl_text_init(&lines, run->arena);
    rc = pl_trust_words(run->arena, f, &lines, &run->diags);
    text = pl_text_done(&lines);
    if (!rc && !text)
        rc = pl_nomem(&run->diags);
    for (char *line = rc ? NULL : strtok(text, "\n"); line && !rc; line = strtok(NULL, "\n"))
        rc = pl_texts_add(run, &all, line);
    f->trust = all.items;
    f->ntrust = all.count;
    return rc;
}

static pl_code add_cannot(pl_run *run, const pl_loaded *l, pl_fit_answer *f)
{
    pl_texts all = { 0 };
    pl_text lines;
    char *text;
    pl_code rc;

    pl_text_init(&lines, run->arena);
    rc = pl_fit_cannot(run->arena, f, &lines, &run->diags);
    text = pl_text_done(&lines);
    if (!rc && !text)
        rc = pl_nomem(&run->diags);
    for (char *line = rc ? NULL : strtok(text, "\n"); line && !rc; line = strtok(NULL, "\n"))
        rc = pl_texts_add(run, &all, line);
    if (!rc)
        rc = add_same_rig(run, l, &all);
    for (size_t i = 0; i < l->plan->health.ncannot && !rc; i++)
        rc = pl_texts_add(run, &all, l->plan->health.cannot[i]);
    for (size_t i = 0; i < l->plan->health.nalias && !rc; i++)
        rc = pl_texts_add(run, &all,
                          pl_arena_printf(run->arena, "one and the same effect here: %s",
                                          l->plan->health.aliases[i]));
    f->cannot = all.items;
    f->ncannot = all.count;
    return rc;
}

static pl_code fit_joined(pl_run *run, const pl_loaded *l, const pl_joined *joined,
                          pl_fit_answer *f)
{
    pl_study_links links;
    pl_code rc = PL_OK;

    *f = (pl_fit_answer){ .source = l->study->name,
                          .study = l->study,
                          .plan = l->plan,
                          .table = joined->table,
                          .tied = joined->tied,
                          .notes = joined->notes,
                          .nnote = joined->nnote,
                          .planned = joined->planned,
                          .broken = joined->broken,
                          .used = joined->used };
    rc = pl_study_bond(run, l->study, joined, f, &links);
    if (!rc && l->study->question.over >= 0)
        rc = fit_curves(run, l, f);
    if (!rc)
        rc = pl_study_bond_curves(run, l->study, &links, f);
    if (!rc)
        rc = fit_linear(run, l->study, f->table, f);
    if (!rc)
        rc = pl_study_responses(run, l->study, f);
    return rc;
}

/* ----------------------------------------------------------- excluded ------ */

static const char *onset_text(pl_run *run, const pl_fit_answer *f, const pl_plateau *p)
{
    return isnan(p->onset.at) ? "not to be told"
                              : pl_say(run->arena, f, p->onset.at, p->over_unit, 2, 0);
}

static const char *height_text(pl_run *run, const pl_fit_answer *f, const pl_plateau *p)
{
    return isnan(p->height) ? "not to be told" : pl_say(run->arena, f, p->height, p->unit, 3, 0);
}

/* The same group in the other fit; NULL: it has none. */
static const pl_plateau *same_group(const pl_fit_answer *f, const pl_plateau *p)
{
    for (size_t i = 0; i < f->nplateau; i++)
        if (!p->group || (f->plateaus[i].group && !strcmp(f->plateaus[i].group, p->group)))
            return &f->plateaus[i];
    return NULL;
}

static pl_code compare_group(pl_run *run, const pl_fit_answer *f, const pl_plateau *p,
                             const pl_fit_answer *with, pl_texts *notes)
{
    const char *who = f->excluded == 1 ? "the excluded joint" : "the excluded joints";
    const char *they = f->excluded == 1 ? "it" : "them";
    const pl_plateau *other = same_group(with, p);

    if (!other)
        return PL_OK;
    return pl_texts_add(
        run, notes,
        pl_arena_printf(run->arena,
                        "%s: the best guess of where more %s stops helping is %s without %s, %s "
                        "with %s; the highest average %s without %s, %s with %s",
                        pl_say_group(run->arena, p), p->over, onset_text(run, f, p), who,
                        onset_text(run, with, other), they, height_text(run, f, p), they,
                        height_text(run, with, other), they));
}

static pl_code compare_with(pl_run *run, const pl_fit_answer *f, const pl_fit_answer *with,
                            pl_texts *notes)
{
    const char *who = f->excluded == 1 ? "the excluded joint" : "the excluded joints";
    pl_code rc = PL_OK;

    for (size_t i = 0; i < f->nplateau && !rc; i++)
        rc = compare_group(run, f, &f->plateaus[i], with, notes);
    if (!rc && !f->nplateau && f->linear && with->linear)
        rc = pl_texts_add(run, notes,
                          pl_arena_printf(run->arena,
                                          "joints made alike differ by about %s without %s, by "
                                          "%s with %s",
                                          pl_text_number(run->arena, f->linear->residual.sd, 3),
                                          who,
                                          pl_text_number(run->arena, with->linear->residual.sd, 3),
                                          f->excluded == 1 ? "it" : "them"));
    if (!rc && f->bond) {
        const char *moves = pl_study_bond_moves(run, f, with);

        rc = !moves ? pl_nomem(&run->diags) : moves[0] ? pl_texts_add(run, notes, moves) : PL_OK;
    }
    return rc;
}

/* What the answer would be with them: an exclusion that decides it is seen. Findings of
 * the second fit are those of the first again, and are not said twice. */
static pl_code fit_with_excluded(pl_run *run, const pl_loaded *l, const pl_readings *readings,
                                 size_t n, pl_fit_answer *f)
{
    pl_loaded all = *l;
    pl_diags said = run->diags;
    pl_fit_answer *with = PL_NEW(run->arena, pl_fit_answer);
    pl_joined joined = { 0 };
    pl_texts notes = { 0 };
    pl_code rc, kept = PL_OK;

    if (!with)
        return pl_nomem(&run->diags);
    all.with_excluded = true;
    all.draws = (pl_draws){ 0 };
    f->excluded = n;
    pl_diags_init(&run->diags, run->arena);
    rc = pl_join(run, &all, readings, &joined);
    if (!rc)
        rc = fit_joined(run, &all, &joined, with);
    said.out_of_memory |= run->diags.out_of_memory;
    run->diags = said;
    for (size_t i = 0; i < f->nnote && !kept; i++)
        kept = pl_texts_add(run, &notes, f->notes[i]);
    if (kept)
        return kept;
    f->with_excluded = rc ? NULL : with;
    if (rc)
        rc = rc == PL_ENOMEM
                 ? pl_nomem(&run->diags)
                 : pl_texts_add(run, &notes, "with the excluded joints there is no fit");
    else
        rc = compare_with(run, f, with, &notes);
    f->notes = notes.items;
    f->nnote = notes.count;
    return rc;
}

pl_code pl_study_fit(pl_run *run, const char *study, pl_loaded *l, pl_fit_answer *f)
{
    return pl_study_fit_drawn(run, study, (pl_draws){ 0 }, l, f);
}

pl_code pl_study_fit_drawn(pl_run *run, const char *study, pl_draws draws, pl_loaded *l,
                           pl_fit_answer *f)
{
    pl_readings readings = { 0 };
    pl_joined joined = { 0 };
    pl_code rc = pl_load(run, study, PL_LOAD_PLAN | PL_LOAD_RIGS, l);

    l->draws = draws;
    if (!rc)
        rc = pl_book_record(run->arena, l->book, l->study->name, &readings, &l->marks, &l->nmark,
                            &run->diags);
    if (!rc)
        rc = pl_join(run, l, &readings, &joined);
    if (!rc)
        rc = fit_joined(run, l, &joined, f);
    if (!rc && joined.excluded)
        rc = fit_with_excluded(run, l, &readings, joined.excluded, f);
    if (!rc && draws.randomised)
        rc = draw_again(run, l, f);
    if (!rc)
        rc = add_dials(run, l, f);
    if (!rc)
        rc = add_trust(run, f);
    if (!rc)
        rc = pl_fit_chances(run->arena, l->frozen, f, &run->diags);
    return rc ? rc : add_cannot(run, l, f);
}
