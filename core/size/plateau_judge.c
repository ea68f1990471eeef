/* One simulated study judged: rise and fall, curves and their weights, state and onset, all on
 * projections worked out once for a layout. Draws and counts are plateau.c.
 *
 * For a curve A + D h(u; s) the free fit at shape s is one projection of the level means, and so
 * is the fit with the onset held at t: along h + a, a = (share h(high) - h(t))/(1 - share), D >= 0
 * (docs/methods/curves-and-onset.md). Tables hold the unit vectors over a grid of s and t, s side
 * by side, so that a curve costs a few products of a small matrix; between shapes a parabola
 * through three neighbours is taken. Same sums in the same order for any register width. */
#include <math.h>
#include <string.h>

#include "base/clones.h"
#include "base/lanes.h"
#include "base/prob.h"
#include "fit/plateau.h"
#include "size/plateau.h"

#define LANES PL_LANES
typedef pl_lanes lanes;

#define CURVES (PL_CURVES_DEFAULT - 1) /* flat is not averaged */
#define LOOKS 128                      /* places over the range: as onset.c has them */
#define FINER 3 /* shapes of a free fit between two of the curve's own grid */
/* Shapes of a held fit: even steps of ln((1 - low)/(1 - share)), low the strength at the lowest
 * level as a share of the highest's; the rise at the place held is then 1 - exp(-step). */
#define HELD 56
#define HELD_STEP 0.12
#define HALVINGS 44
#define COARSE 4           /* every so many shapes are looked at first */
#define WINDOW (2 * LANES) /* and then those about the best: 2 COARSE + 3 fit in */
#define WEIGHT_LEAST 1e-5  /* a curve of less moves a tail area by less than that */
#define TAIL_AT 64         /* places of a tail table, a unit */
#define TAIL_TO 14         /* its end */
#define POINT_TOL 2e-3     /* of the contrasts' critical points, as fit has it */
#define CONTRAST_ALPHA 0.025

typedef struct table {
    size_t ns, width; /* shapes; with the empty ones that fill the last register */
    size_t nh, held_width;
    size_t look_width, held_look_width; /* the same of every COARSE-th */
    double nmean;
    double *q, *look;         /* K x width: free fits; every COARSE-th shape of them */
    double *held, *held_look; /* nt of K x held_width; every COARSE-th */
    double *h;                /* ns x nt: h at the places */
    double *norm, *mean_h;    /* of h less its mean; its mean */
} table;

struct pl_judge_layout {
    size_t K, nt, nc, last; /* last: the place of the last but one level */
    double share;
    double *t; /* nt places, x */
    table c[CURVES];
    size_t width_most;
};

typedef struct weighed { /* what n makes of a curve */
    double df, penalty;
    const double *tail; /* T's lower tail at -r */
    bool offered;
} weighed;

struct pl_judge {
    const pl_judge_layout *l;
    double N, error_df, root_w, root_W;
    weighed c[CURVES];
    size_t ncontrast;
    double *rise, *fall; /* ncontrast x K, over their standard errors */
    double point;
};

/* ---- tables ---- */

static double u_of(bool log_x, double x1, double x)
{
    return log_x ? log(x / x1) : x;
}

static pl_code make_places(pl_arena *a, const double *x, pl_judge_layout *l, pl_diags *d)
{
    const size_t looks = LOOKS / (l->K - 1) + 1;

    l->t = PL_NEWN(a, (l->K - 1) * looks + 2, double);
    if (!l->t)
        return pl_nomem(d);
    for (size_t k = 0; k + 1 < l->K; k++) {
        if (k + 2 == l->K)
            l->last = l->nt;
        for (size_t i = 0; i < looks; i++)
            l->t[l->nt++] = x[k] + (x[k + 1] - x[k]) * (k || i ? (double)i / (double)looks : 1e-6);
    }
    l->t[l->nt++] = x[l->K - 1] - (x[l->K - 1] - x[l->K - 2]) * 1e-6;
    return PL_OK;
}

/* Unit vector of K values into column s; its length before. */
static double put(size_t K, double *at, size_t width, size_t s, const double *v)
{
    double norm = 0;

    for (size_t k = 0; k < K; k++)
        norm += v[k] * v[k];
    norm = sqrt(norm);
    for (size_t k = 0; k < K; k++)
        at[k * width + s] = norm > 0 ? v[k] / norm : 0;
    return norm;
}

typedef struct tabling {
    pl_judge_layout *l;
    const pl_curve *curve;
    pl_curve_span span;
    const double *ut; /* nt */
    double low, high; /* ends of the search coordinate */
    double origin;
    table *c;
} tabling;

static void rise(const tabling *g, const double *u, size_t n, double z, double *h)
{
    g->curve->rise(u, n, g->span.low, g->span.high, g->origin + exp(z), h);
}

static void fill_free(const tabling *g, size_t s, double z)
{
    const size_t K = g->l->K;
    double h[PL_PLATEAU_LEVELS_MOST], mean = 0;

    rise(g, g->span.u, K, z, h);
    rise(g, g->ut, g->l->nt, z, g->c->h + s * g->l->nt);
    for (size_t k = 0; k < K; k++)
        mean += h[k] / (double)K;
    for (size_t k = 0; k < K; k++)
        h[k] -= mean;
    g->c->mean_h[s] = mean;
    g->c->norm[s] = put(K, g->c->q, g->c->width, s, h);
}

/* The search coordinate at which the rise at u is `wanted`, or the end next to it. */
static double coordinate(const tabling *g, double u, double wanted)
{
    double low = g->low, high = g->high, a, b;
    bool grows;

    rise(g, &u, 1, low, &a);
    rise(g, &u, 1, high, &b);
    grows = b > a;
    for (int i = 0; i < HALVINGS; i++) {
        double middle = 0.5 * (low + high), h;

        rise(g, &u, 1, middle, &h);
        *((h < wanted) == grows ? &low : &high) = middle;
    }
    return 0.5 * (low + high);
}

static void fill_held(const tabling *g, size_t i, size_t s, double z)
{
    const pl_judge_layout *l = g->l;
    double v[PL_PLATEAU_LEVELS_MOST], ht, ray;

    rise(g, g->span.u, l->K, z, v);
    rise(g, &g->ut[i], 1, z, &ht);
    ray = (l->share - ht) / (1 - l->share);
    for (size_t k = 0; k < l->K; k++)
        v[k] += ray;
    put(l->K, g->c->held + i * l->K * g->c->held_width, g->c->held_width, s, v);
}

static size_t filled(size_t n)
{
    return (n + LANES - 1) / LANES * LANES;
}

static size_t looked_at(size_t n)
{
    return n <= WINDOW ? 0 : filled((n - 1) / COARSE + 1);
}

/* Every COARSE-th column of n. */
static void thin_out(size_t K, const double *from, size_t width, size_t n, double *to,
                     size_t to_width)
{
    for (size_t k = 0; k < K && to_width; k++)
        for (size_t s = 0; s < n; s += COARSE)
            to[k * to_width + s / COARSE] = from[k * width + s];
}

static pl_code make_table(pl_arena *a, const double *x, pl_judge_layout *l, const pl_curve *curve,
                          bool log_x, table *c, pl_diags *d)
{
    double *u = PL_NEWN(a, l->K + l->nt, double), *z = PL_NEWN(a, PL_CURVE_GRID_MOST, double);
    tabling g = { .l = l, .curve = curve, .span = { u, l->K, 0, 0 }, .c = c };
    size_t n = 1;

    if (!u || !z)
        return pl_nomem(d);
    for (size_t k = 0; k < l->K + l->nt; k++)
        u[k] = u_of(log_x, x[0], k < l->K ? x[k] : l->t[k - l->K]);
    g.ut = u + l->K;
    g.span.low = u[0];
    g.span.high = u[l->K - 1];
    g.origin = pl_curve_origin(curve, g.span.low);
    if (curve->nshape)
        n = curve->grid(&g.span, z);
    g.low = z[0];
    g.high = z[n - 1];
    c->nmean = (double)(curve->nlinear + curve->nshape);
    c->ns = (n - 1) * FINER + 1;
    c->nh = curve->nshape ? HELD : 1;
    c->width = filled(c->ns);
    c->held_width = filled(c->nh);
    c->look_width = looked_at(c->ns);
    c->held_look_width = looked_at(c->nh);
    c->look = PL_NEWN(a, l->K * c->look_width, double);
    c->held_look = PL_NEWN(a, l->nt * l->K * c->held_look_width, double);
    c->q = PL_NEWN(a, l->K * c->width, double);
    c->held = PL_NEWN(a, l->nt * l->K * c->held_width, double);
    c->h = PL_NEWN(a, c->ns * l->nt, double);
    c->norm = PL_NEWN(a, c->ns, double);
    c->mean_h = PL_NEWN(a, c->ns, double);
    if (!c->q || !c->held || !c->look || !c->held_look || !c->h || !c->norm || !c->mean_h)
        return pl_nomem(d);
    for (size_t s = 0; s < c->ns; s++) {
        size_t at = s / FINER;
        double part = (double)(s % FINER) / FINER;

        fill_free(&g, s, part > 0 ? z[at] + part * (z[at + 1] - z[at]) : z[at]);
    }
    for (size_t i = 0; i < l->nt; i++)
        for (size_t s = 0; s < c->nh; s++)
            fill_held(&g, i, s,
                      c->nh == 1 ? 0 : coordinate(&g, g.ut[i], -expm1(-HELD_STEP * (double)s)));
    thin_out(l->K, c->q, c->width, c->ns, c->look, c->look_width);
    for (size_t i = 0; i < l->nt; i++)
        thin_out(l->K, c->held + i * l->K * c->held_width, c->held_width, c->nh,
                 c->held_look + i * l->K * c->held_look_width, c->held_look_width);
    l->width_most = c->look_width > l->width_most ? c->look_width : l->width_most;
    l->width_most = WINDOW > l->width_most ? WINDOW : l->width_most;
    return PL_OK;
}

pl_code pl_judge_lay_out(pl_arena *a, const double *levels, size_t K, double share,
                         pl_judge_layout **out, pl_diags *d)
{
    pl_judge_layout *l = PL_NEW(a, pl_judge_layout);
    pl_code rc;

    *out = NULL;
    if (!l)
        return pl_nomem(d);
    l->K = K;
    l->share = share;
    rc = make_places(a, levels, l, d);
    for (size_t i = 0; i < CURVES && !rc; i++) {
        const pl_named_curve *named = &pl_curves_default[i + 1];
        const pl_curve *c = pl_curve_find(named->curve);

        if ((named->log_x && !(levels[0] > 0)) || K <= c->nlinear + c->nshape ||
            (c->needs_positive && levels[0] < 0))
            continue;
        rc = make_table(a, levels, l, c, named->log_x, &l->c[l->nc++], d);
    }
    *out = l;
    return rc;
}

/* ---- what a number per level adds ---- */

static double *tail_table(pl_arena *a, double df)
{
    double *t = PL_NEWN(a, TAIL_AT * TAIL_TO + 2, double);

    for (size_t i = 0; t && i < TAIL_AT * TAIL_TO + 2; i++)
        t[i] = pl_t_lower(-(double)i / TAIL_AT, df);
    return t;
}

static pl_code make_contrasts(pl_arena *a, pl_judge *j, double w, pl_diags *d)
{
    const size_t K = j->l->K;
    double weight[PL_PLATEAU_LEVELS_MOST], *c = PL_NEWN(a, K * (K - 1) / 2 * K, double);
    pl_real point = { NAN, NAN };
    pl_code rc;

    j->rise = PL_NEWN(a, K * (K - 1) / 2 * K, double);
    j->fall = PL_NEWN(a, K * (K - 1) / 2 * K, double);
    if (!c || !j->rise || !j->fall)
        return pl_nomem(d);
    for (size_t i = 1; i < K; i++)
        for (size_t m = i + 1; m <= K; m++) {
            double *row = c + j->ncontrast * K,
                   se = sqrt((1 / (double)i + 1 / (double)(m - i)) / w);

            for (size_t k = 0; k < m; k++)
                row[k] = k < i ? -1 / (double)i : 1 / (double)(m - i);
            for (size_t k = 0; k < K; k++) {
                j->rise[j->ncontrast * K + k] = row[k] / se;
                j->fall[j->ncontrast * K + K - 1 - k] = row[k] / se; /* end for end */
            }
            j->ncontrast++;
        }
    for (size_t k = 0; k < K; k++)
        weight[k] = 1 / w;
    rc = pl_mvt_upper_point(a, c, weight, j->ncontrast, K, j->error_df, CONTRAST_ALPHA, POINT_TOL,
                            &point);
    j->point = point.value;
    return rc == PL_EPREC ? PL_OK : rc == PL_ENOMEM ? pl_nomem(d) : rc;
}

/* AICc's part that does not hang on the data; not offered where it has no value. */
static pl_code weigh_curve(pl_arena *a, const pl_judge *j, double blocks, double nmean, weighed *c,
                           pl_diags *d)
{
    double free_K = nmean + blocks + 1;

    c->df = j->N - blocks - nmean;
    c->offered = j->N - free_K - 1 > 0;
    if (!c->offered)
        return PL_OK;
    c->penalty = 2 * free_K + 2 * free_K * (free_K + 1) / (j->N - free_K - 1);
    c->tail = tail_table(a, c->df);
    return c->tail ? PL_OK : pl_nomem(d);
}

pl_code pl_judge_make(pl_arena *a, const pl_judge_layout *l, unsigned n, double blocks,
                      double efficiency, pl_judge **out, pl_diags *d)
{
    const double w = n * efficiency;
    pl_judge *j = PL_NEW(a, pl_judge);
    bool any = false;
    pl_code rc;

    *out = NULL;
    if (!j)
        return pl_nomem(d);
    j->l = l;
    j->N = (double)l->K * n;
    j->error_df = j->N - (double)l->K - blocks;
    j->root_w = sqrt(w);
    j->root_W = sqrt(w * (double)l->K);
    if (!(j->error_df > 0))
        return pl_fail(d, PL_EUNFIT, "", .found = "a level is never repeated",
                       .expected = "two glue-ups per level or more");
    rc = make_contrasts(a, j, w, d);
    for (size_t i = 0; i < l->nc && !rc; i++) {
        rc = weigh_curve(a, j, blocks, l->c[i].nmean, &j->c[i], d);
        any = any || j->c[i].offered;
    }
    if (!rc && !any)
        return pl_fail(d, PL_EUNFIT, "", .found = "too few levels or glue-ups for any curve",
                       .expected = "three levels or more, each made twice or more");
    *out = rc ? NULL : j;
    return rc;
}

double *pl_judge_scratch(pl_arena *a, const pl_judge *j)
{
    return PL_NEWN(a, j->l->width_most, double);
}

double pl_judge_error_df(const pl_judge *j)
{
    return j->error_df;
}

/* ---- one study ---- */

/* out[s] = sum over k of at[k][s] z[k], s below n, a multiple of LANES; rows of at lie width apart.
 * size: without its sign. */
PL_INLINE void project(const double *at, const double *z, size_t K, size_t width, size_t n,
                       bool size, double *out)
{
    for (size_t s = 0; s < n; s += LANES) {
        lanes sum = *(const lanes *)(const void *)(at + s) * z[0];

        for (size_t k = 1; k < K; k++)
            sum += *(const lanes *)(const void *)(at + k * width + s) * z[k];
        if (size)
            sum = (lanes)((pl_lane_bits)sum & INT64_MAX);
        *(lanes *)(void *)(out + s) = sum;
    }
}

/* Place of the largest of n; v is filled up to whole registers. */
PL_INLINE size_t largest(const double *v, size_t n)
{
    lanes best = (lanes){ 0 } - INFINITY, where = { 0 };
    size_t at = 0, whole = n / LANES * LANES;
    double most = -INFINITY;

    for (size_t s = 0; s < whole; s += LANES) {
        const lanes here = *(const lanes *)(const void *)(v + s), place = (lanes){ 0 } + (double)s;
        pl_lane_bits more;

        pl_lanes_less(&best, &here, &more);
        best = (lanes)((more & (pl_lane_bits)here) | (~more & (pl_lane_bits)best));
        where = (lanes)((more & (pl_lane_bits)place) | (~more & (pl_lane_bits)where));
    }
    for (size_t i = 0; i < LANES && whole; i++) {
        size_t place = (size_t)where[i] + i;

        if (best[i] > most || (!(best[i] < most) && place < at)) {
            most = best[i];
            at = place;
        }
    }
    for (size_t s = whole; s < n; s++)
        if (v[s] > most) {
            most = v[s];
            at = s;
        }
    return at;
}

/* The n shapes of a table as far as they matter: every COARSE-th first, then those about the best
 * of these, which come into v. Returns the first of them, their number in *many. */
PL_INLINE size_t project_best(const double *look, size_t look_width, const double *all,
                              size_t width, size_t n, const double *z, size_t K, bool size,
                              double *v, size_t *many)
{
    size_t best, from;

    if (!look_width) {
        project(all, z, K, width, width, size, v);
        *many = n;
        return 0;
    }
    project(look, z, K, look_width, look_width, size, v);
    best = COARSE * largest(v, (n - 1) / COARSE + 1);
    from = best > COARSE + 1 ? best - COARSE - 1 : 0;
    from = from + WINDOW > width ? width - WINDOW : from;
    project(all + from, z, K, width, WINDOW, size, v);
    *many = n - from < WINDOW ? n - from : WINDOW;
    return from;
}

/* Top of the parabola through three neighbours; *shift where, in steps from the middle one. */
PL_INLINE double top_of(const double *v, size_t n, size_t at, double *shift)
{
    double below, above, bend;

    *shift = 0;
    if (at == 0 || at + 1 >= n)
        return v[at];
    below = v[at] - v[at - 1];
    above = v[at] - v[at + 1];
    bend = below + above;
    if (!(bend > 0))
        return v[at];
    *shift = 0.5 * (below - above) / bend;
    return v[at] + 0.125 * (below - above) * (below - above) / bend;
}

typedef struct fitted {
    double ss, s2, weight;
    double place; /* onset, as a place among t, whole and part */
} fitted;

typedef struct study {
    const pl_judge *j;
    double z[PL_PLATEAU_LEVELS_MOST];
    double zz, z1, ss; /* squares of the means; along the constant; between glue-ups */
    fitted f[CURVES];
    double *scratch;
} study;

/* Onset of A + D h at one shape, as a place among t: -1 lies below all of them. */
static double onset_at(const pl_judge *j, const table *c, size_t s, double along, double mean)
{
    const double *h = c->h + s * j->l->nt;
    double D = c->norm[s] > 0 ? along / (c->norm[s] * j->root_w) : 0, A = mean - D * c->mean_h[s],
           wanted;
    size_t low = 0, high = j->l->nt - 1;

    if (!(D > 0)) /* flat or falling: strongest at the lowest level */
        return -1;
    wanted = (j->l->share * (A + D) - A) / D; /* h is 1 at the highest level */
    if (h[0] >= wanted)
        return -1;
    while (high - low > 1) {
        size_t middle = (low + high) / 2;

        *(h[middle] >= wanted ? &high : &low) = middle;
    }
    if (h[high] <= h[low])
        return (double)high;
    return (double)low + fmin((wanted - h[low]) / (h[high] - h[low]), 1);
}

PL_CLONES static void fit_free(study *y, size_t i)
{
    const pl_judge *j = y->j;
    const table *c = &j->l->c[i];
    const double mean = y->z1 / j->root_W;
    fitted *f = &y->f[i];
    double *v = y->scratch, shift, top, before;
    size_t at, n,
        from = project_best(c->look, c->look_width, c->q, c->width, c->ns, y->z, j->l->K, true, v,
                            &n);

    at = largest(v, n);
    top = top_of(v, n, at, &shift);
    f->ss = y->ss + fmax(y->zz - y->z1 * y->z1 - top * top, 0);
    f->s2 = f->ss / j->c[i].df;
    /* v lost its sign: it is found again at the best shape */
    before = 0;
    for (size_t k = 0; k < j->l->K; k++)
        before += c->q[k * c->width + from + at] * y->z[k];
    f->place = onset_at(j, c, from + at, before, mean);
    if (shift != 0 && before > 0) {
        size_t next = shift > 0 ? at + 1 : at - 1;
        double other = onset_at(j, c, from + next, v[next], mean);

        f->place += fabs(shift) * (other - f->place);
    }
}

static void weigh(study *y)
{
    const pl_judge *j = y->j;
    double aicc[CURVES], best = INFINITY, sum = 0;

    for (size_t i = 0; i < j->l->nc; i++) {
        aicc[i] = j->c[i].offered ? j->N * log(y->f[i].ss) + j->c[i].penalty : INFINITY;
        best = fmin(best, aicc[i]);
    }
    for (size_t i = 0; i < j->l->nc; i++)
        sum += y->f[i].weight = exp(-0.5 * (aicc[i] - best));
    for (size_t i = 0; i < j->l->nc; i++)
        y->f[i].weight /= sum;
}

PL_INLINE double tail_of(const double *tail, double r)
{
    double at = r * TAIL_AT;
    size_t i;

    if (!(at < TAIL_AT * TAIL_TO))
        return tail[TAIL_AT * TAIL_TO];
    i = (size_t)at;
    return tail[i] + (at - (double)i) * (tail[i + 1] - tail[i]);
}

/* The averaged tail area at place `at` of t. */
PL_CLONES static double area(const study *y, size_t at)
{
    const pl_judge_layout *l = y->j->l;
    double A = 0;

    for (size_t i = 0; i < l->nc; i++) {
        const table *c = &l->c[i];
        const fitted *f = &y->f[i];
        double shift, top, p;
        size_t n;

        if (f->weight < WEIGHT_LEAST)
            continue;
        (void)project_best(c->held_look + at * l->K * c->held_look_width, c->held_look_width,
                           c->held + at * l->K * c->held_width, c->held_width, c->nh, y->z, l->K,
                           false, y->scratch, &n);
        top = fmax(top_of(y->scratch, n, largest(y->scratch, n), &shift), 0);
        p = tail_of(y->j->c[i].tail, sqrt(fmax(y->ss + y->zz - top * top - f->ss, 0) / f->s2));
        A += f->weight * (f->place < (double)at ? p : 1 - p);
    }
    return A;
}

/* Where A crosses one half: A falls from above it at low to below it at high. */
static double half_way(const study *y)
{
    const double *t = y->j->l->t;
    size_t low = 0, high = y->j->l->nt - 1;
    double a = area(y, low), b = area(y, high);

    if (a < 0.5)
        return t[low];
    if (b >= 0.5)
        return t[high];
    while (high - low > 1) {
        size_t middle = (low + high) / 2;
        double m = area(y, middle);

        if (m >= 0.5)
            low = middle, a = m;
        else
            high = middle, b = m;
    }
    return t[low] + (t[high] - t[low]) * (a - 0.5) / (a - b);
}

static bool shown(const study *y, const double *contrasts, const double *mean)
{
    const pl_judge *j = y->j;
    double limit = j->point * sqrt(y->ss / j->error_df);

    for (size_t i = 0; i < j->ncontrast; i++) {
        double t = 0;

        for (size_t k = 0; k < j->l->K; k++)
            t += contrasts[i * j->l->K + k] * mean[k];
        if (t > limit)
            return true;
    }
    return false;
}

/* The high end of the interval at or below the last but one level: A stays below 0.025 from
 * there on. */
static bool is_reached(const study *y)
{
    const pl_judge_layout *l = y->j->l;

    for (size_t step = 0; l->last + step < l->nt; step = 2 * step + 1)
        if (area(y, l->last + step) >= 0.025)
            return false;
    return area(y, l->nt - 1) <= 0.025;
}

/* The low end above it: A is 0.975 or more up to there. */
static bool is_not_reached(const study *y)
{
    for (size_t at = y->j->l->last;; at /= 2) {
        if (area(y, at) < 0.975)
            return false;
        if (!at)
            return true;
    }
}

pl_plateau_end pl_judge_study(const pl_judge *j, const double *mean, double ss, double *scratch,
                              double *point)
{
    study y = { .j = j, .ss = ss, .scratch = scratch };
    bool rise, fall;

    *point = NAN;
    rise = shown(&y, j->rise, mean);
    fall = shown(&y, j->fall, mean);
    if (!rise)
        return fall ? PL_END_FALLING : PL_END_NO_RISE;
    for (size_t k = 0; k < j->l->K; k++) {
        y.z[k] = j->root_w * mean[k];
        y.zz += y.z[k] * y.z[k];
        y.z1 += y.z[k] * j->root_w / j->root_W;
    }
    for (size_t i = 0; i < j->l->nc; i++)
        fit_free(&y, i);
    weigh(&y);
    if (fall || is_reached(&y)) {
        *point = half_way(&y);
        return PL_END_FOUND;
    }
    return is_not_reached(&y) ? PL_END_NOT_REACHED : PL_END_TOP_OPEN;
}
