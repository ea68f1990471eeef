/* Sections of what was measured beside strength. What strength alone has (the setting to take,
 * dials, what a number cannot tell) is not said here. */
#include "report/responses.h"

#include <ctype.h>
#include <math.h>
#include <string.h>

#include "page/plot.h"
#include "report/details.h"
#include "report/json_parts.h"
#include "report/pictures.h"
#include "report/say.h"

#define DIGITS 3

/* The answer with this response in the place of strength. */
static pl_fit_answer in_place(const pl_fit_answer *f, const pl_response_answer *r)
{
    pl_fit_answer one = *f;

    one.plateaus = r->plateaus;
    one.nplateau = r->nplateau;
    one.spec = r->spec;
    one.linear = r->linear;
    one.surface = NULL;
    one.bounds = NULL;
    one.nresponse = 0;
    one.ndrawn = 0;
    one.power = NULL;
    return one;
}

static char *head_of(pl_arena *a, const pl_response *r)
{
    char *head = pl_arena_str(a, r->name);

    if (head)
        head[0] = (char)toupper((unsigned char)head[0]);
    return head;
}

static const char *figure(pl_arena *a, const pl_plateau *p, double x, int way)
{
    return pl_arena_printf(a, "%s%s%s", pl_say_bare(a, x, DIGITS, way), p->unit[0] ? " " : "",
                           p->unit);
}

static const char *levels(pl_arena *a, const pl_plateau *p, size_t from, size_t to)
{
    return from == to ? p->levels[to].level
                      : pl_arena_printf(a, "%s to %s", p->levels[from].level, p->levels[to].level);
}

static const char *worth(const pl_response *r, bool grows)
{
    return !r->better ? "" : (r->better > 0) == grows ? ", for the better" : ", for the worse";
}

/* A step that chance does not explain, with limits that hold for all steps together. */
static void say_step(pl_arena *a, const pl_response *r, const pl_plateau *p, const pl_step *s,
                     bool grows, pl_text *t)
{
    pl_text_add(t,
                "it %s with %s%s: at %s it is %s more on average than at %s (between %s and %s "
                "more, about nineteen times in twenty). ",
                grows ? "grows" : "falls", p->over, worth(r, grows),
                levels(a, p, s->upper_from, s->upper_to), figure(a, p, s->difference, 0),
                levels(a, p, s->lower_from, s->lower_to),
                pl_say_bare(a, s->difference - s->point * s->se, DIGITS, -1),
                figure(a, p, s->difference + s->point * s->se, 1));
}

static void say_group(pl_arena *a, const pl_response *r, const pl_plateau *p, pl_text *t)
{
    bool rise = p->rise.t > p->rise.point, fall = p->fall.t > p->fall.point;

    pl_text_add(t, "%s: ", pl_say_group(a, p));
    if (rise && fall)
        pl_text_put(t, "it grows and falls again: ");
    if (rise)
        say_step(a, r, p, &p->rise, true, t);
    if (fall)
        say_step(a, r, p, &p->fall, false, t);
    if (!rise && !fall && isnan(p->rise.t))
        pl_text_add(t, "how equal joints differ cannot be told, so nothing can be said of %s. ",
                    p->over);
    else if (!rise && !fall)
        pl_text_add(t, "no effect of %s shows; a change of up to %s is not excluded. ", p->over,
                    isnan(p->change_excluded) ? "any size" : figure(a, p, p->change_excluded, 1));
    for (size_t i = 0; i < p->nlevel; i++)
        pl_text_add(t, "%s%s at %s",
                    i ? ", " : "Averages: ", pl_text_number(a, p->levels[i].mean, DIGITS),
                    p->levels[i].level);
    pl_text_put(t, ".\n");
}

static void say_body(pl_arena *a, const pl_fit_answer *f, const pl_response_answer *r, pl_text *t)
{
    pl_fit_answer one = in_place(f, r);

    if (!r->measured) {
        pl_text_put(t, "Nothing was written down of it yet.\n");
        return;
    }
    if (!isnan(r->same)) {
        pl_text_add(t, "It was %s%s%s on each of the %zu joints where it was measured.\n",
                    pl_text_number(a, r->same, DIGITS), r->of->unit[0] ? " " : "", r->of->unit,
                    r->measured);
        return;
    }
    if (r->why_not && !r->nplateau && !r->linear)
        pl_text_add(t, "It cannot be worked out yet: %s.\n", r->why_not);
    for (size_t i = 0; i < r->nplateau; i++)
        say_group(a, r->of, &r->plateaus[i], t);
    if (!r->nplateau && r->linear)
        pl_linear_words(a, &one, t);
    if (r->measured < f->used)
        pl_text_add(t, "It was measured on %zu of %zu joints.\n", r->measured, f->used);
}

void pl_responses_words(pl_arena *a, const pl_fit_answer *f, pl_text *t)
{
    for (size_t i = 0; i < f->nresponse; i++) {
        pl_text_add(t, "\n%s\n", head_of(a, f->responses[i].of));
        say_body(a, f, &f->responses[i], t);
    }
}

void pl_responses_details(pl_arena *a, const pl_fit_answer *f, pl_text *t)
{
    for (size_t i = 0; i < f->nresponse; i++) {
        pl_fit_answer one = in_place(f, &f->responses[i]);

        if (!one.nplateau && !one.linear)
            continue;
        pl_text_add(t, "\n%s\n", head_of(a, f->responses[i].of));
        pl_details_body(a, &one, t);
    }
}

void pl_responses_json(pl_jval *object, const pl_fit_answer *f)
{
    static const char *const kinds[PL_NRESPONSES] = { "strength", "force",  "mass",
                                                      "percent",  "length", "count" };
    pl_jval *list;

    if (!f->nresponse)
        return;
    list = pl_jadd_array(object, "responses");
    for (size_t i = 0; i < f->nresponse; i++) {
        const pl_response_answer *r = &f->responses[i];
        pl_jval *o = pl_jadd_object(list, NULL), *plateaus;

        pl_jadd_text(o, "response", r->of->name);
        pl_jadd_text(o, "kind", kinds[r->of->kind]);
        pl_jadd_text(o, "unit", r->of->unit);
        pl_jadd_text(o, "better", r->of->better > 0 ? "more" : r->of->better ? "less" : "neither");
        pl_jadd_whole(o, "measured", (long long)r->measured);
        pl_jadd_number(o, "same", r->same);
        pl_jadd_text(o, "why_not", r->why_not);
        if (r->linear)
            pl_json_linear(o, r->linear);
        plateaus = pl_jadd_array(o, "plateaus");
        for (size_t k = 0; k < r->nplateau; k++)
            pl_json_plateau(plateaus, &r->plateaus[k]);
    }
}

static pl_code add_one(pl_arena *a, pl_page *page, const pl_fit_answer *f,
                       const pl_response_answer *r, pl_diags *d)
{
    pl_fit_answer one = in_place(f, r);
    const pl_plot *plot = NULL;
    pl_code rc = PL_OK;
    pl_text t;
    char *words;

    pl_page_section(page, head_of(a, r->of));
    pl_text_init(&t, a);
    say_body(a, f, r, &t);
    words = pl_text_done(&t);
    for (char *line = words ? strtok(words, "\n") : NULL; line; line = strtok(NULL, "\n"))
        pl_page_text(page, line);
    for (size_t i = 0; i < r->nplateau && !rc; i++) {
        pl_plateau shown = r->plateaus[i];

        shown.onset = shown.range_end = (pl_bounded){ NAN, NAN, NAN, true, true };
        shown.advised = NAN; /* where strength stops rising is no question of this one */
        rc = pl_picture_curve(a, &one, &shown, &plot, d);
        if (!rc)
            rc = pl_page_plot(
                page, plot,
                pl_arena_printf(a, "%s. Each dot is one joint.", pl_say_group(a, &shown)), d);
        if (r->plateaus[i].nlevel)
            pl_page_grid(page, pl_details_levels(a, &one, &r->plateaus[i]),
                         "What was made and what was measured");
    }
    if (!r->nplateau && r->linear && r->linear->nmean)
        pl_page_grid(page, pl_details_means(a, r->linear), "Level means");
    return rc;
}

pl_code pl_responses_page(pl_arena *a, pl_page *page, const pl_fit_answer *f, pl_diags *d)
{
    pl_code rc = PL_OK;

    for (size_t i = 0; i < f->nresponse && !rc; i++)
        rc = add_one(a, page, f, &f->responses[i], d);
    return rc;
}
