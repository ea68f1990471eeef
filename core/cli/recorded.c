/* What the forms say of sessions and of the orders in which joints were glued and
 * broken, in place of what was planned. What was marked by hand comes after: marks.c. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/join.h"

typedef struct event { /* of a glue-up or a specimen */
    size_t at;         /* its place in the plan */
    unsigned planned;  /* its place in the order planned */
    double when;
} event;

static int by_planned(const void *left, const void *right)
{
    const event *x = left, *y = right;

    return (x->planned > y->planned) - (x->planned < y->planned);
}

/* Times are written to the minute: of equal ones the planned order stands. */
static int by_time(const void *left, const void *right)
{
    const event *x = left, *y = right;

    if (x->when != y->when)
        return x->when > y->when ? 1 : -1;
    return by_planned(left, right);
}

/* Those with a time change places among themselves; order[i] is the place of the i-th of
 * them in the plan's order. How many stand elsewhere than planned. */
static size_t reorder(event *list, size_t n, unsigned *order)
{
    size_t moved = 0;

    if (!n)
        return 0;
    qsort(list, n, sizeof *list, by_planned);
    for (size_t i = 0; i < n; i++)
        order[i] = list[i].planned;
    qsort(list, n, sizeof *list, by_time);
    for (size_t i = 0; i < n; i++)
        moved += list[i].planned != order[i];
    return moved;
}

static double glued_at(const pl_join_work *j, const pl_glue_up *g)
{
    static const char *const times[] = { "spread_at", "closed_at", "pressed_at" };
    double when = NAN;

    for (size_t i = 0; i < 3 && isnan(when); i++)
        when = pl_join_value(j, PL_ON_GLUE_UP, g->label, times[i]);
    return when;
}

static void say_moved(pl_join_work *j, size_t moved, const char *one, const char *many,
                      const char *what)
{
    if (moved)
        pl_join_note(j, pl_arena_printf(j->a,
                                        "%zu %s %s in another order than planned: the order in "
                                        "which it was done is used",
                                        moved, moved == 1 ? one : many, what));
}

static pl_code gluing_order(pl_join_work *j, pl_plan *p)
{
    event *list = PL_NEWN(j->a, p->nglue_up, event);
    unsigned *order = PL_NEWN(j->a, p->nglue_up, unsigned);
    pl_glue_up *g = pl_arena_grow(j->a, p->glue_ups, p->nglue_up, p->nglue_up, sizeof *g);
    size_t n = 0, moved;

    if (!list || !order || !g)
        return pl_nomem(&j->run->diags);
    for (size_t i = 0; i < p->nglue_up; i++) {
        double session = pl_join_value(j, PL_ON_GLUE_UP, g[i].label, "session");
        double when = glued_at(j, &g[i]);

        if (g[i].spare)
            continue;
        if (!isnan(when))
            list[n++] = (event){ i, g[i].glue_order, when };
        if (isnan(session) || (unsigned)session == g[i].session)
            continue;
        pl_join_note(j, pl_arena_printf(j->a,
                                        "%s: planned for session %u, made in session %u; counted "
                                        "there",
                                        g[i].label, g[i].session, (unsigned)session));
        g[i].session = (unsigned)session;
    }
    moved = reorder(list, n, order);
    for (size_t i = 0; i < n; i++)
        g[list[i].at].glue_order = order[i];
    p->glue_ups = g;
    say_moved(j, moved, "glue-up was", "glue-ups were", "glued");
    return PL_OK;
}

static pl_code breaking_order(pl_join_work *j, pl_plan *p)
{
    event *list = PL_NEWN(j->a, p->nspecimen, event);
    unsigned *order = PL_NEWN(j->a, p->nspecimen, unsigned);
    pl_specimen *x = pl_arena_grow(j->a, p->specimens, p->nspecimen, p->nspecimen, sizeof *x);
    size_t n = 0, moved;

    if (!list || !order || !x)
        return pl_nomem(&j->run->diags);
    for (size_t i = 0; i < p->nspecimen; i++) {
        double when = pl_join_value(j, PL_ON_SPECIMEN, x[i].id, "broken_at");

        if (!isnan(when) && x[i].break_order)
            list[n++] = (event){ i, x[i].break_order, when };
    }
    moved = reorder(list, n, order);
    for (size_t i = 0; i < n; i++)
        x[list[i].at].break_order = order[i];
    p->specimens = x;
    say_moved(j, moved, "joint was", "joints were", "broken");
    return PL_OK;
}

pl_code pl_join_recorded(pl_join_work *j)
{
    pl_plan *p = PL_NEW(j->a, pl_plan);
    pl_code rc;

    if (!p)
        return pl_nomem(&j->run->diags);
    *p = *j->p;
    rc = gluing_order(j, p);
    if (!rc)
        rc = breaking_order(j, p);
    j->p = p;
    return rc ? rc : j->rc;
}
