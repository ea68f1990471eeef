/* What each glue-up was really pressed at: dials through the rig, weights as
 * planned, or what somebody wrote down; and what went otherwise than planned.
 * One visit to a child for each rig. */
#include <math.h>
#include <string.h>

#include "bench/forms.h"
#include "cli/join.h"
#include "rigs/rigs.h"

/* A dial that fell by more from start to end of pressing is flagged. Common
 * practice, no source. */
#define DIAL_FALL_MOST 0.10
/* Without an accept band, a pressure off by more than this is spoken of.
 * Common practice, no source. */
#define OFF_SET_POINT 0.10

static int rig_by_name(const pl_study *s, const char *name)
{
    for (size_t i = 0; i < s->nrig; i++)
        if (!strcmp(s->rigs[i].name, name))
            return (int)i;
    return -1;
}

static int pressed_level(const pl_join_work *j, const pl_glue_up *g)
{
    return j->p->treatments[g->treatment * j->p->nfactor + (size_t)pl_study_pressed(j->s)];
}

static const pl_set_point *set_point(const pl_join_work *j, const pl_glue_up *g, int rig)
{
    if (!j->p->points.at || rig < 0)
        return NULL;
    return pl_set_points_at(&j->p->points, (size_t)pressed_level(j, g), (size_t)rig);
}

static void look_at_dial(pl_join_work *j, const pl_glue_up *g, pl_made *m)
{
    double start = pl_join_value(j, PL_ON_GLUE_UP, g->label, "dial_at_start");
    double end = pl_join_value(j, PL_ON_GLUE_UP, g->label, "dial_at_end"), zero;
    const char *rig = pl_join_word(j, PL_ON_GLUE_UP, g->label, "rig");
    const pl_reading *session = pl_readings_find(j->r, PL_ON_GLUE_UP, g->label, "session");
    const char *on_rig;
    unsigned number = session && session->value >= 1 ? (unsigned)session->value : g->session;

    m->rig = rig[0] ? rig_by_name(j->s, rig) : g->rig;
    if (m->rig < 0)
        return;
    on_rig = pl_session_rig_id(j->a, number, j->s->rigs[m->rig].name);
    if (!on_rig)
        return; /* pl_join sees what the arena refused */
    zero = pl_join_value(j, PL_ON_SESSION, on_rig, "dial_no_load");
    if (start - end > DIAL_FALL_MOST * start)
        pl_join_note(
            j, pl_arena_printf(j->a, "%s: the dial fell by %s %% while pressed; the mean is used",
                               g->label, pl_text_number(j->a, 100 * (start - end) / start, 2)));
    m->dial = isnan(start) ? end : isnan(end) ? start : (start + end) / 2;
    m->dial -= isnan(zero) ? 0 : zero;
}

/* All dial readings of one rig in one visit. */
static pl_code dials_to_forces(pl_join_work *j, int rig)
{
    size_t n = 0, *which = PL_NEWN(j->a, j->p->nglue_up, size_t);
    double *dial = PL_NEWN(j->a, j->p->nglue_up, double);
    double *force_N = PL_NEWN(j->a, j->p->nglue_up, double);
    double *u_N = PL_NEWN(j->a, j->p->nglue_up, double);
    pl_quantity_kind kind = pl_rigs_dial_kind(j->a, &j->l->rigs[rig]);
    pl_code rc;

    if (!which || !dial || !force_N || !u_N)
        return pl_nomem(&j->run->diags);
    for (size_t i = 0; i < j->p->nglue_up; i++)
        if (j->made[i].rig == rig && !isnan(j->made[i].dial)) {
            which[n] = i;
            dial[n++] = j->made[i].dial;
        }
    if (!n)
        return PL_OK;
    rc = pl_rigs_forces(j->a, &j->l->rigs[rig], dial, kind == PL_Q_NONE ? PL_Q_FORCE : kind, n,
                        force_N, u_N, &j->run->diags);
    for (size_t i = 0; i < n && !rc; i++)
        j->made[which[i]].applied_Pa = force_N[i] / j->s->joint.press_area_m2;
    return rc;
}

/* Both dials blank: as planned for dead weights, unknown otherwise. */
static void applied_without_dial(pl_join_work *j, const pl_glue_up *g, pl_made *m)
{
    const pl_set_point *point = set_point(j, g, m->rig);

    if (!isnan(m->dial))
        return;
    if (point && point->can && !point->dial_unit[0])
        m->applied_Pa = point->gives_N / j->s->joint.press_area_m2;
}

/* What was really made, where somebody wrote it down. */
static void applied_as_noted(pl_join_work *j, const pl_glue_up *g, pl_made *m)
{
    const char *text = pl_join_word(j, PL_ON_GLUE_UP, g->label, "made_as"), *why;
    pl_dim pressure;

    if (!strcmp(text, PL_APPLIED_UNKNOWN))
        m->applied_Pa = NAN;
    else if (text[0] && !pl_units_read(j->a, text, PL_Q_PRESSURE, &pressure, &why))
        m->applied_Pa = pressure.si;
}

static void compare_with_plan(pl_join_work *j, const pl_glue_up *g, const pl_made *m)
{
    const pl_factor *f = &j->s->factors[pl_study_pressed(j->s)];
    const pl_level *meant = &f->levels[pressed_level(j, g)];
    const pl_set_point *p = set_point(j, g, m->rig);
    double gives = p && p->can ? p->gives_N / j->s->joint.press_area_m2 : meant->si;

    if (isnan(m->applied_Pa) || fabs(m->applied_Pa - gives) <= OFF_SET_POINT * gives)
        return;
    pl_join_note(j, pl_arena_printf(j->a, "%s: meant %s, made %s; counted at what was made",
                                    g->label, meant->text,
                                    pl_units_text(j->a, m->applied_Pa, PL_Q_PRESSURE, f->unit, 2)));
}

static void look_at_times(pl_join_work *j, const pl_glue_up *g)
{
    double spread = pl_join_value(j, PL_ON_GLUE_UP, g->label, "spread_at");
    double closed = pl_join_value(j, PL_ON_GLUE_UP, g->label, "closed_at");
    double limit = j->s->adhesive.open_time_limit_s;

    if (isnan(spread) || isnan(closed) || isnan(limit) || closed - spread <= limit)
        return;
    pl_join_note(j, pl_arena_printf(j->a, "%s: closed %s min after spreading; the limit is %s min",
                                    g->label, pl_text_number(j->a, (closed - spread) / 60, 3),
                                    pl_text_number(j->a, limit / 60, 3)));
}

pl_code pl_join_applied(pl_join_work *j)
{
    size_t unknown = 0, glued = 0;
    bool pressed = pl_study_pressed(j->s) >= 0;

    for (size_t i = 0; i < j->p->nglue_up; i++) {
        j->made[i] = (pl_made){ NAN, NAN, -1 };
        if (!j->p->glue_ups[i].spare)
            look_at_dial(j, &j->p->glue_ups[i], &j->made[i]);
    }
    for (size_t r = 0; r < j->s->nrig && j->l->rigs; r++) {
        pl_code rc = dials_to_forces(j, (int)r);

        if (rc)
            return rc;
    }
    for (size_t i = 0; i < j->p->nglue_up; i++) {
        const pl_glue_up *g = &j->p->glue_ups[i];

        if (g->spare)
            continue;
        look_at_times(j, g);
        if (!pressed)
            continue;
        applied_without_dial(j, g, &j->made[i]);
        applied_as_noted(j, g, &j->made[i]);
        compare_with_plan(j, g, &j->made[i]);
        glued++;
        unknown += isnan(j->made[i].applied_Pa) ? 1 : 0;
    }
    if (unknown)
        pl_join_note(j,
                     pl_arena_printf(j->a,
                                     "%zu of %zu glue-ups have no pressure that is known: they are "
                                     "in the level means, not in the curves",
                                     unknown, glued));
    return j->rc;
}
