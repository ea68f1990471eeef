/* The battery for pressing and the way back. Records are try_records.c's. */
#include "rigs/try.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

#include "rigs/try_inner.h"

/* Forces asked for: a shop's whole range and far beyond, evenly in the logarithm. */
#define NFORCE 121
#define LEAST_N 1e-3
#define MOST_N 1e9

pl_code pl_try_note(pl_try *t, const char *name, const char *found, const char *expected)
{
    pl_trials *out = t->out;

    if (!name || !found)
        return pl_nomem(t->d);
    if (out->count == out->room) {
        size_t room = out->room ? 2 * out->room : 32;
        pl_trial *items = pl_arena_grow(t->a, out->items, out->count, room, sizeof *items);

        if (!items)
            return pl_nomem(t->d);
        out->items = items;
        out->room = room;
    }
    out->items[out->count++] = (pl_trial){ name, !found[0], found, found[0] ? expected : "" };
    out->failed += found[0] != '\0';
    return PL_OK;
}

pl_code pl_try_failed(pl_try *t, pl_code code, const char *name, const pl_diags *found)
{
    const char *what = "the plugin failed";

    if (code != PL_EPLUGIN)
        return code;
    for (size_t i = 0; i < found->count; i++)
        if (found->items[i].code == PL_EPLUGIN)
            what = found->items[i].found;
    return pl_try_note(t, name, what, "an answer");
}

/* "at 120 N: what" */
static const char *at_force(pl_try *t, double force_N, const char *what)
{
    return pl_arena_printf(t->a, "at %s N: %s", pl_text_number(t->a, force_N, 4), what);
}

/* *answered false: the plugin failed, which is noted. */
static pl_code ask(pl_try *t, const double *force_N, size_t n, pl_set_points *out, bool *answered)
{
    pl_diags quiet;
    pl_code rc;

    pl_diags_init(&quiet, t->a);
    rc = pl_rigs_set_points(t->a, t->rig, 1, force_N, n, 1e-3, out, &quiet);
    *answered = !rc;
    return pl_try_failed(t, rc, "it answers when it is asked for set points", &quiet);
}

static const char *fault_of_point(pl_try *t, const pl_set_point *p, const pl_set_point *before)
{
    if (!p->can)
        return p->reason && p->reason[0] ? NULL : "refused without a reason";
    if (!(p->u_N > 0))
        return "no uncertainty";
    if (!before)
        return NULL;
    if (p->gives_N < before->gives_N)
        return "gives less than for a smaller force";
    (void)t;
    return !isnan(p->dial) && p->dial < before->dial ? "a lower reading than for a smaller force"
                                                     : NULL;
}

static pl_code try_points(pl_try *t, const double *force_N, const pl_set_points *points)
{
    const pl_set_point *before = NULL;
    const char *found = "";
    size_t can = 0;
    pl_code rc;

    for (size_t i = 0; i < NFORCE && !found[0]; i++) {
        const char *fault = fault_of_point(t, &points->at[i], before);

        if (fault)
            found = at_force(t, force_N[i], fault);
        if (points->at[i].can) {
            before = &points->at[i];
            can++;
        }
    }
    rc = pl_try_note(t, "set points rise with the force, each with its uncertainty or a reason",
                     found, "a rising set point, or a reason why not");
    if (!rc)
        rc = pl_try_note(t, "there is a force that it presses",
                         can ? "" : "every force was refused", "some that it can");
    if (!rc)
        rc = pl_try_note(t, "a force beyond all rigs is refused",
                         points->at[NFORCE - 1].can ? "1e9 N was accepted" : "", "a refusal");
    return rc;
}

static uint64_t bits(double x)
{
    uint64_t u;

    memcpy(&u, &x, sizeof u);
    return u;
}

static pl_code try_again(pl_try *t, const double *force_N, const pl_set_points *first)
{
    const char *found = "";
    pl_set_points second;
    bool answered;
    pl_code rc = ask(t, force_N, NFORCE, &second, &answered);

    if (rc || !answered)
        return rc;
    for (size_t i = 0; i < NFORCE && !found[0]; i++) {
        const pl_set_point *x = &first->at[i], *y = &second.at[i];

        if (x->can != y->can ||
            (x->can && (bits(x->gives_N) != bits(y->gives_N) || bits(x->u_N) != bits(y->u_N))))
            found = at_force(t, force_N[i], "another answer than before");
    }
    return pl_try_note(t, "the same question has the same answer, bit for bit", found,
                       "the same set point");
}

/* Readings of the set points go back through the dial. */
static pl_code try_back(pl_try *t, const double *force_N, const pl_set_points *points,
                        pl_quantity_kind kind)
{
    double dial[NFORCE], gives[NFORCE], back[NFORCE], u[NFORCE], scale, offset;
    const char *found = "", *why;
    pl_diags quiet;
    size_t n = 0, at[NFORCE];
    pl_code rc;

    pl_diags_init(&quiet, t->a);
    for (size_t i = 0; i < NFORCE; i++) {
        const pl_set_point *p = &points->at[i];

        if (!p->can || isnan(p->dial) ||
            pl_units_scale(t->a, p->dial_unit, kind, &scale, &offset, &why))
            continue;
        dial[n] = p->dial * scale + offset;
        gives[n] = p->gives_N;
        at[n++] = i;
    }
    if (!n)
        return PL_OK;
    rc = pl_rigs_forces(t->a, t->rig, dial, kind, n, back, u, &quiet);
    for (size_t k = 0; k < n && !rc && !found[0]; k++)
        if (!(fabs(back[k] - gives[k]) <= 1e-9 * gives[k]))
            found = at_force(
                t, force_N[at[k]],
                pl_arena_printf(t->a, "gives %.10g N there, %.10g N back", gives[k], back[k]));
    if (rc)
        found = "a reading of its own was refused";
    return rc == PL_ENOMEM || rc == PL_EPLUGIN
               ? rc
               : pl_try_note(t, "from force to dial and back is the same force", found,
                             "the force that the set point gives");
}

static pl_code try_pressing(pl_try *t)
{
    double force_N[NFORCE];
    pl_quantity_kind kind = pl_rigs_dial_kind(t->a, t->rig);
    pl_set_points points;
    bool answered;
    pl_code rc;

    for (int i = 0; i < NFORCE; i++)
        force_N[i] = LEAST_N * pow(MOST_N / LEAST_N, i / (NFORCE - 1.0));
    rc = ask(t, force_N, NFORCE, &points, &answered);
    if (rc || !answered)
        return rc;
    rc = try_points(t, force_N, &points);
    if (!rc)
        rc = try_again(t, force_N, &points);
    if (!rc && t->kind.reads_back && kind != PL_Q_NONE)
        rc = try_back(t, force_N, &points, kind);
    return rc;
}

pl_code pl_rigs_try(pl_arena *a, const pl_rig *rig, const char *const *records, size_t nrecord,
                    pl_trials *out, pl_diags *d)
{
    pl_try t = { .a = a, .rig = rig, .out = out, .d = d };
    pl_code rc = pl_rigs_kind(a, rig->kind, &t.kind, d);

    *out = (pl_trials){ .us_per_row = NAN };
    if (!rc)
        rc = pl_rigs_check(a, rig, d);
    if (!rc)
        rc = pl_try_note(&t, "the plugin loads and the rig file fits what it declares", "", "");
    if (!rc && t.kind.presses)
        rc = try_pressing(&t);
    if (!rc && t.kind.reads_files)
        rc = pl_try_records(&t, records, nrecord);
    return rc;
}
