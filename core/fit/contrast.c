/* Level means free of block effects, and the simultaneous contrasts among them. What a rise or
 * a fall means for the answer is plateau.c. */
#include "fit/contrast.h"

#include <float.h>
#include <math.h>
#include <string.h>

#include "base/prob.h"

/* Standard error wanted of a critical point of about 3: the tail of 2.5 % then moves by less than
 * 0.02 %. */
#define POINT_TOL 2e-3

static bool means_with_blocks(const pl_curve_rows *rows, const size_t *level, size_t K,
                              long double *X, long double *v, long double *beta,
                              long double *inverse, long double *rss)
{
    for (size_t k = 0; k < K; k++) {
        for (size_t i = 0; i < rows->n; i++)
            v[i] = level[i] == k;
        pl_curve_rows_leave(rows, v);
        memcpy(X + k * rows->left, v + rows->q, rows->left * sizeof *X);
    }
    memcpy(v, rows->y_left, rows->left * sizeof *v);
    return pl_long_lsq(X, v, rows->left, K, beta, inverse, NULL, rss);
}

static void means_alone(const pl_curve_rows *rows, const size_t *level, size_t K, long double *beta,
                        double *var, long double *rss)
{
    for (size_t i = 0; i < rows->n; i++) {
        beta[level[i]] += rows->y[i];
        var[level[i]] += 1;
    }
    for (size_t k = 0; k < K; k++) {
        beta[k] /= var[k];
        var[k] = 1 / var[k];
    }
    *rss = 0;
    for (size_t i = 0; i < rows->n; i++) {
        long double e = rows->y[i] - beta[level[i]];

        *rss += e * e;
    }
}

/* Blocks: all covariances, and their diagonal. */
static bool means_and_cov(pl_arena *a, const pl_curve_rows *rows, const size_t *level,
                          pl_level_fit *out, long double *beta, double *var, double *cov,
                          long double *rss, bool *memory)
{
    const size_t K = out->K;
    long double *X = PL_NEWN(a, rows->left * K, long double);
    long double *v = PL_NEWN(a, rows->n, long double), *inverse = PL_NEWN(a, K * K, long double);

    *memory = X && v && inverse;
    if (!*memory || !means_with_blocks(rows, level, K, X, v, beta, inverse, rss))
        return false;
    for (size_t k = 0; k < K * K; k++)
        cov[k] = (double)inverse[k];
    for (size_t k = 0; k < K; k++)
        var[k] = cov[k * K + k];
    return true;
}

pl_code pl_level_means(pl_arena *a, const pl_curve_rows *rows, const size_t *level, size_t K,
                       pl_level_fit *out, pl_diags *d)
{
    const bool square = K <= PL_CONTRAST_LEVELS_MOST;
    long double *beta = PL_NEWN(a, K, long double), rss = 0;
    double *mean = PL_NEWN(a, K, double), *var = PL_NEWN(a, K, double);
    double *cov = PL_NEWN(a, square ? K * K : 0, double);
    bool memory = true;

    memset(out, 0, sizeof *out);
    out->K = K;
    if (!beta || !mean || !var || !cov)
        return pl_nomem(d);
    if ((rows->q || rows->scatter) && !square) /* not looked at */
        return PL_OK;
    if (!rows->q && !rows->scatter) {
        means_alone(rows, level, K, beta, var, &rss);
        for (size_t k = 0; k < K && square; k++)
            cov[k * K + k] = var[k];
        out->fine = true;
    } else {
        out->fine = means_and_cov(a, rows, level, out, beta, var, cov, &rss, &memory);
    }
    if (!memory)
        return pl_nomem(d);
    if (!out->fine)
        return PL_OK;
    for (size_t k = 0; k < K; k++)
        mean[k] = (double)beta[k];
    out->mean = mean;
    out->var = var;
    out->cov = square ? cov : NULL;
    out->residual.df = (double)(rows->left - K);
    out->residual.ss = (double)rss;
    out->residual.sd = rows->left > K ? sqrt((double)rss / out->residual.df) : NAN;
    return PL_OK;
}

/* All contrasts one way, K values each: upper run less lower run. */
typedef struct family {
    size_t n;
    double *c;
    pl_step *steps;
} family;

static bool family_make(pl_arena *a, const pl_level_fit *fit, bool fall, family *f)
{
    const size_t K = fit->K;

    f->n = 0;
    f->c = PL_NEWN(a, K * (K - 1) / 2 * K, double);
    f->steps = PL_NEWN(a, K * (K - 1) / 2, pl_step);
    if (!f->c || !f->steps)
        return false;
    for (size_t i = 1; i < K; i++)
        for (size_t j = i + 1; j <= K; j++) {
            double *c = f->c + f->n * K, v = 0, difference = 0;
            pl_step *s = &f->steps[f->n++];

            *s = pl_contrast_runs(K, i, j, fall);
            for (size_t k = s->lower_from; k <= s->lower_to; k++)
                c[k] = -1.0 / (double)(s->lower_to - s->lower_from + 1);
            for (size_t k = s->upper_from; k <= s->upper_to; k++)
                c[k] = 1.0 / (double)(s->upper_to - s->upper_from + 1);
            for (size_t k = 0; k < K; k++) {
                difference += c[k] * fit->mean[k];
                for (size_t l = 0; l < K; l++)
                    v += c[k] * fit->cov[k * K + l] * c[l];
            }
            s->difference = difference;
            s->se = fit->residual.sd * sqrt(v);
            s->point = NAN;
            /* no scatter at all: every difference is shown, none is not */
            s->t = s->se > 0        ? difference / s->se
                   : difference > 0 ? DBL_MAX
                   : difference < 0 ? -DBL_MAX
                                    : 0;
        }
    return true;
}

/* Contrasts of correlated means as contrasts of independent ones: c L with L the triangle of the
 * covariance. Where blocks add one common term to it (balanced blocks), contrasts do not see that
 * term and plain variances serve; L is right in either case. */
static bool whiten(pl_arena *a, const pl_level_fit *fit, double *c, size_t n, double *weight)
{
    const size_t K = fit->K;
    double *L = PL_NEWN(a, K * K, double), *row = PL_NEWN(a, K, double);
    double common = K > 1 ? fit->cov[1] : 0, most = 0;
    bool simple = true;

    if (!L || !row)
        return false;
    for (size_t i = 0; i < K; i++)
        most = fmax(most, fit->cov[i * K + i]);
    for (size_t i = 0; i < K; i++)
        for (size_t j = 0; j < i; j++)
            simple = simple && fabs(fit->cov[i * K + j] - common) <= 1e-12 * most;
    for (size_t i = 0; i < K; i++)
        weight[i] = simple ? fit->cov[i * K + i] - common : 1;
    if (simple)
        return true;
    for (size_t i = 0; i < K; i++)
        for (size_t j = 0; j <= i; j++) {
            double s = fit->cov[i * K + j];

            for (size_t k = 0; k < j; k++)
                s -= L[i * K + k] * L[j * K + k];
            L[i * K + j] = i == j ? sqrt(fmax(s, 0)) : L[j * K + j] > 0 ? s / L[j * K + j] : 0;
        }
    for (size_t r = 0; r < n; r++) {
        for (size_t k = 0; k < K; k++) {
            row[k] = 0;
            for (size_t i = k; i < K; i++)
                row[k] += c[r * K + i] * L[i * K + k];
        }
        memcpy(c + r * K, row, K * sizeof *row);
    }
    return true;
}

typedef pl_code (*point_f)(pl_arena *a, const double *c, const double *weight, size_t n, size_t K,
                           double df, double alpha, double tol, pl_real *out);

static pl_code point_of(pl_arena *a, const pl_level_fit *fit, const double *c, size_t n, point_f f,
                        double alpha, double *out, pl_diags *d)
{
    double *weight = PL_NEWN(a, fit->K, double), *own = PL_NEWN(a, n * fit->K, double);
    pl_real value = { NAN, NAN };
    pl_code rc;

    if (!weight || !own)
        return pl_nomem(d);
    memcpy(own, c, n * fit->K * sizeof *own);
    if (!whiten(a, fit, own, n, weight))
        return pl_nomem(d);
    rc = f(a, own, weight, n, fit->K, fit->residual.df, alpha, POINT_TOL, &value);
    *out = value.value;
    if (rc == PL_ENOMEM)
        return pl_nomem(d);
    return rc == PL_EPREC ? PL_OK : rc;
}

static void largest(const family *f, double point, pl_step *out, double *limit)
{
    size_t at = 0;

    *limit = -INFINITY;
    for (size_t i = 0; i < f->n; i++) {
        if (f->steps[i].t > f->steps[at].t)
            at = i;
        *limit = fmax(*limit, f->steps[i].difference + point * f->steps[i].se);
    }
    *out = f->steps[at];
    out->point = point;
}

/* Both families as one, without the whole-against-whole contrasts that stand in both. */
static pl_code both_ways(pl_arena *a, const pl_level_fit *fit, const family *rise,
                         const family *fall, double *excluded, pl_diags *d)
{
    const size_t K = fit->K;
    double *c = PL_NEWN(a, 2 * rise->n * K, double), point = NAN;
    size_t n = rise->n;
    pl_code rc;

    if (!c)
        return pl_nomem(d);
    memcpy(c, rise->c, rise->n * K * sizeof *c);
    for (size_t i = 0; i < fall->n; i++) {
        if (fall->steps[i].upper_from == 0) /* 1..j less j+1..K: a rise with its sign turned */
            continue;
        memcpy(c + n++ * K, fall->c + i * K, K * sizeof *c);
    }
    rc = point_of(a, fit, c, n, pl_mvt_two_sided_point, 2 * PL_CONTRAST_ALPHA, &point, d);
    if (rc)
        return rc;
    *excluded = 0;
    for (size_t i = 0; i < rise->n; i++) {
        const pl_step *r = &rise->steps[i], *f = &fall->steps[i];

        *excluded = fmax(*excluded, fabs(r->difference) + point * r->se);
        *excluded = fmax(*excluded, fabs(f->difference) + point * f->se);
    }
    return PL_OK;
}

/* Turned end for end the level means scatter alike: both families then share one point. */
static bool mirrored(const pl_level_fit *fit)
{
    const size_t K = fit->K, last = K * K - 1;
    bool same = true;

    for (size_t i = 0; i < K * K; i++)
        same = same && fabs(fit->cov[i] - fit->cov[last - i]) <= 1e-9 * fabs(fit->cov[0]);
    return same;
}

pl_code pl_contrasts_test(pl_arena *a, const pl_level_fit *fit, pl_contrasts *out, pl_diags *d)
{
    double rise_point = NAN, fall_point, unused;
    family rise, fall;
    pl_code rc;

    memset(out, 0, sizeof *out);
    out->fall_excluded = out->change_excluded = out->mean = NAN;
    out->rise.point = out->fall.point = out->rise.t = out->fall.t = NAN;
    out->rise.difference = out->fall.difference = out->rise.se = out->fall.se = NAN;
    if (!fit->fine || fit->K < 2 || !fit->cov || !(fit->residual.df > 0))
        return PL_OK;
    if (!family_make(a, fit, false, &rise) || !family_make(a, fit, true, &fall))
        return pl_nomem(d);
    rc = point_of(a, fit, rise.c, rise.n, pl_mvt_upper_point, PL_CONTRAST_ALPHA, &rise_point, d);
    fall_point = rise_point;
    if (!rc && !mirrored(fit))
        rc = point_of(a, fit, fall.c, fall.n, pl_mvt_upper_point, PL_CONTRAST_ALPHA, &fall_point,
                      d);
    if (rc)
        return rc;
    largest(&rise, rise_point, &out->rise, &unused);
    largest(&fall, fall_point, &out->fall, &out->fall_excluded);
    out->tested = true;
    out->rise_shown = out->rise.t > rise_point;
    out->fall_shown = out->fall.t > fall_point;
    out->mean = 0;
    for (size_t k = 0; k < fit->K; k++)
        out->mean += fit->mean[k] / (double)fit->K;
    if (!out->rise_shown && !out->fall_shown)
        rc = both_ways(a, fit, &rise, &fall, &out->change_excluded, d);
    return rc;
}
