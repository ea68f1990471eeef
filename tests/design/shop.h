/* Studies built in C for the tests of design: a stair builder's shop, invented.
 * What a study file would hold is filled in by hand, so that these tests stand
 * without the reader. */
#ifndef TESTS_DESIGN_SHOP_H
#define TESTS_DESIGN_SHOP_H

#include "support.h"

#include "base/stream.h"
#include "design/plan_make.h"

typedef struct shop {
    pl_study s;
    pl_factor factors[8];
    pl_stock boards[4];
    pl_press presses[3];
    pl_rig_ref rigs[3];
    int rigs_of[3][3];
    pl_set_point at[64];
    int chosen[32];
    pl_set_points points;
} shop;

static inline pl_factor *shop_factor(bench *b, shop *w, const char *name, size_t nlevel)
{
    pl_factor *f = &w->factors[w->s.nfactor++];

    *f = (pl_factor){ .name = name, .nlevel = nlevel, .levels = PL_NEWN(b->a, nlevel, pl_level) };
    w->s.factors = w->factors;
    return f;
}

/* A numeric factor with levels 0.1, 0.2, 0.4, ... N/mm2, listed from the top down
 * when falling: the plan must not rely on their order. */
static inline void shop_pressure(bench *b, shop *w, size_t nlevel, bool falling)
{
    pl_factor *f = shop_factor(b, w, "pressure", nlevel);
    double x = 0.1;

    f->numeric = true;
    f->kind = PL_Q_PRESSURE;
    f->unit = "N/mm2";
    f->set_by = PL_SET_BY_PRESS;
    w->s.question.over = (int)w->s.nfactor - 1;
    for (size_t i = 0; i < nlevel; i++, x *= 2)
        f->levels[falling ? nlevel - 1 - i : i] = (pl_level){
            .text = pl_arena_printf(b->a, "%g N/mm2", x), .si = x * 1e6
        };
}

static inline void shop_words(bench *b, shop *w, const char *name, const char *const *levels,
                              size_t nlevel, bool with_board)
{
    pl_factor *f = shop_factor(b, w, name, nlevel);

    f->comes_with_board = with_board;
    for (size_t i = 0; i < nlevel; i++)
        f->levels[i] = (pl_level){ .text = levels[i], .si = NAN };
}

/* specimens: a board holds; 0: not known. */
static inline void shop_boards(shop *w, const char *species, unsigned count, unsigned specimens)
{
    w->boards[w->s.nboard_kinds++] = (pl_stock){ .species = species,
                                                 .count = count,
                                                 .specimens = specimens };
    w->s.boards = w->boards;
}

static inline void shop_rig(shop *w, const char *name)
{
    w->rigs[w->s.nrig++] = (pl_rig_ref){ .name = name };
    w->s.rigs = w->rigs;
}

/* rig -1: the press takes any rig. */
static inline void shop_press(shop *w, const char *name, unsigned stations, int rig)
{
    size_t k = w->s.npress++;

    w->rigs_of[k][0] = rig;
    w->presses[k] = (pl_press){ .name = name,
                                .stations = stations,
                                .specimens_at_once = 1,
                                .rigs = w->rigs_of[k],
                                .nrig = rig >= 0 };
    w->s.presses = w->presses;
}

/* Rig `low` makes the first `n` levels listed, rig `high` the others. */
static inline const pl_set_points *shop_points(shop *w, size_t nlevel, size_t n, int low, int high)
{
    w->points = (pl_set_points){ .nlevel = nlevel, .nrig = w->s.nrig, .area_m2 = 0.0012 };
    for (size_t i = 0; i < nlevel; i++) {
        w->chosen[i] = i < n ? low : high;
        for (size_t r = 0; r < w->s.nrig; r++)
            w->at[i * w->s.nrig + r] = (pl_set_point){ .can = (int)r == w->chosen[i],
                                                       .rig = w->rigs[r].name };
    }
    w->points.at = w->at;
    w->points.chosen = w->chosen;
    return &w->points;
}

/* No factors, boards or presses yet; one joint a glue-up, an hour's clamping, a
 * quarter's hands-on work, eight hours a session. */
static inline void shop_open(shop *w)
{
    *w = (shop){ 0 };
    w->s.name = "stairs";
    w->s.question.over = w->s.question.for_each = -1;
    w->s.joint.adherends = 2;
    w->s.joint.specimens_per_glue_up = 1;
    w->s.times = (pl_times){
        .clamp_s = 3600, .cure_at_least_s = NAN, .hands_on_s = 900, .session_s = 28800
    };
}

static const char *const woods[] = { "beech", "larch", "oak" };

/* The shop of most tests: pressures x two woods, boards of each. */
static inline void shop_stairs(bench *b, shop *w, size_t nlevel, unsigned boards, unsigned hold,
                               unsigned stations)
{
    shop_open(w);
    shop_pressure(b, w, nlevel, false);
    shop_words(b, w, "species", woods, 2, true);
    shop_boards(w, "beech", boards, hold);
    shop_boards(w, "larch", boards, hold);
    shop_press(w, "bench press", stations, -1);
}

/* The whole plan as text, one line a glue-up and one a specimen. */
static inline char *shop_text(bench *b, const pl_study *s, const pl_plan *p)
{
    pl_text t;

    pl_text_init(&t, b->a);
    pl_text_add(&t, "chosen: %s\n", p->chosen);
    pl_text_add(
        &t, "efficiency %.12f of %.12f, order %.6f within %.6f after %u, rigs %.6f, df %zu\n",
        p->health.efficiency, p->health.efficiency_bound, p->health.order_balance,
        p->health.order_bound, p->health.order_draws, p->health.rig_confounding, p->health.unit_df);
    for (size_t i = 0; i < p->health.ncannot; i++)
        pl_text_add(&t, "cannot: %s\n", p->health.cannot[i]);
    for (size_t i = 0; i < p->nglue_up; i++) {
        const pl_glue_up *g = &p->glue_ups[i];

        pl_text_add(&t, "%-4s", g->label);
        for (size_t k = 0; k < p->nfactor; k++)
            pl_text_add(&t, " %-9s",
                        s->factors[k].levels[p->treatments[g->treatment * p->nfactor + k]].text);
        pl_text_add(&t, " %-3s session %u press %d station %u rig %d start %.0f%s\n",
                    g->board < 0 ? "-" : p->boards[g->board].label, g->session, g->press,
                    g->station, g->rig, g->start_s, g->spare ? " spare" : "");
    }
    for (size_t i = 0; i < p->nspecimen; i++) {
        const pl_specimen *x = &p->specimens[i];

        pl_text_add(&t, "%s %s %s %s place %u break %u%s\n", x->id, p->glue_ups[x->glue_up].label,
                    x->adherends[0], x->adherends[1], x->place, x->break_order,
                    x->spare ? " spare" : "");
    }
    return pl_text_done(&t);
}

#endif
