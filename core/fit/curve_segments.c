/* linear-plateau in closed form. Between two neighbouring u the set of units left of the knee
 * does not change, and the fit is linear in quantities that fix the knee; so is the fit with its
 * onset or end held. Sums over the left set, one per segment, are made once. */
#include <math.h>
#include <string.h>

#include "fit/curve_work.h"

/* Left sets hold u[0..j-1], j = 1..m-1; p is T times "is left", v is T times (u - low) there. */
pl_code pl_curve_segments_make(pl_arena *a, pl_curve_work *w, pl_diags *d)
{
    const pl_curve_rows *r = w->rows;
    const size_t n = r->rows, m = r->m;
    double *unit = PL_NEWN(a, m, double), *column = PL_NEWN(a, n, double);
    double *p = PL_NEWN(a, n, double), *v = PL_NEWN(a, n, double), *z = PL_NEWN(a, n, double);

    w->left = PL_NEWN(a, m, pl_curve_left);
    if (!unit || !column || !p || !v || !z || !w->left)
        return pl_nomem(d);
    for (size_t i = 0; i < n; i++) {
        z[i] = r->z[i] - (w->floor_fixed ? w->floor * r->one[i] : 0);
        w->z1 += (long double)z[i] * r->one[i];
        w->zz += (long double)z[i] * z[i];
        w->one_one += (long double)r->one[i] * r->one[i];
    }
    for (size_t j = 1; j < m; j++) {
        pl_curve_left *l = &w->left[j];
        double at = w->u[j - 1] - w->span.low;

        unit[j - 1] = 1;
        pl_curve_rows_map(r, unit, column);
        unit[j - 1] = 0;
        for (size_t i = 0; i < n; i++) {
            p[i] += column[i];
            v[i] += at * column[i];
            l->pp += (long double)p[i] * p[i];
            l->pv += (long double)p[i] * v[i];
            l->vv += (long double)v[i] * v[i];
            l->p1 += (long double)p[i] * r->one[i];
            l->v1 += (long double)v[i] * r->one[i];
            l->pz += (long double)p[i] * z[i];
            l->vz += (long double)v[i] * z[i];
        }
    }
    return PL_OK;
}

/* What a knee at c (from low) explains, and the c where that is largest for this left set: the
 * column is c a + b with a, b fixed, so the explained part is a ratio of squares with one
 * maximum. */
typedef struct ratio {
    long double az, bz, aa, ab, bb;
} ratio;

static ratio ratio_of(const pl_curve_work *w, const pl_curve_left *l)
{
    ratio k;

    if (w->floor_fixed) { /* min(u, c) = c (1 - left) + u left */
        k.az = w->z1 - l->pz;
        k.bz = l->vz;
        k.aa = w->one_one - 2 * l->p1 + l->pp;
        k.ab = l->v1 - l->pv;
        k.bb = l->vv;
    } else { /* (c - u) left, less its part along the constant */
        long double o = w->one_one;

        k.az = l->pz - l->p1 * w->z1 / o;
        k.bz = -(l->vz - l->v1 * w->z1 / o);
        k.aa = l->pp - l->p1 * l->p1 / o;
        k.ab = -(l->pv - l->p1 * l->v1 / o);
        k.bb = l->vv - l->v1 * l->v1 / o;
    }
    return k;
}

static long double explained(const ratio *k, long double c)
{
    long double top = c * k->az + k->bz, bottom = c * c * k->aa + 2 * c * k->ab + k->bb;

    return bottom > 0 ? top * top / bottom : 0;
}

double pl_curve_segments_best(const pl_curve_work *w)
{
    const double low = w->span.low;
    long double best = -1;
    double knee = w->span.high;

    for (size_t j = 1; j < w->rows->m; j++) {
        const ratio k = ratio_of(w, &w->left[j]);
        const double from = w->u[j - 1] - low, to = w->u[j] - low;
        /* d/dc of the ratio is zero where az (c ab + bb) = bz (c aa + ab) */
        const long double bottom = k.az * k.ab - k.bz * k.aa;
        const long double c = bottom != 0 ? (k.bz * k.ab - k.az * k.bb) / bottom : -1;
        long double e;

        if (to > 0 && (e = explained(&k, to)) > best) {
            best = e;
            knee = w->u[j];
        }
        if (c > from && c < to && (e = explained(&k, c)) > best) {
            best = e;
            knee = low + (double)c;
        }
    }
    if (w->floor_fixed && w->u[0] > 0) { /* everything on the plateau: the step at the floor */
        ratio all = { .az = w->z1, .aa = w->one_one };

        if (explained(&all, 1) > best)
            knee = w->u[0];
    }
    return knee;
}

/* Two columns X = x1 1 + x2 p + x3 v each, by their sums over the left set. */
typedef struct column {
    long double one, p, v;
} column;

static long double cross(const pl_curve_work *w, const pl_curve_left *l, column a, column b)
{
    return a.one * b.one * w->one_one + (a.one * b.p + a.p * b.one) * l->p1 +
           (a.one * b.v + a.v * b.one) * l->v1 + a.p * b.p * l->pp +
           (a.p * b.v + a.v * b.p) * l->pv + a.v * b.v * l->vv;
}

static long double with_z(const pl_curve_work *w, const pl_curve_left *l, column a)
{
    return a.one * w->z1 + a.p * l->pz + a.v * l->vz;
}

/* Largest part of z explained by f X1 + g X2 inside the cone from ray (f0, g0) to ray (f1, g1),
 * both with f > 0 for a mean above zero. A convex function over a cone: its best point is the
 * free one or lies on a ray. */
static long double cone(const pl_curve_work *w, const pl_curve_left *l, column X1, column X2,
                        const long double f[2], const long double g[2])
{
    const long double a = cross(w, l, X1, X1), b = cross(w, l, X1, X2), c = cross(w, l, X2, X2);
    const long double y = with_z(w, l, X1), z = with_z(w, l, X2), det = a * c - b * b;
    long double best = 0;

    for (int k = 0; k < 2; k++) {
        long double top = f[k] * y + g[k] * z;
        long double bottom = f[k] * f[k] * a + 2 * f[k] * g[k] * b + g[k] * g[k] * c;

        if (top > 0 && bottom > 0 && top * top / bottom > best)
            best = top * top / bottom;
    }
    if (det > 0) {
        long double F = (y * c - z * b) / det, G = (z * a - y * b) / det;
        long double turn = f[0] * g[1] - f[1] * g[0], s0 = f[0] * G - F * g[0],
                    s1 = F * g[1] - f[1] * G;

        /* between the rays: same turning sense from each */
        if ((turn > 0 ? s0 >= 0 && s1 >= 0 : s0 <= 0 && s1 <= 0) && F * y + G * z > best)
            best = F * y + G * z;
    }
    return best;
}

/* Knee c in [from, to], all from low; t and H too. */
static long double onset_part(const pl_curve_work *w, const pl_curve_left *l, long double t,
                              long double H, long double from, long double to)
{
    const long double k = 1 - (long double)w->share;

    if (to <= H) { /* top a reached at c: left a share + s (u - t), right a; a k = s (c - t) */
        const column X1 = { 1, -k, 0 }, X2 = { 0, -t, 1 };
        const long double f[2] = { from - t, to - t }, g[2] = { k, k };

        return cone(w, l, X1, X2, f, g);
    }
    /* the knee lies beyond the range, M is the mean at H: left M (1 - k (H - u)/(H - t)),
     * right b = M (1 + k (c - H)/(H - t)) */
    const column X1 = { 0, 1 - k * H / (H - t), k / (H - t) }, X2 = { 1, -1, 0 };
    const long double f[2] = { 1, 1 };
    const long double g[2] = { 1 + k * (from - H) / (H - t), 1 + k * (to - H) / (H - t) };

    return cone(w, l, X1, X2, f, g);
}

static long double end_part(const pl_curve_work *w, const pl_curve_left *l, long double t,
                            long double L, long double from, long double to)
{
    /* falling from M at L: left M (1 - k (u - L)/(t - L)), right b = M (1 - k (c - L)/(t - L)) */
    const long double k = 1 - (long double)w->share;
    const column X1 = { 0, 1 + k * L / (t - L), -k / (t - L) }, X2 = { 1, -1, 0 };
    const long double f[2] = { 1, 1 };
    const long double g[2] = { 1 - k * (from - L) / (t - L), 1 - k * (to - L) / (t - L) };

    return cone(w, l, X1, X2, f, g);
}

double pl_curve_segments_held(const pl_curve_work *w, pl_curve_held held, double t)
{
    const double low = w->span.low, H = w->u_high - low, L = w->u_low - low, place = t - low;
    long double best = 0;

    for (size_t j = 1; j < w->rows->m; j++) {
        double from = fmax(w->u[j - 1] - low, place), to = w->u[j] - low;
        const pl_curve_left *l = &w->left[j];
        long double e;

        if (!(to > place))
            continue;
        if (held == PL_HELD_END) {
            e = end_part(w, l, place, L, from, to);
        } else if (from < H && to > H) { /* the range ends inside this segment */
            long double inner = onset_part(w, l, place, H, from, H);

            e = onset_part(w, l, place, H, H, to);
            e = inner > e ? inner : e;
        } else {
            e = onset_part(w, l, place, H, from, to);
        }
        if (e > best)
            best = e;
    }
    return (double)(w->zz - best) + w->rows->rest;
}
