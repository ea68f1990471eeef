/* From a study over its plan to the table that its readings will make. What is asked of it is the
 * caller's; planning is design's, fitting fit's. */
#include "size/planned.h"

#include "design/plan_make.h"
#include "fit/matching.h"
#include "fit/study_effects.h"

enum { C_STRENGTH, C_GLUE_UP, C_BOARD, C_SESSION, C_STRETCH, C_FIXED = C_STRETCH + PL_LAYERS_MOST };

static const char *const names[] = { "strength", "glue_up", "board", "session" };

int pl_planned_level(const pl_planned *p, size_t row, size_t factor)
{
    const pl_glue_up *g = &p->plan->glue_ups[p->glue_up[row]];

    return p->plan->treatments[g->treatment * p->plan->nfactor + factor];
}

static const char *cell(pl_arena *a, const pl_planned *p, const pl_glue_up *g, size_t col)
{
    const pl_plan *plan = p->plan;
    size_t f = col - C_FIXED;

    switch (col) {
    case C_STRENGTH:
        return "drawn"; /* not missing: its number counts */
    case C_GLUE_UP:
        return g->label;
    case C_BOARD:
        return g->board >= 0 ? plan->boards[g->board].label : "";
    case C_SESSION:
        return pl_arena_printf(a, "%u", g->session);
    default:
        break;
    }
    if (col < C_FIXED)
        return g->stretch[col - C_STRETCH] ? pl_arena_printf(a, "%u", g->stretch[col - C_STRETCH])
                                           : "";
    return p->s->factors[f].levels[plan->treatments[g->treatment * plan->nfactor + f]].text;
}

static pl_code make_column(pl_arena *a, pl_planned *p, pl_table *t, size_t col, pl_diags *d)
{
    const char **text = PL_NEWN(a, t->nrow, const char *);
    const pl_factor *f = col < C_FIXED ? NULL : &p->s->factors[col - C_FIXED];
    bool numeric = col == C_SESSION || col == C_STRENGTH || (f && f->numeric);
    double *number = numeric ? PL_NEWN(a, t->nrow, double) : NULL;

    if (!text || (numeric && !number))
        return pl_nomem(d);
    for (size_t r = 0; r < t->nrow; r++) {
        const pl_glue_up *g = &p->plan->glue_ups[p->glue_up[r]];

        text[r] = cell(a, p, g, col);
        if (!text[r])
            return pl_nomem(d);
        if (numeric && col != C_STRENGTH)
            number[r] = f ? f->levels[pl_planned_level(p, r, col - C_FIXED)].si : g->session;
    }
    if (col == C_STRENGTH)
        p->y = number;
    t->columns[col] = (pl_column){
        .name = f                 ? f->name
                : col < C_STRETCH ? names[col]
                                  : pl_stretch_name((unsigned)(col - C_STRETCH)),
        .unit = "",
        .scale = 1,
        .text = text,
        .number = number,
    };
    return PL_OK;
}

static bool counts(const pl_plan *plan, size_t specimen)
{
    const pl_glue_up *g = &plan->glue_ups[plan->specimens[specimen].glue_up];

    return !plan->specimens[specimen].spare && !g->spare && !g->reference;
}

static pl_code make_table(pl_arena *a, pl_planned *p, pl_diags *d)
{
    pl_table *t = PL_NEW(a, pl_table);
    size_t *glue_up = PL_NEWN(a, p->plan->nspecimen, size_t);
    const char **rows = PL_NEWN(a, p->plan->nspecimen, const char *);
    pl_code rc = PL_OK;

    if (!t || !glue_up || !rows)
        return pl_nomem(d);
    *t = (pl_table){ .name = p->s->name, .ncol = C_FIXED + p->s->nfactor, .row_names = rows };
    for (size_t i = 0; i < p->plan->nspecimen; i++)
        if (counts(p->plan, i)) {
            rows[t->nrow] = p->plan->specimens[i].id;
            glue_up[t->nrow++] = p->plan->specimens[i].glue_up;
        }
    p->glue_up = glue_up;
    t->columns = PL_NEWN(a, t->ncol, pl_column);
    if (!t->columns)
        return pl_nomem(d);
    for (size_t c = 0; c < t->ncol && !rc; c++)
        rc = make_column(a, p, t, c, d);
    p->table = t;
    return rc;
}

static pl_code set_blocks(pl_arena *a, pl_planned *p, pl_diags *d)
{
    const char **blocks = PL_NEWN(a, 2 * PL_MATCHING_BLOCKS_MOST, const char *);
    pl_matching m = { 0 };
    pl_code rc = blocks ? pl_match_plan(a, p->s, p->plan, p->table, &m, d) : pl_nomem(d);

    if (rc || !blocks)
        return rc;
    for (size_t i = 0; i < m.nrandom; i++)
        blocks[p->spec.nblock++] = m.randoms[i];
    for (size_t i = 0; i < m.nblock; i++)
        blocks[p->spec.nblock++] = m.blocks[i];
    p->spec.blocks = blocks;
    return PL_OK;
}

pl_code pl_planned_open(pl_arena *a, const pl_study *s, unsigned n, uint64_t seed, pl_planned *out,
                        pl_diags *d)
{
    pl_code rc;

    *out = (pl_planned){ .s = s, .spec = { .response = "strength", .unit = "glue_up" } };
    rc = pl_plan_make(a, s, NULL, n, seed, NULL, &out->plan, d);
    if (!rc)
        rc = make_table(a, out, d);
    if (!rc)
        rc = set_blocks(a, out, d);
    return rc ? rc : pl_study_effects(a, s, out->table, &out->spec, &out->table, d);
}
