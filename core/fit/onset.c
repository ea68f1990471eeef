/* Averaged-tail-area intervals. The held fits themselves are curve_work.c, curve_segments.c
 * and curve_powers.c. */
#include "fit/onset.h"

#include <float.h>
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdint.h>

#include "base/prob.h"

/* Points looked at between neighbouring levels: about 128 in all, one a level at least up to 256
 * levels, beyond that some levels are passed over. */
#define LOOKS 128
/* The range is open: its ends are looked at this share of a step inside. */
#define INSIDE 1e-6
/* Crossings are good to this share of the step between two levels. */
#define CROSSING_TOL 1e-9
/* A curve of less weight moves A by less than its weight: not asked. */
#define WEIGHT_LEAST 1e-12
/* Sums of squares closer than this share are one: searches leave about 1e-14. */
#define SAME 1e-13

typedef struct averaged {
    pl_curve_model *const *models;
    size_t n;
    pl_curve_held held;
} averaged;

/* A(t) of the model-averaged tail area. */
static double onset_tail(void *self, double t)
{
    const averaged *all = self;
    double A = 0;

    for (size_t k = 0; k < all->n; k++) {
        pl_curve_model *m = all->models[k];
        double place = all->held == PL_HELD_ONSET ? m->onset : m->end;
        double more, r;

        if (m->weight < WEIGHT_LEAST)
            continue;
        more = pl_curve_model_held(m, all->held, t) - m->best.ss;
        /* rounding of the sums is no evidence, only the side is; no scatter at all: 0/0 */
        r = sqrt(fmax(more, SAME * m->best.ss) / m->s2);
        if (isnan(r) || place == t)
            r = 0;
        A += m->weight * pl_t_lower(place < t ? -r : r, m->df);
    }
    return A;
}

typedef struct scan {
    pl_onset_tail tail;
    void *self;
    size_t nt;
    double *t, *A;
    const double *plain; /* A without the rigs' error */
    const double *error; /* ERRORS, in standard deviations */
    double step;         /* smallest distance between levels */
    const pl_rig_doubt *doubts;
    size_t ndoubt;
} scan;

/* Errors of a rig tried for each place: the middles of so many equal shares of a normal
 * distribution. Their limits stand within 0.01 of a standard deviation. */
#define ERRORS 1000

const pl_rig_doubt *pl_rig_doubt_at(const pl_rig_doubt *doubts, size_t n, double t)
{
    const pl_rig_doubt *best = NULL;

    for (size_t i = 0; i < n; i++)
        if (doubts[i].at > 0 && t > 0 &&
            (!best || fabs(log(doubts[i].at / t)) < fabs(log(best->at / t))))
            best = &doubts[i];
    return best;
}

/* A without the rigs' error from the looks, straight between them; beyond them as at their ends. */
static double tail_tabled(const scan *s, double t)
{
    size_t low = 0, high = s->nt - 1;

    if (t <= s->t[0] || t >= s->t[high])
        return s->plain[t <= s->t[0] ? 0 : high];
    while (high - low > 1) {
        size_t k = (low + high) / 2;

        *(s->t[k] <= t ? &low : &high) = k;
    }
    return s->plain[low] +
           (s->plain[high] - s->plain[low]) * (t - s->t[low]) / (s->t[high] - s->t[low]);
}

static double tail_at(const scan *s, double t)
{
    const pl_rig_doubt *r = pl_rig_doubt_at(s->doubts, s->ndoubt, t);
    double A = 0;

    if (!r || !s->error || !(r->relative > 0))
        return s->tail(s->self, t);
    for (size_t k = 0; k < ERRORS; k++) /* no rig is off by its whole reading */
        A += tail_tabled(s, t / fmax(1 + r->relative * s->error[k], 0.05));
    return A / ERRORS;
}

/* Where A crosses `wanted` between looks i and i + 1: halving, sped up by chords; a jump is
 * closed in on like a crossing. */
static double crossing(const scan *s, size_t i, double wanted)
{
    double a = s->t[i], b = s->t[i + 1], fa = s->A[i] - wanted, fb = s->A[i + 1] - wanted;
    const double tol = CROSSING_TOL * (b - a);
    int side = 0;

    for (int k = 0; k < 60 && b - a > tol; k++) {
        double t = k % 4 == 3 || fa == fb ? 0.5 * (a + b) : a + (b - a) * fa / (fa - fb), f;

        if (!(t > a && t < b))
            t = 0.5 * (a + b);
        f = tail_at(s, t) - wanted;
        if (f == 0)
            return t;
        if ((f > 0) == (fa > 0)) {
            a = t, fa = f;
            fb *= side == 1 ? 0.5 : 1;
            side = 1;
        } else {
            b = t, fb = f;
            fa *= side == -1 ? 0.5 : 1;
            side = -1;
        }
    }
    return 0.5 * (a + b);
}

/* Crossings from above wanted to below or back; their number, and the place of number `which`. */
static size_t crossings(const scan *s, double wanted, size_t which, double *place)
{
    size_t n = 0;

    for (size_t i = 0; i + 1 < s->nt; i++)
        if ((s->A[i] >= wanted) != (s->A[i + 1] >= wanted) && n++ == which)
            *place = crossing(s, i, wanted);
    return n;
}

static void read_off(const scan *s, double lowest, double highest, pl_bounded *out)
{
    const double first = s->A[0], last = s->A[s->nt - 1];
    size_t n;

    /* below 0.025 all along: the place is the lowest level itself; above 0.975: the highest */
    *out = (pl_bounded){ NAN, NAN, NAN, false, false };
    if (first < 0.975)
        out->low_open = true;
    else if (!crossings(s, 0.975, 0, &out->low))
        out->low = highest;
    if (last > 0.025)
        out->high_open = true;
    else if ((n = crossings(s, 0.025, SIZE_MAX, &out->high)))
        crossings(s, 0.025, n - 1, &out->high);
    else
        out->high = lowest;
    n = crossings(s, 0.5, SIZE_MAX, &out->at);
    if (n)
        crossings(s, 0.5, n / 2, &out->at);
    else
        out->at = first >= 0.5 ? highest : lowest;
    /* points that lie on a curve exactly: three crossings in one place, in any order by rounding */
    if (out->low > out->high)
        out->low = out->high = out->at;
    if (out->at < out->low)
        out->at = out->low;
    if (out->at > out->high)
        out->at = out->high;
}

pl_code pl_onset_interval(pl_arena *a, pl_curve_model *const *models, size_t n, pl_curve_held held,
                          const double *levels, size_t K, pl_bounded *out, pl_diags *d)
{
    return pl_onset_with_rigs(a, models, n, held, levels, K, NULL, 0, out, d);
}

pl_code pl_onset_with_rigs(pl_arena *a, pl_curve_model *const *models, size_t n, pl_curve_held held,
                           const double *levels, size_t K, const pl_rig_doubt *doubts,
                           size_t ndoubt, pl_bounded *out, pl_diags *d)
{
    averaged all = { models, n, held };

    *out = (pl_bounded){ NAN, NAN, NAN, true, true };
    for (size_t k = 0; k < n; k++) /* a mean nowhere above zero has no share of itself */
        if (isnan(models[k]->onset))
            return PL_OK;
    return n ? pl_onset_of_tail(a, onset_tail, &all, LOOKS, levels, K, doubts, ndoubt, out, d)
             : PL_OK;
}

pl_code pl_onset_of_tail(pl_arena *a, pl_onset_tail tail, void *self, size_t count,
                         const double *levels, size_t K, const pl_rig_doubt *doubts, size_t ndoubt,
                         pl_bounded *out, pl_diags *d)
{
    scan s = { .tail = tail, .self = self, .step = INFINITY };
    double *plain, *error;
    const size_t stride = K / (2 * LOOKS) + 1;
    size_t looks = K > 1 ? count / (K - 1) : 0;

    *out = (pl_bounded){ NAN, NAN, NAN, true, true };
    if (K < 2)
        return PL_OK;
    looks += !looks;
    s.t = PL_NEWN(a, (K - 1) * looks + 2, double);
    s.A = PL_NEWN(a, (K - 1) * looks + 2, double);
    plain = PL_NEWN(a, (K - 1) * looks + 2, double);
    error = PL_NEWN(a, ERRORS, double);
    if (!s.t || !s.A || !plain || !error)
        return pl_nomem(d);
    s.plain = plain;
    for (size_t k = 0; k + 1 < K; k += stride) {
        double gap = levels[k + 1] - levels[k];

        for (size_t i = 0; i < looks; i++)
            s.t[s.nt++] = levels[k] + gap * (k || i ? (double)i / (double)looks : INSIDE);
    }
    s.t[s.nt++] = levels[K - 1] - (levels[K - 1] - levels[K - 2]) * INSIDE;
    for (size_t i = 0; i < s.nt; i++)
        s.A[i] = plain[i] = tail(self, s.t[i]);
    if (ndoubt && levels[0] > 0) {
        for (size_t k = 0; k < ERRORS; k++)
            error[k] = gsl_cdf_ugaussian_Pinv(((double)k + 0.5) / ERRORS);
        s.error = error;
        s.doubts = doubts;
        s.ndoubt = ndoubt;
        for (size_t i = 0; i < s.nt; i++)
            s.A[i] = tail_at(&s, s.t[i]);
    }
    read_off(&s, levels[0], levels[K - 1], out);
    return PL_OK;
}

void pl_onset_widen(pl_bounded *with, const pl_bounded *without)
{
    with->at = without->at;
    with->low_open = with->low_open || without->low_open;
    with->high_open = with->high_open || without->high_open;
    with->low = with->low_open ? NAN : fmin(with->low, without->low);
    with->high = with->high_open ? NAN : fmax(with->high, without->high);
}

static double wald_tail(const double *value, const double *se, const double *df,
                        const double *weight, size_t n, double y)
{
    double A = 0;

    for (size_t k = 0; k < n; k++) {
        double d = value[k] - y, t;

        if (weight[k] < WEIGHT_LEAST)
            continue;
        t = se[k] > 0 ? d / se[k] : d > 0 ? DBL_MAX : d < 0 ? -DBL_MAX : 0;

        A += weight[k] * pl_t_lower(t, df[k]);
    }
    return A;
}

/* A falls as y grows; low and high enclose the limit. Illinois steps, then it is as near as
 * 1e-12 of the bracket. */
static double wald_limit(const double *value, const double *se, const double *df,
                         const double *weight, size_t n, double wanted, double low, double high)
{
    const double tol = 1e-12 * (high - low);
    double flow = wald_tail(value, se, df, weight, n, low) - wanted;
    double fhigh = wald_tail(value, se, df, weight, n, high) - wanted;

    for (int i = 0, side = 0; i < 100 && high - low > tol; i++) {
        double y = i % 4 == 3 || flow == fhigh ? 0.5 * (low + high)
                                               : low + (high - low) * flow / (flow - fhigh),
               f;

        if (!(y > low && y < high))
            y = 0.5 * (low + high);
        if (y <= low || y >= high)
            break;
        f = wald_tail(value, se, df, weight, n, y) - wanted;
        if (f == 0)
            return y;
        if (f > 0) {
            low = y, flow = f;
            fhigh *= side == 1 ? 0.5 : 1;
            side = 1;
        } else {
            high = y, fhigh = f;
            flow *= side == -1 ? 0.5 : 1;
            side = -1;
        }
    }
    return 0.5 * (low + high);
}

void pl_average_limits(const double *value, const double *se, const double *df,
                       const double *weight, size_t n, double *mean, double *low, double *high)
{
    double a = INFINITY, b = -INFINITY;

    *mean = 0;
    for (size_t k = 0; k < n; k++) {
        double t;

        *mean += weight[k] * value[k];
        if (weight[k] < WEIGHT_LEAST)
            continue;
        t = pl_t_quantile(0.975, df[k]) * se[k];
        a = fmin(a, value[k] - t); /* each curve's own limits enclose the averaged ones */
        b = fmax(b, value[k] + t);
    }
    *low = wald_limit(value, se, df, weight, n, 0.975, a, b);
    *high = wald_limit(value, se, df, weight, n, 0.025, a, b);
}
