/* What a linear model says, in shop words. Statistics terms are linear_details.c's. */
#include <ctype.h>
#include <math.h>
#include <string.h>

#include "report/say.h"

/* "copper 70.2, iron 75.9 and nickel 71.1"; "5.81 at 0.5 and 6.5 at 1" where levels
 * are figures themselves. */
static char *level_list(pl_arena *a, const pl_linear_fit *l, const char *factor)
{
    const char **items = PL_NEWN(a, l->nmean, const char *);
    size_t n = 0;
    bool figures = false;

    for (size_t i = 0; items && i < l->nmean; i++)
        if (!strcmp(l->means[i].factor, factor)) {
            const char *name = l->means[i].level;
            const char *mean = pl_text_number(a, l->means[i].estimate, 4);
            bool figure = isdigit((unsigned char)name[strspn(name, "-+.")]);

            figures = figures || (figure && l->unit[0]);
            items[n++] = figure ? pl_arena_printf(a, "%s at %s", mean, name)
                                : pl_arena_printf(a, "%s %s", name, mean);
        }
    return items && n
               ? pl_arena_printf(a, "%s%s", pl_text_list(a, items, n, "and"),
                                 figures ? pl_arena_printf(a, " (%s in %s)", l->response, l->unit)
                                 : l->unit[0] ? pl_arena_printf(a, " %s", l->unit)
                                              : "")
               : "";
}

/* Beyond so rare a chance the count is no news. */
#define RAREST 10000

static void say_chance(pl_arena *a, pl_text *t, double p)
{
    if (p * RAREST < 1)
        pl_text_add(t, "less than 1 time in %d", RAREST);
    else if (p > 0.5)
        pl_text_put(t, "more often than not");
    else
        pl_text_add(t, "about 1 time in %s", pl_text_number(a, 1 / p, 1 / p < 9.5 ? 1 : 2));
}

#define NINETEEN "ranges worked out this way are right nineteen times in twenty"

/* A figure with the response's unit. */
static char *figure(pl_arena *a, const pl_linear_fit *l, double x, int way)
{
    return pl_arena_printf(a, "%s%s%s", pl_say_bare(a, x, 4, way), l->unit[0] ? " " : "", l->unit);
}

static void say_contrast(pl_arena *a, const pl_linear_fit *l, const pl_contrast *c, pl_text *t)
{
    pl_text_add(t, "%s (%s): %s", c->factor, c->name, figure(a, l, c->estimate, 0));
    if (!isnan(c->se))
        pl_text_add(t, ". The true figure lies between %s and %s; %s",
                    pl_say_bare(a, c->low, 4, -1), figure(a, l, c->high, 1), NINETEEN);
    pl_text_put(t, ".\n");
}

/* How far boards and sessions differ from each other. */
static void say_random(pl_arena *a, const pl_linear_fit *l, pl_text *t)
{
    for (size_t i = 0; i + 1 < l->nvariance; i++)
        if (l->variance[i].at_zero)
            pl_text_add(t, "%s: no sign that they differ beyond what joints made alike do.\n",
                        l->variance[i].name);
        else
            pl_text_add(t, "%s: from one to the next the level shifts by about %s.\n",
                        l->variance[i].name, figure(a, l, l->variance[i].sd, 0));
    if (l->nvariance)
        pl_text_add(t, "Joints made alike within them differ by about %s. %s\n",
                    figure(a, l, l->variance[l->nvariance - 1].sd, 0),
                    l->recovered_leads
                        ? "What the blocks tell between them is used too."
                        : "The answer rests on differences within blocks: there are too few of "
                          "them to use what they tell between them; that stands under Details.");
}

/* "nineteen times in twenty" */
static const char *how_sure(pl_arena *a, double sure)
{
    return fabs(sure - 0.95) < 1e-9
               ? "nineteen times in twenty"
               : pl_arena_printf(a, "%s times in 100", pl_text_number(a, 100 * sure, 3));
}

static void say_difference(pl_arena *a, const pl_linear_fit *l, const pl_comparison *c, pl_text *t)
{
    bool more = c->estimate > 0;
    double low = more ? c->low : -c->high, high = more ? c->high : -c->low;

    pl_text_add(t, "%s: %s lies above %s by %s (between %s and %s).\n", c->factor,
                more ? c->level : c->against, more ? c->against : c->level,
                figure(a, l, fabs(c->estimate), 0), pl_say_bare(a, low, 3, -1),
                pl_say_bare(a, high, 3, 1));
}

static void say_best(pl_arena *a, const pl_linear_fit *l, const pl_comparison *c, pl_text *t)
{
    if (c->shown && c->low >= 0)
        pl_text_add(t, "%s: %s is the best.\n", c->factor, c->level);
    else if (c->shown)
        pl_text_add(t, "%s: %s is not the best; it may fall short of it by %s.\n", c->factor,
                    c->level, figure(a, l, -c->low, 1));
    else
        pl_text_add(t, "%s: %s may be the best; if it is not, it falls short by %s at most.\n",
                    c->factor, c->level, figure(a, l, -c->low, 1));
}

static void say_as_good(pl_arena *a, const pl_comparison *c, pl_text *t)
{
    const char *share = pl_text_number(a, 100 * (1 - c->margin), 4);

    if (c->shown)
        pl_text_add(t, "%s: %s holds at least %s %% of what %s holds.\n", c->factor, c->level,
                    share, c->against);
    else if (c->tested)
        pl_text_add(t, "%s: these joints cannot show that %s holds %s %% of what %s holds.\n",
                    c->factor, c->level, share, c->against);
    else
        pl_text_add(t, "%s: %s was not tried any more, as the step before it failed.\n", c->factor,
                    c->level);
}

/* One list: what shows, then what may hide in the rest. */
static void say_comparisons(pl_arena *a, const pl_linear_fit *l, pl_text *t)
{
    size_t rest = 0;
    double hides = 0;

    for (size_t i = 0; i < l->ncomparison; i++) {
        const pl_comparison *c = &l->comparisons[i];

        if (c->kind == PL_AGAINST_BEST) {
            say_best(a, l, c, t);
        } else if (c->kind == PL_AS_GOOD_AS) {
            say_as_good(a, c, t);
        } else if (c->shown) {
            say_difference(a, l, c, t);
        } else {
            rest++;
            hides = fmax(hides, fmax(-c->low, c->high));
        }
    }
    if (rest)
        pl_text_add(t, "%zu %s compared %s no difference; up to %s may hide there.\n", rest,
                    rest == 1 ? "pair" : "pairs", rest == 1 ? "shows" : "show",
                    figure(a, l, hides, 1));
    if (l->ncomparison && l->comparisons[0].kind == PL_AS_GOOD_AS)
        pl_text_add(t, "To call a level as good that is not happens to fewer than %s in 100.\n",
                    pl_text_number(a, 100 * (1 - l->comparisons[0].sure) + 1e-9, 3));
    else if (l->ncomparison)
        pl_text_add(t, "All these ranges hold together %s.\n", how_sure(a, l->comparisons[0].sure));
}

/* What a block's differences are called at the bench. */
static const char *units_of(const char *block)
{
    return !strcmp(block, "stretch")         ? "stretches of glue-ups made alike"
           : !strcmp(block, "inner_stretch") ? "shorter stretches of glue-ups made alike"
           : !strcmp(block, "board")         ? "boards of one kind"
           : !strcmp(block, "session")       ? "sessions with the same"
           : !strcmp(block, "glue_up")       ? "glue-ups made alike"
                                             : block;
}

/* A number that goes along; slopes that a study's own design asks for are effects like others. */
static bool goes_along(const pl_fit_answer *f, const char *name)
{
    bool asked = !f->study, slope = false;

    for (size_t i = 0; f->study && i < f->study->ncovariate; i++)
        asked = asked || !strcmp(f->study->covariates[i], name);
    for (size_t i = 0; i < f->linear->ncoef; i++)
        slope = slope || !strcmp(f->linear->coefs[i].name, name);
    return asked && slope;
}

/* Effects of a linear model, each after all others. */
void pl_linear_words(pl_arena *a, const pl_fit_answer *f, pl_text *t)
{
    const pl_linear_fit *l = f->linear;
    double alarm = f->study ? f->study->question.false_alarm : 0.05;

    if (f->surface)
        pl_surface_words(a, f, t);
    if (f->nzero && !f->nplateau) { /* else each plateau's paragraph has said it */
        pl_say_zeros(f, t);
        pl_text_put(t, "\n");
    }
    for (size_t i = 0; i < l->neffect; i++) {
        const pl_effect *e = &l->effects[i];
        bool together = strstr(e->name, ", "); /* an interaction */
        const char *levels = together ? "" : level_list(a, l, e->name);

        if (e->kind != PL_SS_AFTER_ALL_OTHERS || isnan(e->p))
            continue;
        pl_text_add(t, "%s: ", e->name);
        if (goes_along(f, e->name))
            pl_text_put(t, e->p <= alarm ? "goes along" : "no sign that it goes along");
        else if (together)
            pl_text_put(t, e->p <= alarm ? "the effect of one depends on the other"
                                         : "no sign that the effect of one depends on the other");
        else
            pl_text_put(t, e->p <= alarm ? "makes a difference" : "no difference shows");
        if (strcmp(e->error, "residual") != 0 && !strstr(e->error, ", "))
            pl_text_add(t, ", judged by how far %s differ", units_of(e->error));
        pl_text_add(t, "%s%s. By chance alone a %s would turn up ", levels && levels[0] ? ": " : "",
                    levels ? levels : "",
                    goes_along(f, e->name) ? "slope this steep" : "spread this wide");
        say_chance(a, t, e->p);
        pl_text_put(t, ".\n");
    }
    say_random(a, l, t);
    say_comparisons(a, l, t);
    for (size_t i = 0; i < l->ncontrast; i++)
        say_contrast(a, l, &l->contrasts[i], t);
    if (!l->neffect && l->ncoef == 1)
        pl_text_add(t, "The mean of %s is %s. The true mean lies between %s and %s; %s.\n",
                    l->response, figure(a, l, l->coefs[0].estimate, 0),
                    pl_say_bare(a, l->coefs[0].low, 4, -1), figure(a, l, l->coefs[0].high, 1),
                    NINETEEN);
}
