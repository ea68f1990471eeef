/* Two one-sided t tests that share one s: an integral over s, and over the named mean where
 * the margins move with it. One side alone is noncentral t's, in power.c. */
#include "size/equivalence.h"

#include <math.h>

#include "base/text.h"
#include "size/power.h"

static pl_code refuse(pl_diags *d, const char *found, const char *expected)
{
    return d ? pl_fail(d, PL_EDOM, "power", .found = found, .expected = expected) : PL_EDOM;
}

/* ---------------------------------------------------------- quadrature ------ */

typedef double integrand(void *ctx, double x);

/* tanh-sinh rule (Takahasi & Mori 1974, Publ. RIMS 9:721): the ends may have kinks, the
 * inside is smooth. 205 nodes over |t| < 3.2; in the middle of a range of 17 standard deviations
 * they lie 0.42 of one apart, which errs by exp(-2 pi^2/0.17). */
static double between(integrand *f, void *ctx, double a, double b)
{
    const double h = 1.0 / 32;
    double sum = 0, half = (b - a) / 2;

    if (!(b > a))
        return 0;
    for (int i = -102; i <= 102; i++) {
        double t = i * h, u = M_PI / 2 * sinh(t), c = cosh(u);
        double from_end = exp(-fabs(u)) / c; /* 1 - |tanh u| */
        double x = i <= 0 ? a + half * from_end : b - half * from_end;

        sum += f(ctx, x) * M_PI / 2 * cosh(t) / (c * c);
    }
    return sum * half * h;
}

#define LEFT_OUT 1e-16 /* of the chance that s lies below or above the range taken */

/* Where s / sigma lies. */
static double s_low(double df)
{
    return sqrt(pl_chisq_quantile(LEFT_OUT, df) / df);
}

static double s_high(double df)
{
    double x = df + 8.5 * sqrt(2 * df) + 60; /* upper tail below 1e-16 from 1 df on */

    return sqrt(x / df);
}

/* ---------------------------------------------------------- difference ------ */

typedef struct difference {
    double df, t, below, above;
} difference;

static double held(const difference *w, double s)
{
    double at = (w->above - w->below) / 2, half = (w->above + w->below) / 2 - w->t * s;

    return half > 0 ? pl_normal_between(at, half) : 0;
}

static double held_at(void *ctx, double s)
{
    const difference *w = ctx;

    return held(w, s) * pl_s_density(w->df, s);
}

pl_code pl_power_equivalence(double df, double below, double above, double alpha, pl_real *out,
                             pl_diags *diags)
{
    difference w = { df, -pl_t_quantile(alpha, df), below, above };
    double most;

    if (!(df > 0))
        return refuse(diags, "df of the scatter not above 0", "more than 0");
    if (!(alpha > 0 && alpha < 0.5))
        return refuse(diags, "alpha of one side outside 0 to 0.5", "between 0 and 0.5");
    if (!(below + above > 0) || isinf(below) || isinf(above))
        return refuse(diags, "margins that leave nothing between them", "lower below upper");
    if (isinf(df)) {
        *out = (pl_real){ held(&w, 1), 1e-13 };
        return PL_OK;
    }
    most = (below + above) / (2 * w.t);
    *out = (pl_real){ between(held_at, &w, s_low(df), fmin(most, s_high(df))), 1e-12 };
    return PL_OK;
}

/* -------------------------------------------------------------- shares ------ */

/* In units of sigma, M = 1/cv. Given y, the named mean's deviate, and s, mean_i must lie
 * between low (M + y/sqrt n0) + t s sqrt(1/n + low^2/n0) and the like with high less its own:
 * what is between them shrinks as s grows or y falls. */
typedef struct shares {
    const pl_shares *q;
    double df, t, s;
} shares;

static double reach(const pl_shares *q, double share)
{
    return sqrt(1 / q->n + share * share / q->n_named);
}

static double shares_given(void *ctx, double y)
{
    const shares *w = ctx;
    const pl_shares *q = w->q;
    double M = 1 / q->cv, named = M + y / sqrt(q->n_named), r = sqrt(q->n);
    double a = (q->low * named + w->t * w->s * reach(q, q->low) - q->really * M) * r;
    double b = (q->high * named - w->t * w->s * reach(q, q->high) - q->really * M) * r;

    return b > a ? pl_normal_between((a + b) / 2, (b - a) / 2) * exp(-y * y / 2) / sqrt(2 * M_PI)
                 : 0;
}

#define Y_MOST 8.5 /* beyond it a normal deviate has 2e-17 */

static double shares_at(void *ctx, double s)
{
    shares *w = ctx;
    const pl_shares *q = w->q;
    double needs = w->t * s * (reach(q, q->low) + reach(q, q->high)) / (q->high - q->low);
    double kink = (needs - 1 / q->cv) * sqrt(q->n_named);

    w->s = s;
    if (kink < -Y_MOST) { /* never both missed: one less the chances of missing either */
        double low = (q->really - q->low) / (q->cv * reach(q, q->low)) - w->t * s;
        double high = (q->high - q->really) / (q->cv * reach(q, q->high)) - w->t * s;

        return (1 - pl_normal_upper(low) - pl_normal_upper(high)) * pl_s_density(w->df, s);
    }
    return between(shares_given, w, fmax(-Y_MOST, kink), Y_MOST) * pl_s_density(w->df, s);
}

pl_code pl_power_shares(double df, const pl_shares *q, double alpha, pl_real *out, pl_diags *diags)
{
    shares w = { .q = q, .df = df, .t = -pl_t_quantile(alpha, df) };
    double most;

    if (!(df > 0))
        return refuse(diags, "df of the scatter not above 0", "more than 0");
    if (!(alpha > 0 && alpha < 0.5))
        return refuse(diags, "alpha of one side outside 0 to 0.5", "between 0 and 0.5");
    if (!(q->low > 0 && q->low < q->really && q->really < q->high) || !(q->cv > 0) || !(q->n > 0) ||
        !(q->n_named > 0))
        return refuse(diags, "shares out of order, or no scatter or glue-up",
                      "low below the true share below high");
    if (isinf(q->high))
        return pl_power_ttest(df, (q->really - q->low) / (q->cv * reach(q, q->low)), alpha, 1, out,
                              diags);
    if (isinf(df)) {
        w.df = 1; /* the density at 1 is divided out */
        *out = (pl_real){ shares_at(&w, 1) / pl_s_density(1, 1), 1e-10 };
        return PL_OK;
    }
    most = (1 / q->cv + Y_MOST / sqrt(q->n_named)) * (q->high - q->low) /
           (w.t * (reach(q, q->low) + reach(q, q->high)));
    *out = (pl_real){ between(shares_at, &w, s_low(df), fmin(most, s_high(df))), 1e-10 };
    return PL_OK;
}
