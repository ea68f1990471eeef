/* platen fit: the analysis of a study, or of a bare table. */
#include <math.h>
#include <string.h>

#include "base/stream.h"
#include "cli/curve_child.h"
#include "cli/data.h"
#include "cli/fit_linear.h"
#include "cli/picture.h"
#include "cli/study_fit.h"
#include "fit/bootstrap.h"
#include "fit/plateau.h"
#include "fit/randomise.h"
#include "page/terminal.h"
#include "report/pictures.h"

typedef struct fit_options {
    const char *data, *response, *over, *planned, *glue_up, *for_each;
    pl_texts curves;
    pl_curve_start *starts;
    size_t nstart;
    pl_linear_options linear;
    const char *censored, *lower, *upper, *law;
    bool log_x, floor_fixed, in_proportion, residuals;
    double floor, share;
    long long bootstrap, seed;
    bool seeded;
} fit_options;

enum {
    KEY_DATA = 1,
    KEY_RESPONSE,
    KEY_OVER,
    KEY_CURVE,
    KEY_START,
    KEY_LOG_X,
    KEY_FLOOR,
    KEY_PLANNED,
    KEY_GLUE_UP,
    KEY_FOR_EACH,
    KEY_SHARE,
    KEY_IN_PROPORTION,
    KEY_BOOTSTRAP,
    KEY_RESIDUALS,
    KEY_SEED,
    KEY_CENSORED,
    KEY_LOWER,
    KEY_UPPER,
    KEY_LAW
};

static const struct argp_option options[] = {
    { "data", KEY_DATA, "FILE.csv", 0, "a bare table instead of a study", 0 },
    { "response", KEY_RESPONSE, "COL", 0, "the column that was measured", 0 },
    { "over", KEY_OVER, "COL", 0, "curves over this column", 0 },
    { "curve", KEY_CURVE, "NAME", 0, "this curve (again for more; none: the usual set)", 0 },
    { "start", KEY_START, "NAME=VALUE,...", 0,
      "a place more where the search for these parameters begins", 0 },
    { "log-x", KEY_LOG_X, 0, 0, "the named curves run in log x", 0 },
    { "floor", KEY_FLOOR, "VALUE", 0, "fixed floor of the rises (free when left out)", 0 },
    { "share", KEY_SHARE, "S", 0, "share of the largest mean that the onset asks for (95 %)", 0 },
    { "scatter-in-proportion", KEY_IN_PROPORTION, 0, 0,
      "curves: strong joints scatter more, by one share of the mean", 0 },
    { "planned", KEY_PLANNED, "COL", 0, "planned level of each row (else --over itself)", 0 },
    { "glue-up", KEY_GLUE_UP, "COL", 0, "names the glue-up of each row: its rows are averaged", 0 },
    { "for-each", KEY_FOR_EACH, "COL", 0, "one answer for each level of this column", 0 },
    { "bootstrap", KEY_BOOTSTRAP, "N", 0, "so many draws from the fit, beside the answer", 0 },
    { "residuals", KEY_RESIDUALS, 0, 0, "and as many with the joints' own scatter", 0 },
    { "seed", KEY_SEED, "N", 0, "of these draws, below 2^53; else drawn from the system", 0 },
    { "censored", KEY_CENSORED, "COL", 0, "1 where the response is only the least it held", 0 },
    { "lower", KEY_LOWER, "COL", 0, "each reading lies from here (empty: no lower end)", 0 },
    { "upper", KEY_UPPER, "COL", 0, "to here (empty: no upper end)", 0 },
    { "law", KEY_LAW, "NAME", 0, "scatter is normal (else lognormal, weibull)", 0 },
    PL_LINEAR_OPTIONS PL_PICTURE_OPTIONS("the curve"){ 0 },
};

static pl_code take_number(pl_run *run, const char *option, const char *arg, double *out)
{
    if (pl_text_to_number(arg, out))
        return PL_OK;
    return pl_usage(run, option, pl_arena_printf(run->arena, "\"%s\"", arg), "a number", "");
}

static pl_code take_share(pl_run *run, const char *arg, double *out)
{
    const char *why;

    if (!pl_units_chance(run->arena, arg, out, &why))
        return PL_OK;
    return pl_usage(run, "--share", why, "a share such as 0.95 or \"95 %\"", "");
}

/* "rate=0.5,mid=2"; again for more. */
static pl_code take_starts(pl_run *run, const char *arg, fit_options *o)
{
    size_t more = 1;
    pl_curve_start *all;

    for (const char *c = arg; *c; c++)
        more += *c == ',';
    all = PL_NEWN(run->arena, o->nstart + more, pl_curve_start);
    if (!all)
        return pl_nomem(&run->diags);
    for (size_t i = 0; i < o->nstart; i++)
        all[i] = o->starts[i];
    for (const char *at = arg; more; more--) {
        size_t n = strcspn(at, ","), name = strcspn(at, "=");
        const char *one = pl_arena_strn(run->arena, at, n);
        pl_curve_start *s = &all[o->nstart++];

        if (!one)
            return pl_nomem(&run->diags);
        if (!name || name >= n || !pl_text_to_number(one + name + 1, &s->value))
            return pl_usage(run, "--start", pl_arena_printf(run->arena, "\"%s\"", one),
                            "a parameter and a number, such as rate=0.5", "");
        s->name = pl_arena_strn(run->arena, one, name);
        if (!s->name)
            return pl_nomem(&run->diags);
        at += n + (at[n] == ',');
    }
    o->starts = all;
    return PL_OK;
}

static pl_code take(pl_run *run, int key, const char *arg)
{
    fit_options *o = run->options;
    const char **texts[] = { [KEY_DATA] = &o->data,         [KEY_RESPONSE] = &o->response,
                             [KEY_OVER] = &o->over,         [KEY_PLANNED] = &o->planned,
                             [KEY_GLUE_UP] = &o->glue_up,   [KEY_FOR_EACH] = &o->for_each,
                             [KEY_CENSORED] = &o->censored, [KEY_LOWER] = &o->lower,
                             [KEY_UPPER] = &o->upper,       [KEY_LAW] = &o->law };

    if (key >= PL_KEY_PICTURE)
        return pl_picture_take(run, key, arg);
    if (key >= PL_KEY_LINEAR)
        return pl_linear_take(run, key, arg, &o->linear);
    switch (key) {
    case KEY_CURVE:
        return pl_texts_add(run, &o->curves, arg);
    case KEY_START:
        return take_starts(run, arg, o);
    case KEY_FLOOR:
        o->floor_fixed = true;
        return take_number(run, "--floor", arg, &o->floor);
    case KEY_SHARE:
        return take_share(run, arg, &o->share);
    case KEY_BOOTSTRAP:
        return pl_take_whole(run, "--bootstrap", arg, 100, PL_BOOTSTRAP_DRAWS_MOST, &o->bootstrap);
    case KEY_SEED:
        o->seeded = true;
        return pl_take_whole(run, "--seed", arg, 0, (long long)PL_SEED_LIMIT - 1, &o->seed);
    case KEY_RESIDUALS:
        o->residuals = true;
        break;
    case KEY_IN_PROPORTION:
        o->in_proportion = true;
        break;
    case KEY_LOG_X:
        o->log_x = true;
        break;
    default:
        *texts[key] = arg;
    }
    return PL_OK;
}

/* ------------------------------------------------------------ bare table --- */

static pl_code table_curves(pl_run *run, const pl_table *t, pl_fit_answer *f)
{
    fit_options *o = run->options;
    pl_named_curve *curves = PL_NEWN(run->arena, o->curves.count, pl_named_curve);
    pl_curve_spec spec = { .response = o->response,
                           .over = o->over,
                           .planned = o->planned,
                           .unit = o->glue_up,
                           .blocks = o->linear.blocks.items,
                           .nblock = o->linear.blocks.count,
                           .randoms = o->linear.randoms.items,
                           .nrandom = o->linear.randoms.count,
                           .in_proportion = o->in_proportion,
                           .for_each = o->for_each,
                           .curves = curves,
                           .ncurve = o->curves.count,
                           .starts = o->starts,
                           .nstart = o->nstart,
                           .floor_fixed = o->floor_fixed,
                           .floor = o->floor,
                           .share = o->share,
                           .bootstrap = (size_t)o->bootstrap,
                           .residuals = o->residuals,
                           .seed = (uint64_t)o->seed };
    pl_plateau *plateaus;
    pl_code rc;

    if (!curves)
        return pl_nomem(&run->diags);
    for (size_t i = 0; i < o->curves.count; i++)
        curves[i] = (pl_named_curve){ o->curves.items[i], o->log_x };
    rc = pl_curves_fit(run, t, &spec, &plateaus, &f->nplateau);
    f->plateaus = rc ? NULL : plateaus;
    return rc;
}

/* Some readings may be only bounds: asked for by any of these. */
static const char *bounds_asked(const fit_options *o)
{
    return o->censored ? "--censored"
           : o->lower  ? "--lower"
           : o->upper  ? "--upper"
           : o->law    ? "--law"
                       : NULL;
}

/* What bounds cannot be had with is refused, not passed over. */
static pl_code check_bounds_options(pl_run *run)
{
    const fit_options *o = run->options;
    const struct {
        const char *name;
        bool given;
    } said[] = {
        { "--over", o->over },
        { "--glue-up", o->glue_up },
        { "--random", o->linear.randoms.count },
        { "--contrast", o->linear.contrasts.count },
        { "--compare", o->linear.compares.count },
        { "--through-zero", o->linear.through_zero },
    };
    pl_code rc = PL_OK;

    for (size_t i = 0; i < sizeof said / sizeof *said; i++)
        if (said[i].given)
            rc = pl_usage(run, said[i].name,
                          pl_arena_printf(run->arena, "it stands beside %s", bounds_asked(o)),
                          "effects, covariates and fixed blocks where readings may be bounds", "");
    if (!o->lower != !o->upper)
        rc = pl_usage(run, o->lower ? "--upper" : "--lower", "nothing",
                      "both columns, --lower and --upper", "");
    if (o->censored && o->lower)
        rc = pl_usage(run, "--censored", "it stands beside --lower and --upper", "one of the two",
                      "");
    if (o->law && pl_law_of(o->law) == PL_NLAWS)
        rc = pl_usage(run, "--law", pl_arena_printf(run->arena, "\"%s\"", o->law),
                      "normal, lognormal or weibull", "");
    return rc;
}

static pl_code table_bounds(pl_run *run, const pl_table *t, pl_fit_answer *f)
{
    fit_options *o = run->options;
    pl_bounds_fit *fit = PL_NEW(run->arena, pl_bounds_fit);
    pl_bounds_spec spec = { .response = o->response,
                            .censored = o->censored,
                            .lower = o->lower,
                            .upper = o->upper,
                            .law = o->law ? pl_law_of(o->law) : PL_LAW_NORMAL };
    pl_linear_spec linear = { 0 };
    pl_code rc = fit ? pl_linear_spec_of(run, &o->linear, &linear) : pl_nomem(&run->diags);

    if (!rc && linear.nnested)
        rc = pl_usage(run, "--block", "one block inside another", "blocks with names of their own",
                      "where readings may be bounds, name each board apart from all others");
    spec.effects = linear.effects;
    spec.neffect = linear.neffect;
    spec.covariates = linear.covariates;
    spec.ncovariate = linear.ncovariate;
    spec.blocks = linear.blocks;
    spec.nblock = linear.nblock;
    rc = rc ? rc : pl_fit_bounds(run->arena, t, &spec, fit, &run->diags);
    f->bounds = rc ? NULL : fit;
    return rc;
}

static pl_code check_table_options(pl_run *run)
{
    fit_options *o = run->options;
    pl_linear_options beside = o->linear; /* curves have random blocks too */
    pl_code rc = bounds_asked(o) ? check_bounds_options(run) : PL_OK;

    beside.randoms.count = 0;
    if (run->narg)
        rc = pl_usage(run, "", "both a study and --data", "one of them", "");
    if (!o->response && !o->lower)
        rc = pl_usage(run, "--response", "nothing", "the column that was measured", "");
    if (o->seeded && !o->bootstrap && !o->linear.randomised)
        rc = pl_usage(run, "--seed", "no --bootstrap and no --randomised", "draws to be seeded",
                      "");
    if (o->nstart && !o->curves.count)
        rc = pl_usage(run, "--start", "no --curve", "the curve that it is a start for", "");
    if (o->bootstrap && !o->over)
        rc = pl_usage(run, "--bootstrap", "no --over", "a curve to draw from", "");
    if (o->in_proportion && !o->over)
        rc = pl_usage(run, "--scatter-in-proportion", "no --over", "curves", "");
    if (o->over && pl_linear_asked(&beside))
        rc = pl_usage(run, "",
                      pl_arena_printf(run->arena, "--over beside %s", pl_linear_asked(&beside)),
                      "curves, or a linear model, in one call", "");
    return rc;
}

/* A study says itself what is asked; an option that would be passed over in
 * silence is refused. */
static pl_code check_study_options(pl_run *run)
{
    const fit_options *o = run->options;
    const struct {
        const char *name;
        bool given;
    } said[] = {
        { "--seed without --bootstrap or --randomised",
          o->seeded && !o->bootstrap && !o->linear.randomised },
        { "--response", o->response },
        { "--over", o->over },
        { "--curve", o->curves.count },
        { "--log-x", o->log_x },
        { "--start", o->nstart },
        { "--floor", o->floor_fixed },
        { "--share", o->share > 0 },
        { "--planned", o->planned },
        { "--glue-up", o->glue_up },
        { "--for-each", o->for_each },
        { "--block", o->linear.blocks.count },
        { "--scatter-in-proportion", o->in_proportion },
        { bounds_asked(o), bounds_asked(o) },
        { pl_linear_of_tables(&o->linear), pl_linear_of_tables(&o->linear) },
    };
    pl_code rc = PL_OK;

    if (o->linear.randomised > PL_RANDOMISE_PLAN_DRAWS_MOST)
        rc = pl_usage(run, "--randomised", "too many draws of a plan",
                      pl_arena_printf(run->arena, "at most %d", PL_RANDOMISE_PLAN_DRAWS_MOST), "");
    for (size_t i = 0; i < sizeof said / sizeof *said; i++)
        if (said[i].given)
            rc = pl_usage(run, said[i].name, "an option of bare tables beside a study",
                          "--data FILE.csv, or no such option",
                          "what a study asks stands in its file: question and model");
    return rc;
}

static pl_code fit_table(pl_run *run, pl_fit_answer *f)
{
    fit_options *o = run->options;
    const pl_table *t;
    pl_code rc = check_table_options(run);

    if (!rc)
        rc = pl_table_from_csv(run->arena, o->data, &t, &run->diags);
    if (rc)
        return rc;
    *f = (pl_fit_answer){ .source = t->name, .table = t };
    if (bounds_asked(o))
        return table_bounds(run, t, f);
    return o->over ? table_curves(run, t, f)
                   : pl_linear_table(run, t, o->response, o->glue_up, &o->linear, f);
}

/* --------------------------------------------------------------- verb ------ */

static pl_code say(pl_run *run, const pl_fit_answer *f)
{
    const char *words = pl_fit_words(run->arena, f), *details = pl_fit_details(run->arena, f);

    if (!words || !details)
        return pl_nomem(&run->diags);
    pl_fit_json(run->answer, f);
    pl_bright_sentences(&run->text, words, f->nplateau);
    for (size_t i = 0; i < f->nplateau && pl_picture_asked(run); i++) {
        const pl_plateau *p = &f->plateaus[i];
        const pl_plot *plot = NULL;
        pl_code rc = pl_picture_curve(run->arena, f, p, &plot, &run->diags);

        if (!rc)
            rc = pl_picture_put(run, plot, f->nplateau > 1 ? p->group : NULL, 24);
        if (rc)
            return rc;
    }
    pl_text_put(&run->text, details);
    return PL_OK;
}

/* A study's fit goes into the book; a book that cannot be written spoils no
 * answer. */
static pl_code keep(pl_run *run, const pl_loaded *l)
{
    char *answer = pl_jtext(run->arena, run->answer);
    size_t before = run->diags.count;
    pl_book *book;
    pl_code rc;

    if (!answer)
        return pl_nomem(&run->diags);
    rc = pl_book_open(run->arena, run->book, PL_BOOK_WRITE, &book, &run->diags);
    if (!rc)
        rc = pl_book_fit_add(book,
                             &(pl_book_fit){ .study = l->study->name,
                                             .revision = l->plan->revision,
                                             .answer = answer,
                                             .asked = l->asked ? l->asked->text : NULL,
                                             .seen = l->seen },
                             &run->diags);
    for (size_t i = before; i < run->diags.count && rc; i++)
        run->diags.items[i].severity = PL_ADVICE;
    return rc == PL_ENOMEM ? rc : PL_OK;
}

static pl_code run_fit(pl_run *run)
{
    fit_options *o = run->options;
    pl_fit_answer f;
    pl_loaded l;
    pl_code rc;

    if (!o->data && !run->narg)
        return pl_usage(run, "", "nothing to fit", "a study, or --data FILE.csv", "");
    if (!o->seeded)
        o->seed = (long long)pl_seed_from_system();
    o->linear.seed = o->seed;
    if (o->residuals && !o->bootstrap)
        return pl_usage(run, "--residuals", "no --bootstrap", "how many draws", "");
    rc = o->data ? PL_OK : check_study_options(run);
    if (!rc)
        rc = o->data ? fit_table(run, &f)
                     : pl_study_fit_drawn(run, run->args[0],
                                          (pl_draws){ .bootstrap = (size_t)o->bootstrap,
                                                      .residuals = o->residuals,
                                                      .randomised = (uint64_t)o->linear.randomised,
                                                      .seed = (uint64_t)o->seed },
                                          &l, &f);
    if (!rc)
        rc = say(run, &f);
    /* draws beside an answer are a look at it: the book keeps answers that can be made again */
    return rc || o->data || o->bootstrap || o->linear.randomised ? rc : keep(run, &l);
}

const pl_verb pl_verb_fit = {
    .name = "fit",
    .args = "STUDY, or --data FILE.csv --response COL ...",
    .summary = "the analysis: onset of the plateau, differences, and how sure",
    .words = "Fits curves that rise to a plateau, compares levels within boards and sessions, and\n"
             "answers in words first. With --data the same engine works on a bare table.",
    .examples = "fit stair-lap\n"
                "fit stair-lap --randomised 10000 --seed 7\n"
                "fit --data strengths.csv --response strength --over pressure --for-each species\n"
                "fit --data strengths.csv --response strength --effect species --effect pressure "
                "--effect species,pressure --block board\n"
                "fit --data bounds.csv --response strength --censored wood --effect species\n"
                "fit --data strengths.csv --response strength --effect species --contrast "
                "\"species: beech=1, larch=-1\"\n"
                "fit --data strengths.csv --response strength --effect species --effect pressure "
                "--randomised 100000 --seed 7\n",
    .options = options,
    .take = take,
    .options_size = sizeof(fit_options),
    .most_args = 1,
    .run = run_fit,
};
