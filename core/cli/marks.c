/* What was marked at the bench turned into what was really made: labels put
 * right, treatments as they were, joints left out. The plan itself stays. */
#include <math.h>
#include <string.h>

#include "base/units.h"
#include "cli/join.h"

typedef struct actual {
    pl_join_work *j;
    pl_plan *plan;          /* a copy */
    size_t *bears;          /* nspecimen: the specimen whose label it bore */
    const pl_marking **out; /* nspecimen: why it does not count; NULL: it does */
    pl_readings readings;
    int *treatments;
    size_t ntreatment;
    bool *remade; /* nglue_up: has a row of treatments of its own */
    bool swapped; /* some labels were */
} actual;

static size_t place_of(const actual *x, const char *id)
{
    const pl_specimen *s = pl_plan_find(x->j->p, id);

    return s ? (size_t)(s - x->j->p->specimens) : x->j->p->nspecimen;
}

static const char *because(pl_arena *a, const pl_marking *m)
{
    return m->reason[0] ? pl_arena_printf(a, ": %s", m->reason) : "";
}

/* ------------------------------------------------------------------- made as ---- */

/* The level of a factor that a text names; f->nlevel when it is none of them. */
static size_t level_of(pl_arena *a, const pl_factor *f, const char *text)
{
    const char *why;
    pl_dim x;

    for (size_t i = 0; i < f->nlevel; i++)
        if (!strcmp(f->levels[i].text, text))
            return i;
    if (f->numeric && !pl_units_read(a, text, f->kind, &x, &why))
        for (size_t i = 0; i < f->nlevel; i++)
            if (fabs(f->levels[i].si - x.si) <= 1e-9 * fabs(x.si)) /* the same, however written */
                return i;
    return f->nlevel;
}

static int *own_row(actual *x, pl_glue_up *g)
{
    size_t nfactor = x->plan->nfactor, at = (size_t)(g - x->plan->glue_ups);
    int *row;

    if (!x->remade[at]) {
        row = &x->treatments[x->ntreatment * nfactor];
        for (size_t f = 0; f < nfactor; f++)
            row[f] = x->treatments[g->treatment * nfactor + f];
        g->treatment = x->ntreatment++;
        x->remade[at] = true;
    }
    return &x->treatments[g->treatment * nfactor];
}

static void made_at_pressure(actual *x, const pl_glue_up *g, const char *text)
{
    pl_reading r = { .subject = PL_ON_GLUE_UP,
                     .id = g->label,
                     .quantity = "made_as",
                     .text = text,
                     .value = NAN,
                     .unit = "",
                     .where = "mark" };
    pl_code rc = pl_readings_add(x->j->a, &x->readings, r, &x->j->run->diags);

    if (rc)
        x->j->rc = rc;
}

static void made_with_level(actual *x, const pl_marking *m, pl_glue_up *g, size_t factor)
{
    const pl_factor *f = &x->j->s->factors[factor];
    size_t level = level_of(x->j->a, f, m->value);
    int *row;

    if (level == f->nlevel) /* the verb takes none such; a plan of before may have had it */
        return;
    row = own_row(x, g);
    pl_join_note(x->j, pl_arena_printf(x->j->a, "%s: meant %s %s, made %s; counted as made%s",
                                       g->label, f->name, f->levels[row[factor]].text, m->value,
                                       because(x->j->a, m)));
    row[factor] = (int)level;
}

static void made_otherwise(actual *x, const pl_marking *m, pl_specimen *s, pl_glue_up *g)
{
    long long n = 0;

    if (!strcmp(m->key, "board")) {
        for (size_t i = 0; i < x->plan->nboard; i++)
            if (!strcmp(x->plan->boards[i].label, m->value))
                g->board = (int)i;
    } else if (!strcmp(m->key, "session") && pl_text_to_whole(m->value, 1, 100000, &n)) {
        g->session = (unsigned)n;
    } else if (!strcmp(m->key, "glue_order") && pl_text_to_whole(m->value, 1, 1000000, &n)) {
        g->glue_order = (unsigned)n;
    } else if (!strcmp(m->key, "break_order") && pl_text_to_whole(m->value, 1, 1000000, &n)) {
        s->break_order = (unsigned)n;
    }
    pl_join_note(x->j, pl_arena_printf(x->j->a, "%s: %s was %s%s", m->specimen, m->key, m->value,
                                       because(x->j->a, m)));
}

static void made_as(actual *x, const pl_marking *m, size_t at)
{
    pl_specimen *s = &x->plan->specimens[at];
    pl_glue_up *g = &x->plan->glue_ups[s->glue_up];
    int pressed = pl_study_pressed(x->j->s);

    for (size_t f = 0; f < x->j->s->nfactor; f++) {
        if (strcmp(x->j->s->factors[f].name, m->key))
            continue;
        if ((int)f == pressed)
            made_at_pressure(x, g, m->value);
        else
            made_with_level(x, m, g, f);
        return;
    }
    made_otherwise(x, m, s, g);
}

/* --------------------------------------------------------------- one by one ---- */

static void swap(actual *x, const pl_marking *m, size_t at)
{
    size_t other = place_of(x, m->value), kept;
    unsigned order;

    if (other == x->j->p->nspecimen)
        return;
    kept = x->bears[at];
    x->bears[at] = x->bears[other];
    x->bears[other] = kept;
    order = x->plan->specimens[at].break_order; /* it was broken when its label was */
    x->plan->specimens[at].break_order = x->plan->specimens[other].break_order;
    x->plan->specimens[other].break_order = order;
    x->swapped = true;
    pl_join_note(x->j, pl_arena_printf(x->j->a,
                                       "the labels of %s and %s were swapped: each counts "
                                       "as what it is%s",
                                       m->specimen, m->value, because(x->j->a, m)));
}

static void restore(actual *x, const pl_marking *m, size_t at)
{
    if (x->out[at])
        pl_join_note(x->j, pl_arena_printf(x->j->a, "%s was %s and counts again%s", m->specimen,
                                           pl_mark_name(x->out[at]->kind), because(x->j->a, m)));
    x->out[at] = NULL;
}

static void apply(actual *x, const pl_marking *m)
{
    size_t at = place_of(x, m->specimen);

    if (at == x->j->p->nspecimen) /* of an earlier revision */
        return;
    switch (m->kind) {
    case PL_MARK_LOST:
    case PL_MARK_EXCLUDED:
        x->out[at] = m;
        break;
    case PL_MARK_RESTORED:
        restore(x, m, at);
        break;
    case PL_MARK_SWAPPED:
        swap(x, m, at);
        break;
    case PL_MARK_MADE_AS:
        made_as(x, m, at);
        break;
    case PL_MARK_APPLIED:
        made_at_pressure(x, &x->plan->glue_ups[x->plan->specimens[at].glue_up], PL_APPLIED_UNKNOWN);
        break;
    case PL_MARK_NOTE:
        pl_join_note(x->j, pl_arena_printf(x->j->a, "%s: %s", m->specimen, m->value));
        break;
    default:
        break;
    }
}

/* --------------------------------------------------------------------- whole ---- */

static pl_code copy_plan(actual *x)
{
    pl_join_work *j = x->j;
    const pl_plan *p = j->p;
    size_t nrow = p->ntreatment + p->nglue_up;

    x->plan = PL_NEW(j->a, pl_plan);
    x->bears = PL_NEWN(j->a, p->nspecimen, size_t);
    x->out = PL_NEWN(j->a, p->nspecimen, const pl_marking *);
    x->treatments = PL_NEWN(j->a, nrow * p->nfactor, int);
    x->remade = PL_NEWN(j->a, p->nglue_up, bool);
    if (!x->plan || !x->bears || !x->out || !x->treatments || !x->remade)
        return pl_nomem(&j->run->diags);
    *x->plan = *p;
    x->plan->glue_ups = pl_arena_grow(j->a, p->glue_ups, p->nglue_up, p->nglue_up,
                                      sizeof *p->glue_ups);
    x->plan->specimens = pl_arena_grow(j->a, p->specimens, p->nspecimen, p->nspecimen,
                                       sizeof *p->specimens);
    if (!x->plan->glue_ups || !x->plan->specimens)
        return pl_nomem(&j->run->diags);
    for (size_t i = 0; i < p->ntreatment * p->nfactor; i++)
        x->treatments[i] = p->treatments[i];
    x->plan->treatments = x->treatments;
    x->ntreatment = p->ntreatment;
    for (size_t i = 0; i < p->nspecimen; i++)
        x->bears[i] = i;
    return PL_OK;
}

/* A reading under the label that a specimen bore is that specimen's. */
static pl_code copy_readings(actual *x)
{
    pl_join_work *j = x->j;
    size_t *bearer = PL_NEWN(j->a, j->p->nspecimen, size_t);
    pl_code rc = bearer ? PL_OK : pl_nomem(&j->run->diags);
    pl_readings marked = x->readings;

    x->readings = (pl_readings){ 0 };
    for (size_t i = 0; i < j->p->nspecimen && !rc; i++)
        bearer[x->bears[i]] = i;
    for (size_t i = 0; i < j->r->count && !rc; i++) {
        pl_reading r = j->r->items[i];

        if (x->swapped && r.subject == PL_ON_SPECIMEN) {
            size_t at = place_of(x, r.id);

            if (at < j->p->nspecimen)
                r.id = j->p->specimens[bearer[at]].id;
        }
        rc = pl_readings_add(j->a, &x->readings, r, &j->run->diags);
    }
    for (size_t i = 0; i < marked.count && !rc; i++) /* later ones count */
        rc = pl_readings_add(j->a, &x->readings, marked.items[i], &j->run->diags);
    return rc;
}

static void say_left_out(actual *x, const pl_marking **out)
{
    for (size_t i = 0; i < x->j->p->nspecimen; i++) {
        const pl_marking *m = x->out[i];

        if (!m || (m->kind == PL_MARK_EXCLUDED && x->j->l->with_excluded))
            continue;
        out[i] = m;
        pl_join_note(x->j, pl_arena_printf(x->j->a, "%s is %s and left out%s", m->specimen,
                                           pl_mark_name(m->kind), because(x->j->a, m)));
    }
}

pl_code pl_join_marks(pl_join_work *j)
{
    actual x = { .j = j };
    pl_readings *readings = PL_NEW(j->a, pl_readings);
    const pl_marking **out = PL_NEWN(j->a, j->p->nspecimen, const pl_marking *);
    pl_code rc;

    if (!readings || !out)
        return pl_nomem(&j->run->diags);
    j->out = out;
    if (!j->l->nmark)
        return PL_OK;
    rc = copy_plan(&x);
    for (size_t i = 0; i < j->l->nmark && !rc; i++) {
        apply(&x, &j->l->marks[i]);
        rc = j->rc;
    }
    if (!rc)
        rc = copy_readings(&x);
    if (rc)
        return rc;
    say_left_out(&x, out);
    *readings = x.readings;
    j->r = readings;
    x.plan->ntreatment = x.ntreatment;
    j->p = x.plan;
    return j->rc;
}
