/* An answer about numbers as JSON, words and a table. The words are size's. */
#include <limits.h>
#include <math.h>

#include "base/tolerance.h"
#include "cli/picture.h"
#include "cli/size_ask.h"
#include "page/grid.h"
#include "report/picture_size.h"
#include "size/costs.h"
#include "size/low_tail.h"

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
    pl_jadd_number(o, "width", r->width);
    pl_jadd_number(o, "width_chance", r->width_chance[PL_SIZE_AS_GIVEN]);
    pl_jadd_number(o, "width_chance_at_upper", r->width_chance[PL_SIZE_AT_UPPER]);
    pl_jadd_number(o, "factor", r->factor);
    pl_jadd_number(o, "mc_se", r->mc_se);
}

static void add_answer(pl_run *run, const pl_size_question *q, const pl_size_answer *s)
{
    pl_jval *list, *o;

    pl_jadd_text(run->answer, "aim", pl_aim_name(q->aim));
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

/* Ranks whose value is such a limit whatever the form, and Weibull's number. */
static pl_code add_low_tail(pl_run *run, const pl_size_question *q, pl_text *words)
{
    pl_jval *list = pl_jadd_array(run->answer, "by_rank"), *o;
    pl_low_tail_weibull_answer w;
    pl_code rc = pl_low_tail_weibull(run->arena, q, &w, &run->diags);

    if (rc)
        return rc;
    for (unsigned rank = 1; rank <= 3; rank++) {
        unsigned n = pl_order_least(rank, q->percentile, q->confidence);

        o = pl_jadd_object(list, NULL);
        pl_jadd_whole(o, "rank", rank);
        pl_jadd_whole(o, "need", n);
        pl_jadd_number(o, "confidence", pl_order_confidence(n, rank, q->percentile));
    }
    if (isnan(w.chance)) {
        pl_jadd_null(run->answer, "weibull");
        return PL_OK;
    }
    o = pl_jadd_object(run->answer, "weibull");
    if (w.need)
        pl_jadd_whole(o, "need", w.need);
    else
        pl_jadd_null(o, "need");
    pl_jadd_number(o, "shape", w.shape);
    pl_jadd_number(o, "power", w.chance);
    pl_jadd_number(o, "mc_se", w.mc_se);
    if (w.need)
        pl_text_add(words,
                    "If joints break like chains, at the weakest of many links, it takes %u.\n",
                    w.need);
    else
        pl_text_put(words, "If joints break like chains, at the weakest of many links, no number "
                           "up to 200 does.\n");
    return PL_OK;
}

/* The headings that fit the aim. */
static const char *chance_heading(const pl_size_question *q)
{
    return q->aim == PL_AIM_AS_GOOD_AS ? "chance of showing it"
           : q->aim == PL_AIM_LOW_TAIL
               ? isnan(q->worth_noticing) ? "weakest is a limit" : "chance of coming so near"
               : "chance of noticing";
}

static double tried_at(const pl_size_tried *tried, unsigned n, pl_size_test t)
{
    for (size_t i = 0; i < tried->answer->nrow; i++)
        if (tried->answer->rows[i].glue_ups_per_level == n)
            return pl_drawn_chance(&tried->answer->rows[i], t);
    return NAN;
}

static pl_code say_table(pl_run *run, const pl_size_question *q, const pl_size_answer *s,
                         const pl_size_tried *tried)
{
    pl_grid *g = pl_grid_new(run->arena);
    bool chances = isnan(q->width_at_most) || !isnan(q->worth_noticing) ||
                   q->aim == PL_AIM_AS_GOOD_AS;
    bool pairs = q->aim == PL_AIM_DIFFERENCE && chances, tail = q->aim == PL_AIM_LOW_TAIL;
    bool upper = !isnan(s->sd_upper), width = !isnan(q->width_at_most);
    const char *text;

    pl_grid_column(
        g, PL_SIDE_RIGHT,
        pl_size_replicate(q) > q->levels ? "glue-ups per treatment" : "glue-ups per level", NULL);
    pl_grid_column(g, PL_SIDE_RIGHT, "joints in all", NULL);
    if (chances)
        pl_grid_column(g, PL_SIDE_RIGHT, chance_heading(q), "%");
    if (chances && upper)
        pl_grid_column(g, PL_SIDE_RIGHT, "if scatter is at its upper limit", "%");
    if (pairs)
        pl_grid_column(g, PL_SIDE_RIGHT, "two named levels", "%");
    if (tried)
        pl_grid_column(g, PL_SIDE_RIGHT, "chance of noticing, on drawn joints", "%");
    if (tried)
        pl_grid_column(g, PL_SIDE_RIGHT, "two named levels, on drawn joints", "%");
    if (width)
        pl_grid_column(g, PL_SIDE_RIGHT, "chance of limits so near", "%");
    if (width && upper)
        pl_grid_column(g, PL_SIDE_RIGHT, "that, scatter at its upper limit", "%");
    if (tail)
        pl_grid_column(g, PL_SIDE_RIGHT, "mean less so many scatters", NULL);
    for (size_t i = 0; i < s->nrow; i++) {
        const pl_size_row *r = &s->table[i];

        pl_grid_cellf(g, "%u", r->glue_ups_per_level);
        pl_grid_cellf(g, "%zu", r->specimens);
        if (chances)
            pl_grid_number(g, 100 * r->chance[PL_SIZE_OVERALL][PL_SIZE_AS_GIVEN], 3);
        if (chances && upper)
            pl_grid_number(g, 100 * r->chance[PL_SIZE_OVERALL][PL_SIZE_AT_UPPER], 3);
        if (pairs)
            pl_grid_number(g, 100 * r->chance[PL_SIZE_PAIR][PL_SIZE_AS_GIVEN], 3);
        for (int t = 0; tried && t < PL_NSIZE_TESTS; t++)
            pl_grid_number(g, 100 * tried_at(tried, r->glue_ups_per_level, (pl_size_test)t), 3);
        if (width)
            pl_grid_number(g, 100 * r->width_chance[PL_SIZE_AS_GIVEN], 3);
        if (width && upper)
            pl_grid_number(g, 100 * r->width_chance[PL_SIZE_AT_UPPER], 3);
        if (tail)
            pl_grid_number(g, r->factor, 4);
    }
    text = pl_grid_text(run->arena, g, 80);
    if (!text)
        return pl_nomem(&run->diags);
    pl_text_add(&run->text, "\nDetails\n%s", text);
    return PL_OK;
}

/* The short formula of the standard where it is the standard's own case. */
static void say_standard(pl_run *run, const pl_size_question *q, const pl_size_answer *s)
{
    unsigned n = s->limits.glue_ups_per_level;
    bool en = fabs(q->percentile - 0.05) < 1e-12 && fabs(q->confidence - 0.75) < 1e-12;
    double content = 1 - q->percentile, basis = pl_tolerance_basis(n, content);

    if (q->aim != PL_AIM_LOW_TAIL || n < 2)
        return;
    pl_text_add(
        &run->text, "k for %u by noncentral t: %s; by Natrella's formula %s", n,
        pl_text_number(run->arena, pl_tolerance_lower(n, n - 1.0, content, q->confidence), 5),
        pl_text_number(run->arena, pl_tolerance_natrella(n, content, q->confidence), 5));
    if (en)
        pl_text_add(&run->text, "; by the formula of EN 14358 %s",
                    pl_text_number(run->arena, pl_tolerance_en14358(n), 5));
    if (!isnan(basis) && fabs(q->confidence - 0.95) < 1e-12)
        pl_text_add(&run->text, "; by the composites handbook's %s",
                    pl_text_number(run->arena, basis, 5));
    pl_text_put(&run->text, ".\n");
}

static void add_effects(pl_run *run, const pl_size_question *q, unsigned n)
{
    static const char *const kinds[] = { "main", "trend", "meeting", "bend" };
    pl_jval *list = pl_jadd_array(run->answer, "effects");

    for (size_t i = 0; i < q->neffect; i++) {
        const pl_size_effect *e = &q->effects[i];
        pl_size_effect_row r = pl_size_effect_at(q, e, n);
        pl_jval *o = pl_jadd_object(list, NULL);

        pl_jadd_text(o, "effect", e->name);
        pl_jadd_text(o, "kind", kinds[e->kind]);
        pl_jadd_text(o, "judged_between",
                     e->outer   ? "outer-blocks"
                     : e->whole ? "blocks"
                                : "glue-ups");
        pl_jadd_number(o, "effect_df", r.df1);
        pl_jadd_number(o, "error_df", r.df2);
        pl_jadd_number(o, "sd", r.sd);
        if (r.need)
            pl_jadd_whole(o, "need", r.need);
        else
            pl_jadd_null(o, "need");
        pl_jadd_whole(o, "glue_ups_per_level", n);
        pl_jadd_number(o, "power", r.power);
    }
}

/* What more specimens from each glue-up buy; 0 stands for as many as one likes. */
static void add_specimens(pl_run *run, const pl_size_question *q)
{
    static const unsigned m[] = { 1, 2, 3, 5, 10, 0 };
    pl_jval *list = pl_jadd_array(run->answer, "more_specimens");

    for (size_t i = 0; i < 6 && !isnan(q->within) && !isnan(q->between_glue_ups); i++) {
        pl_jval *o = pl_jadd_object(list, NULL);
        unsigned need = pl_size_need_with(run->arena, q, m[i], &run->diags);

        if (m[i])
            pl_jadd_whole(o, "specimens_per_glue_up", m[i]);
        else
            pl_jadd_null(o, "specimens_per_glue_up");
        if (need)
            pl_jadd_whole(o, "need", need);
        else
            pl_jadd_null(o, "need");
    }
}

static pl_code add_costs(pl_run *run, const pl_study *s, const pl_size_question *q, unsigned n)
{
    pl_size_trade *trades = PL_NEWN(run->arena, q->levels, pl_size_trade);
    unsigned most = pl_size_within_budget(s);
    pl_size_costs c;
    pl_jval *list, *o;
    size_t count;

    if (!trades)
        return pl_nomem(&run->diags);
    pl_size_cost(s, n, &c);
    o = pl_jadd_object(run->answer, "costs");
    pl_jadd_whole(o, "glue_ups_per_level", n);
    pl_jadd_whole(o, "glue_ups", (long long)c.glue_ups);
    pl_jadd_whole(o, "specimens", (long long)c.specimens);
    if (c.boards)
        pl_jadd_whole(o, "boards", (long long)c.boards);
    else
        pl_jadd_null(o, "boards");
    pl_jadd_number(o, "press_time", c.press_s);
    pl_jadd_number(o, "days", c.days);
    pl_jadd_number(o, "money", c.money);
    pl_jadd_text(o, "currency", s->budget.currency);
    pl_jadd_bool(o, "over_budget", c.over);
    if (most == UINT_MAX)
        pl_jadd_null(o, "within_budget");
    else
        pl_jadd_whole(o, "within_budget", most);
    list = pl_jadd_array(o, "fewer_levels");
    pl_size_trades(q, most < n ? most : n, trades, &count);
    for (size_t i = 0; i < count; i++) {
        pl_jval *t = pl_jadd_object(list, NULL);

        pl_jadd_whole(t, "levels", trades[i].levels);
        pl_jadd_whole(t, "glue_ups_per_level", trades[i].glue_ups_per_level);
        pl_jadd_number(t, "power", trades[i].chance[PL_SIZE_OVERALL]);
        pl_jadd_number(t, "power_named_levels", trades[i].chance[PL_SIZE_PAIR]);
    }
    return PL_OK;
}

/* The number that costs are for: what is asked about, or advised, or the most looked at. */
static unsigned number_of(const pl_size_question *q, const pl_size_answer *w)
{
    return q->glue_ups_per_level ? q->glue_ups_per_level
           : w->advised          ? w->advised->glue_ups_per_level
                                 : w->limits.glue_ups_per_level;
}

/* All that stands beside the table. */
static pl_code add_beside(pl_run *run, const pl_study *s, const pl_size_question *q,
                          const pl_size_answer *w, pl_text *words)
{
    unsigned n = w->limits.glue_ups_per_level, most = s ? pl_size_within_budget(s) : q->cap;
    pl_arena *a = run->arena;
    pl_code rc = PL_OK;

    pl_text_put(words, pl_size_pilot_words(a, q, w, most, &run->diags));
    if (q->aim == PL_AIM_DIFFERENCE && !isnan(q->worth_noticing)) {
        add_families(run, q, n);
        add_effects(run, q, n);
        pl_text_put(words, pl_size_family_words(a, q));
        pl_text_put(words, pl_size_effect_words(a, q, n));
    }
    if (q->aim == PL_AIM_LOW_TAIL)
        return add_low_tail(run, q, words);
    add_specimens(run, q);
    pl_text_put(words, pl_size_specimen_words(a, q, &run->diags));
    if (!s)
        return rc;
    pl_text_put(words, pl_size_cost_words(a, s, q, number_of(q, w)));
    return add_costs(run, s, q, number_of(q, w));
}

static pl_code draw(pl_run *run, const pl_size_question *q, const pl_size_answer *answer)
{
    const pl_plot *plot = NULL;
    pl_code rc = pl_picture_size(run->arena, q, answer, &plot, &run->diags);

    return rc || !plot ? rc : pl_picture_put(run, plot, NULL, 20);
}

pl_code pl_size_say(pl_run *run, const pl_study *s, const pl_size_question *q,
                    const pl_size_answer *answer, const pl_size_tried *tried)
{
    pl_text words;
    const char *said;
    pl_code rc;

    pl_text_init(&words, run->arena);
    add_answer(run, q, answer);
    pl_text_put(&words, pl_size_words(run->arena, q, answer));
    rc = add_beside(run, s, q, answer, &words);
    if (tried) {
        pl_size_add_tried(run, tried);
        pl_text_put(&words, pl_size_drawn_words(run->arena, &tried->q, answer, tried->answer));
    }
    said = pl_text_done(&words);
    if (rc || !said)
        return rc ? rc : pl_nomem(&run->diags);
    pl_jadd_text(run->answer, "words", said);
    pl_text_put(&run->text, said);
    if (pl_picture_asked(run))
        rc = draw(run, q, answer);
    if (!rc)
        rc = say_table(run, q, answer, tried);
    say_standard(run, q, answer);
    return rc;
}
