/* The report: one self-contained page. Words first, then pictures, then tables
 * under folds. */
#include <ctype.h>
#include <string.h>

#include "page/html.h"
#include "report/bond.h"
#include "report/details.h"
#include "report/groups.h"
#include "report/methods.h"
#include "report/picture_size.h"
#include "report/pictures.h"
#include "report/responses.h"
#include "report/say.h"

#define PROCEDURE                                                                          \
    "These figures hold for these joints and this way of making them. They are no design " \
    "values; structural use follows local codes and licensed practice."

static void add_list(pl_page *page, const char *head, const char *const *items, size_t n)
{
    if (!n)
        return;
    pl_page_section(page, head);
    pl_page_list(page, items, n);
}

static pl_code add_curves(pl_arena *a, pl_page *page, const pl_fit_answer *f, pl_diags *d)
{
    pl_code rc = PL_OK;
    const pl_plot *plot = NULL;
    char *head;

    if (!f->nplateau)
        return PL_OK;
    head = pl_arena_printf(a, "%s by %s", f->plateaus[0].response, f->plateaus[0].over);
    if (head)
        head[0] = (char)toupper((unsigned char)head[0]);
    pl_page_section(page, head);
    for (size_t i = 0; i < f->nplateau && !rc; i++) {
        if (f->nplateau > 1)
            pl_page_heading(page, pl_say_group(a, &f->plateaus[i]));
        rc = pl_picture_curve(a, f, &f->plateaus[i], &plot, d);
        if (!rc)
            rc = pl_page_plot(page, plot,
                              pl_arena_printf(a,
                                              "%s. Each dot is one joint; point at it to read "
                                              "what it is.",
                                              pl_say_group(a, &f->plateaus[i])),
                              d);
        if (f->plateaus[i].nlevel)
            pl_page_grid(page, pl_details_levels(a, f, &f->plateaus[i]),
                         "What was made and what it held");
    }
    return rc;
}

/* What the linear model says, a sentence a line: the answer where no curve was asked
 * for, else beside it. */
static void add_levels(pl_arena *a, pl_page *page, const pl_fit_answer *f, bool leads)
{
    pl_text t, paragraphs;
    const char *words;

    pl_text_init(&t, a);
    pl_text_init(&paragraphs, a);
    pl_linear_words(a, f, &t);
    words = pl_text_done(&t);
    while (words && *words) {
        size_t n = strcspn(words, "\n");

        pl_text_bytes(&paragraphs, words, n);
        pl_text_put(&paragraphs, "\n\n");
        words += words[n] ? n + 1 : n;
    }
    words = pl_text_done(&paragraphs);
    if (leads)
        pl_page_lead(page, words ? words : "");
    else
        pl_page_text(page, words ? words : "");
}

/* Whether the groups need different settings, a paragraph each. */
static void add_groups(pl_arena *a, pl_page *page, const pl_fit_answer *f)
{
    pl_text t;
    char *words;

    pl_text_init(&t, a);
    pl_groups_words(a, f, &t);
    words = pl_text_done(&t);
    for (char *line = words ? strtok(words, "\n") : NULL; line; line = strtok(NULL, "\n"))
        pl_page_text(page, line);
}

static void add_comparisons(pl_arena *a, pl_page *page, const pl_fit_answer *f)
{
    if (!f->linear || !f->study)
        return;
    pl_page_section(page, "Levels compared");
    if (f->nplateau)
        add_levels(a, page, f, false);
    if (f->linear->nmean)
        pl_page_grid(page, pl_details_means(a, f->linear), "Level means");
    if (f->linear->ncomparison)
        pl_page_grid(page, pl_details_comparisons(a, f->linear, false),
                     "Differences; the limits of one list hold all together");
}

static void add_details(pl_arena *a, pl_page *page, const pl_fit_answer *f)
{
    pl_page_section(page, "Details");
    for (size_t i = 0; i < f->nplateau; i++) {
        const pl_plateau *p = &f->plateaus[i];

        pl_page_fold(page, pl_arena_printf(a, "%s: curves and the test behind the answer",
                                           pl_say_group(a, p)));
        pl_page_text(page, pl_details_state(a, p));
        pl_page_grid(page, pl_details_curves(a, p), "Curves and their weights");
        pl_page_grid(page, pl_details_params(a, p), "Numbers of the curves");
        pl_page_unfold(page);
    }
    if (f->nplateau > 1 && f->plateaus->between) {
        pl_page_fold(page, "Groups beside each other");
        pl_page_grid(page, pl_groups_ratios(a, f->plateaus->between), "Ratios of onsets");
        pl_page_grid(page, pl_groups_shapes(a, f->plateaus->between),
                     "Curves with one shape for all groups");
        pl_page_unfold(page);
    }
    if (f->linear) {
        pl_page_fold(page, "Analysis of variance");
        pl_page_grid(page, pl_details_effects(a, f->linear), "Effects, each against its own error");
        pl_page_unfold(page);
    }
    if (f->bond && f->bond->bond.fit) {
        pl_page_fold(page, "The glue line, by the law of the scatter");
        pl_page_grid(page, pl_bond_by_law(a, f, true), "Laws beside each other");
        pl_page_unfold(page);
    }
    if (f->plan) {
        pl_page_fold(page, "The plan");
        pl_page_text(page, f->plan->chosen);
        pl_page_fact(page, "seed", pl_arena_printf(a, "%llu", (unsigned long long)f->plan->seed));
        pl_page_fact(page, "revision", pl_arena_printf(a, "%u", f->plan->revision));
        pl_page_fact(page, "joints",
                     pl_arena_printf(a, "%zu planned, %zu broken, %zu in the figures", f->planned,
                                     f->broken, f->used));
        pl_page_unfold(page);
    }
}

/* What `size` said when the plan was frozen, beside what the scatter found says. */
static pl_code add_chances(pl_arena *a, pl_page *page, const pl_fit_answer *f, pl_diags *d)
{
    const pl_plot *plot = NULL;
    pl_code rc;

    if (!f->then)
        return PL_OK;
    pl_page_section(page, "The chance of noticing that was run");
    pl_page_text(page, pl_chances_words(a, f->then, f->now));
    rc = pl_picture_chances(a, f->then, f->now, &plot, d);
    return rc ? rc
              : pl_page_plot(page, plot,
                             "How often such a study comes out as asked, by the number of "
                             "glue-ups per level.",
                             d);
}

static pl_code add_order(pl_arena *a, pl_page *page, const pl_fit_answer *f, pl_diags *d)
{
    const pl_plot *plot = NULL;
    pl_code rc = pl_picture_plan(a, f->study, f->plan, &plot, d);

    if (rc || !plot)
        return rc;
    pl_page_section(page, "The plan's order");
    return pl_page_plot(page, plot,
                        "Which level was glued when. A plan that rose with time could not tell "
                        "pressure from time.",
                        d);
}

static void add_origins(pl_page *page, const pl_fit_answer *f)
{
    if (!f->norigin)
        return;
    pl_page_section(page, "Where these figures come from");
    for (size_t i = 0; i < f->norigin; i++)
        pl_page_fact(page, f->origins[i].name, f->origins[i].value);
    pl_page_text(page, "With the same book these commands give the same figures:");
    pl_page_list(page, f->again, f->nagain);
}

pl_code pl_fit_page(pl_arena *a, const pl_fit_answer *f, char **html, pl_diags *d)
{
    const char *title = f->study && f->study->title[0] ? f->study->title : f->source;
    pl_page *page = pl_page_new(a, title, f->study ? "Joints tested to destruction" : NULL);
    pl_code rc;

    for (size_t i = 0; i < f->nplateau; i++)
        pl_page_lead(page, pl_fit_sentence(a, f, i));
    add_groups(a, page, f);
    if (!f->nplateau && f->linear)
        add_levels(a, page, f, true);
    add_list(page, "What happened at the bench", f->notes, f->nnote);
    rc = add_curves(a, page, f, d);
    if (!rc)
        rc = pl_bond_page(a, page, f, d);
    add_comparisons(a, page, f);
    if (!rc)
        rc = pl_responses_page(a, page, f, d);
    add_list(page, "On your rigs", f->dials, f->ndial);
    add_list(page, "What these joints cannot tell", f->cannot, f->ncannot);
    add_list(page, "Can these figures be trusted?", f->trust, f->ntrust);
    if (!rc && f->nplateau)
        rc = pl_picture_trust(a, page, f, d);
    if (!rc)
        rc = add_chances(a, page, f, d);
    if (!rc && f->plan)
        rc = add_order(a, page, f, d);
    add_details(a, page, f);
    pl_methods_fold(page, f);
    add_origins(page, f);
    if (f->study)
        pl_page_box(page, PL_TONE_CAUTION, PROCEDURE);
    pl_page_foot(page, "platen " PL_VERSION);
    *html = rc ? NULL : pl_page_done(a, page);
    return rc ? rc : *html ? PL_OK : pl_nomem(d);
}
