/* Which glue-ups are lost: what plan --repair makes again. */
#include <string.h>

#include "cli/join.h"

static bool made_again(const pl_plan *p, const pl_glue_up *g)
{
    for (size_t i = 0; i < p->nglue_up; i++)
        if (p->glue_ups[i].instead && !strcmp(p->glue_ups[i].instead, g->label))
            return true;
    return false;
}

static bool gone(const pl_join_work *j, size_t specimen)
{
    pl_mode mode = pl_mode_of(
        pl_join_word(j, PL_ON_SPECIMEN, j->p->specimens[specimen].id, "mode"));

    return j->out[specimen] || mode == PL_MODE_HANDLING || mode == PL_MODE_FIXTURE;
}

pl_code pl_lost_glue_ups(pl_run *run, const pl_loaded *loaded, const pl_readings *readings,
                         size_t **out, size_t *n)
{
    pl_join_work j = { .run = run,
                       .a = run->arena,
                       .l = loaded,
                       .s = loaded->study,
                       .p = loaded->plan,
                       .r = readings };
    size_t *left = PL_NEWN(run->arena, j.p->nglue_up, size_t); /* joints that count or wait */
    pl_code rc = pl_join_recorded(&j);

    *n = 0;
    *out = PL_NEWN(run->arena, j.p->nglue_up, size_t);
    if (!left || !*out)
        return pl_nomem(&run->diags);
    if (!rc)
        rc = pl_join_marks(&j);
    if (rc)
        return rc;
    for (size_t i = 0; i < j.p->nspecimen; i++)
        left[j.p->specimens[i].glue_up] += !gone(&j, i);
    for (size_t i = 0; i < j.p->nglue_up; i++) {
        const pl_glue_up *g = &loaded->plan->glue_ups[i];

        if (g->spare || left[i] || made_again(loaded->plan, g))
            continue;
        if (g->reference)
            pl_remark(&run->diags, loaded->study->name,
                      .found = pl_arena_printf(run->arena,
                                               "%s is not made again: it stood for its own session",
                                               g->label));
        else
            (*out)[(*n)++] = i;
    }
    return PL_OK;
}
