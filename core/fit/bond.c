/* The three links' readings as bounds, and their fits as far as the readings go. Fitting itself is
 * censored_linear.c's. */
#include "fit/bond.h"

#include <math.h>
#include <string.h>

const double pl_bond_lines[PL_BOND_LINES - 1] = { 0.25, 0.5, 0.75, 0.8, 1 };

static double number(const pl_column *c, size_t row)
{
    return c->text[row][0] ? c->number[row] : NAN;
}

typedef struct reading {
    double least, most; /* of the joint; infinite: open */
    double share;       /* NAN: not judged */
    bool wood;
} reading;

/* What the row says of the joint; false: nothing. */
static bool read_row(const pl_table *t, const pl_bond_spec *s, size_t row, double line,
                     reading *out)
{
    const double least = number(pl_table_find(t, s->least), row),
                 most = number(pl_table_find(t, s->most), row);
    const double wood = number(pl_table_find(t, s->wood), row);

    out->least = isnan(least) ? -INFINITY : least;
    out->most = isnan(most) ? INFINITY : most;
    out->share = number(pl_table_find(t, s->share), row);
    out->wood = isnan(out->share) ? wood != 0 && !isnan(wood) : out->share >= line;
    return !isnan(least) || !isnan(most);
}

/* The same of one link: a break in another is the least that it held. */
static bool link_bounds(const reading *r, pl_link link, double *low, double *high)
{
    bool own = link == PL_LINK_JOINT || r->wood == (link == PL_LINK_WOOD);

    if (link == PL_LINK_UNHANDLED && isinf(r->least))
        own = false; /* and then nothing is left of it */
    *low = r->least;
    *high = own ? r->most : INFINITY;
    return !isinf(*low) || !isinf(*high);
}

pl_code pl_bond_table(pl_arena *a, const pl_table *t, const pl_bond_spec *s, pl_link link,
                      double line, pl_table *out, pl_diags *d)
{
    const pl_column *model = pl_table_find(t, s->least);
    const char **texts[2];
    double *numbers[2];

    *out = *t;
    out->columns = PL_NEWN(a, t->ncol + 2, pl_column);
    if (!out->columns)
        return pl_nomem(d);
    memcpy(out->columns, t->columns, t->ncol * sizeof *t->columns);
    for (int k = 0; k < 2; k++) {
        texts[k] = PL_NEWN(a, t->nrow, const char *);
        numbers[k] = PL_NEWN(a, t->nrow, double);
        if (!texts[k] || !numbers[k])
            return pl_nomem(d);
        out->columns[out->ncol++] = (pl_column){ .name = k ? PL_BOND_TO : PL_BOND_FROM,
                                                 .unit = model->unit,
                                                 .scale = model->scale,
                                                 .text = texts[k],
                                                 .number = numbers[k] };
    }
    for (size_t i = 0; i < t->nrow; i++) {
        double ends[2] = { NAN, NAN };
        reading r;

        if (read_row(t, s, i, line, &r))
            link_bounds(&r, link, &ends[0], &ends[1]);
        for (int k = 0; k < 2; k++) {
            numbers[k][i] = isinf(ends[k]) ? NAN : ends[k];
            texts[k][i] = isnan(numbers[k][i]) ? "" : "there"; /* only whether it is empty counts */
        }
    }
    return PL_OK;
}

/* ---- one answer ---- */

/* The model with less and less in it, until one can be had. */
static pl_code fit_as_far(pl_arena *a, const pl_table *t, const pl_bond_spec *s, bool brief,
                          pl_bond_answer *out, pl_diags *d)
{
    const bool wood = !strcmp(out->answer, "wood");
    const pl_linear_effect *effects = wood ? s->wood_effects : s->effects;
    const size_t neffect = wood ? s->nwood_effect : s->neffect;
    const size_t nsingle = wood ? s->nwood_effect : s->nsingle;
    pl_bounds_fit *fit = PL_NEW(a, pl_bounds_fit);
    size_t last_effects = SIZE_MAX, last_blocks = 0;

    if (!fit)
        return pl_nomem(d);
    out->why = "";
    for (pl_bond_model m = PL_BOND_WHOLE; m < PL_BOND_NOTHING; m++) {
        pl_bounds_spec spec = { .response = "strength",
                                .lower = PL_BOND_FROM,
                                .upper = PL_BOND_TO,
                                .law = out->law,
                                .effects = effects,
                                .neffect = m == PL_BOND_WHOLE     ? neffect
                                           : m < PL_BOND_TOGETHER ? nsingle
                                                                  : 0,
                                .covariates = s->covariates,
                                .ncovariate = m < PL_BOND_TOGETHER && !wood ? s->ncovariate : 0,
                                .blocks = s->blocks,
                                .nblock = m < PL_BOND_UNBLOCKED && !wood ? s->nblock : 0 };
        pl_diags quiet;
        pl_code rc;

        if (spec.neffect == last_effects && spec.nblock == last_blocks)
            continue;
        last_effects = spec.neffect;
        last_blocks = spec.nblock;
        if (brief)
            spec.shown = s->shown < spec.neffect ? s->shown : spec.neffect ? spec.neffect : 1;
        pl_diags_init(&quiet, a);
        rc = pl_fit_bounds(a, t, &spec, fit, &quiet);
        if (rc == PL_ENOMEM)
            return pl_nomem(d);
        if (!rc) {
            out->model = m;
            out->fit = fit;
            return PL_OK;
        }
        for (size_t i = 0; i < quiet.count; i++)
            if (quiet.items[i].severity == PL_REFUSED)
                out->why = quiet.items[i].found;
    }
    out->model = PL_BOND_NOTHING;
    return PL_OK;
}

/* The answers that were fitted so far, with the bounds they stand on. */
#define FITTED_MOST (PL_BOND_LINES + PL_NLAWS + PL_NLINKS)
typedef struct work {
    pl_arena *a;
    const pl_table *t;
    const pl_bond_spec *s;
    pl_diags *d;
    struct fitted {
        pl_table bounds;
        const pl_bond_answer *answer;
        bool brief;
    } fitted[FITTED_MOST];
    size_t n;
} work;

static bool same_bounds(const pl_table *a, const pl_table *b)
{
    for (size_t k = 1; k <= 2; k++)
        for (size_t i = 0; i < a->nrow; i++) {
            double x = a->columns[a->ncol - k].number[i], y = b->columns[b->ncol - k].number[i];

            if (x != y && !(isnan(x) && isnan(y)))
                return false;
        }
    return true;
}

/* An earlier answer of the same kind to the same bounds; NULL: none. Lines between wood and glue
 * often part the joints alike. */
static const pl_bond_answer *answered(const work *w, const pl_table *bounds, bool brief,
                                      const pl_bond_answer *asked)
{
    for (size_t k = 0; k < w->n; k++) {
        const struct fitted *f = &w->fitted[k];

        if (f->brief == brief && f->answer->law == asked->law &&
            !strcmp(f->answer->answer, asked->answer) && same_bounds(&f->bounds, bounds))
            return f->answer;
    }
    return NULL;
}

static pl_code answer(work *w, pl_link link, double line, pl_law law, bool brief,
                      pl_bond_answer *out)
{
    static const char *const names[] = { "joint", "bond", "wood", "bond" };
    const pl_bond_answer *before;
    pl_table bounds;
    pl_code rc = pl_bond_table(w->a, w->t, w->s, link, line, &bounds, w->d);

    *out = (pl_bond_answer){ .answer = names[link], .counts_as_wood = line, .law = law };
    if (rc)
        return rc;
    before = answered(w, &bounds, brief, out);
    if (before) {
        *out = *before;
        out->counts_as_wood = line;
        return PL_OK;
    }
    for (size_t i = 0; i < bounds.nrow; i++)
        out->own += bounds.columns[bounds.ncol - 1].text[i][0] != 0;
    w->fitted[w->n++] = (struct fitted){ bounds, out, brief };
    return fit_as_far(w->a, &bounds, w->s, brief, out, w->d);
}

/* ---- all of them ---- */

static pl_code check(const pl_table *t, const pl_bond_spec *s, pl_diags *d)
{
    const char *const numbers[] = { s->least, s->most, s->share, s->wood };
    const pl_column *c;
    size_t from = d->count;

    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++)
        pl_table_need_number(t, numbers[i], &c, d);
    return d->out_of_memory ? PL_ENOMEM : pl_diags_code(d, from);
}

static void count_joints(const pl_table *t, const pl_bond_spec *s, pl_bond_fit *out)
{
    for (size_t i = 0; i < t->nrow; i++) {
        reading r;

        if (!read_row(t, s, i, s->counts_as_wood, &r))
            continue;
        out->joints++;
        out->judged += isnan(r.share) ? 0 : 1;
        out->unbroken += isinf(r.most) ? 1 : 0;
        out->handling += isinf(r.least) ? 1 : 0;
        out->between += isfinite(r.least) && isfinite(r.most) && r.least < r.most ? 1 : 0;
        out->wood += isfinite(r.most) && r.wood ? 1 : 0;
        out->glue += isfinite(r.most) && !r.wood ? 1 : 0;
    }
}

/* How far an estimate of the glue line moves in another of its answers, if farther than so far. */
static void note_move(const pl_bond_fit *b, const pl_bounds_fit *other, pl_bond_move *move)
{
    const pl_bounds_fit *own = b->bond.fit;

    for (size_t i = 0; own && other && i < own->nlevel; i++)
        for (size_t j = 0; j < other->nlevel; j++) {
            double by = fabs(other->levels[j].holds.at - own->levels[i].holds.at);

            if (!strcmp(own->levels[i].factor, other->levels[j].factor) &&
                !strcmp(own->levels[i].level, other->levels[j].level) && !isnan(by) &&
                !(by <= move->by))
                *move = (pl_bond_move){ by, i };
        }
}

static pl_code fit_lines(work *w, pl_bond_fit *out)
{
    const pl_bond_spec *s = w->s;
    double lines[PL_BOND_LINES];
    size_t n = 0;
    bool own = false;
    pl_code rc = PL_OK;

    if (!out->judged)
        return PL_OK;
    for (size_t k = 0; k < PL_BOND_LINES - 1; k++) {
        if (!own && s->counts_as_wood <= pl_bond_lines[k]) {
            own = true;
            if (s->counts_as_wood < pl_bond_lines[k])
                lines[n++] = s->counts_as_wood;
        }
        lines[n++] = pl_bond_lines[k];
    }
    for (size_t k = 0; k < n && !rc; k++) {
        rc = answer(w, PL_LINK_BOND, lines[k], s->law, true, &out->lines[k]);
        out->nline++;
        note_move(out, out->lines[k].fit, &out->by_line);
    }
    return rc;
}

pl_code pl_fit_bond(pl_arena *a, const pl_table *t, const pl_bond_spec *s, pl_bond_fit *out,
                    pl_diags *d)
{
    work w = { .a = a, .t = t, .s = s, .d = d };
    pl_code rc = check(t, s, d);

    memset(out, 0, sizeof *out);
    out->counts_as_wood = s->counts_as_wood;
    out->law = s->law;
    out->by_line.by = out->by_handling.by = NAN;
    if (rc)
        return rc;
    out->unit = pl_table_find(t, s->least)->unit;
    count_joints(t, s, out);
    if (!out->joints || out->unbroken == out->joints)
        return pl_fail(d, PL_EDATA, t->name,
                       .found = out->joints ? pl_arena_printf(d->arena,
                                                              "%zu joints, not one of "
                                                              "which broke",
                                                              out->joints)
                                            : "no joint that was tested",
                       .expected = "joints that broke",
                       .mend = out->joints ? "they held more than the rig can pull: smaller "
                                             "joints, or a stronger rig"
                                           : "fill in the break form");
    rc = answer(&w, PL_LINK_JOINT, s->counts_as_wood, s->law, false, &out->joint);
    if (!rc)
        rc = answer(&w, PL_LINK_BOND, s->counts_as_wood, s->law, false, &out->bond);
    if (!rc && s->shown == 1 && out->bond.fit)
        out->cells = out->bond.fit->levels[out->bond.fit->nlevel - 1].factor;
    if (!rc)
        rc = answer(&w, PL_LINK_WOOD, s->counts_as_wood, s->law, true, &out->wood_itself);
    if (!rc)
        rc = fit_lines(&w, out);
    if (!rc && out->handling) {
        rc = answer(&w, PL_LINK_UNHANDLED, s->counts_as_wood, s->law, true, &out->unhandled);
        note_move(out, out->unhandled.fit, &out->by_handling);
    }
    for (pl_law law = PL_LAW_NORMAL; law < PL_NLAWS && !rc; law++)
        rc = answer(&w, PL_LINK_BOND, s->counts_as_wood, law, true, &out->laws[law]);
    return rc;
}
