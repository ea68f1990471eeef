/* platen size --drawn: a difference tried out on drawn joints. What is drawn is core/size's. */
#include <math.h>
#include <string.h>

#include "cli/size_ask.h"
#include "cli/telling.h"

#define DRAWS 100000

static pl_code read_draws(pl_run *run, const char *text, uint64_t *out)
{
    long long n;

    if (!pl_text_to_whole(text, 1, PL_DRAWN_DRAWS_MOST, &n))
        return pl_usage(run, "--draws", pl_arena_printf(run->arena, "\"%s\"", text),
                        "a whole number up to 10000000", "parts of a range go with --within only");
    *out = (uint64_t)n;
    return PL_OK;
}

pl_code pl_size_try(pl_run *run, const pl_size_options *o, const pl_size_question *q,
                    const pl_size_answer *answer, pl_size_tried **out)
{
    pl_size_tried *t = PL_NEW(run->arena, pl_size_tried);
    pl_telling telling;
    pl_code rc = PL_OK;

    *out = NULL;
    if (!o->drawn)
        return PL_OK;
    if (!t)
        return pl_nomem(&run->diags);
    t->q = (pl_drawn_question){ .size = q, .draws = DRAWS, .seed = 1 };
    if (!pl_drawn_scatter_find(o->drawn, &t->q.scatter))
        return pl_usage(run, "--drawn", pl_arena_printf(run->arena, "\"%s\"", o->drawn),
                        "alike, in-proportion or weakest-link", "");
    if (o->draws)
        rc = read_draws(run, o->draws, &t->q.draws);
    if (o->seeded)
        t->q.seed = (uint64_t)o->seed;
    if (rc)
        return rc;
    pl_telling_begin(&telling);
    rc = pl_drawn_size(run->arena, &t->q, answer, pl_telling_watch, &telling, &t->answer,
                       &run->diags);
    pl_telling_end(&telling);
    *out = rc ? NULL : t;
    return rc;
}

void pl_size_add_tried(pl_run *run, const pl_size_tried *t)
{
    pl_jval *o = pl_jadd_object(run->answer, "drawn"), *list;

    pl_jadd_text(o, "scatter", pl_drawn_scatter_name(t->q.scatter));
    pl_jadd_whole(o, "seed", (long long)t->q.seed);
    list = pl_jadd_array(o, "table");
    for (size_t i = 0; i < t->answer->nrow; i++) {
        const pl_drawn_row *r = &t->answer->rows[i];
        pl_jval *row = pl_jadd_object(list, NULL);

        pl_jadd_whole(row, "glue_ups_per_level", r->glue_ups_per_level);
        pl_jadd_whole(row, "draws", (long long)r->draws);
        pl_jadd_number(row, "power", pl_drawn_chance(r, PL_SIZE_OVERALL));
        pl_jadd_number(row, "mc_se", pl_drawn_mc_se(r, PL_SIZE_OVERALL));
        pl_jadd_number(row, "power_named_levels", pl_drawn_chance(r, PL_SIZE_PAIR));
        pl_jadd_number(row, "mc_se_named_levels", pl_drawn_mc_se(r, PL_SIZE_PAIR));
    }
}
