/* A fitted curve with names, standard errors and last digits. Searching is curve_work.c; onset
 * intervals are onset.c. */
#include "fit/curve.h"

#include <assert.h>
#include <float.h>
#include <math.h>
#include <string.h>

#include "base/prob.h"
#include "fit/lsq.h"

/* Bracket of the polishing: the search leaves the shape number good to about 1e-8 of itself. */
#define POLISH_FIRST 1e-6L
#define POLISH_MOST 0.1L

static bool turns(const pl_curve_model *m)
{
    return m->curve == &pl_curve_rise_and_fall;
}

bool pl_curve_desk_make(pl_arena *a, const pl_curve_model *m, pl_curve_desk *k)
{
    const size_t n = m->rows->n, p = m->curve->nlinear ? m->curve->nlinear : 1;

    *k = (pl_curve_desk){ m,
                          PL_NEWN(a, n, long double),
                          PL_NEWN(a, n * p, long double),
                          PL_NEWN(a, n * p, long double),
                          PL_NEWN(a, n * (p + m->curve->nshape + 1), long double),
                          PL_NEWN(a, n, long double),
                          PL_NEWN(a, n, long double) };
    if (!k->u || !k->columns || !k->slope || !k->X || !k->y || !k->residual)
        return false;
    for (size_t i = 0; i < n; i++)
        k->u[i] = m->work.log_x ? logl((long double)m->rows->x[i] / m->work.x1) : m->rows->x[i];
    return true;
}

/* Which named columns are fitted: all, or from `top` on with the floor fixed. */
static size_t first_column(const pl_curve_model *m)
{
    return m->work.floor_fixed ? 1 : 0;
}

void pl_curve_desk_column(const pl_curve_desk *k, size_t j, const long double *source,
                          size_t stride)
{
    const pl_curve_rows *r = k->m->rows;
    long double *v = k->residual; /* free until the fit */

    for (size_t i = 0; i < r->n; i++)
        v[i] = source[i * stride];
    pl_curve_rows_leave(r, v);
    memcpy(k->X + j * r->left, v + r->q, r->left * sizeof *v);
}

/* y, less the fixed floor's part, blocks taken out. */
static void place_y(const pl_curve_desk *k, const long double *floor_part, size_t stride)
{
    const pl_curve_rows *r = k->m->rows;
    long double *v = k->residual;

    if (!k->m->work.floor_fixed) {
        memcpy(k->y, r->y_left, r->left * sizeof *k->y);
        return;
    }
    for (size_t i = 0; i < r->n; i++)
        v[i] = r->y[i] - (long double)k->m->work.floor * floor_part[i * stride];
    pl_curve_rows_leave(r, v);
    memcpy(k->y, v + r->q, r->left * sizeof *v);
}

/* Fits the named columns at shape s; false when they depend on each other. */
static bool fit_named(const pl_curve_desk *k, long double s, long double *beta,
                      long double *inverse, long double *rss)
{
    const pl_curve *c = k->m->curve;
    const pl_curve_rows *r = k->m->rows;
    const size_t from = first_column(k->m), p = c->nlinear - from;

    c->columns(c, k->u, r->n, s, k->columns);
    for (size_t j = 0; j < p; j++)
        pl_curve_desk_column(k, j, k->columns + from + j, c->nlinear);
    place_y(k, k->columns, c->nlinear);
    return pl_long_lsq(k->X, k->y, r->left, p, beta, inverse, k->residual, rss);
}

/* dm/ds by unit into slope[0..n): the floor's part too, fixed or not. */
static void fill_slope(const pl_curve_desk *k, long double s, const long double *beta)
{
    const pl_curve_model *m = k->m;
    const size_t p = m->curve->nlinear, from = first_column(m);

    m->curve->gradient(k->u, m->rows->n, s, k->slope);
    for (size_t i = 0; i < m->rows->n; i++) {
        long double g = from ? (long double)m->work.floor * k->slope[i * p] : 0;

        for (size_t j = from; j < p; j++)
            g += beta[j - from] * k->slope[i * p + j];
        k->slope[i] = g; /* i <= i * p: nothing needed later is overwritten */
    }
}

bool pl_curve_desk_descent(const pl_curve_desk *k, long double s, long double *out)
{
    long double beta[PL_CURVE_PARAM_MOST], rss, sum = 0;
    const pl_curve_rows *r = k->m->rows;

    if (!fit_named(k, s, beta, NULL, &rss))
        return false;
    fill_slope(k, s, beta);
    /* the residual lies outside blocks already, so the slope need not be freed of them: but it is
     * kept in the rows that blocks leave, so the slope goes there too */
    pl_curve_rows_leave(r, k->slope);
    for (size_t i = 0; i < r->left; i++)
        sum += k->residual[i] * k->slope[r->q + i];
    *out = sum;
    return true;
}

/* Zero of descent near s, by the Illinois form of regula falsi on a bracket. */
static long double polish(const pl_curve_desk *k, long double s)
{
    const long double origin = pl_curve_origin(k->m->curve, k->m->work.span.low);
    long double low, high, flow, fhigh;

    for (long double e = POLISH_FIRST;; e *= 10) {
        if (e > POLISH_MOST)
            return s;
        low = s - e * (s - origin);
        high = s + e * (s - origin);
        if (!pl_curve_desk_descent(k, low, &flow) || !pl_curve_desk_descent(k, high, &fhigh))
            return s;
        if (flow >= 0 && fhigh <= 0)
            break;
    }
    for (int i = 0, side = 0; i < 80 && high - low > 4 * LDBL_EPSILON * fabsl(high); i++) {
        long double t = flow - fhigh > 0 ? low + (high - low) * flow / (flow - fhigh)
                                         : 0.5L * (low + high);
        long double f;

        if (!(t > low && t < high))
            t = 0.5L * (low + high);
        if (t <= low || t >= high || !pl_curve_desk_descent(k, t, &f))
            break;
        if (f >= 0) {
            low = t, flow = f;
            fhigh *= side == 1 ? 0.5L : 1;
            side = 1;
        } else {
            high = t, fhigh = f;
            flow *= side == -1 ? 0.5L : 1;
            side = -1;
        }
        s = f == 0 ? t : s;
        if (f == 0)
            return t;
    }
    return fabsl(flow) < fabsl(fhigh) ? low : high;
}

bool pl_curve_on_a_point(const pl_curve_model *m, double s)
{
    for (size_t i = 0; i < m->rows->m; i++)
        if (m->work.u[i] == s)
            return true;
    return false;
}

bool pl_curve_desk_settle(pl_curve_model *m, const pl_curve_desk *k, long double s)
{
    const pl_curve *c = m->curve;
    const size_t from = first_column(m), p = c->nlinear - from;
    long double rss, unused[PL_CURVE_PARAM_MOST];

    if (!fit_named(k, s, m->beta, c->nshape ? NULL : m->inverse, &rss))
        return false;
    m->nf = p + c->nshape;
    m->ss = (double)rss;
    m->best.s = (double)s;
    if (!c->nshape)
        return true;
    memcpy(k->y, k->residual, m->rows->left * sizeof *k->y);
    fill_slope(k, s, m->beta);
    for (size_t j = 0; j < p; j++)
        pl_curve_desk_column(k, j, k->columns + from + j, c->nlinear);
    pl_curve_desk_column(k, p, k->slope, 1);
    m->beta[p] = s;
    return pl_long_lsq(k->X, k->y, m->rows->left, p + 1, unused, m->inverse, NULL, &rss);
}

static pl_dd twofold(long double x)
{
    double hi = (double)x;

    return (pl_dd){ hi, (double)(x - hi) };
}

/* Powers lean on each other so that long double leaves 13 of Wampler's digits: once more in
 * twofold numbers. A long double is two doubles exactly. */
static pl_code sharpen(pl_arena *a, pl_curve_model *m, const pl_curve_desk *k, pl_diags *d)
{
    const size_t n = m->rows->left, p = m->curve->nlinear;
    pl_dd **columns = PL_NEWN(a, p, pl_dd *), *y = PL_NEWN(a, n, pl_dd);
    pl_lsq f;
    pl_code rc;

    if (!m->named || m->curve->nshape || m->curve->wide || p <= 2)
        return PL_OK;
    if (!columns || !y)
        return pl_nomem(d);
    m->curve->columns(m->curve, k->u, m->rows->n, 0, k->columns);
    for (size_t j = 0; j < p; j++) {
        columns[j] = PL_NEWN(a, n, pl_dd);
        if (!columns[j])
            return pl_nomem(d);
        pl_curve_desk_column(k, j, k->columns + j, p);
        for (size_t i = 0; i < n; i++)
            columns[j][i] = twofold(k->X[j * n + i]);
    }
    for (size_t i = 0; i < n; i++)
        y[i] = twofold(m->rows->y_left[i]);
    rc = pl_lsq_factor(a, columns, y, n, p, NULL, &f, d);
    if (rc || f.rank < p)
        return rc;
    for (size_t j = 0; j < p; j++)
        m->beta[j] = (long double)f.beta_dd[j].hi + f.beta_dd[j].lo;
    for (size_t j = 0; j < p * p; j++)
        m->inverse[j] = (long double)f.inverse_dd[j].hi + f.inverse_dd[j].lo;
    m->ss = pl_dd_value(f.rss_dd);
    return PL_OK;
}

static bool settle_named(pl_curve_model *m, const pl_curve_desk *k)
{
    const bool polished = m->curve->nshape && !pl_curve_on_a_point(m, m->best.s);

    return pl_curve_desk_settle(m, k, polished ? polish(k, m->best.s) : m->best.s);
}

/* (1, h) with the shape known: at a limit, or where the named columns have run together. */
static bool settle_scaled(pl_curve_model *m, const pl_curve_desk *k)
{
    const size_t n = m->rows->n, from = first_column(m);
    long double rss, *h = k->columns;

    for (size_t i = 0; i < n; i++) {
        h[i] = pl_curve_rise_at(&m->work, m->best.s, (double)k->u[i]);
        k->slope[i] = 1;
    }
    if (!from)
        pl_curve_desk_column(k, 0, k->slope, 1);
    pl_curve_desk_column(k, 1 - from, h, 1);
    place_y(k, k->slope, 1);
    m->named = false;
    m->nf = 2 - from;
    if (!pl_long_lsq(k->X, k->y, m->rows->left, m->nf, m->beta, m->inverse, NULL, &rss))
        return false;
    m->ss = (double)rss;
    return true;
}

double pl_curve_aicc(double ss, double N, double K)
{
    if (!(N - K - 1 > 0))
        return NAN;
    return N * (log(2 * M_PI) + 1 + log(fmax(ss, DBL_MIN) / N)) + 2 * K +
           2 * K * (K + 1) / (N - K - 1);
}

static void find_reach(pl_curve_model *m)
{
    double onset, end, low, high;

    if (turns(m)) {
        pl_curve_turn_reach(m);
        return;
    }
    if (!m->monotone && m->curve->wide) { /* where it turns no held fit can say: no onset */
        pl_curve_powers_reach(m);
        m->best.ss = m->ss;
        m->onset = m->end = NAN;
        return;
    }
    if (!m->monotone) {
        m->best.ss = m->ss; /* the search basis holds no powers */
        pl_curve_powers_reach(m);
        return;
    }
    pl_curve_reach(&m->work, &m->best, &onset, &end);
    low = m->best.A + m->best.D * pl_curve_rise_at(&m->work, m->best.s, m->work.u_low);
    high = m->best.A + m->best.D * pl_curve_rise_at(&m->work, m->best.s, m->work.u_high);
    m->onset = pl_curve_x(&m->work, onset);
    m->end = pl_curve_x(&m->work, end);
    m->height = fmax(low, high);
    m->top_at = pl_curve_x(&m->work, high >= low ? m->work.u_high : m->work.u_low);
}

static pl_code begin(pl_arena *a, const pl_curve *curve, const pl_curve_rows *rows, bool log_x,
                     double x1, double low_x, double high_x, double share, const double *floor,
                     pl_curve_model *m, pl_diags *d)
{
    pl_code rc;

    memset(m, 0, sizeof *m);
    m->curve = curve;
    m->rows = rows;
    rc = pl_curve_work_make(a, curve, rows, log_x, x1, low_x, high_x, share, floor, &m->work, d);
    if (rc)
        return rc;
    m->monotone = pl_curve_work_goes_one_way(&m->work) || (curve->nlinear == 1 && !curve->wide);
    rc = curve->wide ? pl_curve_wide_begin(a, m, d)
         : turns(m)  ? pl_curve_turn_begin(a, m, d)
                     : PL_OK;
    if (rc)
        return rc;
    m->nmean = curve->nlinear + curve->nshape - first_column(m);
    if (rows->left < m->nmean)
        return pl_fail(d, PL_EDATA, "",
                       .found = pl_arena_printf(
                           d->arena, "%zu units, %zu block effects and %zu parameters of \"%s\"",
                           rows->n, rows->q, m->nmean, curve->name),
                       .expected = "at least as many units as effects");
    return PL_OK;
}

static bool search(pl_curve_model *m, const pl_curve_desk *k)
{
    bool fine;

    if (m->curve->wide)
        return pl_curve_wide_look(m, k) && pl_curve_wide_settle(m, k);
    if (turns(m)) {
        fine = pl_curve_turn_look(m);
        m->named = fine && !m->best.limit && settle_named(m, k);
        return fine && (m->named || pl_curve_turn_settle(m, k));
    }
    pl_curve_search(&m->work, &m->best);
    m->named = !m->best.limit;
    fine = m->named && settle_named(m, k);
    return fine || (m->monotone && m->curve->rise && settle_scaled(m, k));
}

/* The shape number, its limit and the names as another fit has them. */
static bool take_shape(pl_curve_model *m, const pl_curve_desk *k, const pl_curve_model *at)
{
    const bool shape = m->curve->nshape > 0;

    if (!shape)
        pl_curve_search(&m->work, &m->best);
    m->best.s = at->best.s;
    m->best.limit = at->best.limit;
    m->named = at->named;
    if (m->named)
        return pl_curve_desk_settle(m, k, shape ? at->beta[at->nf - 1] : 0);
    return m->monotone && m->curve->rise && settle_scaled(m, k);
}

/* The settled shape in the basis of the searches. */
static void take_basis(pl_curve_model *m)
{
    pl_curve_point p;

    pl_curve_try(&m->work, m->best.s, &p);
    m->best.D = p.r22 > 0 ? p.q2 / p.r22 : 0;
    m->best.A = m->work.floor_fixed ? m->work.floor
                                    : (m->work.qz1 - p.r12 * m->best.D) / m->work.r11;
    m->best.ss = p.ss;
}

static pl_code finish(pl_curve_model *m, bool fine, pl_diags *d)
{
    const pl_curve_rows *rows = m->rows;

    if (!fine)
        return pl_fail(d, PL_ERANK, "",
                       .found = pl_arena_printf(d->arena,
                                                "\"%s\" cannot be told from the blocks, "
                                                "or has columns that depend on each other",
                                                m->curve->name),
                       .expected = "levels that vary within blocks");
    m->df = (double)(rows->left - m->nmean);
    m->s2 = m->df > 0 ? m->ss / m->df : NAN;
    m->aicc = pl_curve_aicc(m->ss, (double)rows->n, (double)(m->nmean + rows->q + 1)) +
              (rows->scatter ? rows->scatter->log_det : 0);
    find_reach(m);
    return PL_OK;
}

pl_code pl_curve_model_fit(pl_arena *a, const pl_curve *curve, const pl_curve_rows *rows,
                           bool log_x, double x1, double low_x, double high_x, double share,
                           const double *floor, pl_curve_model *out, pl_diags *d)
{
    pl_code rc = begin(a, curve, rows, log_x, x1, low_x, high_x, share, floor, out, d);
    pl_mark mark;
    pl_curve_desk k;
    bool fine;

    if (rc)
        return rc;
    mark = pl_arena_mark(a);
    if (!pl_curve_desk_make(a, out, &k))
        return pl_nomem(d);
    fine = search(out, &k);
    rc = fine ? sharpen(a, out, &k, d) : PL_OK;
    pl_arena_reset(a, mark);
    if (rc)
        return rc;
    if (fine && out->named && out->monotone)
        take_basis(out);
    return finish(out, fine, d);
}

pl_code pl_curve_model_fit_at(pl_arena *a, const pl_curve_model *at, const pl_curve_rows *rows,
                              pl_curve_model *out, pl_diags *d)
{
    const pl_curve_work *w = &at->work;
    pl_code rc = begin(a, at->curve, rows, w->log_x, w->x1, pl_curve_x(w, w->u_low),
                       pl_curve_x(w, w->u_high), w->share, w->floor_fixed ? &w->floor : NULL, out,
                       d);
    pl_mark mark;
    pl_curve_desk k;
    bool fine;

    assert(!at->curve->wide && !turns(at));
    if (rc)
        return rc;
    mark = pl_arena_mark(a);
    if (!pl_curve_desk_make(a, out, &k))
        return pl_nomem(d);
    fine = take_shape(out, &k, at);
    rc = fine ? sharpen(a, out, &k, d) : PL_OK;
    pl_arena_reset(a, mark);
    if (rc)
        return rc;
    if (fine && out->monotone)
        take_basis(out);
    return finish(out, fine, d);
}

/* f at one x; the mean comes back. */
static long double features(const pl_curve_model *m, double x, long double *f)
{
    const pl_curve *c = m->curve;
    const size_t from = first_column(m);
    long double u = m->work.log_x ? logl((long double)x / m->work.x1) : x, mean = 0;
    long double all[PL_CURVE_LINEAR_MOST], slope[PL_CURVE_LINEAR_MOST];

    if (c->wide)
        return pl_curve_wide_features(m, x, f);
    if (!m->named && turns(m))
        return pl_curve_turn_features(m, u, f);
    if (!m->named) {
        f[0] = 1;
        f[1 - from] = pl_curve_rise_at(&m->work, m->best.s, (double)u);
        mean = from ? m->work.floor : 0;
        for (size_t j = 0; j < m->nf; j++)
            mean += m->beta[j] * f[j];
        return mean;
    }
    c->columns(c, &u, 1, c->nshape ? m->beta[m->nf - 1] : 0, all);
    mean = from ? m->work.floor * all[0] : 0;
    for (size_t j = from; j < c->nlinear; j++) {
        f[j - from] = all[j];
        mean += m->beta[j - from] * all[j];
    }
    if (c->nshape) {
        c->gradient(&u, 1, m->beta[m->nf - 1], slope);
        f[m->nf - 1] = from ? m->work.floor * slope[0] : 0;
        for (size_t j = from; j < c->nlinear; j++)
            f[m->nf - 1] += m->beta[j - from] * slope[j];
    }
    return mean;
}

static double spread(const pl_curve_model *m, const long double *f)
{
    long double v = 0;

    for (size_t i = 0; i < m->nf; i++)
        for (size_t j = 0; j < m->nf; j++)
            v += f[i] * m->inverse[i * m->nf + j] * f[j];
    return m->s2 * (double)v;
}

void pl_curve_model_slopes(const pl_curve_model *m, double x, double *out)
{
    long double f[PL_CURVE_PARAM_MOST] = { 0 };

    features(m, x, f);
    for (size_t j = 0; j < m->nf; j++)
        out[j] = (double)f[j];
}

double pl_curve_model_offset(const pl_curve_model *m, double x)
{
    long double f[PL_CURVE_PARAM_MOST] = { 0 }, mean = features(m, x, f);
    const size_t linear = m->nf - (m->named ? m->curve->nshape : 0);

    for (size_t j = 0; j < linear; j++)
        mean -= m->beta[j] * f[j];
    return first_column(m) ? (double)mean : 0;
}

double pl_curve_model_mean(const pl_curve_model *m, double x, double *variance)
{
    long double f[PL_CURVE_PARAM_MOST] = { 0 };
    double mean = (double)features(m, x, f);

    if (variance)
        *variance = spread(m, f);
    return mean;
}

/* ---- as the caller sees it ---- */

pl_coef pl_curve_coef(const pl_curve_model *m, const char *name, double estimate, double variance)
{
    double se = variance >= 0 ? sqrt(variance) : NAN;
    double t = m->df > 0 ? pl_t_quantile(0.975, m->df) : NAN;

    return (pl_coef){ .name = name,
                      .estimate = estimate,
                      .se = se,
                      .df = m->df,
                      .low = estimate - t * se,
                      .high = estimate + t * se };
}

/* Its limits are those of ln x. */
void pl_curve_tell_place(const pl_curve_model *m, pl_coef *c)
{
    c->low = pl_curve_x(&m->work, c->low);
    c->high = pl_curve_x(&m->work, c->high);
    c->estimate = pl_curve_x(&m->work, c->estimate);
    c->se *= c->estimate;
}

/* f for the mean of a limit curve where the named parameter stands: floor at u = 0, top where the
 * rise has ended; false where it has run away. */
static bool limit_feature(const pl_curve_model *m, bool top, long double *f)
{
    const pl_curve_span *span = &m->work.span;
    const bool line = !strcmp(m->best.limit, "line"), step = !strcmp(m->best.limit, "step");
    const bool knee_ends = m->curve == &pl_curve_linear_plateau;

    f[0] = 1;
    if (top) {
        if (line && !knee_ends)
            return false;
        f[m->nf - 1] = line || step ? 1 : span->high / (span->high - span->low);
        return true;
    }
    f[m->nf - 1] = -span->low / (span->high - span->low);
    return line || (step && span->low == 0);
}

static double limit_shape(const pl_curve_model *m)
{
    const bool line = !strcmp(m->best.limit, "line");

    if (m->curve == &pl_curve_saturating_exponential)
        return line ? 0 : INFINITY;
    if (m->curve == &pl_curve_saturating_hyperbola)
        return line ? INFINITY : 0;
    if (m->curve == &pl_curve_quadratic_plateau && line)
        return INFINITY;
    return m->best.s;
}

static void limit_params(const pl_curve_model *m, pl_coef *out)
{
    const size_t from = first_column(m);
    long double f[2] = { 0 };
    pl_coef *c;

    for (size_t j = from; j < m->curve->nlinear; j++) {
        double mean = from ? m->work.floor : 0;
        bool there = limit_feature(m, j == 1, f);

        if (from)
            f[0] = f[1];
        for (size_t i = 0; i < m->nf; i++)
            mean += (double)(m->beta[i] * f[i]);
        out[j - from] = pl_curve_coef(m, m->curve->linear_names[j], there ? mean : NAN,
                                      there ? spread(m, f) : NAN);
    }
    c = &out[m->curve->nlinear - from];
    *c = pl_curve_coef(m, m->curve->shape_name, limit_shape(m), NAN);
    c->at_bound = true;
    if (m->work.log_x && m->curve->shape_is_x)
        pl_curve_tell_place(m, c);
}

static void named_params(const pl_curve_model *m, pl_coef *out)
{
    const size_t from = first_column(m), p = m->curve->nlinear - from;

    for (size_t j = 0; j < m->nf; j++) {
        out[j] = pl_curve_coef(m, j < p ? m->curve->linear_names[j + from] : m->curve->shape_name,
                               (double)m->beta[j], m->s2 * (double)m->inverse[j * m->nf + j]);
        if (j == p && m->work.log_x && m->curve->shape_is_x)
            pl_curve_tell_place(m, &out[j]);
    }
}

/* The named columns have run together: only the shape number can be told. */
static void shape_params(const pl_curve_model *m, pl_coef *out)
{
    const size_t from = first_column(m), p = m->curve->nlinear - from;
    const bool line = m->best.limit && !strcmp(m->best.limit, "line");

    for (size_t j = 0; j < p; j++)
        out[j] = pl_curve_coef(m, m->curve->linear_names[j + from], NAN, NAN);
    out[p] = pl_curve_coef(m, m->curve->shape_name, line ? NAN : m->best.s, NAN);
    out[p].at_bound = m->best.limit != NULL;
}

static pl_lack_of_fit lack_of_fit(const pl_curve_model *m, const pl_residual *pure)
{
    pl_lack_of_fit l = { NAN, m->df - pure->df, pure->df, NAN };

    if (!(l.df2 > 0 && l.df1 > 0)) {
        l.df1 = l.df2 = NAN;
        return l;
    }
    /* units of one level may stand at different x, so the curve can beat the level means */
    l.f = fmax(0, (m->ss - pure->ss) / l.df1) / (pure->ss / l.df2);
    l.p = pl_f_upper(l.f, l.df1, l.df2);
    return l;
}

pl_code pl_curve_model_report(pl_arena *a, const pl_curve_model *m, const pl_residual *pure,
                              const double *x, size_t ngrid, pl_curve_fit *out, pl_diags *d)
{
    double *y = PL_NEWN(a, ngrid, double), *low = PL_NEWN(a, ngrid, double);
    double *high = PL_NEWN(a, ngrid, double);
    double t = m->df > 0 ? pl_t_quantile(0.975, m->df) : NAN;

    memset(out, 0, sizeof *out);
    out->params = PL_NEWN(a, m->nmean, pl_coef);
    if (!y || !low || !high || !out->params)
        return pl_nomem(d);
    out->curve = m->curve;
    out->name = m->curve->name;
    out->log_x = m->work.log_x;
    out->aicc = m->aicc;
    out->nparam = m->nmean;
    if (m->curve->wide)
        pl_curve_wide_params(m, out->params);
    else if (m->named)
        named_params(m, out->params);
    else if (m->best.limit && !turns(m))
        limit_params(m, out->params);
    else
        shape_params(m, out->params);
    out->residual = (pl_residual){ m->df, m->ss, m->df > 0 ? sqrt(m->s2) : NAN };
    out->lack_of_fit = lack_of_fit(m, pure);
    out->shape[0] = m->curve->nshape && !m->curve->wide ? m->best.s : 0;
    for (size_t i = 0; i < m->curve->nshape && m->curve->wide; i++)
        out->shape[i] = m->shape[i];
    out->limit = m->best.limit;
    out->x1 = m->work.x1;
    for (size_t i = 0; i < ngrid; i++) {
        double v;

        y[i] = pl_curve_model_mean(m, x[i], &v);
        low[i] = y[i] - t * sqrt(v);
        high[i] = y[i] + t * sqrt(v);
    }
    out->ngrid = ngrid;
    out->grid_x = x;
    out->grid_y = y;
    out->grid_low = low;
    out->grid_high = high;
    return PL_OK;
}

double pl_curve_model_held(pl_curve_model *m, pl_curve_held held, double x)
{
    if (m->curve->wide)
        return pl_curve_wide_held(m, held, x);
    if (turns(m))
        return pl_curve_turn_held(m, held, x);
    if (!m->monotone)
        return pl_curve_powers_held(m, held, x);
    return pl_curve_ss_held(&m->work, held, pl_curve_u(&m->work, x));
}
