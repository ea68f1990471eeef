/* Newton's steps for a given shape number, the profile over it, and the same with the onset held.
 * Which curves, their weights and the answer are bond_curve.c's. */
#include "fit/censored_curve.h"

#include <assert.h>
#include <float.h>
#include <math.h>
#include <string.h>

#include "base/prob.h"
#include "fit/curve.h"

#define STEPS_MOST 80
#define GAIN_LEAST 1e-16 /* twice what a step gains: the step taken is the last */
#define TAU_MOST 1e7
/* Shape numbers looked at before valleys are refined; with the onset held the valleys are broad. */
#define LOOKS 56
#define LOOKS_HELD 28
#define SHAPE_TOL 1e-9
/* Differences for the information of the shape number, as a share of it. */
#define DIFFERENCE 1e-5
/* As far along the curve as its top is told from. */
#define FAR 1e12

static double dot(const double *a, const double *b, size_t n)
{
    double s = 0;

    for (size_t i = 0; i < n; i++)
        s += a[i] * b[i];
    return s;
}

/* ---- the likelihood for given columns ---- */

typedef struct problem {
    const pl_censored_curve *m;
    double *const *column; /* p of n */
    size_t p;
    const double *shift; /* n, taken off the readings; NULL */
} problem;

static double likelihood(const problem *k, const double *theta, double *g, double *H)
{
    const size_t n = k->m->data->rows->n, p = k->p, w = p + 1;
    double sum = 0;

    if (!(theta[p] > 0))
        return -INFINITY;
    if (g) {
        memset(g, 0, w * sizeof *g);
        memset(H, 0, w * w * sizeof *H);
    }
    for (size_t i = 0; i < n; i++) {
        const double off = k->shift ? k->shift[i] : 0;
        double eta = 0;
        pl_row_part r;

        for (size_t j = 0; j < p; j++)
            eta += k->column[j][i] * theta[j];
        pl_row_likelihood(k->m->law, k->m->low[i] - off, k->m->high[i] - off, eta, theta[p], &r);
        if (!isfinite(r.value))
            return -INFINITY;
        sum += r.value;
        if (!g)
            continue;
        for (size_t j = 0; j < p; j++) {
            const double x = k->column[j][i];

            g[j] += r.ge * x;
            for (size_t l = 0; l <= j; l++)
                H[j * w + l] -= r.hee * x * k->column[l][i];
            H[p * w + j] -= r.het * x;
        }
        g[p] += r.gt;
        H[p * w + p] -= r.htt;
    }
    return sum;
}

/* (H + ridge) x = b by Cholesky; lower triangle. */
static bool solve(const double *H, const double *b, size_t w, double ridge, double *L, double *x)
{
    for (size_t j = 0; j < w; j++)
        for (size_t i = 0; i <= j; i++) {
            double s = H[j * w + i] + (i == j ? ridge * (H[j * w + j] + 1e-3) : 0);

            s -= dot(L + j * w, L + i * w, i);
            if (i == j && !(s > 1e-14 * H[j * w + j] && s > DBL_MIN))
                return false;
            L[j * w + i] = i == j ? sqrt(s) : s / L[i * w + i];
        }
    for (size_t j = 0; j < w; j++)
        x[j] = (b[j] - dot(L + j * w, x, j)) / L[j * w + j];
    for (size_t j = w; j-- > 0;) {
        for (size_t l = j + 1; l < w; l++)
            x[j] -= L[l * w + j] * x[l];
        x[j] /= L[j * w + j];
    }
    return true;
}

static double climb(const problem *k, double *theta)
{
    const size_t w = k->p + 1, most = k->m->p + 1;
    double *g = k->m->desk, *H = g + most, *L = H + most * most, *step = L + most * most,
           *next = step + most;
    double value;

    assert(k->m->desk && theta);
    value = likelihood(k, theta, g, H);
    if (!isfinite(value)) { /* from where every reading is likely enough */
        memset(theta, 0, k->p * sizeof *theta);
        theta[k->p] = 0.05;
        value = likelihood(k, theta, g, H);
    }
    for (int turn = 0; turn < STEPS_MOST && isfinite(value) && theta[k->p] < TAU_MOST; turn++) {
        double ridge = 0, gain, part = 1, there = -INFINITY;

        while (!solve(H, g, w, ridge, L, step) && ridge < 1e6)
            ridge = ridge > 0 ? 10 * ridge : 1e-12;
        gain = dot(g, step, w);
        if (!isfinite(gain))
            break;
        for (int halving = 0; halving < 60; halving++, part *= 0.5) {
            for (size_t j = 0; j < w; j++)
                next[j] = theta[j] + part * step[j];
            there = likelihood(k, next, NULL, NULL);
            if (there >= value - 1e-13 * fabs(value) &&
                (there >= value + 1e-4 * part * gain || gain < 1e-10))
                break;
            there = -INFINITY;
        }
        if (!isfinite(there))
            break;
        memcpy(theta, next, w * sizeof *theta);
        if (gain < GAIN_LEAST)
            return there;
        value = likelihood(k, theta, g, H);
    }
    return value;
}

/* ---- a shape number tried ---- */

/* For differences by the shape number. */
static double step_of_shape(const pl_censored_curve *m)
{
    return DIFFERENCE * (m->shape - pl_curve_origin(m->curve, m->work.span.low));
}

static double shape_of(const pl_censored_curve *m, double z)
{
    return pl_curve_origin(m->curve, m->work.span.low) + exp(z);
}

static void fill_rise(pl_censored_curve *m, double s, double *column)
{
    const pl_curve_rows *r = m->data->rows;
    pl_curve_work *w = &m->work;

    w->curve->rise(w->u, r->m, w->span.low, w->span.high, s, w->h);
    for (size_t i = 0; i < r->n; i++)
        column[i] = w->h[r->place[i]];
}

/* Top for a shape number; m->free becomes its place. */
static double free_top(pl_censored_curve *m, double s)
{
    const problem k = { m, m->column, m->p, NULL };

    if (m->curve->rise)
        fill_rise(m, s, m->column[1]);
    return climb(&k, m->free);
}

static double free_at(void *self, double z)
{
    pl_censored_curve *m = self;

    return -free_top(m, shape_of(m, z));
}

typedef struct held {
    pl_censored_curve *m;
    double u;
} held;

/* The onset at u with this shape number: a ray of means, or a fixed rise of logarithms. */
static double held_top(held *h, double s)
{
    pl_censored_curve *m = h->m;
    const size_t n = m->data->rows->n, q = m->data->q;
    const double ht = pl_curve_rise_at(&m->work, s, h->u);
    const double top = pl_curve_rise_at(&m->work, s, m->work.u_high), share = m->work.share;
    problem k = { m, m->column + 1, q + 1, NULL };

    fill_rise(m, s, m->column[1]);
    if (pl_law_of_logs(m->law)) {
        const double D = -log(share) / (top - ht) / m->scale;

        if (!(top > ht) || !isfinite(D))
            return -INFINITY;
        for (size_t i = 0; i < n; i++) {
            m->shift[i] = D * m->column[1][i];
            m->column[1][i] = 1;
        }
        k.shift = m->shift;
        return climb(&k, m->held);
    }
    for (size_t i = 0; i < n; i++)
        m->column[1][i] += (share * top - ht) / (1 - share);
    {
        double value = climb(&k, m->held);

        if (m->held[0] > 0)
            return value;
        k.column = m->column + 2; /* the ray shrinks to nothing */
        k.p = q;
        m->held[q] = m->held[q + 1];
        for (size_t j = 0; j < q; j++)
            m->held[j] = 0;
        value = climb(&k, m->held);
        memset(m->held, 0, (q + 2) * sizeof *m->held);
        m->held[q + 1] = 0.05;
        return value;
    }
}

static double held_at(void *self, double z)
{
    held *h = self;

    return -held_top(h, shape_of(h->m, z));
}

/* The least of f over the shape numbers, from a thinned grid with both its ends; *z its place. */
static double best_shape(pl_censored_curve *m, pl_curve_f f, void *self, size_t looks, double *z)
{
    double grid[LOOKS], trial[LOOKS];
    const size_t all = m->work.ngrid, n = all < looks ? all : looks;

    for (size_t i = 0; i < n; i++) {
        grid[i] = m->work.grid[n > 1 ? i * (all - 1) / (n - 1) : 0];
        trial[i] = f(self, grid[i]);
    }
    return pl_curve_valley_minimum(f, self, grid, trial, n, SHAPE_TOL, z);
}

/* ---- making ready ---- */

static bool make_room(pl_arena *a, pl_censored_curve *m)
{
    const size_t n = m->data->rows->n, w = m->p + 2;

    m->column = PL_NEWN(a, m->p + 1, double *);
    m->low = PL_NEWN(a, n, double);
    m->high = PL_NEWN(a, n, double);
    m->shift = PL_NEWN(a, n, double);
    m->free = PL_NEWN(a, w, double);
    m->held = PL_NEWN(a, w, double);
    m->desk = PL_NEWN(a, 3 * w * w + 6 * w, double);
    m->cov = PL_NEWN(a, w * w, double);
    if (!m->column || !m->low || !m->high || !m->shift || !m->free || !m->held || !m->desk ||
        !m->cov)
        return false;
    for (size_t j = 0; j < m->p + 1; j++)
        if (!(m->column[j] = PL_NEWN(a, n, double)))
            return false;
    return true;
}

static void take_readings(pl_censored_curve *m)
{
    const pl_censored_rows *d = m->data;
    const bool logs = pl_law_of_logs(m->law);
    const size_t n = d->rows->n, first = m->p - d->q;
    double mean = 0, ss = 0;
    size_t exact = 0, used = 0;

    for (size_t i = 0; i < n; i++) {
        double y;

        m->low[i] = logs && d->low[i] > 0 ? log(d->low[i]) : logs ? -INFINITY : d->low[i];
        m->high[i] = logs ? log(d->high[i]) : d->high[i];
        if (d->low[i] == d->high[i]) {
            exact++;
            m->jacobian -= logs ? m->low[i] : 0;
        }
        m->known += isfinite(m->low[i]) && isfinite(m->high[i]) ? 1 : 0;
        y = isfinite(m->low[i]) ? m->low[i] : m->high[i];
        ss += (y - mean) * (y - mean) * (double)used / (double)(used + 1);
        mean += (y - mean) / (double)++used;
        m->column[0][i] = 1;
        for (size_t j = 0; j < d->q; j++)
            m->column[first + j][i] = d->block[i * d->q + j];
    }
    m->scale = ss > 0 ? sqrt(ss / (double)n) : 1;
    for (size_t i = 0; i < n; i++) {
        m->low[i] /= m->scale;
        m->high[i] /= m->scale;
    }
    m->jacobian -= (double)exact * log(m->scale);
    m->free[m->p] = m->held[d->q + 1] = 0.05;
}

/* Covariance of (delta, shape, tau), the shape number being the coefficient of the column that it
 * moves the mean by: second derivatives in that mean, as least squares has them. false: something
 * runs away. */
static bool information(pl_censored_curve *m)
{
    const bool shaped = m->curve->nshape && !m->limit;
    const size_t n = m->data->rows->n, p = m->p + (shaped ? 1 : 0), W = p + 1;
    const problem k = { m, m->column, p, NULL };
    double *H = m->desk, *L = H + W * W, *g = L + W * W, *theta = g + W, *b = theta + W, *x = b + W;

    if (shaped) {
        double *by = m->column[m->p];
        const double step = step_of_shape(m);

        fill_rise(m, m->shape + step, by);
        fill_rise(m, m->shape - step, m->shift);
        for (size_t i = 0; i < n; i++)
            by[i] = m->free[1] * (by[i] - m->shift[i]) / (2 * step);
        fill_rise(m, m->shape, m->column[1]);
    }
    memcpy(theta, m->free, m->p * sizeof *theta);
    if (shaped)
        theta[m->p] = 0;
    theta[p] = m->free[m->p];
    likelihood(&k, theta, g, H);
    for (size_t c = 0; c < W; c++) { /* the inverse, column by column */
        memset(b, 0, W * sizeof *b);
        b[c] = 1;
        if (!solve(H, b, W, 0, L, x))
            return false;
        for (size_t r = 0; r < W; r++)
            m->cov[r * W + c] = x[r];
    }
    m->ncov = W;
    return true;
}

/* ---- what comes of it ---- */

/* Standard error of a A + b D, b moving with the shape number by db. */
static double error_of(const pl_censored_curve *m, double a, double b, double db)
{
    const size_t W = m->ncov;
    const double tau = m->free[m->p];
    double v = 0, *g = m->desk;

    if (!W)
        return NAN;
    memset(g, 0, W * sizeof *g);
    g[0] = a * m->scale / tau;
    if (m->curve->rise)
        g[1] = b * m->scale / tau;
    g[W - 1] = -(a * m->A + b * m->D) / tau;
    if (W > m->p + 1)
        g[m->p] = m->D * db;
    for (size_t i = 0; i < W; i++)
        v += g[i] * dot(m->cov + i * W, g, W);
    return sqrt(fmax(v, 0) * (double)m->known / m->df);
}

/* How h at u moves with the shape number. */
static double slope_of_rise(const pl_censored_curve *m, double u)
{
    const double step = step_of_shape(m);

    return m->curve->nshape ? (pl_curve_rise_at(&m->work, m->shape + step, u) -
                               pl_curve_rise_at(&m->work, m->shape - step, u)) /
                                  (2 * step)
                            : 0;
}

/* A + D h at u, and its standard error. */
static double mean_at_u(const pl_censored_curve *m, double u, double *se)
{
    const double h = m->curve->rise ? pl_curve_rise_at(&m->work, m->shape, u) : 0;

    if (se)
        *se = m->runs ? NAN : error_of(m, 1, h, m->curve->rise ? slope_of_rise(m, u) : 0);
    return m->A + m->D * h;
}

double pl_censored_curve_mean(const pl_censored_curve *m, double x, double *se)
{
    double mean = mean_at_u(m, pl_curve_u(&m->work, x), se);

    if (!pl_law_of_logs(m->law))
        return mean;
    return exp(mean + (m->law == PL_LAW_WEIBULL ? m->sigma * pl_law_quantile(m->law, 0.5) : 0));
}

/* Where the mean first is the share of its largest, in x. */
static double find_onset(const pl_censored_curve *m)
{
    const pl_curve_work *w = &m->work;
    const double low = mean_at_u(m, w->u_low, NULL), high = mean_at_u(m, w->u_high, NULL);
    const bool logs = pl_law_of_logs(m->law);
    const double wanted = logs ? high + log(w->share) : w->share * high;
    double a = w->u_low, z = w->u_high;

    if (!logs && !(fmax(low, high) > 0))
        return NAN;
    if (!(high > low) || low >= wanted)
        return pl_curve_x(w, a);
    for (int i = 0; i < 200 && a < z; i++) {
        double t = 0.5 * (a + z);

        if (t <= a || t >= z)
            break;
        *(mean_at_u(m, t, NULL) >= wanted ? &z : &a) = t;
    }
    return pl_curve_x(w, z);
}

static void search(pl_censored_curve *m)
{
    m->shape = NAN;
    if (!m->curve->nshape) {
        m->log_likelihood = free_top(m, NAN);
        return;
    }
    {
        const double ends[] = { shape_of(m, m->work.grid[0]),
                                shape_of(m, m->work.grid[m->work.ngrid - 1]) };
        double z, best = -best_shape(m, free_at, m, LOOKS, &z);

        m->shape = shape_of(m, z);
        for (int k = 0; k < 2; k++) /* a limit that fits as well is the plainer answer */
            if (free_top(m, ends[k]) >= best - 1e-10 * fabs(best))
                m->shape = ends[k];
    }
    m->log_likelihood = free_top(m, m->shape);
    m->limit = m->curve->limit(&m->work.span, m->shape);
}

pl_code pl_censored_curve_fit(pl_arena *a, const pl_curve *curve, const pl_censored_rows *data,
                              bool log_x, double x1, double low_x, double high_x, double share,
                              pl_censored_curve *out, pl_diags *d)
{
    pl_censored_curve m = { .curve = curve, .data = data, .law = data->law };
    double K, se;
    pl_code rc = pl_curve_work_make(a, curve, data->rows, log_x, x1, low_x, high_x, share, NULL,
                                    &m.work, d);

    if (rc)
        return rc;
    m.p = (curve->rise ? 2 : 1) + data->q;
    m.nmean = (curve->rise ? 2 : 1) + curve->nshape;
    if (!make_room(a, &m))
        return pl_nomem(d);
    take_readings(&m);
    m.df = (double)m.known - (double)(m.nmean + data->q);
    if (!(m.df > 0))
        return pl_fail(
            d, PL_EDATA, curve->name,
            .found = pl_arena_printf(d->arena, "%zu readings that are no bounds", m.known),
            .expected = "more of them than numbers to fit");
    search(&m);
    if (!isfinite(m.log_likelihood) || !(m.free[m.p] < TAU_MOST))
        return pl_fail(d, PL_EDATA, curve->name,
                       .found = "the readings that are no bounds lie on the curve",
                       .expected = "readings that differ among themselves");
    m.sigma = m.scale / m.free[m.p];
    m.A = m.scale * m.free[0] / m.free[m.p];
    m.D = curve->rise ? m.scale * m.free[1] / m.free[m.p] : 0;
    if (!information(&m))
        m.ncov = 0;
    mean_at_u(&m, m.work.u_high, &se);
    m.runs = !(se < 100 * m.sigma); /* of that little information nothing is left */
    K = (double)(m.nmean + data->q + 1);
    m.log_likelihood += m.jacobian;
    m.aicc = (double)m.known - K - 1 > 0
                 ? -2 * m.log_likelihood + 2 * K + 2 * K * (K + 1) / ((double)m.known - K - 1)
                 : NAN;
    m.onset = find_onset(&m);
    *out = m;
    return PL_OK;
}

double pl_censored_curve_held(pl_censored_curve *m, double x)
{
    held h = { m, pl_curve_u(&m->work, x) };
    double z, best;

    if (!m->curve->rise)
        return -INFINITY;
    best = m->curve->nshape ? -best_shape(m, held_at, &h, LOOKS_HELD, &z) : held_top(&h, NAN);
    return fmin(best + m->jacobian, m->log_likelihood);
}

size_t pl_censored_curve_params(const pl_censored_curve *m, pl_coef *out)
{
    const double t = pl_t_quantile(0.975, m->df);
    const double far = FAR * (m->work.u_high - m->work.u_low);
    size_t n = 0;

    for (size_t j = 0; j < m->nmean; j++) {
        pl_coef c = { .df = m->df, .estimate = NAN, .se = NAN, .low = NAN, .high = NAN };

        if (j == 2) {
            c.name = m->curve->shape_name;
            c.estimate = m->shape;
            c.at_bound = m->limit != NULL;
            if (m->ncov > m->p + 1)
                c.se = sqrt(m->cov[m->p * m->ncov + m->p] * (double)m->known / m->df);
        } else {
            c.name = m->curve->linear_names[j];
            if (!m->limit && (j == 0 || m->curve->nshape)) {
                c.estimate = mean_at_u(m, j ? far : 0, &c.se);
            } else if (!m->limit) { /* a line's slope */
                double by = pl_curve_rise_at(&m->work, NAN, 1) - pl_curve_rise_at(&m->work, NAN, 0);

                c.estimate = m->D * by;
                c.se = m->runs ? NAN : error_of(m, 0, by, 0);
            }
        }
        c.low = c.estimate - t * c.se;
        c.high = c.estimate + t * c.se;
        if (j == 2 && m->curve->shape_is_x && m->work.log_x) {
            c.low = pl_curve_x(&m->work, c.low);
            c.high = pl_curve_x(&m->work, c.high);
            c.estimate = pl_curve_x(&m->work, c.estimate);
            c.se *= c.estimate;
        }
        out[n++] = c;
    }
    return n;
}
