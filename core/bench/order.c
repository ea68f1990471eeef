/* The plan's two orders, as lists to walk: glue-ups as they are glued, specimens
 * as they are broken. */
#include "bench/columns.h"

#include <stdlib.h>

static int compare(unsigned x, unsigned y)
{
    return (x > y) - (x < y);
}

static int by_glue_order(const void *left, const void *right, void *plan)
{
    const size_t *x = left, *y = right;
    const pl_plan *p = plan;

    return compare(p->glue_ups[*x].glue_order, p->glue_ups[*y].glue_order);
}

static int by_break_order(const void *left, const void *right, void *plan)
{
    const size_t *x = left, *y = right;
    const pl_plan *p = plan;

    return compare(p->specimens[*x].break_order, p->specimens[*y].break_order);
}

size_t *pl_glue_order(pl_arena *a, const pl_plan *p, unsigned session, size_t *count)
{
    size_t *list = PL_NEWN(a, p->nglue_up, size_t);
    pl_plan copy = *p; /* qsort_r hands on what may be written */
    size_t n = 0;

    for (size_t i = 0; list && i < p->nglue_up; i++)
        if (!p->glue_ups[i].spare && (!session || p->glue_ups[i].session == session))
            list[n++] = i;
    if (list && n)
        qsort_r(list, n, sizeof(size_t), by_glue_order, &copy);
    *count = n;
    return list;
}

size_t *pl_break_order(pl_arena *a, const pl_plan *p, size_t *count)
{
    size_t *list = PL_NEWN(a, p->nspecimen, size_t);
    pl_plan copy = *p;
    size_t n = 0;

    for (size_t i = 0; list && i < p->nspecimen; i++)
        if (p->specimens[i].break_order)
            list[n++] = i;
    if (list && n)
        qsort_r(list, n, sizeof(size_t), by_break_order, &copy);
    *count = n;
    return list;
}
