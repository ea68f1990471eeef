/* What simulated plateau studies say, in shop words. */
#include <math.h>

#include "size/aim.h"
#include "size/plateau.h"

static const char *layout_words(pl_plateau_layout l)
{
    static const char *const words[PL_NPLATEAU_LAYOUTS] = { "the levels asked for",
                                                            "as many levels at constant ratio",
                                                            "as many levels in equal steps",
                                                            "as many levels where they tell most "
                                                            "if the guess is about right" };

    return words[l];
}

static void say_question(pl_text *t, const pl_plateau_question *q)
{
    double goal = 1 - q->size.miss_at_most;

    pl_text_add(t,
                "Where strength stops rising is to be found, as a plateau that the study calls "
                "reached and within a factor of %s of the true place, %s.\n",
                pl_text_number(t->arena, q->within, 3), pl_size_asked(t, goal));
    for (size_t i = 0; i < q->nguess; i++) {
        const pl_plateau_guess *g = &q->guesses[i];
        char *at = q->unit ? pl_units_text(t->arena, g->onset, q->kind, q->unit, 3)
                           : pl_text_number(t->arena, g->onset, 3);

        pl_text_add(
            t,
            "Guess: it stops at %s; where the curve starts a joint holds %s %% of the highest.\n",
            at ? at : "", pl_text_number(t->arena, 100 * g->floor, 3));
    }
    if (q->size.from == PL_SCATTER_GUESSED)
        pl_text_add(t, "Nobody has said how much equal joints differ; %s: %s %% is taken.\n",
                    q->size.guess_words ? q->size.guess_words : "",
                    pl_text_number(t->arena, 100 * pl_size_sd(&q->size), 3));
    else
        pl_text_add(t, "Equal glue-ups differ by %s %% (scatter), %s.\n",
                    pl_text_number(t->arena, 100 * pl_size_sd(&q->size), 3),
                    q->size.relative ? "of their own strength at each level"
                                     : "of the highest strength, alike at all levels");
    if (q->limit > 0)
        pl_text_add(t,
                    "The breaking rig stops at %s %% of the highest strength: a stronger joint "
                    "counts as that much. Where many stop there they look like a plateau of "
                    "their own.\n",
                    pl_text_number(t->arena, 100 * q->limit, 3));
}

static void say_need(pl_text *t, const pl_plateau_question *q, const pl_plateau_answer *w,
                     pl_plateau_layout l)
{
    pl_size_basis basis = pl_plateau_advised(q);
    unsigned n = w->need[l][PL_SIZE_AS_GIVEN], sure = w->need[l][basis];

    if (n)
        pl_text_add(t, "With %s that takes %u glue-ups per level (%zu in all).\n", layout_words(l),
                    n, n * q->K);
    else
        pl_text_add(t, "With %s no number looked at does.\n", layout_words(l));
    if (n && basis != PL_SIZE_AS_GIVEN) {
        if (sure)
            pl_text_add(t, "To be on the safe side make %u: the scatter itself is not sure.\n",
                        sure);
        else
            pl_text_put(t, "The scatter is known too little to promise that for any number looked "
                           "at: break more equal joints first.\n");
    }
}

/* Why studies of that size fail. */
static void say_ends(pl_text *t, const pl_plateau_row *r)
{
    static const char *const words[PL_NPLATEAU_ENDS] = {
        NULL,
        "names a place too far off",
        "leaves it open whether the rise ends",
        "claims that strength still rises at the last levels",
        "sees no rise",
        "sees strength fall only"
    };
    const pl_plateau_cell *c = &r->cell[PL_SIZE_AS_GIVEN];
    int worst = PL_END_FAR;

    for (int e = PL_END_FAR; e < PL_NPLATEAU_ENDS; e++)
        worst = c->ends[e] > c->ends[worst] ? e : worst;
    pl_text_add(t, "With %u per level it is found %s", r->glue_ups_per_level,
                pl_size_often(t, pl_plateau_chance(c)));
    if (c->ends[worst])
        pl_text_add(t, "; where not, the study most often %s", words[worst]);
    pl_text_put(t, ".\n");
}

char *pl_plateau_words(pl_arena *a, const pl_plateau_question *q, const pl_plateau_answer *w)
{
    const pl_plateau_row *shown = NULL;
    pl_text t;

    pl_text_init(&t, a);
    say_question(&t, q);
    if (!q->size.glue_ups_per_level)
        for (int l = 0; l < PL_NPLATEAU_LAYOUTS; l++)
            if (w->has[l] && !(w->stopped && l && !w->need[l][0]))
                say_need(&t, q, w, (pl_plateau_layout)l);
    for (size_t i = 0; i < w->nrow; i++) {
        const pl_plateau_row *r = &w->rows[i];

        if (r->layout == PL_LAYOUT_ASKED && (!shown || r->glue_ups_per_level <= 5))
            shown = r;
        if (r->layout != PL_LAYOUT_ASKED && q->size.glue_ups_per_level) {
            pl_text_add(&t, "With %s, %u each, it is found %s.\n", layout_words(r->layout),
                        r->glue_ups_per_level,
                        pl_size_often(&t, pl_plateau_chance(&r->cell[PL_SIZE_AS_GIVEN])));
        }
    }
    if (shown)
        say_ends(&t, shown);
    return pl_text_done(&t);
}
