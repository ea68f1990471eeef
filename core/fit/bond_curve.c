/* The glue line's curves, their average, the onset and the state, group by group. One curve is
 * censored_curve.c's, gathering is plateau_data.c's. */
#include "fit/bond_curve.h"

#include <math.h>
#include <string.h>

#include "base/prob.h"
#include "fit/censored_curve.h"
#include "fit/onset.h"
#include "fit/plateau_group.h"

#define LOOKS 36 /* at the tail of the onset, over the range */
#define SEEN_MOST (2 * LOOKS)
#define WEIGHT_LEAST 1e-7 /* a curve of less moves the tail by less: it is not asked */
#define SAME_GAIN 1e-12   /* likelihoods closer than this are one */
#define READING "held"    /* the column that says whether there is one */

typedef struct group {
    pl_arena *a;
    const pl_curve_spec *spec;
    const pl_bond_spec *bond;
    double share;
    pl_plateau_data data;
    const double *low, *high; /* data.n */
    size_t *known;            /* units with a known x */
    size_t nknown;
    double *places, x1;
    size_t nplace;
    pl_curve_rows rows;
    pl_censored_rows readings;
    pl_censored_curve *models, **averaged;
    size_t nmodel, naveraged;
    pl_censored levels; /* level means and blocks */
    size_t K;           /* levels of it; 0: not to be had */
    pl_contrasts points;
    double *parts; /* naveraged: of the onset's tail */
    struct seen {
        double t, A;
    } seen[SEEN_MOST];
    size_t nseen;
    pl_diags *d;
} group;

/* ---- readings ---- */

/* The table with the glue line's bounds, and a reading wherever there is one. */
static pl_code make_table(pl_arena *a, const pl_table *t, const pl_bond_spec *s, pl_link link,
                          pl_table *out, pl_diags *d)
{
    pl_table bounds;
    double *y = PL_NEWN(a, t->nrow, double);
    pl_code rc = pl_bond_table(a, t, s, link, s->counts_as_wood, &bounds, d);
    const pl_column *from, *to;

    if (rc)
        return rc;
    *out = bounds;
    out->columns = PL_NEWN(a, bounds.ncol + 1, pl_column);
    if (!y || !out->columns)
        return pl_nomem(d);
    memcpy(out->columns, bounds.columns, bounds.ncol * sizeof *out->columns);
    from = &bounds.columns[bounds.ncol - 2];
    to = &bounds.columns[bounds.ncol - 1];
    for (size_t i = 0; i < t->nrow; i++)
        y[i] = isnan(to->number[i]) ? from->number[i] : to->number[i];
    out->columns[out->ncol] = *from;
    out->columns[out->ncol].name = READING;
    out->columns[out->ncol].number = y;
    {
        const char **text = PL_NEWN(a, t->nrow, const char *);

        if (!text)
            return pl_nomem(d);
        for (size_t i = 0; i < t->nrow; i++)
            text[i] = isnan(y[i]) ? "" : "there";
        out->columns[out->ncol++].text = text;
    }
    return PL_OK;
}

static pl_code take_bounds(group *g, const pl_table *t)
{
    const double *from = pl_table_find(t, PL_BOND_FROM)->number;
    const double *to = pl_table_find(t, PL_BOND_TO)->number;
    double *low = PL_NEWN(g->a, g->data.n, double), *high = PL_NEWN(g->a, g->data.n, double);

    g->known = PL_NEWN(g->a, g->data.n, size_t);
    g->places = PL_NEWN(g->a, g->data.K, double);
    if (!low || !high || !g->known || !g->places)
        return pl_nomem(g->d);
    g->x1 = INFINITY;
    for (size_t k = 0; k < g->data.n; k++) {
        size_t row = g->data.row[k];

        low[k] = isnan(from[row]) ? -INFINITY : from[row];
        high[k] = isnan(to[row]) ? INFINITY : to[row];
        if (isnan(g->data.x[k]))
            continue;
        g->known[g->nknown++] = k;
        if (g->data.x[k] > 0)
            g->x1 = fmin(g->x1, g->data.x[k]);
    }
    g->low = low;
    g->high = high;
    for (size_t l = 0; l < g->data.K; l++)
        for (size_t k = 0; k < g->nknown; k++)
            if (g->data.level[g->known[k]] == l &&
                (!g->nplace || g->data.levels[l].at > g->places[g->nplace - 1])) {
                g->places[g->nplace++] = g->data.levels[l].at;
                break;
            }
    return PL_OK;
}

/* ---- levels and their contrasts ---- */

static pl_code fit_levels(group *g)
{
    const size_t n = g->data.n, K = g->data.K;
    size_t *every = PL_NEWN(g->a, n, size_t), q = 0;
    double *x = PL_NEWN(g->a, n, double), *X;
    const double *block = NULL;
    pl_curve_rows rows;
    pl_level_fit plain = { 0 };
    pl_diags quiet;
    pl_code rc;

    if (!every || !x)
        return pl_nomem(g->d);
    for (size_t k = 0; k < n; k++) {
        every[k] = k;
        x[k] = (double)g->data.level[k];
    }
    pl_diags_init(&quiet, g->a);
    rc = pl_plateau_columns(g->a, &g->data, every, n, g->data.nblock, &block, &q, &quiet);
    if (!rc)
        rc = pl_plateau_rows(g->a, &g->data, every, n, x, g->data.nblock, NULL, &rows, &quiet);
    if (!rc)
        rc = pl_level_means(g->a, &rows, g->data.level, K, &plain, &quiet);
    if (rc || !plain.fine)
        return rc == PL_ENOMEM ? pl_nomem(g->d) : PL_OK;
    X = PL_NEWN(g->a, n * (K + q), double);
    if (!X)
        return pl_nomem(g->d);
    for (size_t k = 0; k < n; k++) {
        X[k * (K + q) + g->data.level[k]] = 1;
        for (size_t j = 0; j < q; j++)
            X[k * (K + q) + K + j] = block[k * q + j];
    }
    rc = pl_censored_fit(g->a,
                         &(pl_censored_data){ .where = g->data.where,
                                              .n = n,
                                              .p = K + q,
                                              .q = q,
                                              .X = X,
                                              .low = g->low,
                                              .high = g->high,
                                              .law = g->bond->law },
                         &g->levels, &quiet);
    if (rc)
        return rc == PL_ENOMEM ? pl_nomem(g->d) : PL_OK;
    g->K = K;
    /* the points that exact readings would have, on the df that there are */
    plain.residual.df = pl_censored_df(&g->levels);
    return pl_contrasts_test(g->a, &plain, &g->points, g->d);
}

/* g'levels of a contrast. */
static void contrast_row(const group *g, const pl_step *s, double *row)
{
    memset(row, 0, g->levels.p * sizeof *row);
    for (size_t k = s->lower_from; k <= s->lower_to; k++)
        row[k] = -1.0 / (double)(s->lower_to - s->lower_from + 1);
    for (size_t k = s->upper_from; k <= s->upper_to; k++)
        row[k] = 1.0 / (double)(s->upper_to - s->upper_from + 1);
}

/* The root of the likelihood ratio against no difference, as t. */
static double root_of(double gain, double n, double df)
{
    return sqrt(df * expm1(2 * fmax(gain, 0) / n));
}

static void judge(group *g, const double *row, double point, pl_step *s)
{
    const double n = (double)(g->levels.exact + g->levels.between), df = pl_censored_df(&g->levels);
    const int runs = pl_censored_runs(&g->levels, row);
    double value = pl_censored_value(&g->levels, row, 0, &s->se), gain;

    pl_censored_rewind(&g->levels);
    gain = g->levels.log_likelihood - pl_censored_held(&g->levels, row, 0, 0);
    s->difference = runs ? NAN : value;
    s->t = root_of(gain, n, df) * ((runs ? runs : value) < 0 ? -1 : 1);
    s->point = point;
}

/* The most telling contrast each way, and what change the contrasts leave open. */
static pl_code test_contrasts(group *g, pl_plateau *p)
{
    double *row = PL_NEWN(g->a, g->levels.p, double);
    const double n = (double)(g->levels.exact + g->levels.between), df = pl_censored_df(&g->levels);
    const double point = fmax(g->points.rise.point, g->points.fall.point);
    pl_bounded b;

    if (!row)
        return pl_nomem(g->d);
    p->rise.t = p->fall.t = -INFINITY;
    p->change_excluded = 0;
    for (size_t i = 1; i < g->K; i++)
        for (size_t j = i + 1; j <= g->K; j++)
            for (int fall = 0; fall < 2; fall++) {
                pl_step s = pl_contrast_runs(g->K, i, j, fall);

                contrast_row(g, &s, row);
                judge(g, row, fall ? g->points.fall.point : g->points.rise.point, &s);
                if (s.t > (fall ? p->fall.t : p->rise.t))
                    *(fall ? &p->fall : &p->rise) = s;
            }
    if (p->rise.t > p->rise.point || p->fall.t > p->fall.point || pl_law_of_logs(g->bond->law)) {
        p->change_excluded = NAN;
        return PL_OK;
    }
    for (size_t i = 1; i < g->K; i++)
        for (size_t j = i + 1; j <= g->K; j++)
            for (int fall = 0; fall < 2; fall++) {
                pl_step s = pl_contrast_runs(g->K, i, j, fall);

                contrast_row(g, &s, row);
                pl_censored_limits(&g->levels, row, 0, 0.5 * n * log1p(point * point / df), &b);
                p->change_excluded = b.low_open || b.high_open
                                         ? INFINITY
                                         : fmax(p->change_excluded,
                                                fmax(fabs(b.low), fabs(b.high)));
            }
    return PL_OK;
}

static pl_code fill_levels(group *g, pl_plateau *p)
{
    double *row = PL_NEWN(g->a, g->levels.p, double);
    const bool logs = pl_law_of_logs(g->bond->law);
    const double half = g->bond->law == PL_LAW_WEIBULL ? pl_law_quantile(g->bond->law, 0.5) : 0;

    p->levels = g->data.levels;
    p->nlevel = g->data.K;
    if (!row && g->K)
        return pl_nomem(g->d);
    for (size_t l = 0; l < g->K; l++) {
        double value, se;

        memset(row, 0, g->levels.p * sizeof *row);
        row[l] = 1;
        value = pl_censored_value(&g->levels, row, half, &se);
        p->levels[l].mean = pl_censored_runs(&g->levels, row) ? NAN : logs ? exp(value) : value;
        p->levels[l].se = logs ? se * p->levels[l].mean : se;
    }
    return PL_OK;
}

/* ---- curves ---- */

static bool offered(const group *g, const pl_curve *c, bool log_x)
{
    size_t means = (c->rise ? 2 : 1) + c->nshape;

    if (c->wide || (c->nshape && !c->rise) || (!c->rise && c->nlinear > 1))
        return false;
    if ((log_x && !(g->places[0] > 0)) || (c->needs_positive && g->places[0] < 0))
        return false;
    return !c->rise || g->nplace > means;
}

static pl_code fit_one(group *g, const pl_named_curve *choice)
{
    const pl_curve *c = pl_curve_find(choice->curve);
    pl_diags quiet;
    pl_code rc;

    if (!c || !offered(g, c, choice->log_x))
        return PL_OK;
    pl_diags_init(&quiet, g->a);
    rc = pl_censored_curve_fit(g->a, c, &g->readings, choice->log_x && c->rise, g->x1, g->places[0],
                               g->places[g->nplace - 1], g->share, &g->models[g->nmodel], &quiet);
    if (!rc)
        g->nmodel++;
    return rc == PL_ENOMEM ? pl_nomem(g->d) : PL_OK;
}

static void weigh(group *g)
{
    double best = INFINITY, sum = 0;

    for (size_t k = 0; k < g->nmodel; k++) {
        pl_censored_curve *m = &g->models[k];

        if (!m->curve->rise || isnan(m->aicc) || isnan(m->onset))
            continue;
        best = fmin(best, m->aicc);
        g->averaged[g->naveraged++] = m;
    }
    for (size_t k = 0; k < g->naveraged; k++)
        sum += g->averaged[k]->weight = exp(-0.5 * (g->averaged[k]->aicc - best));
    for (size_t k = 0; k < g->naveraged; k++)
        g->averaged[k]->weight /= sum;
}

static pl_code fit_curves(group *g)
{
    const pl_named_curve *set = g->spec->ncurve ? g->spec->curves : pl_curves_default;
    const size_t n = g->spec->ncurve ? g->spec->ncurve : PL_CURVES_DEFAULT;
    double *low = PL_NEWN(g->a, g->nknown, double), *high = PL_NEWN(g->a, g->nknown, double);
    pl_diags quiet;
    pl_code rc;

    g->models = PL_NEWN(g->a, n, pl_censored_curve);
    g->averaged = PL_NEWN(g->a, n, pl_censored_curve *);
    g->parts = PL_NEWN(g->a, n, double);
    if (!g->models || !g->averaged || !g->parts || !low || !high)
        return pl_nomem(g->d);
    if (g->nplace < PL_PLATEAU_LEVELS_LEAST)
        return PL_OK;
    for (size_t k = 0; k < g->nknown; k++) {
        low[k] = g->low[g->known[k]];
        high[k] = g->high[g->known[k]];
    }
    g->readings = (pl_censored_rows){
        .rows = &g->rows, .low = low, .high = high, .law = g->bond->law
    };
    pl_diags_init(&quiet, g->a);
    rc = pl_plateau_rows(g->a, &g->data, g->known, g->nknown, g->data.x, g->data.nblock, NULL,
                         &g->rows, &quiet);
    if (!rc)
        rc = pl_plateau_columns(g->a, &g->data, g->known, g->nknown, g->data.nblock,
                                &g->readings.block, &g->readings.q, &quiet);
    for (size_t i = 0; i < n && !rc; i++)
        rc = fit_one(g, &set[i]);
    weigh(g);
    return rc == PL_ENOMEM ? pl_nomem(g->d) : PL_OK;
}

/* ---- the onset ---- */

/* One curve's part of the tail. */
static double tail_of(pl_censored_curve *m, double t)
{
    const double gain = fmax(m->log_likelihood - pl_censored_curve_held(m, t), SAME_GAIN);
    const double r = m->onset == t ? 0 : root_of(gain, (double)m->known, m->df);

    return m->weight * pl_t_lower(m->onset < t ? -r : r, m->df);
}

/* Asked at the same places with the rig's error and without. */
static double onset_tail(void *self, double t)
{
    group *g = self;
    double A = 0;

    for (size_t i = 0; i < g->nseen; i++)
        if (g->seen[i].t == t)
            return g->seen[i].A;
#pragma omp parallel for schedule(dynamic)
    for (size_t k = 0; k < g->naveraged; k++)
        g->parts[k] = g->averaged[k]->weight < WEIGHT_LEAST ? 0 : tail_of(g->averaged[k], t);
    for (size_t k = 0; k < g->naveraged; k++)
        A += g->parts[k];
    if (g->nseen < SEEN_MOST)
        g->seen[g->nseen++] = (struct seen){ t, A };
    return A;
}

static pl_code fill_onset(group *g, pl_plateau *p)
{
    const pl_curve_spec *s = g->spec;
    const pl_rig_doubt *doubt;
    pl_code rc;

    p->onset = p->range_end = (pl_bounded){ NAN, NAN, NAN, true, true };
    p->onset_itself = p->onset;
    if (!g->naveraged)
        return PL_OK;
    rc = pl_onset_of_tail(g->a, onset_tail, g, LOOKS, g->places, g->nplace, NULL, 0,
                          &p->onset_itself, g->d);
    p->onset = p->onset_itself;
    doubt = pl_rig_doubt_at(s->doubts, s->ndoubt, p->onset.at);
    if (rc || !doubt || !(doubt->relative > 0))
        return rc;
    p->doubted_rig = doubt->rig;
    rc = pl_onset_of_tail(g->a, onset_tail, g, LOOKS, g->places, g->nplace, s->doubts, s->ndoubt,
                          &p->onset, g->d);
    if (!rc)
        pl_onset_widen(&p->onset, &p->onset_itself);
    return rc;
}

/* ---- heights and pictures ---- */

static pl_code fill_average(group *g, pl_plateau *p)
{
    double *w = PL_NEWN(g->a, 4 * g->naveraged, double), *y, *low, *high;
    const size_t n = g->naveraged;
    bool runs = false;
    pl_code rc = pl_plateau_picture_x(g->a, g->places, g->nplace, &p->grid_x, &p->ngrid, g->d);

    if (rc)
        return rc;
    y = PL_NEWN(g->a, p->ngrid, double);
    low = PL_NEWN(g->a, p->ngrid, double);
    high = PL_NEWN(g->a, p->ngrid, double);
    if (!w || !y || !low || !high)
        return pl_nomem(g->d);
    for (size_t k = 0; k < n; k++)
        runs = runs || (g->averaged[k]->runs && g->averaged[k]->weight > 0.01);
    if (!n || runs) { /* no upper limit: nothing to draw */
        p->ngrid = 0;
        return PL_OK;
    }
    for (size_t i = 0; i <= p->ngrid; i++) {
        double mean;

        for (size_t k = 0; k < n; k++) {
            const pl_censored_curve *m = g->averaged[k];
            double top = m->D > 0 ? g->places[g->nplace - 1] : g->places[0];

            w[k] = pl_censored_curve_mean(m, i < p->ngrid ? p->grid_x[i] : top, &w[n + k]);
            if (pl_law_of_logs(m->law))
                w[n + k] *= w[k];
            w[2 * n + k] = m->df;
            w[3 * n + k] = m->weight;
        }
        if (i < p->ngrid)
            pl_average_limits(w, w + n, w + 2 * n, w + 3 * n, n, &y[i], &low[i], &high[i]);
        else
            pl_average_limits(w, w + n, w + 2 * n, w + 3 * n, n, &mean, &p->height_low,
                              &p->height_high);
        if (i == p->ngrid)
            p->height = mean;
    }
    p->grid_y = y;
    p->grid_low = low;
    p->grid_high = high;
    return PL_OK;
}

static pl_code list_curves(group *g, pl_plateau *p)
{
    p->curves = PL_NEWN(g->a, g->nmodel, pl_curve_fit);
    if (!p->curves)
        return pl_nomem(g->d);
    for (size_t k = 0; k < g->nmodel; k++) {
        const pl_censored_curve *m = &g->models[k];
        pl_curve_fit *c = &p->curves[k];

        *c = (pl_curve_fit){ .curve = m->curve,
                             .name = m->curve->name,
                             .log_x = m->work.log_x,
                             .averaged = m->weight > 0,
                             .weight = m->weight,
                             .aicc = m->aicc,
                             .params = PL_NEWN(g->a, 3, pl_coef),
                             .residual = { m->df, NAN, m->sigma * sqrt((double)m->known / m->df) },
                             .lack_of_fit = { NAN, NAN, NAN, NAN },
                             .limit = m->limit,
                             .x1 = g->x1 };
        if (!c->params)
            return pl_nomem(g->d);
        c->nparam = pl_censored_curve_params(m, c->params);
        c->shape[0] = m->shape;
    }
    p->ncurve = g->nmodel;
    return PL_OK;
}

/* ---- the answer ---- */

static void decide(const group *g, pl_plateau *p)
{
    const double second = g->nplace > 1 ? g->places[g->nplace - 2] : NAN;
    const bool rise = p->rise.t > p->rise.point, fall = p->fall.t > p->fall.point;

    p->reason = NULL;
    if (!g->K || !g->points.tested)
        p->reason = "glue-line-breaks-too-few";
    else if (!rise && fall)
        p->state = PL_FALLING;
    else if (!rise && p->change_excluded < (1 - g->share) * g->points.mean)
        p->state = PL_NO_CHANGE;
    else if (!rise)
        p->reason = "change-not-excluded";
    else if (fall) {
        p->state = PL_REACHED;
        p->reason = "fall-not-followed";
    } else if (!p->onset_itself.high_open && p->onset_itself.high <= second) {
        p->state = PL_REACHED;
        p->advised = p->onset.high_open ? NAN : p->onset.high;
    } else if (!p->onset_itself.low_open && p->onset_itself.low > second)
        p->state = PL_NOT_REACHED;
    else
        p->reason = "top-open";
}

static pl_code fit_group(group *g, const pl_table *t, const size_t *rows, size_t nrow,
                         const char *name, pl_plateau *p)
{
    pl_curve_spec spec = *g->spec;
    pl_diags quiet;
    pl_code rc;

    spec.response = READING;
    spec.unit = NULL;
    pl_diags_init(&quiet, g->a);
    rc = pl_plateau_gather(g->a, t, &spec, rows, nrow, &g->data, &quiet);
    *p = (pl_plateau){ .response = g->spec->response,
                       .over = g->spec->over,
                       .answer = "bond",
                       .group_factor = g->spec->for_each,
                       .group = name,
                       .share = g->share,
                       .state = PL_UNDECIDED,
                       .reason = "glue-line-breaks-too-few",
                       .height = NAN,
                       .height_low = NAN,
                       .height_high = NAN,
                       .advised = NAN,
                       .fall_excluded = NAN,
                       .change_excluded = NAN,
                       .onset = { NAN, NAN, NAN, true, true },
                       .range_end = { NAN, NAN, NAN, true, true },
                       .onset_itself = { NAN, NAN, NAN, true, true } };
    p->unit = pl_table_find(t, READING)->unit;
    p->over_unit = pl_table_find(t, g->spec->over)->unit;
    p->rise.t = p->fall.t = p->rise.point = p->fall.point = p->error_sd = NAN;
    if (rc)
        return rc == PL_ENOMEM ? pl_nomem(g->d) : PL_OK;
    p->units = g->data.n;
    p->specimens = g->data.specimens;
    p->unknown_applied = g->data.unknown_applied;
    rc = take_bounds(g, t);
    if (!rc && g->data.K >= PL_PLATEAU_LEVELS_LEAST && g->data.K <= PL_CONTRAST_LEVELS_MOST)
        rc = fit_levels(g);
    if (!rc)
        rc = fill_levels(g, p);
    if (rc || !g->K || !g->points.tested)
        return rc;
    p->error_df = pl_censored_df(&g->levels);
    p->error_sd = g->levels.sigma *
                  sqrt((double)(g->levels.exact + g->levels.between) / p->error_df);
    rc = test_contrasts(g, p);
    if (!rc)
        rc = fit_curves(g);
    if (!rc)
        rc = list_curves(g, p);
    if (!rc)
        rc = fill_average(g, p);
    if (!rc)
        rc = fill_onset(g, p);
    p->rise_point = p->rise.point;
    if (!rc)
        decide(g, p);
    return rc;
}

static bool any_handled(const pl_table *t, const pl_bond_spec *s, const size_t *rows, size_t n)
{
    const pl_column *least = pl_table_find(t, s->least), *most = pl_table_find(t, s->most);

    for (size_t i = 0; i < n; i++)
        if (!least->text[rows[i]][0] && most->text[rows[i]][0])
            return true;
    return false;
}

pl_code pl_bond_curves(pl_arena *a, const pl_table *table, const pl_bond_spec *bond, pl_link link,
                       const pl_curve_spec *spec, pl_plateau **out, size_t *nout, pl_diags *d)
{
    const double share = spec->share != 0 ? spec->share : PL_SHARE_DEFAULT;
    pl_factor_codes groups = { 0 };
    pl_table t;
    pl_code rc = make_table(a, table, bond, link, &t, d);
    size_t n;

    if (!rc && spec->for_each)
        rc = pl_table_factor(a, &t, spec->for_each, &groups, d);
    if (rc)
        return rc;
    n = spec->for_each ? groups.nlevel : 1;
    *out = PL_NEWN(a, n, pl_plateau);
    if (!*out)
        return pl_nomem(d);
    for (size_t k = 0; k < n && !rc; k++) {
        group g = { .a = a, .spec = spec, .bond = bond, .share = share, .d = d };
        size_t nrow = 0;
        size_t *own = PL_NEWN(a, table->nrow, size_t);

        if (!own)
            return pl_nomem(d);
        for (size_t i = 0; i < table->nrow; i++)
            if (!spec->for_each || groups.code[i] == (int)k)
                own[nrow++] = i;
        if (link == PL_LINK_UNHANDLED && !any_handled(table, bond, own, nrow))
            continue; /* it is the other answer again */
        rc = fit_group(&g, &t, own, nrow, spec->for_each ? groups.levels[k] : NULL, &(*out)[k]);
    }
    *nout = rc ? 0 : n;
    return rc;
}
