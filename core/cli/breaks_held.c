/* What each joint held, from and to, and which results a rule of the study makes invalid. Peaks,
 * modes and what counts are breaks.c's. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/join.h"
#include "rigs/dial.h"
#include "rigs/rigs.h"

/* ---- between two marks ---- */

/* One end of "2.4..2.6", in the header's unit or its own, in SI. */
static bool read_end(const pl_join_work *j, const char *text, const char *unit, double *si)
{
    char *copy = pl_arena_str(j->a, text), *end;
    double number, scale, offset;
    const char *why;
    pl_dim dim;

    if (!copy)
        return false;
    for (char *c = copy; *c; c++)
        *c = *c == ',' ? '.' : *c;
    number = strtod(copy, &end);
    if (end == copy)
        return false;
    end += strspn(end, " ");
    for (int k = 0; k < 2; k++) {
        pl_quantity_kind kind = k ? PL_Q_PRESSURE : PL_Q_FORCE;

        if (*end && !pl_units_read(j->a, copy, kind, &dim, &why)) {
            *si = dim.si;
            return true;
        }
        if (!*end && !pl_units_scale(j->a, unit, kind, &scale, &offset, &why)) {
            *si = number * scale + offset;
            return true;
        }
    }
    return false;
}

/* Both ends of a peak read between two marks; false: it is one figure. */
static bool read_interval(const pl_join_work *j, const pl_reading *peak, double *low, double *high)
{
    char *text = pl_arena_str(j->a, peak->text), *dots = text ? strstr(text, "..") : NULL;

    if (!dots)
        return false;
    *dots = '\0';
    dots += 2;
    dots += strspn(dots, " ");
    return read_end(j, text, peak->unit, low) && read_end(j, dots, peak->unit, high) &&
           *low <= *high;
}

/* Forces of readings of the breaking rig's dial; what it cannot have is NAN, and is said of the
 * peak already. */
static pl_code to_forces(pl_join_work *j, pl_quantity_kind kind, double *values, size_t n)
{
    double *u = PL_NEWN(j->a, n, double), *force = PL_NEWN(j->a, n, double);
    pl_diags quiet;
    pl_code rc;

    if (!u || !force)
        return pl_nomem(&j->run->diags);
    pl_diags_init(&quiet, j->a);
    rc = pl_rigs_forces(j->a, &j->l->rigs[j->s->breaking.rig], values, kind, n, force, u, &quiet);
    for (size_t i = 0; i < n; i++)
        values[i] = rc ? NAN : force[i];
    return rc == PL_ENOMEM ? pl_nomem(&j->run->diags) : PL_OK;
}

static pl_code read_intervals(pl_join_work *j)
{
    size_t n = 0, *which = PL_NEWN(j->a, j->p->nspecimen, size_t);
    double *ends = PL_NEWN(j->a, 2 * j->p->nspecimen, double);
    pl_code rc = PL_OK;

    if (!which || !ends)
        return pl_nomem(&j->run->diags);
    for (size_t i = 0; i < j->p->nspecimen; i++) {
        pl_broken *b = &j->broken[i];
        const pl_reading *peak = pl_readings_find(j->r, PL_ON_SPECIMEN, j->p->specimens[i].id,
                                                  "peak");
        double low, high, scale, offset;
        const char *why;

        b->least_N = b->most_N = b->peak_N;
        if (!peak || isnan(b->peak_N) || !read_interval(j, peak, &low, &high))
            continue;
        if (pl_units_scale(j->a, peak->unit, PL_Q_PRESSURE, &scale, &offset, &why)) {
            b->least_N = low;
            b->most_N = high;
            continue;
        }
        which[n] = i;
        ends[2 * n] = low;
        ends[2 * n++ + 1] = high;
    }
    if (n && j->s->breaking.rig >= 0 && j->l->rigs)
        rc = to_forces(j, PL_Q_PRESSURE, ends, 2 * n);
    for (size_t i = 0; i < n && !rc; i++) {
        if (!(ends[2 * i] <= ends[2 * i + 1]))
            continue;
        j->broken[which[i]].least_N = ends[2 * i];
        j->broken[which[i]].most_N = ends[2 * i + 1];
    }
    return rc;
}

/* ---- the rig's ends ---- */

/* The most that the breaking rig pulls and the least that it reads; NAN where it does not say. */
static pl_code ends_of_rig(pl_join_work *j, double *most_N, double *least_N)
{
    double ends[2];
    pl_diags quiet;
    pl_dial dial;
    pl_code rc;

    *most_N = *least_N = NAN;
    if (j->s->breaking.rig < 0 || !j->l->rigs)
        return PL_OK;
    pl_diags_init(&quiet, j->a);
    rc = pl_dial_read(j->a, j->l->rigs[j->s->breaking.rig].written, "", &dial, &quiet);
    if (rc)
        return rc == PL_ENOMEM ? pl_nomem(&j->run->diags) : PL_OK;
    ends[0] = pl_dial_most(&dial);
    ends[1] = dial.mark > 0 ? dial.mark : NAN;
    if (dial.kind == PL_Q_PRESSURE && isfinite(ends[0])) {
        size_t n = isnan(ends[1]) ? 1 : 2;

        rc = to_forces(j, PL_Q_PRESSURE, ends, n);
        if (n == 2 && !(ends[1] > 0)) /* below what moves its piston */
            ends[1] = NAN;
    } else if (dial.kind != PL_Q_FORCE) {
        ends[0] = INFINITY;
        ends[1] = NAN;
    }
    ends[0] = fmin(ends[0], dial.rated_force_N);
    *most_N = isfinite(ends[0]) && ends[0] > 0 ? ends[0] : NAN;
    *least_N = ends[1];
    return rc;
}

/* A joint that fell apart held less than anything the rig reads: one mark of its dial, or the least
 * that was read of any. */
static void bound_rest(pl_join_work *j, double most_N, double least_N)
{
    for (size_t i = 0; i < j->p->nspecimen && isnan(least_N); i++)
        if (j->broken[i].peak_N > 0 && j->broken[i].mode != PL_MODE_HANDLING)
            least_N = j->broken[i].peak_N;
    for (size_t i = 0; i < j->p->nspecimen; i++)
        if (j->broken[i].peak_N > 0 && j->broken[i].mode != PL_MODE_HANDLING)
            least_N = fmin(least_N, j->broken[i].peak_N);
    for (size_t i = 0; i < j->p->nspecimen; i++) {
        pl_broken *b = &j->broken[i];

        if (b->mode == PL_MODE_HANDLING) {
            b->least_N = -INFINITY;
            b->most_N = least_N;
        } else if (b->mode == PL_MODE_NOT_BROKEN) {
            b->least_N = isnan(b->peak_N) ? most_N : b->least_N;
            b->most_N = isnan(b->least_N) ? NAN : INFINITY;
        }
    }
}

pl_code pl_join_held(pl_join_work *j)
{
    bool rest = false;
    double most_N, least_N;
    pl_code rc = read_intervals(j);

    for (size_t i = 0; i < j->p->nspecimen; i++)
        rest = rest || j->broken[i].mode == PL_MODE_HANDLING ||
               j->broken[i].mode == PL_MODE_NOT_BROKEN;
    if (rc || !rest)
        return rc;
    rc = ends_of_rig(j, &most_N, &least_N);
    if (!rc)
        bound_rest(j, most_N, least_N);
    return rc;
}

/* ---- invalid results ---- */

static const pl_invalid *rule_of(const pl_join_work *j, const pl_broken *b)
{
    for (size_t k = 0; k < j->s->rules.ninvalid; k++) {
        const pl_invalid *r = &j->s->rules.invalid[k];
        bool fits = r->mode == PL_MODE_WOOD ? b->wood : b->mode == r->mode;

        if (fits &&
            (isnan(r->below_Pa) || (!isnan(b->peak_N) && b->peak_N / b->area_m2 < r->below_Pa)))
            return r;
    }
    return NULL;
}

/* "beech, 0.2 N/mm2: 2 of 6" */
static char *by_treatment(pl_join_work *j, const size_t *bad, const size_t *all)
{
    pl_text t;
    bool first = true;

    pl_text_init(&t, j->a);
    for (size_t k = 0; k < j->p->ntreatment; k++) {
        if (!bad[k])
            continue;
        pl_text_put(&t, first ? "" : "; ");
        first = false;
        for (size_t f = 0; f < j->p->nfactor; f++)
            pl_text_add(&t, "%s%s", f ? ", " : "",
                        j->s->factors[f].levels[j->p->treatments[k * j->p->nfactor + f]].text);
        pl_text_add(&t, ": %zu of %zu", bad[k], all[k]);
    }
    return pl_text_done(&t);
}

void pl_join_invalid(pl_join_work *j)
{
    for (size_t r = 0; r < j->s->rules.ninvalid; r++) {
        const pl_invalid *rule = &j->s->rules.invalid[r];
        size_t *bad = PL_NEWN(j->a, j->p->ntreatment, size_t), n = 0;
        size_t *all = PL_NEWN(j->a, j->p->ntreatment, size_t);
        const char *where;

        if (!bad || !all) {
            j->rc = pl_nomem(&j->run->diags);
            return;
        }
        for (size_t i = 0; i < j->p->nspecimen; i++) {
            pl_broken *b = &j->broken[i];
            size_t treatment = j->p->glue_ups[j->p->specimens[i].glue_up].treatment;

            if (j->p->specimens[i].spare || isnan(b->peak_N))
                continue;
            all[treatment]++;
            if (rule_of(j, b) != rule)
                continue;
            bad[treatment]++;
            n++;
            b->invalid = j->l->with_excluded ? NULL : rule;
        }
        where = n ? by_treatment(j, bad, all) : NULL;
        pl_join_note(
            j, n ? pl_arena_printf(j->a,
                                   "the rule \"%s\" makes %zu result%s invalid (%s): left "
                                   "out here, and the answer with %s stands beside",
                                   rule->words, n, n == 1 ? "" : "s", where ? where : "",
                                   n == 1 ? "it" : "them")
                 : pl_arena_printf(j->a, "the rule \"%s\" makes no result invalid", rule->words));
    }
}
