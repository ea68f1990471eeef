/* The ratio of two groups' onsets with its interval. One shape for all is groups_shape.c. */
#include "fit/groups.h"

#include <math.h>
#include <string.h>

#include "base/prob.h"

/* Looks along a range: profiles are tabled there, between them the signed root is taken as
 * straight until the last step, which asks the held fits themselves. */
#define LOOKS 96
/* The range is open, as in onset.c. */
#define INSIDE 1e-6
/* Ratios looked at, evenly in their logarithm. */
#define RATIOS 192
/* Limits are good to this in ln(ratio); the place within is searched to PLACE_TOL, which is
 * second order in the sum of squares. */
#define RATIO_TOL 1e-8
#define PLACE_TOL 1e-6
/* A curve of less weight moves the tail area by less than its weight. */
#define WEIGHT_LEAST 1e-9

/* One curve in one group: how much worse it fits with its onset held at t. */
typedef struct profile {
    pl_curve_model *m;
    double *t, *more; /* n, t rising; more >= 0 */
    size_t n;
} profile;

typedef struct pair_curve {
    profile a, b;
    double weight, s2, df, ratio;
} pair_curve;

typedef struct pair {
    pair_curve *curves;
    size_t n;
} pair;

/* ---- one curve ---- */

static double more_at(const profile *p, double t)
{
    double ss, lowest = p->t[0];

    t = fmin(fmax(t, lowest), p->t[p->n - 1]);
    /* at or below the lowest level: it may be no worse at all */
    if (t == lowest && p->m->onset <= lowest)
        return 0;
    ss = pl_curve_model_held(p->m, PL_HELD_ONSET, t);
    return fmax(0, ss - p->m->best.ss);
}

static pl_code table_profile(pl_arena *a, const pl_plateau_group *g, pl_curve_model *m,
                             profile *out, pl_diags *d)
{
    const size_t steps = g->nplace - 1, by = LOOKS / steps + 1, K = g->nplace;
    const double *at = g->places;

    out->m = m;
    out->n = 0;
    out->t = PL_NEWN(a, steps * by + 1, double);
    out->more = PL_NEWN(a, steps * by + 1, double);
    if (!out->t || !out->more)
        return pl_nomem(d);
    for (size_t k = 0; k < steps; k++)
        for (size_t i = 0; i < by; i++)
            out->t[out->n++] = at[k] +
                               (at[k + 1] - at[k]) * (k || i ? (double)i / (double)by : INSIDE);
    out->t[out->n++] = at[K - 1] - (at[K - 1] - at[K - 2]) * INSIDE;
    for (size_t i = 0; i < out->n; i++)
        out->more[i] = more_at(out, out->t[i]);
    return PL_OK;
}

/* From the table; the root of `more` is straight on either side of the best place. */
static double more_tabled(const profile *p, double t)
{
    size_t low = 0, high = p->n - 1;
    double f, a, b, r;

    if (t <= p->t[0])
        return p->more[0];
    if (t >= p->t[high])
        return p->more[high];
    while (high - low > 1) {
        size_t k = (low + high) / 2;

        *(p->t[k] <= t ? &low : &high) = k;
    }
    f = (t - p->t[low]) / (p->t[high] - p->t[low]);
    a = sqrt(p->more[low]) * (p->t[low] < p->m->onset ? 1 : -1);
    b = sqrt(p->more[high]) * (p->t[high] < p->m->onset ? 1 : -1);
    r = a + f * (b - a);
    return r * r;
}

/* ---- held at a ratio ---- */

typedef struct held_ratio {
    const pair_curve *c;
    double log_ratio;
} held_ratio;

static double sum_at(void *self, double log_t)
{
    const held_ratio *h = self;

    return more_at(&h->c->a, exp(log_t + h->log_ratio)) + more_at(&h->c->b, exp(log_t));
}

/* Least over the tabled places of either group; exact: refined by the held fits. */
static double least_sum(const pair_curve *c, double log_ratio, bool exact)
{
    const double ratio = exp(log_ratio);
    const profile *of[2] = { &c->a, &c->b };
    held_ratio h = { c, log_ratio };
    double best = INFINITY, place = 0, wide = 0;

    for (int k = 0; k < 2; k++)
        for (size_t i = 0; i < of[k]->n; i++) {
            double t = k ? of[k]->t[i] : of[k]->t[i] / ratio;
            double sum = more_tabled(&c->a, ratio * t) + more_tabled(&c->b, t);

            if (sum < best) {
                best = sum;
                place = log(t);
                wide = log(of[k]->t[i + 1 < of[k]->n ? i + 1 : i] / of[k]->t[i ? i - 1 : 0]);
            }
        }
    if (!exact)
        return best;
    best = sum_at(&h, place);
    return fmin(best, pl_curve_minimum(sum_at, &h, place - wide, place + wide, PLACE_TOL, &place));
}

static double tail(const pair *p, double log_ratio, bool exact)
{
    double A = 0;

    for (size_t k = 0; k < p->n; k++) {
        const pair_curve *c = &p->curves[k];
        double r, own = log(c->ratio);

        if (c->weight < WEIGHT_LEAST)
            continue;
        r = sqrt(least_sum(c, log_ratio, exact) / c->s2);
        if (isnan(r) || own == log_ratio)
            r = 0;
        A += c->weight * pl_t_lower(own < log_ratio ? -r : r, c->df);
    }
    return A;
}

/* ---- limits ---- */

/* A falls through `wanted` between low and high, by the table; the held fits say where. */
static double settle_limit(const pair *p, double low, double high, double wanted)
{
    const double step = high - low;
    double flow = tail(p, low, true) - wanted, fhigh = tail(p, high, true) - wanted;

    for (int i = 0; i < 8 && (flow > 0) == (fhigh > 0); i++) { /* the table was a little off */
        low -= step;
        high += step;
        flow = tail(p, low, true) - wanted;
        fhigh = tail(p, high, true) - wanted;
    }
    for (int i = 0, side = 0; i < 60 && high - low > RATIO_TOL; i++) {
        double t = i % 4 == 3 || flow == fhigh ? 0.5 * (low + high)
                                               : low + (high - low) * flow / (flow - fhigh);
        double f;

        if (!(t > low && t < high))
            t = 0.5 * (low + high);
        f = tail(p, t, true) - wanted;
        if ((f > 0) == (flow > 0)) {
            low = t, flow = f;
            fhigh *= side == 1 ? 0.5 : 1;
            side = 1;
        } else {
            high = t, fhigh = f;
            flow *= side == -1 ? 0.5 : 1;
            side = -1;
        }
        if (f == 0)
            break;
    }
    return exp(0.5 * (low + high));
}

/* Crossing number `which` of `wanted`, or the last one; false: none. */
static bool find_limit(const pair *p, const double *at, const double *A, double wanted,
                       size_t which, double *out)
{
    size_t n = 0, i = 0, found = 0;

    for (i = 0; i + 1 < RATIOS && n <= which; i++)
        if ((A[i] >= wanted) != (A[i + 1] >= wanted)) {
            n++;
            found = i;
        }
    if (n)
        *out = settle_limit(p, at[found], at[found + 1], wanted);
    return n > 0;
}

static size_t count_crossings(const double *A, double wanted)
{
    size_t n = 0;

    for (size_t i = 0; i + 1 < RATIOS; i++)
        n += (A[i] >= wanted) != (A[i + 1] >= wanted);
    return n;
}

static void read_limits(const pair *p, const pl_plateau_group *a, const pl_plateau_group *b,
                        pl_bounded *out)
{
    const double low = log(a->places[0] / b->places[b->nplace - 1]);
    const double high = log(a->places[a->nplace - 1] / b->places[0]);
    double at[RATIOS], A[RATIOS];

    for (size_t i = 0; i < RATIOS; i++) {
        at[i] = low + (high - low) * (double)i / (RATIOS - 1);
        A[i] = tail(p, at[i], false);
    }
    *out = (pl_bounded){ NAN, NAN, NAN, true, true };
    out->low_open = A[0] < 0.975 || !find_limit(p, at, A, 0.975, 0, &out->low);
    out->high_open = A[RATIOS - 1] > 0.025 || !find_limit(p, at, A, 0.025, RATIOS, &out->high);
    if (!find_limit(p, at, A, 0.5, count_crossings(A, 0.5) / 2, &out->at))
        out->at = exp(A[0] >= 0.5 ? high : low);
}

/* ---- pairs ---- */

static pl_curve_model *same_curve(const pl_plateau_group *g, const pl_curve_model *m)
{
    for (size_t k = 0; k < g->naveraged; k++)
        if (g->averaged[k]->curve == m->curve && g->averaged[k]->work.log_x == m->work.log_x)
            return g->averaged[k];
    return NULL;
}

static double coefficients(const pl_curve_model *m)
{
    return (double)(m->nmean + m->rows->q);
}

/* Curves that both have and that place both onsets, weighed by the AICc of the pair. */
static pl_code pair_curves(pl_arena *a, const pl_plateau_group *ga, const pl_plateau_group *gb,
                           pair *p, pl_diags *d)
{
    double best = INFINITY, sum = 0;
    double *aicc = PL_NEWN(a, ga->naveraged, double);
    pl_code rc = PL_OK;

    p->curves = PL_NEWN(a, ga->naveraged, pair_curve);
    if (!aicc || !p->curves)
        return pl_nomem(d);
    for (size_t k = 0; k < ga->naveraged; k++) {
        pl_curve_model *ma = ga->averaged[k], *mb = same_curve(gb, ma);
        pair_curve *c = &p->curves[p->n];
        double ss = ma->ss + (mb ? mb->ss : 0);

        if (!mb || !(ma->onset > 0) || !(mb->onset > 0))
            continue;
        c->a.m = ma;
        c->b.m = mb;
        c->df = ma->df + mb->df;
        c->s2 = ss / c->df;
        c->ratio = ma->onset / mb->onset;
        aicc[p->n] = pl_curve_aicc(ss, (double)(ma->rows->n + mb->rows->n),
                                   coefficients(ma) + coefficients(mb) + 1);
        if (isnan(aicc[p->n]) && ga->naveraged > 1)
            continue;
        aicc[p->n] = isnan(aicc[p->n]) ? 0 : aicc[p->n];
        best = fmin(best, aicc[p->n++]);
    }
    for (size_t k = 0; k < p->n; k++)
        sum += p->curves[k].weight = exp(-0.5 * (aicc[k] - best));
    for (size_t k = 0; k < p->n && !rc; k++) {
        pair_curve *c = &p->curves[k];

        c->weight /= sum;
        if (c->weight < WEIGHT_LEAST)
            continue;
        rc = table_profile(a, ga, c->a.m, &c->a, d);
        if (!rc)
            rc = table_profile(a, gb, c->b.m, &c->b, d);
    }
    return rc;
}

static bool has_range(const pl_plateau_group *g)
{
    return g->naveraged && g->nplace >= PL_PLATEAU_LEVELS_LEAST && g->places[0] > 0;
}

static pl_code add_ratio(pl_arena *a, const pl_plateau_group *ga, const pl_plateau_group *gb,
                         pl_between *b, pl_diags *d)
{
    pair p = { 0 };
    pl_mark mark;
    pl_code rc = PL_OK;

    if (!has_range(ga) || !has_range(gb))
        return PL_OK;
    mark = pl_arena_mark(a);
    rc = pair_curves(a, ga, gb, &p, d);
    if (!rc && p.n) {
        pl_onset_ratio *r = &b->ratios[b->nratio++];

        r->group = ga->name;
        r->against = gb->name;
        read_limits(&p, ga, gb, &r->ratio);
    }
    pl_arena_reset(a, mark);
    return rc;
}

pl_code pl_groups_compare(pl_arena *a, pl_plateau_group *g, size_t n, pl_plateau *p, pl_diags *d)
{
    pl_between *b = PL_NEW(a, pl_between);
    pl_code rc = PL_OK;

    if (!b)
        return pl_nomem(d);
    b->factor = g->spec->for_each;
    b->ratios = PL_NEWN(a, n <= PL_GROUPS_ALL_PAIRS ? n * (n - 1) / 2 : n - 1, pl_onset_ratio);
    if (!b->ratios)
        return pl_nomem(d);
    for (size_t i = 1; i < n && !rc; i++)
        for (size_t k = 0; k < (n <= PL_GROUPS_ALL_PAIRS ? i : 1) && !rc; k++)
            rc = add_ratio(a, &g[i], &g[k], b, d);
    if (!rc)
        rc = pl_groups_shape(a, g, n, b, d);
    for (size_t i = 0; i < n; i++)
        p[i].between = b;
    return rc;
}
