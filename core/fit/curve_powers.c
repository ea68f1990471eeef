/* Onset and end of polynomials of degree 2 and up, which may rise and fall in the range. Held at
 * a place t, the fit is a least-distance problem with linear conditions for each place x* where
 * the mean could be largest; x* is searched. Curves that go one way are curve_work.c. */
#include <math.h>
#include <string.h>

#include "fit/curve.h"

#define LOOKS 200       /* places at which conditions are looked at */
#define TOPS 16         /* first places tried for the largest mean */
#define SLOPE_STEP 1e-4 /* of the range, for slopes by central differences */
#define ADDED_MOST 40   /* conditions that may bind at once; a degree 11 has at most 12 of them */
#define NF PL_CURVE_PARAM_MOST
#define VIOLATION 1e-9 /* of the size of the mean */

static double mean_at(const pl_curve_model *m, double u)
{
    return pl_curve_model_mean(m, pl_curve_x(&m->work, u), NULL);
}

static double less_mean(void *self, double u)
{
    return -mean_at(self, u);
}

/* First place from `from` towards `to` where the mean is at least wanted. */
static double first_above(const pl_curve_model *m, double from, double to, double wanted)
{
    double before = from;

    for (int i = 0; i <= LOOKS; i++) {
        double u = from + (to - from) * i / LOOKS;

        if (mean_at(m, u) < wanted) {
            before = u;
            continue;
        }
        for (int k = 0; k < 60 && i; k++) {
            double half = 0.5 * (before + u);

            *(mean_at(m, half) < wanted ? &before : &u) = half;
        }
        return u;
    }
    return to;
}

void pl_curve_powers_reach(pl_curve_model *m)
{
    const double L = m->work.u_low, H = m->work.u_high, step = (H - L) / LOOKS;
    double top = L, most = mean_at(m, L), at, value;

    m->onset = m->end = NAN;
    for (int i = 1; i <= LOOKS; i++) {
        double y = mean_at(m, L + step * i);

        if (y > most) {
            most = y;
            top = L + step * i;
        }
    }
    value = -pl_curve_minimum(less_mean, m, fmax(L, top - step), fmin(H, top + step),
                              1e-9 * (H - L), &at);
    if (value > most) {
        most = value;
        top = at;
    }
    m->height = most;
    m->top_at = pl_curve_x(&m->work, top);
    if (!(most > 0))
        return;
    m->onset = pl_curve_x(&m->work, first_above(m, L, top, m->work.share * most));
    m->end = pl_curve_x(&m->work, first_above(m, H, top, m->work.share * most));
}

/* Coefficients b + C w with C C' = (J'J)^-1, so the residual sum of squares is SS + w'w. A mean
 * at u is then base + g'w. */
typedef struct spot {
    double base, g[NF];
} spot;

typedef struct held_powers {
    const pl_curve_model *m;
    pl_curve_held held;
    double t, size;
    double bound; /* a least w'w already found: dearer tops are given up */
    double C[NF * NF];
    spot at_t, spots[LOOKS + 1];
} held_powers;

static spot spot_at(const held_powers *k, double u)
{
    const pl_curve_model *m = k->m;
    const size_t p = m->nf;
    long double f[PL_CURVE_LINEAR_MOST], v = u;
    spot s = { mean_at(m, u), { 0 } };

    m->curve->columns(m->curve, &v, 1, 0, f);
    for (size_t j = 0; j < p; j++)
        for (size_t i = j; i < p; i++)
            s.g[j] += k->C[i * p + j] * (double)f[i];
    return s;
}

static bool factor(held_powers *k)
{
    const size_t p = k->m->nf;

    for (size_t i = 0; i < p; i++)
        for (size_t j = 0; j <= i; j++) {
            long double s = k->m->inverse[i * p + j];

            for (size_t l = 0; l < j; l++)
                s -= (long double)k->C[i * p + l] * k->C[j * p + l];
            if (i == j && !(s > 0))
                return false;
            k->C[i * p + j] = (double)(i == j ? sqrtl(s) : s / k->C[j * p + j]);
        }
    return true;
}

/* Rows a'w >= b. */
typedef struct condition {
    double a[NF], b;
} condition;

/* Least squares over the columns in the passive set; false when they depend on each other. */
static bool passive_fit(const condition *c, const bool *in, size_t n, size_t p, long double *u)
{
    long double X[(NF + 1) * (NF + 1)], y[NF + 1] = { 0 }, beta[NF + 1], rss;
    size_t col = 0;

    for (size_t i = 0; i < n; i++) {
        if (!in[i])
            continue;
        if (col > p)
            return false;
        for (size_t j = 0; j < p; j++)
            X[col * (p + 1) + j] = c[i].a[j];
        X[col * (p + 1) + p] = c[i].b;
        col++;
    }
    y[p] = 1;
    if (col && !pl_long_lsq(X, y, p + 1, col, beta, NULL, NULL, &rss))
        return false;
    for (size_t i = 0, k = 0; i < n; i++)
        u[i] = in[i] ? beta[k++] : 0;
    return true;
}

/* Shortest w with a_i'w >= b_i for all i; false when there is none. Lawson & Hanson 1974, Solving
 * Least Squares Problems, ch. 23: nonnegative least squares on the dual. */
static bool least_distance(const condition *c, size_t n, size_t p, double *w)
{
    long double u[ADDED_MOST] = { 0 }, try[ADDED_MOST], r[NF + 1];
    bool in[ADDED_MOST] = { false };

    for (int round = 0; round < 200; round++) {
        size_t best = n;
        long double most = 0;

        for (size_t j = 0; j <= p; j++) { /* r = f - E u, f the last axis */
            r[j] = j == p;
            for (size_t i = 0; i < n; i++)
                r[j] -= u[i] * (j < p ? c[i].a[j] : c[i].b);
        }
        for (size_t i = 0; i < n; i++) {
            long double g = r[p] * c[i].b, length = fabsl(r[p] * c[i].b);

            for (size_t j = 0; j < p; j++) {
                g += r[j] * c[i].a[j];
                length += fabsl(r[j] * c[i].a[j]);
            }
            if (!in[i] && g > 1e-13L * length && g > most) {
                most = g;
                best = i;
            }
        }
        if (best == n)
            break;
        in[best] = true;
        if (!passive_fit(c, in, n, p, try)) {
            in[best] = false;
            break;
        }
        for (int inner = 0; inner < ADDED_MOST; inner++) { /* step back to the boundary */
            long double step = 1;
            bool negative = false;

            for (size_t i = 0; i < n; i++)
                if (in[i] && try[i] <= 0) {
                    negative = true;
                    step = fminl(step, u[i] - try[i] > 0 ? u[i] / (u[i] - try[i]) : 0);
                }
            for (size_t i = 0; i < n; i++)
                u[i] += step * (try[i] - u[i]);
            if (!negative)
                break;
            for (size_t i = 0; i < n; i++)
                if (in[i] && u[i] <= 1e-18L * fabsl(try[i])) {
                    in[i] = false;
                    u[i] = 0;
                }
            if (!passive_fit(c, in, n, p, try))
                return false;
        }
    }
    if (!(r[p] > 1e-14L))
        return false;
    for (size_t j = 0; j < p; j++)
        w[j] = (double)(-r[j] / r[p]);
    return true;
}

/* The condition left - factor * right >= 0 of two means, with the held equality taken out: what
 * remains speaks of the part of w at right angles to it. */
static condition condition_of(const held_powers *k, const spot *left, double times,
                              const spot *right, const condition *equal)
{
    const size_t p = k->m->nf;
    condition c = { .b = -(left->base - times * right->base) };
    double along = 0, ee = 0;

    for (size_t j = 0; j < p; j++)
        c.a[j] = left->g[j] - times * right->g[j];
    if (!equal)
        return c;
    for (size_t j = 0; j < p; j++) {
        along += c.a[j] * equal->a[j];
        ee += equal->a[j] * equal->a[j];
    }
    for (size_t j = 0; j < p; j++)
        c.a[j] -= along / ee * equal->a[j];
    c.b -= along / ee * equal->b;
    return c;
}

static double short_of(const condition *c, const double *w, size_t p)
{
    double s = c->b;

    for (size_t j = 0; j < p; j++)
        s -= c->a[j] * w[j];
    return s;
}

/* The slope of the mean at u, over the whole range, as a spot. */
static spot slope_at(const held_powers *k, double u)
{
    const double width = k->m->work.u_high - k->m->work.u_low, e = SLOPE_STEP * width;
    spot a = spot_at(k, u - e), b = spot_at(k, u + e);

    b.base = (b.base - a.base) * width / (2 * e);
    for (size_t j = 0; j < k->m->nf; j++)
        b.g[j] = (b.g[j] - a.g[j]) * width / (2 * e);
    return b;
}

/* What must hold beside the equality when the largest mean is at u: it is a local one (or the end
 * of the range, no lower inside), t is reached from below, the mean is above zero. */
static size_t fixed_conditions(const held_powers *k, double u, const condition *equal,
                               condition *out)
{
    static const spot none = { 0 };
    const double L = k->m->work.u_low, H = k->m->work.u_high, edge = 1e-9 * (H - L);
    const spot slope = slope_at(k, u), start = slope_at(k, k->t);
    size_t n = 0;

    out[n++] = condition_of(k, &k->at_t, 0, &none, equal);
    if (u < H - edge)
        out[n++] = condition_of(k, &none, 1, &slope, equal);
    if (u > L + edge)
        out[n++] = condition_of(k, &slope, 0, &none, equal);
    out[n++] = k->held == PL_HELD_ONSET ? condition_of(k, &start, 0, &none, equal)
                                        : condition_of(k, &none, 1, &start, equal);
    return n;
}

/* The condition that w breaks most, of the fixed ones and of those along the range: no mean
 * above that at u, none as high as that at t on its far side. False when none is broken. */
static bool worst_broken(const held_powers *k, const condition *fixed, size_t n,
                         const condition *equal, const double *w, condition *out)
{
    const double L = k->m->work.u_low, H = k->m->work.u_high, share = k->m->work.share;
    double worst = VIOLATION * k->size;
    bool broken = false;

    for (size_t i = 0; i <= LOOKS + n; i++) {
        condition c;
        double s;

        if (i > LOOKS) {
            c = fixed[i - LOOKS - 1];
        } else {
            double x = L + (H - L) * (double)i / LOOKS;
            bool outside = k->held == PL_HELD_ONSET ? x < k->t : x > k->t;

            c = condition_of(k, &k->at_t, outside ? 1 : share, &k->spots[i], equal);
        }
        s = short_of(&c, w, k->m->nf);
        if (s > worst) {
            worst = s;
            *out = c;
            broken = true;
        }
    }
    return broken;
}

/* Least w'w when the largest mean is at u. Conditions are added where they are broken most until
 * none is. */
static double top_held(void *self, double u)
{
    const held_powers *k = self;
    const size_t p = k->m->nf;
    const spot top = spot_at(k, u);
    const condition equal = condition_of(k, &k->at_t, k->m->work.share, &top, NULL);
    condition fixed[4], added[ADDED_MOST];
    double w[NF] = { 0 }, length = 0, own, sum;
    size_t nfixed, n = 0;

    for (size_t j = 0; j < p; j++)
        length += equal.a[j] * equal.a[j];
    if (!(length > 0))
        return INFINITY;
    own = sum = equal.b * equal.b / length;
    nfixed = fixed_conditions(k, u, &equal, fixed);
    /* w'w only grows as conditions join */
    while (n < ADDED_MOST && sum < k->bound &&
           worst_broken(k, fixed, nfixed, &equal, w, &added[n])) {
        if (!least_distance(added, ++n, p, w))
            return INFINITY;
        sum = own;
        for (size_t j = 0; j < p; j++)
            sum += w[j] * w[j];
    }
    return sum;
}

double pl_curve_powers_held(const pl_curve_model *m, pl_curve_held held, double x)
{
    held_powers k = { .m = m,
                      .held = held,
                      .t = pl_curve_u(&m->work, x),
                      .size = fabs(m->height),
                      .bound = INFINITY };
    const double L = m->work.u_low, H = m->work.u_high;
    const double from = held == PL_HELD_ONSET ? k.t : L, to = held == PL_HELD_ONSET ? H : k.t;
    double best = INFINITY, at = from, value;

    if (!factor(&k))
        return INFINITY;
    k.at_t = spot_at(&k, k.t);
    for (int i = 0; i <= LOOKS; i++)
        k.spots[i] = spot_at(&k, L + (H - L) * i / LOOKS);
    for (int i = 0; i <= TOPS; i++) { /* t itself is no place for the largest mean */
        double u = held == PL_HELD_ONSET ? to - (to - from) * i / (TOPS + 1.0)
                                         : from + (to - from) * i / (TOPS + 1.0);

        value = top_held(&k, u);
        if (value < best) {
            best = value;
            at = u;
        }
        k.bound = best;
    }
    k.bound = INFINITY; /* a search needs all values */
    if (isfinite(best)) {
        double step = (to - from) / (TOPS + 1.0);

        value = pl_curve_minimum(top_held, &k, fmax(L, at - step), fmin(H, at + step),
                                 1e-6 * (H - L), &at);
        best = fmin(best, value);
    }
    return m->best.ss + best;
}
