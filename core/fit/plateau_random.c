/* The answer of a group with random blocks, beside that with fixed ones. */
#include "fit/plateau_random.h"

#include <math.h>
#include <string.h>

#include "fit/reml.h"
#include "fit/units.h"

/* Logarithms of the ratios that are looked at before the search: 1e-3 to 1e3. */
#define LOOKS 13
#define LOOK_LOW (-6.907755278982137)
#define LOOK_STEP 1.151292546497023
#define RATIO_TOL 1e-9 /* of the logarithm */
#define ROUNDS 40      /* over several ratios */

typedef struct random_blocks {
    pl_plateau_group *g;
    size_t n, nfactor, nfixed;
    int *code[PL_REML_FACTORS_MOST]; /* of each curve unit */
    size_t nlevel[PL_REML_FACTORS_MOST];
    double ratio[PL_REML_FACTORS_MOST]; /* what is tried */
    size_t at;                          /* the one that is searched */
    const pl_curve_model *fixed;        /* the curve with fixed blocks */
    pl_code rc;
} random_blocks;

/* ------------------------------------------------------------------ blocks -- */

/* Levels of random block f by curve unit; NULL, or why they cannot be had. */
static const char *find_levels(random_blocks *b, size_t f)
{
    const pl_plateau_group *g = b->g;
    const pl_plateau_data *data = &g->data;
    const int *code = data->block_code[b->nfixed + f];
    size_t *place = PL_NEWN(g->a, data->n, size_t);
    int *map, most = -1;

    b->code[f] = PL_NEWN(g->a, b->n, int);
    for (size_t i = 0; i < data->nrow; i++)
        most = code[i] > most ? code[i] : most;
    map = PL_NEWN(g->a, most + 1, int);
    if (!place || !b->code[f] || !map) {
        b->rc = pl_nomem(g->d);
        return NULL;
    }
    for (size_t k = 0; k < data->n; k++)
        place[k] = PL_NO_UNIT;
    for (size_t k = 0; k < b->n; k++) {
        place[g->known[k]] = k;
        b->code[f][k] = -1;
    }
    for (size_t i = 0; i < data->nrow; i++) {
        size_t k = data->unit_of[i] == PL_NO_UNIT ? PL_NO_UNIT : place[data->unit_of[i]];

        if (k == PL_NO_UNIT)
            continue;
        if (b->code[f][k] >= 0 && b->code[f][k] != code[i])
            return "some glue-ups hold pieces of several of its levels";
        b->code[f][k] = code[i];
        map[code[i]] = 1;
    }
    b->nlevel[f] = 0;
    for (int c = 0; c <= most; c++)
        map[c] = map[c] ? (int)b->nlevel[f]++ : -1;
    for (size_t k = 0; k < b->n; k++)
        b->code[f][k] = map[b->code[f][k]];
    return b->nlevel[f] > 1 ? NULL : "it has one level only";
}

static bool one_block(const random_blocks *b, pl_curve_scatter *s)
{
    pl_arena *a = b->g->a;
    long double *shrink = PL_NEWN(a, b->nlevel[0], long double);

    if (!shrink)
        return false;
    for (size_t k = 0; k < b->n; k++)
        shrink[b->code[0][k]]++;
    for (size_t l = 0; l < b->nlevel[0]; l++) {
        long double m = shrink[l], more = 1 + m * (long double)b->ratio[0];

        s->log_det += (double)logl(more);
        shrink[l] = (1 - 1 / sqrtl(more)) / m;
    }
    s->block = b->code[0];
    s->nblock = b->nlevel[0];
    s->shrink = shrink;
    return true;
}

static bool several_blocks(const random_blocks *b, pl_curve_scatter *s)
{
    const size_t n = b->n;
    long double *v = PL_NEWN(b->g->a, n * n, long double);

    if (!v)
        return false;
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j <= i; j++) {
            v[i * n + j] = i == j;
            for (size_t f = 0; f < b->nfactor; f++)
                if (b->code[f][i] == b->code[f][j])
                    v[i * n + j] += (long double)b->ratio[f];
        }
    for (size_t i = 0; i < n; i++) /* Cholesky; 1 on the diagonal keeps it sound */
        for (size_t j = 0; j <= i; j++) {
            long double sum = v[i * n + j];

            for (size_t k = 0; k < j; k++)
                sum -= v[i * n + k] * v[j * n + k];
            v[i * n + j] = i == j ? sqrtl(sum) : sum / v[j * n + j];
            s->log_det += i == j ? 2 * (double)logl(v[i * n + i]) : 0;
        }
    s->root = v;
    return true;
}

/* Rows of the curve units at the ratios that are tried. */
static pl_code rows_at(const random_blocks *b, pl_curve_rows **out)
{
    pl_plateau_group *g = b->g;
    pl_curve_scatter *s = PL_NEW(g->a, pl_curve_scatter);

    *out = PL_NEW(g->a, pl_curve_rows);
    if (!s || !*out || !(b->nfactor == 1 ? one_block(b, s) : several_blocks(b, s)))
        return pl_nomem(g->d);
    return pl_plateau_rows(g->a, &g->data, g->known, g->nknown, g->data.x, b->nfixed, s, *out,
                           g->d);
}

/* ------------------------------------------------------------------ ratios -- */

static pl_code fit_at_ratios(const random_blocks *b, pl_curve_model *m)
{
    const pl_curve_work *w = &b->fixed->work;
    const pl_plateau_group *g = b->g;
    pl_curve_rows *rows;
    pl_code rc = rows_at(b, &rows);

    return rc ? rc
              : pl_curve_model_fit(g->a, b->fixed->curve, rows, w->log_x, w->x1, g->places[0],
                                   g->places[g->nplace - 1], g->share,
                                   w->floor_fixed ? &w->floor : NULL, m, g->d);
}

/* -2 log likelihood but for constants, at its best curve and residual variance. */
static double deviance(random_blocks *b)
{
    pl_mark mark = pl_arena_mark(b->g->a);
    pl_curve_model m = { 0 };
    pl_code rc = b->rc ? b->rc : fit_at_ratios(b, &m);
    double value = rc ? INFINITY
                      : (double)b->n * log(fmax(m.ss, 1e-300)) + m.rows->scatter->log_det;

    b->rc = rc;
    pl_arena_reset(b->g->a, mark);
    return value;
}

static double deviance_at(void *self, double z)
{
    random_blocks *b = self;

    b->ratio[b->at] = exp(z);
    return deviance(b);
}

/* The best ratio of one block, the others as they are. */
static void search_one(random_blocks *b, size_t f)
{
    double trial[LOOKS], grid[LOOKS], at, best, none;

    b->at = f;
    b->ratio[f] = 0;
    none = deviance(b);
    for (int i = 0; i < LOOKS; i++) {
        grid[i] = LOOK_LOW + i * LOOK_STEP;
        trial[i] = deviance_at(b, grid[i]);
    }
    best = pl_curve_valley_minimum(deviance_at, b, grid, trial, LOOKS, RATIO_TOL, &at);
    b->ratio[f] = best < none ? exp(at) : 0;
}

/* All of them in turn until they stand. */
static void search_ratios(random_blocks *b)
{
    double before[PL_REML_FACTORS_MOST], change = 1;

    memset(b->ratio, 0, sizeof b->ratio);
    for (int round = 0; round < ROUNDS && change > 1e-8 && !b->rc; round++) {
        memcpy(before, b->ratio, sizeof before);
        change = 0;
        for (size_t f = 0; f < b->nfactor && !b->rc; f++) {
            search_one(b, f);
            change = fmax(change, fabs(b->ratio[f] - before[f]) / (1 + before[f]));
        }
        if (b->nfactor == 1)
            break;
    }
}

/* --------------------------------------------------------------- variances -- */

/* By restricted likelihood at the shape of m, a column for each fitted number and fixed block. */
static pl_code restricted(random_blocks *b, const pl_curve_model *m, pl_reml *out, pl_diags *d)
{
    const pl_plateau_group *g = b->g;
    const size_t n = b->n;
    const double *block;
    double slopes[PL_CURVE_PARAM_MOST], *x, *y = PL_NEWN(g->a, n, double);
    size_t q;
    pl_code rc = pl_plateau_columns(g->a, &g->data, g->known, n, b->nfixed, &block, &q, d);

    x = PL_NEWN(g->a, n * (m->nf + q), double);
    if (rc || !x || !y)
        return rc ? rc : pl_nomem(d);
    for (size_t i = 0; i < n; i++) {
        pl_curve_model_slopes(m, g->data.x[g->known[i]], slopes);
        for (size_t j = 0; j < m->nf; j++)
            x[j * n + i] = slopes[j];
        for (size_t j = 0; j < q; j++)
            x[(m->nf + j) * n + i] = block[i * q + j];
        y[i] = g->data.y[g->known[i]] - pl_curve_model_offset(m, g->data.x[g->known[i]]);
    }
    return pl_reml_fit(g->a,
                       &(pl_reml_data){ .n = n,
                                        .p = m->nf + q,
                                        .x = x,
                                        .y = y,
                                        .nfactor = b->nfactor,
                                        .code = (const int *const *)b->code,
                                        .nlevel = b->nlevel },
                       out, d);
}

/* One curve: likelihood, restricted likelihood at its shape, the fit that stands on it. */
static pl_code fit_curve(random_blocks *b, const pl_curve_model *fixed, pl_curve_model *out,
                         pl_reml *reml, pl_diags *d)
{
    pl_plateau_group *g = b->g;
    pl_curve_model best;
    pl_curve_rows *rows;
    size_t K;
    pl_code rc;

    b->fixed = fixed;
    search_ratios(b);
    rc = b->rc ? b->rc : fit_at_ratios(b, &best);
    if (!rc)
        rc = restricted(b, &best, reml, d);
    if (rc)
        return rc;
    for (size_t f = 0; f < b->nfactor; f++)
        b->ratio[f] = reml->variance[f] / reml->variance[b->nfactor];
    rc = rows_at(b, &rows);
    if (!rc)
        rc = pl_curve_model_fit_at(g->a, &best, rows, out, g->d);
    if (rc)
        return rc;
    K = best.nmean + best.rows->q + 1 + b->nfactor;
    out->aicc = pl_curve_aicc(best.ss, (double)b->n, (double)K) + best.rows->scatter->log_det;
    out->df = fixed->df;
    out->s2 = fixed->df > 0 ? reml->variance[b->nfactor] : NAN;
    return PL_OK;
}

/* ------------------------------------------------------------------ answer -- */

static bool serves(const pl_curve_model *m)
{
    return !m->curve->wide && m->curve != &pl_curve_rise_and_fall;
}

static pl_code tell_variances(const random_blocks *b, const pl_reml *reml, pl_plateau *p)
{
    const pl_plateau_group *g = b->g;
    pl_variance *v = PL_NEWN(g->a, b->nfactor + 1, pl_variance);

    if (!v)
        return pl_nomem(g->d);
    for (size_t f = 0; f < b->nfactor; f++)
        v[f] = (pl_variance){ g->spec->blocks[b->nfixed + f], sqrt(reml->variance[f]), b->nlevel[f],
                              reml->at_zero[f] };
    v[b->nfactor] = (pl_variance){ "residual", sqrt(reml->variance[b->nfactor]), b->n, false };
    p->variance = v;
    p->nvariance = b->nfactor + 1;
    return PL_OK;
}

static pl_code no_answer(const pl_plateau_group *g, const char *why)
{
    pl_advise(g->d, pl_plateau_where(g),
              .found = pl_arena_printf(g->d->arena, "no answer with random blocks: %s", why),
              .expected = "blocks that can be taken as a sample of many; they were taken as fixed");
    return PL_OK;
}

/* Whole models of all curves that serve. */
static pl_code fit_all(random_blocks *b, pl_plateau_group *g, const pl_plateau_group *fixed,
                       pl_reml *remls, pl_diags *d)
{
    pl_code rc = PL_OK;

    g->models = PL_NEWN(g->a, fixed->nmodel, pl_curve_model);
    g->averaged = PL_NEWN(g->a, fixed->nmodel, pl_curve_model *);
    g->nmodel = 0;
    if (!g->models || !g->averaged)
        return pl_nomem(d);
    for (size_t k = 0; k < fixed->nmodel && !rc; k++) {
        if (!serves(&fixed->models[k])) {
            pl_remark(fixed->d, pl_plateau_where(fixed),
                      .found = pl_arena_printf(fixed->d->arena,
                                               "\"%s\" is fitted with fixed blocks only",
                                               fixed->models[k].curve->name));
            continue;
        }
        rc = fit_curve(b, &fixed->models[k], &g->models[g->nmodel], &remls[g->nmodel], d);
        g->nmodel++;
    }
    return rc;
}

static size_t least_between(const random_blocks *b)
{
    size_t least = SIZE_MAX;

    for (size_t f = 0; f < b->nfactor; f++)
        least = b->nlevel[f] - 1 < least ? b->nlevel[f] - 1 : least;
    return least;
}

pl_code pl_plateau_recover(pl_plateau_group *g, pl_plateau *p)
{
    pl_plateau_group other = *g;
    pl_curve_spec spec = *g->spec;
    random_blocks b = { .g = &other, .n = g->nknown, .nfactor = g->nrandom };
    pl_plateau *side = PL_NEW(g->a, pl_plateau), was;
    pl_reml *remls = PL_NEWN(g->a, g->nmodel, pl_reml);
    pl_diags quiet;
    size_t most = 0;
    pl_code rc;

    if (!side || !remls)
        return pl_nomem(g->d);
    b.nfixed = g->data.nblock - g->nrandom;
    if (g->nplace < PL_PLATEAU_LEVELS_LEAST || !g->naveraged)
        return no_answer(g, "there is no curve");
    if (b.nfactor > 1 && b.n > PL_RANDOM_UNITS_MOST)
        return no_answer(g, "too many units for several of them");
    for (size_t f = 0; f < b.nfactor; f++) {
        const char *why = find_levels(&b, f);

        if (why || b.rc)
            return b.rc ? b.rc : no_answer(g, why);
    }
    pl_diags_init(&quiet, g->a);
    other.d = &quiet;
    rc = fit_all(&b, &other, g, remls, &quiet);
    g->d->out_of_memory |= quiet.out_of_memory;
    if (rc)
        return rc == PL_ENOMEM ? rc : no_answer(g, quiet.count ? quiet.items[0].found : "no fit");
    spec.bootstrap = 0;
    other.spec = &spec;
    other.pure.residual.df = 0; /* lack of fit is told within blocks */
    pl_plateau_weigh(&other);
    if (!other.naveraged)
        return no_answer(g, "no curve that serves");
    rc = pl_plateau_answer(&other, side);
    for (size_t k = 0; k < other.nmodel; k++)
        most = other.models[k].weight > other.models[most].weight ? k : most;
    if (!rc)
        rc = tell_variances(&b, &remls[most], p);
    if (rc)
        return rc;
    was = *p;
    side->variance = p->variance;
    side->nvariance = p->nvariance;
    side->bootstrap = p->bootstrap;
    side->nbootstrap = p->nbootstrap;
    if (least_between(&b) >= PL_RECOVERED_FROM) {
        *p = *side;
        p->recovered_leads = true;
        *side = was;
    }
    p->beside = side;
    return PL_OK;
}
