/* platen next: what to make next, and what it would bring. */
#include "cli/next.h"

#include <math.h>
#include <string.h>

#include "cli/picture.h"
#include "report/pictures.h"
#include "report/say.h"

#define DRAWS_DEFAULT 100

typedef struct next_options {
    pl_next_asked asked;
    long long draws;
} next_options;

enum { KEY_GLUE_UPS = 1, KEY_HOURS, KEY_DRAWS };

static const struct argp_option options[] = {
    { "glue-ups", KEY_GLUE_UPS, "N", 0, "so many in all; else as many as the longest session had",
      0 },
    { "press-hours", KEY_HOURS, "TIME", 0, "as many as the press makes in that time: \"6 h\"", 0 },
    { "draws", KEY_DRAWS, "N", 0, "days tried out on paper (100)", 0 },
    PL_PICTURE_OPTIONS("the curve so far and what to make"){ 0 },
};

static pl_code take(pl_run *run, int key, const char *arg)
{
    next_options *o = run->options;

    if (key >= PL_KEY_PICTURE)
        return pl_picture_take(run, key, arg);
    if (key == KEY_HOURS)
        return pl_next_take_hours(run, arg, &o->asked.press_s);
    if (key == KEY_DRAWS)
        return pl_take_whole(run, "--draws", arg, 20, PL_NEXT_DRAWS_MOST, &o->draws);
    return pl_take_whole(run, "--glue-ups", arg, 1, 100000, &o->asked.glue_ups);
}

/* ---------------------------------------------------------------- words ---- */

static const char *what_is_missing(pl_next_need need)
{
    static const char *const words[PL_NNEXT_NEEDS] = {
        "",
        "it still got stronger at the hardest squeeze: harder ones are missing",
        "nothing shows yet that squeezing harder helps: softer squeezes are missing",
        "no squeeze was made twice: repeats are missing",
    };

    return words[need];
}

/* "between 0.73 and 1.3 N/mm2 (1.8 to 1)", "above 1.3 N/mm2". */
static const char *range_now(pl_run *run, const pl_next_round *r, const pl_plateau *p)
{
    const pl_bounded *o = &p->onset;
    pl_arena *a = run->arena;

    if (o->low_open && o->high_open)
        return "not to be told, neither from below nor from above";
    if (o->high_open)
        return pl_arena_printf(a, "above %s, how far is open",
                               pl_say(a, &r->fit, o->low, p->over_unit, 2, -1));
    if (o->low_open)
        return pl_arena_printf(a, "below %s, how far is open",
                               pl_say(a, &r->fit, o->high, p->over_unit, 2, 1));
    if (!(o->low > 0))
        return pl_arena_printf(a, "between %s and %s", pl_say_bare(a, o->low, 2, -1),
                               pl_say(a, &r->fit, o->high, p->over_unit, 2, 1));
    return pl_arena_printf(a, "between %s and %s (%s to 1)", pl_say_bare(a, o->low, 2, -1),
                           pl_say(a, &r->fit, o->high, p->over_unit, 2, 1),
                           pl_text_number(a, o->high / o->low, 2));
}

static const char *range_after(pl_run *run, const pl_plateau *p, const pl_next_expected *e)
{
    pl_arena *a = run->arena;

    if (isnan(e->width))
        return pl_arena_printf(a, "an end is more likely than not to stay open");
    if (e->ratio)
        return pl_arena_printf(a, "about %s to 1", pl_text_number(a, e->width, 2));
    return pl_arena_printf(a, "about %s %s wide", pl_text_number(a, e->width, 2), p->over_unit);
}

static void say_group(pl_run *run, const pl_next_round *r, size_t g, const pl_next_expected *e)
{
    const pl_plateau *p = &r->fit.plateaus[g];
    const pl_next_need need = pl_next_need_of(p);

    pl_text_add(&run->text, "- %s: the point where more %s stops helping lies %s%s%s.",
                pl_say_group(run->arena, p), p->over, range_now(run, r, p),
                need == PL_NEXT_NARROW ? "" : "; ", what_is_missing(need));
    pl_text_add(&run->text, " With this round: %s. ", range_after(run, p, e));
    if (!e->high_open && !e->low_open)
        pl_text_add(&run->text, "Of %zu days tried out on paper none left an end open.\n",
                    e->draws);
    else
        pl_text_add(&run->text,
                    "Of %zu days tried out on paper %zu left the upper end open, %zu the lower.\n",
                    e->draws, e->high_open, e->low_open);
}

static void say_why(pl_run *run, const pl_next_round *r, const pl_next_expected *e)
{
    double press_s = pl_study_press_s(r->l.frozen, r->glue_ups);

    pl_text_put(&run->text, "\nWhat it should bring\n");
    for (size_t g = 0; g < r->fit.nplateau; g++)
        say_group(run, r, g, &e[g]);
    pl_text_put(&run->text,
                "\nLevels marked \"again\" tie the new day to the old ones: without them a good or "
                "bad day could not be told from the new levels.\n");
    if (!isnan(press_s))
        pl_text_add(&run->text, "Press: %s hours.\n",
                    pl_text_number(run->arena, press_s / 3600, 3));
    pl_text_add(&run->text, "To freeze it: platen plan %s --next --glue-ups %zu\n", run->args[0],
                r->glue_ups);
    pl_text_put(&run->text, "Details: chosen for the curves as they are fitted now; a day that is "
                            "tried out takes one of them by its weight, and its scatter by what "
                            "the fit leaves open.\n");
}

/* -------------------------------------------------------------- picture ---- */

static pl_code draw(pl_run *run, const pl_next_round *r, const pl_next_expected *e)
{
    double *x = PL_NEWN(run->arena, r->nplace, double);
    pl_code rc = x ? PL_OK : pl_nomem(&run->diags);

    for (size_t i = 0; i < r->nplace && !rc; i++)
        x[i] = r->places[i].x;
    for (size_t g = 0; g < r->fit.nplateau && !rc; g++) {
        const pl_plateau *p = &r->fit.plateaus[g];
        pl_round_picture round = { x, r->counts + g * r->nplace, r->nplace, e[g].width,
                                   e[g].ratio };
        const pl_plot *plot = NULL;

        rc = pl_picture_round(run->arena, &r->fit, p, &round, &plot, &run->diags);
        if (!rc)
            rc = pl_picture_put(run, plot, r->fit.nplateau > 1 ? p->group : NULL, 24);
    }
    return rc;
}

/* ----------------------------------------------------------------- json ---- */

static void put_end(pl_jval *to, const char *key, double x)
{
    if (isnan(x))
        pl_jadd_null(to, key);
    else
        pl_jadd_number(to, key, x);
}

static void put_groups(pl_run *run, const pl_next_round *r, const pl_next_expected *e)
{
    pl_jval *list = pl_jadd_array(run->answer, "expected");

    for (size_t g = 0; g < r->fit.nplateau; g++) {
        const pl_plateau *p = &r->fit.plateaus[g];
        pl_jval *one = pl_jadd_object(list, NULL), *now;

        if (p->group)
            pl_jadd_text(pl_jadd_object(one, "group"), p->group_factor, p->group);
        pl_jadd_text(one, "need", pl_next_need_name(pl_next_need_of(p)));
        pl_jadd_text(one, "unit", p->over_unit);
        now = pl_jadd_object(one, "onset");
        put_end(now, "at", p->onset.at);
        put_end(now, "low", p->onset.low);
        put_end(now, "high", p->onset.high);
        pl_jadd_bool(now, "low_open", p->onset.low_open);
        pl_jadd_bool(now, "high_open", p->onset.high_open);
        put_end(one, e[g].ratio ? "ratio" : "width", e[g].width);
        pl_jadd_whole(one, "draws", (long long)e[g].draws);
        pl_jadd_whole(one, "low_stays_open", (long long)e[g].low_open);
        pl_jadd_whole(one, "high_stays_open", (long long)e[g].high_open);
        pl_jadd_whole(one, "reached", (long long)e[g].reached);
    }
}

/* ----------------------------------------------------------------- verb ---- */

static pl_code run_next(pl_run *run)
{
    next_options *o = run->options;
    pl_next_expected *e;
    pl_next_round r;
    pl_code rc;

    if (o->asked.glue_ups && o->asked.press_s > 0)
        return pl_usage(run, "--press-hours", "beside --glue-ups", "one of the two", "");
    o->asked.draws = (size_t)(o->draws ? o->draws : DRAWS_DEFAULT);
    rc = pl_next_of(run, run->args[0], &o->asked, &r);
    if (rc)
        return rc;
    e = PL_NEWN(run->arena, r.fit.nplateau, pl_next_expected);
    if (!e)
        return pl_nomem(&run->diags);
    rc = pl_next_expect(run->arena, r.fit.table, r.fit.spec, r.fit.plateaus, r.fit.nplateau,
                        r.places, r.nplace, r.counts, o->asked.draws, r.l.plan->seed,
                        &o->asked.watch, e, &run->diags);
    pl_progress_end(&o->asked.progress);
    if (rc)
        return rc;
    pl_text_add(&run->text, "Make next: %zu glue-up%s\n\n", r.glue_ups, r.glue_ups == 1 ? "" : "s");
    rc = pl_next_say(run, &r);
    if (!rc && pl_picture_asked(run))
        rc = draw(run, &r, e);
    say_why(run, &r, e);
    pl_next_json(run->answer, &r);
    put_groups(run, &r, e);
    return rc;
}

const pl_verb pl_verb_next = {
    .name = "next",
    .args = "STUDY",
    .summary = "what to make next, and how much it would narrow the answer",
    .words =
        "Given what has been read so far: which levels to make, how many of each, so that the\n"
        "next day at the bench narrows the point where more pressure stops helping most. New\n"
        "levels are proposed where a rig makes them; two old ones are made again. Says how\n"
        "wide the range should be then, and how likely an end stays open. Nothing is written;\n"
        "plan --next freezes the proposal.",
    .examples = "next stair-lap\n"
                "next stair-lap --press-hours \"6 h\"\n",
    .options = options,
    .take = take,
    .options_size = sizeof(next_options),
    .least_args = 1,
    .most_args = 1,
    .run = run_next,
};
