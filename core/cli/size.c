/* platen size: how many glue-ups per level are enough, and what a number cannot
 * show. */
#include <math.h>
#include <string.h>

#include "cli/history.h"
#include "cli/load.h"
#include "cli/picture.h"
#include "cli/size_ask.h"
#include "cli/size_of.h"
#include "cli/telling.h"
#include "size/costs.h"

enum {
    KEY_LEVELS = 1,
    KEY_SCATTER,
    KEY_FROM,
    KEY_WORTH,
    KEY_MISS,
    KEY_ALARM,
    KEY_GLUE_UPS,
    KEY_AS_GOOD,
    KEY_BOTH,
    KEY_TRULY,
    KEY_PERCENTILE,
    KEY_CONFIDENCE,
    KEY_WIDTH,
    KEY_WITHIN,
    KEY_LOW,
    KEY_HIGH,
    KEY_ONSET,
    KEY_FLOOR,
    KEY_DRAWS,
    KEY_SURE,
    KEY_SEED,
    KEY_MERGE,
    KEY_BLOCK,
    KEY_LIMIT,
    KEY_HARD,
    KEY_BETWEEN,
    KEY_DRAWN
};

static const struct argp_option options[] = {
    { "levels", KEY_LEVELS, "K", 0, "without a study: levels compared; again for another factor",
      0 },
    { "per-block", KEY_BLOCK, "N", 0, "glue-ups of a block (a board, a session)", 0 },
    { "hard-to-change", KEY_HARD, NULL, 0, "a block has one level of the first factor only", 0 },
    { "scatter-between", KEY_BETWEEN, "S", 0, "scatter from block to block", 0 },
    { "scatter", KEY_SCATTER, "S", 0, "scatter of joints made alike: \"12 %\", \"1.2 N/mm2\"", 0 },
    { "scatter-from", KEY_FROM, "N", 0, "glue-ups that the scatter was found on", 0 },
    { "worth-noticing", KEY_WORTH, "D", 0, "smallest difference of two levels that matters", 0 },
    { "miss-at-most", KEY_MISS, "CHANCE", 0, "how often it may go unseen (1 in 10)", 0 },
    { "false-alarm", KEY_ALARM, "CHANCE", 0, "how often chance may look like one (1 in 20)", 0 },
    { "glue-ups-per-level", KEY_GLUE_UPS, "N", 0, "what this number cannot show", 0 },
    { "width-at-most", KEY_WIDTH, "W", 0, "how far apart the limits of the answer may lie", 0 },
    { "as-good-as", KEY_AS_GOOD, "G", 0, "aim: a level holds G (\"95 %\") of a named one", 0 },
    { "both-sides", KEY_BOTH, NULL, 0, "and is not better by more than it may be worse", 0 },
    { "truly", KEY_TRULY, "SHARE", 0, "what it truly holds of the named one (100 %)", 0 },
    { "percentile", KEY_PERCENTILE, "P", 0, "aim: a strength that all but P of the joints pass",
      0 },
    { "confidence", KEY_CONFIDENCE, "C", 0, "how often strengths proven so are right (95 %)", 0 },
    { "within", KEY_WITHIN, "FACTOR", 0,
      "aim: where strength stops rising, so near (\"factor 1.5\")", 0 },
    { "from", KEY_LOW, "X", 0, "the lowest of the levels, at constant ratio: \"0.2 N/mm2\"", 0 },
    { "to", KEY_HIGH, "X", 0, "the highest", 0 },
    { "onset", KEY_ONSET, "X", 0, "a guess of where it stops rising", 0 },
    { "floor", KEY_FLOOR, "SHARE", 0,
      "a guess of what a joint holds at the start (40 %), of the highest", 0 },
    { "drawn", KEY_DRAWN, "HOW", 0,
      "try a difference out on drawn joints: alike, in-proportion, weakest-link", 0 },
    { "breaks-at-most", KEY_LIMIT, "SHARE", 0,
      "where the breaking rig stops, of the highest strength (\"110 %\")", 0 },
    { "draws", KEY_DRAWS, "N", 0, "studies drawn a number at most (100000), or a part of them: A:B",
      0 },
    { "sure-to", KEY_SURE, "SHARE", 0, "stop when a chance is as sure as this (0.5 %)", 0 },
    { "seed", KEY_SEED, "N", 0, "of the draws (1)", 0 },
    { "merge", KEY_MERGE, "FILE", 0, "in place of drawing: JSON answers of parts; may be repeated",
      0 },
    PL_PICTURE_OPTIONS("the chance against glue-ups per level"){ 0 },
};

static pl_code take(pl_run *run, int key, const char *arg)
{
    pl_size_options *o = run->options;

    if (key >= PL_KEY_PICTURE)
        return pl_picture_take(run, key, arg);
    switch (key) {
    case KEY_LEVELS:
        if (o->nfactor == PL_SIZE_FACTORS_MOST)
            return pl_usage(run, "--levels", "one more", "6 factors at most", "");
        return pl_take_whole(run, "--levels", arg, 1, 1000, &o->levels[o->nfactor++]);
    case KEY_BLOCK:
        return pl_take_whole(run, "--per-block", arg, 2, 1000000, &o->per_block);
    case KEY_HARD:
        o->hard = true;
        break;
    case KEY_BETWEEN:
        o->between = arg;
        break;
    case KEY_FROM:
        return pl_take_whole(run, "--scatter-from", arg, 2, 1000000, &o->scatter_from);
    case KEY_GLUE_UPS:
        return pl_take_whole(run, "--glue-ups-per-level", arg, 1, PL_SIZE_CAP, &o->glue_ups);
    case KEY_SCATTER:
        o->scatter = arg;
        break;
    case KEY_WORTH:
        o->worth = arg;
        break;
    case KEY_MISS:
        o->miss = arg;
        break;
    case KEY_ALARM:
        o->alarm = arg;
        break;
    case KEY_AS_GOOD:
        o->as_good = arg;
        break;
    case KEY_BOTH:
        o->both_sides = true;
        break;
    case KEY_TRULY:
        o->truly = arg;
        break;
    case KEY_PERCENTILE:
        o->percentile = arg;
        break;
    case KEY_CONFIDENCE:
        o->confidence = arg;
        break;
    case KEY_WITHIN:
        o->within = arg;
        break;
    case KEY_LOW:
        o->from = arg;
        break;
    case KEY_HIGH:
        o->to = arg;
        break;
    case KEY_ONSET:
        o->onset = arg;
        break;
    case KEY_FLOOR:
        o->floor = arg;
        break;
    case KEY_DRAWN:
        o->drawn = arg;
        break;
    case KEY_DRAWS:
        o->draws = arg;
        break;
    case KEY_LIMIT:
        o->breaks = arg;
        break;
    case KEY_SURE:
        o->sure_to = arg;
        break;
    case KEY_SEED:
        o->seeded = true;
        return pl_take_whole(run, "--seed", arg, 0, (1ll << 53) - 1, &o->seed);
    case KEY_MERGE:
        return pl_texts_add(run, &o->merge, arg);
    default:
        o->width = arg;
    }
    return PL_OK;
}

/* *plateau: the study asks for a plateau with guesses, which is simulated; *study: any other. */
static pl_code from_study(pl_run *run, pl_size_question *q, const pl_study **plateau,
                          const pl_study **study)
{
    pl_size_options *o = run->options;
    const pl_study *s = NULL;
    pl_loaded l;
    pl_code rc = pl_load(run, run->args[0], PL_LOAD_ASKED, &l);

    if (!rc && pl_size_stands_in(o))
        rc = pl_usage(run, "",
                      pl_arena_printf(run->arena, "%s beside a study", pl_size_stands_in(o)),
                      "one of them", "change the study, or leave it out");
    if (!rc)
        rc = pl_history_scatter(run, l.study, &s);
    if (!rc && pl_size_simulated(run, s)) {
        *plateau = s;
        if (s->breaking.rig >= 0)
            rc = pl_load(run, run->args[0],
                         PL_LOAD_ASKED | PL_LOAD_RIGS | PL_LOAD_POINTS | PL_LOAD_UNSAID, &l);
        if (!rc && s->breaking.rig >= 0)
            o->limit = pl_size_limit(s, l.points);
        return rc;
    }
    if (!rc)
        rc = pl_size_from_study(run->arena, s, q, &run->diags);
    *study = s;
    if (!rc && l.study->question.aim == PL_AIM_PLATEAU)
        pl_remark(&run->diags, l.study->name,
                  .found = "the count below is for noticing a difference between levels; it does "
                           "not promise how closely the start of the plateau will be found");
    return rc;
}

/* Told how far it is; Ctrl-C leaves out what is not known yet. */
static pl_code find(pl_run *run, pl_size_question *q, const pl_size_answer **answer)
{
    pl_telling t;
    pl_code rc;

    q->watch = pl_telling_watch;
    q->self = &t;
    pl_telling_begin(&t);
    rc = pl_size_find(run->arena, q, answer, &run->diags);
    pl_telling_end(&t);
    q->watch = NULL;
    return rc;
}

static pl_code run_size(pl_run *run)
{
    pl_size_options *o = run->options;
    const pl_size_answer *answer;
    const pl_study *plateau = NULL, *s = NULL;
    pl_size_tried *tried = NULL;
    pl_size_question q;
    pl_code rc = PL_OK;

    pl_size_question_init(&q);
    if (run->narg)
        rc = from_study(run, &q, &plateau, &s);
    if (!rc && o->drawn && (plateau || (!run->narg && o->within)))
        return pl_usage(run, "--drawn", "a plateau beside it", "the aim difference",
                        "a plateau is drawn in any case");
    if (!rc && (plateau || (!run->narg && o->within)))
        return pl_size_plateau(run, o, plateau);
    if (!rc && pl_size_simulates(o))
        rc = pl_usage(run, pl_size_simulates(o), "nothing to simulate",
                      run->narg ? "--drawn, or a study with aim plateau, within and guess"
                                : "--within, or --drawn",
                      "");
    if (!rc && !run->narg)
        rc = pl_size_from_flags(run, o, &q);
    if (!rc)
        rc = pl_size_read_chance(run, "--miss-at-most", o->miss, &q.miss_at_most);
    if (!rc)
        rc = pl_size_read_chance(run, "--false-alarm", o->alarm, &q.false_alarm);
    if (o->glue_ups)
        q.glue_ups_per_level = (unsigned)o->glue_ups;
    if (!rc)
        rc = find(run, &q, &answer);
    if (!rc)
        rc = pl_size_try(run, o, &q, answer, &tried);
    if (rc)
        return rc;
    rc = pl_size_say(run, s, &q, answer, tried);
    if (!rc && (answer->stopped || (tried && tried->answer->stopped)))
        return pl_fail(&run->diags, PL_EPREC, "size", .found = "stopped by hand",
                       .expected = "all that was asked");
    if (!rc && !answer->need && !q.glue_ups_per_level)
        rc = pl_fail(&run->diags, PL_EUNFIT, "size",
                     .found = pl_arena_printf(run->arena, "no number up to %u is enough", q.cap),
                     .expected = "an aim within reach",
                     .mend = "ask for less, or make equal joints differ less");
    return rc;
}

const pl_verb pl_verb_size = {
    .name = "size",
    .args = "STUDY, or --levels K --scatter S --worth-noticing D",
    .summary = "how many glue-ups per level are enough",
    .words =
        "Says how many separate glue-ups per level it takes to notice a difference that\n"
        "matters, to show that a level is as good as a named one, or to prove a strength that\n"
        "all but a few joints pass; how sure that is when the scatter itself comes from a few\n"
        "joints; and what a given number per level cannot show.",
    .examples = "size stair-lap.json\n"
                "size --levels 4 --scatter \"12 %\" --scatter-from 8 --worth-noticing \"15 %\"\n"
                "size --levels 8 --scatter \"12 %\" --worth-noticing \"20 %\" --drawn "
                "in-proportion\n"
                "size --as-good-as \"90 %\" --scatter \"12 %\" --scatter-from 8\n"
                "size --percentile \"5 %\" --confidence \"75 %\" --scatter \"12 %\" "
                "--worth-noticing \"5 %\"\n",
    .options = options,
    .take = take,
    .options_size = sizeof(pl_size_options),
    .most_args = 1,
    .run = run_size,
};
