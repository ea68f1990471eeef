/* Newton's steps for a given shape number, the profile over it, and the same with the onset held.
 * Which curves, their weights and the answer are bond_curve.c's. */
#include "fit/censored_curve.h"

#include <assert.h>
#include <math.h>
#include <string.h>

#include "base/prob.h"
#include "fit/curve.h"

#define GAIN_LEAST 1e-12     /* twice what a step gains: the step taken is the last */
#define GAIN_LEAST_HELD 1e-9 /* steps gain the square of what the one before did */
#define TAU_FIRST                                                                   \
    0.05 /* in units of the readings' own scatter: whatever they are, likely enough \
          */
/* Shape numbers looked at before valleys are refined; with the onset held the valleys are broad. */
#define LOOKS 56
#define LOOKS_HELD 28
#define SHALLOW 1e-7 /* valleys of less are rounding */
#define SHAPE_TOL 1e-9
/* With the onset held only the height of the valley counts: this far off its place it is 1e-10 too
 * low where it is round. */
#define SHAPE_TOL_HELD 1e-6
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

/* h of every reading for a shape number, into a column behind the frame's. */
static void fill_rise(pl_censored_curve *m, double s, size_t column)
{
    const pl_curve_rows *r = m->data->rows;
    pl_curve_work *w = &m->work;

    w->curve->rise(w->u, r->m, w->span.low, w->span.high, s, w->h);
    for (size_t i = 0; i < r->n; i++)
        m->system.z[i * m->system.stride + column] = w->h[r->place[i]];
}

/* Newton's steps from theta; should no reading be likely there, from where every one is. */
static double climb(pl_censored_curve *m, const pl_censored_system *k, double *theta,
                    const double *condition, double gain_least)
{
    const size_t w = pl_censored_count(k);
    double value = pl_censored_climb(k, theta, condition, gain_least, m->desk);

    if (isfinite(value))
        return value;
    memset(theta, 0, w * sizeof *theta);
    theta[w - 1] = TAU_FIRST;
    return pl_censored_climb(k, theta, condition, gain_least, m->desk);
}

/* Top for a shape number; m->free becomes its place. */
static double free_top(pl_censored_curve *m, double s)
{
    if (m->curve->rise)
        fill_rise(m, s, m->rise);
    return climb(m, &m->system, m->free, NULL, GAIN_LEAST);
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

/* The curve of logarithms rises by D h, D given by the share. */
static double held_logs(pl_censored_curve *m, double D)
{
    pl_censored_system k = m->system;

    for (size_t i = 0; i < k.n; i++) {
        const double off = D * k.z[i * k.stride + m->rise];

        m->shifted_low[i] = m->low[i] - off;
        m->shifted_high[i] = m->high[i] - off;
    }
    k.p = m->rise;
    k.low = m->shifted_low;
    k.high = m->shifted_high;
    return climb(m, &k, m->held, NULL, GAIN_LEAST_HELD);
}

/* theta without its part along the condition, which tau has none of. */
static void put_on_condition(const double *condition, double *theta, size_t n)
{
    const double part = dot(condition, theta, n) / dot(condition, condition, n);

    for (size_t j = 0; j < n; j++)
        theta[j] -= part * condition[j];
}

/* The onset at u with this shape number: a ray of means, A = k D; or a fixed rise of logarithms. */
static double held_top(held *h, double s)
{
    pl_censored_curve *m = h->m;
    const double ht = pl_curve_rise_at(&m->work, s, h->u);
    const double top = pl_curve_rise_at(&m->work, s, m->work.u_high), share = m->work.share;
    const size_t F = m->frame.count;
    pl_censored_system k = m->system;
    double value;

    fill_rise(m, s, m->rise);
    if (pl_law_of_logs(m->law)) {
        const double D = -log(share) / (top - ht) / m->scale;

        return top > ht && isfinite(D) ? held_logs(m, D) : -INFINITY;
    }
    memcpy(m->condition, m->constant, F * sizeof *m->condition);
    m->condition[F] = -(share * top - ht) / (1 - share);
    m->condition[F + 1] = 0;
    put_on_condition(m->condition, m->held, F + 1);
    value = climb(m, &k, m->held, m->condition, GAIN_LEAST_HELD);
    if (m->held[F] > 0)
        return value;
    k.p = m->rise; /* the ray shrinks to nothing */
    m->held[F] = m->held[F + 1];
    m->condition[F] = 0;
    put_on_condition(m->condition, m->held, F);
    value = climb(m, &k, m->held, m->condition, GAIN_LEAST_HELD);
    memset(m->held, 0, (F + 2) * sizeof *m->held);
    m->held[F + 1] = TAU_FIRST;
    return value;
}

/* What holding the onset loses: at least 0, so that valleys of rounding are told from others. */
static double held_at(void *self, double z)
{
    held *h = self;

    return h->m->log_likelihood - h->m->jacobian - held_top(h, shape_of(h->m, z));
}

/* The least of f over the shape numbers, from a thinned grid with both its ends; *z its place. */
static double best_shape(pl_censored_curve *m, pl_curve_f f, void *self, size_t looks, double tol,
                         double *z)
{
    double grid[LOOKS], trial[LOOKS];
    const size_t all = m->work.ngrid, n = all < looks ? all : looks;

    for (size_t i = 0; i < n; i++) {
        grid[i] = m->work.grid[n > 1 ? i * (all - 1) / (n - 1) : 0];
        trial[i] = SHALLOW * rint(f(self, grid[i]) / SHALLOW);
    }
    return pl_curve_valley_minimum(f, self, grid, trial, n, tol, z);
}

/* ---- making ready ---- */

/* The constant and the blocks as columns; false: no room. */
static pl_code make_frame(pl_arena *a, pl_censored_curve *m, pl_diags *d)
{
    const size_t n = m->data->rows->n, q = m->data->q, F = q + 1;
    double *X = PL_NEWN(a, n * F, double);
    size_t dependent;
    pl_code rc;

    if (!X)
        return pl_nomem(d);
    for (size_t i = 0; i < n; i++) {
        X[i * F] = 1;
        for (size_t j = 0; j < q; j++)
            X[i * F + 1 + j] = m->data->block[i * q + j];
    }
    rc = pl_censored_frame_make(a, X, n, F, q, 2, &m->frame, &dependent, d);
    if (rc)
        return rc;
    assert(dependent == F); /* pl_curve_blocks leaves out what depends */
    m->system = m->frame.system;
    m->rise = m->system.p;
    m->system.p += m->curve->rise ? 1 : 0;
    m->system.law = m->law;
    return PL_OK;
}

static bool make_room(pl_arena *a, pl_censored_curve *m)
{
    const size_t n = m->data->rows->n, w = m->frame.count + 3;
    pl_censored_system most = m->system;

    most.p = m->rise + 2;
    m->low = PL_NEWN(a, n, double);
    m->high = PL_NEWN(a, n, double);
    m->shifted_low = PL_NEWN(a, n, double);
    m->shifted_high = PL_NEWN(a, n, double);
    m->constant = PL_NEWN(a, w, double);
    m->free = PL_NEWN(a, w, double);
    m->held = PL_NEWN(a, w, double);
    m->condition = PL_NEWN(a, w, double);
    m->g = PL_NEWN(a, 2 * w, double);
    m->desk = PL_NEWN(a, pl_censored_desk(&most), double);
    m->H = PL_NEWN(a, pl_censored_second(&most), double);
    m->factors = PL_NEWN(a, pl_censored_second(&most), double);
    return m->low && m->high && m->shifted_low && m->shifted_high && m->constant && m->free &&
           m->held && m->condition && m->g && m->desk && m->H && m->factors;
}

static void take_readings(pl_censored_curve *m)
{
    const pl_censored_rows *d = m->data;
    const bool logs = pl_law_of_logs(m->law);
    const size_t n = d->rows->n;
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
    }
    m->scale = ss > 0 ? sqrt(ss / (double)n) : 1;
    for (size_t i = 0; i < n; i++) {
        m->low[i] /= m->scale;
        m->high[i] /= m->scale;
    }
    m->jacobian -= (double)exact * log(m->scale);
    m->system.low = m->low;
    m->system.high = m->high;
    m->constant[0] = 1;
    pl_censored_frame_solve_turned(&m->frame, m->constant);
    m->free[pl_censored_count(&m->system) - 1] = TAU_FIRST;
    m->held[m->frame.count + (pl_law_of_logs(m->law) ? 0 : 1)] = TAU_FIRST;
}

/* Second derivatives at the top and their factors, the shape number being the coefficient of the
 * column that it moves the mean by, as least squares has it. false: something runs away. */
static bool information(pl_censored_curve *m)
{
    const bool shaped = m->curve->nshape && !m->limit;
    const size_t n = m->system.n, w = pl_censored_count(&m->system);
    double *theta = m->g;

    m->top = m->system;
    memcpy(theta, m->free, w * sizeof *theta);
    if (shaped) {
        const double step = step_of_shape(m), D = m->free[m->frame.count] / (2 * step);
        const size_t by = m->rise + 1;

        fill_rise(m, m->shape + step, by);
        fill_rise(m, m->shape - step, m->rise);
        for (size_t i = 0; i < n; i++) {
            double *z = m->system.z + i * m->system.stride;

            z[by] = D * (z[by] - z[m->rise]);
        }
        fill_rise(m, m->shape, m->rise);
        m->top.p++;
        theta[w] = theta[w - 1];
        theta[w - 1] = 0;
    }
    (void)pl_censored_at(&m->top, theta, m->condition, m->H);
    return pl_censored_factor(&m->top, m->H, 0, 0, m->factors);
}

/* ---- what comes of it ---- */

/* Standard error of a A + b D + D db s, s the shape number. */
static double error_of(const pl_censored_curve *m, double a, double b, double db)
{
    const size_t w = pl_censored_count(&m->top), F = m->frame.count;
    const double tau = m->free[pl_censored_count(&m->system) - 1], by = m->scale / tau;
    double *g = m->g, *x = g + F + 3;

    if (!m->factors)
        return NAN;
    memset(g, 0, w * sizeof *g);
    for (size_t j = 0; j < F; j++)
        g[j] = a * by * m->constant[j];
    if (m->curve->rise)
        g[F] = b * by;
    g[w - 1] = -(a * m->A + b * m->D) / tau;
    if (m->top.p > m->system.p)
        g[F + 1] = m->D * db;
    pl_censored_back(&m->top, m->H, m->factors, g, x);
    return sqrt(fmax(dot(g, x, w), 0) * (double)m->known / m->df);
}

static double error_of_shape(const pl_censored_curve *m)
{
    const size_t w = pl_censored_count(&m->top);
    double *g = m->g, *x = g + m->frame.count + 3;

    memset(g, 0, w * sizeof *g);
    g[w - 2] = 1;
    pl_censored_back(&m->top, m->H, m->factors, g, x);
    return sqrt(fmax(x[w - 2], 0) * (double)m->known / m->df);
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
        double z, best = -best_shape(m, free_at, m, LOOKS, SHAPE_TOL, &z);

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
    double K, se, tau;
    pl_code rc = pl_curve_work_make(a, curve, data->rows, log_x, x1, low_x, high_x, share, NULL,
                                    &m.work, d);

    if (rc)
        return rc;
    m.nmean = (curve->rise ? 2 : 1) + curve->nshape;
    rc = make_frame(a, &m, d);
    if (rc)
        return rc;
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
    tau = m.free[pl_censored_count(&m.system) - 1];
    if (!isfinite(m.log_likelihood) || !(tau < PL_CENSORED_TAU_MOST))
        return pl_fail(d, PL_EDATA, curve->name,
                       .found = "the readings that are no bounds lie on the curve",
                       .expected = "readings that differ among themselves");
    m.sigma = m.scale / tau;
    m.A = m.sigma * dot(m.constant, m.free, m.frame.count);
    m.D = curve->rise ? m.sigma * m.free[m.frame.count] : 0;
    if (!information(&m))
        m.factors = NULL;
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
    double z, loss;

    if (!m->curve->rise)
        return -INFINITY;
    if (!m->curve->nshape)
        return fmin(held_top(&h, NAN) + m->jacobian, m->log_likelihood);
    loss = best_shape(m, held_at, &h, LOOKS_HELD, SHAPE_TOL_HELD, &z);
    return m->log_likelihood - fmax(loss, 0);
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
            if (m->factors && m->top.p > m->system.p)
                c.se = error_of_shape(m);
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
