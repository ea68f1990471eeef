/* What files and book together show to be doubtful: said as advice, never changed.
 * What one file shows by itself is said where it is read (core/bench). */
#include <math.h>
#include <string.h>

#include "bench/columns.h"
#include "cli/take.h"

typedef struct doubts {
    pl_run *run;
    const pl_loaded *l;
    pl_readings all; /* those known, then the new ones; only what is looked at here */
    size_t known;
} doubts;

static const pl_reading *last(const doubts *x, pl_subject subject, const char *id,
                              const char *quantity)
{
    return pl_readings_find(&x->all, subject, id, quantity);
}

/* Spoken of once: when one of its readings is new. */
static bool is_new(const doubts *x, const pl_reading *r)
{
    return r >= x->all.items + x->known;
}

static void broken_too_soon(doubts *x, const pl_specimen *s)
{
    const char *glue_up = x->l->plan->glue_ups[s->glue_up].label;
    const pl_reading *broken = last(x, PL_ON_SPECIMEN, s->id, "broken_at");
    const pl_reading *pressed = last(x, PL_ON_GLUE_UP, glue_up, "pressed_at");
    double wanted = x->l->study->times.cure_at_least_s, age;
    pl_arena *a = x->run->arena;

    if (!broken || !pressed || isnan(wanted) || (!is_new(x, broken) && !is_new(x, pressed)))
        return;
    age = broken->value - pressed->value;
    if (age < wanted)
        pl_advise(
            &x->run->diags, broken->where,
            .found = pl_arena_printf(a, "%s broken %s h after it was pressed", s->id,
                                     pl_text_number(a, age / 3600, 3)),
            .expected = pl_arena_printf(a, "%s h or more", pl_text_number(a, wanted / 3600, 3)),
            .mend = "if the times are right, it counts; --exclude it with: platen mark");
}

/* The order in which joints were broken is drawn at random against what drifts: the day,
 * the machine. The first joint that was broken before one that stood ahead of it. */
static pl_code broken_out_of_order(doubts *x)
{
    pl_arena *a = x->run->arena;
    size_t n = 0, out = 0;
    size_t *order = pl_break_order(a, x->l->plan, &n);
    const pl_reading *latest = NULL, *first = NULL, *before = NULL;

    if (!order)
        return pl_nomem(&x->run->diags);
    for (size_t i = 0; i < n; i++) {
        const pl_reading *r = last(x, PL_ON_SPECIMEN, x->l->plan->specimens[order[i]].id,
                                   "broken_at");

        if (!r)
            continue;
        if (latest && r->value < latest->value && (is_new(x, r) || is_new(x, latest))) {
            if (!out++) {
                first = r;
                before = latest;
            }
        } else if (!latest || r->value >= latest->value) {
            latest = r;
        }
    }
    if (out)
        pl_advise(&x->run->diags, first->where,
                  .found = pl_arena_printf(a,
                                           "%zu joint%s broken out of order, the first %s before "
                                           "%s",
                                           out, out == 1 ? "" : "s", first->id, before->id),
                  .expected = "the order of the break form",
                  .mend = "if the times are right, say so: platen mark STUDY ID --made-as "
                          "break_order=N");
    return PL_OK;
}

/* All glue-ups have the same labels in every study: a form that puts many of them
 * elsewhere than planned may be that of another one. */
static void made_elsewhere(doubts *x)
{
    const pl_plan *p = x->l->plan;
    const pl_study *s = x->l->study;
    pl_arena *a = x->run->arena;
    const pl_reading *first = NULL;
    size_t n = 0;

    for (size_t i = 0; i < p->nglue_up; i++) {
        const pl_glue_up *g = &p->glue_ups[i];
        const pl_reading *session = last(x, PL_ON_GLUE_UP, g->label, "session");
        const pl_reading *rig = last(x, PL_ON_GLUE_UP, g->label, "rig"), *which = NULL;

        if (g->spare)
            continue;
        if (session && is_new(x, session) && session->value != g->session)
            which = session;
        else if (rig && is_new(x, rig) && (g->rig < 0 || strcmp(rig->text, s->rigs[g->rig].name)))
            which = rig;
        n += which != NULL;
        first = first ? first : which;
    }
    if (n)
        pl_advise(
            &x->run->diags, first->where,
            .found = pl_arena_printf(a,
                                     "%zu glue-up%s made in another session or on another "
                                     "rig than planned, the first %s",
                                     n, n == 1 ? "" : "s", first->id),
            .expected = pl_arena_printf(a, "as revision %u of %s has them", p->revision, s->name),
            .mend = "a form of another study? if it was so, the fit goes by what was made");
}

static pl_code taken_for_another(doubts *x, const pl_source *source)
{
    pl_run *run = x->run;
    const char *other;
    pl_code rc = pl_book_taken_for(run->arena, x->l->book, source->digest, x->l->study->name,
                                   &other, &run->diags);

    if (!rc && other)
        pl_advise(&run->diags, source->name,
                  .found = pl_arena_printf(run->arena, "a file that was taken for study %s", other),
                  .expected = pl_arena_printf(run->arena, "a file of %s", x->l->study->name),
                  .mend = "a file of another study?");
    return rc;
}

/* The form as it was printed, instead of the one that was filled in. */
static void nothing_in_it(doubts *x, const pl_source *source)
{
    if (!source->readings->count)
        pl_advise(&x->run->diags, source->name, .found = "nothing that was filled in",
                  .expected = "readings",
                  .mend = "the form as it was printed, from the folder of the sheets?");
}

static pl_code add_readings(doubts *x, const pl_readings *r)
{
    static const char *const wanted[] = { "broken_at", "pressed_at", "session", "rig", "peak" };
    pl_code rc = PL_OK;

    for (size_t i = 0; i < r->count && !rc; i++)
        for (size_t k = 0; k < sizeof wanted / sizeof *wanted && !rc; k++)
            if (!strcmp(r->items[i].quantity, wanted[k]))
                rc = pl_readings_add(x->run->arena, &x->all, r->items[i], &x->run->diags);
    return rc;
}

pl_code pl_take_doubts(pl_run *run, const pl_loaded *l, const pl_readings *known,
                       const pl_source *sources, size_t count)
{
    doubts x = { .run = run, .l = l };
    pl_code rc = add_readings(&x, known);

    x.known = x.all.count;
    for (size_t i = 0; i < count && !rc; i++)
        rc = add_readings(&x, sources[i].readings);
    for (size_t i = 0; i < count && !rc; i++)
        rc = taken_for_another(&x, &sources[i]);
    for (size_t i = 0; i < count && !rc; i++)
        nothing_in_it(&x, &sources[i]);
    for (size_t i = 0; i < count && !rc; i++)
        if (sources[i].rig[0]) /* of forms this was said where they were read */
            rc = pl_far_from_fellows(run->arena, sources[i].readings, &x.all, "peak", &run->diags);
    if (rc || x.all.count == x.known)
        return rc;
    made_elsewhere(&x);
    for (size_t i = 0; i < l->plan->nspecimen; i++)
        broken_too_soon(&x, &l->plan->specimens[i]);
    return broken_out_of_order(&x);
}
