/* Guessed curves: their columns at given places, and levels placed where they tell most of the
 * onset. The search is exchange.c's. */
#include "design/onset.h"

#include <math.h>
#include <string.h>

#include "base/units.h"
#include "design/exchange.h"
#include "model/curve.h"

#define HALVINGS 200   /* of the shape's logarithm: to the last digit */
#define SHAPE_SPAN 1e6 /* shapes looked at, against the width of the range, either way */
#define STEP 1e-6L     /* for the slope at the onset, against the width */
#define SPREAD 0.02    /* of the levels, for curves other than the guess */
#define STARTS ((size_t)20)
#define CANDIDATES_MOST 400

typedef struct rise {
    const pl_curve *curve;
    double floor;
    long double s;
} rise;

static double rounded(long double x)
{
    return rint((double)x * 1e9) / 1e9;
}

static long double g_of(const rise *r, long double u)
{
    long double out[PL_CURVE_LINEAR_MOST];

    r->curve->columns(r->curve, &u, 1, r->s, out);
    return out[1];
}

static long double dg_of(const rise *r, long double u)
{
    long double out[PL_CURVE_LINEAR_MOST];

    r->curve->gradient(&u, 1, r->s, out);
    return out[1];
}

/* The rise done at t, less what must be done there: floor and share count against the highest. */
static long double beyond(const rise *r, long double t, long double high, double share)
{
    return g_of(r, t) / g_of(r, high) -
           ((long double)share - r->floor) / (1 - (long double)r->floor);
}

/* Shape for which the rise ends at t. */
static bool find_shape(rise *r, long double t, long double high, double share)
{
    long double low = logl(1 / SHAPE_SPAN), top = logl(SHAPE_SPAN), scale;
    bool up, down;

    scale = r->curve->shape_is_x ? high : 1 / high;
    r->s = scale * expl(low);
    down = beyond(r, t, high, share) > 0;
    r->s = scale * expl(top);
    up = beyond(r, t, high, share) > 0;
    if (up == down)
        return false;
    for (int i = 0; i < HALVINGS; i++) {
        long double middle = (low + top) / 2;

        r->s = scale * expl(middle);
        *((beyond(r, t, high, share) > 0) == up ? &top : &low) = middle;
    }
    return true;
}

static long double place(const pl_guess *guess, double x, double low)
{
    return guess->log_x ? logl((long double)x / low) : x;
}

bool pl_onset_view(const pl_guess *guess, double share, double low, double high, const double *x,
                   size_t n, double *f, double *aim)
{
    rise r = { .curve = pl_curve_find(guess->curve), .floor = guess->floor };
    long double t = place(guess, guess->onset, low), top = place(guess, high, low), c, slope, by;

    if (!r.curve || !r.curve->rises || r.curve->nshape != 1 || r.curve->wide || !(t > 0) ||
        !(t < top) || (guess->log_x && !(low > 0)) || !find_shape(&r, t, top, share))
        return false;
    c = (1 - (long double)r.floor) / g_of(&r, top);
    slope = c * (g_of(&r, t + STEP * top) - g_of(&r, t - STEP * top)) / (2 * STEP * top);
    by = -1 / slope / (guess->log_x ? 1 : t);
    if (!(slope > 0))
        return false;
    for (size_t i = 0; i < n; i++) {
        long double u = place(guess, x[i], low);

        f[2 * i] = rounded(g_of(&r, u));
        f[2 * i + 1] = rounded(c * r.s * dg_of(&r, u));
    }
    aim[0] = rounded(by * (1 - share));
    aim[1] = rounded(by * (g_of(&r, t) - share * g_of(&r, top)));
    aim[2] = rounded(by * c * r.s * (dg_of(&r, t) - share * dg_of(&r, top)));
    return true;
}

/* ---------------------------------------------------------------- levels -- */

typedef struct places {
    double x[CANDIDATES_MOST], si[CANDIDATES_MOST]; /* in the factor's unit; SI. Ends first */
    size_t n;
} places;

static void add_place(places *p, double x, double step)
{
    if (p->n < CANDIDATES_MOST && x > p->x[0] + step / 2 && x < p->x[1] - step / 2)
        p->x[p->n++] = x;
}

/* Of each decade the numbers of one series: every `by`-th of E24, or all of two digits. */
static void add_decades(places *p, size_t by)
{
    static const unsigned e24[] = { 10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30,
                                    33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91 };
    double least = p->x[0] > 0 ? p->x[0] : p->x[1] / 100, unit = 1;

    p->n = 2;
    while (unit * 10 > least)
        unit /= 10;
    while (unit * 100 <= least)
        unit *= 10;
    for (; unit * 10 < p->x[1]; unit *= 10)
        for (size_t k = by ? 0 : 10; k < (by ? 24u : 100u); k += by ? by : 1) {
            double x = unit * (by ? e24[k] : (double)k);

            if (x >= least)
                add_place(p, x, unit);
        }
}

/* The coarsest series with half as many places again as levels: levels that lie close together
 * tell little of curves other than the guess. */
static void add_places(places *p, size_t nlevel)
{
    for (size_t by = 2; by; by /= 2) {
        add_decades(p, by);
        if (2 * p->n >= 3 * nlevel)
            return;
    }
    add_decades(p, 0);
}

/* The guess, and out by the square root of 2 and by 2 either way. */
static size_t add_views(pl_arena *a, const pl_study *s, const places *p, pl_view *view)
{
    static const double out_by[] = { 0.5, 0.70710678118654752, 1, 1.4142135623730951, 2 };
    double low = fmin(p->si[0], p->si[1]), high = fmax(p->si[0], p->si[1]), total = 0;
    size_t n = 0;

    for (size_t g = 0; g < s->question.nguess; g++)
        for (size_t k = 0; k < sizeof out_by / sizeof *out_by; k++) {
            pl_guess guess = s->question.guess[g];
            double *f = PL_NEWN(a, 2 * p->n, double), *aim = PL_NEWN(a, 3, double);

            guess.onset *= out_by[k];
            if (!f || !aim)
                return 0;
            if (!pl_onset_view(&guess, s->question.share, low, high, p->si, p->n, f, aim))
                continue; /* beyond the levels */
            view[n++] = (pl_view){ PL_ONSET_COLUMNS, f, aim, guess.weight };
            total += guess.weight;
        }
    for (size_t i = 0; i < n; i++)
        view[i].weight /= total;
    return n;
}

static void sort(double *x, size_t n)
{
    for (size_t i = 1; i < n; i++)
        for (size_t k = i; k > 0 && x[k] < x[k - 1]; k--) {
            double kept = x[k];

            x[k] = x[k - 1];
            x[k - 1] = kept;
        }
}

bool pl_onset_levels(pl_arena *a, const pl_study *s, size_t factor, double *x)
{
    const pl_factor *k = &s->factors[factor];
    size_t n = k->nlevel;
    places *p = PL_NEW(a, places);
    pl_view *view = PL_NEWN(a, 5 * (s->question.nguess + 1), pl_view);
    pl_exchange e = { .of = { .criterion = PL_CRITERION_C, .spread = SPREAD },
                      .nrun = n,
                      .nfixed = 2,
                      .distinct = true,
                      .starts = STARTS,
                      .run = PL_NEWN(a, n, uint32_t) };
    double scale = 1, offset = 0;
    const char *why;
    pl_diags unsaid;

    pl_diags_init(&unsaid, a);
    if (!p || !view || !e.run || n < 3 || s->question.over != (int)factor ||
        pl_units_scale(a, k->unit, k->kind, &scale, &offset, &why))
        return false;
    p->x[0] = x[0];
    p->x[1] = x[n - 1];
    add_places(p, n);
    for (size_t i = 0; i < p->n; i++)
        p->si[i] = scale * p->x[i] + offset;
    e.of.ncand = p->n;
    e.of.view = view;
    e.of.nview = add_views(a, s, p, view);
    e.run[1] = 1;
    if (!e.of.nview || p->n < n || pl_exchange_search(a, &e, &unsaid))
        return false;
    for (size_t i = 0; i < n; i++)
        x[i] = p->x[e.run[i]];
    sort(x, n);
    return true;
}
