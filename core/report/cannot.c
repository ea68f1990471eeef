/* What these joints cannot tell: the smallest difference between two levels that
 * so many glue-ups notice, given the scatter they showed. */
#include <math.h>

#include "report/say.h"
#include "size/size.h"

static size_t fewest_units(const pl_plateau *p)
{
    size_t n = p->nlevel ? p->levels[0].units : 0;

    for (size_t i = 1; i < p->nlevel; i++)
        if (p->levels[i].units < n)
            n = p->levels[i].units;
    return n;
}

static pl_code say_least(pl_arena *a, const pl_fit_answer *f, const pl_plateau *p, pl_text *t,
                         pl_diags *d)
{
    size_t n = fewest_units(p);
    pl_size_limits limits;
    pl_size_question q;
    pl_code rc;

    if (n < 1 || n > PL_SIZE_CAP || !(p->error_sd > 0) || p->nlevel < 2)
        return PL_OK;
    pl_size_question_init(&q);
    q.levels = (unsigned)p->nlevel;
    q.block_size = f->plan && f->plan->nboard ? q.levels : 0; /* boards hold every level */
    q.sd = p->error_sd; /* in the response's own unit: only the ratio to D counts */
    q.worth_noticing = p->error_sd;
    q.relative = true;
    q.from = PL_SCATTER_PILOT;
    q.sd_df = p->error_df;
    if (f->study) {
        q.miss_at_most = f->study->question.miss_at_most;
        q.false_alarm = f->study->question.false_alarm;
    }
    rc = pl_size_limits_at(&q, (unsigned)n, &limits, d);
    if (rc || isnan(limits.least[PL_SIZE_PAIR]))
        return rc;
    pl_text_add(
        t,
        "%s: with %zu per level, a difference between two named levels of less than %s goes "
        "unseen more often than %s\n",
        pl_say_group(a, p), n, pl_say(a, f, limits.least[PL_SIZE_PAIR], p->unit, 2, 1),
        pl_size_how_often(a, q.miss_at_most));
    return PL_OK;
}

pl_code pl_fit_cannot(pl_arena *a, const pl_fit_answer *f, pl_text *t, pl_diags *d)
{
    pl_code rc = PL_OK;

    for (size_t i = 0; i < f->nplateau && !rc; i++)
        rc = say_least(a, f, &f->plateaus[i], t, d);
    return rc;
}
