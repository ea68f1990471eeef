/* How many glue-ups per level a plan gets, and whether they are enough. The chances are size's. */
#include "cli/size_of.h"

#include <limits.h>
#include <math.h>

#include "cli/history.h"
#include "size/costs.h"
#include "size/plateau.h"

/* A plan is not kept waiting: chances to 2 % and no more than so many studies a number. */
#define SURE_TO 0.02
#define DRAWS 3000
#define SEED 1

bool pl_size_simulated(pl_run *run, const pl_study *s)
{
    const pl_question *q = &s->question;

    if (q->aim != PL_AIM_PLATEAU || !q->nguess)
        return false;
    if (isnan(q->within))
        pl_remark(&run->diags, s->name,
                  .found = pl_arena_printf(run->arena,
                                           "near enough to where strength stops rising is taken to "
                                           "be within a factor of %g",
                                           PL_PLATEAU_WITHIN),
                  .mend = "question.within says otherwise");
    return true;
}

#define FAR_OFF 6 /* scatters above the highest strength: nothing breaks there */

double pl_size_limit(const pl_study *s, const pl_set_points *points)
{
    double strength_Pa = s->breaking.expected_strength_Pa, area_m2 = s->joint.area_m2, limit;

    if (!points || !points->most_N || s->breaking.rig < 0)
        return 0;
    limit = points->most_N[s->breaking.rig] / area_m2 / strength_Pa;
    return limit > 0 ? limit : 0;
}

double pl_size_limit_near(const pl_size_question *q, double limit)
{
    double sd = pl_size_sd(q);

    if (q->from == PL_SCATTER_GUESSED)
        sd = q->sd_high;
    else if (q->from == PL_SCATTER_PILOT)
        sd *= 2;
    return limit < 1 + FAR_OFF * sd ? limit : 0;
}

/* ---- the aim plateau ---- */

static const pl_plateau_row *row_of(const pl_plateau_answer *w, unsigned n)
{
    for (size_t i = 0; i < w->nrow; i++)
        if (w->rows[i].glue_ups_per_level == n)
            return &w->rows[i];
    return NULL;
}

static const char *chance_words(pl_run *run, const pl_plateau_question *q, double chance)
{
    return pl_arena_printf(run->arena,
                           "if the guess is right, where strength stops rising is found within a "
                           "factor of %s about %.0f times in 100",
                           pl_text_number(run->arena, q->within, 3), 100 * chance);
}

static pl_code ask(pl_run *run, const pl_study *s, const pl_set_points *points,
                   pl_plateau_question *q)
{
    pl_code rc;

    *q = (pl_plateau_question){
        .to = DRAWS, .sure_to = SURE_TO, .seed = SEED, .asked_only = true, .advised_only = true
    };
    rc = pl_plateau_from_study(run->arena, s, q, &run->diags);
    if (!rc)
        q->limit = pl_size_limit_near(&q->size, pl_size_limit(s, points));
    return rc;
}

/* Smallest number looked at that is enough; 0: none. */
static pl_code needed(pl_run *run, pl_plateau_question *q, unsigned *need)
{
    pl_plateau_answer *w;
    pl_code rc;

    q->size.glue_ups_per_level = 0;
    rc = pl_plateau_size(run->arena, q, NULL, NULL, &w, &run->diags);
    *need = rc ? 0 : w->need[PL_LAYOUT_ASKED][pl_plateau_advised(q)];
    return rc;
}

static pl_code weigh(pl_run *run, const pl_study *s, const pl_set_points *points, unsigned n)
{
    const double goal = 1 - s->question.miss_at_most;
    pl_plateau_question asked, *q = &asked;
    const pl_plateau_row *row;
    pl_plateau_answer *w = NULL;
    unsigned need;
    double chance;
    pl_code rc = ask(run, s, points, q);

    q->size.glue_ups_per_level = n;
    if (!rc)
        rc = pl_plateau_size(run->arena, q, NULL, NULL, &w, &run->diags);
    row = rc || !w ? NULL : row_of(w, n);
    if (!row)
        return rc;
    chance = pl_plateau_chance(&row->cell[pl_plateau_advised(q)]);
    if (chance >= goal) {
        pl_remark(&run->diags, s->name,
                  .found = pl_arena_printf(run->arena, "%u glue-ups per level are enough: %s", n,
                                           chance_words(run, q, chance)));
        return PL_OK;
    }
    rc = needed(run, q, &need);
    if (rc)
        return rc;
    pl_advise(
        &run->diags, s->name,
        .found = pl_arena_printf(run->arena, "%u glue-ups per level: %s", n,
                                 chance_words(run, q, chance)),
        .expected = need ? pl_arena_printf(run->arena, "%u for %.4g times in 100", need, 100 * goal)
                         : "a scatter known more surely, from more equal joints: as it is no "
                           "number looked at is enough",
        .mend = "platen size says how studies of that size fail");
    return PL_OK;
}

/* Of the number that the study states; a plan does not fail because nobody can tell. */
static pl_code say_enough(pl_run *run, const pl_study *s, const pl_set_points *points, unsigned n)
{
    pl_diags said = run->diags, *d = &run->diags;
    size_t before = d->count;
    pl_code rc = weigh(run, s, points, n);
    const char *why = d->count > before ? d->items[before].found : NULL;

    if (!rc || rc == PL_ENOMEM)
        return rc;
    said.out_of_memory |= d->out_of_memory;
    *d = said;
    pl_remark(d, s->name,
              .found = pl_arena_printf(run->arena,
                                       "whether %u glue-ups per level are enough cannot be worked "
                                       "out: %s",
                                       n, why ? why : "the guess cannot be drawn"));
    return PL_OK;
}

/* need: 0 when no number up to cap is enough. */
static pl_code within_budget(pl_run *run, const pl_study *s, unsigned need, unsigned cap,
                             unsigned *n)
{
    unsigned most = pl_size_within_budget(s);

    *n = need ? need : cap;
    if (need && need <= most) {
        pl_remark(&run->diags, s->name,
                  .found = pl_arena_printf(run->arena,
                                           "%u glue-ups per level, as many as the aim needs", *n));
        return PL_OK;
    }
    if (most == UINT_MAX)
        return pl_fail(&run->diags, PL_EUNFIT, s->name,
                       .found = pl_arena_printf(run->arena,
                                                "no number up to %u glue-ups per level "
                                                "reaches the aim",
                                                cap),
                       .expected = "an aim within reach",
                       .mend = "state glue_ups_per_level, or ask for less");
    *n = *n < most ? *n : most;
    pl_advise(&run->diags, s->name,
              .found = pl_arena_printf(
                  run->arena, "%u glue-ups per level, which is what the budget allows", *n),
              .expected = need ? pl_arena_printf(run->arena, "%u for the aim", need)
                               : "more than can be made",
              .mend = "platen size says what so few cannot show");
    return PL_OK;
}

static pl_code by_simulation(pl_run *run, const pl_study *s, const pl_set_points *points,
                             unsigned *n)
{
    pl_plateau_question q;
    unsigned need;
    pl_code rc;

    *n = s->glue_ups_per_level;
    if (*n)
        return say_enough(run, s, points, *n);
    rc = ask(run, s, points, &q);
    if (!rc)
        rc = needed(run, &q, &need);
    return rc ? rc : within_budget(run, s, need, PL_PLATEAU_GLUE_UPS_MOST, n);
}

/* ---- any aim ---- */

pl_code pl_size_of_study(pl_run *run, const pl_study *s, const pl_set_points *points, unsigned *n)
{
    bool guessed = s->question.aim == PL_AIM_PLATEAU && s->question.nguess;
    const pl_size_answer *answer;
    const pl_study *with;
    pl_size_question q;
    pl_code rc;

    *n = s->glue_ups_per_level;
    if (*n && !guessed)
        return PL_OK;
    rc = pl_history_scatter(run, s, &with);
    if (!rc && pl_size_simulated(run, with))
        return by_simulation(run, with, points, n);
    if (!rc)
        rc = pl_size_from_study(run->arena, with, &q, &run->diags);
    if (!rc)
        rc = pl_size_find(run->arena, &q, &answer, &run->diags);
    return rc ? rc
              : within_budget(run, s, answer->advised ? answer->advised->glue_ups_per_level : 0,
                              PL_SIZE_CAP, n);
}

/* A question that cannot be asked is no fault of the plan: size itself says why. */
pl_code pl_size_chances_of(pl_run *run, const pl_study *s, unsigned n, const pl_chances **out)
{
    const pl_diags said = run->diags; /* what it finds is said elsewhere */
    const pl_study *with;
    pl_size_question q;
    pl_code rc;

    *out = NULL;
    pl_diags_init(&run->diags, run->arena);
    rc = pl_history_scatter(run, s, &with);
    if (!rc)
        rc = pl_size_from_study(run->arena, with, &q, &run->diags);
    if (!rc)
        rc = pl_size_chances(run->arena, &q, n, out, &run->diags);
    run->diags = said;
    return rc == PL_ENOMEM ? pl_nomem(&run->diags) : PL_OK;
}
