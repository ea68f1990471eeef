/* Writing the forms empty, in the plan's order. Reading: forms_read.c. */
#include "bench/columns.h"

#include <stdio.h>
#include <string.h>

#include "base/text.h"

char *pl_session_rig_id(pl_arena *a, unsigned session, const char *rig)
{
    return pl_arena_printf(a, "%u/%s", session, rig);
}

/* What the pressing rigs' dials show: the unit of the first glue-up that has one. */
static const char *dial_unit(const pl_study *s, const pl_plan *p)
{
    int pressed = pl_study_pressed(s);

    for (size_t i = 0; i < p->nglue_up && pressed >= 0 && p->points.at; i++) {
        const pl_glue_up *g = &p->glue_ups[i];
        const pl_set_point *at;

        if (g->rig < 0 || g->spare)
            continue;
        at = pl_set_points_at(&p->points,
                              (size_t)p->treatments[g->treatment * p->nfactor + (size_t)pressed],
                              (size_t)g->rig);
        if (at->can && at->dial_unit && at->dial_unit[0])
            return at->dial_unit;
    }
    return NULL;
}

static void put_header(pl_text *t, const pl_form_column *columns, size_t n)
{
    char name[128];

    for (size_t i = 0; i < n; i++) {
        snprintf(name, sizeof name, columns[i].unit[0] ? "%s [%s]" : "%s", columns[i].name,
                 columns[i].unit);
        if (i)
            pl_text_put(t, ",");
        pl_csv_put(t, name);
    }
    pl_text_put(t, "\n");
}

/* A row with some cells filled: cells[i] under the column names[i], in the
 * columns' order. */
static void put_row(pl_text *t, const pl_form_column *columns, size_t n, const char *const *names,
                    const char *const *cells, size_t filled)
{
    for (size_t i = 0; i < n; i++) {
        if (i)
            pl_text_put(t, ",");
        for (size_t j = 0; j < filled; j++)
            if (cells[j] && !strcmp(columns[i].name, names[j]))
                pl_csv_put(t, cells[j]);
    }
    pl_text_put(t, "\n");
}

static void put_boards(pl_text *t, const pl_form_column *columns, size_t n, const pl_plan *p)
{
    static const char *const names[] = { "board", "species" };

    for (size_t i = 0; i < p->nboard; i++) {
        const char *cells[] = { p->boards[i].label, p->boards[i].species };

        put_row(t, columns, n, names, cells, 2);
    }
}

static bool rig_in_session(const pl_plan *p, unsigned session, int rig)
{
    for (size_t i = 0; i < p->nglue_up; i++)
        if (!p->glue_ups[i].spare && p->glue_ups[i].session == session && p->glue_ups[i].rig == rig)
            return true;
    return false;
}

static void put_sessions(pl_text *t, const pl_form_column *columns, size_t n, const pl_study *s,
                         const pl_plan *p)
{
    static const char *const names[] = { "session", "rig" };

    for (unsigned session = 1; session <= p->nsession; session++) {
        char number[16];
        const char *cells[2] = { number, NULL };
        bool any = false;

        snprintf(number, sizeof number, "%u", session);
        for (size_t r = 0; r < s->nrig; r++)
            if (rig_in_session(p, session, (int)r)) {
                cells[1] = s->rigs[r].name;
                put_row(t, columns, n, names, cells, 2);
                any = true;
            }
        if (!any)
            put_row(t, columns, n, names, cells, 2);
    }
}

static void put_glue_ups(pl_text *t, const pl_form_column *columns, size_t n, const pl_study *s,
                         const pl_plan *p)
{
    static const char *const names[] = { "glue_up", "session", "rig" };
    size_t count = 0, *order = pl_glue_order(t->arena, p, 0, &count);

    t->failed = t->failed || !order;
    for (size_t i = 0; order && i < count; i++) {
        const pl_glue_up *g = &p->glue_ups[order[i]];
        char number[16];
        const char *cells[] = { g->label, number, g->rig < 0 ? NULL : s->rigs[g->rig].name };

        snprintf(number, sizeof number, "%u", g->session);
        put_row(t, columns, n, names, cells, 3);
    }
}

/* The id and nothing else: whoever fills this in must not know the treatment. */
static void put_breaks(pl_text *t, const pl_form_column *columns, size_t n, const pl_plan *p)
{
    static const char *const names[] = { "specimen" };
    size_t count = 0, *order = pl_break_order(t->arena, p, &count);

    t->failed = t->failed || !order;
    for (size_t i = 0; order && i < count; i++)
        put_row(t, columns, n, names, &p->specimens[order[i]].id, 1);
}

char *pl_form_write(pl_arena *a, pl_form form, const pl_study *s, const pl_plan *p,
                    const char *peak_unit)
{
    pl_form_column columns[PL_FORM_COLUMNS_MOST];
    size_t n = pl_form_columns(s, form, peak_unit, dial_unit(s, p), columns);
    pl_text t;

    pl_text_init(&t, a);
    put_header(&t, columns, n);
    switch (form) {
    case PL_FORM_BOARDS:
        put_boards(&t, columns, n, p);
        break;
    case PL_FORM_SESSIONS:
        put_sessions(&t, columns, n, s, p);
        break;
    case PL_FORM_GLUE_UPS:
        put_glue_ups(&t, columns, n, s, p);
        break;
    default:
        put_breaks(&t, columns, n, p);
        break;
    }
    return pl_text_done(&t);
}
