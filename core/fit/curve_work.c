/* Searching a curve's shape number: grid, then Brent in every valley. The closed form of
 * linear-plateau is curve_segments.c; names, standard errors and last digits are curve.c. */
#include "fit/curve_work.h"

#include <math.h>
#include <string.h>

#include "model/curve_grid.h"

/* What is left of h outside the constant and blocks, below this share of its length: the levels
 * lie wholly within blocks, and no rise can be seen. T carries about 1e-15. */
#define NO_RISE 1e-10
/* Accuracy of the search coordinate: sums of squares are then good to about 1e-14 of their
 * curvature, well below what an interval shows. */
#define SEARCH_TOL 1e-7
#define FINER 4 /* parts of a grid step in the free search */
/* A grid point lower than both neighbours by less than this share lies on a level floor (a limit,
 * or rounding), not in a valley. */
#define FLAT 1e-12
/* The limit is taken when its sum of squares is not worse than the optimum's by this share. */
#define LIMIT_TIE 1e-11

static double dot(const double *a, const double *b, size_t n)
{
    double s = 0;

    for (size_t i = 0; i < n; i++)
        s += a[i] * b[i];
    return s;
}

double pl_curve_u(const pl_curve_work *w, double x)
{
    return w->log_x ? log(x / w->x1) : x;
}

double pl_curve_x(const pl_curve_work *w, double u)
{
    return w->log_x ? w->x1 * exp(u) : u;
}

bool pl_curve_work_goes_one_way(const pl_curve_work *w)
{
    return w->curve->wide ? w->curve->wide->goes_up : w->curve->rise != NULL;
}

/* h of a wide curve from its g; none where it is not defined or does not rise at all. */
static void wide_rise(const pl_curve_work *w, const double *u, size_t n, double *columns, double *h)
{
    const pl_curve_wide *c = w->curve->wide;
    const double ends[2] = { w->span.low, w->span.high };
    double g[4], rise = 0;

    if (c->columns(c->self, ends, 2, w->shape, g))
        rise = g[3] - g[1];
    if (!(rise > 0) || !c->columns(c->self, u, n, w->shape, columns)) {
        memset(h, 0, n * sizeof *h);
        return;
    }
    for (size_t i = 0; i < n; i++)
        h[i] = (columns[2 * i + 1] - g[1]) / rise;
}

double pl_curve_rise_at(const pl_curve_work *w, double s, double u)
{
    double h = 0, columns[2];

    if (!pl_curve_work_goes_one_way(w))
        return 0;
    if (w->curve->wide)
        wide_rise(w, &u, 1, columns, &h);
    else
        w->curve->rise(&u, 1, w->span.low, w->span.high, s, &h);
    return h;
}

/* Splits z into its part along the constant and the rest, or takes a fixed floor off. */
static void make_constant(pl_curve_work *w)
{
    const pl_curve_rows *r = w->rows;
    const size_t n = r->rows;

    memcpy(w->zc, r->z, n * sizeof *w->zc);
    if (w->floor_fixed) {
        for (size_t i = 0; i < n; i++)
            w->zc[i] -= w->floor * r->one[i];
        w->ss_nothing = dot(w->zc, w->zc, n) + r->rest;
        return;
    }
    w->ss_nothing = dot(w->zc, w->zc, n) + r->rest;
    w->r11 = sqrt(dot(r->one, r->one, n));
    for (size_t i = 0; i < n; i++)
        w->q1[i] = r->one[i] / w->r11;
    for (int pass = 0; pass < 2; pass++) {
        double s = dot(w->q1, w->zc, n);

        w->qz1 += s;
        for (size_t i = 0; i < n; i++)
            w->zc[i] -= s * w->q1[i];
    }
}

pl_code pl_curve_work_make(pl_arena *a, const pl_curve *curve, const pl_curve_rows *rows,
                           bool log_x, double x1, double low_x, double high_x, double share,
                           const double *floor, pl_curve_work *out, pl_diags *d)
{
    pl_curve_work w = { .curve = curve, .rows = rows, .log_x = log_x, .x1 = x1, .share = share };
    const size_t m = rows->m, n = rows->rows;

    w.floor_fixed = floor && curve->rises;
    w.floor = w.floor_fixed ? *floor : 0;
    w.u = PL_NEWN(a, m, double);
    w.zc = PL_NEWN(a, n, double);
    w.q1 = PL_NEWN(a, n, double);
    w.h = PL_NEWN(a, m, double);
    w.th = PL_NEWN(a, n, double);
    w.grid = PL_NEWN(a, PL_CURVE_GRID_MOST, double);
    w.columns = PL_NEWN(a, curve->wide ? m * curve->nlinear : 0, double);
    if (!w.columns || !w.u || !w.zc || !w.q1 || !w.h || !w.th || !w.grid)
        return pl_nomem(d);
    for (size_t i = 0; i < m; i++)
        w.u[i] = pl_curve_u(&w, rows->distinct[i]);
    w.span = (pl_curve_span){ w.u, m, w.floor_fixed ? 0 : w.u[0], w.u[m - 1] };
    w.u_low = pl_curve_u(&w, low_x);
    w.u_high = pl_curve_u(&w, high_x);
    w.p = w.floor_fixed || !pl_curve_work_goes_one_way(&w) ? 1 : 2;
    make_constant(&w);
    if (curve->grid)
        w.ngrid = curve->grid(&w.span, w.grid);
    w.points = PL_NEWN(a, w.ngrid, pl_curve_point);
    w.trial = PL_NEWN(a, w.ngrid, double);
    w.fine = PL_NEWN(a, w.ngrid * FINER, double);
    w.fine_trial = PL_NEWN(a, w.ngrid * FINER, double);
    if (!w.points || !w.trial || !w.fine || !w.fine_trial)
        return pl_nomem(d);
    for (size_t i = 0; i < w.ngrid; i++)
        pl_curve_try(&w, pl_curve_origin(curve, w.span.low) + exp(w.grid[i]), &w.points[i]);
    *out = w;
    return curve == &pl_curve_linear_plateau ? pl_curve_segments_make(a, out, d) : PL_OK;
}

void pl_curve_try(pl_curve_work *w, double s, pl_curve_point *out)
{
    const size_t n = w->rows->rows;
    double *v = w->th, length, ss = w->rows->rest, q;
    pl_curve_point p = { .s = s };

    if (pl_curve_work_goes_one_way(w)) {
        if (w->curve->wide)
            wide_rise(w, w->u, w->rows->m, w->columns, w->h);
        else
            w->curve->rise(w->u, w->rows->m, w->span.low, w->span.high, s, w->h);
        pl_curve_rows_map(w->rows, w->h, v);
        p.h_low = pl_curve_rise_at(w, s, w->u_low);
        p.h_high = pl_curve_rise_at(w, s, w->u_high);
    } else {
        memset(v, 0, n * sizeof *v);
    }
    length = sqrt(dot(v, v, n));
    for (int pass = 0; pass < 2 && !w->floor_fixed; pass++) {
        double c = dot(w->q1, v, n);

        p.r12 += c;
        for (size_t i = 0; i < n; i++)
            v[i] -= c * w->q1[i];
    }
    p.r22 = sqrt(dot(v, v, n));
    if (p.r22 > NO_RISE * length)
        p.q2 = dot(v, w->zc, n) / p.r22;
    else
        p.r22 = 0;
    q = p.r22 > 0 ? p.q2 / p.r22 : 0;
    for (size_t i = 0; i < n; i++) {
        double e = w->zc[i] - q * v[i];

        ss += e * e;
    }
    p.ss = ss;
    *out = p;
}

double pl_curve_minimum(pl_curve_f f, void *self, double low, double high, double tol, double *at)
{
    const double golden = 0.3819660112501051; /* (3 - sqrt 5) / 2 */
    double x = low + golden * (high - low), v = x, w = x, fx = f(self, x), fv = fx, fw = fx;
    double step = 0, before = 0;

    for (int i = 0; i < 100; i++) {
        double middle = 0.5 * (low + high), u, fu;

        if (fabs(x - middle) <= 2 * tol - 0.5 * (high - low))
            break;
        double r = (x - w) * (fx - fv), q = (x - v) * (fx - fw), p = (x - v) * q - (x - w) * r;

        q = 2 * (q - r);
        if (q > 0)
            p = -p;
        q = fabs(q);
        if (fabs(before) > tol && fabs(p) < fabs(0.5 * q * before) && p > q * (low - x) &&
            p < q * (high - x)) {
            before = step;
            step = p / q;
            u = x + step;
            if (u - low < 2 * tol || high - u < 2 * tol)
                step = x < middle ? tol : -tol;
        } else {
            before = x < middle ? high - x : low - x;
            step = golden * before;
        }
        u = x + (fabs(step) >= tol ? step : step > 0 ? tol : -tol);
        fu = f(self, u);
        if (fu <= fx) {
            *(u < x ? &high : &low) = x;
            v = w, fv = fw, w = x, fw = fx, x = u, fx = fu;
        } else {
            *(u < x ? &low : &high) = u;
            if (fu <= fw || w == x)
                v = w, fv = fw, w = u, fw = fu;
            else if (fu <= fv || v == x || v == w)
                v = u, fv = fu;
        }
    }
    *at = x;
    return fx;
}

double pl_curve_valley_minimum(pl_curve_f f, void *self, const double *grid, const double *trial,
                               size_t n, double tol, double *at)
{
    size_t least = 0;
    double best;

    for (size_t i = 1; i < n; i++)
        if (trial[i] < trial[least])
            least = i;
    best = trial[least];
    *at = grid[least];
    for (size_t k = 0; k <= n; k++) {
        size_t i = k ? k - 1 : least; /* the deepest first */
        double left = i > 0 ? trial[i - 1] : INFINITY;
        double right = i + 1 < n ? trial[i + 1] : INFINITY;
        double place, value;

        if ((k && i == least) || !(trial[i] <= left && trial[i] <= right) || !isfinite(trial[i]))
            continue;
        if (k && fmax(left, right) - trial[i] <= FLAT * trial[i])
            continue;
        value = pl_curve_minimum(f, self, grid[i > 0 ? i - 1 : 0], grid[i + 1 < n ? i + 1 : i], tol,
                                 &place);
        if (value < best) {
            best = value;
            *at = place;
        }
    }
    return best;
}

static double free_ss(void *self, double z)
{
    pl_curve_work *w = self;
    pl_curve_point p;

    pl_curve_try(w, pl_curve_origin(w->curve, w->span.low) + exp(z), &p);
    return p.ss;
}

/* The free optimum is looked for once a curve, so it can afford a finer grid than the held ones. */
static void free_minimum(pl_curve_work *w, double *z)
{
    size_t n = 0;

    for (size_t i = 0; i < w->ngrid; i++) {
        size_t parts = i + 1 < w->ngrid ? FINER : 1;

        for (size_t k = 0; k < parts; k++) {
            w->fine[n] = k ? w->grid[i] + (w->grid[i + 1] - w->grid[i]) * (double)k / FINER
                           : w->grid[i];
            w->fine_trial[n] = k ? free_ss(w, w->fine[n]) : w->points[i].ss;
            n++;
        }
    }
    pl_curve_valley_minimum(free_ss, w, w->fine, w->fine_trial, n, SEARCH_TOL, z);
}

/* Takes a point as the answer; D and A by back substitution. */
static void settle(const pl_curve_work *w, const pl_curve_point *p, pl_curve_best *out)
{
    out->s = p->s;
    out->ss = p->ss;
    out->D = p->r22 > 0 ? p->q2 / p->r22 : 0;
    out->A = w->floor_fixed ? w->floor : (w->qz1 - p->r12 * out->D) / w->r11;
}

void pl_curve_search(pl_curve_work *w, pl_curve_best *out)
{
    pl_curve_point p;
    double z = 0, ends[2];

    memset(out, 0, sizeof *out);
    if (!w->curve->nshape) {
        pl_curve_try(w, NAN, &p);
        settle(w, &p, out);
        return;
    }
    if (w->curve == &pl_curve_linear_plateau) {
        pl_curve_try(w, pl_curve_segments_best(w), &p);
        ends[0] = w->span.low + pl_curve_first_gap(&w->span);
        ends[1] = w->span.high;
    } else {
        free_minimum(w, &z);
        pl_curve_try(w, pl_curve_origin(w->curve, w->span.low) + exp(z), &p);
        ends[0] = w->points[0].s;
        ends[1] = w->points[w->ngrid - 1].s;
    }
    for (int k = 0; k < 2; k++) { /* a limit that fits as well is the plainer answer */
        pl_curve_point e;

        pl_curve_try(w, ends[k], &e);
        if (e.ss <= p.ss * (1 + LIMIT_TIE))
            p = e;
    }
    settle(w, &p, out);
    out->limit = w->curve->limit(&w->span, p.s);
}

/* ---- held at a place ---- */

typedef struct held_search {
    pl_curve_work *w;
    pl_curve_held held;
    double t;
    double low, high; /* of z, fixed floor */
} held_search;

/* A and D lie on a ray through 0: A (1-share) + D (h(t) - share h(where the mean is largest)) = 0,
 * with that largest mean above zero. */
static double ray_ss(const pl_curve_work *w, pl_curve_held held, const pl_curve_point *p, double ht)
{
    double most = held == PL_HELD_ONSET ? p->h_high : p->h_low;
    double b1 = -(ht - w->share * most), b2 = 1 - w->share;
    double e1, e2, f1, f2, along;

    if (held == PL_HELD_END) { /* falling: D below zero */
        b1 = -b1;
        b2 = -b2;
    }
    e1 = w->r11 * b1 + p->r12 * b2;
    e2 = p->r22 * b2;
    along = (e1 * w->qz1 + e2 * p->q2) / (e1 * e1 + e2 * e2);
    if (!(along > 0))
        along = 0;
    f1 = w->qz1 - along * e1;
    f2 = p->q2 - along * e2;
    return p->ss + f1 * f1 + f2 * f2;
}

double pl_curve_ray_ss(pl_curve_work *w, pl_curve_held held, double t)
{
    pl_curve_point p;

    pl_curve_try(w, NAN, &p);
    return ray_ss(w, held, &p, pl_curve_rise_at(w, NAN, t));
}

static double ray_at(void *self, double z)
{
    held_search *k = self;
    pl_curve_point p;

    pl_curve_try(k->w, pl_curve_origin(k->w->curve, k->w->span.low) + exp(z), &p);
    return ray_ss(k->w, k->held, &p, pl_curve_rise_at(k->w, p.s, k->t));
}

/* A fixed floor F leaves D alone: given the shape, the condition gives it. Falling curves. */
static double fixed_fall_ss(const pl_curve_work *w, const pl_curve_point *p, double ht)
{
    double D = -(1 - w->share) * w->floor / (ht - w->share * p->h_low);
    double e = p->q2 - p->r22 * D;

    return w->floor > 0 && w->floor + D * p->h_low > 0 && D < 0 ? p->ss + e * e : INFINITY;
}

static double fixed_fall_at(void *self, double z)
{
    held_search *k = self;
    pl_curve_point p;

    pl_curve_try(k->w, pl_curve_origin(k->w->curve, k->w->span.low) + exp(z), &p);
    return fixed_fall_ss(k->w, &p, pl_curve_rise_at(k->w, p.s, k->t));
}

/* Rising with a fixed floor: given the height M = F + D h(high), the condition fixes the ratio
 * h(t) / h(high) = (share M - F) / (M - F), and the ratio fixes the shape: it goes one way in
 * z. Returns false when no shape has that ratio. */
static bool shape_of_ratio(const held_search *k, double ratio, double *s)
{
    const pl_curve_work *w = k->w;
    const double origin = pl_curve_origin(w->curve, w->span.low);
    double low = k->low, high = k->high;
    double at_low = w->points[0].s, at_high = w->points[w->ngrid - 1].s;
    bool up;

    at_low = pl_curve_rise_at(w, at_low, k->t) / pl_curve_rise_at(w, at_low, w->u_high);
    at_high = pl_curve_rise_at(w, at_high, k->t) / pl_curve_rise_at(w, at_high, w->u_high);
    up = at_high > at_low;
    if (!(ratio >= fmin(at_low, at_high) && ratio <= fmax(at_low, at_high)))
        return false;
    for (int i = 0; i < 60; i++) {
        double z = 0.5 * (low + high);

        *s = origin + exp(z);
        if ((pl_curve_rise_at(w, *s, k->t) / pl_curve_rise_at(w, *s, w->u_high) < ratio) == up)
            low = z;
        else
            high = z;
    }
    return true;
}

static double fixed_rise_at(void *self, double log_height)
{
    held_search *k = self;
    pl_curve_work *w = k->w;
    double M = exp(log_height), s, D, e;
    pl_curve_point p;

    if (!(M > w->floor) || !shape_of_ratio(k, (w->share * M - w->floor) / (M - w->floor), &s))
        return INFINITY;
    pl_curve_try(w, s, &p);
    D = (M - w->floor) / p.h_high;
    e = p.q2 - p.r22 * D;
    return p.ss + e * e;
}

static double fixed_zero_ss(held_search *k)
{
    pl_curve_point p;
    double s;

    if (!shape_of_ratio(k, k->w->share, &s))
        return INFINITY;
    pl_curve_try(k->w, s, &p);
    return p.q2 > 0 ? p.ss : p.ss + p.q2 * p.q2;
}

/* The height is searched within a factor 8 of the largest size the data show; beyond that no fit
 * comes near them. */
static double fixed_rise_ss(held_search *k)
{
    enum { STEPS = 60 };
    pl_curve_work *w = k->w;
    double grid[STEPS + 1], trial[STEPS + 1], size = 0, at;

    k->low = w->grid[0];
    k->high = w->grid[w->ngrid - 1];
    if (w->floor == 0) /* the height has no say in the shape */
        return fixed_zero_ss(k);
    for (size_t i = 0; i < w->rows->n; i++)
        size = fmax(size, fabs(w->rows->y[i]));
    if (!(size > 0))
        return INFINITY;
    for (int i = 0; i <= STEPS; i++) {
        grid[i] = log(size) + log(64.0) * ((double)i / STEPS - 0.7);
        trial[i] = fixed_rise_at(k, grid[i]);
    }
    return pl_curve_valley_minimum(fixed_rise_at, k, grid, trial, STEPS + 1, SEARCH_TOL, &at);
}

double pl_curve_ss_held(pl_curve_work *w, pl_curve_held held, double t)
{
    held_search k = { .w = w, .held = held, .t = t };
    double at;

    if (!w->curve->rise)
        return INFINITY;
    if (!w->curve->nshape) {
        pl_curve_point p;

        pl_curve_try(w, NAN, &p);
        return ray_ss(w, held, &p, pl_curve_rise_at(w, NAN, t));
    }
    if (w->floor_fixed && held == PL_HELD_ONSET)
        return fixed_rise_ss(&k);
    if (w->curve == &pl_curve_linear_plateau && !w->floor_fixed)
        return pl_curve_segments_held(w, held, t);
    for (size_t i = 0; i < w->ngrid; i++) {
        const pl_curve_point *p = &w->points[i];
        double ht = pl_curve_rise_at(w, p->s, t);

        w->trial[i] = w->floor_fixed ? fixed_fall_ss(w, p, ht) : ray_ss(w, held, p, ht);
    }
    return pl_curve_valley_minimum(w->floor_fixed ? fixed_fall_at : ray_at, &k, w->grid, w->trial,
                                   w->ngrid, SEARCH_TOL, &at);
}

void pl_curve_reach(const pl_curve_work *w, const pl_curve_best *b, double *onset, double *end)
{
    double low = b->A + b->D * pl_curve_rise_at(w, b->s, w->u_low);
    double high = b->A + b->D * pl_curve_rise_at(w, b->s, w->u_high);
    double wanted = w->share * fmax(low, high), a = w->u_low, z = w->u_high;

    *onset = *end = NAN;
    if (!(fmax(low, high) > 0))
        return;
    *onset = a;
    *end = z;
    if (fmin(low, high) >= wanted)
        return;
    if (isinf(a)) /* x = 0 in log x: logistic-rise */
        a = z - 700;
    for (int i = 0; i < 200 && a < z; i++) { /* the mean goes one way: halving finds the place */
        double t = 0.5 * (a + z);
        double m = b->A + b->D * pl_curve_rise_at(w, b->s, t);

        if (t <= a || t >= z)
            break;
        *(((m >= wanted) == (high > low)) ? &z : &a) = t;
    }
    if (high > low)
        *onset = z;
    else
        *end = a;
}
