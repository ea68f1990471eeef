/* Getting at studies, plans and rigs. A study argument is a file, or a name in
 * the book; once frozen, what was made comes from the book and what is asked
 * comes from the file. */
#include "cli/load.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "base/file.h"
#include "rigs/rigs.h"

static pl_code open_book(pl_run *run, pl_loaded *out)
{
    pl_code rc;

    if (!pl_file_exists(run->book))
        return PL_OK;
    rc = pl_book_open(run->arena, run->book, PL_BOOK_READ, &out->book, &run->diags);
    if (!rc)
        rc = pl_book_last_entry(out->book, &out->seen, &run->diags);
    if (!rc) /* what another run writes from here on is not half seen */
        pl_book_as_of(out->book, run->as_of ? run->as_of : out->seen);
    return rc;
}

static bool same_factors(const pl_study *a, const pl_study *b)
{
    if (a->nfactor != b->nfactor)
        return false;
    for (size_t i = 0; i < a->nfactor; i++)
        if (strcmp(a->factors[i].name, b->factors[i].name))
            return false;
    return true;
}

static bool same_text(const pl_study *a, const pl_study *b)
{
    return a->length == b->length && !memcmp(a->text, b->text, a->length);
}

/* What was frozen with what is asked now: question, rules, responses, curves and units to
 * show come from the file. */
static pl_code merge(pl_run *run, const pl_study *file, pl_loaded *out)
{
    pl_study *both;

    if (same_text(file, out->frozen)) {
        out->study = out->frozen;
        return PL_OK;
    }
    pl_remark(
        &run->diags, file->root->doc->name,
        .found = pl_arena_printf(run->arena, "a study that differs from revision %u in the book",
                                 out->plan->revision),
        .mend = "factors, joint, boards, presses and arrangement are taken from the revision; "
                "question, rules, responses, model and units to show from this file");
    if (!same_factors(file, out->frozen))
        return pl_fail(&run->diags, PL_ECONFLICT, file->root->doc->name, .pointer = "/factors",
                       .found = "other factors than the plan was made for",
                       .expected = "the same factors, in the same order",
                       .mend = "give another study name to another plan");
    both = PL_NEW(run->arena, pl_study);
    if (!both)
        return pl_nomem(&run->diags);
    *both = *out->frozen;
    both->question = file->question;
    both->rules = file->rules;
    both->curves = file->curves;
    both->ncurve = file->ncurve;
    both->randoms = file->randoms;
    both->nrandom = file->nrandom;
    both->in_proportion = file->in_proportion;
    both->show_in = file->show_in;
    both->nshow_in = file->nshow_in;
    both->others = file->others;
    both->nother = file->nother;
    both->covariates = file->covariates;
    both->ncovariate = file->ncovariate;
    both->scatter = file->scatter;
    out->study = both;
    out->asked = file;
    return PL_OK;
}

static pl_code load_frozen(pl_run *run, const char *name, pl_loaded *out)
{
    size_t before = run->diags.count;

    if (!out->book || !pl_book_has(out->book, name, &run->diags))
        return pl_diags_code(&run->diags, before);
    return pl_book_plan(run->arena, out->book, name, 0, &out->frozen, &out->plan, &run->diags);
}

static pl_code load_study(pl_run *run, const char *arg, bool asked, pl_loaded *out)
{
    const pl_study *file = NULL;
    pl_code rc;

    if (run->as_of) {
        rc = run->asked ? pl_study_parse(run->arena, arg, run->asked, strlen(run->asked), &file,
                                         &run->diags)
                        : PL_OK;
        if (rc)
            return rc;
    } else if (pl_file_exists(arg)) {
        rc = pl_study_read(run->arena, arg, &file, &run->diags);
        if (rc)
            return rc;
    }
    rc = open_book(run, out);
    if (!rc)
        rc = load_frozen(run, file ? file->name : arg, out);
    if (rc)
        return rc;
    if (file && out->frozen && !asked)
        return merge(run, file, out);
    if (file && out->frozen && !same_text(file, out->frozen))
        pl_remark(&run->diags, arg,
                  .found = pl_arena_printf(run->arena,
                                           "a study that differs from revision %u in "
                                           "the book",
                                           out->plan->revision),
                  .mend = "the book goes by its revision until this file is planned");
    out->study = file ? file : out->frozen;
    if (out->study)
        return PL_OK;
    return pl_fail(
        &run->diags, PL_ENOFILE, arg, .found = "neither a file nor a study in the book",
        .expected = "a study file, or the name of a study that was planned",
        .mend = out->book
                    ? pl_arena_printf(run->arena, "see: platen book list --book %s", run->book)
                    : pl_arena_printf(run->arena, "there is no book at %s", run->book));
}

/* -------------------------------------------------------------- rigs ------- */

static pl_code rig_of(pl_run *run, const pl_loaded *l, const pl_rig_ref *ref, bool need,
                      pl_rig *out, bool *found)
{
    const pl_book_rig *kept = NULL;
    const pl_json *object;
    pl_code rc;

    *found = true;
    if (ref->written)
        return pl_rig_from_json(run->arena, ref->written, out, &run->diags);
    if (l->book) {
        rc = pl_book_rig_get(run->arena, l->book, ref->name, &kept, &run->diags);
        if (rc)
            return rc;
    }
    if (kept) {
        rc = pl_json_parse(run->arena, pl_arena_printf(run->arena, "rig %s", ref->name), kept->text,
                           strlen(kept->text), &object, &run->diags);
        return rc ? rc : pl_rig_from_json(run->arena, object, out, &run->diags);
    }
    *found = false;
    if (need)
        return pl_fail(&run->diags, PL_EKEY, run->book,
                       .found = pl_arena_printf(run->arena, "no rig \"%s\" in the book", ref->name),
                       .expected = "every rig that the study names",
                       .mend = pl_arena_printf(run->arena,
                                               "platen rig add %s.json, or write the "
                                               "rig out in the study",
                                               ref->name));
    pl_advise(&run->diags, run->book,
              .found = pl_arena_printf(run->arena, "no rig \"%s\" in the book", ref->name),
              .mend = pl_arena_printf(run->arena,
                                      "platen rig add %s.json: until then its pressures "
                                      "are not checked",
                                      ref->name));
    return PL_OK;
}

static pl_code load_rigs(pl_run *run, bool need, pl_loaded *out)
{
    const pl_study *s = out->study;
    pl_rig *rigs = PL_NEWN(run->arena, s->nrig, pl_rig);
    bool all = true;
    pl_code rc = PL_OK;

    if (!rigs)
        return pl_nomem(&run->diags);
    for (size_t i = 0; i < s->nrig; i++) {
        bool found = false;
        pl_code one = rig_of(run, out, &s->rigs[i], need, &rigs[i], &found);

        if (!one && s->rigs[i].written) /* one of the shop was looked at when it was added */
            one = pl_rigs_check(run->arena, &rigs[i], &run->diags);
        if (!rc)
            rc = one;
        all = all && found;
    }
    if (!rc && all && s->nrig)
        out->rigs = rigs;
    return rc;
}

/* A limit that the rig file states, "rated" or the dial's "to", as a force; NAN
 * when it states none or only the plugin could tell. */
static double stated_limit_N(pl_run *run, const pl_rig *rig, const pl_json *stated)
{
    pl_quantity_kind dial = pl_rigs_dial_kind(run->arena, rig);
    const char *why;
    pl_diags unsaid; /* faults of a rig are said when it is checked */
    pl_dim dim;
    double force_N, u_N;

    if (!stated || stated->kind != PL_JSON_STRING)
        return NAN;
    if (!pl_units_read(run->arena, stated->string, PL_Q_FORCE, &dim, &why))
        return dim.si;
    if (dial == PL_Q_NONE || pl_units_read(run->arena, stated->string, dial, &dim, &why))
        return NAN;
    pl_diags_init(&unsaid, run->arena);
    if (pl_rigs_forces(run->arena, rig, &dim.si, dial, 1, &force_N, &u_N, &unsaid))
        return NAN;
    return force_N;
}

/* What the breaking rig can bear or show at most. */
static pl_code add_breaking_limit(pl_run *run, const pl_study *s, const pl_rig *rigs,
                                  pl_set_points *points)
{
    double *most_N = PL_NEWN(run->arena, s->nrig, double);
    const pl_rig *rig;
    const pl_json *dial;

    if (!most_N)
        return pl_nomem(&run->diags);
    for (size_t i = 0; i < s->nrig; i++)
        most_N[i] = NAN;
    if (s->breaking.rig >= 0) {
        rig = &rigs[s->breaking.rig];
        dial = pl_json_get(rig->written, "dial");
        most_N[s->breaking.rig] = fmin(
            stated_limit_N(run, rig, pl_json_get(rig->written, "rated")),
            stated_limit_N(run, rig, dial ? pl_json_get(dial, "to") : NULL));
    }
    points->most_N = most_N;
    return PL_OK;
}

pl_code pl_load_points(pl_run *run, const pl_study *s, const pl_rig *rigs, pl_set_points **out)
{
    int pressed = pl_study_pressed(s);
    const pl_factor *f = pressed >= 0 ? &s->factors[pressed] : NULL;
    pl_set_points *points;
    double *force_N;
    pl_code rc;

    *out = NULL;
    if (!f || f->set_by != PL_SET_BY_PRESS || !rigs)
        return PL_OK;
    points = PL_NEW(run->arena, pl_set_points);
    force_N = PL_NEWN(run->arena, f->nlevel, double);
    if (!points || !force_N)
        return pl_nomem(&run->diags);
    for (size_t i = 0; i < f->nlevel; i++)
        force_N[i] = f->levels[i].si * s->joint.press_area_m2;
    *out = points;
    rc = pl_rigs_set_points(run->arena, rigs, s->nrig, force_N, f->nlevel, s->joint.press_area_m2,
                            points, &run->diags);
    return rc || points->most_N ? rc : add_breaking_limit(run, s, rigs, points);
}

/* One run may load several studies: the machine's zone is kept from the first on. */
static void set_zone(const pl_study *s)
{
    static char machine[200];
    static bool kept, had;
    const char *now = getenv("TZ");

    if (!kept && now)
        snprintf(machine, sizeof machine, "%s", now);
    had = kept ? had : now != NULL;
    kept = true;
    if (s->times.zone)
        setenv("TZ", s->times.zone, 1);
    else if (had)
        setenv("TZ", machine, 1);
    else
        unsetenv("TZ");
    tzset();
}

static void add_answer(pl_run *run, const pl_loaded *l, bool drawn)
{
    pl_jadd_text(run->answer, "study", l->study->name);
    if (l->plan && !drawn)
        pl_jadd_whole(run->answer, "revision", l->plan->revision);
    else if (!drawn)
        pl_jadd_null(run->answer, "revision");
}

pl_code pl_load(pl_run *run, const char *arg, unsigned what, pl_loaded *out)
{
    pl_code rc;

    *out = (pl_loaded){ 0 };
    rc = load_study(run, arg, what & PL_LOAD_ASKED, out);
    if (rc)
        return rc;
    set_zone(out->study);
    if (!(what & PL_LOAD_UNSAID))
        add_answer(run, out, what & PL_LOAD_DRAWN);
    if ((what & PL_LOAD_PLAN) && !out->plan)
        return pl_fail(&run->diags, PL_EDATA, out->study->name,
                       .found = pl_arena_printf(run->arena, "no plan of it in %s", run->book),
                       .expected = "a study that was planned",
                       .mend = pl_arena_printf(run->arena, "platen plan %s", arg));
    if (what & (PL_LOAD_RIGS | PL_LOAD_POINTS | PL_LOAD_NEED_RIGS))
        rc = load_rigs(run, what & PL_LOAD_NEED_RIGS, out);
    if (!rc && (what & PL_LOAD_POINTS))
        rc = pl_load_points(run, out->study, out->rigs, &out->points);
    return rc;
}
