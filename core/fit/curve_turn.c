/* rise-and-fall: its search, and its fits with the onset or the end of the range held. The mean
 * has one hill, so that with the shape number and the place of the hill's top given, "the onset is
 * t" is one ray; both are searched. Curves that go one way are curve_work.c, polynomials
 * curve_powers.c. Derivation: docs/methods/curves-and-onset.md. */
#include <math.h>
#include <string.h>

#include "fit/curve.h"

/* Means are A + C v + B b(v): v runs from 0 at the lowest u to 1 at the highest, b is the bend,
 * 0 at both, B >= 0. */
typedef struct turn_point {
    double k; /* rate x span */
    double r13, r23, r33, q3, ss;
} turn_point;

typedef struct pl_curve_turn {
    double L, H; /* the range of levels, in v */
    double *q1, *q2, *zc, *bend, *mapped, *trial;
    double r11, r12, r22, qz1, qz2, ss_line;
    turn_point *points; /* at the grid */
    pl_curve_work *w;
    pl_curve_held held;
    double t;
} turn;

/* Below this k the bend is summed as a series: the closed form loses eps/k. */
#define SERIES_BELOW 0.25L
#define SERIES_TERMS 16
/* A column's part outside those before it, below this share of its length: none. */
#define NO_BEND 1e-10
#define TOPS 12   /* first places tried for the hill's top */
#define TOL 1e-7  /* of a search coordinate, as in curve_work.c */
#define TIE 1e-11 /* a limit that fits as well, to this share, is the plainer answer */
#define EDGE 1e-9 /* of the range: the hill's top keeps so far from t */

/* b(v) = ((1 - e^-kv)/(1 - e^-k) - v)(2 + k)/k: v (1 - v) as k goes to 0, 1 - v above 0 as k
 * grows. */
static long double bend_at(long double k, long double v)
{
    long double power = 1, term = 1, vn = v, sum = 0;

    if (k >= SERIES_BELOW)
        return (expm1l(-k * v) / expm1l(-k) - v) * (2 + k) / k;
    for (int n = 2; n < SERIES_TERMS; n++) { /* (v - v^n)(-k)^n/n!, over k^2, over -expm1(-k)/k */
        vn *= v;
        term /= n;
        sum += power * term * (v - vn);
        power *= -k;
    }
    return sum * (2 + k) / (k > 0 ? -expm1l(-k) / k : 1);
}

static double slope_at(double k, double v)
{
    double sum = 0, power = 1, term = 1, vn = 1;

    if (k >= (double)SERIES_BELOW)
        return (-k * exp(-k * v) / expm1(-k) - 1) * (2 + k) / k;
    for (int n = 2; n < SERIES_TERMS; n++) {
        vn *= v; /* v^(n-1) */
        term /= n;
        sum += power * term * (1 - n * vn);
        power *= -k;
    }
    return sum * (2 + k) / (k > 0 ? -expm1(-k) / k : 1);
}

/* Where the bend's slope is g: the hill's top for g = -C/B. */
static double place_of_slope(double k, double g)
{
    double low = 0, high = 1;

    if (g >= slope_at(k, 0))
        return 0;
    if (g <= slope_at(k, 1))
        return 1;
    for (int i = 0; i < 60; i++) {
        double v = 0.5 * (low + high);

        *(slope_at(k, v) > g ? &low : &high) = v;
    }
    return 0.5 * (low + high);
}

static double dot(const double *a, const double *b, size_t n)
{
    double s = 0;

    for (size_t i = 0; i < n; i++)
        s += a[i] * b[i];
    return s;
}

static double take_out(const double *q, double *v, size_t n)
{
    double sum = 0;

    for (int pass = 0; pass < 2; pass++) {
        double s = dot(q, v, n);

        sum += s;
        for (size_t i = 0; i < n; i++)
            v[i] -= s * q[i];
    }
    return sum;
}

static double width_of(const pl_curve_work *w)
{
    return w->span.high - w->span.low;
}

static double v_of(const pl_curve_work *w, double u)
{
    return (u - w->span.low) / width_of(w);
}

/* The fit with the shape number given; no bend the wrong way. */
static void try_k(turn *s, double k, turn_point *out)
{
    const pl_curve_work *w = s->w;
    const size_t n = w->rows->rows;
    turn_point p = { .k = k, .ss = s->ss_line };
    double length;

    for (size_t i = 0; i < w->rows->m; i++)
        s->bend[i] = (double)bend_at(k, v_of(w, w->u[i]));
    pl_curve_rows_map(w->rows, s->bend, s->mapped);
    length = sqrt(dot(s->mapped, s->mapped, n));
    p.r13 = take_out(s->q1, s->mapped, n);
    p.r23 = take_out(s->q2, s->mapped, n);
    p.r33 = sqrt(dot(s->mapped, s->mapped, n));
    if (p.r33 > NO_BEND * length) {
        p.q3 = dot(s->mapped, s->zc, n) / p.r33;
        if (p.q3 > 0) {
            p.ss = w->rows->rest;
            for (size_t i = 0; i < n; i++) {
                double e = s->zc[i] - p.q3 / p.r33 * s->mapped[i];

                p.ss += e * e;
            }
        }
    } else {
        p.r33 = 0;
    }
    *out = p;
}

pl_code pl_curve_turn_begin(pl_arena *a, pl_curve_model *m, pl_diags *d)
{
    pl_curve_work *w = &m->work;
    const size_t n = w->rows->rows;
    turn *s = PL_NEW(a, turn);
    double length;

    if (!s)
        return pl_nomem(d);
    s->w = w;
    s->q1 = PL_NEWN(a, n, double);
    s->q2 = PL_NEWN(a, n, double);
    s->zc = PL_NEWN(a, n, double);
    s->mapped = PL_NEWN(a, n, double);
    s->bend = PL_NEWN(a, w->rows->m, double);
    s->trial = PL_NEWN(a, w->ngrid, double);
    s->points = PL_NEWN(a, w->ngrid, turn_point);
    if (!s->q1 || !s->q2 || !s->zc || !s->mapped || !s->bend || !s->trial || !s->points)
        return pl_nomem(d);
    s->L = v_of(w, w->u_low);
    s->H = v_of(w, w->u_high);
    s->r11 = w->r11;
    s->qz1 = w->qz1;
    memcpy(s->q1, w->q1, n * sizeof *s->q1);
    memcpy(s->zc, w->zc, n * sizeof *s->zc);
    for (size_t i = 0; i < w->rows->m; i++)
        s->bend[i] = v_of(w, w->u[i]);
    pl_curve_rows_map(w->rows, s->bend, s->q2);
    length = sqrt(dot(s->q2, s->q2, n));
    s->r12 = take_out(s->q1, s->q2, n);
    s->r22 = sqrt(dot(s->q2, s->q2, n));
    if (!(s->r22 > NO_BEND * length))
        return PL_OK; /* levels lie within blocks: found out when it is settled */
    for (size_t i = 0; i < n; i++)
        s->q2[i] /= s->r22;
    s->qz2 = take_out(s->q2, s->zc, n);
    s->ss_line = dot(s->zc, s->zc, n) + w->rows->rest;
    for (size_t i = 0; i < w->ngrid; i++)
        try_k(s, exp(w->grid[i]) * width_of(w), &s->points[i]);
    m->turn = s;
    return PL_OK;
}

static double free_at(void *self, double z)
{
    turn *s = self;
    turn_point p;

    try_k(s, exp(z) * width_of(s->w), &p);
    return p.ss;
}

bool pl_curve_turn_look(pl_curve_model *m)
{
    turn *s = m->turn;
    pl_curve_work *w = &m->work;
    double z, ss;
    int ends[2] = { 0, (int)w->ngrid - 1 };

    if (!s)
        return false;
    for (size_t i = 0; i < w->ngrid; i++)
        s->trial[i] = s->points[i].ss;
    ss = pl_curve_valley_minimum(free_at, s, w->grid, s->trial, w->ngrid, TOL, &z);
    for (int e = 0; e < 2; e++)
        if (s->points[ends[e]].ss <= ss * (1 + TIE)) {
            ss = s->points[ends[e]].ss;
            z = w->grid[ends[e]];
        }
    m->best = (pl_curve_best){ .s = exp(z), .ss = ss, .A = NAN, .D = NAN };
    m->best.limit = s->ss_line <= ss * (1 + TIE) ? "line" : w->curve->limit(&w->span, m->best.s);
    return true;
}

/* (1, v, b), or (1, v) for a line, in long double with the shape number known. */
bool pl_curve_turn_settle(pl_curve_model *m, const pl_curve_desk *k)
{
    const size_t n = m->rows->n;
    const long double width = width_of(&m->work), low = m->work.span.low;
    const bool line = m->best.limit && !strcmp(m->best.limit, "line");
    long double rss;

    m->named = false;
    m->nf = line ? 2 : 3;
    for (size_t j = 0; j < m->nf; j++) {
        for (size_t i = 0; i < n; i++) {
            long double v = (k->u[i] - low) / width;

            k->slope[i] = j == 0 ? 1 : j == 1 ? v : bend_at(m->best.s * width, v);
        }
        pl_curve_desk_column(k, j, k->slope, 1);
    }
    memcpy(k->y, m->rows->y_left, m->rows->left * sizeof *k->y);
    if (!pl_long_lsq(k->X, k->y, m->rows->left, m->nf, m->beta, m->inverse, NULL, &rss))
        return false;
    m->ss = (double)rss;
    return true;
}

long double pl_curve_turn_features(const pl_curve_model *m, long double u, long double *f)
{
    const long double width = width_of(&m->work);
    long double v = (u - m->work.span.low) / width, mean = 0;

    f[0] = 1;
    f[1] = v;
    if (m->nf > 2)
        f[2] = bend_at(m->best.s * width, v);
    for (size_t j = 0; j < m->nf; j++)
        mean += m->beta[j] * f[j];
    return mean;
}

/* The mean at v as A + C v + B b. */
typedef struct hill {
    double A, C, B, k;
} hill;

static double height_at(const hill *h, double v)
{
    return h->A + h->C * v + h->B * (double)bend_at(h->k, v);
}

/* Where the mean comes to `wanted` between a place below it and one above. */
static double comes_to(const hill *h, double below, double above, double wanted)
{
    for (int i = 0; i < 200; i++) {
        double v = 0.5 * (below + above);

        if (v == below || v == above)
            break;
        *(height_at(h, v) < wanted ? &below : &above) = v;
    }
    return above;
}

void pl_curve_turn_reach(pl_curve_model *m)
{
    const turn *s = m->turn;
    const pl_curve_work *w = &m->work;
    const double width = width_of(w);
    turn_point p;
    hill h = { .k = m->best.s * width };
    double top, wanted;

    try_k(m->turn, h.k, &p);
    h.B = p.r33 > 0 && p.q3 > 0 ? p.q3 / p.r33 : 0;
    h.C = (s->qz2 - p.r23 * h.B) / s->r22;
    h.A = (s->qz1 - s->r12 * h.C - p.r13 * h.B) / s->r11;
    m->best.ss = p.ss;
    top = h.B > 0 ? place_of_slope(h.k, -h.C / h.B) : h.C > 0 ? 1 : 0;
    top = fmin(fmax(top, s->L), s->H);
    m->height = height_at(&h, top);
    m->top_at = pl_curve_x(w, w->span.low + width * top);
    m->onset = m->end = NAN;
    if (!(m->height > 0))
        return;
    wanted = w->share * m->height;
    m->onset = height_at(&h, s->L) >= wanted ? s->L : comes_to(&h, s->L, top, wanted);
    m->end = height_at(&h, s->H) >= wanted ? s->H : comes_to(&h, s->H, top, wanted);
    m->onset = pl_curve_x(w, w->span.low + width * m->onset);
    m->end = pl_curve_x(w, w->span.low + width * m->end);
}

/* ---- held ---- */

/* Coordinates of a ray in the factors: R (A, C, B). */
typedef struct ray {
    double e[3];
} ray;

static ray ray_of(const turn *s, const turn_point *p, double A, double C, double B)
{
    return (ray){ { s->r11 * A + s->r12 * C + p->r13 * B, s->r22 * C + p->r23 * B, p->r33 * B } };
}

static double along(const ray *a, const ray *b)
{
    return a->e[0] * b->e[0] + a->e[1] * b->e[1] + a->e[2] * b->e[2];
}

/* Sum of squares at q = (qz1, qz2, q3) explained by a ray, taken forwards only. */
static double gain(const turn *s, const turn_point *p, const ray *r)
{
    const ray q = { { s->qz1, s->qz2, p->q3 } };
    double g = along(&q, r);

    return g > 0 ? g * g / along(r, r) : 0;
}

/* The hill's top at v: m'(v) = 0 and m(t) = share m(v) leave one ray, bent the right way. */
static ray top_ray(const turn *s, const turn_point *p, double v)
{
    const double share = s->w->share, g = slope_at(p->k, v);
    double C = -g;
    double A = (g * (s->t - share * v) -
                ((double)bend_at(p->k, s->t) - share * (double)bend_at(p->k, v))) /
               (1 - share);

    return ray_of(s, p, A, C, 1);
}

/* The top at the far end of the range: between a straight line there and the hill whose top it
 * is. */
static double far_gain(const turn *s, const turn_point *p)
{
    const bool onset = s->held == PL_HELD_ONSET;
    const double far = onset ? s->H : s->L, C = onset ? 1 : -1;
    const ray line = ray_of(s, p, -C * (s->t - s->w->share * far) / (1 - s->w->share), C, 0);
    const ray bent = top_ray(s, p, far), q = { { s->qz1, s->qz2, p->q3 } };
    double aa = along(&line, &line), ab = along(&line, &bent), bb = along(&bent, &bent);
    double qa = along(&q, &line), qb = along(&q, &bent), det = aa * bb - ab * ab;
    double x = (qa * bb - qb * ab) / det, y = (qb * aa - qa * ab) / det;

    if (p->r33 > 0 && det > 1e-14 * aa * bb && x > 0 && y > 0)
        return qa * x + qb * y;
    return fmax(gain(s, p, &line), p->r33 > 0 ? gain(s, p, &bent) : 0);
}

typedef struct top_search {
    const turn *s;
    const turn_point *p;
} top_search;

static double less_gain(void *self, double v)
{
    const top_search *k = self;
    ray r = top_ray(k->s, k->p, v);

    return -gain(k->s, k->p, &r);
}

/* Least sum of squares with t held and the shape number of p. */
static double held_ss(const turn *s, const turn_point *p)
{
    const double edge = EDGE * (s->H - s->L);
    const double from = s->held == PL_HELD_ONSET ? s->t + edge : s->L;
    const double to = s->held == PL_HELD_ONSET ? s->H : s->t - edge;
    const double step = (to - from) / TOPS;
    double all = s->qz1 * s->qz1 + s->qz2 * s->qz2 + p->q3 * p->q3, rest, best = 0, at = from;
    top_search k = { s, p };

    /* what no curve of this shape number explains; p->ss leaves q3 in when it points backwards */
    rest = p->q3 > 0 ? p->ss : p->ss - p->q3 * p->q3;
    best = far_gain(s, p);
    if (p->r33 > 0) {
        double deepest = 0, value;

        for (int i = 0; i <= TOPS; i++) {
            value = less_gain(&k, from + step * i);
            if (value < deepest) {
                deepest = value;
                at = from + step * i;
            }
        }
        value = pl_curve_minimum(less_gain, &k, fmax(from, at - step), fmin(to, at + step),
                                 TOL * (to - from), &at);
        best = fmax(best, -fmin(deepest, value));
    }
    return rest + all - best;
}

static double held_at(void *self, double z)
{
    turn *s = self;
    turn_point p;

    try_k(s, exp(z) * width_of(s->w), &p);
    return held_ss(s, &p);
}

double pl_curve_turn_held(pl_curve_model *m, pl_curve_held held, double x)
{
    turn *s = m->turn;
    double at;

    s->held = held;
    s->t = v_of(&m->work, pl_curve_u(&m->work, x));
    for (size_t i = 0; i < m->work.ngrid; i++)
        s->trial[i] = held_ss(s, &s->points[i]);
    return pl_curve_valley_minimum(held_at, s, m->work.grid, s->trial, m->work.ngrid, TOL, &at);
}
