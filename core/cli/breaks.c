/* How each specimen broke: its load, its own area, wood or glue, and what is
 * left out and why. */
#include <math.h>
#include <string.h>

#include "cli/join.h"
#include "rigs/rigs.h"

/* Each specimen's own sizes; the nominal ones where they are missing. */
static void area_of(pl_join_work *j, const pl_specimen *x, pl_broken *b)
{
    const pl_joint *joint = &j->s->joint;
    double size[2], faces;

    b->area_m2 = joint->area_m2;
    b->nominal = true;
    if (!joint->size_names[0])
        return;
    for (int i = 0; i < 2; i++) {
        size[i] = pl_join_value(j, PL_ON_SPECIMEN, x->id, joint->size_names[i]);
        b->nominal = b->nominal && isnan(size[i]);
        if (isnan(size[i]))
            size[i] = joint->size[i].si;
    }
    faces = joint->area_m2 / (joint->size[0].si * joint->size[1].si);
    b->area_m2 = faces * size[0] * size[1];
}

/* wood_failure decides where given, the mode otherwise; mixed without a
 * percentage counts as glue. */
static void wood_of(pl_join_work *j, const pl_specimen *x, pl_broken *b)
{
    b->mode = pl_mode_of(pl_join_word(j, PL_ON_SPECIMEN, x->id, "mode"));
    if (b->mode == PL_NMODES)
        b->mode = PL_MODE_UNKNOWN;
    b->wood_share = pl_join_value(j, PL_ON_SPECIMEN, x->id, "wood_failure");
    b->wood = isnan(b->wood_share) ? b->mode == PL_MODE_WOOD
                                   : b->wood_share >= j->s->rules.counts_as_wood;
}

/* Peaks written as the breaking rig's dial become forces in one visit. */
static pl_code peaks_to_forces(pl_join_work *j)
{
    size_t n = 0, *which = PL_NEWN(j->a, j->p->nspecimen, size_t);
    double *dial = PL_NEWN(j->a, j->p->nspecimen, double);
    double *force_N = PL_NEWN(j->a, j->p->nspecimen, double);
    double *u_N = PL_NEWN(j->a, j->p->nspecimen, double);
    const char *why;
    pl_code rc;

    if (!which || !dial || !force_N || !u_N)
        return pl_nomem(&j->run->diags);
    for (size_t i = 0; i < j->p->nspecimen; i++) {
        const pl_reading *peak = pl_readings_find(j->r, PL_ON_SPECIMEN, j->p->specimens[i].id,
                                                  "peak");
        double scale, offset;

        if (!peak)
            continue;
        if (peak->unit[0] &&
            !pl_units_scale(j->a, peak->unit, PL_Q_PRESSURE, &scale, &offset, &why)) {
            which[n] = i;
            dial[n++] = peak->value;
        } else {
            j->broken[i].peak_N = peak->value;
        }
    }
    if (!n)
        return PL_OK;
    if (j->s->breaking.rig < 0 || !j->l->rigs)
        return pl_fail(&j->run->diags, PL_EDATA, j->s->name,
                       .found = pl_arena_printf(j->a, "%zu peaks as pressures on a dial", n),
                       .expected = "a breaking rig that says which force a dial reading means",
                       .mend = "name it in the study: \"breaking\": {\"rig\": ...}, and add it to "
                               "the book");
    rc = pl_rigs_forces(j->a, &j->l->rigs[j->s->breaking.rig], dial, PL_Q_PRESSURE, n, force_N, u_N,
                        &j->run->diags);
    for (size_t i = 0; i < n && !rc; i++)
        j->broken[which[i]].peak_N = force_N[i];
    return rc;
}

static void note_ids(pl_join_work *j, pl_mode mode, const char *one, const char *many)
{
    const char **ids = PL_NEWN(j->a, j->p->nspecimen, const char *);
    size_t n = 0;

    for (size_t i = 0; ids && i < j->p->nspecimen; i++)
        if (j->broken[i].broke && j->broken[i].mode == mode)
            ids[n++] = j->p->specimens[i].id;
    if (n)
        pl_join_note(j, pl_arena_printf(j->a, "%s %s", pl_text_list(j->a, ids, n, "and"),
                                        n == 1 ? one : many));
}

static void note_breaks(pl_join_work *j, size_t nominal, size_t mixed, size_t waiting)
{
    const char **ids = PL_NEWN(j->a, j->p->nspecimen, const char *);
    size_t wood = 0, counted = 0;

    for (size_t i = 0; ids && i < j->p->nspecimen; i++) {
        counted += j->broken[i].counts;
        if (j->broken[i].counts && j->broken[i].wood)
            ids[wood++] = j->p->specimens[i].id;
    }
    if (wood)
        pl_join_note(
            j, pl_arena_printf(j->a,
                               "%zu of %zu joints broke in the wood%s%s: for the joint their loads "
                               "count as they are; of the glue line they say only that it was "
                               "stronger",
                               wood, counted, wood <= 6 ? ": " : "",
                               wood <= 6 ? pl_text_list(j->a, ids, wood, "and") : ""));
    note_ids(j, PL_MODE_HANDLING,
             "broke in handling: not in the curve; it counts as weaker than anything that was read",
             "broke in handling: not in the curve; they count as weaker than anything that was "
             "read");
    note_ids(j, PL_MODE_FIXTURE, "slipped in the fixture: not a result of the joint, left out",
             "slipped in the fixture: not results of the joint, left out");
    note_ids(j, PL_MODE_NOT_BROKEN,
             "was not broken: its load counts as it is, as the least it held",
             "were not broken: their loads count as they are, as the least they held");
    if (mixed)
        pl_join_note(j,
                     pl_arena_printf(j->a,
                                     "%zu mixed break%s without a wood-failure percentage: counted "
                                     "as glue",
                                     mixed, mixed == 1 ? "" : "s"));
    if (nominal)
        pl_join_note(j,
                     pl_arena_printf(j->a,
                                     "%zu of %zu joints without measured sizes: the nominal area "
                                     "is used",
                                     nominal, counted));
    if (waiting)
        pl_join_note(j, pl_arena_printf(j->a, "%zu joint%s not broken yet, or without a peak",
                                        waiting, waiting == 1 ? "" : "s"));
}

pl_code pl_join_breaks(pl_join_work *j)
{
    size_t nominal = 0, mixed = 0, waiting = 0;
    pl_code rc;

    for (size_t i = 0; i < j->p->nspecimen; i++) {
        j->broken[i] = (pl_broken){
            .peak_N = NAN, .area_m2 = NAN, .wood_share = NAN, .least_N = NAN, .most_N = NAN
        };
        area_of(j, &j->p->specimens[i], &j->broken[i]);
        wood_of(j, &j->p->specimens[i], &j->broken[i]);
    }
    rc = peaks_to_forces(j);
    if (!rc)
        rc = pl_join_held(j);
    if (rc)
        return rc;
    pl_join_invalid(j);
    for (size_t i = 0; i < j->p->nspecimen; i++) {
        pl_broken *b = &j->broken[i];

        if (j->p->specimens[i].spare)
            continue;
        b->broke = !isnan(b->peak_N) || b->mode != PL_MODE_UNKNOWN;
        b->counts = !j->out[i] && !b->invalid && !isnan(b->peak_N) && b->mode != PL_MODE_HANDLING &&
                    b->mode != PL_MODE_FIXTURE;
        nominal += b->counts && b->nominal;
        mixed += b->counts && b->mode == PL_MODE_MIXED && isnan(b->wood_share);
        waiting += !b->counts && !j->out[i] && !b->invalid && b->mode != PL_MODE_HANDLING &&
                   b->mode != PL_MODE_FIXTURE;
    }
    note_breaks(j, nominal, mixed, waiting);
    return j->rc;
}
