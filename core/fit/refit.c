/* Many drawn sets fitted at once. What is drawn and what becomes of the onsets is bootstrap.c's. */
#include "fit/refit.h"

#include <math.h>
#include <string.h>

#include "base/clones.h"
#include "base/lanes.h"

#define N PL_REFIT_BATCH
#define TERMS 8         /* of a polynomial: degree 7 */
#define STEPS 4         /* of Newton's method, from a quarter of a cell off as a rule */
#define LIMIT_TIE 1e-11 /* of the residual sum of squares, as curve_work.c has it */
#define OVERS 8         /* cells gone on to */

typedef struct cell { /* from one point of the grid to the next; t from -1 to 1 */
    double middle, half, r22[TERMS], r12[TERMS], off[TERMS];
} cell;

typedef struct segment { /* knee between two neighbouring u; letters as in curve_segments.c */
    double from, to, aa, ab, bb, p1, v1;
    double at_to;            /* 1 over the column's square with the knee at its right end */
    double i_aa, i_ab, i_bb; /* inverse of the 2 x 2, 0 where there is none */
    double az_off, bz_off;   /* of a fixed floor */
} segment;

struct pl_refit {
    const pl_curve_model *m;
    size_t rows, nlook, ncell, nsegment;
    float *look, *look_off;   /* nlook x rows; nlook */
    double *ends, end_off[2]; /* 2 x rows: the first and the last of these, in full */
    cell *cells;
    double *terms; /* ncell x rows x TERMS */
    segment *segments;
    double *along, *across; /* nsegment x rows */
    double one_one, step_one;
};

/* ---- tables ---- */

/* Unit vector of what h leaves beside the constant, its length and its part along the constant. */
static void direction(const pl_curve_model *m, double z, double *e, double *r22, double *r12)
{
    pl_curve_work w = m->work;
    pl_curve_point p;

    pl_curve_try(&w, m->curve->nshape ? pl_curve_origin(m->curve, w.span.low) + exp(z) : NAN, &p);
    for (size_t i = 0; i < m->rows->rows; i++)
        e[i] = p.r22 > 0 ? w.th[i] / p.r22 : 0;
    *r22 = p.r22;
    *r12 = p.r12;
}

/* Powers of t from values at Chebyshev's points: inverse of their Vandermonde matrix. */
static void powers_of(double at[TERMS], double inverse[TERMS][TERMS])
{
    for (int k = 0; k < TERMS; k++)
        at[k] = -cos(M_PI * (k + 0.5) / TERMS);
    for (int k = 0; k < TERMS; k++) { /* of Lagrange's polynomial of point k */
        double c[TERMS] = { 1 }, scale = 1;
        int degree = 0;

        for (int j = 0; j < TERMS; j++) {
            if (j == k)
                continue;
            for (int i = ++degree; i > 0; i--)
                c[i] = c[i - 1] - at[j] * (i < degree ? c[i] : 0);
            c[0] *= -at[j];
            scale *= at[k] - at[j];
        }
        for (int i = 0; i < TERMS; i++)
            inverse[i][k] = c[i] / scale;
    }
}

static void fill_cell(pl_refit *r, size_t c, double low, double high, const double at[TERMS],
                      double inverse[TERMS][TERMS], double *e)
{
    const pl_curve_work *w = &r->m->work;
    cell *k = &r->cells[c];
    double *terms = r->terms + c * r->rows * TERMS;

    k->middle = 0.5 * (low + high);
    k->half = 0.5 * (high - low);
    for (int p = 0; p < TERMS; p++) {
        double r22, r12;

        direction(r->m, k->middle + k->half * at[p], e, &r22, &r12);
        for (int t = 0; t < TERMS; t++) {
            k->r22[t] += inverse[t][p] * r22;
            k->r12[t] += inverse[t][p] * r12;
            for (size_t i = 0; i < r->rows; i++)
                terms[i * TERMS + (size_t)t] += inverse[t][p] * e[i];
        }
    }
    for (size_t i = 0; i < r->rows && w->floor_fixed; i++)
        for (size_t t = 0; t < TERMS; t++)
            k->off[t] -= w->floor * w->rows->one[i] * terms[i * TERMS + t];
}

static void fill_look(pl_refit *r, size_t l, double z, double *e)
{
    const pl_curve_work *w = &r->m->work;
    double r22, r12, off = 0;

    direction(r->m, z, e, &r22, &r12);
    for (size_t i = 0; i < r->rows; i++) {
        off -= w->floor_fixed ? w->floor * w->rows->one[i] * e[i] : 0;
        r->look[l * r->rows + i] = (float)e[i];
    }
    r->look_off[l] = (float)off;
    if (l == 0 || l + 1 == r->nlook) {
        memcpy(r->ends + (l ? r->rows : 0), e, r->rows * sizeof *e);
        r->end_off[l ? 1 : 0] = off;
    }
}

static pl_code make_cells(pl_arena *a, pl_refit *r, pl_diags *d)
{
    const pl_curve_work *w = &r->m->work;
    double at[TERMS], inverse[TERMS][TERMS], *e = PL_NEWN(a, r->rows, double);

    r->ncell = r->m->curve->nshape ? w->ngrid - 1 : 1;
    r->nlook = r->m->curve->nshape ? 2 * r->ncell + 1 : 1;
    r->look = PL_NEWN(a, r->nlook * r->rows, float);
    r->look_off = PL_NEWN(a, r->nlook, float);
    r->ends = PL_NEWN(a, 2 * r->rows, double);
    r->cells = PL_NEWN(a, r->ncell, cell);
    r->terms = PL_NEWN(a, r->ncell * r->rows * TERMS, double);
    if (!e || !r->look || !r->look_off || !r->ends || !r->cells || !r->terms)
        return pl_nomem(d);
    powers_of(at, inverse);
    for (size_t l = 0; l < r->nlook; l++) {
        const double *g = w->grid + l / 2;

        fill_look(r, l, r->nlook == 1 ? 0 : l % 2 ? 0.5 * (g[0] + g[1]) : g[0], e);
    }
    for (size_t c = 0; c < r->ncell; c++)
        fill_cell(r, c, r->nlook == 1 ? -1 : w->grid[c], r->nlook == 1 ? 1 : w->grid[c + 1], at,
                  inverse, e);
    return PL_OK;
}

static void fill_segment(pl_refit *r, size_t j, const double *p, const double *v)
{
    const pl_curve_work *w = &r->m->work;
    const pl_curve_left *l = &w->left[j];
    const long double o = w->one_one;
    segment *k = &r->segments[j - 1];
    double *along = r->along + (j - 1) * r->rows, *across = r->across + (j - 1) * r->rows;
    long double aa, ab, bb, at_to, det;

    k->from = w->u[j - 1] - w->span.low;
    k->to = w->u[j] - w->span.low;
    if (w->floor_fixed) {
        aa = o - 2 * l->p1 + l->pp;
        ab = l->v1 - l->pv;
        bb = l->vv;
    } else {
        aa = l->pp - l->p1 * l->p1 / o;
        ab = -(l->pv - l->p1 * l->v1 / o);
        bb = l->vv - l->v1 * l->v1 / o;
    }
    for (size_t i = 0; i < r->rows; i++) {
        const double one = w->rows->one[i];

        along[i] = w->floor_fixed ? one - p[i] : p[i] - (double)(l->p1 / o) * one;
        across[i] = w->floor_fixed ? v[i] : -(v[i] - (double)(l->v1 / o) * one);
        k->az_off -= w->floor_fixed ? w->floor * one * along[i] : 0;
        k->bz_off -= w->floor_fixed ? w->floor * one * across[i] : 0;
    }
    at_to = k->to * k->to * aa + 2 * k->to * ab + bb;
    det = aa * bb - ab * ab;
    k->aa = (double)aa;
    k->ab = (double)ab;
    k->bb = (double)bb;
    k->p1 = (double)l->p1;
    k->v1 = (double)l->v1;
    k->at_to = at_to > 1e-12L * bb ? (double)(1 / at_to) : 0;
    if (det > 1e-12L * aa * bb) { /* else the knee changes nothing inside */
        k->i_aa = (double)(bb / det);
        k->i_ab = (double)(-ab / det);
        k->i_bb = (double)(aa / det);
    }
}

static pl_code make_segments(pl_arena *a, pl_refit *r, pl_diags *d)
{
    const pl_curve_work *w = &r->m->work;
    const size_t n = r->rows, m = w->rows->m;
    double *unit = PL_NEWN(a, m, double), *column = PL_NEWN(a, n, double);
    double *p = PL_NEWN(a, n, double), *v = PL_NEWN(a, n, double);

    r->nsegment = m - 1;
    r->segments = PL_NEWN(a, m, segment);
    r->along = PL_NEWN(a, m * n, double);
    r->across = PL_NEWN(a, m * n, double);
    if (!unit || !column || !p || !v || !r->segments || !r->along || !r->across)
        return pl_nomem(d);
    for (size_t j = 1; j < m; j++) {
        unit[j - 1] = 1;
        pl_curve_rows_map(w->rows, unit, column);
        unit[j - 1] = 0;
        for (size_t i = 0; i < n; i++) {
            p[i] += column[i];
            v[i] += (w->u[j - 1] - w->span.low) * column[i];
        }
        fill_segment(r, j, p, v);
    }
    r->one_one = (double)w->one_one;
    if (w->floor_fixed && w->u[0] > 0) /* everything on the plateau */
        r->step_one = 1 / r->one_one;
    return PL_OK;
}

pl_code pl_refit_make(pl_arena *a, const pl_curve_model *m, pl_refit **out, pl_diags *d)
{
    pl_refit *r = PL_NEW(a, pl_refit);
    pl_code rc;

    *out = NULL;
    if (!r)
        return pl_nomem(d);
    r->m = m;
    r->rows = m->rows->rows;
    rc = m->curve == &pl_curve_linear_plateau ? make_segments(a, r, d) : make_cells(a, r, d);
    *out = rc ? NULL : r;
    return rc;
}

/* ---- a batch ---- */

#define AT(p) (*(pl_lanes *)(void *)(p))
#define HELD(p) (*(const pl_lanes *)(const void *)(p))

/* Sums over rows of one[i] z[i] and of the squares of z less a fixed floor. */
PL_CLONES static void sums(const pl_curve_work *w, const double *z, double *one_z, double *zz)
{
    const size_t rows = w->rows->rows;

    for (size_t d = 0; d < N; d += PL_LANES) {
        pl_lanes s = { 0 }, q = { 0 };

        for (size_t i = 0; i < rows; i++) {
            pl_lanes v = HELD(z + i * N + d) - w->floor * w->rows->one[i];

            s += v * w->rows->one[i];
            q += v * v;
        }
        AT(one_z + d) = s;
        AT(zz + d) = q;
    }
}

#define WIDE 16 /* floats side by side */
typedef float floats __attribute__((vector_size(4 * WIDE), aligned(4)));
typedef int32_t words __attribute__((vector_size(4 * WIDE), aligned(4)));

/* The point at which most is explained. In single precision, for it only says where to begin: what
 * is better by less than 1e-6 is found from there (step_over). */
PL_CLONES static void look(const pl_refit *r, const double *z, int32_t *at)
{
    const size_t rows = r->rows;
    floats best[N / WIDE], near[N / WIDE];
    words which[N / WIDE];
    float narrow[PL_REFIT_ROWS * N];

    for (size_t i = 0; i < rows * N; i++)
        narrow[i] = (float)z[i];
    for (size_t k = 0; k < N / WIDE; k++) {
        best[k] = (floats){ 0 } - 1.0f;
        which[k] = (words){ 0 };
    }
    for (size_t l = 0; l < r->nlook; l++) {
        const float *e = r->look + l * rows;
        floats q[N / WIDE];

        for (size_t k = 0; k < N / WIDE; k++)
            q[k] = (floats){ 0 } + r->look_off[l];
        for (size_t i = 0; i < rows; i++)
            for (size_t k = 0; k < N / WIDE; k++) {
                memcpy(&near[k], narrow + i * N + k * WIDE, sizeof near[k]);
                q[k] += near[k] * e[i];
            }
        for (size_t k = 0; k < N / WIDE; k++) {
            floats more = q[k] * q[k];
            /* cppcheck-suppress shiftTooManyBitsSigned ; as in base/lanes.h */
            words better = (words)(best[k] - more) >> 31;

            best[k] = (floats)((better & (words)more) | (~better & (words)best[k]));
            which[k] = (better & (int32_t)l) | (~better & which[k]);
        }
    }
    memcpy(at, which, sizeof which);
}

PL_INLINE void terms_of(const pl_refit *r, size_t c, const double *z, double *q)
{
    const double *terms = r->terms + c * r->rows * TERMS;
    pl_lanes sum = HELD(r->cells[c].off);

    for (size_t i = 0; i < r->rows; i++)
        sum += HELD(terms + i * TERMS) * z[i * N];
    memcpy(q, &sum, sizeof sum);
}

/* The cell of each set, its polynomial there (TERMS x N) and where Newton's method begins: at an
 * end of two cells the one towards which more is explained. */
PL_CLONES static void expand(const pl_refit *r, const double *z, const int32_t *at, size_t *where,
                             double *poly, double *start)
{
    for (size_t d = 0; d < N; d++) {
        const size_t l = (size_t)at[d];
        size_t c = l / 2 < r->ncell ? l / 2 : r->ncell - 1;
        double q[TERMS], t = l % 2 || r->nlook == 1 ? 0 : c < l / 2 ? 1 : -1;

        terms_of(r, c, z + d, q);
        if (t < 0 && c > 0) {
            double value = 0, slope = 0;

            for (int k = TERMS - 1; k >= 0; k--) {
                slope = value - slope;
                value = q[k] - value;
            }
            if (!(value * slope > 0)) {
                terms_of(r, --c, z + d, q);
                t = 1;
            }
        }
        where[d] = c;
        start[d] = t;
        for (size_t k = 0; k < TERMS; k++)
            poly[k * N + d] = q[k];
    }
}

/* t at which |q| is largest near the start, and q there; never less than at the start. */
PL_CLONES static void climb(const double *poly, double *t, double *q)
{
    for (size_t d = 0; d < N; d += PL_LANES) {
        const pl_lanes zero = { 0 }, one = zero + 1.0, minus = zero - 1.0, from = HELD(t + d);
        pl_lanes at = from, first = zero, value, size, before;
        pl_lane_bits when;

        for (int step = 0; step <= STEPS; step++) {
            pl_lanes slope = zero, bend = zero, up, next;

            value = HELD(poly + (TERMS - 1) * N + d);
            for (int k = TERMS - 2; k >= 0; k--) {
                bend = bend * at + slope;
                slope = slope * at + value;
                value = value * at + HELD(poly + (size_t)k * N + d);
            }
            if (!step)
                first = value;
            if (step == STEPS)
                break;
            pl_lanes_less(&value, &zero, &when); /* uphill for |q| */
            up = -slope;
            pl_lanes_choose(&when, &up, &slope, &up);
            next = -bend;
            pl_lanes_choose(&when, &bend, &next, &bend);
            bend *= 2.0; /* Horner leaves half of it, turned to be above zero at a top */
            pl_lanes_less(&zero, &bend, &when);
            next = bend + 0x1p-500;
            pl_lanes_choose(&when, &next, &one, &bend);
            next = up / bend;
            pl_lanes_choose(&when, &next, &up, &next);
            next += at;
            pl_lanes_less(&next, &minus, &when);
            pl_lanes_choose(&when, &minus, &next, &next);
            pl_lanes_less(&one, &next, &when);
            pl_lanes_choose(&when, &one, &next, &at);
        }
        size = value * value;
        before = first * first;
        pl_lanes_less(&size, &before, &when);
        pl_lanes_choose(&when, &from, &at, &AT(t + d));
        pl_lanes_choose(&when, &first, &value, &AT(q + d));
    }
}

/* Sets whose best place in their cell is an end, with more to be had beyond it, go on there. */
static bool step_over(const pl_refit *r, const double *z, size_t *where, double *poly, double *t)
{
    bool any = false;

    for (size_t d = 0; d < N; d++) {
        const size_t next = t[d] < 0 ? where[d] - 1 : where[d] + 1;
        double q[TERMS], slope = 0, value = 0;

        if (fabs(t[d]) < 1 || next >= r->ncell) /* below 0 it is large */
            continue;
        terms_of(r, next, z + d, q);
        for (int k = TERMS - 1; k >= 0; k--) {
            slope = slope * -t[d] + value;
            value = value * -t[d] + q[k];
        }
        if (!(value * slope * t[d] > 0))
            continue;
        any = true;
        where[d] = next;
        t[d] = -t[d];
        for (size_t k = 0; k < TERMS; k++)
            poly[k * N + d] = q[k];
    }
    return any;
}

/* A limit that fits as well is the plainer answer: the rule of pl_curve_search. */
PL_CLONES static void prefer_limits(const pl_refit *r, const double *z, const double *ss,
                                    size_t *where, double *t, double *q)
{
    for (int end = 0; end < 2; end++) {
        const double *e = r->ends + (end ? r->rows : 0);

        for (size_t d = 0; d < N; d += PL_LANES) {
            pl_lanes at = (pl_lanes){ 0 } + r->end_off[end];

            for (size_t i = 0; i < r->rows; i++)
                at += HELD(z + i * N + d) * e[i];
            for (size_t i = d; i < d + PL_LANES; i++) {
                const double v = at[i - d], left = ss[i] - q[i] * q[i];

                if (v * v < q[i] * q[i] - LIMIT_TIE * left)
                    continue;
                q[i] = v;
                t[i] = end ? 1 : -1;
                where[i] = end ? r->ncell - 1 : 0;
            }
        }
    }
}

PL_CLONES static void shape_of(const pl_refit *r, const size_t *where, const double *t, double *s)
{
    const double origin = pl_curve_origin(r->m->curve, r->m->work.span.low);

    for (size_t d = 0; d < N; d += PL_LANES) {
        pl_lanes z = { 0 };

        for (size_t i = 0; i < PL_LANES; i++)
            z[i] = r->cells[where[d + i]].middle + r->cells[where[d + i]].half * t[d + i];
        pl_lanes_exp(&z, &z);
        AT(s + d) = z + origin;
    }
}

static double polynomial(const double *c, double t)
{
    const double t2 = t * t, t4 = t2 * t2;

    return ((c[0] + c[1] * t) + (c[2] + c[3] * t) * t2) +
           ((c[4] + c[5] * t) + (c[6] + c[7] * t) * t2) * t4;
}

static void fit_cells(const pl_refit *r, const double *z, const double *one_z, pl_refits *out)
{
    const pl_curve_work *w = &r->m->work;
    double poly[TERMS * N], t[N], q[N];
    int32_t at[N];
    size_t where[N];

    look(r, z, at);
    expand(r, z, at, where, poly, t);
    climb(poly, t, q);
    for (int i = 0; i < OVERS && step_over(r, z, where, poly, t); i++)
        climb(poly, t, q);
    if (r->m->curve->nshape) {
        prefer_limits(r, z, out->ss, where, t, q);
        shape_of(r, where, t, out->s);
    }
    for (size_t d = 0; d < N; d++) {
        const cell *c = &r->cells[where[d]];
        const double r22 = polynomial(c->r22, t[d]), r12 = polynomial(c->r12, t[d]);

        if (!r->m->curve->nshape)
            out->s[d] = NAN;
        out->D[d] = r22 > 0 ? q[d] / r22 : 0;
        out->A[d] = w->floor_fixed ? w->floor : (one_z[d] / w->r11 - r12 * out->D[d]) / w->r11;
        out->ss[d] -= q[d] * q[d];
    }
}

/* The best segment of each set: in which the knee lies, at top over bottom from low, and the
 * products of its columns with the set. */
typedef struct knees {
    double best[N], top[N], bottom[N], az[N], bz[N], which[N];
} knees;

PL_CLONES static void look_segments(const pl_refit *r, const double *z, const double *one_z,
                                    knees *out)
{
    const pl_lanes zero = { 0 }, one = zero + 1.0;

    for (size_t d = 0; d < N; d += PL_LANES) {
        /* everything on the plateau, where that can be: knee 0 stands for the first u */
        pl_lanes best = HELD(one_z + d) * HELD(one_z + d) * r->step_one - (r->step_one > 0 ? 0 : 1);
        pl_lanes top = zero, bottom = one, kept_az = zero, kept_bz = zero, which = zero - 1.0;

        for (size_t j = 0; j < r->nsegment; j++) {
            const segment *k = &r->segments[j];
            const double *along = r->along + j * r->rows, *across = r->across + j * r->rows;
            const pl_lanes here = zero + (double)j, to = zero + k->to;
            pl_lanes az = zero + k->az_off, bz = zero + k->bz_off, e, inner, num, den, left, right;
            pl_lane_bits when, more;

            for (size_t i = 0; i < r->rows; i++) {
                az += HELD(z + i * N + d) * along[i];
                bz += HELD(z + i * N + d) * across[i];
            }
            e = az * k->to + bz;
            e = e * e * k->at_to;
            inner = az * az * k->i_aa + az * bz * (2 * k->i_ab) + bz * bz * k->i_bb;
            den = az * k->ab - bz * k->aa;
            num = bz * k->ab - az * k->bb;
            left = (num - den * k->from) * den;
            right = (den * k->to - num) * den;
            pl_lanes_less(&zero, &left, &when);
            pl_lanes_less(&zero, &right, &more);
            when &= more;
            pl_lanes_choose(&when, &num, &to, &num);
            pl_lanes_choose(&when, &den, &one, &den);
            pl_lanes_choose(&when, &inner, &e, &e);
            pl_lanes_less(&best, &e, &when);
            pl_lanes_choose(&when, &e, &best, &best);
            pl_lanes_choose(&when, &num, &top, &top);
            pl_lanes_choose(&when, &den, &bottom, &bottom);
            pl_lanes_choose(&when, &az, &kept_az, &kept_az);
            pl_lanes_choose(&when, &bz, &kept_bz, &kept_bz);
            pl_lanes_choose(&when, &here, &which, &which);
        }
        AT(out->best + d) = best;
        AT(out->top + d) = top;
        AT(out->bottom + d) = bottom;
        AT(out->az + d) = kept_az;
        AT(out->bz + d) = kept_bz;
        AT(out->which + d) = which;
    }
}

static void fit_segments(const pl_refit *r, const double *z, const double *one_z, pl_refits *out)
{
    const pl_curve_work *w = &r->m->work;
    knees k;

    look_segments(r, z, one_z, &k);
    for (size_t d = 0; d < N; d++) {
        const segment *s = &r->segments[k.which[d] < 0 ? 0 : (size_t)k.which[d]];
        const double c = k.top[d] / k.bottom[d], bottom = c * c * s->aa + 2 * c * s->ab + s->bb;
        const double theta = bottom > 0 ? (c * k.az[d] + k.bz[d]) / bottom : 0;

        out->s[d] = w->span.low + c;
        out->ss[d] -= k.best[d];
        if (k.which[d] < 0) {
            out->s[d] = w->u[0];
            out->A[d] = w->floor;
            out->D[d] = one_z[d] / r->one_one;
        } else if (w->floor_fixed) { /* floor + theta min(u, c) */
            out->A[d] = w->floor;
            out->D[d] = theta * c;
        } else { /* constant + theta (c - u), left of the knee */
            out->D[d] = -theta * c;
            out->A[d] = (one_z[d] - theta * (c * s->p1 - s->v1)) / r->one_one + theta * c;
        }
    }
}

void pl_refit_batch(const pl_refit *r, const double *z, pl_refits *out)
{
    const pl_curve_work *w = &r->m->work;
    double one_z[N];

    sums(w, z, one_z, out->ss);
    for (size_t d = 0; d < N && !w->floor_fixed; d++)
        out->ss[d] -= one_z[d] * one_z[d] / (w->r11 * w->r11);
    if (r->nsegment)
        fit_segments(r, z, one_z, out);
    else
        fit_cells(r, z, one_z, out);
}

/* ---- onset ---- */

/* h at the highest level. */
static void rise_of(const pl_curve_work *w, const double *s, double *high)
{
    for (size_t d = 0; d < N; d++)
        high[d] = w->u_high == w->span.high ? 1 : pl_curve_rise_at(w, s[d], w->u_high);
}

PL_CLONES static void to_x(double x1, double *u)
{
    for (size_t d = 0; d < N; d += PL_LANES) {
        pl_lanes x = HELD(u + d);

        pl_lanes_exp(&x, &x);
        AT(u + d) = x * x1;
    }
}

void pl_refit_onset(const pl_refit *r, const pl_refits *f, double *x)
{
    const pl_curve_work *w = &r->m->work;
    double high[N], part[N];

    rise_of(w, f->s, high);
    for (size_t d = 0; d < N; d++) {
        const double wanted = w->share * (f->A[d] + f->D[d] * high[d]) - f->A[d];

        part[d] = f->D[d] > 0 && wanted > 0 ? wanted / f->D[d] : 0;
    }
    r->m->curve->reach(w->span.low, w->span.high, f->s, part, N, x);
    for (size_t d = 0; d < N; d++) {
        x[d] = f->D[d] > 0 && x[d] > w->u_low ? x[d] : w->u_low;
        x[d] = x[d] < w->u_high ? x[d] : w->u_high;
    }
    if (w->log_x)
        to_x(w->x1, x);
    for (size_t d = 0; d < N; d++) {
        const double h = f->D[d] > 0 ? high[d] : pl_curve_rise_at(w, f->s[d], w->u_low);

        if (!(f->A[d] + f->D[d] * h > 0))
            x[d] = NAN;
    }
}
