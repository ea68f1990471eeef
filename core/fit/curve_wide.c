/* Curves with up to three shape numbers and any columns, from outside the model room. The search
 * looks at a grid over all shape numbers, walks down from its best valleys (Nelder & Mead 1965,
 * Comput. J. 7:308), and polishes in long double: the derivatives of the residual sum of squares
 * by the free shape numbers are driven to zero by Newton's steps. What is fitted, and its standard
 * errors, are as in curve.c. */
#include <float.h>
#include <math.h>
#include <string.h>

#include "fit/curve.h"

#define SHAPES PL_CURVE_SHAPES_MOST
#define VALLEYS 10      /* of the grid that are walked down */
#define WALK_MOST 1500  /* looks of one walk */
#define WALK_SIZE 1e-10 /* of the range: where a walk ends */
#define HELD_MOST 200   /* the same when a place is held */
#define HELD_SIZE 1e-6
#define AT_END 1e-7   /* of the range: an optimum this near stands at the end */
#define END_TIE 1e-11 /* an end that fits as well, to this share, is the plainer answer */
#define POLISH_MOST 40
#define POLISH_STEP 1e-5L /* of a shape number, for differences of the derivative */

/* Points of the grid, a shape number: for one, two and three of them. */
static const size_t grid_points[SHAPES] = { 400, 48, 16 };
static const size_t coarse_points[SHAPES] = { 40, 9, 5 };

typedef struct pl_curve_wide_search {
    pl_curve_model *m;
    const pl_curve_desk *desk;
    size_t n; /* shape numbers */
    double low[SHAPES], high[SHAPES];
    double *u, *columns, *offset; /* by unit: n; n x nlinear; n */
    double *grid;                 /* sums of squares at the grid */
    double valley[VALLEYS][SHAPES];
    double found[2][SHAPES]; /* the last held fits, onset and end */
    bool has[2];
    pl_curve_held held;
    double t;
    bool holding;
} search;

pl_code pl_curve_wide_begin(pl_arena *a, pl_curve_model *m, pl_diags *d)
{
    const size_t n = m->rows->n, k = m->curve->nshape;
    size_t points = 1;
    search *s = PL_NEW(a, search);

    for (size_t i = 0; i < k; i++)
        points *= grid_points[k - 1];
    if (!s)
        return pl_nomem(d);
    s->m = m;
    s->n = k;
    s->u = PL_NEWN(a, n, double);
    s->columns = PL_NEWN(a, n * m->curve->nlinear, double);
    s->offset = PL_NEWN(a, n, double);
    s->grid = PL_NEWN(a, points, double);
    if (!s->u || !s->columns || !s->offset || !s->grid)
        return pl_nomem(d);
    for (size_t i = 0; i < n; i++)
        s->u[i] = pl_curve_u(&m->work, m->rows->x[i]);
    m->search = s;
    return PL_OK;
}

/* ---- one fit at given shape numbers ---- */

/* Columns by unit, and y less the addends, on the desk. */
static bool place(search *s, const pl_curve_desk *k, const double *shape)
{
    const pl_curve_wide *c = s->m->curve->wide;
    const pl_curve_rows *r = s->m->rows;
    const size_t p = s->m->curve->nlinear;

    if (!c->columns(c->self, s->u, r->n, shape, s->columns) ||
        (c->offset && !c->offset(c->self, s->u, r->n, shape, s->offset)))
        return false;
    for (size_t i = 0; i < r->n * p; i++)
        k->columns[i] = s->columns[i];
    for (size_t j = 0; j < p; j++)
        pl_curve_desk_column(k, j, k->columns + j, p);
    memcpy(k->y, r->y_left, r->left * sizeof *k->y);
    if (c->offset) {
        for (size_t i = 0; i < r->n; i++)
            k->residual[i] = (long double)r->y[i] - s->offset[i];
        pl_curve_rows_leave(r, k->residual);
        memcpy(k->y, k->residual + r->q, r->left * sizeof *k->y);
    }
    return true;
}

static bool fit_at(search *s, const pl_curve_desk *k, const double *shape, long double *beta,
                   long double *inverse, long double *rss)
{
    return place(s, k, shape) && pl_long_lsq(k->X, k->y, s->m->rows->left, s->m->curve->nlinear,
                                             beta, inverse, k->residual, rss);
}

/* dm/d shape[which] by unit into desk->slope[0..n). */
static bool fill_slope(search *s, const pl_curve_desk *k, const double *shape, size_t which,
                       const long double *beta)
{
    const pl_curve_wide *c = s->m->curve->wide;
    const size_t n = s->m->rows->n, p = s->m->curve->nlinear;

    if (!c->gradient(c->self, s->u, n, shape, which, s->columns) ||
        (c->offset_gradient && !c->offset_gradient(c->self, s->u, n, shape, which, s->offset)))
        return false;
    for (size_t i = 0; i < n; i++) {
        k->slope[i] = c->offset_gradient ? s->offset[i] : 0;
        for (size_t j = 0; j < p; j++)
            k->slope[i] += beta[j] * s->columns[i * p + j];
    }
    return true;
}

/* ---- search ---- */

static double shape_of(const search *s, size_t i, double z)
{
    double low = s->low[i], high = s->high[i];

    if (z <= 0 || z >= 1)
        return z <= 0 ? low : high;
    return low > 0 ? low * exp(z * log(high / low)) : low + z * (high - low);
}

static void shapes_of(const search *s, const double *z, double *shape)
{
    for (size_t i = 0; i < s->n; i++)
        shape[i] = shape_of(s, i, z[i]);
}

/* Residual sum of squares at a place of the search; INFINITY where there is none. */
static double ss_at(search *s, const double *z)
{
    pl_curve_model *m = s->m;
    double shape[SHAPES];
    long double beta[PL_CURVE_PARAM_MOST], rss;
    pl_curve_point p;

    shapes_of(s, z, shape);
    if (m->monotone) {
        memcpy(m->work.shape, shape, sizeof shape);
        if (s->holding)
            return pl_curve_ray_ss(&m->work, s->held, s->t);
        pl_curve_try(&m->work, NAN, &p);
        return isfinite(p.ss) ? p.ss : INFINITY;
    }
    if (!fit_at(s, s->desk, shape, beta, NULL, &rss))
        return INFINITY;
    return isfinite((double)rss) ? (double)rss : INFINITY;
}

typedef struct vertex {
    double z[SHAPES], ss;
} vertex;

static vertex look(search *s, const double *z)
{
    vertex v = { .ss = 0 };

    for (size_t i = 0; i < s->n; i++)
        v.z[i] = fmin(fmax(z[i], 0), 1);
    v.ss = ss_at(s, v.z);
    return v;
}

static void sort(vertex *v, size_t n)
{
    for (size_t i = 1; i < n; i++)
        for (size_t j = i; j > 0 && v[j].ss < v[j - 1].ss; j--) {
            vertex t = v[j];

            v[j] = v[j - 1];
            v[j - 1] = t;
        }
}

/* The point on the line from the worst vertex through the middle of the others. */
static vertex beyond(search *s, const vertex *v, double times)
{
    double z[SHAPES];

    for (size_t i = 0; i < s->n; i++) {
        double middle = 0;

        for (size_t j = 0; j < s->n; j++)
            middle += v[j].z[i] / (double)s->n;
        z[i] = middle + times * (middle - v[s->n].z[i]);
    }
    return look(s, z);
}

static double width(const search *s, const vertex *v)
{
    double w = 0;

    for (size_t j = 1; j <= s->n; j++)
        for (size_t i = 0; i < s->n; i++)
            w = fmax(w, fabs(v[j].z[i] - v[0].z[i]));
    return w;
}

/* Down from z with a simplex of this size; z becomes the lowest place found. */
static double walk(search *s, double *z, double size, double least, int most)
{
    vertex v[SHAPES + 1];

    v[0] = look(s, z);
    for (size_t j = 1; j <= s->n; j++) {
        double at[SHAPES];

        memcpy(at, v[0].z, sizeof at);
        at[j - 1] += at[j - 1] + size <= 1 ? size : -size;
        v[j] = look(s, at);
    }
    for (int i = 0; i < most; i++) {
        vertex r, e;

        sort(v, s->n + 1);
        if (width(s, v) < least)
            break;
        r = beyond(s, v, 1);
        if (r.ss < v[0].ss) {
            e = beyond(s, v, 2);
            v[s->n] = e.ss < r.ss ? e : r;
        } else if (r.ss < v[s->n - 1].ss) {
            v[s->n] = r;
        } else {
            e = beyond(s, v, r.ss < v[s->n].ss ? 0.5 : -0.5);
            if (e.ss < fmin(r.ss, v[s->n].ss)) {
                v[s->n] = e;
                continue;
            }
            for (size_t j = 1; j <= s->n; j++) { /* towards the best */
                for (size_t k = 0; k < s->n; k++)
                    v[j].z[k] = 0.5 * (v[j].z[k] + v[0].z[k]);
                v[j] = look(s, v[j].z);
            }
        }
    }
    sort(v, s->n + 1);
    memcpy(z, v[0].z, sizeof v[0].z);
    return v[0].ss;
}

static void place_of(size_t index, size_t points, size_t n, double *z)
{
    for (size_t i = 0; i < n; i++, index /= points)
        z[i] = (double)(index % points) / (double)(points - 1);
}

static size_t power(size_t base, size_t n)
{
    return n ? base * power(base, n - 1) : 1;
}

/* No neighbour along an axis lies lower. */
static bool is_valley(const search *s, size_t index, size_t points)
{
    for (size_t i = 0, stride = 1; i < s->n; i++, stride *= points) {
        size_t at = index / stride % points;

        if ((at > 0 && s->grid[index - stride] < s->grid[index]) ||
            (at + 1 < points && s->grid[index + stride] < s->grid[index]))
            return false;
    }
    return isfinite(s->grid[index]);
}

/* The valleys of the grid, the deepest first; their number. */
static size_t find_valleys(search *s)
{
    const size_t points = grid_points[s->n - 1], all = power(points, s->n);
    double depth[VALLEYS];
    size_t n = 0;

    for (size_t i = 0; i < all; i++) {
        double z[SHAPES];

        place_of(i, points, s->n, z);
        s->grid[i] = ss_at(s, z);
    }
    for (size_t i = 0; i < all; i++) {
        size_t at = n;

        if (!is_valley(s, i, points) || (n == VALLEYS && s->grid[i] >= depth[n - 1]))
            continue;
        n += n < VALLEYS;
        at = at < n ? at : n - 1;
        for (; at > 0 && depth[at - 1] > s->grid[i]; at--) {
            depth[at] = depth[at - 1];
            memcpy(s->valley[at], s->valley[at - 1], sizeof s->valley[at]);
        }
        depth[at] = s->grid[i];
        place_of(i, points, s->n, s->valley[at]);
    }
    return n;
}

/* An end of a range that fits as well, or that the walk ran into, is the answer. */
static void take_ends(search *s, double *z, double best)
{
    pl_curve_model *m = s->m;

    for (size_t i = 0; i < s->n; i++) {
        for (int high = 0; high < 2 && !m->at_end[i]; high++) {
            double there[SHAPES], ss;

            memcpy(there, z, sizeof there);
            there[i] = high;
            ss = ss_at(s, there);
            if (fabs(z[i] - high) > AT_END && !(ss <= best * (1 + END_TIE)))
                continue;
            m->at_end[i] = true;
            z[i] = high;
            if (i == 0)
                m->best.limit = high ? m->curve->wide->limit_high : m->curve->wide->limit_low;
        }
        if (!m->at_end[i])
            m->free[m->nfree++] = i;
    }
    shapes_of(s, z, m->shape);
}

/* The place in the search that a caller named, within the range; the middle where none is named. */
static void place_start(const search *s, const double *start, double *z)
{
    for (size_t i = 0; i < s->n; i++) {
        double low = s->low[i], high = s->high[i], at = start[i];

        at = fmin(fmax(at, low), high); /* NAN becomes low */
        z[i] = isnan(start[i]) ? 0.5
               : low > 0       ? log(at / low) / log(high / low)
                               : (at - low) / (high - low);
    }
}

bool pl_curve_wide_look(pl_curve_model *m, const pl_curve_desk *k)
{
    search *s = m->search;
    const pl_curve_wide *c = m->curve->wide;
    double best = INFINITY, z[SHAPES] = { 0 };
    size_t n;

    s->desk = k;
    m->best = (pl_curve_best){ .s = NAN };
    if (!s->n)
        return true;
    if (!c->range(c->self, m->work.u, m->rows->m, s->low, s->high))
        return false;
    n = find_valleys(s);
    for (size_t i = 0; i < n + (c->start != NULL); i++) {
        double at[SHAPES], size = 1.0 / (double)grid_points[s->n - 1], ss;

        if (i < n)
            memcpy(at, s->valley[i], sizeof at);
        else
            place_start(s, c->start, at);
        walk(s, at, size, WALK_SIZE, WALK_MOST);
        ss = walk(s, at, size / 16, WALK_SIZE, WALK_MOST); /* a simplex may have gone flat */
        if (ss < best) {
            best = ss;
            memcpy(z, at, sizeof z);
        }
    }
    if (!isfinite(best))
        return false;
    take_ends(s, z, best);
    return true;
}

/* ---- last digits ---- */

/* Half the derivatives of the residual sum of squares by the free shape numbers, sign turned. */
static bool descent(search *s, const double *shape, long double *out)
{
    const pl_curve_desk *k = s->desk;
    const pl_curve_rows *r = s->m->rows;
    long double beta[PL_CURVE_PARAM_MOST], rss;

    if (!fit_at(s, k, shape, beta, NULL, &rss))
        return false;
    for (size_t j = 0; j < s->m->nfree; j++) {
        if (!fill_slope(s, k, shape, s->m->free[j], beta))
            return false;
        pl_curve_rows_leave(r, k->slope);
        out[j] = 0;
        for (size_t i = 0; i < r->left; i++)
            out[j] += k->residual[i] * k->slope[r->q + i];
    }
    return true;
}

/* Solves J x = g for up to three unknowns by elimination with the largest pivot. */
static bool solve(long double J[SHAPES][SHAPES], long double *g, size_t n)
{
    for (size_t c = 0; c < n; c++) {
        size_t top = c;

        for (size_t r = c + 1; r < n; r++)
            if (fabsl(J[r][c]) > fabsl(J[top][c]))
                top = r;
        if (!(fabsl(J[top][c]) > 0))
            return false;
        for (size_t i = 0; i < n; i++) {
            long double t = J[c][i];

            J[c][i] = J[top][i];
            J[top][i] = t;
        }
        long double t = g[c];

        g[c] = g[top];
        g[top] = t;
        for (size_t r = c + 1; r < n; r++) {
            long double f = J[r][c] / J[c][c];

            for (size_t i = c; i < n; i++)
                J[r][i] -= f * J[c][i];
            g[r] -= f * g[c];
        }
    }
    for (size_t c = n; c-- > 0;) {
        for (size_t i = c + 1; i < n; i++)
            g[c] -= J[c][i] * g[i];
        g[c] /= J[c][c];
    }
    return true;
}

/* One step of Newton from shape; its size, as a share of the shape numbers. */
static double newton(search *s, double *shape)
{
    const size_t n = s->m->nfree, *free = s->m->free;
    long double g[SHAPES] = { 0 }, J[SHAPES][SHAPES] = { { 0 } };
    double largest = 0;

    if (!descent(s, shape, g))
        return INFINITY;
    for (size_t c = 0; c < n; c++) {
        double keep = shape[free[c]],
               size = fmax(fabs(keep), 1e-3 * (s->high[free[c]] - s->low[free[c]]));
        double h = (double)POLISH_STEP * size, up, down;
        long double gu[SHAPES] = { 0 }, gd[SHAPES] = { 0 };
        bool fine;

        up = shape[free[c]] = keep + h;
        fine = descent(s, shape, gu);
        down = shape[free[c]] = keep - h;
        fine = fine && descent(s, shape, gd);
        shape[free[c]] = keep;
        if (!fine)
            return INFINITY;
        for (size_t r = 0; r < n; r++)
            J[r][c] = (gu[r] - gd[r]) / ((long double)up - down);
    }
    if (!solve(J, g, n))
        return INFINITY;
    for (size_t c = 0; c < n; c++) {
        double to = (double)(shape[free[c]] - g[c]);

        largest = fmax(largest, fabs(to - shape[free[c]]) / fmax(fabs(to), DBL_MIN));
        if (!(to >= s->low[free[c]] && to <= s->high[free[c]]))
            return INFINITY;
        shape[free[c]] = to;
    }
    return largest;
}

/* As long as the steps get shorter; back to where it began if the sum of squares has grown. */
static void polish(search *s)
{
    pl_curve_model *m = s->m;
    double shape[SHAPES], before = INFINITY, step;
    long double beta[PL_CURVE_PARAM_MOST], from, to;

    if (!m->nfree || !fit_at(s, s->desk, m->shape, beta, NULL, &from))
        return;
    memcpy(shape, m->shape, sizeof shape);
    for (int i = 0; i < POLISH_MOST; i++) {
        double kept[SHAPES];

        memcpy(kept, shape, sizeof kept);
        step = newton(s, shape);
        if (!(step < before) && !(step < 1e-6)) {
            memcpy(shape, kept, sizeof shape);
            break;
        }
        if (step <= DBL_EPSILON || (step >= before && step < 1e-12))
            break;
        before = step;
    }
    if (fit_at(s, s->desk, shape, beta, NULL, &to) && to <= from * (1 + 1e-9L))
        memcpy(m->shape, shape, sizeof shape);
}

bool pl_curve_wide_settle(pl_curve_model *m, const pl_curve_desk *k)
{
    search *s = m->search;
    const size_t p = m->curve->nlinear;
    long double rss, unused[PL_CURVE_PARAM_MOST];

    m->named = true;
    polish(s);
    memcpy(m->work.shape, m->shape, sizeof m->shape);
    if (!fit_at(s, k, m->shape, m->beta, m->nfree ? NULL : m->inverse, &rss))
        return false;
    m->ss = (double)rss;
    m->nf = p + m->nfree;
    if (!m->nfree)
        return true;
    for (size_t j = 0; j < m->nfree; j++) {
        if (!fill_slope(s, k, m->shape, m->free[j], m->beta))
            return false;
        m->beta[p + j] = m->shape[m->free[j]];
        pl_curve_desk_column(k, p + j, k->slope, 1);
    }
    if (place(s, k, m->shape) && /* the fit has used them up */
        pl_long_lsq(k->X, k->y, m->rows->left, m->nf, unused, m->inverse, NULL, &rss))
        return true;
    /* some shape number makes no difference there (a step's bend): the rest stands given all */
    m->nfree = 0;
    m->nf = p;
    return fit_at(s, k, m->shape, m->beta, m->inverse, &rss);
}

/* ---- what is asked of the fit ---- */

long double pl_curve_wide_features(const pl_curve_model *m, double x, long double *f)
{
    const pl_curve_wide *c = m->curve->wide;
    const size_t p = m->curve->nlinear;
    double u = pl_curve_u(&m->work, x), one[PL_CURVE_LINEAR_MOST], add = 0;
    long double mean = 0;

    for (size_t j = 0; j < m->nf; j++)
        f[j] = NAN;
    if (!c->columns(c->self, &u, 1, m->shape, one) ||
        (c->offset && !c->offset(c->self, &u, 1, m->shape, &add)))
        return NAN;
    mean = add;
    for (size_t j = 0; j < p; j++) {
        f[j] = one[j];
        mean += m->beta[j] * one[j];
    }
    for (size_t k = 0; k < m->nfree; k++) {
        add = 0;
        if (!c->gradient(c->self, &u, 1, m->shape, m->free[k], one) ||
            (c->offset_gradient && !c->offset_gradient(c->self, &u, 1, m->shape, m->free[k], &add)))
            return mean;
        f[p + k] = add;
        for (size_t j = 0; j < p; j++)
            f[p + k] += m->beta[j] * one[j];
    }
    return mean;
}

void pl_curve_wide_params(const pl_curve_model *m, pl_coef *out)
{
    const size_t p = m->curve->nlinear;

    for (size_t j = 0; j < m->nf; j++) {
        out[j] = pl_curve_coef(
            m, j < p ? m->curve->linear_names[j] : m->curve->wide->shape_names[m->free[j - p]],
            (double)m->beta[j], m->s2 * (double)m->inverse[j * m->nf + j]);
        if (j == p && m->free[0] == 0 && m->work.log_x && m->curve->shape_is_x)
            pl_curve_tell_place(m, &out[j]);
    }
    for (size_t i = 0, j = m->nf; i < m->curve->nshape; i++) {
        bool known = true;

        for (size_t k = 0; k < m->nfree; k++)
            known = known && m->free[k] != i;
        if (!known)
            continue;
        out[j] = pl_curve_coef(m, m->curve->wide->shape_names[i], m->shape[i], NAN);
        out[j++].at_bound = m->at_end[i];
    }
}

double pl_curve_wide_held(pl_curve_model *m, pl_curve_held held, double x)
{
    search *s = m->search;
    const size_t points = s->n ? coarse_points[s->n - 1] : 0, all = s->n ? power(points, s->n) : 0;
    double best = INFINITY, at[SHAPES] = { 0 }, size = points ? 0.5 / (double)points : 0, ss;

    if (!m->monotone)
        return INFINITY;
    s->held = held;
    s->t = pl_curve_u(&m->work, x);
    s->holding = true;
    for (size_t i = 0; i <= all; i++) {
        double z[SHAPES];

        if (i < all)
            place_of(i, points, s->n, z);
        else
            memcpy(z, s->valley[0], sizeof z);
        ss = ss_at(s, z);
        if (ss < best) {
            best = ss;
            memcpy(at, z, sizeof at);
        }
    }
    if (s->n) {
        walk(s, at, size, HELD_SIZE, HELD_MOST);
        best = walk(s, at, size / 8, HELD_SIZE, HELD_MOST);
        if (s->has[held]) {
            ss = walk(s, s->found[held], size / 8, HELD_SIZE, HELD_MOST);
            if (ss < best) {
                best = ss;
                memcpy(at, s->found[held], sizeof at);
            }
        }
        memcpy(s->found[held], at, sizeof at);
        s->has[held] = true;
    }
    s->holding = false;
    return best;
}
