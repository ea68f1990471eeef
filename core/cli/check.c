/* platen check: reads a study, explains it back, refuses and advises. */
#include "cli/load.h"
#include "cli/plan.h"
#include "design/plan_make.h"

static void add_set_points(pl_run *run, const pl_study *s, const pl_set_points *points)
{
    pl_jval *list = pl_jadd_array(run->answer, "set_points");
    const pl_factor *f = points ? &s->factors[pl_study_pressed(s)] : NULL;

    for (size_t i = 0; points && i < points->nlevel; i++) {
        pl_jval *o = pl_jadd_object(list, NULL);
        const pl_set_point *p;

        pl_jadd_text(o, "level", f->levels[i].text);
        if (points->chosen[i] < 0) {
            pl_jadd_null(o, "rig");
            continue;
        }
        p = pl_set_points_at(points, i, (size_t)points->chosen[i]);
        pl_jadd_text(o, "rig", p->rig);
        pl_jadd_number(o, "value", p->dial);
        pl_jadd_text(o, "unit", p->dial_unit);
        pl_jadd_number(o, "gives", p->gives_N / points->area_m2);
        pl_jadd_number(o, "uncertainty", p->u_N / points->area_m2);
    }
}

static void say_set_points(pl_run *run, const pl_study *s, const pl_set_points *points)
{
    const pl_factor *f = points ? &s->factors[pl_study_pressed(s)] : NULL;
    pl_text *t = &run->text;

    if (!points)
        return;
    pl_text_put(t, "\nOn your rigs:\n");
    for (size_t i = 0; i < points->nlevel; i++) {
        const pl_set_point *p;
        pl_arena *a = run->arena;

        pl_text_add(t, "  %-12s ", f->levels[i].text);
        if (points->chosen[i] < 0) {
            pl_text_put(t, "no rig makes it\n");
            continue;
        }
        p = pl_set_points_at(points, i, (size_t)points->chosen[i]);
        pl_text_add(t, "%s: ", p->rig);
        if (p->nparts)
            pl_text_add(t, "stack %s", pl_text_list(a, p->parts, p->nparts, "and"));
        else
            pl_text_add(t, "%s %s", pl_text_number(a, p->dial, 4), p->dial_unit);
        pl_text_add(t, ", gives %s, give or take %s\n",
                    pl_units_text(a, p->gives_N / points->area_m2, PL_Q_PRESSURE, f->unit, 3),
                    pl_units_text(a, p->u_N / points->area_m2, PL_Q_PRESSURE, f->unit, 2));
    }
}

/* A design that was asked for: is there such a one, and what does it mix up? Drawn with the
 * seed 0, which what is said here does not depend on. */
static pl_code say_design(pl_run *run, const pl_loaded *l)
{
    const pl_study *s = l->study;
    const pl_plan *p;
    pl_code rc;

    if (s->arrangement.kind == PL_ARRANGE_AUTO || !s->glue_ups_per_level)
        return PL_OK;
    rc = pl_plan_make(run->arena, s, l->points, s->glue_ups_per_level, 0, NULL, &p, &run->diags);
    if (rc)
        return rc;
    pl_jadd_text(run->answer, "design", p->chosen);
    pl_text_add(&run->text, "\nDesign: %s.\n", p->chosen);
    pl_say_aliases(run, p);
    return PL_OK;
}

static pl_code run_check(pl_run *run)
{
    pl_loaded l;
    pl_code rc = pl_load(run, run->args[0], PL_LOAD_RIGS | PL_LOAD_POINTS | PL_LOAD_ASKED, &l);

    if (rc)
        return rc;
    pl_jadd_text(run->answer, "words", pl_study_words(run->arena, l.study));
    add_set_points(run, l.study, l.points);
    pl_text_put(&run->text, pl_study_words(run->arena, l.study));
    say_set_points(run, l.study, l.points);
    rc = pl_study_advise(run->arena, l.study, l.points, &run->diags);
    return rc ? rc : say_design(run, &l);
}

const pl_verb pl_verb_check = {
    .name = "check",
    .args = "STUDY",
    .summary = "read a study, explain it back, refuse and advise",
    .words = "Reads a study file, says back in words what it asks for, refuses what is wrong (all\n"
             "faults in one run) and gives advice where a figure is doubtful.",
    .examples = "check stair-lap.json\n",
    .least_args = 1,
    .most_args = 1,
    .run = run_check,
};
