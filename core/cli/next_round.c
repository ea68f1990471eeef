/* The round to make next: fitted, chosen, and held against what the rigs can make. */
#include "cli/next.h"

#include <math.h>
#include <string.h>

#include "cli/study_fit.h"
#include "page/grid.h"
#include "study/grow.h"

#define TRIAL_DRAWS 40 /* days on which a choice is held against its neighbours */

static const pl_factor *over_of(const pl_next_round *r)
{
    return &r->l.frozen->factors[r->l.study->question.over];
}

const char *pl_next_level(pl_run *run, const pl_next_round *r, size_t place)
{
    const pl_factor *f = over_of(r);
    const pl_next_place *p = &r->places[place];

    for (size_t i = 0; p->level && i < f->nlevel; i++)
        if (!strcmp(f->levels[i].text, p->level))
            return f->levels[i].text;
    return pl_arena_printf(run->arena, "%s%s%s", pl_text_number(run->arena, p->x, 6),
                           f->unit ? " " : "", f->unit ? f->unit : "");
}

pl_code pl_next_take_hours(pl_run *run, const char *arg, double *press_s)
{
    const char *why = "";
    pl_dim dim;

    if (!pl_units_read(run->arena, arg, PL_Q_TIME, &dim, &why) && dim.si > 0) {
        *press_s = dim.si;
        return PL_OK;
    }
    return pl_usage(run, "--press-hours", pl_arena_printf(run->arena, "\"%s\"", arg),
                    "a time such as \"6 h\"", why);
}

/* --------------------------------------------------------------- how many -- */

static size_t longest_session(const pl_plan *p)
{
    size_t most = 0;

    for (unsigned s = 1; s <= p->nsession; s++) {
        size_t n = 0;

        for (size_t i = 0; i < p->nglue_up; i++)
            n += !p->glue_ups[i].spare && p->glue_ups[i].session == s;
        most = n > most ? n : most;
    }
    return most;
}

pl_code pl_next_glue_ups(pl_run *run, const pl_next_asked *asked, const pl_loaded *l, size_t *n)
{
    double one_s = pl_study_press_s(l->frozen, 1);

    *n = asked->glue_ups ? (size_t)asked->glue_ups : longest_session(l->plan);
    if (!(asked->press_s > 0))
        return PL_OK;
    if (isnan(one_s))
        return pl_usage(run, "--press-hours", "a study without a clamp time",
                        "times.clamp in the study, or --glue-ups N", "");
    *n = (size_t)fmin(floor(asked->press_s / one_s * (1 + 1e-12)), 1e6);
    return PL_OK;
}

static pl_code how_many(pl_run *run, const pl_next_asked *asked, pl_next_round *r)
{
    const size_t least = PL_NEXT_GLUE_UPS_LEAST * r->fit.nplateau;
    pl_code rc = pl_next_glue_ups(run, asked, &r->l, &r->glue_ups);

    if (rc)
        return rc;
    if (!asked->glue_ups && !(asked->press_s > 0) && r->glue_ups < least)
        r->glue_ups = least;
    if (r->glue_ups >= least)
        return PL_OK;
    return pl_usage(
        run, asked->press_s > 0 ? "--press-hours" : "--glue-ups",
        pl_arena_printf(run->arena, "%zu glue-up%s", r->glue_ups, r->glue_ups == 1 ? "" : "s"),
        pl_arena_printf(run->arena, "at least %zu: %d for each of %zu answers", least,
                        PL_NEXT_GLUE_UPS_LEAST, r->fit.nplateau),
        "fewer cannot tie a new day to the old ones");
}

/* ----------------------------------------------------------------- rigs ---- */

/* The study with these places' new levels, and where each place stands among its levels. */
static pl_code grow_study(pl_run *run, pl_next_round *r, const bool *wanted)
{
    const pl_study *s = r->l.frozen;
    const size_t over = (size_t)r->l.study->question.over;
    const char **more = PL_NEWN(run->arena, r->nplace, const char *);
    const pl_factor *f;
    size_t n = 0;
    pl_code rc;

    r->level_of = PL_NEWN(run->arena, r->nplace, size_t);
    if (!more || !r->level_of)
        return pl_nomem(&run->diags);
    for (size_t i = 0; i < r->nplace; i++)
        if (wanted[i] && !r->places[i].level) {
            more[n] = pl_next_level(run, r, i);
            if (!more[n++])
                return pl_nomem(&run->diags);
        }
    rc = pl_study_grow(run->arena, s, over, more, n, &r->study, &run->diags);
    if (rc)
        return rc;
    f = &r->study->factors[over];
    for (size_t i = 0; i < r->nplace; i++)
        for (size_t k = 0; wanted[i] && k < f->nlevel; k++)
            if (!strcmp(f->levels[k].text, pl_next_level(run, r, i)))
                r->level_of[i] = k;
    return pl_load_points(run, r->study, r->l.rigs, &r->points);
}

/* Leaves out the new places that no rig of the study makes. */
static pl_code drop_unmakeable(pl_run *run, pl_next_round *r)
{
    bool *all = PL_NEWN(run->arena, r->nplace, bool);
    size_t n = 0;
    pl_code rc;

    if (!all)
        return pl_nomem(&run->diags);
    for (size_t i = 0; i < r->nplace; i++)
        all[i] = true;
    rc = grow_study(run, r, all);
    if (rc || !r->points)
        return rc;
    for (size_t i = 0; i < r->nplace; i++)
        if (r->places[i].level || r->points->chosen[r->level_of[i]] >= 0)
            r->places[n++] = r->places[i];
    r->nplace = n;
    return PL_OK;
}

/* A level that the study has already is no new one, though nothing was read at it yet. */
static void know_levels(pl_next_round *r)
{
    const pl_factor *f = over_of(r);
    double scale = pl_table_find(r->fit.table, r->fit.spec->planned)->scale;

    for (size_t i = 0; i < r->nplace; i++)
        for (size_t k = 0; k < f->nlevel && !r->places[i].level; k++)
            if (fabs(f->levels[k].si - r->places[i].x * scale) <= 1e-9 * f->levels[k].si)
                r->places[i].level = f->levels[k].text;
}

static void say_waiting(pl_run *run, const pl_next_round *r)
{
    const size_t waiting = r->fit.planned > r->fit.broken ? r->fit.planned - r->fit.broken : 0;

    if (waiting)
        pl_remark(&run->diags, r->l.study->name,
                  .found = pl_arena_printf(run->arena, "%zu joint%s planned and not broken yet",
                                           waiting, waiting == 1 ? "" : "s"),
                  .mend = "nothing is counted on from them: where they are still to come, read "
                          "them first and ask again");
}

/* --------------------------------------------------------------- choice ---- */

/* Even shares; what is left over goes to the groups whose onset is known least. */
static size_t share_of(const pl_next_round *r, size_t g)
{
    const size_t n = r->fit.nplateau, left = r->glue_ups % n;
    size_t ahead = 0;

    for (size_t i = 0; i < n; i++) {
        const pl_bounded *a = &r->fit.plateaus[i].onset, *b = &r->fit.plateaus[g].onset;
        double wide_a = a->low_open || a->high_open ? INFINITY : a->high / a->low;
        double wide_b = b->low_open || b->high_open ? INFINITY : b->high / b->low;

        ahead += wide_a > wide_b || (!(wide_b > wide_a) && i < g);
    }
    return r->glue_ups / n + (ahead < left);
}

/* Answers that will be fitted to drawn days: for the choice, and for what is expected of it. */
static void begin_watch(const pl_next_round *r, pl_next_asked *asked)
{
    size_t all = asked->draws * r->fit.nplateau;

    for (size_t g = 0; g < r->fit.nplateau; g++)
        if (pl_next_need_of(&r->fit.plateaus[g]) == PL_NEXT_NARROW)
            all += (PL_NEXT_NEIGHBOURS + 1) * TRIAL_DRAWS;
    asked->watch = (pl_next_watch){ .tell = pl_progress_tell,
                                    .self = &asked->progress,
                                    .all = all };
    pl_progress_begin(&asked->progress, "about");
}

static pl_code choose(pl_run *run, pl_next_asked *asked, pl_next_round *r)
{
    bool *wanted = PL_NEWN(run->arena, r->nplace, bool);
    pl_code rc = PL_OK;

    r->counts = PL_NEWN(run->arena, r->nplace * r->fit.nplateau, size_t);
    if (!wanted || !r->counts)
        return pl_nomem(&run->diags);
    begin_watch(r, asked);
    for (size_t g = 0; g < r->fit.nplateau && !rc; g++) {
        size_t *count = r->counts + g * r->nplace;

        rc = pl_next_choose(run->arena, r->fit.table, r->fit.spec, &r->fit.plateaus[g], r->places,
                            r->nplace, share_of(r, g), count, &run->diags);
        if (!rc && pl_next_need_of(&r->fit.plateaus[g]) == PL_NEXT_NARROW)
            rc = pl_next_improve(run->arena, r->fit.table, r->fit.spec, &r->fit.plateaus[g],
                                 r->places, r->nplace, TRIAL_DRAWS, r->l.plan->seed, &asked->watch,
                                 count, &run->diags);
        for (size_t i = 0; i < r->nplace; i++)
            wanted[i] = wanted[i] || count[i];
    }
    return rc ? rc : grow_study(run, r, wanted);
}

pl_code pl_next_of(pl_run *run, const char *study, pl_next_asked *asked, pl_next_round *out)
{
    pl_code rc;

    *out = (pl_next_round){ 0 };
    rc = pl_study_fit(run, study, &out->l, &out->fit);
    if (rc)
        return rc;
    if (!out->fit.spec || !out->fit.nplateau)
        return pl_fail(&run->diags, PL_EDATA, out->l.study->name,
                       .found = "a question without a numeric factor to vary",
                       .expected = "question.over: the factor whose plateau is looked for");
    rc = how_many(run, asked, out);
    if (!rc)
        rc = pl_next_places(run->arena, out->fit.plateaus, out->fit.nplateau, &out->places,
                            &out->nplace, &run->diags);
    if (!rc) {
        know_levels(out);
        say_waiting(run, out);
        rc = drop_unmakeable(run, out);
    }
    if (!rc)
        rc = choose(run, asked, out);
    if (rc || !asked->draws)
        pl_progress_end(&asked->progress);
    return rc;
}

/* ----------------------------------------------------------------- rows ---- */

static size_t level_place(const pl_factor *f, const char *text)
{
    size_t i = 0;

    while (i + 1 < f->nlevel && strcmp(f->levels[i].text, text) != 0)
        i++;
    return i;
}

/* The nth of the plan's treatments of this group, over and over: what further factors are at. */
static const int *other_levels(const pl_next_round *r, int each, size_t level, size_t nth)
{
    const pl_plan *p = r->l.plan;
    size_t of_group = 0, seen = 0;

    for (size_t t = 0; t < p->ntreatment; t++)
        of_group += each < 0 || p->treatments[t * p->nfactor + (size_t)each] == (int)level;
    for (size_t t = 0; t < p->ntreatment; t++)
        if (each < 0 || p->treatments[t * p->nfactor + (size_t)each] == (int)level)
            if (seen++ == nth % of_group)
                return p->treatments + t * p->nfactor;
    return p->treatments;
}

pl_code pl_next_rows(pl_run *run, const pl_next_round *r, int **levels, size_t **replicate,
                     size_t *n)
{
    const pl_study *s = r->l.frozen;
    const size_t nf = s->nfactor;
    const int each = r->l.study->question.for_each;

    *n = 0;
    *levels = PL_NEWN(run->arena, r->glue_ups * nf, int);
    *replicate = PL_NEWN(run->arena, r->glue_ups, size_t);
    if (!*levels || !*replicate)
        return pl_nomem(&run->diags);
    for (size_t k = 0; *n < r->glue_ups; k++)
        for (size_t g = 0; g < r->fit.nplateau; g++) {
            size_t level = each < 0 ? 0 : level_place(&s->factors[each], r->fit.plateaus[g].group);

            for (size_t i = 0; i < r->nplace && *n < r->glue_ups; i++) {
                int *row = *levels + *n * nf;

                if (r->counts[g * r->nplace + i] <= k)
                    continue;
                memcpy(row, other_levels(r, each, level, *n), nf * sizeof *row);
                row[r->l.study->question.over] = (int)r->level_of[i];
                (*replicate)[(*n)++] = k;
            }
        }
    return PL_OK;
}

/* ---------------------------------------------------------------- words ---- */

static bool made_at(const pl_next_round *r, size_t place)
{
    for (size_t g = 0; g < r->fit.nplateau; g++)
        if (r->counts[g * r->nplace + place])
            return true;
    return false;
}

pl_code pl_next_say(pl_run *run, const pl_next_round *r)
{
    pl_grid *grid = pl_grid_new(run->arena);
    char *table;

    pl_grid_column(grid, PL_SIDE_LEFT, over_of(r)->name, NULL);
    for (size_t g = 0; g < r->fit.nplateau; g++)
        pl_grid_column(grid, PL_SIDE_RIGHT,
                       r->fit.plateaus[g].group ? r->fit.plateaus[g].group : "glue-ups", NULL);
    pl_grid_column(grid, PL_SIDE_LEFT, "", NULL);
    for (size_t i = 0; i < r->nplace; i++) {
        if (!made_at(r, i))
            continue;
        pl_grid_cell(grid, pl_next_level(run, r, i));
        for (size_t g = 0; g < r->fit.nplateau; g++)
            if (r->counts[g * r->nplace + i])
                pl_grid_cellf(grid, "%zu", r->counts[g * r->nplace + i]);
            else
                pl_grid_cell(grid, "-");
        pl_grid_cell(grid, r->places[i].level ? "again" : "new");
    }
    table = pl_grid_text(run->arena, grid, 0);
    if (!table)
        return pl_nomem(&run->diags);
    pl_text_put(&run->text, table);
    return PL_OK;
}

void pl_next_json(pl_jval *answer, const pl_next_round *r)
{
    pl_jval *list = pl_jadd_array(answer, "proposals");
    const pl_factor *f = over_of(r);

    pl_jadd_whole(answer, "glue_ups", (long long)r->glue_ups);
    for (size_t g = 0; g < r->fit.nplateau; g++)
        for (size_t i = 0; i < r->nplace; i++) {
            pl_jval *one, *value;

            if (!r->counts[g * r->nplace + i])
                continue;
            one = pl_jadd_object(list, NULL);
            value = pl_jadd_object(one, "treatment");
            if (r->fit.plateaus[g].group)
                pl_jadd_text(value, r->fit.plateaus[g].group_factor, r->fit.plateaus[g].group);
            value = pl_jadd_object(value, f->name);
            pl_jadd_number(value, "value", r->places[i].x);
            pl_jadd_text(value, "unit", f->unit);
            pl_jadd_bool(one, "again", r->places[i].level != NULL);
            pl_jadd_whole(one, "glue_ups", (long long)r->counts[g * r->nplace + i]);
        }
}
