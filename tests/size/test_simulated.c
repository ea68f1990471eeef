/* Exact chances against simulated ones, design by design. A study is planned, readings are drawn
 * for the plan and fitted as the program fits them, and what the fit notices is counted: size, the
 * plan and the fit are held to each other. Within 4 Monte Carlo standard errors; 40,000 experiments
 * a design with PLATEN_LONG (a standard error is 0.25 % or less), 400 without. Fixed seeds.
 * Figures: docs/validation.md. */
#include <gsl/gsl_errno.h>

#include "asked.h"
#include "base/stream.h"
#include "fit/compare.h"
#include "size/arranged.h"
#include "size/planned.h"

#define COUNTERS_MOST 24
#define LONG 40000
#define SHORT 400
#define THREADS 4 /* shares of the draws; the counts are the same for any number */

typedef enum look { BY_EFFECT, BY_CONTRAST, BY_FAMILY, BY_BOTH_SIDES } look;

typedef struct counter { /* one thing that a fit may notice */
    const char *name;
    look way;
    const char *effect;
    size_t contrast;      /* place in spec.contrasts */
    pl_compare_kind kind; /* of a family */
    double margin;
    double exact;
    size_t seen;
} counter;

typedef struct sim {
    bench *b;
    pl_planned p;
    pl_size_question q;
    unsigned n;
    double *mu;        /* a row's mean */
    double sd, within; /* of glue-ups; of the specimens of one */
    double board, session, stretch[PL_LAYERS_MOST];
    double pilot_df; /* sd is drawn anew for every experiment; 0: it is not */
    counter counters[COUNTERS_MOST];
    size_t ncounter;
} sim;

static const pl_study *study_of(bench *b, const char *design, const char *text)
{
    const pl_study *s = NULL;

    if (text)
        assert_ok(b, pl_study_parse(b->a, design, text, strlen(text), &s, &b->d));
    else
        assert_ok(b, pl_study_read(b->a,
                                   top_path(b->a, pl_arena_printf(b->a, "designs/%s.json", design)),
                                   &s, &b->d));
    return s;
}

static void open_sim(bench *b, sim *m, const char *design, const char *text, unsigned n)
{
    const pl_study *s = study_of(b, design, text);

    *m = (sim){ .b = b, .n = n };
    assert_ok(b, pl_planned_open(b->a, s, n, PL_SIZE_PLAN_SEED, &m->p, &b->d));
    assert_ok(b, pl_size_from_study(b->a, s, &m->q, &b->d));
    m->mu = PL_NEWN(b->a, m->p.table->nrow, double);
    m->sd = pl_size_sd(&m->q);
    m->board = m->q.block_size ? 2 * m->sd : 0; /* what blocks take out does not matter */
    if (!isnan(m->q.between_glue_ups)) {
        m->sd = m->q.between_glue_ups;
        m->within = m->q.within;
    }
    if (!isnan(m->q.between_blocks) && !pl_study_layers(s))
        m->board = m->q.between_blocks;
    else if (!isnan(m->q.between_blocks))
        m->stretch[pl_study_layers(s) - 1] = m->q.between_blocks;
    if (m->q.outer)
        m->stretch[0] = m->q.between_outer;
}

static counter *add_counter(sim *m, const char *name, look way, double exact)
{
    counter *c = &m->counters[m->ncounter++];

    assert_true(m->ncounter <= COUNTERS_MOST);
    assert_true(exact > 0 && exact < 1);
    *c = (counter){ .name = name, .way = way, .exact = exact };
    return c;
}

/* ---- means ---- */

/* D between two levels of a factor, its others midway. */
static void add_apart(sim *m, size_t factor, unsigned high, unsigned low, double D)
{
    for (size_t r = 0; r < m->p.table->nrow; r++) {
        int at = pl_planned_level(&m->p, r, factor);

        m->mu[r] += at == (int)high ? D / 2 : at == (int)low ? -D / 2 : 0;
    }
}

/* Four cells whose difference of differences is D. */
static void add_meeting(sim *m, size_t one, size_t other, double D)
{
    for (size_t r = 0; r < m->p.table->nrow; r++) {
        int x = pl_planned_level(&m->p, r, one), y = pl_planned_level(&m->p, r, other);

        if (x < 2 && y < 2)
            m->mu[r] += x == y ? D / 4 : -D / 4;
    }
}

/* From -1 at the lowest to 1 at the highest level. */
static double coded(const sim *m, size_t row, size_t factor)
{
    const pl_factor *f = &m->p.s->factors[factor];
    double low = INFINITY, high = -INFINITY;

    for (size_t l = 0; l < f->nlevel; l++) {
        low = fmin(low, f->levels[l].si);
        high = fmax(high, f->levels[l].si);
    }
    return (2 * f->levels[pl_planned_level(&m->p, row, factor)].si - low - high) / (high - low);
}

/* D from the lowest to the highest level. */
static void add_line(sim *m, size_t factor, double D)
{
    for (size_t r = 0; r < m->p.table->nrow; r++)
        m->mu[r] += D / 2 * coded(m, r, factor);
}

/* D from the middle of the line between its ends. */
static void add_bend(sim *m, size_t factor, double D)
{
    for (size_t r = 0; r < m->p.table->nrow; r++)
        m->mu[r] += D * pow(coded(m, r, factor), 2);
}

/* A slope that changes by D, end to end, along the other factor. */
static void add_twist(sim *m, size_t one, size_t other, double D)
{
    for (size_t r = 0; r < m->p.table->nrow; r++)
        m->mu[r] += D / 4 * coded(m, r, one) * coded(m, r, other);
}

/* Does the fit follow it by slopes? */
static bool sloped(const sim *m, const char *name)
{
    for (size_t i = 0; i < m->p.spec.ncovariate; i++)
        if (!strcmp(m->p.spec.covariates[i], name))
            return true;
    return false;
}

static size_t factor_named(const sim *m, const char *name)
{
    for (size_t f = 0; f < m->p.s->nfactor; f++)
        if (!strcmp(m->p.s->factors[f].name, name))
            return f;
    fail_msg("no factor \"%s\"", name);
    return 0;
}

/* ---- contrasts ---- */

static size_t add_contrast(sim *m, const char *factor, const char **levels, double *weights,
                           size_t n)
{
    pl_linear_spec *spec = &m->p.spec;
    pl_linear_contrast *list = PL_NEWN(m->b->a, spec->ncontrast + 1, pl_linear_contrast);

    for (size_t i = 0; i < spec->ncontrast; i++)
        list[i] = spec->contrasts[i];
    list[spec->ncontrast] = (pl_linear_contrast){ factor, levels, weights, n };
    spec->contrasts = list;
    return spec->ncontrast++;
}

static size_t pair_contrast(sim *m, size_t factor, unsigned one, unsigned other)
{
    const pl_factor *f = &m->p.s->factors[factor];
    const char **levels = PL_NEWN(m->b->a, 2, const char *);
    double *weights = PL_NEWN(m->b->a, 2, double);

    levels[0] = f->levels[one].text;
    levels[1] = f->levels[other].text;
    weights[0] = 1;
    weights[1] = -1;
    return add_contrast(m, f->name, levels, weights, 2);
}

static size_t line_contrast(sim *m, size_t factor)
{
    const pl_factor *f = &m->p.s->factors[factor];
    const char **levels = PL_NEWN(m->b->a, f->nlevel, const char *);
    double *weights = PL_NEWN(m->b->a, f->nlevel, double), mean = 0;

    for (size_t l = 0; l < f->nlevel; l++)
        mean += f->levels[l].si / (double)f->nlevel;
    for (size_t l = 0; l < f->nlevel; l++) {
        levels[l] = f->levels[l].text;
        weights[l] = f->levels[l].si - mean;
    }
    return add_contrast(m, f->name, levels, weights, f->nlevel);
}

/* ---- one experiment ---- */

static double sd_of(const sim *m, pl_stream *r)
{
    double sum = 0;

    if (!(m->pilot_df > 0))
        return m->sd;
    for (int i = 0; i < (int)m->pilot_df; i++) {
        double z = pl_stream_normal(r);

        sum += z * z;
    }
    return m->sd * sqrt(m->pilot_df / sum);
}

/* One normal deviate for each block of a kind, drawn when it is first met. */
typedef struct blocks {
    double *of;
    bool *known;
} blocks;

static blocks blocks_new(bench *b, size_t n)
{
    return (blocks){ PL_NEWN(b->a, n + 1, double), PL_NEWN(b->a, n + 1, bool) };
}

static double in_block(blocks *k, size_t at, double sd, pl_stream *r)
{
    if (!k->known[at]) {
        k->of[at] = sd * pl_stream_normal(r);
        k->known[at] = true;
    }
    return k->of[at];
}

static void draw(const sim *m, uint64_t number)
{
    const pl_plan *plan = m->p.plan;
    bench *b = m->b;
    blocks boards = blocks_new(b, plan->nboard), sessions = blocks_new(b, plan->nsession),
           glue_ups = blocks_new(b, plan->nglue_up), stretches[PL_LAYERS_MOST];
    pl_stream r;
    double sd;

    pl_stream_init(&r, 5, PL_FOR_TEST, number);
    sd = sd_of(m, &r);
    for (unsigned l = 0; l < PL_LAYERS_MOST; l++)
        stretches[l] = blocks_new(b, plan->nglue_up);
    for (size_t i = 0; i < m->p.table->nrow; i++) {
        size_t at = m->p.glue_up[i];
        const pl_glue_up *g = &plan->glue_ups[at];
        double y = m->mu[i] + in_block(&glue_ups, at, sd, &r);

        if (g->board >= 0)
            y += in_block(&boards, (size_t)g->board, m->board, &r);
        y += in_block(&sessions, g->session, m->session, &r);
        for (unsigned l = 0; l < PL_LAYERS_MOST; l++)
            if (g->stretch[l])
                y += in_block(&stretches[l], g->stretch[l], m->stretch[l], &r);
        m->p.y[i] = y + (m->within > 0 ? m->within * pl_stream_normal(&r) : 0);
    }
}

static const pl_effect *effect_named(const pl_linear_fit *f, const char *name)
{
    for (size_t i = 0; i < f->neffect; i++)
        if (f->effects[i].kind == PL_SS_AFTER_ALL_OTHERS && !strcmp(f->effects[i].name, name))
            return &f->effects[i];
    fail_msg("no effect \"%s\"", name);
    return NULL;
}

/* Levels 0 and 1 are the two that lie apart; of a ladder 0 is tried against 1, the named one. */
static bool compared(const sim *m, const counter *c, pl_linear_fit *f)
{
    const pl_factor *x = &m->p.s->factors[factor_named(m, c->effect)];
    pl_compare ask = { .factor = c->effect,
                       .kind = c->kind,
                       .named = x->levels[1].text,
                       .margin = c->margin,
                       .alpha = m->q.false_alarm };
    pl_diags d;

    pl_diags_init(&d, m->b->a);
    f->ncomparison = 0;
    assert_ok(m->b, pl_compare_levels(m->b->a, f, &ask, &d));
    for (size_t i = 0; i < f->ncomparison; i++) {
        const pl_comparison *k = &f->comparisons[i];

        if ((!strcmp(k->level, x->levels[0].text) && !strcmp(k->against, x->levels[1].text)) ||
            (!strcmp(k->level, x->levels[1].text) && !strcmp(k->against, x->levels[0].text)))
            return k->shown;
    }
    fail_msg("no comparison of the first two levels of \"%s\"", c->effect);
    return false;
}

/* Two one-sided tests of a difference. */
static bool both_sides(const sim *m, const counter *c, const pl_contrast *k)
{
    double t = pl_t_quantile(1 - m->q.false_alarm, k->df);

    return k->estimate - t * k->se > -c->margin && k->estimate + t * k->se < c->margin;
}

static bool noticed(const sim *m, const counter *c, pl_linear_fit *f)
{
    switch (c->way) {
    case BY_EFFECT:
        return effect_named(f, c->effect)->p < m->q.false_alarm;
    case BY_CONTRAST:
        return f->contrasts[c->contrast].p < m->q.false_alarm;
    case BY_BOTH_SIDES:
        return both_sides(m, c, &f->contrasts[c->contrast]);
    default:
        return compared(m, c, f);
    }
}

/* The same question with readings, arena and findings of its own, for one thread. */
static sim apart_from(const sim *m)
{
    sim own = *m;
    bench *b = calloc(1, sizeof *b);
    pl_table *t;
    pl_column *columns;

    b->a = pl_arena_new(0);
    pl_diags_init(&b->d, b->a);
    own.b = b;
    own.p.y = PL_NEWN(b->a, m->p.table->nrow, double);
    t = PL_NEW(b->a, pl_table);
    columns = PL_NEWN(b->a, m->p.table->ncol, pl_column);
    *t = *m->p.table;
    for (size_t i = 0; i < t->ncol; i++) {
        columns[i] = m->p.table->columns[i];
        if (columns[i].number == m->p.y)
            columns[i].number = own.p.y;
    }
    t->columns = columns;
    own.p.table = t;
    return own;
}

/* Experiments from, from + step, ... below `to`, counted. False: one was not fitted. */
static bool experiments(const sim *m, size_t from, size_t step, size_t to, size_t *seen)
{
    sim own = apart_from(m);
    bool fine = true;

    for (size_t i = from; i < to && fine; i += step) {
        pl_mark mark = pl_arena_mark(own.b->a);
        pl_linear_fit f = { 0 };
        pl_diags d;

        pl_diags_init(&d, own.b->a);
        draw(&own, i);
        fine = !pl_fit_linear(own.b->a, own.p.table, &own.p.spec, &f, &d);
        for (size_t k = 0; k < m->ncounter && fine; k++)
            seen[k] += noticed(&own, &m->counters[k], &f);
        pl_arena_reset(own.b->a, mark);
    }
    pl_arena_free(own.b->a);
    free(own.b);
    return fine;
}

static void simulate(sim *m, const char *what)
{
    const size_t draws = getenv("PLATEN_LONG") ? LONG : SHORT;
    size_t seen[THREADS][COUNTERS_MOST] = { { 0 } };
    bool wrong = false, fine[THREADS];

#pragma omp parallel for
    for (size_t t = 0; t < THREADS; t++)
        fine[t] = experiments(m, t, THREADS, draws, seen[t]);
    for (size_t t = 0; t < THREADS; t++) {
        assert_true(fine[t]);
        for (size_t k = 0; k < m->ncounter; k++)
            m->counters[k].seen += seen[t][k];
    }
    for (size_t k = 0; k < m->ncounter; k++) {
        const counter *c = &m->counters[k];
        double share = (double)c->seen / (double)draws;
        double error = sqrt(c->exact * (1 - c->exact) / (double)draws);

        print_message("| %s | %s | %.2f %% | %.2f %% | %+.1f |\n", what, c->name, 100 * c->exact,
                      100 * share, (share - c->exact) / error);
        wrong = wrong || !(fabs(share - c->exact) <= 4 * error);
    }
    if (wrong)
        fail_msg("%s: a share is over 4 Monte Carlo errors off its chance", what);
}

/* ---- what is asked of a design ---- */

/* Levels of the only factor: all, two, one of a family, and (numbers) the line. */
static void levels_of(bench *b, sim *m)
{
    const pl_size_answer *w = NULL;
    const char *factor = m->p.s->factors[0].name;
    counter *c;

    m->q.glue_ups_per_level = m->n;
    assert_ok(b, pl_size_find(b->a, &m->q, &w, &b->d));
    add_apart(m, 0, 0, 1, m->q.worth_noticing);
    for (size_t i = 0; i < w->nrow; i++)
        if (w->table[i].glue_ups_per_level == m->n) {
            c = add_counter(m, "all levels", BY_EFFECT,
                            w->table[i].chance[PL_SIZE_OVERALL][PL_SIZE_AS_GIVEN]);
            c->effect = factor;
            c = add_counter(m, "two named levels", BY_CONTRAST,
                            w->table[i].chance[PL_SIZE_PAIR][PL_SIZE_AS_GIVEN]);
            c->contrast = pair_contrast(m, 0, 0, 1);
        }
    if (m->q.levels < 3)
        return;
    c = add_counter(m, "the same two, every pair", BY_FAMILY,
                    pl_size_family_chance(&m->q, PL_SIZE_ALL_PAIRS, m->n));
    c->effect = factor;
    c->kind = PL_EVERY_PAIR;
    c = add_counter(m, "the same two, each against one", BY_FAMILY,
                    pl_size_family_chance(&m->q, PL_SIZE_AGAINST_ONE, m->n));
    c->effect = factor;
    c->kind = PL_AGAINST_NAMED;
}

/* One effect's means; what the fit calls it. */
static const char *add_effect(bench *b, sim *m, const pl_size_effect *e, double D)
{
    char *meets = strstr(e->name, " with ");
    const char *first = meets ? pl_arena_strn(b->a, e->name, (size_t)(meets - e->name)) : e->name;
    size_t one = factor_named(m, first);

    if (meets) {
        const char *both = pl_arena_printf(b->a, "%s, %s", first, meets + 6);

        if (sloped(m, both))
            add_twist(m, one, factor_named(m, meets + 6), D);
        else
            add_meeting(m, one, factor_named(m, meets + 6), D);
        return both;
    }
    if (e->kind == PL_SIZE_BEND) {
        add_bend(m, one, D);
        return pl_arena_printf(b->a, "bend of %s", first);
    }
    if (e->kind == PL_SIZE_TREND)
        add_line(m, one, D);
    else if (e->df1 > 0)
        add_apart(m, one, e->hardest[0], e->hardest[1], D);
    else
        add_apart(m, one, 0, 1, D);
    return first;
}

/* Every effect but lines along levels: these are contrasts. */
static void effects_of(bench *b, sim *m)
{
    static const char *const kinds[] = { "", "slope of ", "", "bend of " };

    for (size_t i = 0; i < m->q.neffect; i++) {
        const pl_size_effect *e = &m->q.effects[i];
        double exact = pl_size_effect_at(&m->q, e, m->n).power;

        if (isnan(exact) || (e->kind == PL_SIZE_TREND && !sloped(m, e->name)))
            continue;
        add_counter(m, pl_arena_printf(b->a, "%s%s", kinds[e->kind], e->name), BY_EFFECT, exact)
            ->effect = add_effect(b, m, e, m->q.worth_noticing);
    }
}

static void lines_of(sim *m)
{
    for (size_t i = 0; i < m->q.neffect; i++) {
        const pl_size_effect *e = &m->q.effects[i];

        if (e->kind != PL_SIZE_TREND || sloped(m, e->name))
            continue;
        add_line(m, factor_named(m, e->name), m->q.worth_noticing);
        add_counter(m, pl_arena_printf(m->b->a, "line along %s", e->name), BY_CONTRAST,
                    pl_size_effect_at(&m->q, e, m->n).power)
            ->contrast = line_contrast(m, factor_named(m, e->name));
    }
}

/* ---- designs ---- */

#define JOINT "\"joint\": {\"kind\": \"lap\", \"width\": \"40 mm\", \"overlap\": \"30 mm\""
#define ASKED(worth) "\"question\": {\"aim\": \"difference\", \"worth_noticing\": \"" worth "\"}"

static const char *one_way = "{\"study\": \"one-way\", " ASKED(
    "18 %") ", \"factors\": [{\"name\": "
            "\"surface\", \"levels\": [\"planed\", \"sanded\", \"sawn\", "
            "\"scraped\"]}], " JOINT "}, \"arrangement\": {\"kind\": "
            "\"full-factorial\"}, \"scatter\": {\"cv\": \"12 %\"}}";

static void test_one_way(void **state)
{
    sim m;

    open_sim(*state, &m, "one-way", one_way, 8);
    levels_of(*state, &m);
    simulate(&m, "four levels of 8, no blocks");
}

static void test_blocks(void **state)
{
    static const struct {
        const char *design;
        unsigned n;
        const char *words;
    } list[] = { { "one-wood", 5, "complete blocks" },
                 { "strength-difference", 8, "boards of three" },
                 { "eight-surfaces", 7, "incomplete blocks, balanced" },
                 { "seven-spreads", 4, "rows and columns" },
                 { "five-glues", 5, "a Latin square of five" } };

    for (size_t i = 0; i < sizeof list / sizeof *list; i++) {
        sim m;

        open_sim(*state, &m, list[i].design, NULL, list[i].n);
        levels_of(*state, &m);
        simulate(&m, list[i].words);
    }
}

static void test_effects(void **state)
{
    static const struct {
        const char *design;
        unsigned n;
        const char *words;
    } list[] = { { "stair-lap", 6, "two woods on boards, six pressures" },
                 { "glues-and-pads", 1, "a Graeco-Latin square" },
                 { "six-suspects", 1, "a fraction of 16" },
                 { "nine-suspects", 2, "a screening of 12, twice" },
                 { "warm-and-cold", 3, "a split plot on boards" },
                 { "three-dials", 1, "a central composite design" },
                 { "three-dials-in-blocks", 1, "the same in orthogonal blocks" },
                 { "four-dials", 1, "a Box-Behnken design" },
                 { "three-glues", 1, "an optimal design" } };

    for (size_t i = 0; i < sizeof list / sizeof *list; i++) {
        sim m, line;

        open_sim(*state, &m, list[i].design, NULL, list[i].n);
        effects_of(*state, &m);
        simulate(&m, list[i].words);
        open_sim(*state, &line, list[i].design, NULL, list[i].n);
        lines_of(&line);
        if (line.ncounter)
            simulate(&line, list[i].words);
    }
}

static const char *hard(bench *b, const char *scatter)
{
    return pl_arena_printf(
        b->a,
        "{\"study\": \"stretches\", " ASKED(
            "20 %%") ", \"factors\": [{\"name\": \"room\", "
                     "\"levels\": [\"cold\", \"warm\"], \"hard_to_change\": \"%s\"}, {\"name\": "
                     "\"paste\", "
                     "\"levels\": [\"old\", \"new\", \"thinned\"]%s}, {\"name\": \"pads\", "
                     "\"levels\": "
                     "[\"steel\", \"cork\"]}], " JOINT "}, \"scatter\": {\"cv\": \"12 %%\", %s}}",
        strstr(scatter, "stretches") ? "very" : "yes",
        strstr(scatter, "stretches") ? ", \"hard_to_change\": \"yes\"" : "", scatter);
}

static void all_effects(bench *b, const char *text, unsigned n, size_t effects, const char *what)
{
    sim m;

    open_sim(b, &m, what, text, n);
    effects_of(b, &m);
    assert_int_equal(m.ncounter, effects);
    simulate(&m, what);
}

static void test_strata(void **state)
{
    bench *b = *state;

    all_effects(b, hard(b, "\"between_sessions\": \"6 %\""), 6, 6, "whole plots and sub-plots");
    all_effects(b, hard(b, "\"between_sessions\": \"6 %\", \"between_stretches\": \"5 %\""), 5, 6,
                "stretches within stretches");
    all_effects(
        b,
        "{\"study\": \"woods\", " ASKED(
            "20 %") ", \"factors\": [{\"name\": \"wood\", "
                    "\"levels\": [\"beech\", \"larch\"], \"comes_with\": \"board\"}, {\"name\": "
                    "\"pads\", \"levels\": [\"steel\", \"cork\", \"rubber\"]}], " JOINT
                    "}, \"boards\": "
                    "[{\"species\": \"beech\", \"count\": 6, \"specimens\": 3}, {\"species\": "
                    "\"larch\", \"count\": 6, \"specimens\": 3}], \"scatter\": {\"cv\": \"12 %\", "
                    "\"between_boards\": \"8 %\"}}",
        6, 3, "woods on boards of their own");
}

/* Boards that hold every combination of three factors: what three do together counts as scatter,
 * and the two surfaces differ within boards. */
static void test_shared_boards(void **state)
{
    all_effects(*state,
                "{\"study\": \"shared\", \"question\": {\"aim\": \"difference\", "
                "\"worth_noticing\": \"30 %\", "
                "\"over\": \"pressure\"}, \"factors\": [{\"name\": \"pressure\", \"levels\": "
                "[\"0.2 N/mm2\", "
                "\"0.4 N/mm2\", \"0.8 N/mm2\"]}, {\"name\": \"surface\", \"levels\": [\"planed\", "
                "\"sanded\"]}, "
                "{\"name\": \"pads\", \"levels\": [\"steel\", \"cork\"]}], " JOINT
                "}, \"boards\": [{\"species\": "
                "\"beech\", \"count\": 2, \"specimens\": 12}], \"scatter\": {\"cv\": \"12 %\"}}",
                2, 6, "three factors on two boards");
}

/* Three specimens of every glue-up; four pressures at constant ratio. */
static void test_subsamples(void **state)
{
    const char *text = "{\"study\": \"cut-later\", " ASKED(
        "18 %") ", \"factors\": [{\"name\": \"pressure\", \"levels\": [\"0.2 N/mm2\", \"0.4 "
                "N/mm2\", \"0.8 N/mm2\", \"1.6 N/mm2\"]}], " JOINT
                ", \"specimens_per_glue_up\": 3}, \"arrangement\": {\"kind\": \"full-factorial\"}, "
                "\"scatter\": {\"between_glue_ups\": \"9 %\", \"within\": \"11 %\"}}";
    sim m, line;

    open_sim(*state, &m, "cut-later", text, 7);
    levels_of(*state, &m);
    simulate(&m, "three specimens a glue-up");
    open_sim(*state, &line, "cut-later", text, 4);
    lines_of(&line);
    simulate(&line, "three specimens a glue-up");
}

static const pl_size_row *row_at(bench *b, sim *m)
{
    const pl_size_answer *w = NULL;

    m->q.glue_ups_per_level = m->n;
    assert_ok(b, pl_size_find(b->a, &m->q, &w, &b->d));
    for (size_t i = 0; i < w->nrow; i++)
        if (w->table[i].glue_ups_per_level == m->n)
            return &w->table[i];
    fail_msg("no row of %u", m->n);
    return NULL;
}

/* The level of the first row is to hold 90 % of the second's, and truly holds 98 %. */
static void test_as_good(void **state)
{
    static const char *const text =
        "{\"study\": \"as-good\", \"question\": {\"aim\": \"as-good-as\", \"as_good_as\": \"88 "
        "%\", \"compare_with\": \"sanded\"}, \"factors\": [{\"name\": \"surface\", \"levels\": "
        "[\"planed\", \"sanded\"]}], " JOINT "}, \"arrangement\": {\"kind\": \"full-factorial\"}, "
        "\"scatter\": {\"cv\": \"12 %\"}}";
    bench *b = *state;
    counter *c;
    sim m;

    open_sim(b, &m, "as-good", text, 12);
    m.q.really = 0.98;
    for (size_t r = 0; r < m.p.table->nrow; r++)
        m.mu[r] = pl_planned_level(&m.p, r, 0) ? 1 : 0.98;
    c = add_counter(&m, "as good as the named one", BY_FAMILY,
                    row_at(b, &m)->chance[PL_SIZE_PAIR][PL_SIZE_AS_GIVEN]);
    c->effect = "surface";
    c->kind = PL_AS_GOOD_AS;
    c->margin = 0.12;
    simulate(&m, "two levels of 12");
    open_sim(b, &m, "as-good", text, 20);
    m.q.relative = false; /* a margin in strength, of a strength of 1 */
    m.q.both_sides = true;
    m.q.margin = 0.12;
    m.q.really = 0.02;
    for (size_t r = 0; r < m.p.table->nrow; r++)
        m.mu[r] = pl_planned_level(&m.p, r, 0) ? 1 : 1.02;
    c = add_counter(&m, "neither worse nor better", BY_BOTH_SIDES,
                    row_at(b, &m)->chance[PL_SIZE_PAIR][PL_SIZE_AS_GIVEN]);
    c->contrast = pair_contrast(&m, 0, 0, 1);
    c->margin = 0.12;
    simulate(&m, "two levels of 20");
}

/* The scatter drawn anew for every experiment from what a pilot of 8 leaves open. */
static void test_assurance(void **state)
{
    bench *b = *state;
    const pl_size_row *row;
    counter *c;
    sim m;

    open_sim(b, &m, "one-way", one_way, 8);
    m.q.from = PL_SCATTER_PILOT;
    m.q.sd_df = m.pilot_df = 7;
    row = row_at(b, &m);
    add_apart(&m, 0, 0, 1, m.q.worth_noticing);
    c = add_counter(&m, "all levels", BY_EFFECT, row->chance[PL_SIZE_OVERALL][PL_SIZE_ASSURED]);
    c->effect = "surface";
    c = add_counter(&m, "two named levels", BY_CONTRAST,
                    row->chance[PL_SIZE_PAIR][PL_SIZE_ASSURED]);
    c->contrast = pair_contrast(&m, 0, 0, 1);
    simulate(&m, "scatter from a pilot of 8");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_one_way),       TEST(test_blocks),     TEST(test_effects), TEST(test_strata),
        TEST(test_shared_boards), TEST(test_subsamples), TEST(test_as_good), TEST(test_assurance),
    };

    gsl_set_error_handler_off();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
