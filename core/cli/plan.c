/* platen plan: draws a randomised plan and freezes it in the book. */
#include <ctype.h>
#include <math.h>
#include <string.h>

#include "base/stream.h"
#include "cli/data.h"
#include "cli/next.h"
#include "cli/picture.h"
#include "cli/plan.h"
#include "cli/rig.h"
#include "cli/size_of.h"
#include "design/plan_grow.h"
#include "design/plan_repair.h"
#include "report/pictures.h"

typedef struct plan_options {
    bool look;
    bool repair, next;
    bool seeded;
    long long seed;
    pl_next_asked asked; /* of next */
} plan_options;

enum { KEY_LOOK = 1, KEY_SEED, KEY_REPAIR, KEY_NEXT, KEY_GLUE_UPS, KEY_HOURS };

static const struct argp_option options[] = {
    { "look", KEY_LOOK, 0, 0, "only show; freeze nothing", 0 },
    { "repair", KEY_REPAIR, 0, 0, "make again what was lost, from spare joints", 0 },
    { "next", KEY_NEXT, 0, 0, "add the further round that next proposes", 0 },
    { "glue-ups", KEY_GLUE_UPS, "N", 0, "with --next: so many in all", 0 },
    { "press-hours", KEY_HOURS, "TIME", 0, "with --next: as many as the press makes: \"6 h\"", 0 },
    { "seed", KEY_SEED, "N", 0, "whole number below 2^53; else drawn from the system", 0 },
    PL_PICTURE_OPTIONS("which level is glued when"){ 0 },
};

static pl_code take(pl_run *run, int key, const char *arg)
{
    plan_options *o = run->options;

    if (key >= PL_KEY_PICTURE)
        return pl_picture_take(run, key, arg);
    switch (key) {
    case KEY_LOOK:
        o->look = true;
        return PL_OK;
    case KEY_REPAIR:
        o->repair = true;
        return PL_OK;
    case KEY_NEXT:
        o->next = true;
        return PL_OK;
    case KEY_GLUE_UPS:
        return pl_take_whole(run, "--glue-ups", arg, 1, 100000, &o->asked.glue_ups);
    case KEY_HOURS:
        return pl_next_take_hours(run, arg, &o->asked.press_s);
    default:
        break;
    }
    o->seeded = true;
    return pl_take_whole(run, "--seed", arg, 0, (long long)PL_SEED_LIMIT - 1, &o->seed);
}

/* ------------------------------------------------------------- words ------- */

/* "temper, surface" */
static void say_strata(pl_run *run, const pl_plan *p)
{
    static const char *const units[][2] = {
        { "board", "from board to board" },
        { "stretch", "from one stretch of glue-ups to the next" },
        { "inner_stretch", "from one stretch inside these to the next" },
        { "glue_up", "from glue-up to glue-up" },
    };
    const pl_health *h = &p->health;

    if (h->nstratum)
        pl_text_put(&run->text, "\nWhat is compared with what\n");
    for (size_t i = 0; i < h->nstratum; i++) {
        const pl_stratum *s = &h->strata[i];
        char *names = pl_text_list(run->arena, s->judges, s->njudge, "and");
        size_t u = 0;

        if (!s->njudge)
            continue;
        while (u + 1 < sizeof units / sizeof *units && strcmp(units[u][0], s->unit) != 0)
            u++;
        pl_text_add(&run->text, "- %s %s; ", names ? names : "", units[u][1]);
        if (s->df)
            pl_text_add(&run->text, "%zu comparison%s of like with like to judge %s by\n", s->df,
                        s->df == 1 ? "" : "s", s->njudge == 1 ? "it" : "them");
        else
            pl_text_add(&run->text, "nothing to judge %s by\n", s->njudge == 1 ? "it" : "them");
    }
}

/* Of the sessions from `first` on. */
static void say_glue_ups(pl_run *run, const pl_study *s, const pl_plan *p, unsigned first)
{
    pl_text *t = &run->text;
    unsigned session = 0;

    for (size_t i = 0; i < p->nglue_up; i++) {
        const pl_glue_up *g = &p->glue_ups[i];

        if (g->spare || g->session < first)
            continue;
        if (g->session != session)
            pl_text_add(t, "\nSession %u\n", session = g->session);
        else if (i && g->stretch[0] != g[-1].stretch[0])
            pl_text_put(t, "\n"); /* something hard to change is changed here */
        pl_text_add(t, "  %-5s", g->label);
        for (size_t f = 0; f < p->nfactor; f++)
            pl_text_add(t, "%-12s ",
                        s->factors[f].levels[p->treatments[g->treatment * p->nfactor + f]].text);
        if (g->board >= 0)
            pl_text_add(t, "board %-4s ", p->boards[g->board].label);
        if (g->rig >= 0)
            pl_text_add(t, "%s", s->rigs[g->rig].name);
        if (g->instead)
            pl_text_add(t, "  in place of %s", g->instead);
        pl_text_put(t, "\n");
    }
}

void pl_say_aliases(pl_run *run, const pl_plan *p)
{
    const pl_health *h = &p->health;

    if (h->nalias)
        pl_text_put(&run->text, "\nMixed up: each line is one and the same effect\n");
    for (size_t i = 0; i < h->nalias; i++)
        pl_text_add(&run->text, "- %s\n", h->aliases[i]);
    if (h->nword_length)
        pl_text_put(&run->text,
                    "Details: words of three factors and more that are one and the same:");
    for (size_t i = 0; i < h->nword_length; i++)
        pl_text_add(&run->text, " %u", h->word_lengths[i]);
    if (h->nword_length)
        pl_text_put(&run->text, ".\n");
}

/* "331776", "about 8.92 x 10^24" */
static const char *count_words(pl_run *run, const pl_allocations *n)
{
    if (*n->exact && n->power < 9)
        return n->exact;
    return pl_arena_printf(run->arena, "about %.2f x 10^%d", n->mantissa, n->power);
}

static void say_allocations(pl_run *run, const pl_health *h)
{
    const char *bound = h->allocations_at_most ? "at most " : "";

    if (!(h->allocations.mantissa > 0))
        return;
    if (h->least_p >= 1) {
        pl_text_put(&run->text,
                    "Nothing could have been drawn otherwise within boards, sessions and presses: "
                    "a test that draws the plan again has nothing to go by.\n");
        return;
    }
    pl_text_add(&run->text,
                "%s%s assignments could have been drawn%s; a test that draws the plan again can "
                "say no less than p = %s.\n",
                bound, count_words(run, &h->allocations),
                isnan(h->order_bound) ? ""
                                      : " (orders that follow the level, which are drawn again, "
                                        "counted with them)",
                pl_text_number(run->arena, h->least_p, 2));
}

static void say_health(pl_run *run, const pl_study *s, const pl_plan *p)
{
    pl_text *t = &run->text;
    double press_s = pl_plan_press_s(s, p);
    size_t spare = 0, glue_ups = 0;

    for (size_t i = 0; i < p->nspecimen; i++)
        spare += p->specimens[i].spare;
    for (size_t i = 0; i < p->nglue_up; i++)
        glue_ups += !p->glue_ups[i].spare;
    pl_text_add(t, "%c%s.\n\n%zu joints in %zu glue-ups, %zu boards, %u session%s",
                toupper((unsigned char)p->chosen[0]), p->chosen + 1, p->nspecimen - spare, glue_ups,
                p->nboard, p->nsession, p->nsession == 1 ? "" : "s");
    if (!isnan(press_s))
        pl_text_add(t, ", %s press hours", pl_text_number(run->arena, press_s / 3600, 4));
    if (spare)
        pl_text_add(t, "; %zu spare places", spare);
    pl_text_add(t, ".\nSeed %llu.\n", (unsigned long long)p->seed);
    say_strata(run, p);
    if (p->health.ncannot)
        pl_text_put(t, "\nWhat this plan cannot tell\n");
    for (size_t i = 0; i < p->health.ncannot; i++)
        pl_text_add(t, "- %s\n", p->health.cannot[i]);
    pl_say_aliases(run, p);
    pl_text_add(t, "\nDetails: efficiency within blocks %s",
                pl_text_number(run->arena, p->health.efficiency, 3));
    if (!isnan(p->health.efficiency_bound))
        pl_text_add(t, " (best possible %s)",
                    pl_text_number(run->arena, p->health.efficiency_bound, 3));
    if (p->health.criterion_efficiency > 0)
        pl_text_add(t, "; %s %% of what no choice of combinations without blocks can pass",
                    pl_text_number(run->arena, 100 * p->health.criterion_efficiency, 3));
    pl_text_add(t, "; glue order against level: rank correlation at most %s%s",
                pl_text_number(run->arena, p->health.order_balance, 2),
                s->arrangement.order_limit > 0 ? ", which the study limits" : "");
    if (s->arrangement.order_limit > 0)
        pl_text_add(t, " to %s (%u order%s drawn)",
                    pl_text_number(run->arena, s->arrangement.order_limit, 3),
                    p->health.order_draws, p->health.order_draws == 1 ? "" : "s");
    pl_text_add(t, "; %zu degrees of freedom between glue-ups.\n", p->health.unit_df);
    say_allocations(run, &p->health);
}

/* -------------------------------------------------------------- drawing ---- */

static pl_code draw(pl_run *run, const pl_loaded *l, unsigned n, const pl_plan **out)
{
    plan_options *o = run->options;
    uint64_t seed = o->seeded ? (uint64_t)o->seed : pl_seed_from_system();
    pl_issued issued = { 0 };
    pl_code rc = PL_OK;

    if (l->book)
        rc = pl_book_ids(run->arena, l->book, &issued.ids, &issued.count, &run->diags);
    return rc ? rc
              : pl_plan_make(run->arena, l->study, l->points, n, seed, &issued, out, &run->diags);
}

static pl_code freeze(pl_run *run, const pl_study *s, pl_plan *p)
{
    pl_book *book;
    pl_code rc = pl_book_open(run->arena, run->book, PL_BOOK_CREATE, &book, &run->diags);

    if (!rc)
        rc = pl_book_freeze(book, s, p, &p->revision, &run->diags);
    if (!rc && pl_book_created(book))
        pl_text_add(&run->text, "Made the book %s.\n", run->book);
    return rc;
}

static pl_code show(pl_run *run, const pl_study *s, const pl_plan *p)
{
    const pl_plot *plot = NULL;
    pl_code rc = pl_picture_asked(run) ? pl_picture_plan(run->arena, s, p, &plot, &run->diags)
                                       : PL_OK;

    say_health(run, s, p);
    if (!rc && plot)
        rc = pl_picture_put(run, plot, NULL, 22);
    if (rc)
        return rc;
    say_glue_ups(run, s, p, 1);
    return run->json ? pl_plan_to_json(s, p, run->answer) : PL_OK;
}

/* How old the calibrations are of the rigs that will press. */
static pl_code say_calibrations(pl_run *run, const pl_loaded *l)
{
    pl_code rc = PL_OK;

    for (size_t r = 0; l->points && r < l->points->nrig && !rc; r++)
        for (size_t i = 0; i < l->points->nlevel; i++)
            if (l->points->chosen[i] == (int)r) {
                rc = pl_say_calibration(run, &l->rigs[r]);
                break;
            }
    return rc;
}

static bool planned_already(const pl_loaded *l)
{
    return l->plan && l->study->length == l->frozen->length &&
           !memcmp(l->study->text, l->frozen->text, l->frozen->length);
}

/* -------------------------------------------------------------- repair ----- */

static void say_repair(pl_run *run, const pl_loaded *l, const pl_plan *p, bool look)
{
    const pl_health *h = &p->health;

    if (look)
        pl_text_put(&run->text, "Only looked at: nothing is frozen.\n");
    else
        pl_text_add(&run->text, "Frozen in %s as revision %u: what was there stays as it is.\n",
                    run->book, p->revision);
    say_glue_ups(run, l->frozen, p, l->plan->nsession + 1);
    pl_text_add(&run->text, "\nWhat making them again costs\n");
    for (size_t i = l->plan->health.ncannot; i < h->ncannot; i++)
        pl_text_add(&run->text, "- %s\n", h->cannot[i]);
    if (!look)
        pl_text_add(&run->text,
                    "\nTheir labels are those of the spare joints. Sheets: platen "
                    "sheet %s --session %u\n",
                    l->frozen->name, l->plan->nsession + 1);
}

static pl_code run_repair(pl_run *run)
{
    plan_options *o = run->options;
    uint64_t seed = o->seeded ? (uint64_t)o->seed : pl_seed_from_system();
    pl_readings readings = { 0 };
    pl_plan *plan = PL_NEW(run->arena, pl_plan);
    const pl_plan *drawn;
    size_t *lost, n = 0;
    pl_loaded l;
    pl_code rc = pl_load(run, run->args[0], PL_LOAD_PLAN | PL_LOAD_RIGS | PL_LOAD_DRAWN, &l);

    if (!rc)
        rc = pl_book_record(run->arena, l.book, l.frozen->name, &readings, &l.marks, &l.nmark,
                            &run->diags);
    if (!rc)
        rc = pl_lost_glue_ups(run, &l, &readings, &lost, &n);
    if (!rc && !plan)
        rc = pl_nomem(&run->diags);
    if (rc)
        return rc;
    if (!n) {
        pl_text_put(&run->text, "Nothing is lost: every glue-up has a joint that counts, or that "
                                "is still to be broken.\n");
        return pl_plan_to_json(l.frozen, l.plan, run->answer);
    }
    rc = pl_plan_repair(run->arena, l.frozen, l.plan, lost, n, seed, &drawn, &run->diags);
    if (rc)
        return rc;
    *plan = *drawn;
    if (!o->look)
        rc = freeze(run, l.frozen, plan);
    if (rc)
        return rc;
    say_repair(run, &l, plan, o->look);
    return pl_plan_to_json(l.frozen, plan, run->answer);
}

/* --------------------------------------------------------- further round --- */

/* study: the frozen one, or with levels that the round adds. */
static void say_round(pl_run *run, const pl_loaded *l, const pl_study *study, const pl_plan *p,
                      bool look)
{
    const pl_health *old = &l->plan->health;

    if (look)
        pl_text_put(&run->text, "Only looked at: nothing is frozen.\n");
    else
        pl_text_add(&run->text, "Frozen in %s as revision %u: what was there stays as it is.\n",
                    run->book, p->revision);
    say_glue_ups(run, study, p, l->plan->nsession + 1);
    pl_text_put(&run->text, "\nWhat the round needs and cannot tell\n");
    for (size_t i = old->ncannot; i < p->health.ncannot; i++)
        pl_text_add(&run->text, "- %s\n", p->health.cannot[i]);
    if (study != l->frozen && !look)
        pl_text_add(&run->text,
                    "\nThe study in the book has the new levels now; a file that it came from has "
                    "not. Go on with: platen sheet %s --new\n",
                    study->name);
    else if (!look)
        pl_text_add(&run->text, "\nSheets: platen sheet %s --new\n", study->name);
}

/* Rows that make up for what an optimal plan, as it was made, leaves least sure. */
static pl_code more_rows(pl_run *run, const pl_loaded *l, size_t n, uint64_t seed,
                         const pl_plan **drawn, double *reached)
{
    int *levels = pl_arena_get(run->arena, n, l->frozen->nfactor * sizeof *levels);
    size_t *replicate = PL_NEWN(run->arena, n, size_t);
    pl_issued issued = { 0 };
    pl_code rc = levels && replicate ? PL_OK : pl_nomem(&run->diags);

    if (!rc)
        rc = pl_optimal_further(run->arena, l->frozen, &l->plan->points, l->plan, n, levels,
                                reached, &run->diags);
    if (!rc)
        rc = pl_book_ids(run->arena, l->book, &issued.ids, &issued.count, &run->diags);
    if (!rc)
        rc = pl_plan_grow(run->arena, l->frozen, &l->plan->points, l->plan, levels, replicate, n,
                          seed, &issued, drawn, &run->diags);
    return rc;
}

static pl_code run_more(pl_run *run)
{
    plan_options *o = run->options;
    uint64_t seed = o->seeded ? (uint64_t)o->seed : pl_seed_from_system();
    pl_plan *plan = PL_NEW(run->arena, pl_plan);
    const pl_plan *drawn = NULL;
    double reached = 0;
    size_t n = 0;
    pl_loaded l;
    pl_code rc = pl_load(run, run->args[0], PL_LOAD_PLAN | PL_LOAD_RIGS | PL_LOAD_DRAWN, &l);

    if (!rc && !plan)
        rc = pl_nomem(&run->diags);
    if (!rc)
        rc = pl_next_glue_ups(run, &o->asked, &l, &n);
    if (!rc)
        rc = more_rows(run, &l, n, seed, &drawn, &reached);
    if (rc || !drawn)
        return rc;
    *plan = *drawn;
    plan->health.criterion_efficiency = reached;
    if (!o->look)
        rc = freeze(run, l.frozen, plan);
    if (rc)
        return rc;
    say_round(run, &l, l.frozen, plan, o->look);
    pl_text_add(&run->text,
                "\nDetails: the plan's glue-ups stay as they are; the round's were chosen so that "
                "all of them together tell most: %s %% of what no choice of combinations without "
                "blocks can pass.\n",
                pl_text_number(run->arena, 100 * reached, 3));
    return pl_plan_to_json(l.frozen, plan, run->answer);
}

/* An optimal plan of many effects is gone on with by its own criterion; one of an onset by what was
 * found. *own: by its own. */
static pl_code by_own_criterion(pl_run *run, bool *own)
{
    pl_loaded l;
    pl_code rc = pl_load(run, run->args[0], PL_LOAD_PLAN | PL_LOAD_UNSAID, &l);

    if (rc)
        return rc;
    *own = l.frozen->arrangement.kind == PL_ARRANGE_OPTIMAL &&
           l.frozen->arrangement.criterion != PL_CRITERION_C &&
           l.frozen->question.aim != PL_AIM_PLATEAU;
    return PL_OK;
}

static pl_code run_further(pl_run *run)
{
    plan_options *o = run->options;
    uint64_t seed = o->seeded ? (uint64_t)o->seed : pl_seed_from_system();
    pl_plan *plan = PL_NEW(run->arena, pl_plan);
    pl_issued issued = { 0 };
    const pl_plan *drawn;
    pl_next_round r;
    size_t n, *replicate;
    int *levels;
    bool own = false;
    pl_code rc = by_own_criterion(run, &own);

    if (rc || own)
        return rc ? rc : run_more(run);
    rc = pl_next_of(run, run->args[0], &o->asked, &r);
    if (!rc && !plan)
        rc = pl_nomem(&run->diags);
    if (!rc)
        rc = pl_next_rows(run, &r, &levels, &replicate, &n);
    if (!rc)
        rc = pl_book_ids(run->arena, r.l.book, &issued.ids, &issued.count, &run->diags);
    if (!rc)
        rc = pl_plan_grow(run->arena, r.study, r.points, r.l.plan, levels, replicate, n, seed,
                          &issued, &drawn, &run->diags);
    if (rc)
        return rc;
    *plan = *drawn;
    if (!o->look)
        rc = freeze(run, r.study, plan);
    if (rc)
        return rc;
    say_round(run, &r.l, r.study, plan, o->look);
    return pl_plan_to_json(r.study, plan, run->answer);
}

static pl_code check_options(pl_run *run)
{
    const plan_options *o = run->options;
    pl_code rc = PL_OK;

    if (o->repair && o->next)
        rc = pl_usage(run, "--next", "beside --repair", "one of the two", "one after the other");
    if (!o->next && (o->asked.glue_ups || o->asked.press_s > 0))
        rc = pl_usage(run, o->asked.glue_ups ? "--glue-ups" : "--press-hours", "without --next",
                      "plan STUDY --next",
                      "the first plan's size is the study's: glue_ups_per_level");
    if (o->asked.glue_ups && o->asked.press_s > 0)
        rc = pl_usage(run, "--press-hours", "beside --glue-ups", "one of the two", "");
    return rc;
}

static pl_code run_plan(pl_run *run)
{
    plan_options *o = run->options;
    const pl_plan *drawn;
    pl_plan *plan;
    pl_loaded l;
    unsigned n;
    pl_code rc = check_options(run);

    if (rc)
        return rc;
    if (o->repair)
        return run_repair(run);
    if (o->next)
        return run_further(run);
    rc = pl_load(run, run->args[0], PL_LOAD_RIGS | PL_LOAD_POINTS | PL_LOAD_ASKED | PL_LOAD_DRAWN,
                 &l);
    if (rc)
        return rc;
    if (planned_already(&l) && (!o->seeded || (uint64_t)o->seed == l.plan->seed)) {
        pl_remark(&run->diags, run->book,
                  .found = pl_arena_printf(
                      run->arena, "a study that is planned already: revision %u", l.plan->revision),
                  .mend = "nothing was drawn anew; --seed N draws another plan");
        return show(run, l.study, l.plan);
    }
    rc = pl_study_advise(run->arena, l.study, l.points, &run->diags);
    if (!rc)
        rc = say_calibrations(run, &l);
    if (!rc)
        rc = pl_size_of_study(run, l.study, l.points, &n);
    if (!rc)
        rc = draw(run, &l, n, &drawn);
    if (rc)
        return rc;
    plan = PL_NEW(run->arena, pl_plan);
    if (!plan)
        return pl_nomem(&run->diags);
    *plan = *drawn;
    rc = pl_size_chances_of(run, l.study, n, &plan->chances);
    if (!rc && !o->look)
        rc = freeze(run, l.study, plan);
    if (rc)
        return rc;
    if (o->look)
        pl_text_put(&run->text, "Only looked at: nothing is frozen.\n");
    else
        pl_text_add(&run->text, "Frozen in %s as revision %u.\n", run->book, plan->revision);
    return show(run, l.study, plan);
}

const pl_verb pl_verb_plan = {
    .name = "plan",
    .args = "STUDY",
    .summary = "draw a randomised plan and freeze it in the book",
    .words =
        "Draws which joint gets which treatment, from which board, in which session and order,\n"
        "and freezes that in the book (made if absent). A frozen plan changes only by a further\n"
        "revision. Says what the plan cannot tell. --repair: glue-ups of which every joint was\n"
        "lost, excluded or broken in handling are made again, from spare joints of the same\n"
        "board where there are any, in a session of their own. --next: the round that platen next\n"
        "proposes is added, in sessions of its own; what was there stays as it is. Of an optimal "
        "plan\n"
        "of several factors: the glue-ups that tell most beside those it has.",
    .examples = "plan stair-lap.json --look\n"
                "plan stair-lap.json --seed 20260302\n"
                "plan stair-lap --repair --look\n"
                "plan stair-lap --next\n",
    .options = options,
    .take = take,
    .options_size = sizeof(plan_options),
    .least_args = 1,
    .most_args = 1,
    .run = run_plan,
};
