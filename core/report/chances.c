/* The chance of noticing that was run: what was promised when the plan was frozen, and what the
 * scatter of the joints themselves says. */
#include <math.h>
#include <string.h>

#include "report/say.h"
#include "size/size.h"

/* Scatter of glue-ups made alike, over the groups together, and its degrees of freedom; as a share
 * of each group's mean strength, or in the response's unit. */
typedef struct scatter {
    double sd, df;
} scatter;

static double mean_of(const pl_plateau *p)
{
    double sum = 0;

    for (size_t i = 0; i < p->nlevel; i++)
        sum += p->levels[i].mean;
    return sum / (double)p->nlevel;
}

static scatter of_curves(const pl_fit_answer *f, bool relative)
{
    scatter s = { 0, 0 };

    for (size_t g = 0; g < f->nplateau; g++) {
        const pl_plateau *p = &f->plateaus[g];
        double sd = relative ? p->error_sd / mean_of(p) : p->error_sd;

        if (!(sd > 0) || !(p->error_df > 0))
            continue;
        s.sd += p->error_df * sd * sd;
        s.df += p->error_df;
    }
    s.sd = sqrt(s.sd / s.df);
    return s;
}

static scatter of_levels(const pl_fit_answer *f, bool relative)
{
    const pl_linear_fit *l = f->linear;
    scatter s = { l->residual.sd, l->residual.df };
    double sum = 0;

    for (size_t i = 0; i < l->nrow; i++)
        sum += l->fitted[i];
    if (relative)
        s.sd /= sum / (double)l->nrow;
    return s;
}

/* SI units in one of the response's. */
static double scale_of(const pl_fit_answer *f)
{
    const char *name = f->nplateau ? f->plateaus[0].response : f->linear->response;
    const pl_column *c = pl_table_find(f->table, name);

    return c ? c->scale : NAN;
}

pl_code pl_fit_chances(pl_arena *a, const pl_study *frozen, pl_fit_answer *f, pl_diags *d)
{
    pl_size_question q;
    pl_diags said; /* what it finds was said when the plan was drawn */
    scatter s;
    pl_code rc;

    f->then = f->plan->chances;
    if (!f->then || (!f->nplateau && !f->linear))
        return PL_OK;
    pl_diags_init(&said, a);
    rc = pl_size_from_study(a, frozen, &q, &said);
    if (rc)
        return rc == PL_ENOMEM ? pl_nomem(d) : PL_OK;
    s = f->nplateau ? of_curves(f, q.relative) : of_levels(f, q.relative);
    if (!(s.sd > 0) || !(s.df > 0) || !isfinite(s.sd))
        return PL_OK;
    q.sd = q.relative ? s.sd : s.sd * scale_of(f);
    q.between_glue_ups = q.within = q.between_blocks = q.between_sessions = NAN;
    q.from = PL_SCATTER_PILOT;
    q.sd_df = s.df;
    q.pilot_specimens = q.pilot_boards = 0;
    rc = pl_size_chances(a, &q, f->then->glue_ups_per_level, &f->now, &said);
    return rc == PL_ENOMEM ? pl_nomem(d) : PL_OK;
}

/* ---------------------------------------------------------------- words ---- */

/* Place of the number that was made; c->n: not among them. */
static size_t made_at(const pl_chances *c)
{
    size_t i = 0;

    while (i < c->n && c->per_level[i] < c->glue_ups_per_level)
        i++;
    return i < c->n && c->per_level[i] <= c->glue_ups_per_level ? i : c->n;
}

char *pl_chances_words(pl_arena *a, const pl_chances *then, const pl_chances *now)
{
    size_t i = made_at(then), k = now ? made_at(now) : 0;
    pl_text t;

    pl_text_init(&t, a);
    pl_text_put(&t, then->asked);
    if (i == then->n) {
        pl_text_add(&t, "\nWith %u glue-ups per level nothing can be told of that.",
                    then->glue_ups_per_level);
        return pl_text_done(&t);
    }
    pl_text_add(
        &t,
        "\nWhen the plan was frozen, %u glue-ups per level were expected to manage that %s, if "
        "glue-ups made alike differ by %s.",
        then->glue_ups_per_level, pl_size_how_often(a, then->chance[i]), then->scatter);
    if (isfinite(then->low[i]) && isfinite(then->high[i]))
        pl_text_add(&t, " As far as that was known then it could be anything from %s to %s.",
                    pl_size_how_often(a, then->low[i]), pl_size_how_often(a, then->high[i]));
    if (now && k < now->n)
        pl_text_add(&t, " With the scatter that these joints showed (%s) it is %s.", now->scatter,
                    pl_size_how_often(a, now->chance[k]));
    return pl_text_done(&t);
}

void pl_chances_json(pl_jval *object, const pl_fit_answer *f)
{
    const pl_chances *c = f->then;
    size_t i = c ? made_at(c) : 0, k = f->now ? made_at(f->now) : 0;
    pl_jval *o, *side;

    if (!c || i == c->n)
        return;
    o = pl_jadd_object(object, "chances");
    pl_jadd_text(o, "asked", c->asked);
    pl_jadd_whole(o, "glue_ups_per_level", c->glue_ups_per_level);
    side = pl_jadd_object(o, "planned");
    pl_jadd_text(side, "scatter", c->scatter);
    pl_jadd_number(side, "power", c->chance[i]);
    pl_jadd_number(side, "power_at_upper", c->low[i]);
    pl_jadd_number(side, "power_at_lower", c->high[i]);
    if (!f->now || k == f->now->n) {
        pl_jadd_null(o, "found");
        return;
    }
    side = pl_jadd_object(o, "found");
    pl_jadd_text(side, "scatter", f->now->scatter);
    pl_jadd_number(side, "power", f->now->chance[k]);
}
