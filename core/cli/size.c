/* platen size: how many glue-ups per level are enough, and what a number cannot
 * show. */
#include <limits.h>
#include <math.h>
#include <string.h>

#include "cli/history.h"
#include "cli/load.h"
#include "cli/size_of.h"
#include "page/grid.h"
#include "size/size.h"

typedef struct size_options {
    const char *scatter, *worth, *miss, *alarm;
    long long levels, scatter_from, glue_ups;
} size_options;

enum { KEY_LEVELS = 1, KEY_SCATTER, KEY_FROM, KEY_WORTH, KEY_MISS, KEY_ALARM, KEY_GLUE_UPS };

static const struct argp_option options[] = {
    { "levels", KEY_LEVELS, "K", 0, "without a study: levels compared with each other", 0 },
    { "scatter", KEY_SCATTER, "S", 0, "scatter of joints made alike: \"12 %\", \"1.2 N/mm2\"", 0 },
    { "scatter-from", KEY_FROM, "N", 0, "glue-ups that the scatter was found on", 0 },
    { "worth-noticing", KEY_WORTH, "D", 0, "smallest difference of two levels that matters", 0 },
    { "miss-at-most", KEY_MISS, "CHANCE", 0, "how often it may go unseen (1 in 10)", 0 },
    { "false-alarm", KEY_ALARM, "CHANCE", 0, "how often chance may look like one (1 in 20)", 0 },
    { "glue-ups-per-level", KEY_GLUE_UPS, "N", 0, "what this number cannot show", 0 },
    { 0 },
};

static pl_code take(pl_run *run, int key, const char *arg)
{
    size_options *o = run->options;

    switch (key) {
    case KEY_LEVELS:
        return pl_take_whole(run, "--levels", arg, 2, 1000, &o->levels);
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
    default:
        o->alarm = arg;
    }
    return PL_OK;
}

/* ------------------------------------------------------------- question ---- */

typedef struct measure { /* a share of the strength, or a dimension */
    double value;
    bool relative;
    pl_quantity_kind kind;
    const char *unit;
} measure;

static pl_code read_measure(pl_run *run, const char *option, const char *text, measure *out)
{
    static const pl_quantity_kind kinds[] = { PL_Q_PRESSURE, PL_Q_FORCE, PL_Q_NONE };
    const char *why = "", *first = NULL;
    pl_dim dim;

    if (strchr(text, '%')) {
        *out = (measure){ .relative = true };
        if (!pl_units_chance(run->arena, text, &out->value, &why))
            return PL_OK;
        return pl_usage(run, option, why, "a share such as \"12 %\"", "");
    }
    for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++) {
        if (!pl_units_read(run->arena, text, kinds[i], &dim, &why)) {
            *out = (measure){ dim.si, false, kinds[i], dim.unit };
            return PL_OK;
        }
        first = first ? first : why;
    }
    return pl_usage(run, option, first, "a share or a strength",
                    "for example \"12 %\" or \"1.2 N/mm2\"");
}

static pl_code read_chance(pl_run *run, const char *option, const char *text, double *out)
{
    const char *why;

    if (!text || !pl_units_chance(run->arena, text, out, &why))
        return PL_OK;
    return pl_usage(run, option, why, "a chance", "for example \"1 in 10\", \"10 %\" or 0.1");
}

/* The flags that stand in for a study, or that change its question. */
static pl_code from_flags(pl_run *run, pl_size_question *q)
{
    size_options *o = run->options;
    measure scatter = { 0 }, worth = { 0 };
    pl_code rc = PL_OK;

    if (!o->levels)
        rc = pl_usage(run, "--levels", "nothing", "a study, or how many levels are compared", "");
    if (!o->scatter)
        rc = pl_usage(run, "--scatter", "nothing", "how far joints made alike differ", "");
    else if (read_measure(run, "--scatter", o->scatter, &scatter))
        rc = PL_EUSAGE;
    if (!o->worth)
        rc = pl_usage(run, "--worth-noticing", "nothing", "the difference that matters", "");
    else if (read_measure(run, "--worth-noticing", o->worth, &worth))
        rc = PL_EUSAGE;
    if (rc)
        return rc;
    if (scatter.relative != worth.relative || scatter.kind != worth.kind)
        return pl_usage(
            run, "--worth-noticing",
            pl_arena_printf(run->arena, "\"%s\" beside a scatter of \"%s\"", o->worth, o->scatter),
            "both as shares, or both in one unit", "");
    q->levels = (unsigned)o->levels;
    q->sd = scatter.value;
    q->worth_noticing = worth.value;
    q->relative = worth.relative;
    q->kind = worth.kind;
    q->unit = worth.unit;
    q->from = o->scatter_from ? PL_SCATTER_PILOT : PL_SCATTER_KNOWN;
    q->sd_df = o->scatter_from ? (double)o->scatter_from - 1 : NAN;
    return PL_OK;
}

static pl_code from_study(pl_run *run, pl_size_question *q)
{
    size_options *o = run->options;
    const pl_study *s = NULL;
    pl_loaded l;
    pl_code rc = pl_load(run, run->args[0], PL_LOAD_ASKED, &l);

    if (!rc && (o->levels || o->scatter || o->worth || o->scatter_from))
        rc = pl_usage(run, "", "--levels, --scatter or --worth-noticing beside a study",
                      "one of them", "change the study, or leave it out");
    if (!rc)
        rc = pl_history_scatter(run, l.study, &s);
    if (!rc)
        rc = pl_size_from_study(run->arena, s, q, &run->diags);
    if (!rc && l.study->question.aim == PL_AIM_PLATEAU)
        pl_remark(&run->diags, l.study->name,
                  .found = "the count below is for noticing a difference between levels; it does "
                           "not promise how closely the start of the plateau will be found");
    return rc;
}

/* --------------------------------------------------------------- answer ---- */

static void add_row(pl_jval *o, const pl_size_row *r)
{
    pl_jadd_whole(o, "glue_ups_per_level", r->glue_ups_per_level);
    pl_jadd_whole(o, "specimens_per_glue_up", r->specimens_per_glue_up);
    pl_jadd_whole(o, "glue_ups", (long long)r->glue_ups);
    pl_jadd_whole(o, "specimens", (long long)r->specimens);
    pl_jadd_number(o, "error_df", r->error_df);
    pl_jadd_number(o, "power", r->chance[PL_SIZE_OVERALL][PL_SIZE_AS_GIVEN]);
    pl_jadd_number(o, "power_at_upper", r->chance[PL_SIZE_OVERALL][PL_SIZE_AT_UPPER]);
    pl_jadd_number(o, "assurance", r->chance[PL_SIZE_OVERALL][PL_SIZE_ASSURED]);
    pl_jadd_number(o, "power_named_levels", r->chance[PL_SIZE_PAIR][PL_SIZE_AS_GIVEN]);
    pl_jadd_number(o, "assurance_named_levels", r->chance[PL_SIZE_PAIR][PL_SIZE_ASSURED]);
    pl_jadd_number(o, "mc_se", r->mc_se);
}

static void add_answer(pl_run *run, const pl_size_answer *s)
{
    pl_jval *list, *o;

    pl_jadd_text(run->answer, "aim", "difference");
    pl_jadd_number(run->answer, "sd", s->sd);
    pl_jadd_number(run->answer, "sd_upper", s->sd_upper);
    list = pl_jadd_array(run->answer, "table");
    for (size_t i = 0; i < s->nrow; i++)
        add_row(pl_jadd_object(list, NULL), &s->table[i]);
    if (s->need)
        add_row(pl_jadd_object(run->answer, "need"), s->need);
    else
        pl_jadd_null(run->answer, "need");
    if (s->advised)
        add_row(pl_jadd_object(run->answer, "advised"), s->advised);
    else
        pl_jadd_null(run->answer, "advised");
    o = pl_jadd_object(run->answer, "cannot_show");
    pl_jadd_whole(o, "glue_ups_per_level", s->limits.glue_ups_per_level);
    pl_jadd_number(o, "miss", s->limits.miss[PL_SIZE_OVERALL]);
    pl_jadd_number(o, "miss_named_levels", s->limits.miss[PL_SIZE_PAIR]);
    pl_jadd_number(o, "least", s->limits.least[PL_SIZE_OVERALL]);
    pl_jadd_number(o, "least_named_levels", s->limits.least[PL_SIZE_PAIR]);
}

/* The same two levels compared as one of many. */
static void add_families(pl_run *run, const pl_size_question *q, unsigned n)
{
    static const char *const names[PL_NSIZE_FAMILIES] = { "against-one", "all-pairs" };
    pl_jval *list = pl_jadd_array(run->answer, "compared");

    for (int f = 0; q->levels > 2 && f < PL_NSIZE_FAMILIES; f++) {
        pl_jval *o = pl_jadd_object(list, NULL);
        unsigned need = pl_size_family_need(q, (pl_size_family)f);

        pl_jadd_text(o, "which", names[f]);
        if (need)
            pl_jadd_whole(o, "need", need);
        else
            pl_jadd_null(o, "need");
        pl_jadd_whole(o, "glue_ups_per_level", n);
        pl_jadd_number(o, "power", pl_size_family_chance(q, (pl_size_family)f, n));
    }
}

static pl_code say_table(pl_run *run, const pl_size_answer *s)
{
    pl_grid *g = pl_grid_new(run->arena);
    const char *text;

    pl_grid_column(g, PL_SIDE_RIGHT, "glue-ups per level", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "joints in all", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "chance of noticing", "%");
    pl_grid_column(g, PL_SIDE_RIGHT, "if scatter is at its upper limit", "%");
    pl_grid_column(g, PL_SIDE_RIGHT, "two named levels", "%");
    for (size_t i = 0; i < s->nrow; i++) {
        const pl_size_row *r = &s->table[i];

        pl_grid_cellf(g, "%u", r->glue_ups_per_level);
        pl_grid_cellf(g, "%zu", r->specimens);
        pl_grid_number(g, 100 * r->chance[PL_SIZE_OVERALL][PL_SIZE_AS_GIVEN], 3);
        pl_grid_number(g, 100 * r->chance[PL_SIZE_OVERALL][PL_SIZE_AT_UPPER], 3);
        pl_grid_number(g, 100 * r->chance[PL_SIZE_PAIR][PL_SIZE_AS_GIVEN], 3);
    }
    text = pl_grid_text(run->arena, g, 80);
    if (!text)
        return pl_nomem(&run->diags);
    pl_text_add(&run->text, "\nDetails\n%s", text);
    return PL_OK;
}

static pl_code run_size(pl_run *run)
{
    size_options *o = run->options;
    const pl_size_answer *answer;
    pl_size_question q;
    const char *words;
    pl_code rc;

    pl_size_question_init(&q);
    rc = run->narg ? from_study(run, &q) : from_flags(run, &q);
    if (!rc)
        rc = read_chance(run, "--miss-at-most", o->miss, &q.miss_at_most);
    if (!rc)
        rc = read_chance(run, "--false-alarm", o->alarm, &q.false_alarm);
    if (o->glue_ups)
        q.glue_ups_per_level = (unsigned)o->glue_ups;
    if (!rc)
        rc = pl_size_difference(run->arena, &q, &answer, &run->diags);
    if (rc)
        return rc;
    add_answer(run, answer);
    add_families(run, &q, answer->limits.glue_ups_per_level);
    words = pl_arena_printf(run->arena, "%s%s", pl_size_words(run->arena, &q, answer),
                            pl_size_family_words(run->arena, &q));
    if (!words)
        return pl_nomem(&run->diags);
    pl_jadd_text(run->answer, "words", words);
    pl_text_put(&run->text, words);
    return say_table(run, answer);
}

pl_code pl_size_of_study(pl_run *run, const pl_study *s, unsigned *n)
{
    unsigned most = pl_size_within_budget(s);
    const pl_size_answer *answer;
    const pl_study *with;
    pl_size_question q;
    pl_code rc;

    *n = s->glue_ups_per_level;
    if (*n)
        return PL_OK;
    rc = pl_history_scatter(run, s, &with);
    if (!rc)
        rc = pl_size_from_study(run->arena, with, &q, &run->diags);
    if (!rc)
        rc = pl_size_difference(run->arena, &q, &answer, &run->diags);
    if (rc)
        return rc;
    *n = answer->advised ? answer->advised->glue_ups_per_level : PL_SIZE_CAP;
    if (*n <= most && answer->advised) {
        pl_remark(&run->diags, s->name,
                  .found = pl_arena_printf(run->arena,
                                           "%u glue-ups per level, as many as the aim "
                                           "needs",
                                           *n));
        return PL_OK;
    }
    if (most == UINT_MAX)
        return pl_fail(&run->diags, PL_EUNFIT, s->name,
                       .found = pl_arena_printf(run->arena,
                                                "no number up to %u glue-ups per level "
                                                "reaches the aim",
                                                PL_SIZE_CAP),
                       .expected = "an aim within reach",
                       .mend = "state glue_ups_per_level, or a larger worth_noticing");
    *n = *n < most ? *n : most;
    pl_advise(&run->diags, s->name,
              .found = pl_arena_printf(run->arena,
                                       "%u glue-ups per level, which is what the budget "
                                       "allows",
                                       *n),
              .expected = answer->advised ? pl_arena_printf(run->arena, "%u for the aim",
                                                            answer->advised->glue_ups_per_level)
                                          : "more than can be made",
              .mend = "platen size says what so few cannot show");
    return PL_OK;
}

const pl_verb pl_verb_size = {
    .name = "size",
    .args = "STUDY, or --levels K --scatter S --worth-noticing D",
    .summary = "how many glue-ups per level are enough",
    .words = "Says how many separate glue-ups per level it takes to notice a difference that\n"
             "matters, how sure that is when the scatter itself comes from a few joints, and what\n"
             "a given number per level cannot show.",
    .examples = "size stair-lap.json\n"
                "size --levels 4 --scatter \"12 %\" --scatter-from 8 --worth-noticing \"15 %\"\n",
    .options = options,
    .take = take,
    .options_size = sizeof(size_options),
    .most_args = 1,
    .run = run_size,
};
