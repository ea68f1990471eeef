/* Tests by the lot: what a factor's levels drawn again say, in words, as a table and as JSON. The
 * drawing is fit/randomise.h's. */
#include <math.h>

#include "report/details.h"
#include "report/say.h"

static const char *count(pl_arena *a, uint64_t n)
{
    return pl_arena_printf(a, "%llu", (unsigned long long)n);
}

/* How far the drawings themselves may be off, where that shows. */
static void say_sure(pl_arena *a, const pl_drawn_again *t, pl_text *out)
{
    if (!t->all && t->as_far)
        pl_text_add(out, " (%s, give or take %s)", pl_text_number(a, t->p, 2),
                    pl_text_number(a, t->mc_se, 1));
    if (t->p_least > 0.05)
        pl_text_put(out, ": there are too few ways to show anything");
    else if (t->p < 1.5 * t->p_least)
        pl_text_put(out, ", the least that could have come out");
    pl_text_put(out, ".");
}

static void say_bench(const pl_drawn_again *t, pl_text *out)
{
    if (t->lost)
        pl_text_add(out, " %zu glue-up%s without a reading stay%s out of it.", t->lost,
                    t->lost == 1 ? "" : "s", t->lost == 1 ? "s" : "");
    if (t->otherwise)
        pl_text_add(out, " %zu glue-up%s made otherwise than drawn count%s as drawn.", t->otherwise,
                    t->otherwise == 1 ? "" : "s", t->otherwise == 1 ? "s" : "");
    if (t->narrower)
        pl_text_put(out, " This plan's own draw cannot be followed, so levels changed places only "
                         "within board, session and press only.");
}

void pl_drawn_words(pl_arena *a, const pl_fit_answer *f, pl_text *t)
{
    for (size_t i = 0; f->study && i < f->ndrawn; i++) {
        const pl_drawn_again *x = &f->drawn[i];

        pl_text_add(t,
                    "If %s did nothing, the lot alone would set its levels at least as far "
                    "apart in %s of %s%s%s",
                    x->factor, count(a, x->as_far), x->all ? "all " : "", count(a, x->draws),
                    x->all ? " ways the plan could have fallen" : " drawings of the plan");
        say_sure(a, x, t);
        say_bench(x, t);
        pl_text_put(t, "\n");
    }
}

static const char *within(const pl_drawn_again *t)
{
    return t->unit ? "as the plan drew them" : *t->within ? t->within : "the whole table";
}

void pl_drawn_details(pl_arena *a, const pl_fit_answer *f, pl_text *t)
{
    pl_grid *g = pl_grid_new(a);

    if (!f->ndrawn)
        return;
    pl_grid_column(g, PL_SIDE_LEFT, "levels of", NULL);
    pl_grid_column(g, PL_SIDE_LEFT, "changed places within", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "arrangements", NULL);
    pl_grid_column(g, PL_SIDE_LEFT, "", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "at least as far apart", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "p", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "its error", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "least p", NULL);
    for (size_t i = 0; i < f->ndrawn; i++) {
        const pl_drawn_again *x = &f->drawn[i];

        pl_grid_cell(g, x->factor);
        pl_grid_cell(g, within(x));
        pl_grid_cell(g, count(a, x->draws));
        pl_grid_cell(g, x->all ? "(all)" : "(drawn)");
        pl_grid_cell(g, count(a, x->as_far));
        pl_grid_cell(g, pl_say_p(a, x->p));
        pl_grid_number(g, x->mc_se, 2);
        pl_grid_cell(g, isnan(x->p_least) ? "" : pl_text_number(a, x->p_least, 2));
    }
    pl_details_add(t, a, "Levels drawn again by chance", g);
}

void pl_drawn_json(pl_jval *object, const pl_fit_answer *f)
{
    pl_jval *list;

    if (!f->ndrawn)
        return;
    list = pl_jadd_array(object, "tests");
    for (size_t i = 0; i < f->ndrawn; i++) {
        const pl_drawn_again *t = &f->drawn[i];
        pl_jval *o = pl_jadd_object(list, NULL);

        pl_jadd_text(o, "factor", t->factor);
        pl_jadd_text(o, "within", t->within);
        if (t->unit)
            pl_jadd_text(o, "drawn_by", t->unit);
        pl_jadd_whole(o, "units", (long long)t->units);
        if (!t->unit)
            pl_jadd_whole(o, "blocks", (long long)t->blocks);
        pl_jadd_bool(o, "all", t->all);
        pl_jadd_whole(o, "draws", (long long)t->draws);
        pl_jadd_whole(o, "as_far", (long long)t->as_far);
        pl_jadd_number(o, "ss", t->ss);
        pl_jadd_number(o, "p", t->p);
        pl_jadd_number(o, "mc_se", t->mc_se);
        if (!isnan(t->p_least))
            pl_jadd_number(o, "p_least", t->p_least);
        if (t->unit) {
            pl_jadd_bool(o, "narrower", t->narrower);
            pl_jadd_whole(o, "lost", (long long)t->lost);
            pl_jadd_whole(o, "made_otherwise", (long long)t->otherwise);
        }
        if (!t->all)
            pl_jadd_whole(o, "seed", (long long)t->seed);
    }
}
