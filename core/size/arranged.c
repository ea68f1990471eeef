/* Effects of fractions, screenings, designs for curved surfaces and optimal designs, from their
 * plans. Chances are effects.c's and size.c's. */
#include "size/arranged.h"

#include <math.h>
#include <string.h>

#include "base/stream.h"
#include "base/text.h"
#include "fit/study_effects.h"
#include "size/planned.h"

#define PLANS_MOST 3u /* glue-ups of each treatment in the plan that is read */

bool pl_size_is_arranged(const pl_study *s)
{
    switch (s->arrangement.kind) {
    case PL_ARRANGE_FRACTION:
    case PL_ARRANGE_SCREENING:
    case PL_ARRANGE_CENTRAL:
    case PL_ARRANGE_BOX_BEHNKEN:
    case PL_ARRANGE_OPTIMAL:
        return true;
    default:
        return false;
    }
}

typedef struct reader {
    pl_arena *a;
    pl_diags *d;
    const pl_study *s;
    pl_planned p;
    unsigned n; /* of each treatment in the plan */
    pl_linear_fit f;
    pl_size_question *q;
    pl_size_effect *list;
    double hardest; /* noncentrality of the hardest two levels, for D = sigma, one of each */
} reader;

/* ---- strengths without scatter ---- */

static pl_code fit_it(reader *k, const pl_linear_contrast *c)
{
    pl_linear_spec spec = k->p.spec;
    pl_diags unsaid;

    pl_diags_init(&unsaid, k->a);
    spec.contrasts = c;
    spec.ncontrast = c ? 1 : 0;
    return pl_fit_linear(k->a, k->p.table, &spec, &k->f, &unsaid);
}

/* Noncentrality of a contrast of that size, for one of each treatment: its variance over that of
 * the scatter is the same for any strengths, so some are thought of. */
static pl_code weigh(reader *k, const pl_linear_contrast *c, double size, double *out)
{
    pl_stream r;
    pl_code rc;

    pl_stream_init(&r, PL_SIZE_PLAN_SEED, PL_FOR_SCATTER, 0);
    for (size_t i = 0; i < k->p.table->nrow; i++)
        k->p.y[i] = pl_stream_normal(&r);
    rc = fit_it(k, c);
    if (!rc)
        *out = pow(size * k->f.residual.sd / k->f.contrasts[0].se, 2) / k->n;
    return rc;
}

/* What the fit gives to it, for one of each treatment; NAN: it is not in the model. */
static double given_to(const reader *k, const char *name, double *df)
{
    for (size_t i = 0; i < k->f.neffect; i++)
        if (k->f.effects[i].kind == PL_SS_AFTER_ALL_OTHERS && !strcmp(k->f.effects[i].name, name)) {
            *df = k->f.effects[i].df;
            return k->f.effects[i].ss / k->n;
        }
    return NAN;
}

/* From -1 at the lowest to 1 at the highest level. */
static double coded(const reader *k, size_t row, size_t factor)
{
    const pl_factor *f = &k->s->factors[factor];
    double low = INFINITY, high = -INFINITY;

    for (size_t l = 0; l < f->nlevel; l++) {
        low = fmin(low, f->levels[l].si);
        high = fmax(high, f->levels[l].si);
    }
    return (2 * f->levels[pl_planned_level(&k->p, row, factor)].si - low - high) / (high - low);
}

/* 1 at level one, -1 at level other, 0 midway. */
static double apart(const reader *k, size_t row, size_t factor, size_t one, size_t other)
{
    size_t at = (size_t)pl_planned_level(&k->p, row, factor);

    return at == one ? 1 : at == other ? -1 : 0;
}

static pl_size_effect *next_effect(reader *k, const char *name, pl_size_effect_kind kind)
{
    pl_size_effect *e = &k->list[k->q->neffect];

    *e = (pl_size_effect){ .name = name, .kind = kind, .per_replicate = INFINITY };
    k->q->neffect += name != NULL;
    return e;
}

/* ---- effects ---- */

/* The two levels that are hardest to tell apart, alone and as part of all of them. */
static pl_code add_levels(reader *k, size_t factor)
{
    const pl_factor *f = &k->s->factors[factor];
    pl_size_effect *e = next_effect(k, f->name, PL_SIZE_MAIN);
    pl_code rc = PL_OK;

    e->levels[0] = (unsigned)f->nlevel;
    for (size_t i = 1; i < f->nlevel && !rc; i++)
        for (size_t j = 0; j < i && !rc; j++) {
            const char *names[] = { f->levels[j].text, f->levels[i].text };
            const double weights[] = { 1, -1 };
            const pl_linear_contrast c = { f->name, names, weights, 2 };
            double ss = NAN;

            rc = weigh(k, &c, 1, &ss);
            k->hardest = fmin(k->hardest, ss);
            for (size_t r = 0; r < k->p.table->nrow; r++)
                k->p.y[r] = 0.5 * apart(k, r, factor, j, i);
            rc = rc ? rc : fit_it(k, NULL);
            if (rc)
                break;
            ss = given_to(k, f->name, &e->df1);
            if (ss < e->per_replicate) {
                e->per_replicate = ss;
                e->hardest[0] = (unsigned)j;
                e->hardest[1] = (unsigned)i;
            }
        }
    return rc;
}

static pl_code add_line(reader *k, size_t factor)
{
    const pl_factor *f = &k->s->factors[factor];
    const char **names = PL_NEWN(k->a, f->nlevel, const char *);
    double *weights = PL_NEWN(k->a, f->nlevel, double), mean = 0, size = 0, low = INFINITY,
           high = -INFINITY;
    const pl_linear_contrast c = { f->name, names, weights, f->nlevel };
    pl_size_effect *e = next_effect(k, f->name, PL_SIZE_TREND);
    pl_code rc;

    if (!names || !weights)
        return pl_nomem(k->d);
    for (size_t l = 0; l < f->nlevel; l++)
        mean += f->levels[l].si / (double)f->nlevel;
    for (size_t l = 0; l < f->nlevel; l++) {
        names[l] = f->levels[l].text;
        weights[l] = f->levels[l].si - mean;
        size += weights[l] * f->levels[l].si;
        low = fmin(low, f->levels[l].si);
        high = fmax(high, f->levels[l].si);
    }
    rc = weigh(k, &c, size / (high - low), &e->per_replicate);
    e->levels[0] = (unsigned)f->nlevel;
    e->df1 = 1;
    return rc;
}

/* A factor of more levels than three on a curved surface: slope and bend. */
static pl_code add_slope(reader *k, size_t factor)
{
    const char *name = k->s->factors[factor].name;
    pl_code rc = PL_OK;

    for (int bend = 0; bend < 2 && !rc; bend++) {
        pl_size_effect *e = next_effect(k, name, bend ? PL_SIZE_BEND : PL_SIZE_TREND);

        for (size_t r = 0; r < k->p.table->nrow; r++) {
            double x = coded(k, r, factor);

            k->p.y[r] = bend ? x * x : 0.5 * x;
        }
        rc = fit_it(k, NULL);
        e->levels[0] = (unsigned)k->s->factors[factor].nlevel;
        if (!rc)
            e->per_replicate = given_to(k, bend ? pl_arena_printf(k->a, "bend of %s", name) : name,
                                        &e->df1);
        if (!rc && !bend)
            k->hardest = fmin(k->hardest, e->per_replicate);
    }
    return rc;
}

static bool has_effect(const pl_linear_spec *spec, const char *one, const char *other)
{
    for (size_t i = 0; i < spec->neffect; i++) {
        const pl_linear_effect *e = &spec->effects[i];

        if (!strcmp(e->factors[0], one) &&
            (other ? e->nfactor == 2 && !strcmp(e->factors[1], other) : e->nfactor == 1))
            return true;
    }
    return false;
}

/* Two slopes, one of which hangs on the other, or four cells. */
static pl_code add_meeting(reader *k, size_t one, size_t other, bool slopes)
{
    const pl_factor *x = &k->s->factors[one], *y = &k->s->factors[other];
    const char *name = pl_arena_printf(k->a, "%s, %s", x->name, y->name);
    size_t nx = slopes ? 2 : x->nlevel, ny = slopes ? 2 : y->nlevel;
    pl_size_effect *e = next_effect(k, pl_arena_printf(k->a, "%s with %s", x->name, y->name),
                                    PL_SIZE_MEETING);
    pl_code rc = PL_OK;

    e->levels[0] = (unsigned)x->nlevel;
    e->levels[1] = (unsigned)y->nlevel;
    for (size_t at = 0; at < nx * nx * ny * ny && !rc; at++) {
        size_t i = at % nx, j = at / nx % nx, u = at / (nx * nx) % ny, v = at / (nx * nx * ny);
        double ss;

        if (i >= j || u >= v)
            continue;
        for (size_t r = 0; r < k->p.table->nrow; r++)
            k->p.y[r] = 0.25 * (slopes ? coded(k, r, one) * coded(k, r, other)
                                       : apart(k, r, one, i, j) * apart(k, r, other, u, v));
        rc = fit_it(k, NULL);
        ss = rc ? NAN : given_to(k, name ? name : "", &e->df1);
        if (ss < e->per_replicate)
            e->per_replicate = ss;
    }
    return rc;
}

static bool measured(const pl_linear_spec *spec, const char *name)
{
    for (size_t i = 0; i < spec->ncovariate; i++)
        if (!strcmp(spec->covariates[i], name))
            return true;
    return false;
}

static pl_code add_effects(reader *k)
{
    const pl_study *s = k->s;
    pl_code rc = PL_OK;

    for (size_t i = 0; i < s->nfactor && !rc; i++) {
        const pl_factor *f = &s->factors[i];

        if (measured(&k->p.spec, f->name)) {
            rc = add_slope(k, i);
            continue;
        }
        rc = add_levels(k, i);
        if (!rc && f->numeric && f->nlevel > 2)
            rc = add_line(k, i);
    }
    for (size_t j = 1; j < s->nfactor && !rc; j++)
        for (size_t i = 0; i < j && !rc; i++) {
            const char *one = s->factors[i].name, *other = s->factors[j].name;
            const char *both = pl_arena_printf(k->a, "%s, %s", one, other);
            bool slopes = both && measured(&k->p.spec, both);

            if (slopes || has_effect(&k->p.spec, one, other))
                rc = add_meeting(k, i, j, slopes);
        }
    return rc;
}

/* ---- all ---- */

/* The error left by n plans of one of each: size.c's formula less what the plan showed. */
static void set_error(reader *k)
{
    pl_size_question *q = k->q;

    q->other_df = 0;
    q->other_df = pl_size_error_df(q, k->n) - k->f.residual.df;
    if (!q->block_size) /* sessions of a plan without boards are left alone */
        q->other_df = fmax(q->other_df, 0);
}

static pl_code read_plan(reader *k)
{
    size_t n = k->s->nfactor;
    pl_code rc = pl_planned_open(k->a, k->s, k->n, PL_SIZE_PLAN_SEED, &k->p, k->d);

    if (rc)
        return rc;
    k->q->neffect = 0;
    k->list = PL_NEWN(k->a, 2 * n + n * n / 2 + 1, pl_size_effect);
    k->q->effects = k->list;
    k->hardest = INFINITY;
    return k->list ? add_effects(k) : pl_nomem(k->d);
}

pl_code pl_size_arranged(pl_arena *a, const pl_study *s, pl_size_question *q, pl_diags *d)
{
    reader k = { .a = a, .d = d, .s = s, .q = q };
    pl_code rc = PL_EDATA;

    for (k.n = 1; k.n <= PLANS_MOST && (rc == PL_EDATA || rc == PL_ERANK); k.n++)
        if (!(rc = read_plan(&k)))
            break;
    if (rc)
        return rc == PL_EDATA || rc == PL_ERANK
                   ? pl_fail(d, rc, s->name, .found = "a plan that cannot tell its effects apart",
                             .expected = "more runs, or fewer factors")
                   : rc;
    q->levels = 2;
    q->groups = 1;
    q->runs = (unsigned)pl_study_treatments(s);
    q->each_worth = 2 * k.hardest;
    set_error(&k);
    return PL_OK;
}
